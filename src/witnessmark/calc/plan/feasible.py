"""Whether a schedule can be worked, checked day by day and without the code that made it."""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import timedelta
from math import ceil

from witnessmark.calc.plan.calendars import Person, Shop
from witnessmark.calc.plan.jobs import Job, Network
from witnessmark.calc.plan.solve import Entry, Schedule

_DAY, _OPENING = 96, 32


def breaches(schedule: Schedule, network: Network, shop: Shop) -> list[str]:
    """Return every way in which a schedule breaks the rules, in words; none where it can be worked.

    Parameters
    ----------
    schedule : Schedule
        What is checked. [-]
    network : Network
        Jobs and links. [-]
    shop : Shop
        Today, people, benches, holidays. [-]

    Returns
    -------
    list of str
        Sentences; empty = feasible.

    Raises
    ------
    KeyError
        Never for jobs or people that are unknown: these are breaches.

    Notes
    -----
    Shares no code with the maker of the schedule; the likely durations are checked.

    Examples
    --------
    >>> from datetime import date
    >>> job = Job("a:1:1", "Rivet.", "sheet metal")
    >>> breaches(Schedule(date(2026, 5, 12), ()), Network((job,), ()), Shop(date(2026, 5, 12), ()))
    ['a:1:1 is not planned.']

    References
    ----------
    none: counting only.
    """
    jobs = {job.key: job for job in network.jobs}
    people = {person.name: person for person in shop.people}
    found: list[str] = []
    times = Counter(entry.key for entry in schedule.entries)
    left_out = {key for key, _ in schedule.cannot}
    for key in sorted(jobs):
        if times[key] + (key in left_out) == 0:
            found.append(f"{key} is not planned.")
        elif times[key] + (key in left_out) > 1:
            found.append(f"{key} is planned more than once.")
    found += [f"{key} is no job of the network." for key in sorted(times) if key not in jobs]
    known = [entry for entry in schedule.entries if entry.key in jobs]
    for entry in known:
        found += _one(entry, jobs[entry.key], people, shop)
    at = {entry.key: entry for entry in known}
    for link in network.links:
        if link.after in at and link.before not in at:
            found.append(f"{link.after} is planned, but {link.before}, which it waits for, is not.")
        elif link.after in at and at[link.after].start < at[link.before].finish + ceil(link.min_lag_hours * 4 - 1e-9):
            found.append(f"{link.after} starts before {link.before} is done and cured.")
        elif link.after in at and link.max_lag_hours is not None:
            gap = (at[link.after].start - at[link.before].finish) / 4
            if gap > link.max_lag_hours:
                found.append(
                    f"{link.after} starts {gap:g} hours after {link.before} and may start {link.max_lag_hours:g} after."
                )
    return found + _overlaps(known, shop)


def _one(entry: Entry, job: Job, people: dict[str, Person], shop: Shop) -> list[str]:
    """Breaches of one job by itself: release, person, craft, working time."""
    found: list[str] = []
    first = _OPENING
    if job.release is not None:
        first = max(first, (job.release - shop.today).days * _DAY + _OPENING)
    if entry.start < first:
        found.append(f"{entry.key} starts before it may.")
    nobody = not (job.vendor or job.craft or job.person or job.hours.most)
    if job.vendor or nobody:
        if entry.person:
            found.append(f"{entry.key} needs nobody, yet {entry.person} stands at it.")
        days, need = _vendor_days(entry, shop), ceil(job.days.likely)
        if nobody and entry.finish != entry.start:
            found.append(f"{entry.key} takes time, though nobody works at it.")
        if job.vendor and days < need:
            found.append(f"{entry.key} has {days} working days at {job.vendor} and needs {need}.")
        return found
    person = people.get(entry.person)
    if person is None:
        return [*found, f"{entry.key} has no person."]
    if job.person and job.person != person.name:
        found.append(f"{entry.key} is for {job.person}, not for {person.name}.")
    crafts = {craft.lower() for craft in person.crafts}
    if not job.person and job.craft and job.craft.lower() not in crafts:
        found.append(f"{person.name} does not do {job.craft}: {entry.key}.")
    if job.bench != entry.bench:
        found.append(f"{entry.key} needs {job.bench or 'no bench'}, not {entry.bench or 'none'}.")
    worked, need = _worked(entry, person, shop), max(1, ceil(job.hours.likely * 4 - 1e-9))
    if worked != need:
        found.append(f"{entry.key} has {worked / 4} hours of {person.name}'s working time and needs {need / 4}.")
    for moment in (entry.start, entry.finish - 1):
        if not _works_at(person, moment, shop):
            found.append(f"{person.name} does not work when {entry.key} starts or ends.")
            break
    return found


def _works_on(person: Person, day: int, shop: Shop) -> bool:
    date = shop.today + timedelta(days=day)
    return date.weekday() in person.weekdays and date not in person.absent and date not in shop.holidays


def _works_at(person: Person, moment: int, shop: Shop) -> bool:
    day, within = divmod(moment, _DAY)
    return _works_on(person, day, shop) and _OPENING <= within < _OPENING + int(person.hours_per_day * 4 + 1e-9)


def _worked(entry: Entry, person: Person, shop: Shop) -> int:
    """Quarters of the person's working time between start and finish."""
    hours = int(person.hours_per_day * 4 + 1e-9)
    total = 0
    for day in range(entry.start // _DAY, entry.finish // _DAY + 1):
        if _works_on(person, day, shop):
            opens = day * _DAY + _OPENING
            total += max(0, min(entry.finish, opens + hours) - max(entry.start, opens))
    return total


def _vendor_days(entry: Entry, shop: Shop) -> int:
    """Working days after the day it left, up to the day it is back."""
    days = [shop.today + timedelta(days=d) for d in range(entry.start // _DAY + 1, entry.finish // _DAY + 1)]
    return sum(1 for d in days if d.weekday() < 5 and d not in shop.holidays)


def _overlaps(entries: list[Entry], shop: Shop) -> list[str]:
    """People at two jobs at once, and benches with more jobs than they take."""
    found: list[str] = []
    room = {bench.name: bench.capacity for bench in shop.benches}
    held: dict[tuple[str, str], list[Entry]] = defaultdict(list)
    for entry in entries:
        if entry.person:
            held["person", entry.person].append(entry)
        if entry.bench:
            held["bench", entry.bench].append(entry)
    for (kind, name), those in sorted(held.items()):
        capacity = 1 if kind == "person" else room.get(name, 1)
        now: list[Entry] = []
        for entry in sorted(those, key=lambda e: (e.start, e.finish, e.key)):
            now = [other for other in now if other.finish > entry.start]
            now.append(entry)
            if len(now) > capacity:
                keys = ", ".join(other.key for other in now)
                found.append(f"{name} has {len(now)} jobs at once and takes {capacity}: {keys}.")
    return found
