"""Other work, what was learned, the calendar: what they show, and every refusal."""

import uuid

import pytest
from django.test import Client
from icalendar import Calendar

from tests.records.shop import Shop, make_shop
from tests.support.pages import words
from tests.support.rows import make_hand_job
from witnessmark.records.models import JobSaid, Person
from witnessmark.web.calendar_link import link_for

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    Person.objects.update(days="Mon-Sun")
    make_hand_job(shop, "a", "Turn two bushes", zone=shop.zone)
    return shop


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def test_they_speak_first_and_ask_who_is_there(shop: Shop) -> None:
    client = signed_in(shop.mechanic)
    assert "No finished job has hours yet." in words(client.get("/learned/"))
    assert "Nothing is worth opening" in words(client.get("/other-work/?days=x"))
    assert "Put the plan into your calendar." in words(client.get("/calendar/"))
    for address in ("/learned/", "/other-work/", "/calendar/"):
        assert Client().get(address).status_code == 302
        assert client.post(address).status_code == 405


def test_a_signed_link_opens_the_calendar_without_signing_in_until_its_person_leaves(shop: Shop) -> None:
    link = link_for(shop.mechanic, everybody=False)
    answer = Client().get(link)
    assert answer.status_code == 200
    assert answer["Content-Type"].startswith("text/calendar")
    assert "Turn two bushes" in [str(e["summary"]) for e in Calendar.from_ical(answer.content).walk("VEVENT")]
    assert Client().get(link.replace("/cal/", "/cal/x")).status_code == 404
    Person.objects.filter(pk=shop.mechanic.pk).update(is_active=False)
    assert Client().get(link).status_code == 404


def test_a_tap_is_taken_back_on_the_bench(shop: Shop) -> None:
    client = signed_in(shop.mechanic)
    client.post("/", {"act_id": str(uuid.uuid4()), "key": "hand:a:do", "status": "done"})
    page = words(client.get("/"))
    assert "You said: turn two bushes is finished." in page
    word = JobSaid.objects.get()
    assert client.post("/", {"act_id": str(uuid.uuid4()), "take_back": "999"}).status_code == 422
    assert client.post("/", {"act_id": str(uuid.uuid4()), "take_back": str(word.pk)}).status_code == 302
    assert "Turn two bushes." in words(client.get("/"))


def test_to_another_the_one_thing_to_do_has_a_name(shop: Shop) -> None:
    assert "Mechanic does this now" in words(signed_in(shop.lead).get("/"))
    assert "Do this now" in words(signed_in(shop.mechanic).get("/"))
