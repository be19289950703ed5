"""The picture is the entry: read, filed, begun, kept unsorted, asked; once. Rules of the ledger from records/guards.py."""

import uuid
from datetime import UTC, datetime, timedelta

import pytest
from django.utils import timezone

from tests.records.shop import make_part, make_shop
from tests.records.test_racks import picture
from witnessmark.records.actions.pictures import believed, picture_comes_in
from witnessmark.records.actions.saying import NotAllowed, Result, SaidOtherwise
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.lookups.where import standings
from witnessmark.records.models import (
    Act,
    Aircraft,
    HolderKind,
    NotCounted,
    Person,
    Photo,
    PhotoUse,
    PictureIn,
    Piece,
    Role,
    SoundNote,
)
from witnessmark.records.photo_store import NotAPicture, original_path

pytestmark = pytest.mark.django_db
WAV = b"RIFF\x24\x00\x00\x00WAVEfmt \x10\x00\x00\x00" + bytes(40)


def come_in(by: Person, tags: list[str], **more: object) -> Result:
    told = {"act_id": uuid.uuid4(), "data": picture(tags) if tags else picture(["x"], ("x",)), "name": "IMG_1.png"}
    return picture_comes_in(by=by, **{**told, **more})  # type: ignore[arg-type]


def test_an_empty_record_takes_a_rack_of_thirty_in_one_act() -> None:
    lead = Person.objects.create(name="Lead", role=Role.LEAD)
    tags = [str(1001 + n) for n in range(30)]
    told = come_in(lead, tags)
    assert {each["tag"] for each in told["tags"]} == set(tags) and all(each["new"] for each in told["tags"])
    assert Act.objects.count() == 1 and Photo.objects.count() == 1
    pieces = list(Piece.objects.all())
    assert all(p.aircraft is None and p.name == "" for p in pieces)
    assert all([at.holder.kind for at in where] == [HolderKind.NOT_SAID] for where in standings(pieces).values())
    assert NotCounted.objects.filter(counted_act=None).count() == 30
    assert check_ledger().balanced


def test_a_known_piece_gets_the_picture_and_nothing_moves() -> None:
    shop = make_shop()
    part = make_part(shop, "1004", shop.shelf)
    told = come_in(shop.mechanic, ["1004"])
    assert told["tags"] == [{"tag": "1004", "piece": part.pk, "name": part.name, "new": False, "pictures": 1}]
    assert standings([part])[part.pk][0].holder == shop.shelf
    assert PhotoUse.objects.get().act.verb == "take_picture"


def test_sent_twice_is_done_once_and_other_content_is_refused() -> None:
    shop = make_shop()
    act = uuid.uuid4()
    first = come_in(shop.mechanic, ["1001"], act_id=act, sent_at=timezone.now(), taken_at=timezone.now())
    taken = Act.objects.get().said["taken_at"]
    again = come_in(
        shop.mechanic, ["1001"], act_id=act, sent_at=timezone.now() + timedelta(hours=1),
        taken_at=datetime.fromisoformat(taken),
    )  # fmt: skip
    assert again == first and PictureIn.objects.count() == 1 and PhotoUse.objects.count() == 1
    with pytest.raises(SaidOtherwise):
        come_in(shop.mechanic, ["1002"], act_id=act)


def test_the_same_picture_by_another_act_is_filed_once() -> None:
    shop = make_shop()
    come_in(shop.mechanic, ["1001"])
    told = come_in(shop.lead, ["1001"])
    assert told["tags"][0]["pictures"] == 1 and PhotoUse.objects.count() == 1 and PictureIn.objects.count() == 2


def test_without_a_tag_it_is_kept_unsorted() -> None:
    shop = make_shop()
    told = come_in(shop.mechanic, [])
    assert told["unsorted"] and told["tags"] == [] and "No tag can be read" in told["line"]
    assert original_path(told["photo"]).exists() and not Photo.objects.get().uses.exists()


def test_tags_of_two_aircraft_are_kept_named_and_asked() -> None:
    shop = make_shop()
    other = Aircraft.objects.create(name="Otherbird")
    make_part(shop, "1001", shop.shelf)
    Piece.objects.filter(pk=make_part(shop, "1002", shop.shelf).pk).update(aircraft=other)
    told = come_in(shop.mechanic, ["1001", "1002", "1003"])
    assert told["unsorted"] and "1001 of Testbird" in told["asks"] and "1002 of Otherbird" in told["asks"]
    assert not Piece.objects.filter(tag="1003").exists()
    assert sorted(PictureIn.objects.get().tags_read) == ["1001", "1002", "1003"]


def test_a_new_tag_beside_a_known_piece_is_of_its_aircraft_and_alone_of_nobody_knows_which() -> None:
    shop = make_shop()
    Aircraft.objects.create(name="Otherbird")
    make_part(shop, "1001", shop.shelf)
    come_in(shop.mechanic, ["1001", "1002"])
    come_in(shop.mechanic, ["1003"])
    assert Piece.objects.get(tag="1002").aircraft == shop.aircraft
    assert Piece.objects.get(tag="1003").aircraft is None


def test_a_spoken_note_is_kept_with_it_and_a_bad_one_does_not_lose_the_picture() -> None:
    shop = make_shop()
    assert come_in(shop.mechanic, ["1001"], sound=WAV)["sound"]
    assert SoundNote.objects.get().type == "audio/wav"
    told = come_in(shop.mechanic, ["1002"], sound=b"%PDF-1.7 no sound")
    assert told["sound"] is None and "is no sound" in told["line"] and PhotoUse.objects.count() == 2


def test_who_may_not_and_what_is_no_picture_leave_nothing() -> None:
    shop = make_shop()
    with pytest.raises(NotAllowed):
        come_in(shop.owner, ["1001"])
    with pytest.raises(NotAPicture, match="no picture"):
        come_in(shop.mechanic, [], data=b"%PDF-1.7\n%more", name="bag.jpg")
    assert not Photo.objects.exists() and not Act.objects.exists()


CAME = datetime(2026, 5, 12, 9, 0, tzinfo=UTC)


def test_a_clock_a_year_off_is_put_right_by_the_time_of_sending() -> None:
    ahead = timedelta(days=365)
    when = believed(CAME, CAME + ahead - timedelta(hours=3), CAME + ahead)
    assert when.taken_at == CAME - timedelta(hours=3) and when.off == ahead
    assert "1 year ahead" in when.doubt


def test_a_picture_that_waited_a_week_without_signal_keeps_its_time() -> None:
    taken = CAME - timedelta(days=7)
    assert believed(CAME, taken, CAME + timedelta(seconds=40)).taken_at == taken
    assert believed(CAME, taken, None).taken_at == taken


@pytest.mark.parametrize("years", [-1, 1])
def test_without_the_time_of_sending_the_shops_time_counts_and_it_is_said(years: int) -> None:
    when = believed(CAME, CAME + timedelta(days=365 * years), None)
    assert when.taken_at == CAME and "stands beside it" in when.doubt


def test_the_clock_is_kept_beside_and_said() -> None:
    shop = make_shop()
    now = timezone.now()
    told = come_in(shop.mechanic, ["1001"], taken_at=now - timedelta(days=366), sent_at=now - timedelta(days=365))
    arrival = PictureIn.objects.get()
    assert "1 year behind" in told["line"] and arrival.said_taken_at == now - timedelta(days=366)
    assert abs(arrival.taken_at - (now - timedelta(days=1))) < timedelta(minutes=1)
    assert abs(arrival.act.happened_at - arrival.taken_at) < timedelta(seconds=1)


def test_a_tag_that_is_an_address_counts_only_where_the_address_is_ours() -> None:
    from witnessmark.records.tag_reading import tags_in

    def drawn(text: str) -> bytes:
        import cv2
        import numpy as np
        import zxingcpp

        code = np.array(
            zxingcpp.write_barcode_to_image(zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.QRCode), scale=8)
        )
        return bytes(cv2.imencode(".png", np.pad(code, 40, constant_values=255))[1])

    assert tags_in(drawn("http://localhost:8000/t/P-014/")) == ("P-014",)
    assert tags_in(drawn("https://elsewhere.example/t/P-014/")) == ()
    assert tags_in(drawn("WM:P-014")) == ("P-014",)
