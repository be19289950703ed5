"""Forecast, why, what if and timeline: what each says, and every refusal."""

import os
import subprocess
import sys
import uuid
from pathlib import Path

import pytest
from django.test import Client

from tests.records.shop import Shop, make_part, make_shop
from tests.support.rows import make_hand_job, make_steps
from witnessmark.records.actions.forecast import foresee
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
