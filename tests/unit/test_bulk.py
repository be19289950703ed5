"""Rivets by mass, and a combined run: volumes held against scipy's integral of the outline, runs against hand sums."""

import math

import pytest
from scipy import integrate

from witnessmark.calc.bags.shipment import parse_minimum_order
from witnessmark.calc.fasteners.bulk import Weighed, combined_run, pieces_for_mass, rivet_mass
from witnessmark.calc.fasteners.catalogue import rivet_shape
from witnessmark.calc.fasteners.order import OrderRow, roll_up
from witnessmark.calc.metals import UnknownMetal


def _turned(radius: object, top: float) -> float:
    return float(integrate.quad(lambda x: math.pi * radius(x) ** 2, 0, top)[0])  # type: ignore[operator]


def test_the_mass_is_that_of_the_solid_of_revolution() -> None:
    """Density of old dural 2770 kg/m3: materials-science textbook, App. B (calc/data/metals.csv)."""
    flush = rivet_shape("F", "own", "flush", 3.5, 7.4, head_deg=120.0)
    cone_mm = (7.4 - 3.5) / 2 / math.tan(math.radians(60))
    volume = _turned(lambda x: 3.7 - (3.7 - 1.75) * x / cone_mm, cone_mm) + math.pi * 1.75**2 * (9 - cone_mm)
    assert rivet_mass(flush, 9.0, "dural").mass_g == pytest.approx(volume * 2770e-6, rel=1e-9)
    round_head = rivet_shape("R", "own", "round", 3.0, 5.2, head_height_mm=1.8)
    sphere = (2.6**2 + 1.8**2) / (2 * 1.8)
    volume = _turned(lambda x: math.sqrt(sphere**2 - (sphere - 1.8 + x) ** 2), 1.8) + math.pi * 1.5**2 * 8
    assert rivet_mass(round_head, 8.0, "dural").mass_g == pytest.approx(volume * 2770e-6, rel=1e-6)


def test_no_mass_is_claimed_where_the_alloy_or_the_length_cannot_be() -> None:
    flush = rivet_shape("F", "own", "flush", 3.5, 7.4, head_deg=120.0)
    for alloy in ("", "house mix 7"):
        with pytest.raises(UnknownMetal):
            rivet_mass(flush, 9.0, alloy)
    for length in (0.0, -9.0, 1.0, math.nan):
        with pytest.raises(ValueError, match="leaves no shank"):
            rivet_mass(flush, length, "dural")


def test_one_run_is_filled_once_and_a_line_past_its_least_run_stays_out() -> None:
    """By hand: 110 + 220 = 330 wanted, least run 5,000: one run is 5,000, two are 10,000. The third line wants 6,600."""
    rows = [OrderRow("A", "V-3", "7 mm", 7, 100), OrderRow("B", "V-4", "8 mm", 8, 200), OrderRow("C", "V-5", "9 mm", 9, 6000)]  # fmt: skip
    least = dict.fromkeys(("V-3", "V-4", "V-5"), 5000)
    found = combined_run("V", roll_up(rows, minimum_runs=least))
    assert found is not None
    assert (found.codes, found.wanted, found.together, found.apart, found.saved) == (("V-3", "V-4"), 330, 5000, 10000, 5000)  # fmt: skip
    assert combined_run("V", roll_up(rows[1:], minimum_runs=least)) is None
    assert combined_run("V", roll_up(rows)) is None


def test_a_sellers_least_mass_in_pieces() -> None:
    """By hand: 1 kg over 0.2 g is 5,000; an order 0.4 kg short of 2 kg is filled up in the line with the most holes."""
    short, long = Weighed("V", 8.0, 300, 4000, 0.2), Weighed("V", 9.0, 100, 2000, 0.4)
    assert pieces_for_mass([short, long], 1000.0, True) == {("V", 8.0): 5000, ("V", 9.0): 2500}
    assert pieces_for_mass([short, long], 2000.0, False) == {("V", 8.0): 6000}
    assert pieces_for_mass([short, long], 1600.0, False) == {}
    assert pieces_for_mass([], 1600.0, False) == {}
    with pytest.raises(ValueError, match="above zero"):
        pieces_for_mass([short], 0.0, True)
    for words, mass, each in (
        ("2 kg per size", 2000.0, True),
        ("8 kg", 8000.0, False),
        ("1 lb each size", 453.59237, True),
    ):
        least = parse_minimum_order(words)
        assert (least.mass_g, least.per_size) == (pytest.approx(mass), each)
    assert (parse_minimum_order("2 kg per size").whole_g, parse_minimum_order("8 kg").whole_g) == (None, 8000.0)
    assert parse_minimum_order("5,000 per size").count == 5000
    assert parse_minimum_order("1 furnace load").count is None


def test_the_lines_own_least_count_reaches_the_order_in_whole_packs() -> None:
    rows = [OrderRow("A", "V-3", "7 mm", 7.0, 90), OrderRow("B", "V-3", "8 mm", 8.0, 10)]
    lines = roll_up(rows, packs={"V-3": 100}, line_runs={("v-3", 7.0): 950})
    assert [(line.count, line.minimum_run) for line in lines] == [(1000, 950), (100, 0)]
    assert "because of the least run" in lines[0].cautions[0]
