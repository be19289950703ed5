"""A row beside its substitute: areas, the printed thin-sheet factor, and figures that cannot be."""

import math

import pytest

from witnessmark.calc.fasteners.compare import RowRivet, beside, joint_sheet, rivet_alloys

SHEETS = [joint_sheet("clad dural", 1.6), joint_sheet("dural extruded", 2.5)]


def test_where_shear_governs_both_they_stand_as_the_holes_areas_and_the_alloys() -> None:
    """Shear goes with the hole's area (statics); D/t below 3, so the factor is 1 (MIL-HDBK-5J, thin sheet)."""
    found = beside(RowRivet("own", 3.0, 3.1, 200.0), RowRivet("other", 3.5, 3.6, 250.0), SHEETS, 20.0, 9.0)
    assert (found.original.governs, found.substitute.governs) == ("shear", "shear")
    assert found.original.load_n == pytest.approx(200 * math.pi / 4 * 3.1**2)
    assert found.ratio == pytest.approx((3.6 / 3.1) ** 2 * 250 / 200)


def test_driven_shear_of_2117_is_thirty_ksi() -> None:
    """2117 driven: 388 lb on a 1/8 in rivet's hole of 0.1285 in (MIL-HDBK-5F as quoted) is 30 ksi."""
    found = {each.code: each.shear_mpa for each in rivet_alloys()}
    assert found["AD"] == pytest.approx(388 / (math.pi / 4 * 0.1285**2) / 1000 * 6.894757, rel=0.01)


def test_each_rivet_is_held_to_its_own_edge_distance() -> None:
    """2 D protruding, 2.5 D flush (training lecture): 7.2 mm passes 3.5 round, not 3.0 flush."""
    found = beside(RowRivet("a", 3.5, 3.6, 200.0), RowRivet("b", 3.0, 3.1, 200.0, flush=True), SHEETS, 20.0, 7.2)
    assert (found.original_edge.below, found.substitute_edge.below) == (False, True)
    assert any("2.5 D" in each for each in found.cautions)
    assert any("countersunk" in each for each in found.cautions)


def test_a_rivet_that_would_not_fill_the_hole_is_refused() -> None:
    with pytest.raises(ValueError, match=r"does not fill a hole of 3\.6 mm"):
        beside(RowRivet("a", 3.5, 3.6, 200.0), RowRivet("b", 3.0, 3.6, 200.0), SHEETS, 20.0, 9.0)
    with pytest.raises(ValueError, match="unobtanium"):
        joint_sheet("unobtanium", 1.0)
