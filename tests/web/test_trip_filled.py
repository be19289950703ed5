"""A stop that came from the lists names what it could take and takes it with one tap; a trip has a day that can be."""

import uuid
from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from tests.records.shop import Shop, make_part, make_shop
from tests.records.test_photo_store import picture as a_picture
from tests.support.pages import client, words
from tests.support.rows import make_steps
from witnessmark.records.actions.custody import send_out
from witnessmark.records.models import Act, Shipment, Trip, TripLine, TripStop

pytestmark = pytest.mark.django_db
TODAY, TOMORROW = date(2026, 5, 12), date(2026, 5, 13)


@pytest.fixture
def shop(settings, tmp_path) -> Shop:  # type: ignore[no-untyped-def]
    settings.DATA = tmp_path
    made = make_shop()
    made.aircraft.today = TODAY
    made.aircraft.save()
    return made


def empty_stop(shop: Shop) -> TripStop:
    """A trip as the lists bring it: a stop that names no tag."""
    gone = make_part(shop, "0300", shop.shelf)
    send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="Look", pieces=[gone], number="S-1",
        sent_on=date(2026, 4, 1), promised_on=date(2026, 5, 10),
    )  # fmt: skip
    part = make_part(shop, "0330", shop.shelf)
    make_steps(part, ("Look", "PL"))
    act = Act.objects.latest("recorded_at")
    trip = Trip.objects.create(number="T-01", day=TOMORROW, driver=shop.mechanic, act=act)
    return TripStop.objects.create(trip=trip, vendor=shop.vendor, position=1, said_position=1)


def post(shop: Shop, address: str, do: str, **said: object) -> int:
    sent = {"act_id": str(uuid.uuid4()), "do": do, **said}
    return int(client(shop.mechanic).post(address, sent).status_code)


def test_what_could_be_taken_is_named_and_put_on_with_one_tap(shop: Shop) -> None:
    stop = empty_stop(shop)
    page = words(client(shop.mechanic).get("/trip/T-01/"))
    assert "Nothing is on its sheet, and 2 things could be." in page
    assert "Leave 0330" in page and "Fetch 0300" in page and "Put all 2 on its sheet" in page
    assert post(shop, "/trip/T-01/", "fill", stop="PL") == 302
    assert set(TripLine.objects.filter(stop=stop).values_list("piece__tag", "kind")) == {
        ("0330", "leave"), ("0300", "fetch"),
    }  # fmt: skip
    assert (
        "on its sheet"
        not in words(client(shop.mechanic).get("/trip/T-01/")).split("The stops")[1].split("Put something")[0]
    )
    assert post(shop, "/trip/T-01/", "fill", stop="PL") == 422
    assert post(shop, "/trip/T-01/", "fill", stop="XX") == 422
    assert TripLine.objects.count() == 2


def test_what_was_taken_off_on_purpose_is_not_offered_again(shop: Shop) -> None:
    stop = empty_stop(shop)
    post(shop, "/trip/T-01/", "fill", stop="PL")
    line = TripLine.objects.get(stop=stop, kind="leave")
    assert post(shop, "/trip/T-01/", "off", line=str(line.pk), why="Waits for paint") == 302
    assert (
        "Leave 0330 " not in words(client(shop.mechanic).get("/trip/T-01/")).split("Put")[0].split("could be")[-1][:40]
    )
    assert post(shop, "/trip/T-01/", "fill", stop="PL") == 422


def test_left_before_the_trip_s_day_it_is_dated_today(shop: Shop) -> None:
    stop = empty_stop(shop)
    post(shop, "/trip/T-01/", "fill", stop="PL")
    line = TripLine.objects.get(stop=stop, kind="leave")
    photo = SimpleUploadedFile("c.jpg", a_picture(), "image/jpeg")
    assert post(shop, "/trip/T-01/PL/", "leave", line=str(line.pk), number="S-9", picture=photo) == 302
    assert Shipment.objects.get(number="S-9").sent_on == TODAY
    page = words(client(shop.lead).get("/outwork/"))
    assert "-1 days" not in page and "0 days" in page


def test_a_day_gone_by_is_refused_and_another_year_is_named(shop: Shop) -> None:
    browser = client(shop.mechanic)
    said = {"act_id": str(uuid.uuid4()), "number": "T-2", "driver": "Mechanic", "stop": ["PL"]}
    page = browser.post("/trip/", {**said, "day": "2020-01-01"})
    assert page.status_code == 422 and "1 January 2020 has gone by: today is 12 May 2026" in words(page)
    assert not Trip.objects.exists()
    assert browser.post("/trip/", {**said, "day": "2026-05-12"}).status_code == 302
    assert "drives on Tuesday 12 May:" in words(browser.get("/trip/T-2/"))
    more = {**said, "act_id": str(uuid.uuid4()), "number": "T-3", "day": "2027-01-15"}
    assert browser.post("/trip/", more).status_code == 302
    for address in ("/trip/", "/trip/T-3/", "/trip/T-3/PL/"):
        assert "Friday 15 January 2027" in words(browser.get(address)), address
