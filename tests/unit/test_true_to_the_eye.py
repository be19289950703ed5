"""A chance beside its limit, two chances beside each other, an order to measure: each sentence holds as it is read."""

import re

import pytest

from witnessmark.calc.fasteners.flush import seating
from witnessmark.calc.fasteners.identify import identify
from witnessmark.calc.fasteners.readings import WAYS, parse_readings
from witnessmark.calc.fasteners.sampling import SurveyRow, _sentence, survey_risk
from witnessmark.cli.main import main

LIMITS = (0.005, 0.02, 0.05, 0.06, 0.1, 0.125, 0.15, 0.2, 0.5)
OFF = (-0.04, -0.004, -0.0004, -1e-6, 0, 1e-6, 0.0004, 0.004, 0.04)


@pytest.mark.parametrize(("limit", "off"), [(limit, off) for limit in LIMITS for off in OFF if limit + off > 0])
def test_a_chance_beside_its_limit_stands_on_the_side_that_is_said(limit: float, off: float) -> None:
    """Arithmetic: the figure that is read is above the limit that is read exactly where the sentence says above."""
    chance = limit + off
    said = _sentence(chance, limit, 12, [], [])
    figures = [float(figure) / 100 for figure in re.findall(r"([0-9.]+)\u00a0%", said)]
    assert figures[-1] == pytest.approx(limit)
    tens = re.match(r"(\d+) chances? in ten", said)
    read = int(tens[1]) / 10 if tens else figures[0] if len(figures) == 2 else None
    assert ("above" in said) == (chance > limit)
    if read is None:
        assert said.startswith("Less than one chance in") and chance < 0.05
    else:
        assert (read > limit + 1e-12) == (chance > limit), said


def test_a_tenth_and_a_little_is_not_one_in_ten_above_ten_per_cent() -> None:
    assert _sentence(0.104, 0.1, 12, [], []).startswith("A chance of 10.4\u00a0% that the 12 rows left hold")
    assert _sentence(0.098, 0.1, 12, [], []).startswith("1 chance in ten that the 12 rows left hold")


def test_one_row_left_is_one_row() -> None:
    rows = [SurveyRow(f"S{n}", "skin", 40, "looked at", "R1") for n in range(12)]
    shut = SurveyRow("S40", "skin", 40, "under paint")
    told = survey_risk([*rows, SurveyRow("S30", "skin", 40, "not looked at"), shut])
    said = " ".join([told.sentence, *(one.sentence for one in told.structures), *told.working.cautions])
    assert "that the one row left holds" in said
    assert "that the one row left of the skin holds something new" in said
    assert "No claim for one row under paint" in said
    assert "1 rows" not in said


@pytest.mark.django_db
def test_equal_chances_are_equal_to_the_eye(capsys: pytest.CaptureFixture[str], tmp_path: object) -> None:
    found = identify(parse_readings({"hole_mm": "3.15", "head_mm": "6.3"}))
    first, second = found.candidates[:2]
    assert first.probability == pytest.approx(second.probability)
    assert main(["identify", "--hole", "3.15", "--head", "6.3", "--data", str(tmp_path)]) == 0
    out = capsys.readouterr().out
    assert "47 chances in a hundred. Not sure yet. Look what kind of head it is." in out
    assert f"else {second.name}: 47 in a hundred" in out
    assert out.count(first.name) - out.count(f"The figures of {first.name}") == 1  # the winner is not among the others


def test_what_is_seen_or_tried_is_not_measured() -> None:
    orders = {what: way.order for what, way in WAYS.items()}
    assert orders["magnet"] == "Hold a magnet to it"
    assert orders["head_mm"] == "Measure the head diameter, with: calliper"
    assert all(orders[what].startswith("Measure the ") == (way.kind != "choice") for what, way in WAYS.items())


def test_a_seat_no_wider_than_its_hole_is_named_as_the_fault() -> None:
    with pytest.raises(ValueError, match=r"a seat 3 mm wide at its mouth over a hole of 3\.6 mm is no seat"):
        seating(6.3, 120, 3.0, 120, 3.6, 3.0)
