"""Forecast, why, what if and timeline: what each says, and every refusal."""

import os
import subprocess
import sys
import uuid
from dataclasses import replace
from pathlib import Path

import pytest
from django.test import Client

from tests.records.shop import Shop, make_part, make_shop
from tests.support.rows import make_hand_job, make_steps
from witnessmark.calc.plan.what_if import Change
from witnessmark.records.actions.forecast import foresee
from witnessmark.records.lookups.forecast import causes, known_forecast, what_if, why
from witnessmark.records.lookups.plan import make_plan
from witnessmark.records.models import Act, Answer, Person, Work
from witnessmark.records.work import do_one

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    part = make_part(shop, "0007", shop.shelf)
    part.zones.add(shop.zone)
    make_steps(part, ("Strip", "sheet metal"), ("Cadmium plate", "PL"), ("Prime", "sheet metal"))
    return shop


def page(person: Person, url: str, status: int = 200) -> str:
    client = Client()
    client.force_login(person)
    answer = client.get(url)
    assert answer.status_code == status
    return answer.content.decode()


def test_the_forecast_is_asked_for_worked_out_and_said(shop: Shop) -> None:
    assert "The forecast is not worked out yet." in page(shop.lead, "/forecast/")
    client = Client()
    client.force_login(shop.lead)
    assert client.post("/forecast/").status_code == 302
    while do_one():
        pass
    assert not Work.objects.exclude(state="done").exists()
    text = page(shop.lead, "/forecast/")
    assert "Half the chance by" in text and "four in five by" in text
    assert "The record has changed since" not in text
    assert "<polyline" in text and "Cadmium plate" in text
    make_hand_job(shop, "H-9", "Dust the hangar", "sheet metal")
    assert "The record has changed since" in page(shop.owner, "/forecast/")


def test_working_it_out_twice_stores_it_once(shop: Shop) -> None:
    first, second = foresee(shop.aircraft), foresee(shop.aircraft)
    assert first is not None and first == second
    assert Answer.objects.filter(kind="forecast").count() == 1


HASHED = """
import django
django.setup()
from datetime import date
from types import SimpleNamespace
from witnessmark.calc.plan.calendars import Person, Shop
from witnessmark.records.lookups.forecast import plan_inputs

ilva = Person("Ilva", frozenset({"wood", "fabric", "sheet metal", "fitting"}))
days = frozenset(date(2026, month, 1) for month in range(6, 12))
shop = Shop(date(2026, 5, 12), (ilva,), holidays=days)
print(plan_inputs(SimpleNamespace(network=SimpleNamespace(jobs=(), links=()), shop=shop))["sha256"])
"""


def test_the_worker_and_the_screens_come_to_the_same_hash(tmp_path: Path) -> None:
    """They are different processes, and sets of words have another order in each."""
    hashes = set()
    for seed in "1234":
        surroundings = dict(
            os.environ, PYTHONHASHSEED=seed, PYTHONPATH=os.pathsep.join(sys.path),
            DJANGO_SETTINGS_MODULE="witnessmark.settings", WITNESSMARK_DATA=str(tmp_path), WITNESSMARK_DATABASE="",
        )  # fmt: skip
        said = subprocess.run([sys.executable, "-c", HASHED], env=surroundings, capture_output=True, text=True)
        assert said.returncode == 0, said.stderr
        hashes.add(said.stdout.strip())
    assert len(hashes) == 1


def test_the_owner_asks_for_no_work(shop: Shop) -> None:
    client = Client()
    client.force_login(shop.owner)
    assert client.post("/forecast/").status_code == 422
    assert not Work.objects.filter(kind="foresee").exists()


def test_why_the_end_waits_and_what_shortens_it(shop: Shop) -> None:
    text = page(shop.owner, "/why/")
    assert "It waits for:" in text and "It can start now." in text
    assert "earlier:" in text
    assert "working days instead of" in text
    page(shop.owner, "/why/?job=nothing:at:all", 404)


def test_what_if_is_shown_side_by_side_and_kept_once(shop: Shop) -> None:
    asked = {"kind": "vendor_late", "which": "PL", "days": "20"}
    vendor = shop.vendor.code if hasattr(shop, "vendor") else "PL"
    client = Client()
    client.force_login(shop.lead)
    names = client.get("/what-if/").content.decode()
    asked["which"] = next(name for name in (vendor, shop.vendor.name) if f'<option value="{name}">vendor' in names)
    text = client.get("/what-if/", asked).content.decode()
    assert "28 days later" in text
    said = {**asked, "act_id": str(uuid.uuid4())}
    before = Act.objects.count()
    assert client.post("/what-if/", said).status_code == 302
    assert client.post("/what-if/", said).status_code == 302
    assert Act.objects.count() == before + 1
    assert "20 working days later with everything" in client.get("/what-if/").content.decode()


@pytest.mark.parametrize(
    ("asked", "fault"),
    [
        ("kind=person_away&which=Nemo&days=3", "Nobody here is called Nemo"),
        ("kind=vendor_late&which=PL&days=x", "is no number of days"),
        ("kind=flood&which=PL&days=1", "Choose what happens"),
    ],
)
def test_what_cannot_happen_is_said(shop: Shop, asked: str, fault: str) -> None:
    assert fault in page(shop.lead, f"/what-if/?{asked}")


def test_what_may_not_be_kept(shop: Shop) -> None:
    client = Client()
    client.force_login(shop.owner)
    kept = client.post("/what-if/", {"kind": "bench_more", "which": "moon", "days": "1", "act_id": str(uuid.uuid4())})
    assert kept.status_code in (403, 422)
    client.force_login(shop.lead)
    assert (
        client.post("/what-if/", {"kind": "bench_more", "which": "moon", "act_id": str(uuid.uuid4())}).status_code
        == 422
    )
    assert client.post("/what-if/", {"kind": "person_away", "which": shop.lead.name, "days": "2"}).status_code == 422
    assert not Answer.objects.filter(kind="what if").exists()


def test_the_timeline_has_a_lane_for_each(shop: Shop) -> None:
    text = page(shop.owner, "/timeline/")
    assert 'class="person"' in text and 'class="vendor"' in text
    assert "Strip the fitting 0007" in text


@pytest.mark.parametrize("url", ["/forecast/", "/why/", "/what-if/", "/timeline/"])
def test_signed_out_and_an_empty_record(url: str) -> None:
    assert Client().get(url).status_code == 302
    assert "Load a folder of lists first" in page(Person.objects.create(name="Lead", role="lead"), url)


def test_many_jobs_of_one_person_are_one_cause_and_another_job_is_found_by_its_words(shop: Shop) -> None:
    for n in range(6):
        make_hand_job(shop, f"n{n}", f"Fit rib {n}", "sheet metal")
    plan = make_plan(shop.aircraft)
    last = max((e for e in plan.schedule.entries if e.key.startswith("hand:")), key=lambda e: e.start)
    waits = why(plan, last.key)
    assert waits is not None
    told = causes(plan, waits)
    steps = [step for each in told for step in (each.same or (each.step,))]
    assert steps == list(waits.steps)  # nothing is left out, nothing said twice
    assert any(len(each.same) > 2 and f"has {len(each.same)} jobs to do before it" in each.sentence for each in told)
    text = page(shop.owner, "/why/?find=fit%20rib%205")
    assert '<a class="say" href="?job=hand%3An5%3Ado">Fit rib 5' in text
    assert "No open job has these words." in page(shop.owner, "/why/?find=nothing%20like%20it")


def test_a_what_if_says_what_it_does_to_the_plan_and_to_half_the_chance(shop: Shop) -> None:
    """The end that the forecast names stands in it as it is, and moves as far as the few futures move."""
    foresee(shop.aircraft)
    plan = make_plan(shop.aircraft)
    known = known_forecast(shop.aircraft, plan)
    vendor = next(job.vendor for job in plan.network.jobs if job.vendor)
    told = what_if(plan, Change("vendor_late", vendor, 20))
    assert known is not None and told.ends is not None
    now, then = told.ends
    assert (now.half, now.four_in_five) == (known.outlook.end.half, known.outlook.end.four_in_five)
    moved = (then.half - now.half).days
    assert told.days == 28 and 20 <= moved <= 36
    assert told.sentence.endswith(f"the plan ends 28 days later, and half the chance comes {moved} days later.")
    nothing = replace(told, after=told.before, ends=(now, now))
    assert nothing.sentence.endswith("the plan ends on the same day, and half the chance stays where it is.")
