"""The record's own plan in thousands of futures: when it ends, what that hangs on, and what must leave by when."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import ceil
from typing import Any

import numpy as np

from witnessmark.calc.plan.calendars import DAY, Shop, quarters
from witnessmark.calc.plan.forecast import Futures, Unsure, futures, lengths_of, one_path
from witnessmark.calc.plan.jobs import Job, Network
from witnessmark.calc.plan.lead_times import Triple
from witnessmark.calc.plan.send_by import SendBy, Speed, must_leave, what_speed_wins
from witnessmark.calc.plan.shop_project import InArrays, in_arrays
from witnessmark.calc.plan.solve import Schedule, elapsed
from witnessmark.calc.plan.working_days import days_after

# Common practice, no source: in one opening of four more is found, and it costs the work of that job once more.
HIDDEN_CHANCE, HIDDEN_TIMES = 0.25, 1.0
CHANCES = (0.5, 0.8, 0.95)


@dataclass(frozen=True)
class By:
    """Dates by which something is done: with half the chance, four in five, nineteen in twenty."""

    half: date
    four_in_five: date
    nineteen_in_twenty: date


@dataclass(frozen=True)
class HangsOn:
    """A job the end hangs on. `share`: futures in which it lay on the chain; `weight`: share times its part of the spread."""

    key: str
    what: str
    share: float
    cruciality: float
    weight: float


@dataclass(frozen=True)
class Outlook:
    """The forecast of one plan."""

    today: date
    likely_end: date
    end: By
    one_path_half: date
    one_path_four_in_five: date
    met_by_plan: float
    curve: tuple[tuple[date, float], ...]
    steps: tuple[tuple[str, By], ...]
    hangs_on: tuple[HangsOn, ...]
    send_by: tuple[SendBy, ...]
    futures: int
    shares: tuple[tuple[str, float], ...] = ()  # by job: the share of futures in which the end waited for it
    marks: tuple[tuple[str, By], ...] = ()  # by job: the moments that take no hours, such as a first engine run
    speeds: tuple[Speed, ...] = ()


def unsure_of(job: Job, hidden_chance: float = HIDDEN_CHANCE) -> Unsure:
    """Return how long one job of the record may take.

    Parameters
    ----------
    job : Job
        The job. [-]
    hidden_chance : float
        Chance that what it opens shows more, as learned of its zone. [-]

    Returns
    -------
    Unsure
        Working days for an outside job, quarter-hours else.

    Raises
    ------
    ValueError
        Hours that are not a number.

    Notes
    -----
    Looks, decisions and the opening of a part may find more; a share for that is held back in each future.

    Examples
    --------
    >>> unsure_of(Job("a", "A.", "wood", Triple(1, 2, 4))).triple
    Triple(least=4, likely=8, most=16)

    References
    ----------
    none: counting only.
    """
    if job.is_mark:
        return Unsure(Triple(0, 0, 0))
    if job.is_outside:
        whole = Triple(job.days.least, ceil(job.days.likely), max(job.days.most, ceil(job.days.likely)))
        return Unsure(whole, job.vendor, wait=job.wait)
    hours = [quarters(h) for h in (job.hours.least, job.hours.likely, job.hours.most)]
    opens = job.key.startswith(("finding:", "seam:")) or job.key.endswith((":look", ":off"))
    return Unsure(Triple(*hours), "", hidden_chance if opens else 0.0, HIDDEN_TIMES)


def outlook(
    network: Network,
    shop: Shop,
    schedule: Schedule,
    count: int = 2000,
    seed: int = 1,
    hidden: Mapping[str, float] | None = None,
    faster: Mapping[str, float] | None = None,
) -> Outlook:
    """Return the forecast of a plan.

    Parameters
    ----------
    network : Network
        Jobs and links. [-]
    shop : Shop
        Today, people, benches. [-]
    schedule : Schedule
        The plan; its order ranks the jobs. [-]
    count : int
        Futures. [-]
    seed : int
        Start of the chance. [-]
    hidden : mapping or None
        By job, the chance that what it opens shows more, where its zone has taught one. [-]
    faster : mapping or None
        Working days that a vendor offers for money, by vendor. [working days]

    Returns
    -------
    Outlook
        Dates, curve, what it hangs on, what must leave, what speed wins.

    Raises
    ------
    ValueError
        Nothing is planned.

    Notes
    -----
    The last day to send at a risk is the quantile of the latest send times that move nothing, with the same people in the
    same order. What it gains to pay for speed is reckoned in the same futures.

    Examples
    --------
    >>> from witnessmark.calc.plan.solve import solve
    >>> network = Network((Job("o", "Order bolts.", vendor="V", days=Triple(5, 5, 5)),), ())
    >>> shop = Shop(date(2026, 5, 12), ())
    >>> outlook(network, shop, solve(network, shop), 50).end.half
    datetime.date(2026, 5, 19)

    References
    ----------
    triangular-closed-form, lognormal-closed-form, pert-three-times
    """
    if not schedule.entries:
        raise ValueError("nothing is planned")
    arrays = _longer(network, shop, schedule)
    jobs = [network.by_key[key] for key in arrays.keys]
    unsure = [unsure_of(job, (hidden or {}).get(job.key, HIDDEN_CHANCE)) for job in jobs]
    order = np.arange(len(jobs))
    lengths = lengths_of(unsure, count, seed)
    told = futures(arrays.project, lengths, order)
    path = one_path([_days(job) for job in jobs], [(a, b) for a, b, _, _ in arrays.project.links])
    first, last = np.quantile(told.ends, (0.005, 0.995))
    moments = np.linspace(first, last, 40)
    curve = tuple((_date(shop, moment), float((told.ends <= moment).mean())) for moment in moments)
    return Outlook(
        shop.today,
        schedule.finish_date,
        _by(shop, told.ends),
        _workdays_on(shop, path.by(0.5)),
        _workdays_on(shop, path.by(0.8)),
        float((told.ends <= schedule.finish).mean()),
        curve,
        _steps(shop, jobs, arrays, told),
        _hangs_on(jobs, told),
        must_leave(shop, jobs, told),
        count,
        tuple((jobs[at].key, float(told.critical[at] / count)) for at in np.flatnonzero(told.critical)),
        tuple((job.key, _by(shop, told.finishes[:, at])) for at, job in enumerate(jobs) if job.is_mark),
        what_speed_wins(arrays.project, jobs, told, unsure, order, faster),
    )


@dataclass(frozen=True)
class Beside:
    """One plan's end in the same futures as another's."""

    half: date
    four_in_five: date


def beside(
    plans: Sequence[tuple[Network, Shop, Schedule]],
    count: int = 400,
    seed: int = 1,
    hidden: Mapping[str, float] | None = None,
) -> tuple[Beside, ...]:
    """Return when each of several plans of the same jobs ends, all in the same futures.

    Parameters
    ----------
    plans : sequence of tuple
        Jobs, people and schedule of each. [-]
    count : int
        Futures. [-]
    seed : int
        Start of the chance. [-]
    hidden : mapping or None
        By job, the chance that what it opens shows more. [-]

    Returns
    -------
    tuple of Beside
        One a plan.

    Raises
    ------
    ValueError
        Nothing is planned.

    Notes
    -----
    Common random numbers: in each future every job has the same luck in all plans, so that what is between the ends
    comes from the plans and not from the draw.

    Examples
    --------
    >>> from witnessmark.calc.plan.solve import solve
    >>> shop = Shop(date(2026, 5, 12), ())
    >>> network = Network((Job("o", "Order bolts.", vendor="V", days=Triple(5, 5, 5)),), ())
    >>> beside([(network, shop, solve(network, shop))], 50)[0].half
    datetime.date(2026, 5, 19)

    References
    ----------
    triangular-closed-form, lognormal-lead-time
    """
    found = []
    for network, shop, schedule in plans:
        if not schedule.entries:
            raise ValueError("nothing is planned")
        keys = sorted(network.by_key)
        unsure = [unsure_of(network.by_key[key], (hidden or {}).get(key, HIDDEN_CHANCE)) for key in keys]
        drawn = lengths_of(unsure, count, seed)
        arrays = _longer(network, shop, schedule)
        column = {key: at for at, key in enumerate(keys)}
        lengths = drawn[:, [column[key] for key in arrays.keys]]
        ends = _by(shop, futures(arrays.project, lengths, np.arange(len(arrays.keys))).ends)
        found.append(Beside(ends.half, ends.four_in_five))
    return tuple(found)


def _longer(network: Network, shop: Shop, schedule: Schedule) -> InArrays:
    """The jobs on a grid long enough for late futures."""
    placed = [network.by_key[entry.key] for entry in schedule.entries]
    worst = sum(max(elapsed(job), 1) for job in placed if job.is_outside) * 2 + schedule.finish * 4
    horizon = min(max(worst, 200 * DAY), max(schedule.finish * 5, 1500 * DAY))
    far = max(schedule.entries, key=lambda entry: entry.finish)
    late = replace(far, finish=max(far.finish, horizon * 2 // 3))
    stretched = replace(schedule, entries=tuple(late if e.key == far.key else e for e in schedule.entries))
    return in_arrays(network, shop, stretched)


def _days(job: Job) -> Triple:
    if job.is_outside or job.is_mark:
        return job.days
    return Triple(job.hours.least / 8, job.hours.likely / 8, job.hours.most / 8)


def _date(shop: Shop, moment: float) -> date:
    return shop.date_of(max(0, ceil(moment) - 1))


def _by(shop: Shop, ends: Any) -> By:
    return By(*(_date(shop, float(np.quantile(ends, chance))) for chance in CHANCES))


def _workdays_on(shop: Shop, days: float) -> date:
    return days_after(shop.today, days, shop.holidays)


def _steps(shop: Shop, jobs: list[Job], arrays: InArrays, told: Futures) -> tuple[tuple[str, By], ...]:
    """Steps by their names: each zone done, each moment written by hand, and each job that has a date."""
    zones: dict[str, list[int]] = {}
    for at, job in enumerate(jobs):
        if job.zone:
            zones.setdefault(job.zone, []).append(at)
    found = [
        (f"{zone[:1].upper()}{zone[1:]}: everything done.", _by(shop, told.finishes[:, those].max(axis=1)))
        for zone, those in zones.items()
    ]
    found += [
        (job.what, _by(shop, told.finishes[:, at]))
        for at, job in enumerate(jobs)
        if job.due is not None or (job.is_mark and job.key.startswith("hand:"))
    ]
    return tuple(sorted(found, key=lambda step: (step[1].half, step[0])))


def _hangs_on(jobs: list[Job], told: Futures, most: int = 12) -> tuple[HangsOn, ...]:
    share = told.critical / len(told.ends)
    spans = (told.finishes - told.starts).std(axis=0)
    spread = float(told.ends.std()) or 1.0
    weight = share * spans / spread
    ranked = sorted(np.flatnonzero(share > 0.05), key=lambda at: (-weight[at], -share[at], jobs[at].key))[:most]
    crucial = told.cruciality
    return tuple(
        HangsOn(jobs[at].key, jobs[at].what, float(share[at]), float(crucial[at]), float(weight[at])) for at in ranked
    )
