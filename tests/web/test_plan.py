"""The plan says when it ends and that it is too hopeful."""

import pytest
from django.test import Client

from tests.records.shop import Shop, make_part, make_shop
from tests.support.rows import make_hand_job, make_steps
from witnessmark.records.models import Person

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    part = make_part(shop, "0007", shop.shelf)
    part.zones.add(shop.zone)
    make_steps(part, ("Strip", "sheet metal"), ("Cadmium plate", "PL"), ("Prime", "sheet metal"))
    return shop


def page(person: Person) -> str:
    client = Client()
    client.force_login(person)
    answer = client.get("/plan/")
    assert answer.status_code == 200
    return answer.content.decode()


def test_every_job_has_its_days_and_what_it_waits_for(shop: Shop) -> None:
    text = page(shop.owner)
    # Not "most likely times": at the vendors it counts on the middle, which lies after the most likely day.
    assert "The plan ends on" in text and "with likely hours in the shop and half the chance at each vendor" in text
    assert "most likely times" not in text
    assert "it leaves no room for lateness" in text
    assert "Waits for: Strip the fitting 0007" in text


def test_a_job_nobody_does_is_named(shop: Shop) -> None:
    make_hand_job(shop, "H-1", "Weave the fabric", "weaving")
    text = page(shop.lead)
    assert "Cannot be planned" in text
    assert "nobody here does weaving" in text


def test_a_circle_written_by_hand_is_said(shop: Shop) -> None:
    make_hand_job(shop, "H-1", "Fit the keel", after=["H-2"])
    make_hand_job(shop, "H-2", "Drill the keel", after=["H-1"])
    assert "That is a circle" in page(shop.lead)


def test_an_empty_record_has_no_plan() -> None:
    assert "There is no plan to show." in page(Person.objects.create(name="Lead", role="lead"))


def test_logged_out_and_by_post(shop: Shop) -> None:
    assert Client().get("/plan/").status_code == 302
    client = Client()
    client.force_login(shop.lead)
    assert client.post("/plan/").status_code == 405
