"""Count and mass of what leaves together: sums, nothing guessed (no outside source)."""

import pytest

from witnessmark.calc.bags.shipment import ShipmentLine, parse_minimum_order, shipment_totals

BOLTS = ShipmentLine("L-015", "root bolts", 8, 612.0, "steel")
FITTINGS = ShipmentLine("L-018", "fittings", 3, 2445.0, "steel")
FORK = ShipmentLine("0307", "tailwheel fork", 1, 1183.0, "steel")


def test_twelve_pieces_of_4240_g_are_under_the_least_order() -> None:
    totals = shipment_totals([BOLTS, FITTINGS, FORK], 8000)
    assert (totals.count, totals.mass_g, totals.under_minimum, totals.mixed) == (12, 4240.0, True, False)
    assert "3.76 kg" in totals.sentence


def test_what_is_not_weighed_is_named_and_never_guessed() -> None:
    totals = shipment_totals([BOLTS, ShipmentLine("L-021", "screws", 52, None, "brass")], 8000)
    assert totals.not_weighed == ("L-021",)
    assert totals.under_minimum is None
    assert totals.mixed
    assert any("magnet" in caution for caution in totals.cautions)


def test_the_least_order_is_read_as_written() -> None:
    assert parse_minimum_order("8 kg").mass_g == 8000
    assert parse_minimum_order("5,000 per size").count == 5000
    assert parse_minimum_order("").mass_g is None


@pytest.mark.parametrize("line", [ShipmentLine("x", "x", -1, 5.0, ""), ShipmentLine("x", "x", 1, -5.0, "")])
def test_less_than_nothing_is_refused(line: ShipmentLine) -> None:
    with pytest.raises(ValueError):
        shipment_totals([line], None)


def test_where_nothing_is_weighed_no_mass_is_printed() -> None:
    told = shipment_totals([ShipmentLine("the untagged clip (id-4)", "clip", 1, None, "")], None).sentence
    assert told == "1 piece, not weighed (the untagged clip (id-4))."
    both = shipment_totals([BOLTS, ShipmentLine("L-021", "screws", 52, None, "brass")], None).sentence
    assert both == "60 pieces, 0.612 kg without L-021."
