"""The don't-know tray: finds ranked, never moved by themselves, a purchase held back until somebody looked."""

import uuid
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.records.shop import Shop, make_bag, make_part, make_place, make_shop
from tests.records.test_photo_store import picture
from tests.support.rows import make_row, make_size
from witnessmark.records.actions import hunting
from witnessmark.records.actions.buying import order_leaves
from witnessmark.records.actions.custody import lay_down, put_back, receive_back, send_out, single
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.actions.tray import Size, lay_in_tray, look_in_tray
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.lookups.tray import TRAY, tray_seen
from witnessmark.records.lookups.where import standings
from witnessmark.records.models import (
    FastenerSize,
    Hunt,
    HuntAsked,
    Move,
    Order,
    Piece,
    Shipment,
    ShipmentLine,
    TrayFind,
    TrayLooked,
)

pytestmark = pytest.mark.django_db
DAY = date(2026, 5, 12)


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def find(shop: Shop, **more: Any) -> TrayFind:
    said = {"by": shop.mechanic, "act_id": uuid.uuid4(), "data": picture(), "picture_name": "f.jpg"}
    return TrayFind.objects.get(pk=lay_in_tray(**{**said, **more})["find"])


def hunt(shop: Shop, what: str = "Compass bracket", **more: Any) -> tuple[Hunt, HuntAsked]:
    said = {"by": shop.mechanic, "act_id": uuid.uuid4(), "aircraft": shop.aircraft, "what": what, "why": "missing"}
    begun = Hunt.objects.get(number=hunting.start_hunt(**{**said, **more})["hunt"])
    hunting.ask_after(
        by=shop.lead,
        act_id=uuid.uuid4(),
        hunt=begun,
        whom="A collector",
        asked_on=DAY,
        price=Decimal(40),
        currency="EUR",
    )
    return begun, HuntAsked.objects.get(hunt=begun)


def searched(shop: Shop, begun: Hunt) -> None:
    hunting.search_stores(by=shop.mechanic, act_id=uuid.uuid4(), hunt=begun, answer="shelves A to F: not there")


def buy(shop: Shop, begun: Hunt, offer: HuntAsked) -> None:
    hunting.agree_purchase(by=shop.lead, act_id=uuid.uuid4(), hunt=begun, offer=offer, ordered_on=DAY)


def look(shop: Shop, missing: str, *finds: TrayFind, is_it: bool = False) -> dict[str, Any]:
    return look_in_tray(by=shop.mechanic, act_id=uuid.uuid4(), missing=missing, finds=finds, is_it=is_it)


def test_a_find_is_ranked_against_hunts_lost_pieces_and_empty_places(shop: Shop) -> None:
    hunt(shop, "Compass bracket", measurements="length 118 mm, 3 holes of 4.1 mm")
    lost = make_part(shop, "0210", shop.shelf)
    Piece.objects.filter(pk=lost.pk).update(name="Door hinge", material="4130 steel")
    lay_down(by=shop.mechanic, act_id=uuid.uuid4(), piece=lost, to=single("not_found"))
    place = make_place(shop, "6-91-015")
    place.name, place.wants = "Generator", "generator 24 V"
    place.save()
    find(shop, measured=Size(length_mm=118.5), magnet="does not", name="bracket")
    seen = tray_seen()[0]
    assert [could.key.split(":")[0] for could in seen.candidates] == ["hunt", "place", "piece"]
    best = seen.candidates[0]
    assert (
        best.chance > 0.9
        and "118.5 mm beside 118 mm" in best.speaks_for
        and "both are called bracket" in best.speaks_for
    )
    assert any("magnet" in why for why in seen.candidates[2].speaks_against)
    assert 0 <= seen.none_of_these < 0.1 and Move.objects.count() == 3  # taken in, lost, laid in: nothing else moved


def test_a_purchase_is_held_back_until_somebody_looked(shop: Shop) -> None:
    begun, offer = hunt(shop)
    searched(shop, begun)
    one = find(shop, name="bracket")
    with pytest.raises(Refused, match="Held back: bracket in the don’t-know tray could be Compass bracket"):
        buy(shop, begun, offer)
    assert not Order.objects.exists()
    look(shop, f"hunt:{begun.pk}", one)
    buy(shop, begun, offer)
    assert Order.objects.count() == 1 and TrayLooked.objects.get().act.person == shop.mechanic


def test_a_search_of_the_stores_is_a_look_at_what_lay_there_then(shop: Shop) -> None:
    begun, offer = hunt(shop)
    find(shop)
    searched(shop, begun)
    buy(shop, begun, offer)
    assert Order.objects.exists()


def test_what_speaks_against_it_holds_nothing(shop: Shop) -> None:
    begun, offer = hunt(shop, "Generator 24 V", measurements="length 300 mm, across 140 mm, shaft 17 mm")
    searched(shop, begun)
    find(shop, name="hinge", measured=Size(length_mm=40.0, diameter_mm=6.0))
    buy(shop, begun, offer)
    assert Order.objects.exists()


def test_it_is_it_ends_the_hunt_and_is_said_once(shop: Shop) -> None:
    begun, _ = hunt(shop)
    one = find(shop, name="bracket")
    act = uuid.uuid4()
    said = {"by": shop.mechanic, "act_id": act, "missing": f"hunt:{begun.pk}", "finds": [one], "is_it": True}
    assert look_in_tray(**said) == look_in_tray(**said)  # type: ignore[arg-type]
    begun.refresh_from_db()
    assert begun.state == "found" and begun.found_piece == one.piece and TrayLooked.objects.count() == 1
    with pytest.raises(Refused, match="hunt is over"):
        look(shop, f"hunt:{begun.pk}", one, is_it=True)


def test_a_lost_piece_is_found_in_it_and_nothing_is_doubled(shop: Shop) -> None:
    lost = make_part(shop, "0210", shop.shelf)
    lay_down(by=shop.mechanic, act_id=uuid.uuid4(), piece=lost, to=single("not_found"))
    one = find(shop, measured=Size(length_mm=50.0))
    look(shop, f"piece:{lost.pk}", one, is_it=True)
    where = standings([lost, one.piece])
    assert [at.holder.name for at in where[lost.pk]] == [TRAY] and where[one.piece.pk] == []
    assert lost.photo_uses.exists() and check_ledger().balanced and tray_seen() == []
    with pytest.raises(Refused, match="does not lie in the tray"):
        look(shop, f"piece:{lost.pk}", one, is_it=True)


def test_more_found_than_missed_is_counted_apart_first(shop: Shop) -> None:
    lost = make_part(shop, "0210", shop.shelf)
    lay_down(by=shop.mechanic, act_id=uuid.uuid4(), piece=lost, to=single("not_found"))
    with pytest.raises(Refused, match="4 were found and 1 are missed"):
        look(shop, f"piece:{lost.pk}", find(shop, count=4), is_it=True)
    assert check_ledger().balanced


def test_an_empty_place_gets_it_and_it_is_not_fitted_until_it_is_traced(shop: Shop) -> None:
    place = make_place(shop, "6-91-015")
    one = find(shop)
    look(shop, f"place:{place.pk}", one, is_it=True)
    assert one.piece.belongs.get().place == place
    with pytest.raises(Refused, match=r"(?i)where it comes from"):
        put_back(by=shop.mechanic, act_id=uuid.uuid4(), piece=one.piece, place=place)


def test_an_order_of_a_size_that_lies_in_the_tray_is_held_back(shop: Shop) -> None:
    make_row(shop, "C2", make_size(shop))
    one = find(shop, count=40, size=FastenerSize.objects.get())
    said = {"by": shop.lead, "aircraft": shop.aircraft, "vendor": shop.vendor, "number": "O-1", "ordered_on": DAY}
    with pytest.raises(Refused, match=r"Held back: .* of VN12-3.0"):
        order_leaves(act_id=uuid.uuid4(), **said)  # type: ignore[arg-type]
    look(shop, "size:VN12-3.0", one)
    order_leaves(act_id=uuid.uuid4(), **said)  # type: ignore[arg-type]
    assert Order.objects.exists()


@pytest.mark.parametrize(
    ("what", "says"),
    [
        ({"measured": Size(length_mm=-1)}, "A size is above nought"),
        ({"measured": Size(length_mm=float("nan"))}, "A size is above nought"),
        ({"magnet": "perhaps"}, "A magnet sticks"),
        ({"side": "up"}, "A magnet sticks"),
        ({"count": 0}, "A count starts at 1"),
        ({"data": b"no picture"}, "is no picture"),
    ],
)
def test_what_cannot_be_laid_in(shop: Shop, what: dict[str, Any], says: str) -> None:
    with pytest.raises(Refused, match=says):
        find(shop, **what)
    assert not Piece.objects.exists()


@pytest.mark.parametrize("missing", ["", "hunt:", "cow:1", "hunt"])
def test_nothing_that_is_missing(shop: Shop, missing: str) -> None:
    with pytest.raises(Refused, match="is nothing that is missing"):
        look(shop, missing, find(shop))


def test_who_may_not(shop: Shop) -> None:
    with pytest.raises(NotAllowed):
        find(shop, by=shop.owner)
    one = find(shop)
    with pytest.raises(NotAllowed):
        look_in_tray(by=shop.owner, act_id=uuid.uuid4(), missing="size:X", finds=[one], is_it=False)


def test_questions_do_not_grow(shop: Shop) -> None:
    def asked() -> int:
        with CaptureQueriesContext(connection) as seen:
            tray_seen()
        return len(seen)

    find(shop)
    hunt(shop)
    few = asked()
    for n in range(6):
        find(shop, name=f"bracket {n}")
        hunt(shop, f"Bracket {n}")
    assert asked() == few


def short_bag(shop: Shop, back: int = 40) -> Piece:
    """Fifty nuts left for the plater; so many came back."""
    bag = make_bag(shop, "B-7", shop.shelf, 50)
    Piece.objects.filter(pk=bag.pk).update(name="Nuts of the left float")
    send_out(by=shop.lead, act_id=uuid.uuid4(), number="S-9", vendor=shop.vendor, pieces=[bag], process="plate", sent_on=DAY)  # fmt: skip
    receive_back(by=shop.lead, act_id=uuid.uuid4(), shipment=Shipment.objects.get(), counts={bag.pk: back}, to=shop.shelf, back_on=DAY)  # fmt: skip
    return bag


def test_what_had_come_back_short_is_received_from_the_tray(shop: Shop) -> None:
    bag = short_bag(shop)
    found = find(shop, name="nuts", count=10)
    told = look(shop, f"short:{bag.pk}", found, is_it=True)
    assert "10 of B-7" in told["became"] and "S-9" in told["became"]
    line = ShipmentLine.objects.get()
    assert (line.count_back, line.shipment.back_on is not None) == (50, True)
    assert sum(at.count for at in standings([bag])[bag.pk] if at.holder.name == TRAY) == 10
    assert tray_seen() == [] and check_ledger().balanced
    assert bag.photo_uses.exists()  # the find's picture stays with the bag
    with pytest.raises(Refused, match="Nothing of that is short any more"):
        look(shop, f"short:{bag.pk}", find(shop, count=1), is_it=True)


def test_more_than_is_short_is_counted_apart_first(shop: Shop) -> None:
    bag = short_bag(shop, back=45)
    with pytest.raises(Refused, match="10 were found and 5 are short of shipment S-9"):
        look(shop, f"short:{bag.pk}", find(shop, count=10), is_it=True)
    assert ShipmentLine.objects.get().count_back == 45


def test_what_a_find_was_held_against_is_said_in_words(shop: Shop) -> None:
    begun, _ = hunt(shop)
    bag = short_bag(shop)
    place = make_place(shop, "6-91-015")
    lost = make_part(shop, "0210", shop.shelf)
    lay_down(by=shop.mechanic, act_id=uuid.uuid4(), piece=lost, to=single("not_found"))
    size = make_size(shop)
    found = find(shop, name="bracket")
    for key in (f"hunt:{begun.pk}", f"short:{bag.pk}", f"place:{place.pk}", f"piece:{lost.pk}", f"size:{size.code}"):
        look(shop, key, found)
    lay_down(by=shop.mechanic, act_id=uuid.uuid4(), piece=lost, to=shop.shelf)  # missing no more, and still named
    words = [said.name for said in tray_seen()[0].looked]
    assert words == [
        "Compass bracket (H-1)",
        "B-7 Nuts of the left float, 10 short of shipment S-9",
        "6-91-015, nothing to go in",
        str(lost),
        f"a fastener of size {size.code}",
    ]
