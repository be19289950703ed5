"""Grip, length and edge distance where the handbook checks do not reach: refusals, cautions, what is least known."""

import pytest

from witnessmark.calc.fasteners.families import find_size, nominal_hole, size_key
from witnessmark.calc.fasteners.holes import edge_distance
from witnessmark.calc.fasteners.length import StackLayer, grip, rivet_length
from witnessmark.calc.tables import OutsideTable
from witnessmark.calc.units import UnknownSize


def test_grip_is_the_sum_and_only_as_well_known_as_its_worst_sheet() -> None:
    answer = grip([StackLayer("web", 1.0, "measured"), StackLayer("cap", 2.5, "inferred")])
    assert (answer.grip_mm, answer.known, answer.layers, answer.thickest_mm) == (3.5, "inferred", 2, 2.5)
    assert [row.what for row in answer.working.rows][:2] == ["t, web", "t, cap"]


@pytest.mark.parametrize("stack", [[], [StackLayer("web", 0.0, "measured")], [StackLayer("web", -1.0, "measured")]])
def test_a_stack_without_sheets_or_with_none_of_thickness_is_refused(stack: list[StackLayer]) -> None:
    with pytest.raises(ValueError):
        grip(stack)


@pytest.mark.parametrize(("grip_mm", "diameter_mm"), [(0.0, 3.0), (3.5, 0.0), (-1.0, 3.0), (float("nan"), 3.0)])
def test_a_length_of_nothing_is_refused(grip_mm: float, diameter_mm: float) -> None:
    with pytest.raises(ValueError):
        rivet_length(grip_mm, diameter_mm)


def test_stock_length_is_never_under_the_exact_one() -> None:
    for tenths in range(5, 120):
        for system in ("metric", "inch"):
            answer = rivet_length(tenths / 10, 3.0, "protruding", system)  # type: ignore[arg-type]
            step = 1.0 if system == "metric" else 25.4 / 32
            assert 0 <= answer.stock_mm - answer.exact_mm + 1e-9 < step + 1e-6


def test_a_rivet_thinner_than_the_thickest_sheet_warns_with_its_source() -> None:
    """NAVEDTRA 14018 ch. 13 rule 6: the diameter is at least the thickest sheet."""
    answer = rivet_length(5.0, 2.6, thickest_mm=3.0)
    assert any("thickest" in caution.lower() for caution in answer.cautions)


def test_edge_distance_speaks_and_never_promises() -> None:
    below = edge_distance(7.2, 4.0)
    assert below.sentence.startswith("Measured 1.80 D, guidance minimum 2 D: ask engineering")
    for answer in (below, edge_distance(9.0, 4.0), edge_distance(9.0, 4.0, flush=True)):
        assert not {"safe", "approved", "airworthy"} & set(answer.sentence.lower().split())


def test_sizes_are_matched_by_code_alone() -> None:
    assert size_key(" vn11-3.0 ") == size_key("VN11-3.0")
    with pytest.raises(UnknownSize):
        find_size("VN99", [])


def test_outside_the_table_is_a_refusal() -> None:
    assert nominal_hole("1/8").hole_mm == pytest.approx(0.1285 * 25.4, abs=1e-4)  # MIL-HDBK-5J table 8.1.2.1(a)
    with pytest.raises((OutsideTable, UnknownSize)):
        nominal_hole("9/16")
