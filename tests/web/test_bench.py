"""On the bench: the foreman says what to do, and hears how it stands."""

import uuid

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.records.shop import Shop, make_part, make_shop
from tests.support.pages import words
from tests.support.rows import make_finding, make_hand_job, make_row, make_size, make_steps
from witnessmark.records.lookups import plan
from witnessmark.records.models import JobSaid, Person, Step

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    Person.objects.create(name="Ruun", role="inspector", craft="inspection")
    Person.objects.update(days="Mon-Sun")  # the tests run on any day
    part = make_part(shop, "0007", shop.shelf)
    part.zones.add(shop.zone)
    make_steps(part, ("Strip", "sheet metal"), ("Cadmium plate", "PL"), ("Prime", "sheet metal"))
    return shop


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def key(shop: Shop, number: int = 1) -> str:
    return f"piece:{Step.objects.filter(number=number).first().piece_id}:{number}"  # type: ignore[union-attr]


def test_it_speaks_first_and_says_one_thing_to_do_now(shop: Shop) -> None:
    page = signed_in(shop.mechanic).get("/")
    text = page.content.decode()
    assert page.status_code == 200
    assert "Mechanic runs dry" in text
    assert text.count('class="now"') == 1
    assert "Strip the fitting 0007, tag 0007." in text
    assert "The hull bottom cannot be closed," in text
    assert "the fitting 0007 has still to go to Plater and come back" in text


def test_a_signed_in_mechanic_stands_first(shop: Shop) -> None:
    Person.objects.create(name="Anna", role="mechanic", craft="wood", days="Mon-Sun")
    text = signed_in(shop.mechanic).get("/").content.decode()
    assert text.index(f"person-{shop.mechanic.pk}") < text.index("Anna,")


def test_logged_out_it_asks_who_is_there(shop: Shop) -> None:
    page = Client().get("/")
    assert page.status_code == 302
    assert page["Location"].startswith("/sign-in/")


def test_an_empty_record_says_what_to_do_first() -> None:
    person = Person.objects.create(name="Lead", role="lead")
    text = signed_in(person).get("/").content.decode()
    assert "The record is empty." in text


def test_started_stuck_and_done_are_said_once(shop: Shop) -> None:
    client, act_id = signed_in(shop.mechanic), str(uuid.uuid4())
    for _ in range(2):
        page = client.post("/", {"act_id": act_id, "key": key(shop), "status": "started"})
        assert page.status_code == 302
    assert JobSaid.objects.count() == 1
    assert "It is begun." in client.get("/").content.decode()
    client.post("/", {"act_id": str(uuid.uuid4()), "key": key(shop), "status": "stuck", "note": "no stripper"})
    assert "no stripper" in client.get("/").content.decode()
    client.post("/", {"act_id": str(uuid.uuid4()), "key": key(shop), "status": "done"})
    assert Step.objects.get(number=1).done_act is not None
    assert "Send the fitting 0007, tag 0007, to Plater" in client.get("/").content.decode()


def test_the_owner_reads_and_does_not_write(shop: Shop) -> None:
    client = signed_in(shop.owner)
    assert "Started" not in client.get("/").content.decode()
    page = client.post("/", {"act_id": str(uuid.uuid4()), "key": key(shop), "status": "started"})
    assert page.status_code == 403
    assert "may read this, not change it" in page.content.decode()
    assert not JobSaid.objects.exists()


@pytest.mark.parametrize(
    ("form", "why"),
    [
        ({"status": "started"}, "no number of its own"),
        ({"act_id": "x", "status": "started"}, "no number of its own"),
        ({"act_id": str(uuid.UUID(int=1)), "status": "finished"}, "A job is open, started"),
        ({"act_id": str(uuid.UUID(int=2)), "status": "stuck"}, "Say because of what"),
        ({"act_id": str(uuid.UUID(int=3)), "status": "started", "key": "piece:0:1"}, "no longer there"),
    ],
)
def test_a_bad_form_is_refused_in_words(shop: Shop, form: dict[str, str], why: str) -> None:
    page = signed_in(shop.mechanic).post("/", {"key": key(shop), **form})
    assert page.status_code == 422
    assert why in page.content.decode()
    assert not JobSaid.objects.exists()


def test_rows_not_looked_at_come_before_the_order(shop: Shop) -> None:
    shop.vendor.likely_days, shop.vendor.most_days = 90, 120
    shop.vendor.save()
    size = make_size(shop)
    make_row(shop, "C2", size)
    make_row(shop, "C3", size, looked_at="under paint")
    text = signed_in(shop.lead).get("/").content.decode()
    assert "Look at row C3 left before the rivet order leaves" in text
    assert "Held until row C3 left is looked at." in text
    assert "Four in five" in text


def test_a_plan_that_did_not_pass_its_check_is_not_shown(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plan, "breaches", lambda *_: ["Mechanic has 2 jobs at once and takes 1."])
    plan._solved.cache_clear()
    text = words(signed_in(shop.mechanic).get("/"))
    plan._solved.cache_clear()
    assert "did not pass its own check" in text
    assert "Mechanic has 2 jobs at once" in text
    assert "Strip the fitting" not in text
    assert "Do this now" not in text


def test_the_number_of_queries_does_not_grow(shop: Shop) -> None:
    client, size = signed_in(shop.mechanic), make_size(shop)

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            client.get("/")
        return len(seen)

    def more(n: int) -> None:
        part = make_part(shop, f"T{n}", shop.shelf)
        part.zones.add(shop.zone)
        make_steps(part, ("Strip", "sheet metal"), ("Cadmium plate", "PL"), ("Prime", "sheet metal"))
        make_row(shop, f"C{n}", size, 5, looked_at="yes" if n % 2 else "no")
        make_finding(shop, f"F-{n}", piece=part)
        make_hand_job(shop, f"H-{n}", "Turn bushes", "machining", zone=shop.zone)

    more(0)
    more(1)
    few = queries()
    for n in range(2, 9):
        more(n)
    assert queries() == few
