"""Why a job waits, what each person can start today, and what has to leave the shop by when."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from witnessmark.calc.plan.calendars import DAY, OPENING, Shop, VendorClock
from witnessmark.calc.plan.jobs import Job, Network
from witnessmark.calc.plan.solve import Schedule, latest_starts
from witnessmark.calc.plan.working_days import said_day


def spoken_day(day: date, now: date) -> str:
    """Return a day as it is said in the shop.

    Parameters
    ----------
    day : date
        The day. [-]
    now : date
        The day on which it is said. [-]

    Returns
    -------
    str
        Weekday, day, month; the year where it could be mistaken.

    Raises
    ------
    AttributeError
        Not a date.

    Notes
    -----
    English names, whatever the machine's language.

    Examples
    --------
    >>> spoken_day(date(2026, 5, 12), date(2026, 5, 1))
    'Tue 12 May'

    References
    ----------
    none: words only.
    """
    return f"{['Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat', 'Sun'][day.weekday()]} {said_day(day, now, short=True)}"


@dataclass(frozen=True)
class WaitStep:
    """One step back along what bound a start. `key`: the job that waits; `because`: the job in its way, or ""."""

    key: str
    kind: str
    because: str
    sentence: str


@dataclass(frozen=True)
class CanStart:
    """A job that waits for nothing, for one person."""

    key: str
    what: str
    start_date: date
    frees: int
    towards: str
    slack_days: int
    reason: str
    caution: str


@dataclass(frozen=True)
class PersonToday:
    """What one person can do. `planned_work_ends`: the day on which his last planned job ends."""

    person: str
    jobs: tuple[CanStart, ...]
    planned_work_ends: date | None


@dataclass(frozen=True)
class Waiting:
    """A job that cannot start yet, and the walk back to what holds it."""

    key: str
    what: str
    start_date: date | None
    because: tuple[WaitStep, ...]


@dataclass(frozen=True)
class BenchList:
    """The day's work for all, and what waits for what."""

    people: tuple[PersonToday, ...]
    waits: tuple[Waiting, ...]


@dataclass(frozen=True)
class ToLeave:
    """Something that has to leave the shop. `held_by`: jobs that come before it."""

    key: str
    what: str
    vendor: str
    leaves_on: date
    leave_by: date
    slack_days: int
    half_by: date
    four_in_five_by: date
    days_half: int
    days_four_in_five: int
    held_by: tuple[str, ...]
    risk: str


def why_it_waits(schedule: Schedule, network: Network, key: str) -> list[WaitStep]:
    """Return the walk back from a job's start to what holds it in the end.

    Parameters
    ----------
    schedule : Schedule
        Made by `solve`. [-]
    network : Network
        The same network. [-]
    key : str
        Key of the job. [-]

    Returns
    -------
    list of WaitStep
        Nearest cause first; one step where it can start today.

    Raises
    ------
    KeyError
        No such job.

    Notes
    -----
    One cause a step: the last one. Without it the start would be earlier, or held by the next cause.

    Examples
    --------
    >>> job = Job("a", "Decide.", "lead")
    >>> shop = Shop(date(2026, 5, 12), ())
    >>> from witnessmark.calc.plan.solve import solve
    >>> why_it_waits(solve(Network((job,), ()), shop), Network((job,), ()), "a")[0].sentence
    'It cannot be planned: nobody here does lead.'

    References
    ----------
    none: the schedule's own record.
    """
    jobs = network.by_key
    if key not in jobs:
        raise KeyError(key)
    cannot = dict(schedule.cannot)
    steps: list[WaitStep] = []
    while True:
        if key in cannot:
            before = next((k.before for k in network.links_in.get(key, ()) if k.before in cannot), "")
            steps.append(WaitStep(key, "cannot", before, cannot[key]))
            if not before:
                return steps
            key = before
            continue
        entry = schedule.by_key[key]
        kind, which = entry.bound_by.kind, entry.bound_by.which
        if kind in ("today", "release", "kept", "calendar"):
            said = {
                "today": "it can start now",
                "release": f"it may not start before {spoken_day(entry.start_date, schedule.today)}",
                "kept": f"it stays on {spoken_day(entry.start_date, schedule.today)}, where the last plan had it",
                "calendar": f"{which} is not here before {spoken_day(entry.start_date, schedule.today)}",
            }[kind]
            # Who is not here on the day would have been waited for anyway where the job before ended just then.
            before = _last_before(schedule, network, key) if kind == "calendar" else ""
            steps.append(WaitStep(key, kind, before, said[:1].upper() + said[1:] + "."))
            if not before:
                return steps
            key = before
            continue
        other = schedule.by_key[which]
        what = jobs[which].what.rstrip(".")
        ends = spoken_day(other.finish_date, schedule.today)
        if kind == "predecessor":
            lag = max((k.min_lag_hours for k in network.links_in[key] if k.before == which), default=0.0)
            cure = f" and then cures {lag:g} hours" if lag else ""
            sentence = f"It waits for: {what}, which ends on {ends}{cure}."
        elif kind == "person":
            sentence = f"{entry.person} is at: {what}, until {ends}."
        else:
            sentence = f"{entry.bench} is taken by: {what}, until {ends}."
        steps.append(WaitStep(key, kind, which, sentence))
        key = which


def _last_before(schedule: Schedule, network: Network, key: str) -> str:
    """The job before that ended last, where it ended within a week of the start; else nothing."""
    ends = [
        (schedule.by_key[k.before].finish, k.before)
        for k in network.links_in.get(key, ())
        if k.before in schedule.by_key
    ]
    finish, before = max(ends, default=(0, ""))
    return before if finish > schedule.by_key[key].start - 7 * DAY and finish > OPENING else ""


def _towards(network: Network, freed: Iterable[str]) -> str:
    """The last thing downstream: what is freed and has nothing after it."""
    ends = sorted(key for key in freed if not network.links_out.get(key))
    hand = [key for key in ends if key.startswith(("hand:", "seam:"))]
    return network.by_key[(hand or ends)[0]].what if ends else ""


def _reason(frees: int, towards: str, slack_days: int) -> str:
    if not frees:
        return "Nothing waits for it." if slack_days else "Nothing waits for it, but it is among the last to end."
    count = "One job waits" if frees == 1 else f"{frees} jobs wait"
    late = "a day late moves the finish" if slack_days == 0 else f"{slack_days} working days late cost nothing"
    return f"{count} for it, up to: {towards.rstrip('.')}; {late}."


def bench_list(schedule: Schedule, network: Network, shop: Shop, per_person: int = 3, waits: int = 8) -> BenchList:
    """Return what each person can start now, and what waits for what.

    Parameters
    ----------
    schedule : Schedule
        Made by `solve`. [-]
    network : Network
        The same network. [-]
    shop : Shop
        The same shop. [-]
    per_person : int
        Most jobs to name for one person. [-]
    waits : int
        Most waiting jobs to name. [-]

    Returns
    -------
    BenchList
        People by name with their jobs in the order of the plan; waiting jobs, the ones that free most first.

    Raises
    ------
    Circle
        Jobs wait for one another.

    Notes
    -----
    A job can start now when nothing comes before it and its release has come.

    Examples
    --------
    >>> from witnessmark.calc.plan.calendars import Person
    >>> from witnessmark.calc.plan.solve import solve
    >>> shop = Shop(date(2026, 5, 12), (Person("Ilva", frozenset({"lead"})),))
    >>> network = Network((Job("a", "Decide.", "lead"),), ())
    >>> bench_list(solve(network, shop), network, shop).people[0].jobs[0].what
    'Decide.'

    References
    ----------
    none: the schedule's own record.
    """
    latest = latest_starts(schedule, network, shop)
    vendor = VendorClock(shop)
    mine: dict[str, list[CanStart]] = defaultdict(list)
    ends: dict[str, date] = {}
    for entry in schedule.entries:
        if not entry.person:
            continue
        ends[entry.person] = max(entry.finish_date, ends.get(entry.person, entry.finish_date))
        job = network.by_key[entry.key]
        released = job.release is None or job.release <= shop.today
        if network.links_in.get(entry.key) or not released or len(mine[entry.person]) >= per_person:
            continue
        freed = network.freed_by(entry.key)
        slack = vendor.days_between(entry.start, latest[entry.key])
        towards = _towards(network, freed)
        reason = _reason(len(freed), towards, slack)
        mine[entry.person].append(
            CanStart(entry.key, job.what, entry.start_date, len(freed), towards, slack, reason, job.caution)
        )
    people = tuple(
        PersonToday(p.name, tuple(mine.get(p.name, ())), ends.get(p.name))
        for p in sorted(shop.people, key=lambda p: p.name)
    )
    cannot = dict(schedule.cannot)
    held = [job for job in network.jobs if network.links_in.get(job.key) or job.key in cannot] if waits else []
    held.sort(key=lambda job: (-job.priority, -len(network.freed_by(job.key)), job.key))
    told = tuple(
        Waiting(
            job.key,
            job.what,
            schedule.by_key[job.key].start_date if job.key in schedule.by_key else None,
            tuple(why_it_waits(schedule, network, job.key)),
        )
        for job in held[:waits]
    )
    return BenchList(people, told)


def order_or_send_now(schedule: Schedule, network: Network, shop: Shop) -> list[ToLeave]:
    """Return what has to leave the shop, the most pressing first.

    Parameters
    ----------
    schedule : Schedule
        Made by `solve`. [-]
    network : Network
        The same network. [-]
    shop : Shop
        The same shop. [-]

    Returns
    -------
    list of ToLeave
        Outside jobs that have not left, by the latest day on which they may; the two dates count from `leaves_on`.

    Raises
    ------
    Circle
        Jobs wait for one another.

    Notes
    -----
    The latest day keeps the end of the plan where it is, with the likely days. Half the chance and four in five are
    quantiles of what his deliveries taught; without that of his least, likely and most days: triangular, closed form.

    Examples
    --------
    >>> from witnessmark.calc.plan.lead_times import Triple
    >>> from witnessmark.calc.plan.solve import solve
    >>> shop = Shop(date(2026, 5, 12), ())
    >>> network = Network((Job("o", "Order bolts.", vendor="MARL", days=Triple(5, 10, 25)),), ())
    >>> [(s.leave_by.isoformat(), s.days_four_in_five) for s in order_or_send_now(solve(network, shop), network, shop)]
    [('2026-05-12', 18)]

    References
    ----------
    triangular-closed-form
    """
    latest = latest_starts(schedule, network, shop)
    vendor = VendorClock(shop)
    found: list[ToLeave] = []
    for entry in schedule.entries:
        job: Job = network.by_key[entry.key]
        if not job.is_outside or job.away:
            continue
        half, most = job.days_by(0.5), job.days_by(0.8)
        slack = vendor.days_between(entry.start, latest[entry.key])
        # Late by what four in five allow, beyond what the plan counts on and what it can spare.
        late = most - math.ceil(job.days.likely) - slack
        risk = (
            f"In one case of five it costs {late} working days or more." if late > 0 else "Four in five arrive in time."
        )
        found.append(
            ToLeave(
                job.key, job.what, job.vendor, entry.start_date, shop.date_of(latest[entry.key]), slack,
                shop.date_of(vendor.back(max(entry.start, OPENING), half)),
                shop.date_of(vendor.back(max(entry.start, OPENING), most)), half, most,
                tuple(sorted(link.before for link in network.links_in.get(entry.key, ()))), risk,
            )
        )  # fmt: skip
    return sorted(found, key=lambda s: (s.leave_by, s.leaves_on, s.key))
