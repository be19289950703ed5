"""Whatever the network, the schedule can be worked; and it is the same each time."""

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from witnessmark.calc.plan.calendars import Bench, Person, Shop
from witnessmark.calc.plan.feasible import breaches
from witnessmark.calc.plan.jobs import Job, Link, Network
from witnessmark.calc.plan.lead_times import Triple
from witnessmark.calc.plan.reasons import bench_list, order_or_send_now, why_it_waits
from witnessmark.calc.plan.solve import latest_starts, solve

TODAY = date(2026, 5, 12)
CRAFTS = ["sheet metal", "wood", "lead"]
dates = st.integers(0, 20).map(lambda d: TODAY + timedelta(days=d))


@st.composite
def shops(draw):
    people = tuple(
        Person(
            f"P{n}",
            draw(st.frozensets(st.sampled_from(CRAFTS), min_size=1)),
            draw(st.sampled_from([1.5, 4, 8, 10])),
            draw(st.frozensets(st.integers(0, 6), min_size=1)),
            draw(st.frozensets(dates, max_size=4)),
        )
        for n in range(draw(st.integers(0, 4)))
    )
    benches = (Bench("oven", 1), Bench("hall", 2))
    return Shop(
        TODAY + timedelta(days=draw(st.integers(0, 6))), people, benches, draw(st.frozensets(dates, max_size=3))
    )


@st.composite
def networks(draw):
    jobs, links = [], []
    for n in range(draw(st.integers(1, 18))):
        kind = draw(st.sampled_from(["work", "work", "outside", "mark"]))
        length = draw(st.sampled_from([0, 0.3, 2, 7.75, 8, 30]))
        common = {
            "priority": draw(st.integers(0, 2)),
            "release": draw(st.none() | dates),
            "started": draw(st.booleans()),
        }
        if kind == "work":
            bench = draw(st.sampled_from(["", "oven", "hall", "unlisted"]))
            craft, person = draw(st.sampled_from(CRAFTS)), draw(st.sampled_from(["", "", "", "P1"]))
            job = Job(f"j{n}", f"J{n}.", craft, Triple(0, length, 40), bench=bench, person=person, **common)
        elif kind == "outside":
            job = Job(f"j{n}", f"J{n}.", vendor="V", days=Triple(0, length, 40), **common)
        else:
            job = Job(f"j{n}", f"J{n}.", **common)
        jobs.append(job)
        for before in draw(st.frozensets(st.integers(0, n - 1), max_size=3)) if n else ():
            links.append(Link(f"j{before}", f"j{n}", draw(st.sampled_from([0, 0, 1.3, 24]))))
    return Network(tuple(jobs), tuple(links))


@given(networks(), shops())
def test_every_schedule_can_be_worked(network, shop):
    schedule = solve(network, shop)
    assert breaches(schedule, network, shop) == []
    assert solve(network, shop) == schedule
    latest = latest_starts(schedule, network, shop)
    assert all(entry.start <= latest[entry.key] for entry in schedule.entries)
    for job in network.jobs:
        assert why_it_waits(schedule, network, job.key)[-1].because == ""
    bench_list(schedule, network, shop)
    assert all(s.half_by <= s.four_in_five_by for s in order_or_send_now(schedule, network, shop))
