"""Pieces change holders by acts: each works, refuses, keeps its history, and is done once."""

import uuid
from datetime import date

import pytest

from tests.records.shop import Shop, make_bag, make_part, make_place, make_shop
from witnessmark.records.actions import custody
from witnessmark.records.actions.saying import NotAllowed, Refused, SaidOtherwise
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.lookups.where import has_been, standings
from witnessmark.records.models import Act, AnswerReliedOn, Belongs, Holder, Shipment

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def test_off_and_back_again(shop: Shop) -> None:
    place = make_place(shop, "6-51-020", "L")
    part = make_part(shop, "0118", place.holder, side="L")
    custody.take_off(by=shop.mechanic, act_id=uuid.uuid4(), piece=part, to=shop.shelf)
    assert Belongs.objects.get(piece=part).place == place
    assert standings([part])[part.pk][0].words == "C2"
    custody.put_back(by=shop.mechanic, act_id=uuid.uuid4(), piece=part, place=place)
    assert standings([part])[part.pk][0].holder == place.holder
    assert [m.act.verb for m in has_been(part)] == ["load_lists", "take_off", "put_back"]
    assert check_ledger().balanced


def test_sent_twice_is_done_once_and_otherwise_is_refused(shop: Shop) -> None:
    place = make_place(shop, "6-1")
    part = make_part(shop, "0118", place.holder)
    same = uuid.uuid4()
    first = custody.take_off(by=shop.mechanic, act_id=same, piece=part, to=shop.shelf)
    assert custody.take_off(by=shop.mechanic, act_id=same, piece=part, to=shop.shelf) == first
    assert Act.objects.filter(verb="take_off").count() == 1
    with pytest.raises(SaidOtherwise, match="other content"):
        custody.take_off(by=shop.mechanic, act_id=same, piece=part, to=shop.box)


def test_the_owner_reads(shop: Shop) -> None:
    place = make_place(shop, "6-1")
    part = make_part(shop, "0118", place.holder)
    with pytest.raises(NotAllowed, match="may read this"):
        custody.take_off(by=shop.owner, act_id=uuid.uuid4(), piece=part, to=shop.shelf)
    assert not Act.objects.filter(verb="take_off").exists()


def test_what_is_not_on_the_aircraft_is_not_taken_off(shop: Shop) -> None:
    part = make_part(shop, "0118", shop.shelf)
    with pytest.raises(Refused, match="not on the aircraft"):
        custody.take_off(by=shop.mechanic, act_id=uuid.uuid4(), piece=part, to=shop.box)


def test_left_does_not_go_right(shop: Shop) -> None:
    left, right = make_place(shop, "6-51-020", "L"), make_place(shop, "6-51-020", "R")
    part = make_part(shop, "0118", shop.shelf, side="L", belongs=left)
    with pytest.raises(Refused, match="opposite"):
        custody.put_back(by=shop.mechanic, act_id=uuid.uuid4(), piece=part, place=right)


def test_a_full_place_refuses_in_plain_words(shop: Shop) -> None:
    place = make_place(shop, "6-1")
    make_part(shop, "0001", place.holder)
    other = make_part(shop, "0002", shop.shelf)
    with pytest.raises(Refused, match=r"This place is full\. Nothing was changed"):
        custody.put_back(by=shop.mechanic, act_id=uuid.uuid4(), piece=other, place=place)
    assert check_ledger().balanced


def test_a_shipment_goes_and_comes_back_one_short(shop: Shop) -> None:
    bag = make_bag(shop, "L-014", shop.shelf, 46)
    custody.send_out(
        by=shop.lead,
        act_id=uuid.uuid4(),
        vendor=shop.vendor,
        process="plate",
        pieces=[bag],
        number="S-1",
        sent_on=date(2026, 5, 4),
    )
    shipment = Shipment.objects.get(number="S-1")
    frozen = AnswerReliedOn.objects.get(act__verb="send_out").answer
    assert (frozen.kind, frozen.result["count"], frozen.result["not_weighed"]) == ("shipment", 46, ["L-014"])
    assert frozen.working["formula"].startswith("count = sum of counts")
    told = custody.receive_back(
        by=shop.lead,
        act_id=uuid.uuid4(),
        shipment=shipment,
        counts={bag.pk: 45},
        to=shop.shelf,
        back_on=date(2026, 5, 12),
    )
    assert told["short"] == [{"tag": "L-014", "missing": 1}]
    assert {s.holder.name: s.count for s in standings([bag])[bag.pk]} == {"Plater": 1, "C2": 45}
    shipment.refresh_from_db()
    assert shipment.back_on is None
    with pytest.raises(Refused, match="cannot have come back"):
        custody.receive_back(
            by=shop.lead,
            act_id=uuid.uuid4(),
            shipment=shipment,
            counts={bag.pk: 2},
            to=shop.shelf,
            back_on=date.today(),
        )
    assert check_ledger().balanced


def test_nothing_leaves_when_one_piece_cannot(shop: Shop) -> None:
    place = make_place(shop, "6-1")
    on_it, here = make_part(shop, "0001", place.holder), make_part(shop, "0002", shop.shelf)
    with pytest.raises(Refused, match="cannot leave"):
        custody.send_out(
            by=shop.lead,
            act_id=uuid.uuid4(),
            vendor=shop.vendor,
            process="plate",
            pieces=[here, on_it],
            number="S-2",
            sent_on=date(2026, 5, 4),
        )
    assert not Shipment.objects.exists()
    assert standings([here])[here.pk][0].holder == shop.shelf


def test_a_bag_in_two_places_asks_which(shop: Shop) -> None:
    bag = make_bag(shop, "L-1", shop.shelf, 5)
    custody.lay_down(by=shop.mechanic, act_id=uuid.uuid4(), piece=bag, to=shop.box, count=2)
    with pytest.raises(Refused, match=r"3 at C2, 2 at box 7|2 at box 7, 3 at C2"):
        custody.lay_down(by=shop.mechanic, act_id=uuid.uuid4(), piece=bag, to=custody.single("scrap"))
    custody.lay_down(by=shop.mechanic, act_id=uuid.uuid4(), piece=bag, to=custody.single("scrap"), at=shop.box)
    assert {s.holder.kind for s in standings([bag])[bag.pk]} == {"shelf", "scrap"}


def test_an_act_is_taken_back_by_a_new_one_once(shop: Shop) -> None:
    place = make_place(shop, "6-1")
    part = make_part(shop, "0118", place.holder)
    custody.take_off(by=shop.mechanic, act_id=uuid.uuid4(), piece=part, to=shop.shelf)
    act = Act.objects.get(verb="take_off")
    custody.undo(by=shop.mechanic, act_id=uuid.uuid4(), act=act)
    assert standings([part])[part.pk][0].holder == place.holder
    with pytest.raises(Refused, match="taken back already"):
        custody.undo(by=shop.mechanic, act_id=uuid.uuid4(), act=act)


def test_where_it_is_follows_the_boxes_upward(shop: Shop) -> None:
    crate = make_part(shop, "0900", shop.shelf)
    inside = Holder.objects.create(kind="container", name="crate 3", piece=crate)
    part = make_part(shop, "0118", inside)
    assert standings([part])[part.pk][0].words == "crate 3, in C2"


def test_on_the_fixed_day_of_a_demonstration_acts_happen_on_that_day(shop: Shop) -> None:
    shop.aircraft.today = date(2026, 5, 12)
    shop.aircraft.save()
    part = make_part(shop, "0118", shop.shelf)
    custody.lay_down(by=shop.mechanic, act_id=uuid.uuid4(), piece=part, to=shop.box)
    assert Act.objects.get(verb="lay_down").happened_at.date() == date(2026, 5, 12)
