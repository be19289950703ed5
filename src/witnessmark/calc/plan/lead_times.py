"""How long a vendor takes: from the least, likely and most working days he names, and from what his deliveries taught."""

from __future__ import annotations

import bisect
import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, field

# What the vendor says himself counts as so many deliveries in the middle, and in the spread.
PRIOR_DELIVERIES, PRIOR_SPREAD = 2.0, 8.0
_NINETEEN_OF_TWENTY = 1.6448536269514722
_T8_NINETEEN_OF_TWENTY = 1.8595480375308977
_LEAST_DAY = 0.5


@dataclass(frozen=True)
class Triple:
    """Least, likely and most of a duration, in the unit of the field that holds it."""

    least: float
    likely: float
    most: float

    def __post_init__(self) -> None:
        if not all(math.isfinite(v) for v in (self.least, self.likely, self.most)):
            raise ValueError("a duration must be a number")
        if not 0 <= self.least <= self.likely <= self.most:
            raise ValueError(f"least {self.least}, likely {self.likely}, most {self.most} are not in order from 0")


NOTHING = Triple(0, 0, 0)


def triangle_quantile(least: float, likely: float, most: float, p: float) -> float:
    """Return the duration that is not passed with the chance p.

    Parameters
    ----------
    least : float
        The shortest duration. [working days]
    likely : float
        The most likely duration. [working days]
    most : float
        The longest duration. [working days]
    p : float
        Chance that it is over by then. [-]

    Returns
    -------
    float
        The duration, in the unit of the three. [working days]

    Raises
    ------
    ValueError
        The three are not in order, are negative, or p is not between 0 and 1.

    Notes
    -----
    Triangular distribution, closed form. Holds for 0 <= least <= likely <= most and 0 <= p <= 1.

    Examples
    --------
    >>> triangle_quantile(0, 10, 20, 0.5)
    10.0
    >>> round(triangle_quantile(5, 10, 25, 0.8), 2)
    17.25

    References
    ----------
    triangular-closed-form
    """
    days = Triple(least, likely, most)
    if not 0 <= p <= 1:
        raise ValueError(f"a chance lies between 0 and 1, not {p}")
    span = days.most - days.least
    if span == 0:
        return float(days.likely)
    if p * span <= days.likely - days.least:
        return days.least + math.sqrt(p * span * (days.likely - days.least))
    return days.most - math.sqrt((1 - p) * span * (days.most - days.likely))


def days_by(days: Triple, p: float) -> int:
    """Return whole working days by which it is here with the chance p.

    Parameters
    ----------
    days : Triple
        What the vendor says. [working days]
    p : float
        Chance that it is here by then. [-]

    Returns
    -------
    int
        Rounded up. [working days]

    Raises
    ------
    ValueError
        p is not between 0 and 1.

    Notes
    -----
    0 <= p <= 1.

    Examples
    --------
    >>> days_by(Triple(5, 10, 25), 0.8)
    18

    References
    ----------
    triangular-closed-form
    """
    return math.ceil(triangle_quantile(days.least, days.likely, days.most, p) - 1e-9)


@dataclass(frozen=True)
class LeadTime:
    """A vendor's days from door to door as chances: a long right tail, nearer to his deliveries the more there are.

    `grid_days` and `grid_chance` are the curve that `quantile` and `chance_by` read.
    """

    said: Triple
    deliveries: int
    waiting: int
    half: float
    four_in_five: float
    nine_in_ten: float
    # Left out of comparing and printing: what they are made from and three points of them stand for them.
    grid_days: tuple[float, ...] = field(repr=False, compare=False)
    grid_chance: tuple[float, ...] = field(repr=False, compare=False)

    def chance_by(self, days: float, gone: float = 0.0) -> float:
        """The chance that it is here after so many days, given that it was not after `gone`."""
        before = self.below(gone) if gone > 0 else 0.0
        if before >= 1 or days <= gone:
            return 0.0
        return max(0.0, (self.below(days) - before) / (1 - before))

    def quantile(self, chance: float, gone: float = 0.0) -> float:
        """The days that are not passed with this chance, given that it was not here after `gone`."""
        if not 0 <= chance <= 1:
            raise ValueError(f"a chance lies between 0 and 1, not {chance}")
        before = self.below(gone) if gone > 0 else 0.0
        wanted = before + chance * (1 - before)
        at = bisect.bisect_left(self.grid_chance, wanted)
        if at == 0:
            return max(gone, self.grid_days[0])
        if at == len(self.grid_days):
            return max(gone, self.grid_days[-1])
        low, high = self.grid_chance[at - 1], self.grid_chance[at]
        part = (wanted - low) / (high - low) if high > low else 1.0
        days = math.exp(math.log(self.grid_days[at - 1]) * (1 - part) + math.log(self.grid_days[at]) * part)
        return max(gone, days)

    def sample(self, count: int, seed: int, gone: float = 0.0) -> list[float]:
        """So many draws of the days, the same for the same seed."""
        draw = random.Random(seed)  # noqa: S311  chance, not a secret
        return [self.quantile(draw.random(), gone) for _ in range(count)]

    def below(self, days: float) -> float:
        """The chance that it is here after so many days."""
        if days <= self.grid_days[0]:
            return 0.0 if days < self.grid_days[0] else self.grid_chance[0]
        if days >= self.grid_days[-1]:
            return self.grid_chance[-1]
        at = bisect.bisect_right(self.grid_days, days)
        low, high = math.log(self.grid_days[at - 1]), math.log(self.grid_days[at])
        part = (math.log(days) - low) / (high - low)
        return self.grid_chance[at - 1] * (1 - part) + self.grid_chance[at] * part


@dataclass(frozen=True)
class Wait:
    """What is left to wait of one thing at a vendor, as chances.

    `gone`: working days it has been there; `word`: how many times his learned days this one takes by what he promised
    for it; `more`: working days by which it is later with certainty.
    """

    time: LeadTime
    gone: float = 0.0
    word: float = 1.0
    more: float = 0.0

    def left(self, chance: float) -> float:
        """Working days from now that are not passed with this chance; never less than one."""
        return max(1.0, self.word * self.time.quantile(chance, self.gone / self.word) - self.gone + self.more)

    def whole_days(self, chance: float) -> int:
        """The same as whole days: a part of a day counts as one, so that the chance is reached by then."""
        return math.ceil(self.left(chance) - 1e-9)

    def chance_within(self, days: float) -> float:
        """The chance that it is here within so many working days from now."""
        return self.time.chance_by((self.gone + days - self.more) / self.word, self.gone / self.word)

    @property
    def days(self) -> Triple:
        """Whole days: one time in twenty it takes less than the least, half the times the likely, once in twenty more."""
        return Triple(*(float(self.whole_days(chance)) for chance in (0.05, 0.5, 0.95)))


def worth_of_word(time: LeadTime, promised_days: float) -> float:
    """Return how many times the learned days one thing takes, by what the vendor promised for it.

    Parameters
    ----------
    time : LeadTime
        What his deliveries taught. [-]
    promised_days : float
        Days from when it left to when he promised it. [working days]

    Returns
    -------
    float
        1 where he promised what he says of all. [-]

    Raises
    ------
    ValueError
        The promise is before it left, or no number.

    Notes
    -----
    His word for this one takes the place of what he says of all, which counts as 2 deliveries among those that came:
    the middle moves by the logarithm of promise / said, times 2 / (2 + deliveries). It is never counted on before the day
    he promised.

    Examples
    --------
    >>> time = lead_time_distribution(8, 15, 45)
    >>> worth_of_word(time, 30)
    2.0
    >>> worth_of_word(lead_time_distribution(8, 15, 45, [30, 32, 28, 31, 35, 30]), 15)
    1.0

    References
    ----------
    lognormal-lead-time
    """
    if not math.isfinite(promised_days) or promised_days < 0:
        raise ValueError(f"a promise lies after the day it left, not {promised_days} working days")
    promised = max(promised_days, _LEAST_DAY)
    share = PRIOR_DELIVERIES / (PRIOR_DELIVERIES + time.deliveries)
    by_word: float = (promised / max(time.said.likely, _LEAST_DAY)) ** share
    return max(by_word, promised / time.half)


def lead_time_distribution(
    least: float,
    likely: float,
    most: float,
    delivered: Sequence[float] = (),
    waiting: Sequence[float] = (),
) -> LeadTime:
    """Return how long a vendor takes, learned from what he says and from what he did.

    Parameters
    ----------
    least : float
        The shortest duration he names; kept, and not used where the others are there. [working days]
    likely : float
        The most likely duration he names. [working days]
    most : float
        The longest duration he names; nineteen of twenty are taken to be shorter. [working days]
    delivered : sequence of float
        What his deliveries took. [working days]
    waiting : sequence of float
        How long what is still out has been out: it will take longer than that. [working days]

    Returns
    -------
    LeadTime
        Chances by days. [working days]

    Raises
    ------
    ValueError
        The three are not in order, or a duration is negative or no number.

    Notes
    -----
    The logarithm of the days is normal; its mean and variance have a normal-inverse-gamma prior whose prediction has its
    nineteenth twentieth at `most` and, as a lognormal, its mode at `likely`. Deliveries are exact observations, what is
    out a lower bound. The prior counts as 2 deliveries in the mean and 8 in the variance. Integrated over a grid of both.
    Durations under half a day count as half a day.

    Examples
    --------
    >>> fresh = lead_time_distribution(8, 15, 45)
    >>> round(fresh.half, 1), round(fresh.quantile(0.95))
    (19.5, 45)
    >>> late = lead_time_distribution(8, 15, 45, delivered=[40, 44, 38, 51])
    >>> late.half > 30
    True

    References
    ----------
    lognormal-lead-time
    """
    import numpy as np
    from scipy.special import gammaincinv, ndtr, stdtrit

    days = Triple(least, likely, most)
    if not all(math.isfinite(d) and d >= 0 for d in (*delivered, *waiting)):
        raise ValueError("what a delivery took is a number of days, nought or more")
    mode = max(days.likely, _LEAST_DAY)
    width = math.log(max(days.most, mode) / mode)
    spread = max(0.05, (math.sqrt(_NINETEEN_OF_TWENTY**2 + 4 * width) - _NINETEEN_OF_TWENTY) / 2)
    middle = math.log(mode) + spread**2
    kappa, alpha = PRIOR_DELIVERIES, PRIOR_SPREAD / 2
    scale = spread * _NINETEEN_OF_TWENTY / _T8_NINETEEN_OF_TWENTY
    beta = alpha * scale**2 / (1 + 1 / kappa)
    logs = [math.log(max(d, _LEAST_DAY)) for d in delivered]
    n = len(logs)
    mean = math.fsum(logs) / n if n else 0.0
    after_kappa = kappa + n
    after_middle = (kappa * middle + n * mean) / after_kappa
    after_alpha = alpha + n / 2
    after_beta = beta + 0.5 * math.fsum((x - mean) ** 2 for x in logs)
    after_beta += 0.5 * kappa * n * (mean - middle) ** 2 / after_kappa
    # Points an even step apart in standard deviations, so that the tails are there when what is out asks for them.
    score = np.linspace(-5, 5, 49)
    sigma = np.sqrt(after_beta / gammaincinv(after_alpha, ndtr(-score)))[:, None] * np.ones(score.size)[None]
    mu = after_middle + score[None] * sigma / math.sqrt(after_kappa)
    weight = np.exp(-0.5 * (score[:, None] ** 2 + score[None] ** 2))
    for out in waiting:
        if out > 0:
            weight *= 1 - ndtr((math.log(max(out, _LEAST_DAY)) - mu) / sigma)
    weight /= weight.sum()
    reach = float(stdtrit(2 * after_alpha, 0.9999)) * math.sqrt(after_beta / after_alpha * (1 + 1 / after_kappa))
    longest = max([after_middle + reach, *(math.log(max(out, _LEAST_DAY)) + 3 * spread for out in waiting)])
    at = np.linspace(after_middle - reach, longest, 400)
    chance = np.array([float((weight * ndtr((x - mu) / sigma)).sum()) for x in at])
    grid = tuple(float(d) for d in np.exp(at))
    curve = tuple(float(c) for c in np.maximum.accumulate(chance))
    made = LeadTime(days, n, len(waiting), 0.0, 0.0, 0.0, grid, curve)
    return LeadTime(days, n, len(waiting), made.quantile(0.5), made.quantile(0.8), made.quantile(0.9), grid, curve)
