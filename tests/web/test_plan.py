"""The plan says when it ends and that it is too hopeful."""

from datetime import timedelta

import pytest
from django.test import Client

from tests.records.shop import Shop, make_part, make_shop
from tests.support.pages import client
from tests.support.rows import make_hand_job, make_steps
from witnessmark.records.lookups.plan import make_plan, plan_lines
from witnessmark.records.lookups.plan_pages import pages_of
from witnessmark.records.models import HandJob, Person
from witnessmark.web import plan as plan_page

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


def test_two_weeks_by_person_then_by_month_and_every_job_once(shop: Shop) -> None:
    """Forty jobs of a week and a half each for one person: two weeks of them in front, the rest by the month."""
    for n in range(40):
        make_hand_job(shop, f"J-{n}", f"Build frame {n}", "sheet metal")
    HandJob.objects.update(hours_least=60, hours_likely=60, hours_most=60)
    Person.objects.update(hours_per_day=8)
    plan = make_plan(shop.aircraft)
    pages = pages_of(plan, plan_lines(plan), shop.mechanic)
    soon = plan.shop.today + timedelta(days=14)
    shown = [*(line for bench in pages.benches for line in bench.lines), *pages.outside, *pages.marks]
    assert all(line.starts_on < soon for line in shown)
    later = [line for month in pages.months for line in month.lines]
    assert all(line.starts_on >= soon for line in later)
    assert sorted(line.key for line in shown + later) == sorted(plan.schedule.by_key)
    assert len(pages.months) > 8 and [m.first for m in pages.months] == sorted({m.first for m in pages.months})
    mine, other = (
        client(shop.mechanic).get("/plan/").content.decode(),
        client(shop.owner).get("/plan/").content.decode(),
    )
    assert '<details class="bench" open><summary class="who">Mechanic' in mine
    assert '<details class="bench" open data-fold><summary class="who">Mechanic' in other


def test_a_month_that_is_not_on_the_page_is_a_press_away(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plan_page, "MONTHS_INSIDE", 1)
    for n in range(12):
        make_hand_job(shop, f"J-{n}", f"Build frame {n}", "sheet metal")
    HandJob.objects.update(hours_least=60, hours_likely=60, hours_most=60)
    Person.objects.update(hours_per_day=8)
    me, plan = client(shop.mechanic), make_plan(shop.aircraft)
    last = pages_of(plan, plan_lines(plan)).months[-1]
    (line,) = last.lines[-1:]
    plain, opened = (me.get(link).content.decode() for link in ("/plan/", f"/plan/?month={last.key}"))
    assert f'href="?month={last.key}#m{last.key}"' in plain and line.what not in plain
    assert line.what in opened and '<details class="working" open>' in opened
    every = me.get("/plan/?all=1").content.decode()
    assert all(plan.network.by_key[key].what in every for key in plan.schedule.by_key)
    assert me.get("/plan/?month=soon").status_code == 200
