"""Everything at once that a record can hold wrong: each is named where people look, and the plan of all else still comes."""

import argparse
import json
import uuid
from datetime import date

import pytest

from tests.records.shop import Shop, make_part, make_shop
from tests.support.pages import client, words
from tests.support.rows import make_hand_job, make_steps
from witnessmark.cli import plan as command
from witnessmark.records.lookups.plan import make_plan, weekdays
from witnessmark.records.models import DayOff, Holder, HolderKind, HoursBooked, Person, Vendor

pytestmark = pytest.mark.django_db
TUESDAY = date(2026, 5, 12)
CIRCLE = (
    "Fit the keel waits for ",
    "Drill the keel waits for ",
    "That is a circle: the plan leaves one of these waits out",
)
NAMED = (
    *CIRCLE,
    "nobody here does weaving",
    "Slow Forge names no time.",
    "Sign the papers: it was due on 1 April 2026, 41 days ago.",
    "Never has no working day, so nothing is planned for Never.",
    "Odd works on 'sometimes': that names no day of the week, so Monday to Friday is planned.",
)


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    shop.aircraft.today = TUESDAY
    shop.aircraft.save()
    at = Holder.objects.create(kind=HolderKind.VENDOR, name="Slow Forge")
    Vendor.objects.create(code="SF", name="Slow Forge", least_days=0, likely_days=0, most_days=0, holder=at)
    Person.objects.create(name="Never", role="mechanic", craft="wood", days="none")
    Person.objects.create(name="Odd", role="mechanic", craft="paint", days="sometimes")
    make_hand_job(shop, "a", "Fit the keel", after=["b"])
    make_hand_job(shop, "b", "Drill the keel", after=["a"])
    make_hand_job(shop, "c", "Weave the fabric", "weaving")
    make_hand_job(shop, "d", "Sew the fabric on", after=["c"])
    make_hand_job(shop, "e", "Sign the papers", due=date(2026, 4, 1))
    make_hand_job(shop, "f", "Carve the rib", "wood")
    make_hand_job(shop, "g", "Paint the door", "paint")
    make_steps(make_part(shop, "0007", shop.shelf), ("Forge anew", "SF"), ("Fit", "sheet metal"))
    return shop


def test_each_is_named_on_the_screen_and_all_else_is_planned(shop: Shop) -> None:
    plan = make_plan(shop.aircraft)
    assert plan.proved
    text = words(client(shop.mechanic).get("/plan/"))
    assert [said for said in NAMED if said not in text] == []
    left_out = {"hand:c:do", "hand:d:do", "hand:f:do"}  # nobody weaves, what waits for it, nobody is there for wood
    assert {key for key, _ in plan.schedule.cannot} == left_out
    assert set(plan.schedule.by_key) == set(plan.network.by_key) - left_out
    starts = sorted(plan.schedule.by_key[f"hand:{name}:do"].start for name in "ab")
    assert starts[0] < starts[1]  # one of the two waits gives way, the other stands
    assert client(shop.mechanic).get("/").status_code == 200
    assert text.count("Sign the papers: ") == 1  # a day gone by is named once
    for screen in ("/order-or-send/", "/timeline/", "/forecast/", "/why/", "/what-if/", "/other-work/", "/plan/?all=1"):
        assert client(shop.mechanic).get(screen).status_code == 200, screen


def test_where_nobody_has_a_working_day_each_is_named_and_what_is_outside_is_still_planned(shop: Shop) -> None:
    Person.objects.update(days="none")
    plan = make_plan(shop.aircraft)
    assert plan.proved
    assert {plan.network.by_key[key].vendor for key in plan.schedule.by_key} - {""} == {"Slow Forge"}
    assert not any(entry.person for entry in plan.schedule.entries)
    text = words(client(shop.lead).get("/plan/"))
    for person in plan.people:
        assert f"{person.name} has no working day, so nothing is planned for {person.name}." in text
    assert "Forge anew" in text
    for screen in ("/", "/order-or-send/", "/timeline/", "/forecast/", "/why/", "/what-if/", "/other-work/"):
        assert client(shop.lead).get(screen).status_code == 200, screen


def test_the_command_names_the_same(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    assert command.run(argparse.Namespace(json=True)) == 0
    told = json.loads(capsys.readouterr().out)
    said = " ".join(told["faults"] + [each["why"] for each in told["cannot"]])
    assert [each for each in NAMED if each not in said] == []
    assert told["proved"] is True and len(told["jobs"]) == len(make_plan(shop.aircraft).schedule.entries)
    assert command.run(argparse.Namespace(json=False)) == 0
    said = capsys.readouterr().out
    assert [each for each in NAMED if each not in said] == []


def test_hours_booked_twice_are_asked_and_then_count_once_each(shop: Shop) -> None:
    me = client(shop.mechanic)

    def book(**more: str) -> str:
        form = {"act_id": str(uuid.uuid4()), "do": "hours", "hours": "3", **more}
        return words(me.post("/job/hand:e:do/", form, follow=True))

    assert "3 hours are booked" in book()
    assert "3 hours of Mechanic are booked on this job for 12 May already. Nothing was changed." in book()
    assert HoursBooked.objects.count() == 1
    assert "That makes 25 hours of Mechanic on one day." in book(hours="22", again="yes")
    assert "6 hours are booked" in book(again="yes")
    plan = make_plan(shop.aircraft)
    assert plan.proved and plan.network.by_key["hand:e:do"].hours.likely < 2  # what is worked is not planned again


def test_a_shop_that_is_closed_for_a_year_opens_again(shop: Shop) -> None:
    days = [date.fromordinal(TUESDAY.toordinal() + n) for n in range(366)]
    DayOff.objects.bulk_create(DayOff(day=day, why="closed") for day in days)
    plan = make_plan(shop.aircraft)
    assert plan.proved and plan.schedule.by_key["hand:e:do"].start_date == date(2027, 5, 13)


@pytest.mark.parametrize(("text", "days"), [("none", 0), (" Never ", 0), ("", 5), ("sometimes", 5), ("Sat-Mon", 3)])
def test_days_that_cannot_be_read_are_those_of_most(text: str, days: int) -> None:
    assert len(weekdays(text)) == days
