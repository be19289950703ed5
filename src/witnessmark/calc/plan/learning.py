"""What the booked hours teach: how much longer a kind of work takes than it was estimated, drawn in where few are known."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from witnessmark.calc.plan.lead_times import Triple
from witnessmark.calc.working import Answer, working

# Common practice, no source: so many jobs' worth of belief that an estimate is right, and that kinds are alike.
BELIEF_JOBS = 4.0
# Common practice, no source: a job's hours against its estimate spread by about half before anything is known.
USUAL_SPREAD = 0.4


@dataclass(frozen=True)
class Finished:
    """One finished job: its kind of work, the hours it was likely to take, the hours it took."""

    kind: str
    likely_hours: float
    booked_hours: float


@dataclass(frozen=True)
class Correction(Answer):
    """How many times its estimate a job of this kind takes: in the middle, and in four of five cases at most."""

    kind: str
    jobs: int
    factor: float
    four_in_five: float
    spread: float
    raw_factor: float


@dataclass(frozen=True)
class Learned:
    """Corrections by kind of work, and for all work where a kind has none."""

    overall: Correction
    kinds: dict[str, Correction]

    def of(self, kind: str) -> Correction:
        """Give the correction of a kind, or of all work where none of the kind is finished."""
        return self.kinds.get(kind, self.overall)


def corrections(finished: Iterable[Finished]) -> Learned:
    """Return how much longer each kind of work takes than estimated.

    Parameters
    ----------
    finished : iterable of Finished
        Finished jobs with hours booked. [-]

    Returns
    -------
    Learned
        A lognormal factor for each kind and for all work, each with its working.

    Raises
    ------
    ValueError
        An estimate or a booking that is not above 0.

    Notes
    -----
    The logarithms of booked / estimated are taken as normal. The mean of a kind is drawn to the mean of all work, and
    that to 0 (the estimate holds), each as if four jobs had said so already; the spread is pooled within the kinds.
    Holds for hours above 0.

    Examples
    --------
    >>> learned = corrections([Finished("prime", 1.0, 2.0)] * 8)
    >>> round(learned.of("prime").factor, 2), round(learned.of("rivet").factor, 2)
    (1.85, 1.59)

    References
    ----------
    normal-shrinkage
    """
    logs: dict[str, list[float]] = defaultdict(list)
    for job in finished:
        if not (job.likely_hours > 0 and job.booked_hours > 0):
            raise ValueError(f"{job.kind}: {job.booked_hours:g} hours booked of {job.likely_hours:g} estimated")
        logs[job.kind].append(math.log(job.booked_hours / job.likely_hours))
    every = [x for group in logs.values() for x in group]
    overall_mean = _drawn(every, 0.0)
    within = sum((x - sum(group) / len(group)) ** 2 for group in logs.values() for x in group)
    spread = math.sqrt((within + BELIEF_JOBS * USUAL_SPREAD**2) / (len(every) - len(logs) + BELIEF_JOBS))
    overall = _correction("all work", every, overall_mean, 0.0, spread)
    kinds = {
        kind: _correction(kind, group, _drawn(group, overall_mean), overall_mean, spread)
        for kind, group in sorted(logs.items())
    }
    return Learned(overall, kinds)


def _drawn(logs: list[float], towards: float) -> float:
    return (sum(logs) + BELIEF_JOBS * towards) / (len(logs) + BELIEF_JOBS)


def _correction(kind: str, logs: list[float], mean: float, towards: float, spread: float) -> Correction:
    raw = math.exp(sum(logs) / len(logs)) if logs else 1.0
    n = len(logs)
    return Correction(
        kind=kind,
        jobs=n,
        factor=math.exp(mean),
        four_in_five=math.exp(mean + 0.8416212335729143 * spread),
        spread=spread,
        raw_factor=raw,
        working=working(
            "factor = exp((n ln(raw) + 4 ln(drawn to)) / (n + 4)); four in five = factor exp(0.842 spread)",
            [
                ("finished jobs, n", n, "", "hours booked"),
                ("raw factor, booked / estimated", round(raw, 3), "", "geometric mean"),
                ("drawn to", round(math.exp(towards), 3), "", "all work" if kind != "all work" else "the estimate"),
                ("belief in that", BELIEF_JOBS, "jobs", "common practice, no source"),
                ("spread of the logarithms", round(spread, 3), "", "pooled within kinds"),
                ("factor", round(math.exp(mean), 3), "", "computed"),
            ],
            sources=("normal-shrinkage",),
            valid_range="hours above 0",
        ),
    )


def corrected(hours: Triple, correction: Correction) -> Triple:
    """Return an estimate as the finished jobs of its kind correct it.

    Parameters
    ----------
    hours : Triple
        Least, likely and most as estimated. [hours]
    correction : Correction
        Of its kind of work. [-]

    Returns
    -------
    Triple
        Each times the factor. [hours]

    Raises
    ------
    ValueError
        The result is not in order, which cannot be.

    Notes
    -----
    Any estimate from 0 up.

    Examples
    --------
    >>> learned = corrections([Finished("prime", 1.0, 2.0)] * 8)
    >>> round(corrected(Triple(1, 2, 4), learned.of("prime")).likely, 2)
    3.7

    References
    ----------
    normal-shrinkage
    """
    return Triple(*(round(each * correction.factor, 6) for each in (hours.least, hours.likely, hours.most)))


def left_over(hours: Triple, booked_hours: float) -> Triple:
    """Return what is left of a begun job after the hours booked on it.

    Parameters
    ----------
    hours : Triple
        Least, likely and most for the whole job. [hours]
    booked_hours : float
        Booked so far. [hours]

    Returns
    -------
    Triple
        At least a quarter of an hour, and at least a tenth of the likely hours while nobody said that it is done. [hours]

    Raises
    ------
    ValueError
        Less than no hours booked.

    Notes
    -----
    A job that runs over its most is taken to be nearly done, not done: the tenth is common practice, no source.

    Examples
    --------
    >>> left_over(Triple(2, 4, 8), 3)
    Triple(least=0.4, likely=1, most=5)

    References
    ----------
    none: subtraction.
    """
    if booked_hours < 0:
        raise ValueError(f"{booked_hours} hours booked")
    least = min(max(0.25, hours.likely / 10), hours.most) if booked_hours else hours.least
    left = [max(least, each - booked_hours) for each in (hours.least, hours.likely, hours.most)]
    return Triple(*left)
