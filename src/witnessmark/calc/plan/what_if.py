"""What if: something changes, and the plan is made again beside the one that is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Literal

from witnessmark.calc.plan.calendars import OPENING, Bench, Shop
from witnessmark.calc.plan.jobs import Job, Network
from witnessmark.calc.plan.lead_times import Triple
from witnessmark.calc.plan.reasons import WaitStep, why_it_waits
from witnessmark.calc.plan.solve import Schedule, solve

Kind = Literal["vendor_late", "person_away", "job_late", "bench_more"]


@dataclass(frozen=True)
class Change:
    """One thing that may happen. `which`: vendor, person, job key or bench; `days`: working days, or days away."""

    kind: Kind
    which: str
    days: int = 0


def changed(network: Network, shop: Shop, change: Change) -> tuple[Network, Shop]:
    """Return network and shop as they would be.

    Parameters
    ----------
    network : Network
        Jobs and links. [-]
    shop : Shop
        Today, people, benches. [-]
    change : Change
        What happens. [-]

    Returns
    -------
    tuple of Network and Shop
        The same but for the change.

    Raises
    ------
    ValueError
        There is no such vendor, person, job or bench, or the days are less than one.

    Notes
    -----
    A vendor that is late is late with all that he has and will get. Somebody away is away from today on.

    Examples
    --------
    >>> from datetime import date
    >>> network = Network((Job("o", "Order.", vendor="V", days=Triple(5, 5, 5)),), ())
    >>> changed(network, Shop(date(2026, 5, 12), ()), Change("vendor_late", "V", 20))[0].jobs[0].days.likely
    25

    References
    ----------
    none: counting only.
    """
    if change.kind != "bench_more" and change.days < 1:
        raise ValueError("a delay is one day at least")
    if change.kind == "vendor_late":
        if all(job.vendor != change.which for job in network.jobs):
            raise ValueError(f"nothing waits for a vendor {change.which}")
        return _jobs(
            network,
            {j.key: _later(j, change.days) for j in network.jobs if j.vendor == change.which},
        ), shop
    if change.kind == "person_away":
        if all(person.name != change.which for person in shop.people):
            raise ValueError(f"nobody here is called {change.which}")
        away = frozenset(shop.today + timedelta(days=d) for d in range(change.days))
        people = tuple(replace(p, absent=p.absent | away) if p.name == change.which else p for p in shop.people)
        return network, replace(shop, people=people)
    if change.kind == "job_late":
        job = network.by_key.get(change.which)
        if job is None:
            raise ValueError(f"there is no job {change.which}")
        first = max(job.release or shop.today, shop.today) + timedelta(days=change.days)
        return _jobs(network, {job.key: replace(job, release=first)}), shop
    known = {bench.name: bench for bench in shop.benches}
    if not change.which:
        raise ValueError("name the bench or fixture")
    if change.which not in known and all(job.bench != change.which for job in network.jobs):
        raise ValueError(f"there is no bench or fixture {change.which}")
    more = Bench(change.which, known[change.which].capacity + 1 if change.which in known else 2)
    return network, replace(shop, benches=(*(b for b in shop.benches if b.name != change.which), more))


def _jobs(network: Network, other: dict[str, Job]) -> Network:
    return Network(tuple(other.get(job.key, job) for job in network.jobs), network.links, network.unknown_after)


def _later(job: Job, more: int) -> Job:
    days = Triple(job.days.least + more, job.days.likely + more, job.days.most + more)
    return replace(job, days=days, wait=job.wait and replace(job.wait, more=job.wait.more + more))


@dataclass(frozen=True)
class Shorter:
    """What would let a job, or all, end earlier: said, and by how many days of the calendar, found by planning again without it."""

    said: str
    days: int


@dataclass(frozen=True)
class Waits:
    """Why a job waits: the chain, nearest cause first, and what would shorten it, the most first."""

    key: str
    what: str
    steps: tuple[WaitStep, ...]
    shorter: tuple[Shorter, ...]


def last_job(schedule: Schedule) -> str:
    """Return the key of the job that ends last.

    Parameters
    ----------
    schedule : Schedule
        The plan. [-]

    Returns
    -------
    str
        Key, or "" where nothing is planned.

    Raises
    ------
    none

    Notes
    -----
    Of several the first by key.

    Examples
    --------
    >>> from datetime import date
    >>> last_job(Schedule(date(2026, 5, 12), ()))
    ''

    References
    ----------
    none: counting only.
    """
    return min(schedule.entries, key=lambda entry: (-entry.finish, entry.key)).key if schedule.entries else ""


def why_and_what_helps(schedule: Schedule, network: Network, shop: Shop, key: str, tries: int = 4) -> Waits:
    """Return why a job waits and what would bring its end forward, by planning again without each cause.

    Parameters
    ----------
    schedule : Schedule
        The plan. [-]
    network : Network
        The same network. [-]
    shop : Shop
        The same shop. [-]
    key : str
        Key of the job. [-]
    tries : int
        How many causes are tried. [-]

    Returns
    -------
    Waits
        Chain and what helps; nothing that does not help.

    Raises
    ------
    KeyError
        No such job.

    Notes
    -----
    A vendor's job is tried in its least days, a job of the shop in half its hours, a full bench with one more place, a
    busy person with a second like him, a wait for a date without it. Only what was found earlier in a new plan is said.

    Examples
    --------
    >>> from datetime import date
    >>> shop = Shop(date(2026, 5, 12), ())
    >>> network = Network((Job("o", "Order bolts.", vendor="V", days=Triple(2, 9, 9)),), ())
    >>> why_and_what_helps(solve(network, shop), network, shop, "o").shorter[0].days
    11

    References
    ----------
    none: the schedule's own record.
    """
    steps = tuple(why_it_waits(schedule, network, key))
    if key not in schedule.by_key:
        return Waits(key, network.by_key[key].what, steps, ())
    order = [entry.key for entry in schedule.entries]
    # Laid again without the cause and with nothing kept on its day: what that alone brings is no merit of the cause.
    as_it_is = solve(network, shop, order)
    now = min(schedule.by_key[key].finish, as_it_is.by_key[key].finish if key in as_it_is.by_key else OPENING)
    found = []
    for said, other, there in _without(schedule, network, shop, key, steps)[:tries]:
        again = solve(other, there, order)
        gained = (now - again.by_key[key].finish) // 96 if key in again.by_key else 0
        if gained > 0:
            found.append(Shorter(said, gained))
    return Waits(key, network.by_key[key].what, steps, tuple(sorted(found, key=lambda s: (-s.days, s.said))))


def _without(
    schedule: Schedule, network: Network, shop: Shop, key: str, steps: tuple[WaitStep, ...]
) -> list[tuple[str, Network, Shop]]:
    """Each cause along the chain taken away by itself, the longest waits first."""
    tried: dict[str, tuple[int, Network, Shop]] = {}
    for at in dict.fromkeys([key, *(step.because for step in steps if step.because)]):
        job, entry = network.by_key[at], schedule.by_key[at]
        what, long = job.what.rstrip("."), entry.finish - entry.start
        if job.is_outside and job.days.likely > job.days.least:
            faster = replace(job, days=Triple(job.days.least, job.days.least, job.days.least))
            tried[f"{what} in {job.days.least:g} working days instead of {job.days.likely:g}"] = (
                long,
                _jobs(network, {at: faster}),
                shop,
            )
        elif not job.is_outside and not job.is_mark:
            half = job.hours.likely / 2
            tried[f"{what} in half the hours"] = (
                long // 2,
                _jobs(network, {at: replace(job, hours=Triple(half, half, half))}),
                shop,
            )
    for step in steps:
        if step.key not in schedule.by_key:
            continue
        entry = schedule.by_key[step.key]
        wait = 10**6 - len(tried)
        if step.kind == "bench":
            tried[f"One more place at {entry.bench}"] = (
                wait,
                *changed(network, shop, Change("bench_more", entry.bench)),
            )
        elif step.kind == "person":
            like = next(p for p in shop.people if p.name == entry.person)
            second = replace(like, name=f"{like.name} (a second)")
            free = _jobs(network, {step.key: replace(network.by_key[step.key], person="")})
            tried[f"A second one like {like.name}"] = (wait, free, replace(shop, people=(*shop.people, second)))
        elif step.kind == "release":
            free = _jobs(network, {step.key: replace(network.by_key[step.key], release=None)})
            tried[f"{network.by_key[step.key].what.rstrip('.')}: no waiting for a date"] = (wait, free, shop)
    return [(said, other, there) for said, (_, other, there) in sorted(tried.items(), key=lambda t: -t[1][0])]
