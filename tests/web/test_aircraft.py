"""The aircraft, its zones and places: what is off, missing and left over."""

import uuid

import pytest
from django.test import Client

from tests.records.shop import Shop, make_part, make_place, make_shop, take_in
from tests.support.rows import make_row, make_size
from witnessmark.records.models import Holding, Person, Piece, PieceKind, Place

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    """One place filled, one whose part is off, one with nothing to go in, and a part that belongs nowhere."""
    shop = make_shop()
    filled, empty = make_place(shop, "6-11-001"), make_place(shop, "6-11-002")
    make_place(shop, "6-11-003")
    for tag, at, belongs in (("0001", filled.holder, filled), ("0002", shop.shelf, empty), ("0003", shop.box, None)):
        make_part(shop, tag, at, belongs=belongs).zones.add(shop.zone)
    return shop


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def read(shop: Shop, address: str) -> str:
    page = signed_in(shop.owner).get(address)
    assert page.status_code == 200
    return page.content.decode()


def test_it_says_first_how_the_aircraft_stands(shop: Shop) -> None:
    text = read(shop, "/aircraft/")
    assert "1 place stands empty, its piece off; 1 has nothing to go in." in text
    assert '<td role="cell" class="n" data-l="Left over">1</td>' in text
    assert 'href="/zone/100/"' in text


def test_a_zone_tells_where_everything_is(shop: Shop) -> None:
    text = read(shop, "/zone/100/")
    assert "1 off, 1 missing, 1 filled" in text
    off, left = text.index("0002"), text.index("0003")
    assert "C2" in text[off : off + 400]
    assert "box 7" in text[left : left + 400]
    assert "6-11-003" in text


def test_a_zone_counts_all_its_pages(shop: Shop) -> None:
    for n in range(130):
        make_place(shop, f"7-{n:03}")
    for page in (1, 2):
        assert "1 off, 131 missing, 1 filled" in read(shop, f"/zone/100/?page={page}")


def test_a_place_takes_its_piece_back(shop: Shop) -> None:
    place = Place.objects.get(mark="6-11-002")
    assert "0002" in read(shop, f"/place/{place.pk}/")
    page = signed_in(shop.mechanic).post(f"/place/{place.pk}/", {"act_id": str(uuid.uuid4()), "piece": "0002"})
    assert page.status_code == 302
    assert Holding.objects.get(piece__tag="0002", count__gt=0).holder == place.holder


@pytest.mark.parametrize(
    ("tag", "why"),
    [("9999", "No piece has that tag"), ("", "No piece has that tag"), ("0001", "belongs somewhere else")],
)
def test_a_place_refuses_what_does_not_belong(shop: Shop, tag: str, why: str) -> None:
    place = Place.objects.get(mark="6-11-002")
    page = signed_in(shop.mechanic).post(f"/place/{place.pk}/", {"act_id": str(uuid.uuid4()), "piece": tag})
    assert page.status_code == 422
    assert why in page.content.decode()


def test_who_may_only_read_puts_nothing_in(shop: Shop) -> None:
    place = Place.objects.get(mark="6-11-002")
    page = signed_in(shop.owner).post(f"/place/{place.pk}/", {"act_id": str(uuid.uuid4()), "piece": "0002"})
    assert page.status_code == 403


def test_a_row_of_rivets_opens_as_a_seam(shop: Shop) -> None:
    row = make_row(shop, "HB-12", make_size(shop), 10)
    page = signed_in(shop.owner).get(f"/place/{row.pk}/")
    assert page["Location"] == "/seam/HB-12/L/"


def test_a_missing_part_of_many_says_how_many_are_in(shop: Shop) -> None:
    place = make_place(shop, "6-11-009", capacity=4)
    bag = Piece.objects.create(tag="L-1", aircraft=shop.aircraft, kind=PieceKind.BAG, name="Bolts", count_off=3)
    take_in(shop, bag, place.holder, 3, belongs=place)
    assert "3 of 4 in" in read(shop, f"/place/{place.pk}/")


@pytest.mark.parametrize("address", ["/zone/999/", "/place/999999/", "/zone/100/?page=999999999999"])
def test_what_is_not_there(shop: Shop, address: str) -> None:
    assert signed_in(shop.owner).get(address).status_code in (200, 404)


def test_an_empty_record_says_what_to_do_first() -> None:
    client = signed_in(Person.objects.create(name="Lead", role="lead"))
    assert "witnessmark load DIR" in client.get("/aircraft/").content.decode()
