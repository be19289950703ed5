"""A part comes off on a phone, is laid down, and goes home again."""

import uuid

import pytest
from django.test import Client

from tests.records.shop import Shop, make_bag, make_part, make_place, make_shop
from witnessmark.records.actions.custody import holder
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.models import Act, Belongs, Holder, HolderKind, Holding, Person, Piece, Place

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def seat(shop: Shop) -> Place:
    return make_place(shop, "6-51-020", "L")


@pytest.fixture
def part(shop: Shop, seat: Place) -> Piece:
    return make_part(shop, "0118", seat.holder, "L", belongs=seat)


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def act(**said: str) -> dict[str, str]:
    return {"act_id": str(uuid.uuid4()), **said}


def at(piece: Piece) -> str:
    return Holding.objects.get(piece=piece, count__gt=0).holder.name


def test_off_and_back(shop: Shop, seat: Place, part: Piece) -> None:
    client = signed_in(shop.mechanic)
    page = client.post("/piece/0118/", act(do="take_off", shelf="C2"))
    assert (page.status_code, page["Location"]) == (302, "/piece/0118/")
    assert at(part) == "C2"
    text = client.get("/piece/0118/").content.decode()
    assert "is at C2" in text
    assert "Put it back" in text
    client.post("/piece/0118/", act(do="put_back", place=str(seat.pk)))
    assert at(part) == seat.holder.name
    assert "is in its place" in client.get("/piece/0118/").content.decode()
    assert check_ledger().balanced


def test_what_came_off_is_remembered_as_belonging_there(shop: Shop, seat: Place) -> None:
    part = make_part(shop, "0200", seat.holder, "L")
    signed_in(shop.mechanic).post("/piece/0200/", act(do="take_off", shelf="C2"))
    assert Belongs.objects.get(piece=part).place == seat


def test_a_form_sent_twice_is_done_once(shop: Shop, part: Piece) -> None:
    client, once = signed_in(shop.mechanic), act(do="take_off", shelf="C2")
    before = Act.objects.count()
    for _ in range(3):
        assert client.post("/piece/0118/", once).status_code == 302
    assert Act.objects.count() == before + 1


def test_a_form_changed_after_it_was_sent_is_refused(shop: Shop, part: Piece) -> None:
    client, once = signed_in(shop.mechanic), act(do="take_off", shelf="C2")
    client.post("/piece/0118/", once)
    page = client.post("/piece/0118/", {**once, "shelf": "D1"})
    assert page.status_code == 409
    assert at(part) == "C2"


def test_a_slip_is_taken_back(shop: Shop, seat: Place, part: Piece) -> None:
    client = signed_in(shop.mechanic)
    client.post("/piece/0118/", act(do="take_off", shelf="C2"))
    assert 'value="undo"' in client.get("/piece/0118/").content.decode()
    took_off = Act.objects.get(verb="take_off")
    client.post("/piece/0118/", act(do="undo", act=str(took_off.pk)))
    assert at(part) == seat.holder.name
    assert Act.objects.filter(verb="take_off").exists()


def test_what_moved_since_is_not_taken_back(shop: Shop, part: Piece) -> None:
    client = signed_in(shop.mechanic)
    client.post("/piece/0118/", act(do="take_off", shelf="C2"))
    took_off = Act.objects.get(verb="take_off")
    client.post("/piece/0118/", act(do="lay_down", shelf="D1"))
    page = client.post("/piece/0118/", act(do="undo", act=str(took_off.pk)))
    assert page.status_code == 422
    assert at(part) == "D1"


def test_a_box_that_is_known_stays_one_box(shop: Shop, part: Piece) -> None:
    box = holder(HolderKind.CONTAINER, "box 9")
    signed_in(shop.mechanic).post("/piece/0118/", act(do="take_off", shelf="box 9"))
    assert Holding.objects.get(piece=part, count__gt=0).holder == box
    assert Holder.objects.filter(name="box 9").count() == 1


def test_what_cannot_be_found_is_said(shop: Shop) -> None:
    make_part(shop, "0300", shop.shelf)
    client = signed_in(shop.mechanic)
    client.post("/piece/0300/", act(do="lay_down", lost="yes"))
    text = client.get("/piece/0300/").content.decode()
    assert "cannot be found" in text
    assert "Look for it" in text


def test_a_bag_goes_back_by_what_belongs_to_each_place(shop: Shop) -> None:
    left, right = make_place(shop, "6-41-005", "L", 4), make_place(shop, "6-41-005", "R", 4)
    bag = make_bag(shop, "L-015", shop.shelf, 8)
    for place in (left, right):
        Belongs.objects.create(piece=bag, place=place, count=4, act=Act.objects.latest("recorded_at"))
    client = signed_in(shop.mechanic)
    for place in (left, right):
        assert client.post("/piece/L-015/", act(do="put_back", place=str(place.pk))).status_code == 302
    here = {h.holder_id: h.count for h in Holding.objects.filter(piece=bag, count__gt=0)}
    assert here == {left.pk: 4, right.pk: 4}


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"do": "take_off"}, "Say where it is laid"),
        ({"do": "take_off", "shelf": "   "}, "Say where it is laid"),
        ({"do": "put_back", "place": "999999"}, "Say which place"),
        ({"do": "put_back", "place": "x"}, "Say which place"),
        ({"do": "paint"}, "nothing that can be done"),
        ({}, "nothing that can be done"),
    ],
)
def test_a_bad_form_changes_nothing_and_says_why(shop: Shop, part: Piece, said: dict[str, str], why: str) -> None:
    before = Act.objects.count()
    page = signed_in(shop.mechanic).post("/piece/0118/", act(**said))
    assert page.status_code == 422
    assert why in page.content.decode()
    assert Act.objects.count() == before


def test_a_form_without_its_number_is_refused(shop: Shop, part: Piece) -> None:
    page = signed_in(shop.mechanic).post("/piece/0118/", {"do": "take_off", "shelf": "C2"})
    assert page.status_code == 422
    assert "no number of its own" in page.content.decode()


@pytest.mark.parametrize("said", [{"do": "take_off"}, {"do": "lay_down"}])
def test_who_may_only_read_writes_nothing(shop: Shop, part: Piece, said: dict[str, str]) -> None:
    acts, holders = Act.objects.count(), Holder.objects.count()
    page = signed_in(shop.owner).post("/piece/0118/", act(shelf="a new shelf", **said))
    assert page.status_code == 403
    assert "may read this, not change it" in page.content.decode()
    assert (Act.objects.count(), Holder.objects.count()) == (acts, holders)


def test_who_may_only_read_sees_no_forms_for_it(shop: Shop, part: Piece) -> None:
    text = signed_in(shop.owner).get("/piece/0118/").content.decode()
    assert 'name="do"' not in text


def test_a_left_one_does_not_go_into_the_right_place(shop: Shop, part: Piece) -> None:
    right = make_place(shop, "6-51-020", "R")
    client = signed_in(shop.mechanic)
    client.post("/piece/0118/", act(do="take_off", shelf="C2"))
    page = client.post("/piece/0118/", act(do="put_back", place=str(right.pk)))
    assert page.status_code == 422
    assert "Look for the opposite one" in page.content.decode()
