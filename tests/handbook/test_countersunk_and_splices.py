"""A countersunk hole in bearing, dimples in each other and splice counts, each held against what is printed."""

import math

import pytest

from witnessmark.calc.fasteners.compare import RowRivet, beside, joint_sheet
from witnessmark.calc.fasteners.dimples import nested_dimples, nesting_depth
from witnessmark.calc.fasteners.joint import Countersink, Sheet, row_strength
from witnessmark.calc.fasteners.splices import splice
from witnessmark.calc.tables import OutsideTable, load_table

IN, LB, KSI = 25.4, 4.4482216, 6.8947573
FLUSH = [row for row in load_table("flush_rivets").rows if row["ult_countersunk_lb"]]
DURAL = joint_sheet("clad dural", 1.2)


def sunk(sheet_in: float) -> float:
    """MS20426AD3 (head .179 in, 100 deg, hole .096 in, 2117 at 30 ksi) in clad 2024-T3, pounds."""
    thick = Sheet(5.0, 427, 640, 256)
    made = row_strength(
        3 / 32 * IN, 0.096 * IN, 30 * KSI, [joint_sheet("2024-t3", sheet_in * IN), thick], 60, 20, 1,
        Countersink(0.179 * IN, 100),
    )  # fmt: skip
    return made.load_n / LB


@pytest.mark.parametrize("row", FLUSH, ids=lambda row: row["sheet_2024_T3_in"])
def test_a_countersunk_rivet_carries_what_the_handbook_prints_or_less(row: dict[str, str]) -> None:
    """MIL-HDBK-5F flush-rivet table as quoted: 178, 193, 216 lb. Never 3 in a hundred above; a fifth below at the knife edge."""
    printed = float(row["ult_countersunk_lb"])
    assert 0.79 * printed <= sunk(float(row["sheet_2024_T3_in"])) <= 1.03 * printed


def test_a_dimpled_rivet_carries_its_whole_shear() -> None:
    """The same table: 217 lb dimpled in each of the three sheets."""
    for row in load_table("flush_rivets").rows[:3]:
        sheet = joint_sheet("2024-t3", float(row["sheet_2024_T3_in"]) * IN)
        made = row_strength(3 / 32 * IN, 0.096 * IN, 30 * KSI, [sheet, Sheet(5.0, 427, 640, 256)], 60, 20)
        assert made.load_n / LB == pytest.approx(float(row["ult_dimpled_lb"]), rel=0.005)


def test_a_plate_bears_on_its_thickness_less_half_the_countersink() -> None:
    """BS 5950-1, 6.3.3.2 as quoted; 90 degrees and a head of 2 D: half of 0.5 D (BS 4620 T6) is 0.25 D."""
    made = row_strength(
        4.0, 4.0, 200, [Sheet(3.0, 400, 600, 240), Sheet(9.0, 400, 600, 240)], 60, 20, 1, Countersink(8.0, 90)
    )
    assert made.bearing_n == pytest.approx(4.0 * (3.0 - 1.0) * 600)
    assert made.uncut_bearing_n == pytest.approx(4.0 * 3.0 * 600)
    # Geometry: the cone takes two triangles, 2 high and 2 wide, off the net section.
    assert made.net_section_n == pytest.approx(((60 - 4) * 3.0 - 4.0) * 400)


def test_the_comparison_says_what_the_countersink_took_and_how_the_other_head_sits() -> None:
    """A 120 degree head of 6.3 beside the 100 degree head of a 1/8 in rivet: it touches at the hole alone (geometry)."""
    own = RowRivet("own", 3.0, 3.1, 234.0, True, False, 6.3, 120)
    inch = RowRivet("inch", 3.175, 3.264, 207.0, True, False, 5.7, 100)
    found = beside(own, inch, [DURAL, DURAL], 20, 9)
    assert found.original.governs == found.substitute.governs == "bearing"
    assert found.seat is not None
    assert not found.seat.accepted
    gap = (5.7 - 3.264) / 2 * (1 / math.tan(math.radians(50)) - 1 / math.tan(math.radians(60)))
    assert found.seat.gap_mm == pytest.approx(gap, abs=1e-3)
    dimpled = RowRivet("own", 3.0, 3.1, 234.0, True, True, 6.3, 120)
    assert beside(dimpled, inch, [DURAL, DURAL], 20, 9).original.governs == "shear"
    round_head = RowRivet("round", 3.0, 3.1, 234.0)
    assert any("does not lie flat" in c for c in beside(own, round_head, [DURAL, DURAL], 20, 9).cautions)
    assert any("which the row does not have" in c for c in beside(round_head, own, [DURAL, DURAL], 20, 9).cautions)


def test_a_countersink_through_the_sheet_is_called_a_knife_edge_and_one_that_cannot_be_is_refused() -> None:
    thin = joint_sheet("clad dural", 0.8)
    made = row_strength(3.0, 3.1, 234, [thin, thin], 20, 9, 1, Countersink(6.3, 120))
    assert any("knife edge" in caution for caution in made.cautions)
    with pytest.raises(ValueError, match="falls through"):
        row_strength(3.0, 3.1, 234, [thin, thin], 20, 9, 1, Countersink(3.05, 120))
    with pytest.raises(ValueError, match="angle is below 180"):
        row_strength(3.0, 3.1, 234, [thin, thin], 20, 9, 1, Countersink(6.3, 181))


@pytest.mark.parametrize(("angle", "printed"), [(120.0, "1.15"), (100.0, "1.3")])
def test_nesting_depth_is_the_rule_in_print(angle: float, printed: str) -> None:
    """A builder's note as quoted: add 1.15 T at 120 degrees, 1.3 T at 100; half the last printed digit."""
    assert nesting_depth(1.0, angle) == pytest.approx(float(printed), abs=0.5 * 10 ** -len(printed.split(".")[1]))


def test_each_dimple_fits_the_underside_of_the_one_above() -> None:
    """Geometry, by hand: a cone moved square to itself by T; its underside at the plane T below is the next mouth."""
    found = nested_dimples(7.4, 100, 3.5, [0.8, 1.0, 3.0])
    half, over = math.radians(50), 0.0
    for dimple in found.dimples:
        # Radius of the moved cone at depth z: (R - z tan) + T / cos of the flank's slope to the sheet.
        radius = 7.4 / 2 - over * math.tan(half) + over / math.cos(half)
        assert dimple.mouth_mm == pytest.approx(2 * radius)
        over += dimple.thickness_mm
    assert found.last_may_be_countersunk
    with pytest.raises(ValueError, match="too thick to dimple"):
        nested_dimples(7.4, 100, 3.5, [2.0, 1.0])
    with pytest.raises(ValueError, match="wider than its shank"):
        nested_dimples(3.2, 100, 3.5, [0.8])
    with pytest.raises(ValueError, match="look at its unit"):
        nested_dimples(0.29, 100, 0.138, [0.032])


def test_the_splice_of_the_handbook_in_both_orders() -> None:
    """AC 43.13-1B 4-58g: 4.9 an inch over 10 in at 75 % is 37; fig. 4-20: 6.2 x 0.6 in at 60 % is 3."""
    sheet = splice("1/8", 0.032 * IN, 10 * IN, "lap")
    rate = next(r for r in sheet.rates if r.table == "4-10")
    assert (rate.printed_per_in, rate.count_sheet, rate.count_frame) == (4.9, 37, 37)
    frame = next(r for r in splice("1/8", 0.032 * IN, 0.6 * IN, "frame").rates if r.table == "4-9")
    assert (frame.printed_per_in, frame.count_frame) == (6.2, 3)
    assert [r.table for r in sheet.rates] == ["4-9", "4-10", "4-11"]
    known = splice("5/32", 0.032 * IN, 10 * IN)
    assert any("prints 3.9 where its own note gives 4.03" in caution for caution in known.cautions)
    for rivet, thick in (("3.5", 0.8), ("1/8", 5.0)):
        with pytest.raises(OutsideTable):
            splice(rivet, thick, 100)
    with pytest.raises(ValueError, match="width"):
        splice("1/8", 0.8, -5)
