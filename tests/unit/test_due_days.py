"""Days that cannot all be kept: the proof against trying every order by hand."""

from datetime import date
from itertools import permutations

from witnessmark.calc.plan.calendars import Person, Shop
from witnessmark.calc.plan.due_days import cannot_be_kept, late_jobs
from witnessmark.calc.plan.jobs import Job, Link, Network
from witnessmark.calc.plan.lead_times import Triple
from witnessmark.calc.plan.solve import solve

TUESDAY = date(2026, 5, 12)
ILVA, PELL = Person("Ilva", frozenset({"metal"})), Person("Pell", frozenset({"wood"}))
DAY = Triple(8, 8, 8)


def network(*due: int, more: tuple[Job, ...] = ()) -> Network:
    jobs = tuple(Job(f"j{n}", f"Job {n}.", "metal", DAY, due=date(2026, 5, day)) for n, day in enumerate(due))
    return Network((*jobs, *more), ())


def kept_in_some_order(one: Network, shop: Shop) -> bool:
    keys = [job.key for job in one.jobs]
    return any(not late_jobs(one, solve(one, shop, order)) for order in permutations(keys))


def test_two_days_work_for_one_man_cannot_both_be_done_on_the_first_day() -> None:
    shop = Shop(TUESDAY, (ILVA, PELL))
    tight = network(12, 12, 20)
    assert not kept_in_some_order(tight, shop)
    assert cannot_be_kept(tight, shop, solve(tight, shop)) == ("j0", "j1")  # the third has nothing to do with it
    can = network(12, 13, 20)
    assert kept_in_some_order(can, shop)
    assert cannot_be_kept(can, shop, solve(can, shop, ["j2", "j1", "j0"])) == ()  # late in this plan, not in each


def test_what_comes_before_is_counted_and_another_man_is_taken_to_be_there() -> None:
    pins = Job("pins", "Order pins.", vendor="V", days=Triple(5, 5, 5))
    shop = Shop(TUESDAY, (ILVA,))
    waits = Network((*network(15).jobs, pins), (Link("pins", "j0"),))
    assert cannot_be_kept(waits, shop, solve(waits, shop)) == ("j0",)
    two = Shop(TUESDAY, (ILVA, Person("Jorun", frozenset({"metal"}))))
    three = network(12, 12, 12)
    assert not kept_in_some_order(three, two)
    assert (
        cannot_be_kept(three, two, solve(three, two)) == ()
    )  # impossible, but not proved: two can do it, so nobody is counted


def test_what_is_in_time_on_its_day_is_not_late() -> None:
    shop = Shop(TUESDAY, (ILVA,))
    one = network(12)
    assert late_jobs(one, solve(one, shop)) == () and cannot_be_kept(one, shop, solve(one, shop)) == ()
