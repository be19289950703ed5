"""What the database itself refuses, whoever writes to it (facts of the ledger; no outside source)."""

import uuid
from collections.abc import Callable

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction
from django.utils import timezone

from tests.records.shop import Shop, make_bag, make_part, make_place, make_shop
from witnessmark.records import guards
from witnessmark.records.actions.custody import holder, single
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.models import (
    Act,
    Holder,
    Holding,
    Hunt,
    HuntAsked,
    MaterialReading,
    Move,
    Piece,
    PieceKind,
    PieceNature,
    Shipment,
    TermTaken,
    VendorSaid,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def write(shop: Shop, from_piece: Piece, at: Holder, to_piece: Piece, to: Holder, count: int) -> None:
    """Write a move past every action, as a careless program would."""
    with transaction.atomic():
        act = Act.objects.create(
            id=uuid.uuid4(),
            verb="lay_down",
            person=shop.lead,
            said={},
            said_sha256="",
            happened_at=timezone.now(),
        )
        Move.objects.create(
            act=act, from_piece=from_piece, from_holder=at, to_piece=to_piece, to_holder=to, count=count
        )


def refused(do: Callable[[], object], words: str) -> None:
    with pytest.raises(IntegrityError, match=words), transaction.atomic():
        do()
    assert check_ledger().balanced


def test_every_guard_is_up() -> None:
    assert guards.missing() == []
    assert len(guards.wanted(connection.vendor)) >= 8


def test_guards_that_were_dropped_are_named_and_put_back() -> None:
    guards.lift()
    assert guards.missing() == sorted(guards.wanted(connection.vendor))
    guards.put_up()
    assert guards.missing() == []


def test_a_bag_is_not_overdrawn(shop: Shop) -> None:
    bag = make_bag(shop, "L-1", shop.shelf, 20)
    write(shop, bag, shop.shelf, bag, shop.box, 20)
    refused(lambda: write(shop, bag, shop.shelf, bag, shop.box, 1), "not so many there")


def test_a_place_is_not_over_filled(shop: Shop) -> None:
    place = make_place(shop, "6-1", capacity=4)
    bag = make_bag(shop, "L-1", shop.shelf, 20)
    write(shop, bag, shop.shelf, bag, place.holder, 4)
    refused(lambda: write(shop, bag, shop.shelf, bag, place.holder, 1), "this place is full")


def test_a_part_is_taken_in_once(shop: Shop) -> None:
    part = make_part(shop, "0001", shop.shelf)
    refused(lambda: write(shop, part, single("origin"), part, shop.box, 1), "taken in already")


def test_a_part_that_went_back_to_where_it_came_from_may_come_again(shop: Shop) -> None:
    part = make_part(shop, "0001", shop.shelf)
    write(shop, part, shop.shelf, part, single("origin"), 1)
    write(shop, part, single("origin"), part, shop.box, 1)
    assert check_ledger().balanced


def test_a_part_is_not_split_joined_or_counted(shop: Shop) -> None:
    part = make_part(shop, "0001", shop.shelf)
    bag = make_bag(shop, "L-1", shop.shelf, 5)
    refused(lambda: write(shop, part, shop.shelf, bag, shop.shelf, 1), "not split, joined or counted")
    refused(lambda: write(shop, bag, shop.shelf, part, shop.shelf, 1), "not split, joined or counted")


def test_a_split_keeps_the_count(shop: Shop) -> None:
    bag = make_bag(shop, "L-1", shop.shelf, 5)
    other = Piece.objects.create(tag="L-1b", kind=PieceKind.BAG, aircraft=shop.aircraft)
    write(shop, bag, shop.shelf, other, shop.shelf, 2)
    assert dict(Holding.objects.filter(holder=shop.shelf).values_list("piece__tag", "count")) == {
        "L-1": 3,
        "L-1b": 2,
    }


@pytest.mark.parametrize("count", [0, -3])
def test_a_move_counts_above_nought(shop: Shop, count: int) -> None:
    bag = make_bag(shop, "L-1", shop.shelf, 5)
    with pytest.raises(DatabaseError), transaction.atomic():
        write(shop, bag, shop.shelf, bag, shop.box, count)
    assert check_ledger().balanced


def test_a_container_does_not_go_into_itself(shop: Shop) -> None:
    outer, inner = make_part(shop, "0001", shop.shelf), make_part(shop, "0002", shop.shelf)
    in_outer = Holder.objects.create(kind="container", name="crate 1", piece=outer)
    in_inner = Holder.objects.create(kind="container", name="crate 2", piece=inner)
    write(shop, inner, shop.shelf, inner, in_outer, 1)
    refused(lambda: write(shop, outer, shop.shelf, outer, in_inner, 1), "cannot go into itself")
    refused(lambda: write(shop, outer, shop.shelf, outer, in_outer, 1), "cannot go into itself")


def test_acts_and_moves_are_never_edited_or_deleted(shop: Shop) -> None:
    make_part(shop, "0001", shop.shelf)
    refused(lambda: Act.objects.update(verb="undo"), "what was recorded stays")
    refused(lambda: Move.objects.update(count=7), "what was recorded stays")
    refused(lambda: Move.objects.all()._raw_delete("default"), "what was recorded stays")
    refused(lambda: Act.objects.all()._raw_delete("default"), "what was recorded stays")


def test_what_people_said_before_a_shipment_left_is_never_edited(shop: Shop) -> None:
    part = make_part(shop, "0001", shop.shelf)
    act = Act.objects.latest("recorded_at")
    shipment = Shipment.objects.create(number="S-1", vendor=shop.vendor, process="Plate", act=act)
    hunt = Hunt.objects.create(aircraft=shop.aircraft, number="H-1", what="x", why="missing", act=act)
    PieceNature.objects.create(piece=part, trait="spring", holds=True, act=act)
    MaterialReading.objects.create(piece=part, magnet="sticks", sentence="x", act=act)
    TermTaken.objects.create(shipment=shipment, piece=part, rule="spring", why="x", term="y", by=shop.lead, act=act)
    VendorSaid.objects.create(shipment=shipment, what="received", day=timezone.localdate(), act=act)
    HuntAsked.objects.create(hunt=hunt, whom="x", asked_on=timezone.localdate(), act=act)
    for model in (PieceNature, MaterialReading, TermTaken, VendorSaid, HuntAsked):
        refused(lambda model=model: model.objects.update(act=act), "what was recorded stays")  # type: ignore[misc]
        refused(lambda model=model: model.objects.all()._raw_delete("default"), "what was recorded stays")  # type: ignore[misc]


def test_holdings_are_written_by_moves_alone(shop: Shop) -> None:
    part = make_part(shop, "0001", shop.shelf)
    mine = Holding.objects.filter(piece=part)
    refused(lambda: mine.update(count=0), "written by moves alone")
    refused(lambda: mine.update(count=1), "written by moves alone")
    refused(lambda: mine._raw_delete("default"), "written by moves alone")
    refused(
        lambda: Holding.objects.create(piece=part, holder=shop.box, count=1, move_id=0),
        "written by moves alone",
    )


def test_a_tampered_ledger_is_found_out(shop: Shop) -> None:
    part = make_part(shop, "0001", shop.shelf)
    guards.lift()
    Holding.objects.filter(piece=part).update(count=2)
    found = check_ledger()
    guards.put_up()
    assert not found.balanced
    assert any("the moves say 1, the ledger keeps 2" in fault for fault in found.faults)
    assert any("guard" in fault for fault in found.faults)


def test_a_shelf_is_made_when_first_named(shop: Shop) -> None:
    assert holder("shelf", " rack B3 ") == holder("shelf", "rack B3")
