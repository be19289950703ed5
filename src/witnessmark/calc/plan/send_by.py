"""What has to leave by when at which risk, what may leave together, and what speed would win: all in the same futures."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from math import ceil
from typing import TYPE_CHECKING, Any

from witnessmark.calc.plan.calendars import DAY, Shop
from witnessmark.calc.plan.jobs import Job
from witnessmark.calc.plan.working_days import on_or_before

if TYPE_CHECKING:
    from witnessmark.calc.plan.forecast import Futures, Unsure
    from witnessmark.calc.plan.project import Project

# Chances to be too late that can be chosen: one in two, in five, in ten, in twenty.
RISKS = (0.5, 0.2, 0.1, 0.05)
USUAL_RISK = 0.2
# How many futures speed is tried in, and for how many of the things that the end hangs on most.
TRIED_FUTURES, TRIED_THINGS = 300, 6


@dataclass(frozen=True)
class SendBy:
    """Something to order or send. `by_risk`: the latest day that leaves the end where it is, for each chance to be late."""

    key: str
    what: str
    vendor: str
    slack_days: int
    share: float
    by_risk: tuple[tuple[float, date], ...]

    @property
    def send_by(self) -> date:
        """The latest day at the usual risk."""
        return self.at_risk(USUAL_RISK)

    def at_risk(self, risk: float) -> date:
        """The latest day at the greatest of the known risks that is not above this one; else at the least there is."""
        return max((r, day) for r, day in self.by_risk if r <= max(risk, self.by_risk[-1][0]) + 1e-9)[1]


@dataclass(frozen=True)
class Speed:
    """What the end wins where one thing, or all that is at a vendor or goes to him, takes at most so many working days.

    `key` is empty for all of a vendor. `asked`: the days are those he offers for money; else they are the least he takes.
    `half_days` and `four_days`: days of the calendar by which half the chance, and four in five, come earlier.
    """

    key: str
    what: str
    vendor: str
    things: int
    days: float
    asked: bool
    half_days: int
    four_days: int


@dataclass(frozen=True)
class Goes:
    """Something that may leave from one day on, and has to by another."""

    key: str
    vendor: str
    ready: date
    by: date


@dataclass(frozen=True)
class Run:
    """What goes to one vendor together: all of it is ready on the one day, and has to leave by the other."""

    vendor: str
    keys: tuple[str, ...]
    ready: date
    by: date


def runs_together(things: Iterable[Goes]) -> list[Run]:
    """Return as few runs as keep every latest day, vendor by vendor.

    Parameters
    ----------
    things : iterable of Goes
        What has to leave. [-]

    Returns
    -------
    list of Run
        By their latest days; a thing that nothing goes with is a run of its own.

    Raises
    ------
    none

    Notes
    -----
    What is most pressing leaves on its last day, and all that is ready by then goes along; so on with the rest. No
    other choice of days needs fewer: each first of a run is ready only after the last day of the run before. What
    cannot be ready by its last day leaves when it is ready.

    Examples
    --------
    >>> day = lambda d: date(2026, 5, d)
    >>> three = [Goes("a", "V", day(1), day(8)), Goes("b", "V", day(6), day(20)), Goes("c", "V", day(12), day(13))]
    >>> [run.keys for run in runs_together(three)]
    [('a', 'b'), ('c',)]

    References
    ----------
    none: counting only.
    """
    runs: list[Run] = []
    waiting: dict[str, list[Goes]] = {}
    for thing in things:
        waiting.setdefault(thing.vendor, []).append(thing)
    for vendor, those in waiting.items():
        left = sorted(those, key=lambda t: (max(t.by, t.ready), t.key))
        while left:
            last = max(left[0].by, left[0].ready)
            along = [t for t in left if t.ready <= last]
            runs.append(Run(vendor, tuple(t.key for t in along), max(t.ready for t in along), last))
            left = [t for t in left if t.ready > last]
    return sorted(runs, key=lambda run: (run.by, run.vendor))


def must_leave(shop: Shop, jobs: Sequence[Job], told: Futures) -> tuple[SendBy, ...]:
    """Return the latest days on which outside jobs that have not left may leave.

    Parameters
    ----------
    shop : Shop
        Today and holidays. [-]
    jobs : sequence of Job
        In the order of the futures' columns. [-]
    told : Futures
        What became of the plan. [-]

    Returns
    -------
    tuple of SendBy
        By their days at the usual risk.

    Raises
    ------
    ValueError
        No future.

    Notes
    -----
    In each future a latest day is the last that moves nothing, with the same people in the same order; the day at a
    risk is the quantile of these.

    Examples
    --------
    >>> RISKS[0]
    0.5

    References
    ----------
    none: counting only.
    """
    import numpy as np

    found = []
    for at, job in enumerate(jobs):
        if not job.is_outside or job.away:
            continue
        latest = np.quantile(told.latest[:, at], RISKS)
        slack = float(np.quantile(told.latest[:, at], USUAL_RISK)) - float(np.quantile(told.starts[:, at], 0.5))
        days = tuple(
            (risk, on_or_before(shop.date_of(int(late)), shop.holidays, shop.today))
            for risk, late in zip(RISKS, latest, strict=True)
        )
        share = float(told.critical[at] / len(told.ends))
        found.append(SendBy(job.key, job.what, job.vendor, max(0, int(slack / DAY)), share, days))
    return tuple(sorted(found, key=lambda one: (one.send_by, one.key)))


def what_speed_wins(
    project: Project,
    jobs: Sequence[Job],
    told: Futures,
    unsure: Sequence[Unsure],
    order: Any,
    faster: Mapping[str, float] | None = None,
) -> tuple[Speed, ...]:
    """Return what the end wins by speed, for single things and for all of a vendor, the most first.

    Parameters
    ----------
    project : Project
        The plan's jobs in arrays. [-]
    jobs : sequence of Job
        In the order of its numbers. [-]
    told : Futures
        What became of the plan. [-]
    unsure : sequence of Unsure
        How long each job may take. [-]
    order : array
        Jobs by rank. [-]
    faster : mapping or None
        Working days that a vendor offers for money, by vendor. [working days]

    Returns
    -------
    tuple of Speed
        Of what the end hangs on in more than one future of twenty.

    Raises
    ------
    ValueError
        No future.

    Notes
    -----
    The first 300 futures are worked through again with those times cut to the days offered, or to the least; all else
    has the same luck. A list of jobs can end later when one of them is sooner: less than nothing is said as nothing.

    Examples
    --------
    >>> TRIED_FUTURES
    300

    References
    ----------
    none: counting only.
    """
    import numpy as np

    from witnessmark.calc.plan.forecast import futures

    some = min(len(told.ends), TRIED_FUTURES)
    now = np.quantile(told.ends[:some], (0.5, 0.8))
    share = told.critical / len(told.ends)
    hang = [at for at, job in enumerate(jobs) if job.is_outside and share[at] > 0.05]
    hang = sorted(hang, key=lambda at: (-share[at], jobs[at].key))[:TRIED_THINGS]
    offered = faster or {}

    def won(those: Sequence[int]) -> tuple[int, int]:
        lengths = told.lengths[:some].copy()
        for at in those:
            lengths[:, at] = np.minimum(lengths[:, at], max(1, ceil(days_of(at))))
        then = np.quantile(futures(project, lengths, order).ends, (0.5, 0.8))
        half, four = (max(0, round(float(days))) for days in (now - then) / DAY)
        return half, four

    def days_of(at: int) -> float:
        return offered.get(jobs[at].vendor, float(unsure[at].triple.least))

    found = [
        Speed(jobs[at].key, jobs[at].what, jobs[at].vendor, 1, days_of(at), jobs[at].vendor in offered, *won([at]))
        for at in hang
    ]
    for vendor in dict.fromkeys(jobs[at].vendor for at in hang):
        those = [at for at, job in enumerate(jobs) if job.vendor == vendor]
        if len(those) > 1:
            least = max(days_of(at) for at in those)
            found.append(Speed("", "", vendor, len(those), least, vendor in offered, *won(those)))
    return tuple(sorted(found, key=lambda s: (-s.half_days, -s.four_days, s.vendor, s.key)))
