"""Mass and moment about the datum: the principle is FAA-H-8083-1's (moment = weight x arm); figures worked by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.calc.balance import Item, arm_of, balance

# Two main wheels and a tail on the scales, by hand: 875.0 x 3360 + 40.0 x 7480 = 3 239 200; / 915.0 = 3540.1
SCALES = [Item("left main", 438.5, 3360.0), Item("right main", 436.5, 3360.0), Item("tail", 40.0, 7480.0)]


def test_three_scales_by_hand() -> None:
    found = balance(SCALES)
    assert found.known_kg == pytest.approx(915.0)
    assert found.known_moment_kg_mm == pytest.approx(3_239_200)
    assert found.known_cg_mm == pytest.approx(3540.1, abs=0.05)
    assert found.whole


def test_the_unknown_keeps_its_arm_and_is_never_nought() -> None:
    found = balance([*SCALES, Item("generator", None, 2420.0), Item("lamp", 0.2, None)])
    assert not found.whole
    assert [(o.name, o.arm_mm) for o in found.open] == [("generator", 2420.0), ("lamp", None)]
    assert found.known_kg == pytest.approx(915.0)
    assert "not counted as nought: generator at 2,420 mm, lamp" in found.sentence
    assert any("mass unknown" in str(row.value) for row in found.working.rows)


@given(st.floats(0.01, 0.5), st.floats(0, 9000))
def test_what_it_moves_is_what_a_little_of_it_would_move(kilograms: float, arm: float) -> None:
    """The slope against the difference, a little of it put aboard."""
    before = balance([*SCALES, Item("x", None, arm)])
    after = balance([*SCALES, Item("x", kilograms, arm)])
    assert before.known_cg_mm is not None
    assert after.known_cg_mm is not None
    assert before.open[0].moves_mm_per_kg is not None
    moved = (after.known_cg_mm - before.known_cg_mm) / kilograms
    assert moved == pytest.approx(before.open[0].moves_mm_per_kg, rel=0.01, abs=1e-6)


@pytest.mark.parametrize(
    ("station", "arm"),
    [("2420", 2420.0), ("180-2610", 1395.0), ("WS 2900", None), ("", None), ("-120", -120.0), ("aft", None), ("2420 mm", 2420.0)],
)  # fmt: skip
def test_a_station_is_read_or_left_unknown(station: str, arm: float | None) -> None:
    assert arm_of(station) == arm


def test_nothing_known_has_no_centre() -> None:
    found = balance([Item("x", None, 100.0)])
    assert found.known_cg_mm is None
    assert found.open[0].moves_mm_per_kg is None


@pytest.mark.parametrize("item", [Item("x", -1.0, 0.0), Item("x", float("nan"), 0.0), Item("x", 1.0, float("inf"))])
def test_what_cannot_be_is_refused(item: Item) -> None:
    with pytest.raises(ValueError, match=r"below nought|no number"):
        balance([item])
