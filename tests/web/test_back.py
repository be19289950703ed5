"""Putting back: a tag in, where it sat out; by number, by picture, and each refusal."""

import uuid
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from tests.records.shop import Shop, make_part, make_place, make_shop
from tests.records.test_pictures_in import come_in
from tests.records.test_racks import picture
from tests.support.rows import make_row, make_size
from witnessmark.records.actions.custody import take_off
from witnessmark.records.actions.photographs import photograph
from witnessmark.records.actions.said_later import say_of_piece
from witnessmark.records.lookups.back import back_seen
from witnessmark.records.models import Act, Belongs, Person, Photo, Piece

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def send(client: Client, data: bytes, name: str = "tag.png") -> Any:
    return client.post("/in/back/", {"picture": SimpleUploadedFile(name, data)})


def test_the_tags_picture_opens_where_it_sat_and_records_nothing(shop: Shop) -> None:
    frame, place = make_place(shop, "F3"), make_place(shop, "6-51-020", "L")
    place.parent_place = frame
    place.save()
    neighbour = make_place(shop, "6-51-021", "L")
    neighbour.parent_place = frame
    neighbour.save()
    part = make_part(shop, "0118", place.holder, "L", belongs=place)
    photograph(
        by=shop.mechanic,
        act_id=uuid.uuid4(),
        data=picture(["x"]),
        name="seat.png",
        place=place,
        what="flange inboard, nut up",
    )
    take_off(by=shop.mechanic, act_id=uuid.uuid4(), piece=part, to=shop.shelf)
    client, acts = signed_in(shop.mechanic), Act.objects.count()
    answer = send(client, picture(["0118"]))
    assert answer.status_code == 302 and answer.url == "/in/back/?tag=0118"
    page = client.get(answer.url).content.decode()
    assert "sat at 6-51-020, hull bottom, left." in page and "Flange inboard, nut up." in page
    assert "sits on the same F3" in page and "It is back in 6-51-020 left" in page
    assert Act.objects.count() == acts and Photo.objects.count() == 1
    put = page.split('name="act_id" value="')[1].split('"')[0]
    client.post("/piece/0118/", {"act_id": put, "do": "put_back", "place": str(place.pk)})
    assert "is in there" in client.get(answer.url).content.decode()


def test_of_a_piece_known_by_its_picture_alone_the_picture_and_the_words_come_out(shop: Shop) -> None:
    come_in(shop.mechanic, ["1001", "1002"])
    seen = back_seen(Piece.objects.get(tag="1001"))
    assert seen.in_place == 1 and "its place is not known yet" in seen.sentence
    assert [each.why for each in seen.beside] == ["is in the same picture"]
    say_of_piece(by=shop.mechanic, act_id=uuid.uuid4(), piece=seen.piece, sat="third rib from the root, nut behind")
    seen = back_seen(Piece.objects.get(tag="1001"))
    assert seen.sentence == "Piece 1001: third rib from the root, nut behind." and "nut behind" in seen.way_up


def test_a_picture_taken_on_the_bench_is_not_called_in_place(shop: Shop) -> None:
    place = make_place(shop, "6-51-020", "L")
    part = make_part(shop, "0118", place.holder, "L", belongs=place)
    take_off(by=shop.mechanic, act_id=uuid.uuid4(), piece=part, to=shop.shelf)
    photograph(by=shop.mechanic, act_id=uuid.uuid4(), data=picture(["x"]), name="bench.png", piece=part)
    seen = back_seen(part)
    assert seen.in_place == 0 and len(seen.pictures) == 1
    assert "No picture shows it in its place" in seen.way_up


def test_a_bag_of_rivets_says_its_row(shop: Shop) -> None:
    row = make_row(shop, "12", make_size(shop), holes=10)
    bag = make_part(shop, "1003", shop.shelf)
    act = Act.objects.order_by("recorded_at").first()
    assert act is not None
    Belongs.objects.create(piece=bag, place=row.place, count=10, evidence="notebook", act=act)
    page = signed_in(shop.mechanic).get("/in/back/?tag=1003").content.decode()
    assert "10 holes" in page and "through sheet 1 1.0, sheet 2 2.5" in page and "Known by: notebook." in page


def test_two_tags_in_the_picture_are_asked(shop: Shop) -> None:
    come_in(shop.mechanic, ["1001", "1002"])
    client = signed_in(shop.mechanic)
    page = client.get(send(client, picture(["1001", "1002"])).url).content.decode()
    assert "2 tags in the picture. Which one?" in page and "?tag=1002" in page


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (picture(["x"], ("x",)), "No tag can be read"),
        (b"%PDF-1.7", "is no picture that can be read"),
        (b"", "is empty"),
    ],
)
def test_what_cannot_be_read(shop: Shop, data: bytes, says: str) -> None:
    answer = send(signed_in(shop.mechanic), data)
    assert answer.status_code == 422 and says in answer.content.decode() and not Photo.objects.exists()


def test_no_such_tag_no_picture_signed_out(shop: Shop) -> None:
    make_part(shop, "0118", shop.shelf)
    client = signed_in(shop.mechanic)
    missed = client.get("/in/back/?tag=0181")
    assert missed.status_code == 404 and "No piece has the tag 0181." in missed.content.decode()
    assert client.post("/in/back/").status_code == 422
    assert Client().get("/in/back/").status_code == 302
    assert "where it sat comes out" in client.get("/in/back/").content.decode()
