"""Old pictures are given to what they show, put off, set aside; the last word is taken back; nothing is lost."""

import uuid
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.records.shop import Shop, make_part, make_place, make_shop
from tests.records.test_old_pictures import _jpeg
from witnessmark.records.actions.old_pictures import old_picture_comes_in
from witnessmark.records.actions.picture_sorting import (
    give_pictures,
    put_off_pictures,
    set_pictures_aside,
    take_back_sorting,
)
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.old_pictures import (
    counted,
    last_sorting,
    months,
    next_few,
    recent_targets,
    target_called,
    target_of,
)
from witnessmark.records.models import Act, Photo, PhotoUse, PictureIn

pytestmark = pytest.mark.django_db
START = datetime(2019, 6, 3, 10, 0, tzinfo=UTC)


@pytest.fixture
def shop(tmp_path: Path, settings: Any) -> Shop:
    settings.DATA = tmp_path / "own data"
    return make_shop()


def old(shop: Shop, number: int, minutes: float | None) -> Photo:
    """Bring one, taken so many minutes after the start, or on no known day."""
    taken = "" if minutes is None else (START + timedelta(minutes=minutes)).strftime("%Y:%m:%d %H:%M:%S")
    told = old_picture_comes_in(by=shop.mechanic, data=_jpeg(8 * number, taken), name=f"{number}.jpg")
    return Photo.objects.get(pk=told["photo"])


def said() -> uuid.UUID:
    return uuid.uuid4()


def test_what_was_taken_within_minutes_is_offered_together(shop: Shop) -> None:
    for number, minutes in enumerate((0, 2, 6, 40, 41, None), 1):
        old(shop, number, minutes)
    few = next_few()
    assert [each.photo.original_name for each in few.pictures[: few.run]] == ["1.jpg", "2.jpg", "3.jpg"]
    assert len(few.pictures) == 6  # a few at a time, also where the run is short
    assert few.pictures[-1].photo.original_name == "6.jpg"  # a day that nothing tells comes last
    assert [(each.key, each.count) for each in months()] == [("2019-06", 5), ("none", 1)]
    assert [each.photo.original_name for each in next_few("none").pictures] == ["6.jpg"]
    assert counted().sentence == "6 of 6 pictures unsorted."


def test_a_day_that_cannot_be_true_stands_with_the_unknown(shop: Shop) -> None:
    ahead = (datetime.now(UTC) + timedelta(days=366)).strftime("%Y:%m:%d %H:%M:%S")
    told = old_picture_comes_in(by=shop.mechanic, data=_jpeg(1, ahead), name="a.jpg")
    assert "still to come" in told["doubt"] and "still to come" in told["line"]
    assert [each.key for each in months()] == ["none"]
    assert PictureIn.objects.get().said_taken_at is not None  # what the camera said is kept


def test_given_to_a_zone_a_place_and_a_piece(shop: Shop) -> None:
    place, piece = make_place(shop, "B4", "L"), make_part(shop, "0118", shop.shelf)
    photos = [old(shop, number, number) for number in range(1, 5)]
    give_pictures(by=shop.mechanic, act_id=said(), photos=photos[:2], zone=shop.zone)
    give_pictures(by=shop.mechanic, act_id=said(), photos=photos[2:3], place=place)
    give_pictures(by=shop.mechanic, act_id=said(), photos=photos[3:], piece=piece)
    uses = PhotoUse.objects.order_by("id")
    assert [(use.zone or use.place or use.piece) for use in uses] == [shop.zone, shop.zone, place, piece]
    assert counted().sentence == "All 4 pictures are sorted."
    assert [each.thing for each in recent_targets(shop.mechanic)] == [piece, place, shop.zone]


def test_said_twice_is_done_once_and_another_number_finds_it_sorted(shop: Shop) -> None:
    photo, act_id = old(shop, 1, 1), said()
    for _ in range(2):
        give_pictures(by=shop.mechanic, act_id=act_id, photos=[photo], zone=shop.zone)
    assert PhotoUse.objects.count() == 1
    with pytest.raises(Refused, match="Somebody sorted these meanwhile"):
        give_pictures(by=shop.lead, act_id=said(), photos=[photo], zone=shop.zone)
    other = old(shop, 2, 1)
    told = give_pictures(by=shop.lead, act_id=said(), photos=[photo, other], zone=shop.zone)
    assert (told["photos"], told["before"]) == ([other.sha256], 1)


def test_not_now_comes_last_and_the_last_word_is_taken_back(shop: Shop) -> None:
    photos = [old(shop, number, number) for number in range(1, 4)]
    put_off_pictures(by=shop.mechanic, act_id=said(), photos=photos[:1])
    assert [each.photo_id for each in next_few().pictures] == [photos[n].sha256 for n in (1, 2, 0)]
    give_pictures(by=shop.mechanic, act_id=said(), photos=photos[1:2], zone=shop.zone)
    set_pictures_aside(by=shop.mechanic, act_id=said(), photos=photos[2:])
    assert counted().unsorted == 1
    for left, verb in ((2, "set_pictures_aside"), (3, "give_pictures"), (3, "put_off_pictures")):
        last = last_sorting(shop.mechanic)
        assert last is not None and last.verb == verb
        take_back_sorting(by=shop.mechanic, act_id=said(), act=last)
        assert counted().unsorted == left
    assert last_sorting(shop.mechanic) is None
    assert [each.photo_id for each in next_few().pictures] == [photo.sha256 for photo in photos]
    assert Act.objects.filter(verb="take_back_sorting", undoes__isnull=False).count() == 3  # both words stay to be read


def test_who_may_not(shop: Shop) -> None:
    photo = old(shop, 1, 1)
    with pytest.raises(NotAllowed):
        give_pictures(by=shop.owner, act_id=said(), photos=[photo], zone=shop.zone)
    give_pictures(by=shop.mechanic, act_id=said(), photos=[photo], zone=shop.zone)
    last = last_sorting(shop.mechanic)
    assert last is not None
    with pytest.raises(NotAllowed, match="his to take back"):
        take_back_sorting(by=shop.lead, act_id=said(), act=last)
    assert PhotoUse.objects.exists()


def test_nothing_picked_or_nothing_said_is_refused(shop: Shop) -> None:
    photo = old(shop, 1, 1)
    with pytest.raises(Refused, match="No picture is picked"):
        give_pictures(by=shop.mechanic, act_id=said(), photos=[], zone=shop.zone)
    with pytest.raises(Refused, match="one zone, one place or one piece"):
        give_pictures(by=shop.mechanic, act_id=said(), photos=[photo])


def test_a_target_is_called_as_one_calls_it(shop: Shop) -> None:
    place, piece = make_place(shop, "B4", "L"), make_part(shop, "0118", shop.shelf)
    for words, thing in (("0118", piece), ("hull bottom", shop.zone), ("100", shop.zone), ("b4 left", place)):
        found = target_called(words, shop.aircraft)
        assert found is not None and found.thing == thing
        again = target_of(found.key)
        assert again is not None and again.thing == thing
    assert target_called("nowhere", shop.aircraft) is None
    for key in ("", "zone:", "zone:x", "zone:999", "act:1", "piece:99999999999999999999"):
        assert target_of(key) is None


def test_thousands_are_counted_and_offered_in_as_many_questions_as_few(
    shop: Shop, django_assert_max_num_queries: Any
) -> None:
    for number in range(1, 30):
        old(shop, number, number * 60)
    with django_assert_max_num_queries(6):
        counted(), months(), next_few()
