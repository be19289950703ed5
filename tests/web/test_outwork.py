"""Outwork: what is out, what is short, what may leave; sent and received once, counted by line."""

import uuid
from datetime import date

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from tests.records.shop import Shop, make_bag, make_part, make_shop
from tests.records.test_mixing import received
from tests.support.pages import client, words
from tests.support.rows import make_finding, make_steps
from witnessmark.records.actions.custody import send_out
from witnessmark.records.models import Act, Holding, Mix, Piece, Shipment

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def ready(shop: Shop, tag: str = "0007") -> Piece:
    part = make_part(shop, tag, shop.shelf)
    make_steps(part, ("Cadmium plate", "PL"), ("Prime", "sheet metal"))
    return part


def send(shop: Shop, *pieces: Piece, number: str = "S-1", **more: object) -> Shipment:
    send_out(
        by=shop.lead,
        act_id=uuid.uuid4(),
        vendor=shop.vendor,
        process="Cadmium plate",
        pieces=list(pieces),
        number=number,
        sent_on=date(2026, 5, 1),
        **more,  # type: ignore[arg-type]
    )
    return Shipment.objects.get(number=number)


def test_what_is_ready_is_sent_once(shop: Shop) -> None:
    part, browser = ready(shop), client(shop.mechanic)
    text = browser.get("/outwork/").content.decode()
    assert "Send one piece to Plater: cadmium plate." in text
    said = {
        "act_id": str(uuid.uuid4()),
        "vendor": "PL",
        "process": "Cadmium plate",
        "piece": str(part.pk),
        "number": "S-01",
        "promised_on": "2026-06-01",
    }
    for _ in range(2):
        assert browser.post("/outwork/", said)["Location"] == "/outwork/S-01/"
    assert Shipment.objects.get().promised_on == date(2026, 6, 1)
    assert Holding.objects.get(piece=part, count=1).holder == shop.vendor.holder


def test_a_piece_with_a_finding_without_decision_stays(shop: Shop) -> None:
    part = ready(shop)
    make_finding(shop, "F-1", piece=part)
    text = client(shop.lead).get("/outwork/").content.decode()
    assert "finding F-1 has no decision" in text
    assert "Send it out" not in text


def test_what_came_back_is_counted_by_line_and_the_short_one_is_named(shop: Shop) -> None:
    bag = make_bag(shop, "L-014", shop.shelf, 46)
    send(shop, bag)
    browser = client(shop.mechanic)
    assert "46 pieces have been at Plater for " in browser.get("/outwork/S-1/").content.decode()
    said = {"act_id": str(uuid.uuid4()), f"back-{bag.pk}": "45", "to": "shelf Q"}
    for _ in range(2):
        assert browser.post("/outwork/S-1/", said).status_code == 302
    assert Holding.objects.get(piece=bag, holder__name="shelf Q").count == 45
    text = words(browser.get("/outwork/S-1/"))
    assert "45 of 46 came back from Plater. One is short: L-014." in text
    assert "Ask Plater for the 1 that did not come." in browser.get("/outwork/").content.decode()


def test_a_late_shipment_is_rung_up(shop: Shop) -> None:
    send(shop, ready(shop), promised_on=date(2026, 5, 2))
    text = words(client(shop.owner).get("/outwork/"))
    assert "days late with shipment S-1" in text
    assert "Ring Plater" in text


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"to": "Q"}, "Nothing was counted"),
        ({"back": "47", "to": "Q"}, "cannot have come back"),
        ({"back": "-1", "to": "Q"}, "is no whole number"),
        ({"back": "1.5", "to": "Q"}, "is no whole number"),
        ({"back": "4", "to": " "}, "Say on which shelf"),
    ],
)
def test_a_bad_count_changes_nothing(shop: Shop, said: dict[str, str], why: str) -> None:
    bag = make_bag(shop, "L-014", shop.shelf, 46)
    send(shop, bag)
    form = {"act_id": str(uuid.uuid4()), "to": said["to"], f"back-{bag.pk}": said.get("back", "")}
    page = client(shop.lead).post("/outwork/S-1/", form)
    assert page.status_code == 422
    assert why in page.content.decode()
    assert Holding.objects.get(piece=bag, count__gt=0).holder == shop.vendor.holder


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"vendor": "XX"}, "No such vendor"),
        ({"piece": "0"}, "not in the record"),
        ({"piece": "x"}, "not in the record"),
        ({"number": "../S"}, "needs a number"),
        ({"promised_on": "soon"}, "is no day"),
    ],
)
def test_a_bad_sending_changes_nothing(shop: Shop, said: dict[str, str], why: str) -> None:
    part = ready(shop)
    form = {"act_id": str(uuid.uuid4()), "vendor": "PL", "process": "Plate", "piece": str(part.pk), "number": "S-1"}
    page = client(shop.lead).post("/outwork/", {**form, **said})
    assert page.status_code == 422
    assert why in page.content.decode()
    assert not Shipment.objects.exists()


def test_the_owner_logged_out_and_an_unknown_shipment(shop: Shop) -> None:
    part, owner = ready(shop), client(shop.owner)
    assert "Send it out" not in owner.get("/outwork/").content.decode()
    form = {"act_id": str(uuid.uuid4()), "vendor": "PL", "process": "Plate", "piece": str(part.pk), "number": "S-1"}
    assert owner.post("/outwork/", form).status_code == 403
    assert owner.get("/outwork/S-9/").status_code == 404
    assert Client().get("/outwork/").status_code == 302


@pytest.mark.parametrize("address", ["/outwork/", "/outwork/S-0/"])
def test_the_number_of_queries_does_not_grow(shop: Shop, address: str) -> None:
    browser = client(shop.lead)

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            browser.get(address)
        return len(seen)

    def more(n: int) -> None:
        send(shop, ready(shop, f"A{n}"), make_bag(shop, f"B{n}", shop.shelf, 5), number=f"S-{n}")
        make_finding(shop, f"F-{n}", piece=ready(shop, f"C{n}"))
        ready(shop, f"D{n}")

    more(0)
    few = queries()
    for n in range(1, 6):
        more(n)
    assert queries() == few


def test_bags_that_were_put_in_one_basket_there_are_one_lot_until_they_are_sorted(shop: Shop) -> None:
    a, b = make_bag(shop, "A", shop.shelf, 4), make_bag(shop, "B", shop.shelf, 3)
    shipment = send(shop, a, b)
    browser = client(shop.mechanic)
    page = browser.get("/outwork/S-1/")
    assert "They were put in one basket there" in words(page)
    said = {"act_id": str(uuid.uuid4()), "do": "mixed", "piece": [str(a.pk), str(b.pk)]}
    assert browser.post("/outwork/S-1/", said).status_code == 302
    assert browser.post("/outwork/S-1/", said).status_code == 302  # said twice is done once
    assert {h.piece.tag: h.count for h in Holding.objects.filter(holder=shop.vendor.holder, count__gt=0)} == {
        "M-S-1": 7
    }
    text = words(browser.get("/outwork/S-1/"))
    assert "7 pieces lie in one basket there." in text and "They were put in one basket there" not in text
    # The bags are no longer there one by one: counting them so is refused, and says what to do.
    page = browser.post("/outwork/S-1/", {"act_id": str(uuid.uuid4()), f"back-{a.pk}": "4", "to": "shelf C2"})
    assert page.status_code == 422 and "in one bucket" in words(page)
    received(shop, shipment, 6)
    text = words(browser.get("/outwork/"))
    assert "6 of 7 came back from Plater, 6 of them in one bucket. One is short: sorting says whose." in text
    assert "Sort the bucket of S-1." in text
    assert "Sort the bucket." in words(browser.get("/outwork/S-1/"))


@pytest.mark.parametrize("chosen", [["0"], ["x"], []])
def test_what_did_not_leave_is_not_mixed(shop: Shop, chosen: list[str]) -> None:
    a, b = make_bag(shop, "A", shop.shelf, 4), make_bag(shop, "B", shop.shelf, 3)
    send(shop, a, b)
    page = client(shop.mechanic).post("/outwork/S-1/", {"act_id": str(uuid.uuid4()), "do": "mixed", "piece": chosen})
    assert page.status_code == 422 and "Nothing was changed." in words(page)
    assert not Mix.objects.exists()
    assert client(shop.owner).post("/outwork/S-1/", {"act_id": str(uuid.uuid4()), "do": "mixed"}).status_code in (
        403,
        422,
    )


def test_the_second_who_receives_reads_who_took_it_in_and_when(shop: Shop) -> None:
    bag = make_bag(shop, "L-014", shop.shelf, 46)
    send(shop, bag)
    first = {"act_id": str(uuid.uuid4()), "do": "all", "to": "shelf Q"}
    for _ in range(2):  # the same form, sent again on a bad line, is one act
        assert client(shop.mechanic).post("/outwork/S-1/", first).status_code == 302
    at = timezone.localtime(Act.objects.get(verb="receive_back").happened_at)
    told = f"Mechanic took 46 pieces in at {at:%H:%M} already."
    second = client(shop.lead).post("/outwork/S-1/", {**first, "act_id": str(uuid.uuid4())})
    assert second.status_code == 422
    assert f"{told} Nothing of S-1 is out any more. Nothing was counted." in words(second)
    counted = client(shop.lead).post(
        "/outwork/S-1/", {"act_id": str(uuid.uuid4()), f"back-{bag.pk}": "46", "to": "shelf Q"}
    )
    assert counted.status_code == 422
    assert f"46 of them came before, 46 cannot have come back. Nothing was changed. {told}" in words(counted)
    assert Act.objects.filter(verb="receive_back").count() == 1
