"""The record's own plan made better: cases worked by hand, and every plan checked by independent code."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import islice

import pytest

from witnessmark.calc.plan.calendars import Bench, Person, Shop
from witnessmark.calc.plan.feasible import breaches
from witnessmark.calc.plan.jobs import Job, Link, Network
from witnessmark.calc.plan.lead_times import Triple
from witnessmark.calc.plan.project import Project
from witnessmark.calc.plan.shop_project import InArrays, better_plans, cost_of, in_arrays
from witnessmark.calc.plan.solve import solve
from witnessmark.calc.plan.yesterday import Wishes

TUESDAY = date(2026, 5, 12)


def hours(h: float) -> Triple:
    return Triple(h, h, h)


ILVA = Person("Ilva", frozenset({"sheet metal", "wood"}))
BRANDT = Person("Brandt", frozenset({"sheet metal"}))
SHOP = Shop(TUESDAY, (ILVA, BRANDT), (Bench("fixture"),))


def last(network, shop, wishes=None, turns=120):
    return list(islice(better_plans(network, shop, wishes), turns))[-1]


def test_the_search_gives_the_wood_to_the_only_one_who_can_do_it():
    # Both do sheet metal, Ilva alone wood. By the longest road the 20 hours of metal go to Brandt or to her; with metal
    # on her first, her two days of wood wait. Best: Brandt 20 + 4, Ilva 16 + 8 hours, all done after three days.
    jobs = (
        Job("m1", "M1.", "sheet metal", hours(20)), Job("m2", "M2.", "sheet metal", hours(8)),
        Job("m3", "M3.", "sheet metal", hours(4)), Job("w1", "W1.", "wood", hours(8)), Job("w2", "W2.", "wood", hours(8)),
    )  # fmt: skip
    network = Network(jobs, ())
    best = last(network, SHOP)
    assert breaches(best.schedule, network, SHOP) == []
    assert best.schedule.finish_date == date(2026, 5, 14)
    assert best.schedule.finish == 2 * 96 + 32 + 32
    assert best.least <= best.schedule.finish and best.over_bound >= 0


def test_a_due_date_goes_before_an_early_end():
    jobs = (
        Job("long", "Long.", "wood", hours(24)),
        Job("after", "After.", vendor="V", days=hours(20)),
        Job("due", "Due.", "wood", hours(8), due=TUESDAY),
    )
    network = Network(jobs, (Link("long", "after"),))
    best = last(network, SHOP)
    assert best.schedule.by_key["due"].finish_date == TUESDAY
    past = replace(jobs[2], due=TUESDAY - timedelta(days=400))
    assert last(Network((*jobs[:2], past), network.links), SHOP).schedule.by_key["due"].finish_date == TUESDAY


def test_primer_follows_the_etching_in_time_or_is_named():
    etch, prime = Job("etch", "Etch.", "wood", hours(2)), Job("prime", "Prime.", "sheet metal", hours(1))
    busy = (
        Job("x", "X.", "sheet metal", hours(7), person="Brandt", priority=5),
        Job("y", "Y.", "wood", hours(5), priority=9),
    )
    only_brandt = replace(prime, person="Brandt")
    network = Network((etch, only_brandt, *busy), (Link("etch", "prime", 0, 2.0),))
    schedule = solve(network, SHOP)
    at = schedule.by_key
    assert breaches(schedule, network, SHOP) == []
    assert 0 <= at["prime"].start - at["etch"].finish <= 8
    never = replace(SHOP, people=(replace(ILVA, weekdays=frozenset({1})), replace(BRANDT, weekdays=frozenset({3}))))
    told = solve(network, never)
    assert breaches(told, network, never) == []
    assert "has to start within 2 hours after: Etch" in dict(told.cannot)["prime"]
    assert "etch" in told.by_key and "x" in told.by_key


def test_the_checker_sees_primer_that_comes_too_late():
    network = Network(
        (Job("etch", "E.", "wood", hours(2)), Job("prime", "P.", "wood", hours(1))), (Link("etch", "prime", 0, 1.0),)
    )
    good = solve(network, SHOP)
    late = replace(
        good,
        entries=tuple(
            replace(e, start=e.start + 16, finish=e.finish + 16) if e.key == "prime" else e for e in good.entries
        ),
    )
    assert "may start 1 after" in " ".join(breaches(late, network, SHOP))


def test_yesterday_is_kept_where_a_job_takes_longer():
    jobs = tuple(
        Job(f"j{n:02}", f"J{n}.", "sheet metal", hours(4), person=("Ilva", "Brandt")[n % 2]) for n in range(12)
    )
    network = Network(jobs, ())
    old = solve(network, SHOP)
    starts = {entry.key: entry.start for entry in old.entries}
    longer = Network((*jobs[:11], replace(jobs[11], hours=hours(9)), Job("new", "New.", "wood", hours(2))), ())
    again = last(longer, SHOP, Wishes(yesterday=starts))
    assert breaches(again.schedule, longer, SHOP) == []
    assert [k for k, t in starts.items() if again.schedule.by_key[k].start != t] == []


def test_an_outside_craftsman_works_without_gaps_where_it_costs_nothing():
    jobs = (
        Job("c1", "C1.", "sheet metal", hours(4), person="Brandt"), Job("c2", "C2.", "sheet metal", hours(4), person="Brandt"),
        Job("w", "W.", "wood", hours(24)), Job("end", "End.", vendor="V", days=hours(30)),
    )  # fmt: skip
    network = Network(jobs, (Link("w", "c2"), Link("w", "end")))
    best = last(network, SHOP, Wishes(continuous=frozenset({"Brandt"})))
    assert breaches(best.schedule, network, SHOP) == []
    assert best.schedule.finish == solve(network, SHOP).finish


def test_arrays_hold_who_may_do_what():
    network = Network(
        (Job("w", "W.", "wood", hours(2), bench="fixture"), Job("o", "O.", vendor="V", days=hours(3))),
        (Link("w", "o", 2.0),),
    )
    arrays = in_arrays(network, SHOP, solve(network, SHOP))
    at = arrays.keys.index("w")
    assert arrays.people == ("Brandt", "Ilva") and arrays.benches == ("fixture",)
    assert arrays.project.choices[at] == ((1, 1),) and arrays.project.needs[at] == ((2, 1),)
    assert arrays.project.links == ((at, 1 - at, 8, -1),)


def test_a_vendor_kept_in_work_costs_what_he_stands_idle_and_two_things_at_once_cost_nothing():
    """By hand: 0 to 40 and 100 to 140 leave 60 quarter-hours idle, 15 hours at a quarter each; side by side none."""
    jobs = tuple(Job(key, key.upper(), vendor="V", days=Triple(1, 1, 1)) for key in "ab")
    arrays = InArrays(Project((40, 40), ((), ()), (), (), 500), ("a", "b"), (), ())
    free, kept = (
        cost_of(arrays, Network(jobs, ()), Wishes(continuous=names)) for names in (frozenset(), frozenset({"V"}))
    )
    for start, idle_hours in (([0, 100], 15), ([100, 0], 15), ([0, 40], 0), ([0, 10], 0)):
        ends = [s + 40 for s in start]
        assert kept(start, ends) - free(start, ends) == pytest.approx(idle_hours * 0.25)
