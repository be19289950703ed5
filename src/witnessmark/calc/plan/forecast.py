"""Thousands of futures of a plan: half the chance by, four in five by, and what the end hangs on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from witnessmark.calc.plan.lead_times import PRIOR_DELIVERIES, Triple, Wait
from witnessmark.calc.plan.project import ALWAYS, Project

# Common practice, no source: how much all hours of a job go wrong together, and all times of one vendor together
# (standard deviation of the logarithm). Without a common factor the late end of a forecast is far too near.
COMMON_WORK, COMMON_VENDOR = 0.15, 0.2
BLOCK = 1000


@dataclass(frozen=True)
class Unsure:
    """How long a job may take: least, likely, most in units of its calendar. `vendor`: whose delay it shares, or ""."""

    triple: Triple
    vendor: str = ""
    # Chance that more is found once it is open, and how many times its own likely length that costs.
    hidden_chance: float = 0.0
    hidden_times: float = 0.0
    # What the vendor's deliveries taught: drawn from in place of the triple.
    wait: Wait | None = None


@dataclass(frozen=True)
class Futures:
    """Ends and, by job, starts and ends of all futures; how often each job lay on the chain that bound the end."""

    ends: Any
    starts: Any
    finishes: Any
    latest: Any
    lengths: Any
    critical: Any

    def by(self, chance: float, job: int | None = None) -> float:
        """The time by which the end, or a job, is reached with a chance."""
        return float(np.quantile(self.ends if job is None else self.finishes[:, job], chance))

    @cached_property
    def cruciality(self) -> Any:
        """Rank correlation (Spearman) of each job's length with the end; 0 where it never varies."""
        lengths = self.lengths
        rank_of_ends = _ranks(self.ends)
        found = np.zeros(lengths.shape[1])
        for job in np.flatnonzero(self.critical > 0):
            column = lengths[:, job]
            if column.min() < column.max() and self.ends.min() < self.ends.max():
                found[job] = np.corrcoef(_ranks(column), rank_of_ends)[0, 1]
        return found


def _ranks(values: Any) -> Any:
    """Ranks with ties shared."""
    _, inverse, counts = np.unique(values, return_inverse=True, return_counts=True)
    return (np.cumsum(counts) - (counts - 1) / 2)[inverse]


def lengths_of(unsure: Sequence[Unsure], count: int, seed: int) -> Any:
    """Return sampled lengths.

    Parameters
    ----------
    unsure : sequence of Unsure
        One a job. [units]
    count : int
        Futures. [-]
    seed : int
        Start of the chance. [-]

    Returns
    -------
    array
        Lengths, shape (count, jobs), whole units. [units]

    Raises
    ------
    ValueError
        No future is asked for.

    Notes
    -----
    Triangle of least, likely, most, times a factor common to all work of the shop or to all times of a vendor. A `wait` is
    drawn from its own curve, past what is gone already; how slow the vendor is in a future is common to all he has.

    Examples
    --------
    >>> lengths_of([Unsure(Triple(2, 2, 2))], 3, 1).shape
    (3, 1)

    References
    ----------
    triangular-closed-form, lognormal-closed-form
    """
    if count < 1:
        raise ValueError("at least one future")
    chance = np.random.default_rng(seed)
    n = len(unsure)
    least, likely, most = (
        np.array([getattr(u.triple, part) for u in unsure], np.float32) for part in ("least", "likely", "most")
    )
    span = np.maximum(most - least, 1e-9)
    below = likely - least
    u = chance.random((count, n), np.float32)
    low = u * span <= below
    drawn = np.where(low, least + np.sqrt(u * span * below), most - np.sqrt((1 - u) * span * (most - likely)))
    vendors = sorted({one.vendor for one in unsure})
    for vendor in vendors:
        columns = np.array([k for k, one in enumerate(unsure) if one.vendor == vendor])
        waits = [one.wait for one in unsure if one.vendor == vendor and one.wait is not None]
        if len(waits) == len(columns):
            drawn[:, columns] = _waited(chance, waits, count)
        else:
            spread = COMMON_VENDOR if vendor else COMMON_WORK
            common = np.exp(chance.normal(0.0, spread, (count, 1)) - spread**2 / 2).astype(np.float32)
            fixed = span[columns] <= 1e-6
            drawn[:, columns] *= np.where(fixed, np.float32(1), common)
    risky = [k for k, one in enumerate(unsure) if one.hidden_chance > 0]
    if risky:
        hit = chance.random((count, len(risky))) < np.array([unsure[k].hidden_chance for k in risky])
        drawn[:, risky] += (
            hit
            * np.array([unsure[k].hidden_times * unsure[k].triple.likely for k in risky])
            * chance.uniform(0.5, 1.5, hit.shape)
        )
    whole = np.ceil(drawn - 1e-4).astype(np.int32)
    return np.where(likely > 0, np.maximum(whole, 1), 0).astype(np.int32)


def _waited(chance: np.random.Generator, waits: Sequence[Wait], count: int) -> Any:
    """Days left of what is at one vendor, or will be, each from what was learned of him."""
    from scipy.special import ndtr

    # Of the spread of one delivery so much is that his own middle is not known: it is the same for all he has.
    shared = 1 / (1 + PRIOR_DELIVERIES + waits[0].time.deliveries)
    slow = math.sqrt(shared) * chance.normal(size=(count, 1))
    u = ndtr(slow + math.sqrt(1 - shared) * chance.normal(size=(count, len(waits))))
    drawn = np.empty((count, len(waits)))
    for at, wait in enumerate(waits):
        before = wait.time.below(wait.gone / wait.word) if wait.gone > 0 else 0.0
        wanted = before + u[:, at] * (1 - before)
        days = np.exp(np.interp(wanted, wait.time.grid_chance, np.log(wait.time.grid_days)))
        drawn[:, at] = np.maximum(np.maximum(wait.word * days - wait.gone, 0) + wait.more, 1)
    return drawn


def futures(project: Project, lengths: Any, order: Any) -> Futures:
    """Return what becomes of a plan in each future.

    Parameters
    ----------
    project : Project
        Jobs, links, resources, calendars; a grid long enough for late futures. [-]
    lengths : array
        Lengths, shape (futures, jobs). [units]
    order : array
        Jobs by rank: of two that are ready the earlier takes who is free. [-]

    Returns
    -------
    Futures
        Ends, starts, chains.

    Raises
    ------
    ValueError
        Shapes do not fit.

    Notes
    -----
    Event by event; nobody knows what comes. A list worked so can end earlier when a job is late: no monotony is
    promised. What does not end on the grid ends with it.

    Examples
    --------
    >>> two = Project((3, 4), (((0, 1),), ((0, 1),)), (1,), (), 40)
    >>> futures(two, np.array([[3, 4], [5, 4]], np.int32), [0, 1]).ends.tolist()
    [7, 9]

    References
    ----------
    none: counting only.
    """
    from witnessmark.calc.plan.dispatch import _futures

    lengths = np.ascontiguousarray(lengths, np.int32)
    count, n = lengths.shape
    if n != project.size or len(order) != n:
        raise ValueError("one length and one rank for each job")
    by_rank = np.asarray(order, np.int64)
    rank = np.empty(n, np.int64)
    rank[by_rank] = np.arange(n)
    names: dict[Any, int] = {}
    kind = np.array(
        [
            names.setdefault(
                (
                    project.needs[j],
                    project.choices[j] if project.choices else (),
                    project.calendar[j] if project.calendar else ALWAYS,
                ),
                len(names),
            )
            for j in range(n)
        ],
        np.int64,
    )
    ends = np.zeros(count, np.int64)
    starts, finishes, latest = (np.zeros((count, n), np.int32) for _ in range(3))
    critical = np.zeros(n, np.int64)
    _futures(project.arrays, rank, by_rank, kind, max(1, len(names)), lengths, ends, starts, finishes, critical, latest)
    return Futures(ends, starts, finishes, latest, lengths, critical)


@dataclass(frozen=True)
class OnePath:
    """The single longest road reckoned by expected times: too hopeful, for it forgets all other roads and all waiting."""

    expected: float
    spread: float
    jobs: tuple[int, ...]

    def by(self, chance: float) -> float:
        """The time by which that road ends with a chance, were it the only one."""
        from statistics import NormalDist

        return NormalDist(self.expected, self.spread).inv_cdf(chance) if self.spread else self.expected


def one_path(triples: Sequence[Triple], links: Sequence[tuple[int, int]]) -> OnePath:
    """Return the longest road by expected times, with the spread of its jobs.

    Parameters
    ----------
    triples : sequence of Triple
        Least, likely, most, by job. [units]
    links : sequence of tuple
        Pairs (before, after). [-]

    Returns
    -------
    OnePath
        Expected length, standard deviation, jobs.

    Raises
    ------
    ValueError
        Jobs wait for one another.

    Notes
    -----
    Expected (least + 4 likely + most) / 6, variance ((most - least) / 6)^2, added along the road; normal.

    Examples
    --------
    >>> path = one_path([Triple(1, 2, 9), Triple(2, 3, 4)], [(0, 1)])
    >>> path.expected, round(path.spread, 3)
    (6.0, 1.374)

    References
    ----------
    pert-three-times
    """
    n = len(triples)
    bare = Project((1,) * n, ((),) * n, (), tuple((a, b, 0, -1) for a, b in links), n + 2)
    mean = [(t.least + 4 * t.likely + t.most) / 6 for t in triples]
    before: list[list[int]] = [[] for _ in range(n)]
    for a, b in links:
        before[b].append(a)
    road, by = list(mean), [-1] * n
    for j in bare.topological:
        for a in before[j]:
            if road[a] + mean[j] > road[j]:
                road[j], by[j] = road[a] + mean[j], a
    at = max(range(n), key=lambda j: road[j], default=-1)
    expected, jobs = (road[at] if at >= 0 else 0.0), []
    while at >= 0:
        jobs.append(at)
        at = by[at]
    variance = sum(((triples[j].most - triples[j].least) / 6) ** 2 for j in jobs)
    return OnePath(expected, math.sqrt(variance), tuple(reversed(jobs)))
