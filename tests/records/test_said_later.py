"""What is said later of a piece begun by its picture; blank numbers. The ledger's own check is the judge."""

import uuid
from typing import Any

import pytest

from tests.records.shop import Shop, make_part, make_place, make_shop
from tests.records.test_pictures_in import come_in
from witnessmark.calc.tags.code import check_letter
from witnessmark.records.actions.blank_tags import print_tags
from witnessmark.records.actions.custody import lay_down
from witnessmark.records.actions.said_later import answer_picture, say_of_piece, sort_picture
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.lookups.pictures import not_said, waits
from witnessmark.records.lookups.where import standings
from witnessmark.records.models import Aircraft, Belongs, Photo, PictureIn, Piece, PieceKind, Tagging, TagPrinted

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    come_in(shop.mechanic, ["1001"])
    return shop


def begun(tag: str = "1001") -> Piece:
    return Piece.objects.get(tag=tag)


def told(shop: Shop, **what: Any) -> None:
    say_of_piece(by=shop.mechanic, act_id=uuid.uuid4(), piece=begun(), **what)


def test_a_bag_of_twelve_is_counted_named_and_laid_down(shop: Shop) -> None:
    told(shop, name="Bolts of the left aileron hinge", count=12)
    assert waits().not_said == 1  # where it lies is not said yet
    told(shop, lies_at=shop.shelf)
    piece = begun()
    assert (piece.kind, piece.count_off) == (PieceKind.BAG, 12)
    assert [(at.count, at.holder) for at in standings([piece])[piece.pk]] == [(12, shop.shelf)]
    assert not not_said().exists() and "aileron" in piece.words and check_ledger().balanced


def test_one_is_one(shop: Shop) -> None:
    told(shop, name="Tab", count=1, lies_at=shop.box)
    assert begun().kind == PieceKind.PART and waits().not_said == 0 and check_ledger().balanced


def test_it_is_counted_once(shop: Shop) -> None:
    told(shop, count=3)
    with pytest.raises(Refused, match="counted already"):
        told(shop, count=4)
    assert check_ledger().balanced


def test_its_place_by_tap_and_it_is_still_in_there(shop: Shop) -> None:
    place = make_place(shop, "6-51-020", "L")
    told(shop, goes_to=place, still_there=True)
    piece = begun()
    assert piece.side == "L" and standings([piece])[piece.pk][0].holder == place.holder
    assert Belongs.objects.get().place == place and list(piece.zones.all()) == [shop.zone]


def test_a_full_place_takes_no_second(shop: Shop) -> None:
    place = make_place(shop, "6-51-020", "L")
    make_part(shop, "0118", place.holder, "L", belongs=place)
    with pytest.raises(Refused, match="This place is full"):
        told(shop, goes_to=place, still_there=True)
    assert not Belongs.objects.filter(piece=begun()).exists() and check_ledger().balanced


def test_words_for_where_it_sat_need_no_zones_and_no_aircraft(shop: Shop) -> None:
    told(shop, sat="left wing, third rib from the root, nut behind")
    assert begun().as_found.startswith("left wing")
    assert begun().aircraft == shop.aircraft  # the shop has one aircraft and no more


def test_a_piece_changes_no_aircraft_by_a_slip(shop: Shop) -> None:
    other = Aircraft.objects.create(name="Otherbird")
    with pytest.raises(Refused, match="is of Testbird"):
        told(shop, aircraft=other)


@pytest.mark.parametrize("what", [{}, {"count": 0}, {"count": 1_000_000}, {"still_there": True, "name": "x"}])
def test_what_cannot_be_said_is_refused(shop: Shop, what: dict[str, Any]) -> None:
    with pytest.raises(Refused):
        told(shop, **what)


def test_the_owner_says_nothing(shop: Shop) -> None:
    with pytest.raises(NotAllowed):
        say_of_piece(by=shop.owner, act_id=uuid.uuid4(), piece=begun(), name="x")


def test_from_not_said_it_is_laid_down_on_its_own_page_too(shop: Shop) -> None:
    lay_down(by=shop.mechanic, act_id=uuid.uuid4(), piece=begun(), to=shop.shelf)
    assert standings([begun()])[begun().pk][0].holder == shop.shelf and check_ledger().balanced


def test_an_unsorted_picture_is_given_or_set_aside(shop: Shop) -> None:
    sha = come_in(shop.mechanic, [])["photo"]
    photo = Photo.objects.get(pk=sha)
    with pytest.raises(Refused, match="No piece has the tag 9999"):
        sort_picture(by=shop.mechanic, act_id=uuid.uuid4(), photo=photo, tag="9999")
    assert waits().unsorted == 1
    sort_picture(by=shop.mechanic, act_id=uuid.uuid4(), photo=photo, aside=True)
    assert waits().unsorted == 0
    sort_picture(by=shop.mechanic, act_id=uuid.uuid4(), photo=photo, tag="1001")
    assert begun().photo_uses.filter(photo=photo).exists()


def test_a_stamped_tag_is_typed_with_its_letter(shop: Shop) -> None:
    given = print_tags(by=shop.lead, act_id=uuid.uuid4(), count=1, medium="stamping", start=1500)
    number, letter = given["first"], check_letter(given["first"])
    photo = Photo.objects.get(pk=come_in(shop.mechanic, [])["photo"])
    wrong = "A" if letter != "A" else "B"
    with pytest.raises(Refused, match=f"{wrong} does not go with 1500"):
        sort_picture(by=shop.mechanic, act_id=uuid.uuid4(), photo=photo, tag=f"{number} {wrong}")
    assert not Piece.objects.filter(tag=number).exists()
    sort_picture(by=shop.mechanic, act_id=uuid.uuid4(), photo=photo, tag=f"{number} {letter.lower()}")
    assert begun(number).photo_uses.filter(photo=photo).exists() and waits().not_said >= 1
    assert check_ledger().balanced


@pytest.mark.parametrize(("which", "tags"), [("Testbird", {"1001", "1003"}), (None, {"1001", "1002", "1003"})])
def test_a_picture_of_two_aircraft_is_answered(shop: Shop, which: str | None, tags: set[str]) -> None:
    other = Aircraft.objects.create(name="Otherbird")
    Piece.objects.filter(pk=make_part(shop, "1002", shop.shelf).pk).update(aircraft=other)
    come_in(shop.mechanic, ["1001", "1002", "1003"])
    picture = PictureIn.objects.exclude(asks="").get()
    aircraft = Aircraft.objects.filter(name=which).first() if which else None
    answer_picture(by=shop.mechanic, act_id=uuid.uuid4(), picture=picture, aircraft=aircraft)
    assert set(Piece.objects.filter(photo_uses__photo=picture.photo).values_list("tag", flat=True)) == tags
    assert waits().asks == 0 and begun("1003").aircraft == aircraft
    with pytest.raises(Refused, match="answered already"):
        answer_picture(by=shop.mechanic, act_id=uuid.uuid4(), picture=picture, aircraft=None)


def test_numbers_are_given_out_once_and_pass_over_those_in_use(shop: Shop) -> None:
    piece = make_part(shop, "1004", shop.shelf)
    first = print_tags(by=shop.lead, act_id=uuid.uuid4(), count=4)
    assert first["tags"] == ["1002", "1003", "1005", "1006"] and first["batch"] == 1
    Piece.objects.filter(pk=piece.pk).update(tag=None)
    again = print_tags(by=shop.lead, act_id=uuid.uuid4(), count=2, medium="stamping")
    assert again["tags"] == ["1007", "1008"] and again["batch"] == 2
    assert TagPrinted.objects.count() == 6


def test_a_tag_that_is_off_for_a_bath_is_not_given_out(shop: Shop) -> None:
    piece = begun()
    assert Tagging.objects.get().tag == "1001"
    Piece.objects.filter(pk=piece.pk).update(tag=None)
    assert print_tags(by=shop.lead, act_id=uuid.uuid4(), count=1, start=1001)["tags"] == ["1002"]
    assert come_in(shop.mechanic, ["1001"], name="b.png")["tags"][0]["piece"] == piece.pk


def test_printed_twice_by_one_act_is_one_batch(shop: Shop) -> None:
    act = uuid.uuid4()
    assert print_tags(by=shop.lead, act_id=act, count=3) == print_tags(by=shop.lead, act_id=act, count=3)
    assert TagPrinted.objects.count() == 3


@pytest.mark.parametrize(
    "what", [{"count": 0}, {"count": 5000}, {"count": 1, "medium": "gold"}, {"count": 2, "start": 99_999}]
)
def test_batches_that_cannot_be(shop: Shop, what: dict[str, Any]) -> None:
    with pytest.raises(Refused, match="Nothing was given out"):
        print_tags(by=shop.lead, act_id=uuid.uuid4(), **what)
