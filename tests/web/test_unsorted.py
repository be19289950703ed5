"""Old pictures by screen: what comes in, what is shown a few at a time, what a post does with and without the script."""

import uuid
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from tests.records.shop import Shop, make_part, make_shop
from tests.records.test_old_pictures import _jpeg
from tests.records.test_picture_sorting import old
from tests.records.test_twins import come, jpeg, scene
from tests.support.pages import client, words
from witnessmark.records.actions.twins import find_twins
from witnessmark.records.models import Photo, PhotoUse, PictureIn, Twins, Work

pytestmark = pytest.mark.django_db
HERE = "/pictures/unsorted/"
JSON = {"HTTP_ACCEPT": "application/json"}


@pytest.fixture
def shop(tmp_path: Path, settings: Any) -> Shop:
    settings.DATA = tmp_path / "own data"
    return make_shop()


def post(browser: Client, address: str = HERE, how: dict[str, str] | None = None, **said: Any) -> Any:
    return browser.post(address, {"act_id": str(uuid.uuid4()), **said}, **(how or {}))


def bring(browser: Client, *pictures: tuple[str, bytes], how: dict[str, str] | None = None, **said: Any) -> Any:
    files = [SimpleUploadedFile(name, data) for name, data in pictures]
    return post(browser, "/pictures/old/", how, picture=files, **said)


def test_an_empty_record_says_how_they_come_in(shop: Shop) -> None:
    text = words(client(shop.mechanic).get(HERE))
    assert "No picture came in yet." in text and "Choose a whole folder" in text


def test_several_come_in_by_the_plain_form_each_with_its_line(shop: Shop) -> None:
    browser = client(shop.mechanic)
    page = bring(
        browser, ("a.jpg", _jpeg(8, "2019:06:03 10:00:00")), ("b.jpg", b"%PDF-1.7 ..."), ("20180301.jpg", _jpeg(90))
    )
    text = words(page)
    assert page.status_code == 422
    assert "a.jpg: dated by its camera. It is kept, unsorted." in text
    assert "20180301.jpg: dated by its name." in text
    assert "b.jpg is no picture that can be read, whatever its name says: it is a PDF. Nothing was kept." in text
    assert PictureIn.objects.count() == 2
    assert Work.objects.filter(kind="find_twins", state="waiting").count() == 1


def test_the_script_s_door_answers_as_the_other_one(shop: Shop) -> None:
    browser, data = client(shop.mechanic), _jpeg(8)
    told = bring(browser, ("a.jpg", data), how=JSON, taken_at="2015-02-03T04:05:06Z").json()
    assert told["kept"][0]["new"] and told["kept"][0]["dated"] == "file" and told["refused"] == []
    again = bring(browser, ("copy.jpg", data), how=JSON).json()
    assert again["kept"][0]["new"] is False and "was here before" in again["kept"][0]["line"]
    assert PictureIn.objects.get().taken_at.year == 2015
    refused = bring(browser, ("a.jpg", b"no"), how=JSON)
    assert refused.status_code == 422 and refused.json()["refused"][0]["name"] == "a.jpg"
    assert bring(Client(), ("a.jpg", data), how=JSON).status_code == 401
    assert bring(client(shop.owner), ("b.jpg", _jpeg(99)), how=JSON).status_code == 403
    assert post(browser, "/pictures/old/", JSON).status_code == 422


def test_a_run_is_ticked_and_given_by_the_plain_form(shop: Shop) -> None:
    photos = [old(shop, number, minutes) for number, minutes in enumerate((0, 1, 90), 1)]
    browser = client(shop.mechanic)
    page = browser.get(HERE)
    text, source = words(page), page.content.decode()
    assert "3 of 3 pictures unsorted." in text
    assert "2 of Monday 3 June 2019, within minutes of each other: 10:00 to 10:01." in text
    assert source.count('name="photo"') == 3 and source.count(" checked") == 2
    page = post(browser, do="give", to=f"zone:{shop.zone.pk}", photo=[p.sha256 for p in photos[:2]])
    assert page.status_code == 302 and page["Location"] == f"{HERE}?to=zone%3A{shop.zone.pk}"
    page = browser.get(page["Location"])
    assert "1 of 3 pictures unsorted." in words(page)
    assert f'value="zone:{shop.zone.pk}" checked' in page.content.decode()  # the next go to the same
    assert "2 pictures given to hull bottom." in words(page)
    last = page.context["last"]
    page = post(browser, do="back", act=str(last.pk))
    assert page.status_code == 302 and not PhotoUse.objects.exists()


def test_the_words_under_a_picture_do_what_a_swipe_does(shop: Shop) -> None:
    piece = make_part(shop, "0118", shop.shelf)
    photos = [old(shop, number, number) for number in range(1, 5)]
    browser = client(shop.mechanic)
    told = post(browser, how=JSON, give_one=photos[0].sha256, to_words="0118", photo=[p.sha256 for p in photos]).json()
    assert told["photos"] == [photos[0].sha256]  # the one, whatever else is ticked
    assert told["sentence"] == "3 of 4 pictures unsorted." and told["to"] == f"piece:{piece.pk}"
    assert "1 picture given to 0118" in told["told"] and uuid.UUID(told["act_id"]) and uuid.UUID(told["last"])
    told = post(browser, how=JSON, later_one=photos[1].sha256).json()
    assert "again after the others" in told["told"]
    assert post(browser, do="aside", photo=[photos[2].sha256]).status_code == 302
    assert PictureIn.objects.exclude(aside_act=None).get().photo == photos[2]


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"do": "give", "to": ""}, "Say first what they show"),
        ({"do": "give", "to": "zone:9999"}, "Say first what they show"),
        ({"do": "give", "to_words": "nowhere"}, "no zone, place or piece called nowhere"),
        ({"do": "odd"}, "nothing that can be done"),
        ({"do": "back", "act": "x"}, "nothing to take back"),
        ({"do": "later", "photo": "x"}, "No picture is picked"),
        ({"do": "give", "act_id": "x"}, "no number of its own"),
    ],
)
def test_a_bad_form_changes_nothing(shop: Shop, said: dict[str, str], why: str) -> None:
    photo = old(shop, 1, 1)
    browser = client(shop.mechanic)
    for how in (None, JSON):
        page = post(browser, how=how, **{"photo": photo.sha256, **said})
        assert page.status_code == 422 and why in page.content.decode()
    assert not PhotoUse.objects.exists()


def test_the_owner_looks_and_a_stranger_does_not(shop: Shop) -> None:
    photo = old(shop, 1, 1)
    owner = client(shop.owner)
    page = owner.get(HERE)
    assert "not sort them" in words(page) and '<button class="word" name="give_one"' not in page.content.decode()
    assert post(owner, do="give", to=f"zone:{shop.zone.pk}", photo=photo.sha256).status_code == 403
    for address in (HERE, "/pictures/twins/"):
        assert owner.get(address).status_code == 200
        assert Client().get(address).status_code == 302


def test_a_doubtful_day_and_a_month_are_said(shop: Shop) -> None:
    ahead = (datetime.now(UTC) + timedelta(days=400)).strftime("%Y:%m:%d %H:%M:%S")
    come(shop, _jpeg(8, ahead))
    old(shop, 20, 5)
    browser = client(shop.mechanic)
    assert "June 2019" in words(browser.get(HERE)) and "Day not known" in words(browser.get(HERE))
    text = words(browser.get(f"{HERE}?month=none"))
    assert "Their day is not known, or cannot be true." in text and "which is still to come" in text
    assert "None of this month waits." in words(browser.get(f"{HERE}?month=2003-01"))
    assert "One of Monday 3 June 2019" in words(browser.get(f"{HERE}?month=%27"))


def test_two_stand_side_by_side_and_a_person_says(shop: Shop) -> None:
    large, small = come(shop, jpeg(scene(1))), come(shop, jpeg(scene(1).resize((400, 300)), 60))
    find_twins()
    browser = client(shop.mechanic)
    assert "1 pair may be the same picture" in words(browser.get(HERE))
    page = browser.get("/pictures/twins/")
    source = page.content.decode()
    assert source.index(large.sha256) < source.index(small.sha256)
    number = str(Twins.objects.get().pk)
    assert post(browser, "/pictures/twins/", twins=number, do="same").status_code == 302
    assert Photo.objects.get(pk=small.pk).behind == large
    text = words(browser.get("/pictures/twins/"))
    assert "No two pictures wait" in text and "the same, the larger in front, says Mechanic" in text
    assert post(browser, "/pictures/twins/", twins=number, do="back").status_code == 302
    for said in ({"twins": "x", "do": "same"}, {"twins": number, "do": "odd"}, {"twins": "9" * 30, "do": "same"}):
        assert post(browser, "/pictures/twins/", **said).status_code == 422
    assert post(client(shop.owner), "/pictures/twins/", twins=number, do="same").status_code == 403


def test_the_screen_asks_no_more_questions_for_more_pictures(shop: Shop, django_assert_max_num_queries: Any) -> None:
    browser = client(shop.mechanic)
    for number in range(1, 25):
        old(shop, number, number * 60)
    with django_assert_max_num_queries(22):
        browser.get(HERE)
