"""Figures of findings: words, blend-outs and metal left against the manuals; what cannot be is refused by name."""

import pytest

from witnessmark.calc.surface.assessment import assess
from witnessmark.calc.surface.finding_kinds import (
    FIGURES,
    KINDS,
    BadFigure,
    Read,
    check_together,
    figures_of,
    read_figure,
)
from witnessmark.calc.tables import load_table

IN = 25.4


def pit(depth_in: float, thick_in: float, doubt_in: float | None = None) -> dict[str, Read]:
    doubt = None if doubt_in is None else doubt_in * IN
    return {"pit_depth_mm": Read(depth_in * IN, doubt, ""), "thickness_mm": Read(thick_in * IN, None, "")}


@pytest.mark.parametrize(
    ("depth_in", "word"), [(0.001, "light"), (0.0011, "moderate"), (0.010, "moderate"), (0.0101, "severe")]
)
def test_the_word_is_the_manuals(depth_in: float, word: str) -> None:
    """TM 1-1520-238-23 par. 1.49.14: pitting to 0.001 in light, to 0.010 in moderate, deeper severe."""
    seen = assess("pitting", pit(depth_in, 0.080))
    assert seen.word is not None
    assert seen.word.word == word
    assert any("a word, not a limit" in sentence for sentence in seen.sentences)


def test_the_blend_out_is_twenty_to_one_and_what_is_left_is_what_was_there_less_the_pit() -> None:
    """AC 43.13-1B, the page with Table 6-1: length to depth 20 to 1; 6-115a: elliptical, spanwise on wings."""
    assert load_table("corrosion_limits").find("item", "blend ratio")["value"] == "20:1"
    seen = assess("pitting", pit(0.005, 0.040), "left wing")
    assert seen.dish is not None
    assert seen.dish.length_least_mm == pytest.approx(20 * 0.005 * IN)
    assert seen.left_mm == pytest.approx(0.035 * IN)
    assert seen.left_share == pytest.approx(0.875)
    assert "elliptical, its long axis along the span" in seen.dish_words


def test_the_worse_end_of_the_uncertainty_counts() -> None:
    """Arithmetic: 0.009 in known to 0.002 in may be 0.011 in, and the word and the dish follow it."""
    seen = assess("pitting", pit(0.009, 0.080, 0.002))
    assert seen.word is not None
    assert seen.word.word == "severe"
    assert seen.dish is not None
    assert seen.dish.length_least_mm == pytest.approx(20 * 0.011 * IN)


def test_a_limit_that_nobody_published_goes_to_engineering_and_a_written_one_does_not() -> None:
    """AC 43.13-1B 6-113b: where no limits are published an engineer is consulted. "10 %" is in no general document read."""
    silent = assess("pitting", pit(0.005, 0.040))
    assert silent.to_engineering
    assert "6-113b" in silent.limit_words
    assert any("no general document" in caution for caution in silent.cautions)
    written = assess("pitting", pit(0.005, 0.040), limit="0.15 mm, repair drawing 12")
    assert not written.to_engineering
    assert "repair drawing 12" in written.limit_words
    assert assess("pitting", pit(0.005, 0.040), limit="none in a spring").to_engineering


def test_nothing_measured_says_nothing() -> None:
    seen = assess("pitting", {})
    assert (seen.word, seen.left_mm, seen.sentences, seen.to_engineering) == (None, None, (), False)


def test_metal_left_without_the_original_thickness_has_no_share() -> None:
    seen = assess("wear", {"remaining_mm": Read(0.7, 0.02, "")})
    assert seen.left_mm == pytest.approx(0.68)
    assert seen.left_share is None
    assert "original thickness is not measured" in " ".join(seen.sentences)


def test_edge_distance_is_said_in_diameters() -> None:
    """AC 43.13-1B 4-57: from the edge to the hole's centre no less than two diameters."""
    seen = assess("hole", {"hole_mm": Read(4.0, None, ""), "edge_mm": Read(7.2, None, "")})
    assert "1.80 D; guidance minimum 2 D" in " ".join(seen.sentences)


FIGURES_TYPED = {
    "pitting": ({"pit_depth_mm": "0.3", "pit_area_mm2": "12 x 8 mm", "thickness_mm": "2"}, "96 mm2 are pitted", True),
    "exfoliation": ({"lifted_mm": "0.4", "length_mm": "35"}, "lifted over 35 mm", True),
    "crack": (
        {"crack_length_mm": "11 ± 1", "crack_count": "2"},
        "2 cracks. The longest crack that was seen: 11 ± 1 mm",
        True,
    ),
    "wear": ({"worn_mm": "0.1", "thickness_mm": "5"}, "4.90 of 5 mm are left", True),
    "hole": ({"hole_mm": "4.4", "hole_wanted_mm": "4", "edge_mm": "7"}, "+0.40 mm from what it should be", True),
    "bent": ({"bend_mm": "1.5", "over_mm": "600"}, "1 in 400", True),
    "temper": ({"hardness_hrc": "33 ± 1", "conductivity_iacs": "33 %"}, "From 34 HRC a bolt", True),
    "glue": ({"joints_open": "3", "joints_of": "11"}, "3 of 11 glue joints are open, 27 %", True),
    "repair": ({"patch_length_mm": "120", "patch_width_mm": "80"}, "120 x 80 mm", False),
    "cut": ({"cut_length_mm": "45", "remaining_mm": "1.0", "thickness_mm": "1.2"}, "cut over 45 mm", True),
    "missing": ({"missing_count": "4"}, "4 are missing", False),
}


@pytest.mark.parametrize("kind", FIGURES_TYPED)
def test_every_measured_kind_says_what_its_figures_mean_and_who_is_asked(kind: str) -> None:
    """Arithmetic on what was typed; where a limit would decide and none was read, it goes to engineering."""
    typed, words, asked = FIGURES_TYPED[kind]
    assert set(typed) <= {figure.name for figure in figures_of(kind)}
    seen = assess(kind, {name: read_figure(name, text) for name, text in typed.items()}, "left wing")
    assert words in " ".join(seen.sentences)
    assert seen.to_engineering == asked
    assert bool(seen.limit_words) == asked
    assert set(KINDS) - set(FIGURES_TYPED) == {"wrong", "other"}  # these have words and hours alone


def test_soft_steel_is_not_called_high_strength() -> None:
    seen = assess("temper", {"hardness_hrc": read_figure("hardness_hrc", "30 ± 1")})
    assert "high strength" not in " ".join(seen.sentences)


@pytest.mark.parametrize(
    ("name", "text", "value", "doubt"),
    [
        ("pit_depth_mm", "0.3", 0.3, None),
        ("pit_depth_mm", "0.012 in", 0.3048, None),
        ("pit_depth_mm", "0.30 ± 0.05 mm", 0.30, 0.05),
        ("pit_depth_mm", "0.012 +/- 0.002 in", 0.3048, 0.0508),
        ("pit_area_mm2", "12 x 8 mm", 96.0, None),
        ("pit_area_mm2", "1 x 1 in", 645.16, None),
        ("joints_open", "0", 0.0, None),
        ("conductivity_iacs", "32,5 ± 0.5", 32.5, 0.5),
        ("hardness_hrc", "38 HRC", 38.0, None),
        ("work_hours", "6 h", 6.0, None),
    ],
)
def test_a_figure_is_read_as_it_is_typed(name: str, text: str, value: float, doubt: float | None) -> None:
    read = read_figure(name, text)
    assert read.value == pytest.approx(value)
    assert read.plus_minus == (None if doubt is None else pytest.approx(doubt))
    assert read.typed == text


@pytest.mark.parametrize(
    ("name", "text", "why"),
    [
        ("pit_depth_mm", "deep", "Depth of the deepest pit"),
        ("pit_depth_mm", "0", "not above nought"),
        ("pit_depth_mm", "-0.2", "no figure|cannot|Depth"),
        ("pit_depth_mm", "0.1 ± 0.1", "as large as the figure"),
        ("pit_depth_mm", "0.1 ± 0.1 ± 0.1", "is no figure"),
        ("joints_open", "11.5", "no whole number"),
        ("hardness_hrc", "82", "C scale ends at 70"),
        ("conductivity_iacs", "320", "more than any metal"),
        ("depth_of_despair_mm", "1", "no figure of a finding"),
    ],
)
def test_a_figure_that_cannot_be_is_refused_with_what_was_typed(name: str, text: str, why: str) -> None:
    with pytest.raises(BadFigure, match=why):
        read_figure(name, text)


@pytest.mark.parametrize(
    ("kind", "given", "why"),
    [
        ("pitting", {"pit_depth_mm": 1.0, "thickness_mm": 0.8}, "not less than the metal"),
        ("wear", {"worn_mm": 0.4, "remaining_mm": 2.2, "thickness_mm": 2.0}, "More metal left"),
        ("wear", {"worn_mm": 0.4, "remaining_mm": 0.9, "thickness_mm": 2.0}, "do not add up"),
        ("glue", {"joints_open": 40, "joints_of": 34}, "joints open of"),
        ("hole", {"hole_mm": 10, "edge_mm": 4}, "reaches the edge"),
    ],
)
def test_figures_that_cannot_stand_together_are_refused(kind: str, given: dict[str, float], why: str) -> None:
    with pytest.raises(BadFigure, match=why):
        check_together(kind, {name: Read(value, None, "") for name, value in given.items()})


def test_every_kind_asks_only_for_figures_that_are_known_and_whose_unit_is_in_the_name() -> None:
    units = {"mm": "mm", "mm2": "mm2", "HRC": "hrc", "HB": "hb", "% IACS": "iacs", "h": "hours"}
    for kind in KINDS:
        assert set(KINDS[kind].figures) < set(FIGURES)
        for figure in figures_of(kind):
            assert figure.unit == "" or figure.name.endswith(units[figure.unit])
