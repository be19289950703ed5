"""Laws that hold for any figures: round trips, monotone lengths, an order that covers its holes."""

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from witnessmark.calc.fasteners.length import rivet_length
from witnessmark.calc.fasteners.order import OrderRow, SparesRule, roll_up
from witnessmark.calc.units import UnknownSize, parse_length

MM = st.floats(0.1, 500, allow_nan=False)


@given(MM)
def test_a_length_in_mm_is_read_back(mm: float) -> None:
    assert abs(parse_length(f"{mm:.4f} mm").mm - mm) <= 5e-5 + 1e-9


@given(st.integers(0, 12), st.integers(1, 63), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_a_fraction_of_an_inch_is_read_exactly(whole: int, top: int, bottom: int) -> None:
    top = top % bottom or 1
    typed = f"{whole} {top}/{bottom}" if whole else f"{top}/{bottom}"
    assert abs(parse_length(typed).mm - float((whole + Fraction(top, bottom)) * Fraction(254, 10))) < 1e-9


@given(st.text(max_size=60))
def test_any_text_is_a_length_or_a_clear_refusal(text: str) -> None:
    told = ""
    try:
        assert 0 < parse_length(text).mm < 1e6
    except UnknownSize as why:
        told = str(why)
    assert not told or "Type one of these forms" in told


@given(st.floats(0.5, 40), st.floats(0.5, 40), st.floats(1.5, 10), st.sampled_from(["metric", "inch"]))
def test_a_thicker_stack_never_wants_a_shorter_rivet(a: float, b: float, diameter: float, system: str) -> None:
    thin, thick = sorted((a, b))
    one = rivet_length(thin, diameter, "protruding", system)  # type: ignore[arg-type]
    other = rivet_length(thick, diameter, "protruding", system)  # type: ignore[arg-type]
    assert one.stock_mm <= other.stock_mm


ROWS = st.lists(
    st.tuples(st.sampled_from(["A-3", "a-3", "B-4"]), st.sampled_from([6, 7, 8]), st.integers(0, 400)), max_size=20
)


@given(ROWS, st.integers(1, 500), st.integers(0, 6000), st.floats(0, 50))
def test_an_order_covers_every_hole_in_whole_packs(
    rows: list[tuple[str, int, int]], pack: int, least: int, percent: float
) -> None:
    asked = [OrderRow(f"R{n}", code, f"{mm} mm", float(mm), holes) for n, (code, mm, holes) in enumerate(rows)]
    codes = ("A-3", "B-4")
    lines = roll_up(asked, SparesRule(percent, 5), dict.fromkeys(codes, pack), dict.fromkeys(codes, least))
    assert sum(line.holes for line in lines) == sum(holes for _, _, holes in rows)
    for line in lines:
        assert line.count >= max(line.holes + line.spares, line.minimum_run)
        assert line.count % pack == 0
        assert line.count - pack < max(line.wanted, line.minimum_run)
