"""The register of holes: the printed edge and pitch rules, the quoted share of oversize holes, and bad figures."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.calc.fasteners.hole_register import HoleFigures, judge_row


def test_the_spar_hole_refuses_the_next_size_for_its_edge_and_the_row_is_not_passed() -> None:
    """Edge at least 2 D (training lecture, TM 10-5410-229-13P): 7.2 / 4.0 is 1.8."""
    row = [HoleFigures(n, (3.1,), 9.5, 0) for n in range(1, 43)] + [HoleFigures(43, (3.4,), 7.2, 0)]
    found = judge_row(row, 3.0, 3.1, 4.0, 20.0)
    assert (found.verdict, found.worn, found.refused) == ("remake or ask", 1, 1)
    assert "worn hole 43" in found.sentence
    assert found.holes[-1].why == ("edge 1.80 D is below 2 D",)


def test_each_reason_is_named() -> None:
    """Flush 2.5 D (quoted), pitch 3 D (NAVEDTRA 14018), not a second time, not past the next size too."""
    hole = HoleFigures(1, (4.3, 4.0), 9.0, 1)
    (judged,) = judge_row([hole], 3.0, 3.1, 4.0, 11.0, flush=True).holes
    assert judged.why == (
        "edge 2.21 D on its worst side is below 2.5 D", "pitch 2.75 D is below 3 D", "4.3 mm is past the next size too", "it was enlarged before",
    )  # fmt: skip
    assert judged.out_of_round_mm == pytest.approx(0.3)
    assert judge_row([HoleFigures(1, (3.4,), 9.0, 0)], 3.0, 3.1, None, 20).holes[0].why[0].startswith("no next size")


@pytest.mark.parametrize(("holes", "worn", "verdict"), [(50, 10, "reuse with oversize"), (50, 11, "remake or ask"), (20, 4, "reuse with oversize"), (20, 5, "remake or ask"), (20, 0, "reuse")])  # fmt: skip
def test_at_most_a_fifth_or_ten_take_the_next_size(holes: int, worn: int, verdict: str) -> None:
    """MIL-R-47196 as summarised (quoted): 20 % of the rivets or 10, whichever is less."""
    row = [HoleFigures(n, (3.3 if n < worn else 3.1,), 12.0, 0) for n in range(holes)]
    assert judge_row(row, 3.0, 3.1, 4.0, 20.0).verdict == verdict


def test_a_hole_that_holds_the_next_size_is_not_worn_beside_its_first() -> None:
    row = [HoleFigures(n, (3.1,), 12.0, 0) for n in range(20)] + [HoleFigures(20, (3.3,), 12.0, 1)]
    found = judge_row(row, 3.0, 3.1, 4.0, 20.0)
    assert (found.worn, found.oversized_then, found.verdict) == (0, 1, "reuse with oversize")


def test_a_hole_not_measured_is_no_claim() -> None:
    found = judge_row([HoleFigures(1, (3.1,), 12.0, 0), HoleFigures(2, (), None, 0)], 3.0, 3.1, 4.0, 20.0)
    assert (found.verdict, found.unmeasured) == ("measure first", 1)
    assert found.holes[1].worn is None


@given(st.floats(-5, 200), st.floats(-5, 30), st.floats(-5, 30), st.floats(-1, 40))
def test_figures_are_refused_by_name_or_judged(hole: float, diameter: float, larger: float, pitch: float) -> None:
    try:
        judge_row([HoleFigures(1, (hole,), 9.0, 0)], diameter, diameter + 0.1, larger, pitch)
    except ValueError as why:
        assert len(str(why).split()) > 3  # noqa: PT017
    else:
        assert 0.5 * diameter <= hole <= 3 * diameter
        assert larger > diameter > 0
        assert math.isfinite(pitch)
        assert pitch > 0
