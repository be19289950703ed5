"""Packing: what bars a piece stands beside it; a term unticked is refused by the act; the price; every refusal."""

import uuid

import pytest
from django.test import Client

from tests.records.shop import Shop, make_part, make_shop
from tests.support.pages import client, words
from tests.support.rows import make_steps
from witnessmark.records.models import MaterialReading, Piece, PieceNature, Shipment, TermTaken, VendorPrice

pytestmark = pytest.mark.django_db
HERE = "/pack/?vendor=PL&process=Cadmium+plate"


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def piece(shop: Shop, tag: str, name: str, material: str = "steel") -> Piece:
    part = make_part(shop, tag, shop.shelf)
    Piece.objects.filter(pk=part.pk).update(name=name, material=material, strength_mpa=900, mass_g=100)
    make_steps(part, ("Cadmium plate", "PL"))
    part.refresh_from_db()
    return part


def form(*pieces: Piece, **more: str) -> dict[str, object]:
    return {
        "act_id": str(uuid.uuid4()), "do": "send", "vendor": "PL", "process": "Cadmium plate", "number": "S-1",
        "piece": [str(p.pk) for p in pieces], "laid": [str(p.pk) for p in pieces], **more,
    }  # fmt: skip


def test_what_is_ready_is_laid_out_with_what_bars_it(shop: Shop) -> None:
    piece(shop, "0001", "Fitting")
    piece(shop, "0002", "Retraction chain")
    piece(shop, "0003", "Leaf spring")
    text = words(client(shop.mechanic).get(HERE))
    assert "One must not go: 0002." in text
    assert "Must not go: chain." in text
    assert "No acid; to a specification" in text
    assert "Conformity: what was put on" in text


def test_a_term_is_ticked_and_answered_for(shop: Shop) -> None:
    spring, browser = piece(shop, "0003", "Leaf spring"), client(shop.mechanic)
    page = browser.post("/pack/", form(spring))
    assert page.status_code == 422
    assert "It goes only so" in words(page)
    page = browser.post("/pack/", form(spring, term=f"{spring.pk}:spring"))
    assert page.status_code == 422
    assert "nobody answers for it" in words(page)
    said = form(spring, term=f"{spring.pk}:spring", answers=str(shop.lead.pk), instruction="Own basket")
    for _ in range(2):
        assert browser.post("/pack/", said)["Location"] == "/outwork/S-1/"
    assert TermTaken.objects.get().by == shop.lead
    assert Shipment.objects.get().packing.instruction == "Own basket"


def test_nature_magnet_and_price_are_said_from_the_page(shop: Shop) -> None:
    chain, browser = piece(shop, "0002", "Chain guide"), client(shop.mechanic)
    base = {**form(chain), "of": str(chain.pk)}
    said = {**base, "act_id": str(uuid.uuid4()), "do": "nature", "trait": "chain", "holds": "no"}
    assert browser.post("/pack/", said).status_code == 302
    assert PieceNature.objects.get().holds is False
    said = {**base, "act_id": str(uuid.uuid4()), "do": "read", "magnet": "sticks", "shape": "plate", "d1": "50 mm",
            "d2": "1 in", "d3": "10", "mass": "99 g"}  # fmt: skip
    assert browser.post("/pack/", said).status_code == 302
    assert MaterialReading.objects.get().agrees is True
    said = {**base, "act_id": str(uuid.uuid4()), "do": "price", "least": "60", "per_kg": "12,50", "currency": "EUR"}
    assert browser.post("/pack/", said).status_code == 302
    assert str(VendorPrice.objects.get().per_kg) == "12.50"
    text = words(browser.get(HERE))
    assert "60.00 EUR: the least charge" in text
    assert "fits steel" in text
    assert "By its dimensions about 99.4 g. Surface 0.40 dm²." in text  # 50 x 25.4 x 10 mm of 7.825 g/cm3, by hand


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"vendor": "XX"}, "No such vendor"),
        ({"piece": "999999"}, "not in the record"),
        ({"number": "a b"}, "needs a number"),
        ({"do": "burn"}, "nothing that can be done"),
        ({"do": "read", "of": "0"}, "not in the record"),
        ({"do": "price", "least": "much", "currency": "EUR"}, "is no amount"),
        ({"term": "x:spring", "answers": "1"}, "names no piece"),
        ({"act_id": "x"}, "no number of its own"),
    ],
)
def test_a_bad_form_changes_nothing(shop: Shop, said: dict[str, str], why: str) -> None:
    part = piece(shop, "0001", "Fitting")
    page = client(shop.lead).post("/pack/", {**form(part), **said})
    assert page.status_code == 422
    assert why in words(page)
    assert not Shipment.objects.exists()


def test_a_reading_that_cannot_be_read_is_refused(shop: Shop) -> None:
    part = piece(shop, "0001", "Fitting")
    said = {**form(part), "do": "read", "of": str(part.pk), "magnet": "sticks", "shape": "bar", "d1": "wide", "d2": "5"}
    page = client(shop.lead).post("/pack/", said)
    assert page.status_code == 422
    assert "Nothing was changed" in words(page)


def test_owner_reads_a_stranger_signs_in_and_an_empty_choice_asks(shop: Shop) -> None:
    part = piece(shop, "0001", "Fitting")
    owner = client(shop.owner)
    assert "You may read this" in words(owner.get(HERE))
    assert owner.post("/pack/", form(part)).status_code == 403
    assert Client().get(HERE).status_code == 302
    assert "Who gets it" in words(owner.get("/pack/"))
    assert "No piece has the tag NONE" in words(owner.get(f"{HERE}&asked=1&add=NONE"))


def test_a_piece_number_that_is_none_is_named_and_the_rest_stays_as_typed(shop: Shop) -> None:
    part, browser = piece(shop, "0001", "Fitting"), client(shop.mechanic)
    for strange, said in (("12x", "'12x' is no piece of the record"), ("999999", "Piece 999999 is not in the record")):
        sent = {**form(part, number="S-77", instruction="Eight micrometres, no more"), "piece": [str(part.pk), strange]}
        page = browser.post("/pack/", sent)
        source = page.content.decode()
        assert page.status_code == 422 and said in words(page) and not Shipment.objects.exists()
        assert 'value="S-77"' in source and "Eight micrometres, no more</textarea>" in source
    text = words(browser.get(f"{HERE}&asked=1&piece={part.pk}&piece=12x&piece=999999&add=0099"))
    assert "“12x” is no piece of the record." in text and "“999999” is no piece of the record." in text
    assert "No piece has the tag 0099." in text and "Fitting" in text
    assert 'name="add" value="0099"' in browser.get(f"{HERE}&add=0099").content.decode()
    many = {**form(part), "piece": [str(n) for n in range(1, 203)]}
    assert "202 pieces are more than the 200 of one shipment" in words(browser.post("/pack/", many))


def test_a_slip_in_a_tag_names_what_is_near_and_case_does_not_matter(shop: Shop) -> None:
    make_part(shop, "L-9", shop.shelf)
    browser = client(shop.mechanic)
    assert "There is L-9." in words(browser.get(f"{HERE}&asked=1&add=L-8"))
    assert "Fitting L-9" in words(browser.get(f"{HERE}&asked=1&add=l-9"))


def test_what_the_vendor_asks_stands_beside_the_price(shop: Shop) -> None:
    part, browser = piece(shop, "0001", "Fitting"), client(shop.lead)
    price = {
        **form(part), "do": "price", "least": "60", "per_kg": "14.50", "currency": "EUR",
    }  # fmt: skip
    assert browser.post("/pack/", price).status_code == 302
    text = words(browser.get(HERE))
    assert "Plater asks 60 EUR at least, 14.50 EUR a kilogram" in text
    assert "60.00 EUR: the least charge; by the tariff it would be 1.45." in text
