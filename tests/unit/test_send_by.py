"""What leaves together, against every other way; what speed wins, against futures worked by hand; working days against numpy."""

import doctest
import importlib
from datetime import date, timedelta
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.calc.plan.calendars import Shop
from witnessmark.calc.plan.jobs import Job, Link, Network
from witnessmark.calc.plan.lead_times import Triple
from witnessmark.calc.plan.outlook import outlook
from witnessmark.calc.plan.send_by import RISKS, Goes, SendBy, runs_together
from witnessmark.calc.plan.solve import solve
from witnessmark.calc.plan.working_days import days_after, days_before, on_or_before, working_days

TUESDAY = date(2026, 5, 12)
days = st.integers(0, 400).map(lambda n: TUESDAY + timedelta(days=n))
spans = st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)), min_size=1, max_size=5)


@pytest.mark.parametrize("name", ["send_by", "working_days"])
def test_the_examples_run(name):
    assert doctest.testmod(importlib.import_module(f"witnessmark.calc.plan.{name}")).failed == 0


@given(spans)
def test_no_other_choice_of_days_needs_fewer_runs(spans):
    day = [TUESDAY + timedelta(days=n) for n in range(13)]
    things = [Goes(str(n), "V", day[a], day[a + b]) for n, (a, b) in enumerate(spans)]
    runs = runs_together(things)
    assert sorted(key for run in runs for key in run.keys) == sorted(thing.key for thing in things)
    by_key = {thing.key: thing for thing in things}
    for run in runs:
        assert all(by_key[key].ready <= run.ready <= run.by <= by_key[key].by for key in run.keys)
    # Every choice of a day for each thing within its span: the fewest different days there can be.
    choices = product(*(range(a, a + b + 1) for a, b in spans))
    assert len(runs) == min(len(set(choice)) for choice in choices)


def test_vendors_are_kept_apart_and_what_is_late_leaves_when_it_is_ready():
    things = [Goes("a", "V", TUESDAY, TUESDAY), Goes("b", "W", TUESDAY, TUESDAY),
              Goes("c", "V", date(2026, 6, 1), date(2026, 5, 20))]  # fmt: skip
    assert [(run.keys, run.by) for run in runs_together(things)] == [
        (("a",), TUESDAY), (("b",), TUESDAY), (("c",), date(2026, 6, 1)),
    ]  # fmt: skip


def test_a_smaller_risk_is_an_earlier_day_and_one_nobody_worked_out_takes_the_next_smaller():
    days = tuple((risk, TUESDAY - timedelta(days=n)) for n, risk in enumerate(RISKS))
    one = SendBy("o", "Order.", "V", 0, 1.0, days)
    assert one.at_risk(0.5) == TUESDAY and one.send_by == one.at_risk(0.2) == one.at_risk(0.3)
    assert one.at_risk(0.01) == one.at_risk(0.05) == TUESDAY - timedelta(days=3)


def test_speed_wins_what_lies_between_the_two_ends():
    """Two things one after the other at one vendor, always 10 and 20 working days: at most 5 and 5 are 20 days sooner."""
    jobs = (
        Job("a", "Order A.", vendor="V", days=Triple(10, 10, 10)),
        Job("b", "Order B.", vendor="V", days=Triple(20, 20, 20)),
    )
    network, shop = Network(jobs, (Link("a", "b"),)), Shop(TUESDAY, ())
    told = outlook(network, shop, solve(network, shop), 60, faster={"V": 5})
    won = {speed.key: (speed.half_days, speed.four_days, speed.things) for speed in told.speeds}
    # Tue 12 May + 30 working days is Tue 23 June; + 25, 15 and 10 working days: 16 June, 2 June, 26 May.
    assert won == {"a": (7, 7, 1), "b": (21, 21, 1), "": (28, 28, 2)}
    assert all(speed.asked and speed.days == 5 for speed in told.speeds)
    assert all(s.half_days == 0 for s in outlook(network, shop, solve(network, shop), 60, faster={"V": 30}).speeds)


@given(days, days, st.sets(days, max_size=9))
def test_working_days_are_those_of_numpy(first, last, closed):
    between = np.busday_count(first + timedelta(days=1), last + timedelta(days=1), holidays=sorted(closed))
    assert working_days(first, last, closed) == max(0, int(between))


@given(days, st.integers(0, 60), st.sets(days, max_size=9))
def test_steps_forward_and_back_are_those_of_numpy(day, count, closed):
    holidays = sorted(closed)
    back = np.busday_offset(day, -count, roll="backward", holidays=holidays)
    assert days_before(day, count, closed) == back.astype(date)
    assert on_or_before(day, closed) == np.busday_offset(day, 0, roll="backward", holidays=holidays).astype(date)
    if count:
        assert days_after(day, count, closed) == np.busday_offset(
            on_or_before(day, closed), count, roll="backward", holidays=holidays
        ).astype(date)
        assert working_days(day, days_after(day, count, closed), closed) == count
    assert days_after(day, 0) == day and days_after(day, 0.2) == days_after(day, 1)
