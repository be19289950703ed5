"""An oval hole and a hollow stem: what each means for the name, the next size and the edge.

Arithmetic: 3.3 by 3.7 mm is 0.4 mm out of round, half of which comes off an edge of 8.0 mm: 7.8 mm, 1.95 D of a 4 mm rivet. That
wear only widens a hole, and that a hollow stem is of a blind fastener, is common practice, from memory.
"""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.calc.fasteners.hole_register import ROUND_MM, HoleFigures, judge_row, worst_edge
from witnessmark.calc.fasteners.identify import NONE, identify
from witnessmark.calc.fasteners.readings import BadReading, parse_readings, read_measurements
from witnessmark.cli.main import main


def test_the_narrow_way_names_it_and_the_wide_way_is_told() -> None:
    found = identify({"hole_mm": 3.13, "hole_wide_mm": 3.5, "head_mm": 6.0, "form": "flush"})
    plain = identify({"hole_mm": 3.13, "head_mm": 6.0, "form": "flush"})
    assert (found.word, found.probability) == (plain.word, pytest.approx(plain.probability))
    assert found.oval_mm == pytest.approx(0.37)
    (said,) = [caution for caution in found.cautions if caution.startswith("The hole is oval")]
    assert "3.13 by 3.5 mm" in said and "narrow way" in said and "must clean up 3.5 mm" in said
    assert plain.oval_mm is None and not any("oval" in caution for caution in plain.cautions)
    round_one = identify({"hole_mm": 3.13, "hole_wide_mm": 3.2, "head_mm": 6.0})
    assert round_one.oval_mm == pytest.approx(0.07)
    assert not any(caution.startswith("The hole is oval") for caution in round_one.cautions)


@given(st.floats(1.5, 20), st.floats(1.0, 1.49))
def test_which_way_was_typed_first_does_not_matter(narrow: float, share: float) -> None:
    wide = narrow * share
    both = [read_measurements({"hole_mm": a, "hole_wide_mm": b}) for a, b in ((narrow, wide), (wide, narrow))]
    assert both[0] == both[1] and both[0]["hole_mm"].value <= both[0]["hole_wide_mm"].value


@pytest.mark.parametrize(
    ("typed", "ways"),
    [
        ("3.3x3.5", (3.3, 3.5)),
        ("3.5 × 3.3", (3.5, 3.3)),
        ("3,3 X 3,5 mm", (3.3, 3.5)),
        ("0.130 x 0.138 in", (0.130 * 25.4, 0.138 * 25.4)),
        ("1/8 by 9/64", (3.175, 3.571875)),
    ],
)
def test_both_ways_are_typed_in_one(typed: str, ways: tuple[float, float]) -> None:
    read = parse_readings({"hole_mm": typed})
    assert (read["hole_mm"].value, read["hole_wide_mm"].value) == pytest.approx(ways)


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ({"hole_mm": "3.3x3.5x3.4"}, "not the two ways of a hole"),
        ({"hole_mm": "3.3x"}, "not the two ways of a hole"),
        ({"hole_mm": "3.3xwide"}, "Cannot read 'wide'"),
        ({"hole_mm": "3.3x0"}, "above zero|smaller than any"),
        ({"hole_mm": "3.3x3.5", "hole_wide_mm": "3.6"}, "typed twice"),
        ({"hole_mm": "3.3x6.6"}, "not the two ways of one hole"),
        ({"hole_wide_mm": "3.5"}, "measure its narrow way too"),
        ({"core": "empty"}, "is none of solid, hollow"),
    ],
)
def test_ways_that_cannot_be_are_refused(typed: dict[str, str], why: str) -> None:
    with pytest.raises(BadReading, match=why):
        read_measurements(parse_readings(typed))


def test_a_hollow_stem_is_none_of_these_whatever_the_figures_fit() -> None:
    figures = {"hole_mm": 3.13, "head_mm": 6.0, "form": "flush"}
    assert identify(figures).word != NONE
    found = identify({**figures, "core": "hollow"})
    assert found.is_none and found.answered and found.blind and found.next_measurement is None
    assert found.sentence == "None of these: it may be a blind fastener (hollow stem seen)."
    assert "blind-practice" in found.sources and any("solid rivet takes its hole" in c for c in found.cautions)
    assert sum(each.probability for each in found.candidates) == pytest.approx(1, abs=0.01)
    solid = identify({**figures, "core": "solid"})
    assert solid.word == identify(figures).word and not solid.blind
    assert identify({"core": "hollow"}).is_none


def test_the_register_takes_the_wide_way_and_the_worst_side() -> None:
    oval = judge_row([HoleFigures(1, (3.3, 3.7), 8.0, 0)], 3.0, 3.1, 4.0, 20.0).holes[0]
    assert oval.worn and oval.widest_mm == 3.7 and oval.out_of_round_mm == pytest.approx(0.4)
    assert oval.edge_ratio == pytest.approx(7.8 / 3.0)
    assert oval.why == ("edge 1.95 D on its worst side is below 2 D",)
    plain = judge_row([HoleFigures(1, (3.7,), 8.0, 0)], 3.0, 3.1, 4.0, 20.0).holes[0]
    assert plain.next_allowed and plain.edge_ratio == pytest.approx(8.0 / 3.0)
    past = judge_row([HoleFigures(1, (3.3, 4.2), 12.0, 0)], 3.0, 3.1, 4.0, 20.0).holes[0]
    assert past.why == ("4.2 mm is past the next size too",)


@given(st.floats(4, 30), st.floats(2, 8), st.floats(0, 2))
def test_an_oval_hole_never_stands_farther_from_the_edge(edge: float, narrow: float, oval: float) -> None:
    worst = worst_edge(edge, (narrow, narrow + oval))
    assert worst <= edge
    if oval > ROUND_MM + 1e-6:
        assert worst == pytest.approx(edge - oval / 2)


@pytest.mark.django_db
def test_the_command_takes_both_and_says_what_they_mean(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["identify", "--hole", "3.3x3.7", "--head", "6.3", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["oval_mm"] == pytest.approx(0.4) and any("oval" in c for c in told["working"]["cautions"])
    assert main(["identify", "--hole", "3.7", "--hole-wide", "3.3", "--core", "hollow"]) == 0
    out = capsys.readouterr().out
    assert "it may be a blind fastener (hollow stem seen)" in out and "The hole is oval, 3.3 by 3.7 mm" in out
    assert main(["identify", "--hole", "3.3x7.7", "--json"]) == 1
    assert "two holes run together" in json.loads(capsys.readouterr().out)["refused"]
