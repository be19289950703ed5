"""Find a tag, a place, a word."""

import pytest
from django.test import Client

from tests.records.shop import Shop, make_part, make_place, make_shop
from tests.support.rows import make_finding
from witnessmark.records.models import Piece
from witnessmark.records.words import search_words

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    make_place(shop, "6-51-020", "L")
    part = make_part(shop, "0118", shop.shelf, "L")
    Piece.objects.filter(pk=part.pk).update(
        name="Flügelwurzel fitting", words=search_words("0118 Flügelwurzel fitting left 6-51-020")
    )
    make_finding(shop, "F-52", piece=part, words=search_words("F-52 crack at the flügel lug"))
    return shop


def read(shop: Shop, words: str, **more: str) -> str:
    client = Client()
    client.force_login(shop.owner)
    page = client.get("/find/", {"q": words, **more})
    assert page.status_code == 200
    return page.content.decode()


def test_a_whole_tag_opens_its_piece(shop: Shop) -> None:
    client = Client()
    client.force_login(shop.owner)
    page = client.get("/find/", {"q": " 0118 "})
    assert (page.status_code, page["Location"]) == (302, "/piece/0118/")


@pytest.mark.parametrize("words", ["flugelwurzel", "FLÜGEL fitting", "fitting flügel", "6-51-020 left", "011"])
def test_case_and_accents_and_order_do_not_matter(shop: Shop, words: str) -> None:
    assert "Flügelwurzel fitting" in read(shop, words)


def test_every_word_must_be_there(shop: Shop) -> None:
    text = read(shop, "flugel keel")
    assert "Flügelwurzel" not in text
    assert "Nothing holds" in text


def test_places_and_findings_are_found_too(shop: Shop) -> None:
    assert "/place/" in read(shop, "6-51-0")
    assert "F-52" in read(shop, "crack")


@pytest.mark.parametrize("words", ["", "   ", "%", "_", "'; --", "x" * 5000, "<script>"])
def test_odd_words_do_no_harm(shop: Shop, words: str) -> None:
    text = read(shop, words)
    assert "<h1>" in text
    assert "<script>" not in text
    assert "Flügelwurzel" not in text


def test_a_slip_of_the_finger_names_what_is_near(shop: Shop) -> None:
    assert "0118" in read(shop, "0119")
