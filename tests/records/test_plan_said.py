"""Days as they are said, and what the commands print as JSON."""

import argparse
import json
import math
from datetime import date

import pytest

from tests.records.shop import Shop, make_part, make_shop
from tests.support.rows import make_row, make_size, make_steps
from witnessmark.calc.plan.lead_times import lead_time_distribution
from witnessmark.calc.plan.working_days import working_days
from witnessmark.cli import bench_list, order, plan
from witnessmark.cli.main import NotSo
from witnessmark.records.lookups.plan import here_by, spoken, weekdays
from witnessmark.records.models import DayOff, Person

TUESDAY = date(2026, 5, 12)


@pytest.mark.parametrize(
    ("day", "said"),
    [
        (date(2026, 5, 12), "today"),
        (date(2026, 5, 13), "tomorrow"),
        (date(2026, 5, 15), "on Friday"),
        (date(2026, 5, 18), "on Monday"),
        (date(2026, 5, 19), "on Tuesday week"),
        (date(2026, 5, 21), "on Thursday week"),
        (date(2026, 6, 3), "on 3 June"),
        (date(2027, 1, 4), "on 4 January 2027"),
    ],
)
def test_a_day_is_said_as_in_the_shop(day: date, said: str) -> None:
    assert spoken(day, TUESDAY) == said


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("Mon-Fri", {0, 1, 2, 3, 4}),
        ("Tue,Thu", {1, 3}),
        ("Sat-Mon", {5, 6, 0}),
        ("mon - fri", {0, 1, 2, 3, 4}),
        ("", {0, 1, 2, 3, 4}),
        ("sometimes", {0, 1, 2, 3, 4}),
    ],
)
def test_days_somebody_works_are_read(text: str, days: set[int]) -> None:
    assert weekdays(text) == days


def test_working_days_are_monday_to_friday() -> None:
    assert working_days(TUESDAY, date(2026, 5, 19)) == 5
    assert working_days(TUESDAY, date(2026, 5, 10)) == 0


def test_what_a_vendor_says_gives_two_dates() -> None:
    """Least 8, likely 15, most 45 and no delivery: a lognormal of his words alone, its quantiles by scipy's Student t."""
    from scipy import stats

    middle, most = stats.norm.ppf(0.5), stats.norm.ppf(0.95)
    spread = (math.sqrt(most**2 + 4 * math.log(45 / 15)) - most) / 2  # mode 15, nineteen of twenty under 45
    scale = spread * most / stats.t(8).ppf(0.95)
    half, four = (math.exp(math.log(15) + spread**2 + scale * stats.t(8).ppf(p)) for p in (0.5, 0.8))
    assert middle == 0 and 19 < half < 20 and 27 < four < 31
    time = lead_time_distribution(8, 15, 45)
    here = here_by(time, TUESDAY)
    assert working_days(TUESDAY, here.half) == math.ceil(half)
    assert working_days(TUESDAY, here.four_in_five) == math.ceil(four)
    assert here_by(time, TUESDAY, [date(2026, 5, 14)]).half > here.half


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    Person.objects.create(name="Ruun", role="inspector", craft="inspection", days="Mon-Sun")
    Person.objects.update(days="Mon-Sun")
    part = make_part(shop, "0007", shop.shelf)
    part.zones.add(shop.zone)
    make_steps(part, ("Strip", "sheet metal"), ("Cadmium plate", "PL"), ("Prime", "sheet metal"))
    make_row(shop, "C2", make_size(shop))
    return shop


def told(capsys: pytest.CaptureFixture[str]) -> dict[str, object]:
    said: dict[str, object] = json.loads(capsys.readouterr().out)
    return said


@pytest.mark.django_db
def test_the_commands_print_json_alone(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    assert bench_list.run(argparse.Namespace(json=True, person="mechanic")) == 0
    said = told(capsys)
    assert said["proved"] is True
    assert [p["name"] for p in said["people"]] == ["Mechanic"]  # type: ignore[attr-defined]
    assert order.run(argparse.Namespace(json=True, wanted_by=None)) == 0
    assert told(capsys)["count"] == 94
    assert plan.run(argparse.Namespace(json=True)) == 0
    said = told(capsys)
    assert {job["what"] for job in said["jobs"]} >= {"Strip the fitting 0007, tag 0007."}  # type: ignore[attr-defined]


@pytest.mark.django_db
def test_the_commands_speak(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    for command in (bench_list, order, plan):
        assert command.run(argparse.Namespace(json=False, person="", wanted_by=None)) == 0
    out = capsys.readouterr().out
    assert "Do this now, Mechanic: " in out
    assert "94  VN12-3.0 × 8 mm: 84 holes + 10 spares; C2 left 84" in out
    assert "it leaves no room for lateness" in out


@pytest.mark.django_db
def test_nobody_of_that_name_and_an_empty_record_exit_1(capsys: pytest.CaptureFixture[str]) -> None:
    for command in (bench_list, order, plan):
        with pytest.raises(NotSo, match="The record is empty"):  # what the frame turns into exit 1 and its JSON
            command.run(argparse.Namespace(json=True, person="", wanted_by=None))
    make_shop()
    with pytest.raises(NotSo, match="Nobody called Nobody works here"):
        bench_list.run(argparse.Namespace(json=False, person="Nobody"))
    assert capsys.readouterr().out == ""


@pytest.mark.django_db
def test_a_day_off_keeps_a_mechanic_from_the_bench(shop: Shop) -> None:
    from witnessmark.records.lookups.bench import bench_today
    from witnessmark.records.lookups.day import today

    DayOff.objects.create(day=today(shop.aircraft), person=shop.mechanic, why="ill")
    (mechanic,) = [m for m in bench_today(shop.aircraft).mechanics if m.person == shop.mechanic]
    assert not mechanic.here_today
