"""One schedule: the most urgent job that may be placed takes the earliest time at which a person and a bench are free."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from heapq import heapify, heappop, heappush
from typing import Any, Literal

from witnessmark.calc.plan.calendars import DAY, OPENING, Person, Shop, VendorClock, WorkClock, quarters
from witnessmark.calc.plan.jobs import Job, Link, Network

BoundKind = Literal["predecessor", "person", "bench", "release", "kept", "calendar", "today"]


@dataclass(frozen=True)
class Bound:
    """The one thing that kept a job from starting earlier. `which`: a job's key, a person's name, or a date."""

    kind: BoundKind
    which: str = ""


@dataclass(frozen=True)
class Entry:
    """When a job starts and ends, in quarter-hours since midnight before today, and who does it where."""

    key: str
    start: int
    finish: int
    bound_by: Bound
    person: str = ""
    bench: str = ""
    seat: int = 0
    start_date: date = date.min
    finish_date: date = date.min


@dataclass(frozen=True)
class Schedule:
    """All placed jobs by start; and the jobs that cannot be placed, each with a sentence why."""

    today: date
    entries: tuple[Entry, ...]
    cannot: tuple[tuple[str, str], ...] = ()

    @cached_property
    def by_key(self) -> dict[str, Entry]:
        """Entries by key of the job."""
        return {entry.key: entry for entry in self.entries}

    @cached_property
    def finish(self) -> int:
        """End of the last job, in quarter-hours since midnight before today."""
        return max((entry.finish for entry in self.entries), default=0)

    @property
    def finish_date(self) -> date:
        """Day on which the last job ends."""
        return self.today + timedelta(days=self.finish // DAY)


class _Track:
    """What one person or one seat of a bench is taken by: blocks that do not touch, in order; the key ends its block."""

    def __init__(self) -> None:
        self.starts: list[int] = []
        self.ends: list[int] = []
        self.keys: list[str] = []

    def free_from(self, start: int, length: int) -> tuple[int, str]:
        """Earliest start of a free length, and the job whose end it had to wait for."""
        freed_by = ""
        at = bisect_right(self.ends, start)
        while at < len(self.starts) and self.starts[at] < start + length:
            start, freed_by = max(start, self.ends[at]), self.keys[at]
            at += 1
        return start, freed_by

    def take(self, start: int, end: int, key: str) -> None:
        """Take an interval; what touches becomes one block, so that a full year is passed in one step."""
        at = bisect_right(self.starts, start)
        if at < len(self.starts) and self.starts[at] == end:
            end, key = self.ends[at], self.keys[at]
            del self.starts[at], self.ends[at], self.keys[at]
        if at and self.ends[at - 1] == start:
            self.ends[at - 1], self.keys[at - 1] = end, key
            return
        self.starts.insert(at, start)
        self.ends.insert(at, end)
        self.keys.insert(at, key)


def elapsed(job: Job) -> int:
    """Return about how long a job takes by the clock, in quarter-hours, when all is free.

    Parameters
    ----------
    job : Job
        The job. [-]

    Returns
    -------
    int
        8 hours of work or one working day count as 7/5 of a day. [quarter-hours]

    Raises
    ------
    ValueError
        Hours that are not a number.

    Notes
    -----
    Only ranks jobs; no date is made from it.

    Examples
    --------
    >>> from witnessmark.calc.plan.lead_times import Triple
    >>> elapsed(Job("a", "A.", vendor="V", days=Triple(5, 5, 5)))
    672

    References
    ----------
    kolisch-1996
    """
    if job.is_mark:
        return 0
    if job.is_outside:
        return math.ceil(job.days.likely) * DAY * 7 // 5
    return math.ceil(quarters(job.hours.likely) * (DAY / 32) * 7 / 5)


class _Placing:
    """The state of one pass."""

    def __init__(
        self,
        network: Network,
        shop: Shop,
        held: Mapping[str, int],
        barred: Mapping[str, str],
        kept: Mapping[str, int],
    ) -> None:
        self.network, self.shop = network, shop
        self.held, self.barred, self.kept = held, barred, kept
        self.vendor = VendorClock(shop)
        self.people = sorted((p for p in shop.people if p.ever_works), key=lambda p: p.name)
        self.clocks = {p.name: WorkClock(p, shop) for p in self.people}
        self.tracks = {p.name: _Track() for p in self.people}
        self.seats: dict[str, list[_Track]] = {b.name: [_Track() for _ in range(b.capacity)] for b in shop.benches}
        self.placed: dict[str, Entry] = {}
        self.cannot: dict[str, str] = {}
        self._crafts: dict[str, list[Person]] = {}

    def earliest(self, job: Job) -> tuple[int, Bound]:
        """Earliest start by what it waits for, and which of these is the last."""
        start, bound = OPENING, Bound("today")
        if job.release is not None:
            days = (job.release - self.shop.today).days
            if days > 0:
                start, bound = days * DAY + OPENING, Bound("release", job.release.isoformat())
        if self.held.get(job.key, 0) > start:
            start = self.held[job.key]
            kind: BoundKind = "kept" if self.kept.get(job.key) == start else "release"
            bound = Bound(kind, self.shop.date_of(start).isoformat())
        for link in self.network.links_in.get(job.key, ()):
            ready = self.placed[link.before].finish + lag_quarters(link.min_lag_hours)
            if ready > start:
                start, bound = ready, Bound("predecessor", link.before)
        return start, bound

    def who(self, job: Job) -> list[Person]:
        if job.person:
            return [p for p in self.people if p.name == job.person]
        craft = job.craft.casefold()
        if craft not in self._crafts:
            self._crafts[craft] = [p for p in self.people if not craft or craft in {c.casefold() for c in p.crafts}]
        return self._crafts[craft]

    def on_person(self, job: Job, person: Person, earliest: int, bound: Bound) -> Entry:
        clock, track = self.clocks[person.name], self.tracks[person.name]
        length = quarters(job.hours.likely)
        seats = self.seats.setdefault(job.bench, [_Track()]) if job.bench else []
        work = clock.done_by(earliest)
        start = clock.start_of(work)
        # Nights and weekends are no news; only a day on which the shop works and he does not is.
        # What may begin only at closing time begins on the next day, for him as for all.
        if start // DAY > self.vendor.leaves(earliest + 1) // DAY:
            bound = Bound("calendar", person.name)
        seat = 0
        while True:
            work, freed_by = track.free_from(work, length)
            if freed_by:
                bound = Bound("person", freed_by)
            start, finish = clock.start_of(work), clock.end_after(work + length)
            if not seats:
                break
            frees = [s.free_from(start, finish - start) for s in seats]
            seat = min(range(len(seats)), key=lambda i: frees[i][0])
            free, freed_by = frees[seat]
            if free <= start:
                break
            bound = Bound("bench", freed_by)
            work = clock.done_by(free)
        return Entry(job.key, start, finish, bound, person.name, job.bench, seat)

    def place(self, job: Job) -> None:
        if job.key in self.barred:
            self.cannot[job.key] = self.barred[job.key]
            return
        for link in self.network.links_in.get(job.key, ()):
            if link.before in self.cannot:
                self.cannot[job.key] = f"It waits for: {self.network.by_key[link.before].what}"
                return
        earliest, bound = self.earliest(job)
        if job.is_mark:
            self.keep(Entry(job.key, earliest, earliest, bound))
        elif job.is_outside:
            start = self.vendor.leaves(earliest)
            self.keep(Entry(job.key, start, self.vendor.back(start, math.ceil(job.days.likely)), bound))
        else:
            people = self.who(job)
            if not people:
                need = (
                    f"{job.person} has no working time" if job.person else f"nobody here does {job.craft or 'any work'}"
                )
                self.cannot[job.key] = f"It cannot be planned: {need}."
                return
            tried = [self.on_person(job, person, earliest, bound) for person in people]
            best = min(tried, key=lambda e: (e.finish, e.start, e.person))
            clock, length = self.clocks[best.person], quarters(job.hours.likely)
            work = clock.done_by(best.start)
            self.tracks[best.person].take(work, work + length, job.key)
            if job.bench:
                self.seats[job.bench][best.seat].take(best.start, best.finish, job.key)
            self.keep(best)

    def keep(self, entry: Entry) -> None:
        # The end is exclusive: work that ends with the last quarter of a day ends on that day.
        last = max(entry.start, entry.finish - 1)
        self.placed[entry.key] = Entry(
            entry.key, entry.start, entry.finish, entry.bound_by, entry.person, entry.bench, entry.seat,
            self.shop.date_of(entry.start), self.shop.date_of(last),
        )  # fmt: skip


def lag_quarters(hours: float) -> int:
    """Return a cure as whole quarter-hours of the clock, rounded up.

    Parameters
    ----------
    hours : float
        The cure. [hours]

    Returns
    -------
    int
        At least 0. [quarter-hours]

    Raises
    ------
    ValueError
        The hours are not a number.

    Notes
    -----
    0 <= hours.

    Examples
    --------
    >>> lag_quarters(24)
    96

    References
    ----------
    none: counting only.
    """
    return max(0, math.ceil(hours * 4 - 1e-9))


def solve(
    network: Network, shop: Shop, order: Sequence[str] = (), not_before: Mapping[str, int] | None = None
) -> Schedule:
    """Return one feasible schedule by serial generation, the longest remaining road first.

    Parameters
    ----------
    network : Network
        Jobs and links. [-]
    shop : Shop
        Today, people, benches, holidays. [-]
    order : sequence of str
        Keys in the order in which they take what is free; those not named come after. Without it by urgency. [-]
    not_before : mapping or None
        Times before which jobs are not put, by key. [quarter-hours since midnight before today]

    Returns
    -------
    Schedule
        Entries by start, then key; and what cannot be placed.

    Raises
    ------
    Circle
        Jobs wait for one another.

    Notes
    -----
    Order: started jobs; then those with a fixed day and what they wait for; then higher `priority` (a job takes over the priority of what waits for it); then the latest
    finish time; then the key. The likely duration is used, so the end is no date to promise. A bench that the shop
    does not list takes one job at a time; a piece keeps its bench overnight. The same input gives the same schedule.

    Examples
    --------
    >>> shop = Shop(date(2026, 5, 12), (Person("Ilva", frozenset({"sheet metal"})),))
    >>> from witnessmark.calc.plan.lead_times import Triple
    >>> job = Job("a:1:1", "Rivet.", "sheet metal", Triple(8, 12, 16))
    >>> solve(Network((job,), ()), shop).finish_date
    datetime.date(2026, 5, 13)

    References
    ----------
    kolisch-1996
    """
    rank = urgency(network)
    if order:
        place_of = {key: at for at, key in enumerate(order)}
        rank = {key: (place_of.get(key, len(place_of)), *known) for key, known in rank.items()}
    held, barred = dict(not_before or {}), dict[str, str]()
    timed = [link for link in network.links if link.max_lag_hours is not None]
    turn = 0
    while True:
        placing = _one_pass(network, shop, rank, held, barred, not_before or {})
        late = [link for link in timed if _too_late(link, placing.placed)]
        if not late:
            break
        turn += 1
        for link in late:
            before = placing.placed[link.before]
            if turn < MOST_TURNS:
                # The first is held back until the second can follow it, and the second goes right behind it.
                gap = placing.placed[link.after].start - before.finish
                held[link.before] = before.start + gap - int((link.max_lag_hours or 0) * 4)
                rank[link.after] = (*rank[link.before], 1)
            else:
                what = network.by_key[link.before].what.rstrip(".")
                barred[link.after] = (
                    f"It cannot be planned: it has to start within {link.max_lag_hours:g} hours after: {what}; nobody is free then."
                )
    entries = tuple(sorted(placing.placed.values(), key=lambda e: (e.start, e.key)))
    return Schedule(shop.today, entries, tuple(sorted(placing.cannot.items())))


MOST_TURNS = 12
Rank = tuple[Any, ...]


def _too_late(link: Link, placed: Mapping[str, Entry]) -> bool:
    if link.max_lag_hours is None or link.after not in placed:
        return False
    return placed[link.after].start - placed[link.before].finish > link.max_lag_hours * 4


def urgency(network: Network) -> dict[str, Rank]:
    """Return what ranks each job where nothing else does: started, a fixed day, priority, the road that waits behind it.

    Parameters
    ----------
    network : Network
        Jobs and links. [-]

    Returns
    -------
    dict
        Key to a tuple; the least comes first.

    Raises
    ------
    Circle
        Jobs wait for one another.

    Notes
    -----
    A job takes over the priority of what waits for it. Latest finish = end - tail + own time: the longest tail after
    the job comes first.

    Examples
    --------
    >>> urgency(Network((Job("a", "A.", started=True),), ()))
    {'a': (False, True, 0, 0, 'a')}

    References
    ----------
    kolisch-1996
    """
    tail: dict[str, int] = {}
    urgent: dict[str, int] = {}
    for key in reversed(network.in_order):
        job = network.by_key[key]
        out = network.links_out.get(key, ())
        tail[key] = elapsed(job) + max((lag_quarters(k.min_lag_hours) + tail[k.after] for k in out), default=0)
        urgent[key] = max([job.priority, *(urgent[k.after] for k in out)])
    fixed = network.for_fixed_days
    return {
        key: (not job.started, key not in fixed, -urgent[key], elapsed(job) - tail[key], key)
        for key, job in network.by_key.items()
    }


def _one_pass(
    network: Network, shop: Shop, rank: Mapping[str, Rank], held: Mapping[str, int], barred: Mapping[str, str],
    kept: Mapping[str, int],
) -> _Placing:  # fmt: skip
    left = {key: len(network.links_in.get(key, ())) for key in network.in_order}
    ready = [(rank[key], key) for key, count in left.items() if count == 0]
    heapify(ready)
    placing = _Placing(network, shop, held, barred, kept)
    while ready:
        key = heappop(ready)[-1]
        placing.place(network.by_key[key])
        for link in network.links_out.get(key, ()):
            left[link.after] -= 1
            if left[link.after] == 0:
                heappush(ready, (rank[link.after], link.after))
    return placing


def latest_starts(schedule: Schedule, network: Network, shop: Shop) -> dict[str, int]:
    """Return the latest start of each placed job that leaves the end of the schedule where it is.

    Parameters
    ----------
    schedule : Schedule
        Made by `solve` from the same network and shop. [-]
    network : Network
        Jobs and links. [-]
    shop : Shop
        People, benches, holidays. [-]

    Returns
    -------
    dict
        Key to time. [quarter-hours since midnight before today]

    Raises
    ------
    Circle
        Jobs wait for one another.

    Notes
    -----
    Keeps who does what and in which order; another order may allow more. A job that holds a bench overnight may lose
    or gain a night when it moves.

    Examples
    --------
    >>> from witnessmark.calc.plan.lead_times import Triple
    >>> shop = Shop(date(2026, 5, 12), (Person("Ilva", frozenset({"wood"})), Person("Pell", frozenset({"wood"}))))
    >>> both = Network((Job("a", "A.", "wood", Triple(2, 2, 2)), Job("b", "B.", "wood", Triple(1, 1, 1))), ())
    >>> [time - 32 for time in latest_starts(solve(both, shop), both, shop).values()]
    [4, 0]

    References
    ----------
    kolisch-1996
    """
    rank = {key: n for n, key in enumerate(network.in_order)}
    clocks = {p.name: WorkClock(p, shop) for p in shop.people if p.ever_works}
    vendor = VendorClock(shop)
    follow: dict[str, list[str]] = defaultdict(list)
    last: dict[tuple[str, str, int], str] = {}
    for entry in schedule.entries:
        holders = [("person", entry.person, 0)] if entry.person else []
        if entry.bench:
            holders.append(("bench", entry.bench, entry.seat))
        for holder in holders:
            if holder in last:
                follow[last[holder]].append(entry.key)
            last[holder] = entry.key
    latest: dict[str, int] = {}
    for entry in sorted(schedule.entries, key=lambda e: (e.start, rank[e.key]), reverse=True):
        job = network.by_key[entry.key]
        end = min([schedule.finish, *(latest[k] for k in follow.get(entry.key, ()))])
        for link in network.links_out.get(entry.key, ()):
            if link.after in latest:
                end = min(end, latest[link.after] - lag_quarters(link.min_lag_hours))
        if job.is_mark:
            start = end
        elif job.is_outside:
            start = vendor.latest_leave(end, math.ceil(job.days.likely))
        else:
            clock = clocks[entry.person]
            start = clock.start_of(max(0, clock.done_by(end) - quarters(job.hours.likely)))
        latest[entry.key] = max(start, entry.start)
    return latest
