"""One question, one day: screens, papers and commands name the same last day to leave, and the same day to be back."""

import argparse
import json
import re
import shutil
import uuid
from datetime import date
from pathlib import Path

import pytest
from django.test import Client

import witnessmark.demo
from tests.support.pages import client, words
from witnessmark.calc.plan.working_days import said_day
from witnessmark.cli import outside as outside_command
from witnessmark.exchange.load import load
from witnessmark.papers import bench_list
from witnessmark.papers.typesetting import short_day
from witnessmark.records.actions.forecast import foresee
from witnessmark.records.actions.jobs import say_of_job, take_back_word
from witnessmark.records.lookups.bench import bench_today
from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.lookups.forecast import known_forecast
from witnessmark.records.lookups.plan import Plan, make_plan
from witnessmark.records.lookups.promises import promises
from witnessmark.records.lookups.sending import order_or_send
from witnessmark.records.lookups.vendor_times import vendor_times
from witnessmark.records.models import Aircraft, JobSaid, Person

pytestmark = pytest.mark.django_db
LISTS = Path(witnessmark.demo.__file__).parent / "lists"


@pytest.fixture
def aircraft(tmp_path: Path) -> Aircraft:
    """The demo's lists without their pictures, and its forecast."""
    folder = shutil.copytree(LISTS, tmp_path / "lists")
    (folder / "photos.csv").unlink()
    load(folder)
    found = the_aircraft()
    assert found is not None
    assert foresee(found) is not None
    return found


def rows(page: str) -> list[str]:
    """The rows of the page's tables in plain words."""
    return [re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", row)) for row in re.findall(r"<tr.*?</tr>", page, re.DOTALL)]


def lead(aircraft: Aircraft) -> Client:
    return client(Person.objects.filter(role="lead").first())  # type: ignore[arg-type]


def test_the_demo_names_one_day_for_one_question_everywhere(
    aircraft: Aircraft, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = make_plan(aircraft)
    leaves(aircraft, plan)
    comes_back(aircraft, plan, capsys)
    taken_back(aircraft, plan)
    grown_old(aircraft, make_plan(aircraft))


def leaves(aircraft: Aircraft, plan: Plan) -> None:
    """What has to leave: bench, its paper, order or send, job, why, by hand, plan and forecast."""
    me, now = lead(aircraft), plan.shop.today
    told = order_or_send(plan, aircraft)
    assert told.fresh and len(told.leaving) > 50
    by = {each.key: each.by for each in told.leaving}
    # It is the futures that are asked: for some the plan alone would name another day.
    assert any(each.leave_by != by[each.key] for each in plan.solved.to_leave)
    known = known_forecast(aircraft, plan)
    assert known is not None
    assert all(by[one.key] == max(now, one.send_by) for one in known.outlook.send_by if one.key in by)
    bench = bench_today(aircraft)
    assert len(bench.to_send) > 5
    for send in bench.to_send:
        assert send.leave_by == min(by[key] for key in send.keys)
    (page,) = [page for page in bench_list.gather(aircraft).pages if page.leaves]
    assert [each.leave_by for each in page.leaves] == [short_day(each.leave_by) for each in bench.to_send]
    seen = rows(me.get("/").content.decode())
    for send in [each for each in bench.to_send if each.slack_days <= 20][:8]:
        day = f"{send.leave_by:%a} {said_day(send.leave_by, now, short=True)}"
        assert any(day in row and send.what in row for row in seen), send
    sent, forecast = rows(me.get("/order-or-send/").content.decode()), rows(me.get("/forecast/").content.decode())
    planned = rows(me.get("/plan/?all=1").content.decode())
    for each in told.leaving[:12]:
        day = f"{each.by:%a} {said_day(each.by, now, short=True)}"
        assert any(day in row and each.what.rstrip(".") in row for row in sent), each
        assert any(day in row and each.what.rstrip(".") in row for row in forecast), each
        assert any(f"At the latest {day}" in row and each.what.rstrip(".") in row for row in planned), each
        last = f"{each.by:%A} {said_day(each.by, now)} at the latest."
        here = f"half the chance it is here by {said_day(each.half_by, now)}, four in five by {said_day(each.four_in_five_by, now)}."
        for link in (f"/job/{each.key}/", f"/why/?job={each.key}", f"/by-hand/{each.key}/"):
            text = words(me.get(link))
            assert last in text and here in text, link


def comes_back(aircraft: Aircraft, plan: Plan, capsys: pytest.CaptureFixture[str]) -> None:
    """What is out: plan, promises, craftsmen, job and why."""
    me, now = lead(aircraft), plan.shop.today
    out = [row for row in promises(now, vendor_times(now)) if row.came_on is None]
    assert len(out) > 8
    promised, outside = rows(me.get("/promises/").content.decode()), words(me.get("/outside/"))
    assert outside_command.run(argparse.Namespace(vendor=None, json=True)) == 0
    at = {has["shipment"]: has for each in json.loads(capsys.readouterr().out)["craftsmen"] for has in each["has"]}
    compared = 0
    for row in out:
        assert row.half_by is not None and row.four_in_five_by is not None
        half, four = said_day(row.half_by, now), said_day(row.four_in_five_by, now)
        short = [said_day(day, now, short=True) for day in (row.half_by, row.four_in_five_by)]
        assert any(row.number in line and all(day in line for day in short) for line in promised), row
        key = f"shipment:{row.number}:back" if row.kind == "shipment" else f"order:{row.number}:arrive"
        if row.kind == "shipment":
            assert at[row.number]["likely_done"] == row.half_by.isoformat()
            assert at[row.number]["four_in_five_by"] == row.four_in_five_by.isoformat()
            assert f"back by {half}, half the chance" in outside and f"four in five by {four}" in outside
        if key not in plan.schedule.by_key:  # ordered with a shipment: that comes back once
            continue
        compared += 1
        assert plan.schedule.by_key[key].finish_date == row.half_by, row
        said = f"Half the chance it is here by {half}, four in five by {four}"
        for link in (f"/job/{key}/", f"/why/?job={key}"):
            assert said in words(me.get(link)), link
    assert compared > 8
    # What has been out longest is the hardest: the promise, and the wait after so long, in one distribution.
    longest = min(out, key=lambda row: row.went_on)
    assert (now - longest.went_on).days > 200 and longest.half_by is not None and longest.promised_on is not None
    assert longest.half_by >= longest.promised_on


def taken_back(aircraft: Aircraft, plan: Plan) -> None:
    """The record as it was has the forecast it had, on the bench as on the other screens."""
    before = {each.key: each.by for each in order_or_send(plan, aircraft).leaving}
    key = next(can.key for some in plan.solved.can_start.values() for can in some)
    by = Person.objects.filter(role="lead").first()
    assert by is not None
    say_of_job(by=by, act_id=uuid.uuid4(), aircraft=aircraft, key=key, status="stuck", note="the drill is broken")
    foresee(aircraft)
    take_back_word(by=by, act_id=uuid.uuid4(), aircraft=aircraft, word=JobSaid.objects.get())
    told = order_or_send(make_plan(aircraft), aircraft)
    days = {each.key: each.by for each in told.leaving}
    assert days.keys() == before.keys()
    for send in bench_today(aircraft).to_send:
        assert send.leave_by == min(days[key] for key in send.keys)


def grown_old(aircraft: Aircraft, plan: Plan) -> None:
    """The last day of a forecast of some weeks ago is today at the earliest, and it is said that it is old."""
    later = max(each.by for each in order_or_send(plan, aircraft).leaving)
    Aircraft.objects.update(today=later)
    aircraft.refresh_from_db()
    told = order_or_send(make_plan(aircraft), aircraft)
    assert told.fresh is False
    assert all(each.by >= later for each in told.leaving)
    assert {each.leave_by for each in bench_today(aircraft).to_send} <= {each.by for each in told.leaving}


def test_a_day_has_its_year_where_it_could_be_mistaken() -> None:
    now = date(2026, 5, 12)
    assert [said_day(day, now) for day in (date(2026, 10, 1), date(2026, 11, 30), date(2025, 12, 31))] == [
        "1 October", "30 November 2026", "31 December 2025",
    ]  # fmt: skip
