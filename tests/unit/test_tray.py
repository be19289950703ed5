"""What a find could be: Bayes' rule by hand, and facts of the trade (a magnet sticks to steel and not to dural)."""

import math

import pytest

from witnessmark.calc.tray import Find, Missing, could_be, figures_in, sticks, tray_working


def test_bayes_by_hand_for_two_things_and_one_sign() -> None:
    """Same code: weight 25 against 0.05; 0.25 each beforehand, 0.5 for neither: 6.25 / (0.5 + 6.25 + 0.0125)."""
    found = could_be(Find(size_code="A"), [Missing("1", "a", size_code="A"), Missing("2", "b", size_code="B")])
    assert found[0].key == "1" and math.isclose(found[0].chance, 6.25 / 6.7625)
    assert math.isclose(found[1].chance, 0.0125 / 6.7625)


def test_without_a_sign_all_are_alike_and_half_is_for_none_of_them() -> None:
    found = could_be(Find(), [Missing(str(n), str(n)) for n in range(5)])
    assert all(math.isclose(each.chance, 0.1) and each.plausible for each in found)


def test_no_chance_at_all_without_anything_missing() -> None:
    assert could_be(Find(words=("clip",)), []) == ()


@pytest.mark.parametrize(
    ("material", "says"),
    [("4130", True), ("forged steel", True), ("2024", False), ("clad dural", False), ("bronze", False)],
)
def test_magnets(material: str, says: bool) -> None:
    """Carbon and low-alloy steels are drawn by a magnet, light alloys and bronze are not: fact of trade."""
    assert sticks(material) is says


def test_a_magnet_that_sticks_all_but_excludes_dural() -> None:
    steel, dural = Missing("s", "s", material="4130 steel"), Missing("d", "d", material="2024")
    found = could_be(Find(magnet="sticks"), [dural, steel])
    assert found[0].key == "s" and not found[1].plausible and found[1].speaks_against


def test_a_figure_that_fits_outweighs_one_that_does_not_and_monotonely_so() -> None:
    weights = [
        could_be(Find(figures_mm=(118.0 + off,)), [Missing("1", "rod", figures_mm=(118.0,))])[0].weight
        for off in (0, 2, 5, 10, 40)
    ]
    assert weights == sorted(weights, reverse=True) and weights[0] > 20 and weights[-1] < 1


def test_what_was_not_written_down_does_not_exclude() -> None:
    """A hunt that names the bore alone is not refuted by a length nobody wrote."""
    found = could_be(Find(figures_mm=(20.0, 95.0)), [Missing("1", "sprocket", figures_mm=(20.0,))])
    assert found[0].plausible


def test_left_is_not_right() -> None:
    left, right = Missing("l", "l", side="L", words=("clip",)), Missing("r", "r", side="R", words=("clip",))
    assert [c.key for c in could_be(Find(side="L", words=("clip",)), [right, left])] == ["l", "r"]


def test_figures_are_picked_out_of_words() -> None:
    assert figures_in("17 teeth, bore 20 mm") == (20.0,)


def test_the_source_says_that_it_is_from_memory() -> None:
    made = tray_working(could_be(Find(), [Missing("1", "clip")])).to_dict()
    assert any("memory" in str(source) for source in made["sources"])
