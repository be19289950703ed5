"""The record's network and the shop as one project in arrays, and the search for its best plan."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import timedelta
from math import ceil
from typing import Any

import numpy as np

from witnessmark.calc.plan.calendars import DAY, OPENING, Shop, VendorClock, WorkClock, quarters
from witnessmark.calc.plan.jobs import Network
from witnessmark.calc.plan.project import ALWAYS, VENDOR, Project
from witnessmark.calc.plan.solve import Schedule, lag_quarters, solve
from witnessmark.calc.plan.yesterday import Course, Wishes, carried_on, given_to, started_first


@dataclass(frozen=True)
class InArrays:
    """A project with what its numbers stand for. People are the first resources, benches come after them."""

    project: Project
    keys: tuple[str, ...]
    people: tuple[str, ...]
    benches: tuple[str, ...]


def in_arrays(network: Network, shop: Shop, first: Schedule, not_before: Mapping[str, int] | None = None) -> InArrays:
    """Return the jobs that a first schedule could place, in arrays with room for schedules half as long again.

    Parameters
    ----------
    network : Network
        Jobs and links. [-]
    shop : Shop
        People, benches, holidays. [-]
    first : Schedule
        One schedule of the same network. [-]
    not_before : mapping or None
        Times before which jobs are not put, by key. [quarter-hours since midnight before today]

    Returns
    -------
    InArrays
        One unit is a quarter-hour of the clock, as in the schedule.

    Raises
    ------
    ValueError
        Jobs wait for one another.

    Notes
    -----
    A job of the shop may be done by anybody who does its craft; a named one by him alone.

    Examples
    --------
    >>> from datetime import date
    >>> from witnessmark.calc.plan.jobs import Job
    >>> from witnessmark.calc.plan.lead_times import Triple
    >>> network = Network((Job("o", "Order.", vendor="V", days=Triple(1, 2, 3)),), ())
    >>> shop = Shop(date(2026, 5, 12), ())
    >>> in_arrays(network, shop, solve(network, shop)).project.duration
    (2,)

    References
    ----------
    none: counting only.
    """
    keys = tuple(entry.key for entry in first.entries)
    number = {key: at for at, key in enumerate(keys)}
    horizon = (first.finish // DAY + 1) * DAY * 3 // 2 + 30 * DAY
    people = tuple(sorted(p.name for p in shop.people if p.ever_works))
    known = {p.name: p for p in shop.people}
    benches = tuple(sorted({entry.bench for entry in first.entries if entry.bench}))
    seats = {bench.name: bench.capacity for bench in shop.benches}
    opens = tuple(_open_quarters(WorkClock(known[name], shop), horizon) for name in people)
    crafts = {name: {craft.casefold() for craft in known[name].crafts} for name in people}
    duration, needs, calendar, release, choices, due = [], [], [], [], [], []
    for key in keys:
        job = network.by_key[key]
        begin = OPENING
        if job.release is not None:
            begin = max(begin, (job.release - shop.today).days * DAY + OPENING)
        release.append(max(begin, (not_before or {}).get(key, 0)))
        due.append(horizon if job.due is None else max(0, (job.due - shop.today).days + 1) * DAY)
        if job.is_mark:
            duration.append(0)
        else:
            duration.append(ceil(job.days.likely) if job.is_outside else quarters(job.hours.likely))
        calendar.append(VENDOR if job.is_outside else ALWAYS)
        inside = not (job.is_mark or job.is_outside)
        needs.append(((len(people) + benches.index(job.bench), 1),) if inside and job.bench else ())
        able = [
            at
            for at, name in enumerate(people)
            if (name == job.person if job.person else not job.craft or job.craft.casefold() in crafts[name])
        ]
        choices.append(tuple((at, at) for at in able) if inside else ())
    links = tuple(
        (number[k.before], number[k.after], lag_quarters(k.min_lag_hours), -1 if k.max_lag_hours is None else int(k.max_lag_hours * 4))
        for k in network.links
        if k.before in number and k.after in number
    )  # fmt: skip
    capacity = (1,) * len(people) + tuple(seats.get(name, 1) for name in benches)
    project = Project(
        tuple(duration), tuple(needs), capacity, links, horizon, tuple(calendar), opens, tuple(release), tuple(choices),
        tuple(due), vendor=_vendor_times(shop, horizon),
    )  # fmt: skip
    return InArrays(project, keys, people, benches)


def _open_quarters(clock: WorkClock, horizon: int) -> Any:
    work = clock.done_by(horizon)
    starts = [clock.start_of(k) for k in range(0, work, 1)] if work else []
    return np.array(starts, np.int32)


def _vendor_times(shop: Shop, horizon: int) -> tuple[Any, Any, Any]:
    clock = VendorClock(shop)
    days = horizon // DAY + 2
    works = [(shop.today + timedelta(days=d)).weekday() < 5 and shop.today + timedelta(days=d) not in shop.holidays for d in range(days)]  # fmt: skip
    number = np.cumsum([0, *works[:-1]])
    opening = [d * DAY + OPENING for d in range(days) if works[d]]
    while len(opening) < days + 2000:
        opening.append(10 * horizon)
    leave = np.array([clock.leaves(d * DAY + h) for d in range(days) for h in (OPENING, DAY - 1)], np.int64)
    units = np.arange(horizon + 1)
    within = units % DAY
    early, late = leave[0::2][units // DAY], leave[1::2][units // DAY]
    same_day = (early // DAY == units // DAY) & (within <= 64)
    leaves = np.where(within > 64, late, np.where(same_day, np.maximum(early, units), early))
    return np.minimum(leaves, horizon), number[units // DAY], np.array(opening)


def cost_of(arrays: InArrays, network: Network, wishes: Wishes) -> Callable[[Any, Any], float]:
    """Return what a schedule costs: late days first, then its end, then changes, gaps and how late the urgent end.

    Parameters
    ----------
    arrays : InArrays
        The project. [-]
    network : Network
        Jobs with priorities. [-]
    wishes : Wishes
        What is weighed. [-]

    Returns
    -------
    callable
        Cost of starts and ends. [hours]

    Raises
    ------
    KeyError
        A key that the network does not have.

    Notes
    -----
    A day late counts `late_hours` for each job that has a due date, times one and its priority. The mean end of all jobs
    counts a little, so that of two plans with one end the one that has more done early is taken.

    Examples
    --------
    >>> cost_of(InArrays(Project((4,), ((),), (), (), 9, due=(2,)), ("a",), (), ()), Network((), ()), Wishes())([0], [4]) > 1
    True

    References
    ----------
    none: counting only.
    """
    project, keys = arrays.project, arrays.keys
    due = np.array(project.due or [project.horizon] * project.size)
    priority = np.array([network.by_key[key].priority if key in network.by_key else 0 for key in keys])
    dated = np.flatnonzero(due < project.horizon)
    old = wishes.yesterday or {}
    near = [(j, old[key]) for j, key in enumerate(keys) if old.get(key, 10**9) < wishes.steady_days * DAY]
    steady = np.array([j for j, _ in near], np.int64)
    before = np.array([t for _, t in near], np.int64)
    of_one = [
        np.array([j for j in range(project.size) if project.choices and project.choices[j] == ((at, at),)], np.int64)
        for at, name in enumerate(arrays.people)
        if name in wishes.continuous
    ]
    vendor_of = [network.by_key[key].vendor if key in network.by_key else "" for key in keys]
    of_one += [
        np.array([j for j, vendor in enumerate(vendor_of) if vendor == name], np.int64)
        for name in sorted(wishes.continuous.intersection(vendor_of) - {""})
    ]
    urgent = 1 + np.maximum(priority, 0)

    def cost(start: Any, finish: Any) -> float:
        start, finish = np.asarray(start), np.asarray(finish)
        late = float((np.maximum(finish[dated] - due[dated], 0) / DAY * urgent[dated]).sum()) if len(dated) else 0.0
        moved = float((np.abs(start[steady] - before) > 0).sum()) if len(steady) else 0.0
        gaps = sum(_nothing_to_do(start[js], finish[js]) / 4 for js in of_one if len(js))
        end = float(finish.max(initial=0)) / 4
        middle = float((finish * urgent).sum()) / float(urgent.sum()) / 4 if len(finish) else 0.0
        return late * wishes.late_hours + end + moved * wishes.moved_hours + gaps * wishes.gap_hours + middle * 0.02

    return cost


def _nothing_to_do(start: Any, finish: Any) -> float:
    """Time between somebody's first job and his last in which he has none; a vendor may have several at once."""
    by_start = np.argsort(start, kind="stable")
    busy_until = np.maximum.accumulate(finish[by_start])[:-1]
    return float(np.maximum(start[by_start][1:] - busy_until, 0).sum())


@dataclass(frozen=True)
class SoFar:
    """The best plan so far and how it is laid, after so many passes; `least`: an end proved to be the least, in quarter-hours."""

    schedule: Schedule
    passes: int
    least: int
    course: Course = field(default_factory=Course)

    @property
    def over_bound(self) -> float:
        """How far the end lies over the proven bound, as a share of the time from now."""
        return max(0.0, self.schedule.finish / self.least - 1) if self.least else 0.0


def better_plans(network: Network, shop: Shop, wishes: Wishes | None = None, seed: int = 1) -> Iterator[SoFar]:
    """Yield plans of the record's network, the first at once, then the best so far as long as it is asked for more.

    Parameters
    ----------
    network : Network
        Jobs and links. [-]
    shop : Shop
        Today, people, benches, holidays. [-]
    wishes : Wishes or None
        Yesterday's plan, continuous work. [-]
    seed : int
        Start of the chance. [-]

    Returns
    -------
    iterator of SoFar
        Never worse than the one before.

    Raises
    ------
    Circle
        Jobs wait for one another.

    Notes
    -----
    The engine searches orders; each better one is placed again by `solve`, job by job, so that what is shown has its
    reasons and is checked like any other. With a plan of yesterday the first answer is its order, mended.

    Examples
    --------
    >>> from datetime import date
    >>> from witnessmark.calc.plan.jobs import Job
    >>> next(better_plans(Network((Job("a", "A."),), ()), Shop(date(2026, 5, 12), ()))).passes
    0

    References
    ----------
    kolisch-1996
    """
    wishes = wishes or Wishes()
    course = carried_on(network, shop, wishes)
    kept = dict(course.held)
    free, network = network, given_to(network, dict(course.given), shop)
    first = solve(network, shop, course.order, kept)
    if not first.entries:
        yield SoFar(first, 0, 0, course)
        return
    arrays = in_arrays(network, shop, first, kept)
    from witnessmark.calc.plan.bounds import least_finish

    # No plan can end earlier, not even one that moves all that is kept back.
    least = least_finish(in_arrays(free, shop, first).project if kept else arrays.project)
    price = cost_of(arrays, network, wishes)
    best, lowest = first, _priced(first, arrays, price)
    yield SoFar(best, 0, least, course)
    from witnessmark.calc.plan.improve import improved

    at_engine = float("inf")
    for placed in improved(arrays.project, seed, price, (np.arange(arrays.project.size),)):
        now = price(placed.start, placed.finish)
        if now < at_engine and now < lowest:
            at_engine = now
            order = started_first(network, [arrays.keys[j] for j in placed.order])
            tried = solve(network, shop, order, kept)
            cost = _priced(tried, arrays, price)
            if cost < lowest and len(tried.cannot) <= len(best.cannot):
                best, lowest, course = tried, cost, replace(course, order=tuple(order))
        yield SoFar(best, placed.passes, least, course)


def _priced(schedule: Schedule, arrays: InArrays, price: Callable[[Any, Any], float]) -> float:
    at = schedule.by_key
    if any(key not in at for key in arrays.keys):
        return float("inf")
    return price(np.array([at[k].start for k in arrays.keys]), np.array([at[k].finish for k in arrays.keys]))
