"""What is said later: the page's few questions, its answers, and each refusal."""

import uuid
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.records.shop import Shop, make_part, make_place, make_shop
from tests.records.test_pictures_in import WAV, come_in
from witnessmark.records.lookups.where import standings
from witnessmark.records.models import Aircraft, Person, Piece, Role

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def post(client: Client, **form: Any) -> Any:
    return client.post("/in/said/", {"act_id": str(uuid.uuid4()), **form})


def test_an_empty_record_and_one_without_aircraft() -> None:
    lead = Person.objects.create(name="Lead", role=Role.LEAD)
    client = signed_in(lead)
    assert "Take pictures" in client.get("/in/said/").content.decode()
    come_in(lead, ["1001"], sound=WAV)
    page = client.get("/in/said/").content.decode()
    assert "1 piece with a picture waits for a word." in page and "not known whose" in page and "<audio" in page
    assert (
        post(client, do="piece", key="1001", name="Bolts", count="12", shelf="A1", sat="left wing").status_code == 302
    )
    piece = Piece.objects.get()
    assert (piece.name, piece.count_off, piece.as_found) == ("Bolts", 12, "left wing")
    assert "1 place not known yet" in client.get("/in/said/").content.decode()


def test_shelf_zone_and_place_by_tap(shop: Shop) -> None:
    make_part(shop, "0118", shop.shelf)
    place = make_place(shop, "6-51-020", "L")
    come_in(shop.mechanic, ["1001"])
    client = signed_in(shop.mechanic)
    page = client.get("/in/said/").content.decode()
    assert 'value="C2"' in page and "hull bottom" in page and "6-51-020 left" in page
    post(client, do="piece", key="1001", shelf_tap="C2", zone=shop.zone.pk, place="6-51-020 left", name="Fitting")
    piece = Piece.objects.get(tag="1001")
    assert standings([piece])[piece.pk][0].holder == shop.shelf and piece.belongs.get().place == place


def test_place_not_known_is_counted_when_all_else_is_said(shop: Shop) -> None:
    come_in(shop.mechanic, ["1001"])
    client = signed_in(shop.mechanic)
    post(client, do="piece", key="1001", name="Bolts", count="3", shelf="A1")
    page = client.get("/in/said/").content.decode()
    assert "where it lies is said" in page and "1 place not known yet" in page
    assert "Of 1 piece the place is not known yet." in client.get("/in/said/?of=place").content.decode()
    assert "1 piece</a> that came in by picture the place is not known yet" in client.get("/aircraft/").content.decode()
    place = make_place(shop, "6-51-020")
    post(client, do="piece", key="1001", place="6-51-020")
    assert Piece.objects.get().belongs.get().place == place
    assert "not known yet" not in client.get("/aircraft/").content.decode()


@pytest.mark.parametrize(
    ("form", "status", "says"),
    [
        ({"do": "piece", "key": "1001"}, 422, "Nothing was said"),
        ({"do": "piece", "key": "1001", "count": "a dozen"}, 422, "is no whole number"),
        ({"do": "piece", "key": "1001", "place": "9-99 left"}, 422, "There is no place 9-99 left"),
        ({"do": "piece", "key": "nothing", "name": "x"}, 422, "is not in the record"),
        ({"do": "sort", "photo": "0" * 64, "tag": "1001"}, 422, "There is no such picture"),
        ({"do": "answer", "picture": "x", "aircraft": "both"}, 422, "There is no such picture"),
        ({"do": "dance"}, 422, "says nothing that can be done"),
        ({"do": "piece", "key": "1001", "name": "x", "act_id": "1"}, 422, "has no number of its own"),
    ],
)
def test_refusals(shop: Shop, form: dict[str, str], status: int, says: str) -> None:
    come_in(shop.mechanic, ["1001"])
    answer = post(signed_in(shop.mechanic), **form)
    assert answer.status_code == status and says in answer.content.decode()


def test_who_may_not(shop: Shop) -> None:
    come_in(shop.mechanic, ["1001"])
    assert post(signed_in(shop.owner), do="piece", key="1001", name="x").status_code == 403
    assert Client().get("/in/said/").status_code == 302
    page = signed_in(shop.owner).get("/in/said/").content.decode()
    assert "You may read this" in page and "Say so" not in page


def test_an_unsorted_picture_and_one_of_two_aircraft_are_answered_there(shop: Shop) -> None:
    client = signed_in(shop.mechanic)
    sha = come_in(shop.mechanic, [])["photo"]
    other = Aircraft.objects.create(name="Otherbird")
    make_part(shop, "1001", shop.shelf)
    Piece.objects.filter(pk=make_part(shop, "1002", shop.shelf).pk).update(aircraft=other)
    come_in(shop.mechanic, ["1001", "1002"])
    page = client.get("/in/said/").content.decode()
    assert "Tags of 2 aircraft" in page and "It is of Otherbird" in page and "2 pictures unsorted" in page
    post(client, do="sort", photo=sha, tag="1001")
    picture = page.split('name="picture" value="')[1].split('"')[0]
    post(client, do="answer", picture=picture, aircraft="both")
    assert Piece.objects.get(tag="1001").photo_uses.count() == 2
    assert "A question" not in client.get("/in/said/").content.decode()


def test_queries_do_not_grow(shop: Shop) -> None:
    client = signed_in(shop.mechanic)

    def asked() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert client.get("/in/said/").status_code == 200
        return len(seen)

    come_in(shop.mechanic, ["1001", "1002"])
    few = asked()
    come_in(shop.mechanic, [str(n) for n in range(1003, 1013)], sound=WAV)
    assert asked() <= few + 2  # the first spoken note asks for its picture's pieces, once
