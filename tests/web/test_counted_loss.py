"""A loss in a counted return: a finding with the vendor's name and the picture, a claim, the note; settled when the rest comes."""

import uuid
from datetime import date
from io import BytesIO

import pytest
from pypdf import PdfReader

from tests.records.shop import Shop, make_bag, make_shop
from tests.records.test_photo_store import picture as a_picture
from tests.support.pages import client, words
from witnessmark.papers import make
from witnessmark.records.actions.custody import send_out
from witnessmark.records.actions.photographs import photograph
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.lookups.returns import vendor_shares
from witnessmark.records.models import Claim, Finding, PhotoUse, Piece, Shipment

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def sent(shop: Shop, *bags: Piece) -> None:
    send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="cadmium plating", pieces=list(bags), number="S-27",
        sent_on=date(2026, 5, 1),
    )  # fmt: skip


def back(shop: Shop, **counts: object) -> int:
    said = {"act_id": str(uuid.uuid4()), "do": "counted", "to": "C2", **counts}
    return client(shop.mechanic).post("/outwork/S-27/", said).status_code


def test_eleven_of_twelve_make_a_finding_a_claim_and_a_note(shop: Shop) -> None:
    bag, other = make_bag(shop, "L-003", shop.shelf, 12), make_bag(shop, "L-005", shop.shelf, 48)
    photograph(by=shop.lead, act_id=uuid.uuid4(), piece=bag, data=a_picture(), name="bag.jpg", what="twelve of them")
    sent(shop, bag, other)
    assert "If they come back mixed" in words(client(shop.lead).get("/outwork/S-27/"))
    assert back(shop, **{f"back-{bag.pk}": "11"}) == 302
    finding, claim = Finding.objects.get(), Claim.objects.get()
    assert finding.piece == bag and finding.what == "1 did not come back from Plater, shipment S-27"
    assert finding.measured == "11 of 12 came back"
    assert (claim.kind, claim.piece, claim.count, claim.finding) == ("short", bag, 1, finding)
    assert claim.photo is not None and PhotoUse.objects.get(finding=finding).photo == claim.photo
    # Nothing of the other bag came: it is still out and nobody calls it lost.
    assert not Claim.objects.filter(piece=other).exists()
    browser = client(shop.lead)
    assert finding.what in words(browser.get("/promises/"))
    page = words(browser.get("/outwork/S-27/"))
    assert "Print the discrepancy note" in page and finding.number in page
    assert "If they come back mixed" not in page
    note = " ".join(
        "".join(sheet.extract_text() for sheet in PdfReader(BytesIO(make("discrepancy", which="S-27"))).pages).split()
    )
    assert "Plater" in note and "L-003" in note and "60 left, 11 counted back" in note
    assert vendor_shares(shop.vendor).lost.of == 0  # it may come with the next: no share of his until he is done
    assert check_ledger().balanced


def test_what_comes_after_all_settles_it(shop: Shop) -> None:
    bag = make_bag(shop, "L-003", shop.shelf, 12)
    sent(shop, bag)
    assert back(shop, **{f"back-{bag.pk}": "9"}) == 302
    assert back(shop, **{f"back-{bag.pk}": "2"}) == 302
    first, second = Claim.objects.order_by("id")
    assert (first.answer, second.count, second.settled_on) == ("More came back: 1 is still short", 1, None)
    assert back(shop, do="all") == 302
    second.refresh_from_db()
    assert second.answer == "More came back: none is short any more"
    assert set(Finding.objects.values_list("state", flat=True)) == {"closed"}
    assert Shipment.objects.get().back_on is not None and check_ledger().balanced


def test_all_of_it_back_holds_nobody_to_anything(shop: Shop) -> None:
    bag = make_bag(shop, "L-003", shop.shelf, 12)
    sent(shop, bag)
    assert back(shop, do="all") == 302
    assert not Claim.objects.exists() and not Finding.objects.exists()
