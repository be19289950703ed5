"""One row drawn to scale, every mark with its word; what is said of its holes is said once."""

import uuid

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.records.shop import Shop, make_shop
from tests.support.pages import client, words
from tests.support.rows import make_row, make_size, told
from witnessmark.records.lookups.seams import seam_drawn
from witnessmark.records.models import Hole, HoleFilled, HoleReading, Row

pytestmark = pytest.mark.django_db
STATES = {
    "riveted": [*range(1, 17), *range(18, 43)],
    "oversize": [17],
    "open": [43],
    "temporary": [48, 52, 56],
    "empty": [n for n in range(44, 85) if n not in (48, 52, 56)],
}


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    make_row(shop, "C2", make_size(shop), states=STATES, edge_mm=8.0)
    return shop


def form(**said: str) -> dict[str, str]:
    return {"act_id": str(uuid.uuid4()), **said}


def test_the_row_is_drawn_with_a_mark_a_word_and_a_count_for_every_state(shop: Shop) -> None:
    page = client(shop.mechanic).get("/seam/C2/L/")
    text = page.content.decode()
    assert "41 holes to go. Leave 43 open." in text
    assert "Hole 44: " in text
    assert text.count("<figcaption>") == 6 + 1  # six lines of fourteen holes, and the section
    for count, word in (
        (41, "riveted"),
        (1, "riveted, oversize"),
        (1, "next"),
        (1, "open, waits"),
        (3, "temporary (cleco)"),
    ):
        assert f"<b>{count}</b> {word}" in text
    assert "43 open, waits; 44 next; 45 to 47, 49 to 51, 53 to 55 empty; 48, 52, 56 cleco" in text
    assert "L = G + 1.5 D" in text
    assert "Measured 2.67 D, guidance minimum 2 D" in words(page)
    assert text.count('class="now"') == 1


def test_a_hole_that_waits_is_checked_with_the_next_rivet_up(shop: Shop) -> None:
    make_size(shop, "VN12-4.0", 4.0)
    hole = Hole.objects.get(number=43)
    told(shop, lambda act: HoleReading.objects.create(hole=hole, what="edge", value_mm=7.2, typed="7.2", act=act))
    page = client(shop.mechanic).get("/seam/C2/L/")
    assert "With the next rivet up, VN12-4.0: measured 1.80 D, guidance minimum 2 D: ask engineering." in words(page)
    assert "short by 0.8 mm, 0.031 in" in page.content.decode()


def test_the_list_counts_every_row(shop: Shop) -> None:
    make_row(shop, "C3", None, looked_at="cannot reach")
    text = client(shop.owner).get("/seams/").content.decode()
    assert "42 holes to go" in text or "126 holes to go" in text
    assert "One row is not looked at." in text
    assert "Cannot be reached, not looked at: no claim." in text


def test_riveted_next_is_done_once_and_the_next_hole_comes_up(shop: Shop) -> None:
    browser, said = client(shop.mechanic), form(what="fill", holes="44", state="riveted")
    for _ in range(2):
        assert browser.post("/seam/C2/L/", said).status_code == 302
    assert HoleFilled.objects.filter(hole__number=44, state="riveted").count() == 1
    assert "Hole 45: " in browser.get("/seam/C2/L/").content.decode()


def test_a_row_is_looked_at(shop: Shop) -> None:
    make_row(shop, "C3", make_size(shop, "VN12-4.0", 4.0), looked_at="no")
    browser = client(shop.mechanic)
    assert "No claim is made of it." in browser.get("/seam/C3/L/").content.decode()
    browser.post("/seam/C3/L/", form(what="look", looked_at="yes"))
    assert Row.objects.get(place__mark="C3").looked_at == "yes"


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"what": "fill", "holes": "", "state": "riveted"}, "No hole was named"),
        ({"what": "fill", "holes": "44-40", "state": "riveted"}, "the row has holes 1 to 84"),
        ({"what": "fill", "holes": "85", "state": "riveted"}, "the row has holes 1 to 84"),
        ({"what": "fill", "holes": "a", "state": "riveted"}, "is no hole"),
        ({"what": "fill", "holes": "44", "state": "glued"}, "is nothing that stands in a hole"),
        ({"what": "fill", "holes": "44", "state": "open"}, "Say for what"),
        ({"what": "look", "looked_at": "perhaps"}, "says nothing about a row"),
        ({}, "does not say what happened"),
    ],
)
def test_a_bad_form_changes_nothing(shop: Shop, said: dict[str, str], why: str) -> None:
    before = HoleFilled.objects.count()
    page = client(shop.mechanic).post("/seam/C2/L/", form(**said))
    assert page.status_code == 422
    assert why in page.content.decode()
    assert HoleFilled.objects.count() == before


def test_the_owner_logged_out_and_an_unknown_row(shop: Shop) -> None:
    owner = client(shop.owner)
    assert "Riveted, next" not in owner.get("/seam/C2/L/").content.decode()
    assert owner.post("/seam/C2/L/", form(what="fill", holes="44", state="riveted")).status_code == 403
    assert owner.get("/seam/C9/L/").status_code == 404
    assert Client().get("/seam/C2/L/").status_code == 302
    assert Client().get("/seams/").status_code == 302


def test_what_stands_in_a_hole_was_a_named_fastener_and_history_stays(shop: Shop) -> None:
    client(shop.mechanic).post("/seam/C2/L/", form(what="fill", holes="44-46", state="temporary"))
    drawn = seam_drawn(shop.aircraft, "C2", "L")
    assert drawn is not None
    assert [hole.state for hole in drawn.holes[43:46]] == ["temporary"] * 3
    assert HoleFilled.objects.filter(hole__number=44).count() == 2


@pytest.mark.parametrize("address", ["/seams/", "/seam/C2/L/"])
def test_the_number_of_queries_does_not_grow(shop: Shop, address: str) -> None:
    browser, size = client(shop.lead), make_size(shop, "VN12-4.0", 4.0)

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            browser.get(address)
        return len(seen)

    few = queries()
    for n in range(1, 9):
        make_row(shop, f"D{n}", size, 5)
    assert queries() == few


def test_the_last_word_about_a_hole_can_be_taken_back_and_only_while_it_is_the_last(shop: Shop) -> None:
    web, page = client(shop.lead), "/seam/C2/L/"
    web.post(page, form(what="fill", holes="44", state="riveted"))
    row = Row.objects.get()
    filling = HoleFilled.objects.order_by("-id")[0].act
    assert "Take that back" in web.get(page).content.decode()
    back = form(what="take back", filling=str(filling.pk))
    assert web.post(page, back).status_code == 302
    assert web.post(page, back).status_code in (302, 422)
    newest = HoleFilled.objects.filter(hole__place_id=row.pk, hole__number=44).order_by("-id")
    assert [word.state for word in newest][:2] == ["empty", "riveted"]
    assert newest[0].act.undoes == filling
    assert web.post(page, form(what="take back", filling=str(filling.pk))).status_code == 422


def test_the_register_says_why_the_next_size_is_refused(shop: Shop) -> None:
    make_size(shop, "VN12-4.0", 4.0)
    hole = Hole.objects.get(number=43)
    told(shop, lambda act: HoleReading.objects.create(hole=hole, what="hole", value_mm=3.4, typed="3.4", act=act))
    told(shop, lambda act: HoleReading.objects.create(hole=hole, what="edge", value_mm=7.2, typed="7.2", act=act))
    page = client(shop.mechanic).get("/seam/C2/L/").content.decode()
    assert "edge 1.80 D is below 2 D" in page
    assert "no next size may go into worn hole 43" in page
