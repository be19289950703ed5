"""Several people act in the same moment (facts of the ledger; no outside source)."""

import threading
import uuid
from datetime import date

import pytest
from django.db import connection

from tests.records.shop import make_bag, make_part, make_place, make_shop
from witnessmark.records.actions import custody
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.models import Act, Certificate, Holding, Quarantine, Shipment

pytestmark = pytest.mark.django_db(transaction=True)


def all_at_once(calls: list) -> list[str]:
    """Run every call in its own thread and connection; tell how each ended."""
    ends: list[str] = []
    gate = threading.Barrier(len(calls))

    def one(call: object) -> None:
        try:
            gate.wait()
            call()  # type: ignore[operator]
            ends.append("done")
        except Refused as why:
            ends.append(str(why))
        finally:
            connection.close()

    threads = [threading.Thread(target=one, args=(call,)) for call in calls]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return ends


def test_eight_people_take_exactly_what_a_bag_holds() -> None:
    shop = make_shop()
    bag = make_bag(shop, "L-1", shop.shelf, 20)

    def take_four() -> None:
        for _ in range(4):
            custody.lay_down(by=shop.lead, act_id=uuid.uuid4(), piece=bag, to=shop.box, at=shop.shelf, count=1)

    ends = all_at_once([take_four] * 8)
    assert Holding.objects.get(piece=bag, holder=shop.box).count == 20
    assert ends.count("done") <= 5
    assert all("not" in end for end in ends if end != "done")
    assert check_ledger().balanced


def test_one_act_sent_by_eight_phones_happens_once() -> None:
    shop = make_shop()
    part = make_part(shop, "0118", make_place(shop, "6-1").holder)
    same = uuid.uuid4()
    ends = all_at_once([lambda: custody.take_off(by=shop.lead, act_id=same, piece=part, to=shop.shelf)] * 8)
    assert ends == ["done"] * 8
    assert Act.objects.filter(verb="take_off").count() == 1
    assert check_ledger().balanced


def test_two_people_receive_one_shipment_at_once() -> None:
    """Together they take in what left and no more, each count stays, and the paper is waited for once."""
    shop = make_shop()
    bag = make_bag(shop, "L-016", shop.shelf, 20)
    custody.send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="Count", pieces=[bag], number="S-1",
        sent_on=date(2026, 5, 1),
    )  # fmt: skip
    shipment = Shipment.objects.get()
    Certificate.objects.create(shipment=shipment, kind="conformity", act=shipment.act)

    def receive(count: int) -> None:
        custody.receive_back(
            by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, counts={bag.pk: count}, to=shop.box,
            back_on=date(2026, 5, 8),
        )  # fmt: skip

    ends = all_at_once([lambda: receive(12), lambda: receive(8), lambda: receive(20)])
    assert ends.count("done") in (1, 2)
    assert all("cannot have come back" in end for end in ends if end != "done")
    line = shipment.lines.get()
    assert line.count_back == Holding.objects.get(piece=bag, holder=shop.box).count == 20
    assert Quarantine.objects.filter(piece=bag, lifted_act=None).count() == 1
    shipment.refresh_from_db()
    assert shipment.back_on == date(2026, 5, 8)
    assert check_ledger().balanced
