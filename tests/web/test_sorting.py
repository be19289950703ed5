"""Sorting at the bench, promises and claims: what the screens show and what they refuse."""

import uuid
from datetime import date
from io import BytesIO
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from pypdf import PdfReader

from tests.records.shop import Shop, make_bag, make_shop
from tests.records.test_mixing import received
from tests.records.test_photo_store import picture as a_picture
from tests.records.test_sorting import mixed
from tests.support.pages import client, words
from witnessmark.papers import make
from witnessmark.records.models import Claim, Finding, Holding, Mix, PieceReading, Shipment, ToldApart, WhoseWord

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def post(browser: Client, address: str, **said: object) -> object:
    return browser.post(address, {"act_id": str(uuid.uuid4()), **said})


def test_a_bucket_is_received_measured_and_sorted(shop: Shop) -> None:
    shipment, a, b = mixed(shop)
    browser = client(shop.mechanic)
    assert "Received in one bucket" in words(browser.get("/outwork/S-1/sort/"))
    page = post(browser, "/outwork/S-1/sort/", do="receive", count="6", mass_g="180", to="Q")
    assert page.status_code == 302  # type: ignore[attr-defined]
    for n in range(1, 7):
        text = words(browser.get("/outwork/S-1/measure/?what=ten_pitches_mm"))
        assert f"Piece {n}: its length over ten pitches." in text
        post(
            browser,
            "/outwork/S-1/measure/",
            what="ten_pitches_mm",
            item=str(n),
            value="10,0" if n <= 3 else "10.6",
        )
    text = words(browser.get("/outwork/S-1/sort/"))
    assert "6 of 6 are told apart." in text and "Short: 1 of A." in text
    page = post(browser, "/outwork/S-1/sort/", do="confirm", item=[str(n) for n in range(1, 7)], to="shelf C")
    assert page.status_code == 302  # type: ignore[attr-defined]
    assert {h.piece.tag: h.count for h in Holding.objects.filter(holder__name="shelf C", count__gt=0)} == {
        "A": 3,
        "B": 3,
    }
    assert "Every piece of S-1 is told apart." in words(browser.get("/outwork/S-1/sort/"))
    assert Finding.objects.get().piece == a and b.tag == "B"
    assert Claim.objects.get().what in words(browser.get("/promises/"))
    note = "".join(sheet.extract_text() for sheet in PdfReader(BytesIO(make("discrepancy", which="S-1"))).pages)
    assert "Plater" in note and "S-1" in note and "Your answer" in note
    assert shipment.number == "S-1"


def test_a_person_may_put_a_doubtful_piece_to_the_other_bag(shop: Shop) -> None:
    shipment, _, _ = mixed(shop)
    received(shop, shipment, 7)
    browser = client(shop.lead)
    file = SimpleUploadedFile("r.csv", b"item,diameter_mm\n1,7.92\n")
    post(browser, "/outwork/S-1/sort/", do="file", readings=file)
    assert PieceReading.objects.count() == 1
    assert "doubtful" in words(browser.get("/outwork/S-1/sort/"))
    post(browser, "/outwork/S-1/sort/", do="confirm", item="1", **{"bag-1": "B"}, to="shelf C")
    assert Holding.objects.get(holder__name="shelf C", count__gt=0).piece.tag == "B"
    sheet = "".join(p.extract_text() for p in PdfReader(BytesIO(make("return-sheet", which="S-1"))).pages)
    assert "Home: 1" in sheet


def test_a_told_piece_is_overruled_by_tap_and_solved_anew_before_it_moves(shop: Shop) -> None:
    shipment, _, _ = mixed(shop)
    received(shop, shipment, 7)
    browser = client(shop.mechanic)
    rows = "".join(f"{n},{'10.0' if n <= 4 else '10.6'}\n" for n in range(1, 8))
    file = SimpleUploadedFile("r.csv", f"item,ten_pitches_mm\n{rows}".encode())
    post(browser, "/outwork/S-1/sort/", do="file", readings=file)
    drawn = browser.get("/outwork/S-1/sort/").content.decode()
    assert 'href="/outwork/S-1/sort/1/"' in drawn and 'name="word" value="0"' in drawn
    text = words(browser.get("/outwork/S-1/sort/1/"))
    assert "Piece 1: the readings say A." in text and "B, 3 not home" in text and "10.58" in text
    page = post(browser, "/outwork/S-1/sort/1/", do="say", bag="B", seen=["another head form"], why="dark")
    assert page.status_code == 302  # type: ignore[attr-defined]
    assert not Holding.objects.filter(holder__name="shelf C", count__gt=0).exists()
    text = words(browser.get("/outwork/S-1/sort/"))
    assert "1 said: B" in text and "another head form; dark" in text and "the readings said A, 1.000" in text
    assert "For that, " in text and "What was said against the readings" in text
    # Drawn before the word was said: what it shows no longer holds.
    stale = post(browser, "/outwork/S-1/sort/", do="confirm", item=["1", "2"], to="shelf C", word="0")
    assert stale.status_code == 422 and "since this page was drawn" in stale.content.decode()  # type: ignore[attr-defined]
    newest = str(WhoseWord.objects.get().pk)
    post(browser, "/outwork/S-1/sort/", do="confirm", item=["1", "2"], to="shelf C", word=newest)
    assert {h.piece.tag for h in Holding.objects.filter(holder__name="shelf C", count__gt=0)} == {"A", "B"}
    assert ToldApart.objects.get(item="1").sure is None and ToldApart.objects.get(item="2").sure is not None
    assert "Piece 1 is home." in words(browser.get("/outwork/S-1/sort/1/"))
    sheet = "".join(p.extract_text() for p in PdfReader(BytesIO(make("return-sheet", which="S-1"))).pages)
    assert "Home: 1" in sheet


def test_a_word_stands_on_the_return_sheet_and_is_taken_back(shop: Shop) -> None:
    shipment, _, _ = mixed(shop)
    received(shop, shipment, 7)
    browser = client(shop.lead)
    post(
        browser, "/outwork/S-1/sort/", do="file", readings=SimpleUploadedFile("r.csv", b"item,ten_pitches_mm\n1,10.0\n")
    )
    post(browser, "/outwork/S-1/sort/1/", do="say", bag="foreign", why="brass")
    sheet = "".join(p.extract_text() for p in PdfReader(BytesIO(make("return-sheet", which="S-1"))).pages)
    assert "1: not ours, says Lead: brass" in " ".join(sheet.split())
    text = words(browser.get("/outwork/S-1/sort/1/"))
    assert "Piece 1 is not ours, says Lead." in text and "Take that back" in text
    post(browser, "/outwork/S-1/sort/1/", do="back")
    assert "Piece 1: the readings say A." in words(browser.get("/outwork/S-1/sort/1/"))


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"do": "say"}, "Nothing was chosen"),
        ({"do": "say", "bag": "B"}, "Nothing is said of what you see"),
        ({"do": "say", "bag": "Z", "why": "x"}, "There is no bag Z"),
        ({"do": "say", "bag": "OTHER", "why": "x"}, "OTHER did not leave with shipment S-1"),
        ({"do": "back"}, "Nothing is said of piece 1"),
    ],
)
def test_a_bad_word_changes_nothing(shop: Shop, said: dict[str, str], why: str) -> None:
    shipment, _, _ = mixed(shop)
    make_bag(shop, "OTHER", shop.shelf, 2)
    received(shop, shipment, 7)
    browser = client(shop.lead)
    post(
        browser, "/outwork/S-1/sort/", do="file", readings=SimpleUploadedFile("r.csv", b"item,ten_pitches_mm\n1,10.0\n")
    )
    page = post(browser, "/outwork/S-1/sort/1/", **said)
    assert page.status_code == 422 and why in page.content.decode()  # type: ignore[attr-defined]
    assert not WhoseWord.objects.exists()
    assert browser.get("/outwork/S-1/sort/99/").status_code == 404
    owner = client(shop.owner)
    assert "Only the lead, a mechanic or an inspector" in words(owner.get("/outwork/S-1/sort/1/"))
    assert post(owner, "/outwork/S-1/sort/1/", do="say", bag="B", why="x").status_code == 403  # type: ignore[attr-defined]
    assert Client().get("/outwork/S-1/sort/1/").status_code == 302


@pytest.mark.parametrize(
    ("address", "said", "why"),
    [
        ("sort", {"do": "receive", "count": "8", "to": "Q"}, "more than can come"),
        ("sort", {"do": "receive", "count": "x", "to": "Q"}, "is no whole number"),
        ("sort", {"do": "receive", "count": "3", "mass_g": "heavy", "to": "Q"}, "is no number"),
        ("sort", {"do": "receive", "count": "3"}, "Say on which shelf"),
        ("sort", {"do": "confirm", "to": "Q"}, "Nothing is confirmed"),
        ("sort", {"do": "confirm", "item": "99", "to": "Q"}, "told apart already or not measured"),
        ("sort", {"do": "file"}, "Choose a CSV or JSON"),
        ("sort", {"do": "odd"}, "nothing that can be done"),
        ("measure", {"what": "diameter_mm", "item": "1", "value": "thick"}, "thick"),
        ("measure", {"what": "diameter_mm", "item": "", "value": "8"}, "has a number"),
    ],
)
def test_a_bad_form_changes_nothing(shop: Shop, address: str, said: dict[str, str], why: str) -> None:
    shipment, _, _ = mixed(shop)
    received(shop, shipment, 6)
    page = post(client(shop.lead), f"/outwork/S-1/{address}/", **said)
    assert page.status_code == 422 and why in page.content.decode()  # type: ignore[attr-defined]
    assert Mix.objects.get().count_back == 6 and not PieceReading.objects.exists()


def test_look_alikes_are_shown_before_and_after_it_leaves(shop: Shop) -> None:
    mixed(shop)
    text = words(client(shop.lead).get("/outwork/S-1/"))
    assert "If they come back mixed" in text and "A and B: mixed, some would end in the wrong bag" in text


def test_the_owner_reads_and_a_stranger_does_not(shop: Shop) -> None:
    shipment, _, _ = mixed(shop)
    received(shop, shipment, 6)
    owner = client(shop.owner)
    for address in ("/outwork/S-1/sort/", "/outwork/S-1/measure/", "/promises/"):
        assert owner.get(address).status_code == 200
        assert Client().get(address).status_code == 302
    said = {"do": "receive", "count": "1", "to": "Q"}
    assert post(owner, "/outwork/S-1/sort/", **said).status_code == 403  # type: ignore[attr-defined]
    assert owner.get("/outwork/S-9/sort/").status_code == 404
    assert owner.get("/outwork/S-1/measure/?what=colour").status_code == 404


def test_a_claim_is_made_and_settled_on_the_screen(shop: Shop) -> None:
    mixed(shop)
    Shipment.objects.update(promised_on=date(2026, 5, 4))
    browser = client(shop.lead)
    assert "One is late." in words(browser.get("/promises/"))
    post(browser, "/promises/", do="claim", shipment="S-1", kind="damaged", tag="A", count="2", what="Heads burnt")
    claim = Claim.objects.get()
    assert claim.finding is not None
    post(browser, "/promises/", do="settle", claim=str(claim.pk), answer="Replaced")
    assert "Replaced" in words(browser.get("/promises/"))
    for said, why in (
        ({"do": "claim", "shipment": "S-9", "kind": "short", "what": "x"}, "not in the record"),
        ({"do": "claim", "shipment": "S-1", "kind": "short", "what": "x", "tag": "Z"}, "did not leave"),
        ({"do": "settle", "claim": "x", "answer": "y"}, "not in the record"),
    ):
        page = post(browser, "/promises/", **said)
        assert page.status_code == 422 and why in page.content.decode()  # type: ignore[attr-defined]


def test_a_claim_without_a_piece_keeps_its_picture(shop: Shop, settings: pytest.FixtureRequest, tmp_path: Path) -> None:
    settings.DATA = tmp_path  # type: ignore[attr-defined]
    mixed(shop)
    browser = client(shop.mechanic)
    said = {"do": "claim", "shipment": "S-1", "kind": "foreign", "what": "A bag of washers that is not ours"}
    page = post(browser, "/promises/", **said, picture=SimpleUploadedFile("c.jpg", a_picture(), "image/jpeg"))
    assert page.status_code == 302  # type: ignore[attr-defined]
    claim = Claim.objects.get()
    assert claim.photo is not None and claim.piece is None
    assert f"/photo/{claim.photo_id}/" in browser.get("/promises/").content.decode()
    note = "".join(sheet.extract_text() for sheet in PdfReader(BytesIO(make("discrepancy", which="S-1"))).pages)
    assert "Its picture lies in the record." in note
    refused = post(browser, "/promises/", do="claim", shipment="S-1", kind="short", tag="0999", what="gone")
    assert refused.status_code == 422 and 'value="gone"' in refused.content.decode()  # type: ignore[attr-defined]
