"""A job's own page: it opens where the job was left; everything on it is said by tap; every refusal in words."""

import uuid
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from tests.records.shop import Shop, make_bag, make_shop
from tests.support.pages import words
from tests.support.rows import make_row, make_size
from witnessmark.records.actions.open_jobs import Leaving, leave_open
from witnessmark.records.lookups.day import now
from witnessmark.records.lookups.learned import booked_hours
from witnessmark.records.models import HoursBooked, JobLeft, JobSaid, Person

pytestmark = pytest.mark.django_db
PAGE = "/job/seam:C2%20left:fill/"


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    Person.objects.update(days="Mon-Sun")
    states = {"riveted": range(1, 43), "open": [43], "empty": range(44, 85)}
    make_row(shop, "C2", make_size(shop), 84, states=states)
    make_bag(shop, "R-08", shop.shelf, 100)
    return shop


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def post(client: Client, do: str, **form: object) -> int:
    return client.post(PAGE, {"act_id": str(uuid.uuid4()), "do": do, **form}).status_code


def test_left_by_one_it_opens_for_another_where_it_was_left(shop: Shop, tmp_path: object, settings: object) -> None:
    client = signed_in(shop.mechanic)
    said = {
        "next_hole": "43",
        "bags": "R-08",
        "borrowed": "bucking bar 7",
        "bare_where": "the edge at 43",
        "primed": "yes",
    }
    assert post(client, "leave", **said) == 302
    text = words(signed_in(shop.lead).get(PAGE))
    assert "Mechanic left this on" in text
    assert "at hole 43 of 84" in text
    assert "Go on at hole 44." in text
    assert "R-08" in text
    assert "bucking bar 7" in text
    assert "The bare metal at the edge at 43 was primed" in text
    assert "One job stands open in the shop." in words(client.get("/open/"))
    assert post(signed_in(shop.lead), "take_up") == 302
    assert "Lead took it up again" in words(client.get(PAGE))
    assert "No job stands open." in words(client.get("/open/"))


def test_bare_metal_is_the_one_thing_to_do_now(shop: Shop) -> None:
    client = signed_in(shop.mechanic)
    assert post(client, "leave", next_hole="44", bare_where="the flange") == 422
    assert post(client, "leave", next_hole="44", bare_where="the flange", bare_because="no primer") == 302
    text = words(client.get("/open/"))
    assert "Prime the bare metal at the flange." in text
    assert "Prime it by" in text
    assert post(client, "primed") == 302
    assert "Prime it by" not in words(client.get("/open/"))


def test_bare_metal_with_hours_to_run_stands_first_on_the_bench_of_who_may_do_it(shop: Shop) -> None:
    """Common practice, no printed source: cleaned bare dural is primed on the same day, before the work goes on."""
    joiner = Person.objects.create(name="Joiner", role="mechanic", craft="wood", days="Mon-Sun")
    assert post(signed_in(shop.lead), "leave", next_hole="44", bare_where="the flange", bare_because="no primer") == 302
    for person in (shop.mechanic, shop.lead):
        page = signed_in(person).get("/")
        accented = page.content.decode().split('class="now"')
        assert len(accented) == 2
        assert accented[1].startswith(f' href="{PAGE}"')
        assert "Do this now</small>Prime the bare metal at the flange: 7 hours left." in accented[1]
        page = signed_in(person).get(PAGE)
        assert page.content.decode().count('class="now"') == 1
        assert "press: it is primed</small>Prime the bare metal at the flange: 7 hours left." in page.content.decode()
        assert "Go on at hole 44." in words(page)
    for person in (joiner, shop.owner):
        assert "Prime the bare metal" not in words(signed_in(person).get("/"))
    assert 'class="now"' not in signed_in(shop.owner).get(PAGE).content.decode()
    assert post(signed_in(shop.mechanic), "primed") == 302
    assert "Prime the bare metal" not in words(signed_in(shop.lead).get("/"))
    assert "Do this nowGo on at hole 44." in words(signed_in(shop.lead).get(PAGE))


@pytest.mark.parametrize(("hours", "said"), [(30, ""), (1, "60 minutes too late already.")])
def test_a_longer_clock_does_not_press_and_one_run_out_does(shop: Shop, hours: float, said: str) -> None:
    since = now(shop.aircraft) - timedelta(hours=2, seconds=30)
    leaving = Leaving(
        next_hole=44, bare_where="the flange", bare_because="no primer", bare_since=since, prime_within_hours=hours
    )
    leave_open(by=shop.mechanic, act_id=uuid.uuid4(), aircraft=shop.aircraft, key="seam:C2 left:fill", leaving=leaving)
    text = words(signed_in(shop.mechanic).get("/"))
    assert ("Prime the bare metal at the flange" in text) == bool(said)
    assert said in text
    assert "Bare metal. Metal is bare at the flange" in text


def test_hours_are_booked_by_tap_and_asked_twice(shop: Shop) -> None:
    client = signed_in(shop.mechanic)
    assert post(client, "hours", hours="2") == 302
    assert post(client, "hours", hours="2") == 422
    assert post(client, "hours", hours="1,5", again="yes") == 302
    assert "3.5 hours are booked" in words(client.get(PAGE))
    assert HoursBooked.objects.count() == 2


def test_hours_booked_by_mistake_are_taken_back_by_tap(shop: Shop) -> None:
    client = signed_in(shop.mechanic)
    assert post(client, "hours", hours="8") == 302
    (booked,) = HoursBooked.objects.all()
    other = Person.objects.create(name="Other", role="mechanic", craft="wood")
    assert "Take back" not in words(signed_in(other).get(PAGE))
    assert post(signed_in(other), "hours_back", booked=booked.pk) == 422
    assert "Take back Mechanic’s 8 on" in words(client.get(PAGE))
    assert post(client, "hours_back", booked=booked.pk) == 302
    assert "No hours are booked yet." in words(client.get(PAGE))
    assert booked_hours(shop.aircraft) == {} and HoursBooked.with_taken_back.count() == 1
    assert post(client, "hours_back", booked=booked.pk) == 422  # it is not there any more
    assert post(client, "hours", hours="2") == 302  # the day is free again
    assert booked_hours(shop.aircraft) == {"seam:C2 left:fill": 2}


@pytest.mark.parametrize(
    ("form", "why"),
    [
        ({"do": "hours", "hours": "many"}, "is no number"),
        ({"do": "hours", "hours": "-2"}, "no such figure"),
        ({"do": "leave", "next_hole": "99"}, "holes 1 to 84"),
        ({"do": "leave", "next_hole": "44", "bare_where": "x", "primed": "yes", "bare_since": "25:99"}, "is no time"),
        ({"do": "leave", "next_hole": "44", "bags": "Z-1"}, "No piece has the tag Z-1"),
        ({"do": "dance"}, "does not say what happened"),
        ({"do": "take_up"}, "never left open"),
        ({"do": "stuck"}, "Say because of what"),
    ],
)
def test_a_bad_form_is_refused_in_words(shop: Shop, form: dict[str, str], why: str) -> None:
    page = signed_in(shop.mechanic).post(PAGE, {"act_id": str(uuid.uuid4()), **form})
    assert page.status_code == 422
    assert why in words(page)
    assert not JobLeft.objects.exists() and not JobSaid.objects.exists() and not HoursBooked.objects.exists()


def test_what_is_no_picture_is_refused_and_nothing_is_left(shop: Shop) -> None:
    page = signed_in(shop.mechanic).post(
        PAGE,
        {"act_id": str(uuid.uuid4()), "do": "leave", "next_hole": "44", "picture": SimpleUploadedFile("a.jpg", b"no")},
    )
    assert page.status_code == 422
    assert not JobLeft.objects.exists()


def test_signed_out_owner_and_unknown_job(shop: Shop) -> None:
    assert Client().get(PAGE).status_code == 302
    assert Client().get("/open/").status_code == 302
    owner = signed_in(shop.owner)
    assert "Leave it open" not in words(owner.get(PAGE))
    assert post(owner, "leave", next_hole="44") == 403
    assert owner.get("/job/hand:gone:do/").status_code == 404
