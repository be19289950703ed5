"""Which bags could not be told apart if they came back in one bucket, found before they leave together."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.calc.bags.features import BARE, Coat, Group
from witnessmark.calc.bags.next_reading import features_apart
from witnessmark.calc.working import Answer, working

# From this chance of any wrong piece on, two groups count as confusable.
LIMIT = 0.01


@dataclass(frozen=True)
class Pair:
    """Two groups of different bags: how far apart, and the chances if they are mixed.

    `swap` is the chance that one given piece of each changes places, `any_wrong` that any piece ends in the wrong one.
    """

    a: str
    b: str
    bag_a: str
    bag_b: str
    apart: float
    swap: float
    any_wrong: float
    features: tuple[str, ...]
    not_measured: bool


@dataclass(frozen=True)
class Confusion(Answer):
    """The graph: groups are its points, `pairs` its lines. `limit` is the chance from which a line is drawn."""

    groups: tuple[str, ...]
    pairs: tuple[Pair, ...]
    limit: float
    sentence: str

    @property
    def bags(self) -> tuple[str, ...]:
        """Bags that are on a line."""
        return tuple(sorted({bag for pair in self.pairs for bag in (pair.bag_a, pair.bag_b)}))


def swap_chance(apart: float) -> float:
    """Return the chance that one piece of each of two groups changes places.

    Parameters
    ----------
    apart : float
        Distance of the means in deviations of one reading. [-]

    Returns
    -------
    float
        Phi(-d / sqrt 2). [-]

    Raises
    ------
    ValueError
        A negative distance.

    Notes
    -----
    Normal readings of equal spread; d >= 0.

    Examples
    --------
    >>> round(swap_chance(2.0), 3), round(swap_chance(4.0), 4)
    (0.079, 0.0023)

    References
    ----------
    normal-order-statistics
    """
    if not apart >= 0:
        raise ValueError(f"a distance is not {apart}")
    return 0.5 * math.erfc(apart / 2)


def any_wrong_chance(apart: float, n_a: int, n_b: int) -> float:
    """Return the chance that any piece goes wrong when two mixed groups are split by size at their counts.

    Parameters
    ----------
    apart : float
        Distance of the means in deviations of one reading. [-]
    n_a : int
        Pieces of the one. [-]
    n_b : int
        Pieces of the other. [-]

    Returns
    -------
    float
        1 - integral of n_a phi(x) Phi(x)^(n_a - 1) Phi(d - x)^n_b. [-]

    Raises
    ------
    ValueError
        A negative distance or a count below 1.

    Notes
    -----
    The largest of n_a readings about 0 lies above the smallest of n_b about d. Normal readings of equal spread.

    Examples
    --------
    >>> [round(any_wrong_chance(d, n, n), 2) for d, n in ((2, 2), (3, 5), (4, 10))]
    [0.23, 0.23, 0.13]

    References
    ----------
    normal-order-statistics
    """
    if not apart >= 0 or n_a < 1 or n_b < 1:
        raise ValueError("a distance is not negative and a group has one piece at least")
    if apart > 14:
        return 0.0
    steps, low, high = 800, -9.0, 9.0
    width = (high - low) / steps
    right = 0.0
    for n in range(steps + 1):  # Simpson's rule; the integrand vanishes at both ends
        x = low + n * width
        weight = 1 if n in (0, steps) else 4 if n % 2 else 2
        below = 0.5 * math.erfc(-x / math.sqrt(2))
        above = 0.5 * math.erfc((x - apart) / math.sqrt(2))
        right += weight * n_a * math.exp(-x * x / 2) * below ** (n_a - 1) * above**n_b
    return min(1.0, max(0.0, 1 - right * width / 3 / math.sqrt(2 * math.pi)))


def confusion(groups: Sequence[Group], coat: Coat = BARE, limit: float = LIMIT) -> Confusion:
    """Return which groups of different bags would be confused if they came back mixed.

    Parameters
    ----------
    groups : sequence of Group
        What is to leave together, with what was measured. [-]
    coat : Coat
        What the process will add and take away. [-]
    limit : float
        Chance of any wrong piece from which a pair is named. [-]

    Returns
    -------
    Confusion
        The pairs, the worst first. Groups of one bag are not compared: they come back to one bag.

    Raises
    ------
    ValueError
        One group named twice, or a limit outside 0 to 1.

    Notes
    -----
    Features that both have count; a pair without any is taken to be confused for certain. Groups of other looks are told
    apart by eye. Readings are taken to be independent of each other and normal.

    Examples
    --------
    >>> from witnessmark.calc.bags.features import Feature
    >>> sent = [Group(k, k, 10, {"diameter_mm": Feature(d, 0.03, n=10)}) for k, d in (("A", 8.0), ("B", 7.94))]
    >>> told = confusion(sent, Coat(8.0))
    >>> round(told.pairs[0].any_wrong, 2)
    0.93

    References
    ----------
    normal-order-statistics iso4042-annex
    """
    if not 0 < limit < 1:
        raise ValueError(f"a limit lies between 0 and 1, not {limit}")
    if len({g.key for g in groups}) < len(groups):
        raise ValueError("a group is named twice: give each its own name")
    pairs = [_pair(groups[i], groups[j], coat) for i, j in _close(groups, coat)]
    named = sorted((p for p in pairs if p.any_wrong >= limit), key=lambda p: (-p.any_wrong, p.a, p.b))
    return Confusion(
        working=working(
            "d = root of the sum over features of (difference of means / spread)^2; "
            "any wrong = chance that the largest of the one is above the smallest of the other",
            [
                ("groups", len(groups), "", "shipment"),
                ("coat", coat.thickness_um, "um", "process"),
                ("spread of the coat", coat.spread_um, "um", "process"),
                ("limit", limit, "chance", "shop's own"),
            ],
            sources=("normal-order-statistics", "iso4042-annex"),
            valid_range="normal readings of about equal spread",
        ),
        groups=tuple(g.key for g in groups),
        pairs=tuple(named),
        limit=limit,
        sentence=_sentence(named),
    )


def _close(groups: Sequence[Group], coat: Coat) -> list[tuple[int, int]]:
    """Pairs of other bags and the same looks that lie near in every feature they share."""
    import numpy as np

    names = sorted({name for g in groups for name in g.features})
    mean = np.full((len(groups), len(names)), np.nan)
    var = np.full(mean.shape, np.nan)
    for j, group in enumerate(groups):
        for k, name in enumerate(names):
            if name in group.features:
                f = group.features[name]
                mean[j, k] = f.mean + coat.growth(name)
                var[j, k] = f.variance * (1 + 1 / f.n) + coat.spread(name) ** 2
    found = []
    for i in range(len(groups)):
        apart = np.nansum((mean[i + 1 :] - mean[i]) ** 2 / (0.5 * (var[i + 1 :] + var[i])), axis=1)
        for j in (np.flatnonzero(apart < 10.0**2) + i + 1).tolist():
            a, b = groups[i], groups[j]
            if a.bag != b.bag and not (a.looks and b.looks and a.looks != b.looks):
                found.append((i, j))
    return found


def _pair(a: Group, b: Group, coat: Coat) -> Pair:
    shared = tuple(sorted(a.features.keys() & b.features.keys()))
    apart = math.sqrt(math.fsum(features_apart(a, b, name, coat) ** 2 for name in shared))
    return Pair(
        a=a.key,
        b=b.key,
        bag_a=a.bag,
        bag_b=b.bag,
        apart=apart,
        swap=swap_chance(apart),
        any_wrong=any_wrong_chance(apart, a.count, b.count) if shared else 1.0,
        features=shared,
        not_measured=not shared,
    )


def _sentence(pairs: Sequence[Pair]) -> str:
    if not pairs:
        return "Every bag can be told apart again by what was measured."
    worst = pairs[0]
    if worst.not_measured:
        return f"{worst.bag_a} and {worst.bag_b} share no measurement: once mixed, nothing tells them apart."
    bags = {bag for p in pairs for bag in (p.bag_a, p.bag_b)}
    chance = "for certain" if worst.any_wrong > 0.995 else f"{worst.any_wrong:.0%} likely"
    return (
        f"{len(bags)} bags could not be told apart if mixed; {worst.bag_a} and {worst.bag_b} would be wrong {chance}."
    )
