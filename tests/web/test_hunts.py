"""The hunt on the phone: one picture, the stores first, who was asked, what came; every refusal."""

import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.records.shop import Shop, make_part, make_place, make_shop
from tests.records.test_photo_store import picture as a_picture
from tests.support.pages import client, words
from witnessmark.records.actions.saying import Refused
from witnessmark.records.models import Aircraft, Finding, Hunt, HuntAsked, Order, Piece, Place, Untraced
from witnessmark.web.hunts import _place

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(settings, tmp_path) -> Shop:  # type: ignore[no-untyped-def]
    settings.DATA = tmp_path
    return make_shop()


def photo() -> SimpleUploadedFile:
    return SimpleUploadedFile("g.jpg", a_picture(), "image/jpeg")


def places(shop: Shop) -> None:
    for mark, name, station in (("6-91-015", "Generator", "2420"), ("6-91-004", "Wiring run, generator", "2400-2700")):
        place = make_place(shop, mark)
        place.name, place.station = name, station
        place.save()


def wrong(**more: object) -> dict[str, object]:
    return {
        "act_id": str(uuid.uuid4()), "picture": photo(), "place": "6-91-015", "wrong": "12 V generator",
        "wanted": "Generator, 24 V", "shelf": "shelf D1", "tag": "0400", "cut": "6-91-004", "waits": "its load in A", **more,
    }  # fmt: skip


def test_one_picture_makes_all_of_it(shop: Shop) -> None:
    places(shop)
    browser = client(shop.mechanic)
    assert "Photograph what is of the wrong type" in words(browser.get("/hunt/wrong-for-the-type/?place=6-91-015"))
    page = browser.post("/hunt/wrong-for-the-type/", wrong())
    assert page["Location"] == "/hunt/H-1/"
    text = words(browser.get("/hunt/H-1/"))
    for said in (
        "Look for Generator, 24 V in the stores", "the place is empty", "Wiring run, generator", "its load in A",
        "mass unknown", "2,420 mm", "Finding F-1",
    ):  # fmt: skip
        assert said in text
    assert "Look for Generator, 24 V in the stores" in words(browser.get("/hunt/"))
    assert "untraced" in words(browser.get("/certificates/")).lower()
    generator, cable = (Place.objects.get(mark=mark).pk for mark in ("6-91-015", "6-91-004"))
    assert "Generator, 24 V is hunted for here." in words(browser.get(f"/place/{generator}/"))
    assert "Generator, 24 V: its load in A." in words(browser.get(f"/place/{cable}/"))
    assert "nothing shows where it comes from" in words(browser.get("/piece/0400/"))


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"place": "6-00-000"}, "no place has the mark"),
        ({"place": ""}, "in which place"),
        ({"picture": ""}, "No picture came"),
        ({"shelf": " "}, "where it is laid"),
        ({"cut": "nowhere"}, "no place has the mark"),
        ({"wanted": ""}, "what belongs there"),
        ({"until": "soon"}, "is no day"),
        ({"act_id": "x"}, "no number of its own"),
    ],
)
def test_a_wrong_type_badly_said_changes_nothing(shop: Shop, more: dict[str, str], why: str) -> None:
    places(shop)
    page = client(shop.mechanic).post("/hunt/wrong-for-the-type/", wrong(**more))
    assert page.status_code == 422
    assert why in words(page)
    assert not Hunt.objects.exists()
    assert not Finding.objects.exists()


def test_a_mark_on_both_sides_asks_which(shop: Shop) -> None:
    make_place(shop, "6-51-020", "L")
    make_place(shop, "6-51-020", "R")
    browser = client(shop.lead)
    said = {"act_id": str(uuid.uuid4()), "what": "Fitting", "why": "missing", "place": "6-51-020"}
    assert "on both sides" in words(browser.post("/hunt/", said))
    assert browser.post("/hunt/", {**said, "place": "6-51-020 L"}).status_code == 302


def test_from_asking_to_buying_to_taking_it_in(shop: Shop) -> None:
    browser = client(shop.lead)
    browser.post("/hunt/", {"act_id": str(uuid.uuid4()), "what": "Compass bracket", "why": "missing"})
    address = "/hunt/H-1/"

    def post(do: str, **said: object) -> int:
        return int(browser.post(address, {"act_id": str(uuid.uuid4()), "do": do, **said}).status_code)

    assert post("ask", whom="Old Dockyard", answer="Has one", price="180", currency="EUR", again="2099-01-01") == 302
    offer = str(HuntAsked.objects.get().pk)
    assert "Buying waits for the search" in words(browser.get(address))
    assert post("agree", offer=offer) == 422
    assert post("stores", answer="Shelves A to F, tray 2: not there") == 302
    assert "Buy it from Old Dockyard" in words(browser.get(address))
    assert "Ask again: Old Dockyard" not in words(browser.get("/"))
    Aircraft.objects.update(today="2099-01-02")
    assert "Ask again: Old Dockyard, about Compass bracket" in words(browser.get("/"))
    assert "Ask again" not in words(client(shop.mechanic).get("/"))
    assert post("agree", offer=offer, promised="2020-01-01") == 422
    assert post("agree", offer=offer, promised="2099-02-01") == 302
    assert "Ask again" not in words(browser.get("/"))
    assert "Take it in at hunt H-1" in words(browser.get("/orders/"))
    assert post("arrives", tag="0401", shelf="shelf C2", mass="90 g", picture=photo()) == 302
    piece = Piece.objects.get(tag="0401")
    assert (piece.name, piece.mass_g) == ("Compass bracket", 90)
    assert Untraced.objects.filter(piece=piece).exists()
    assert "is found" in words(browser.get(address))
    assert Order.objects.get().came_on is not None
    assert "Take it in at hunt" not in words(browser.get("/orders/"))


@pytest.mark.parametrize(
    "said",
    [{"do": "ask", "whom": ""}, {"do": "ask", "whom": "X", "price": "much", "currency": "EUR"}, {"do": "agree", "offer": "9"},
     {"do": "stores", "found": "999999"}, {"do": "stores"}, {"do": "arrives", "shelf": "x", "mass": "heavy"},
     {"do": "arrives", "shelf": "x", "count": "-1"}, {"do": "give_up", "why": " "}, {"do": "steal"}],
)  # fmt: skip
def test_a_bad_form_changes_nothing(shop: Shop, said: dict[str, str]) -> None:
    browser = client(shop.lead)
    browser.post("/hunt/", {"act_id": str(uuid.uuid4()), "what": "Bracket", "why": "missing"})
    page = browser.post("/hunt/H-1/", {"act_id": str(uuid.uuid4()), **said})
    assert page.status_code == 422
    assert Hunt.objects.get().state == "open"
    assert not Piece.objects.exists()


def test_what_lies_at_home_is_shown_and_chosen(shop: Shop) -> None:
    part = make_part(shop, "0009", shop.shelf)
    Piece.objects.filter(pk=part.pk).update(name="Compass bracket", words="0009 compass bracket")
    browser = client(shop.mechanic)
    browser.post("/hunt/", {"act_id": str(uuid.uuid4()), "what": "Compass bracket", "why": "missing"})
    assert "its name says compass, bracket" in words(browser.get("/hunt/H-1/"))
    browser.post("/hunt/H-1/", {"act_id": str(uuid.uuid4()), "do": "stores", "found": str(part.pk)})
    assert Hunt.objects.get().found_piece == part


def test_owner_reads_a_stranger_signs_in_and_no_hunt_is_404(shop: Shop) -> None:
    client(shop.lead).post("/hunt/", {"act_id": str(uuid.uuid4()), "what": "Bracket", "why": "missing"})
    owner = client(shop.owner)
    for address in ("/hunt/", "/hunt/H-1/", "/hunt/wrong-for-the-type/"):
        assert owner.get(address).status_code == 200
        assert Client().get(address).status_code == 302
    assert owner.post("/hunt/", {"act_id": str(uuid.uuid4()), "what": "X", "why": "missing"}).status_code == 403
    assert owner.post("/hunt/H-1/", {"act_id": str(uuid.uuid4()), "do": "arrives", "shelf": "x"}).status_code == 403
    assert owner.get("/hunt/H-9/").status_code == 404


def test_the_number_of_queries_does_not_grow(shop: Shop) -> None:
    browser = client(shop.lead)

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            browser.get("/hunt/")
        return len(seen)

    def more(n: int) -> None:
        browser.post("/hunt/", {"act_id": str(uuid.uuid4()), "what": f"Thing {n}", "why": "missing"})

    more(0)
    few = queries()
    for n in range(1, 6):
        more(n)
    assert queries() == few


@pytest.mark.parametrize("typed", ["6-91-015 centre", "6-91-015 Centre", "6-91-015 C", "6-91-015"])
def test_a_mark_is_taken_as_the_search_prints_it(shop: Shop, typed: str) -> None:
    place = make_place(shop, "6-91-015", "C")
    assert str(place) == "6-91-015 centre"
    assert _place(typed, "Its place") == place
    with pytest.raises(Refused, match="no place has the mark"):
        _place("6-91-015 left", "Its place")
