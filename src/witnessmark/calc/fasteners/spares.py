"""Spares by the chance of running short, with spoilage learned from what was really used; when an order must leave."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.calc.plan.lead_times import LeadTime, Triple, days_by
from witnessmark.calc.working import Answer, working

# Before anything was used: as if 2 of 50 had been spoiled.
PRIOR_SPOILED, PRIOR_GOOD = 2.0, 48.0
MOST_HOLES = 1_000_000


@dataclass(frozen=True)
class Used:
    """Rivets really used up on one job: how many sit in holes and how many were spoiled."""

    driven: int
    spoiled: int


@dataclass(frozen=True)
class ServiceLevel:
    """Spares by the chance of running short that is accepted, with what was really used and the vendor's days."""

    short_at_most: float = 0.05
    used: tuple[Used, ...] = ()
    lead: Triple | LeadTime | None = None


@dataclass(frozen=True)
class ServiceSpares(Answer):
    """Spares that keep the chance of running short under the level asked for."""

    spares: int
    chance_short: float
    chance_short_by_rule: float
    rule_spares: int
    spoilage: float
    second_order_days: int
    learned: str

    @property
    def short_percent(self) -> float:
        """The chance of running short, in per cent."""
        return self.chance_short * 100

    @property
    def spoilage_percent(self) -> float:
        """Of 100 rivets so many spoil."""
        return self.spoilage * 100

    def chances(self) -> tuple[tuple[str, float, str, str], ...]:
        """Return the spoilage and the chances as lines of a working.

        Returns
        -------
        tuple of tuple
            Name, figure, unit, where from. [-]

        Examples
        --------
        >>> [name for name, *_ in service_spares(100).chances()][0]
        'spoilage, mean'

        References
        ----------
        beta-binomial
        """
        return (
            ("spoilage, mean", round(self.spoilage, 4), "-", self.learned),
            ("chance of running short", round(self.chance_short, 4), "-", "beta-binomial tail"),
            (
                f"the same with {self.rule_spares} by rule of thumb",
                round(self.chance_short_by_rule, 4),
                "-",
                "computed",
            ),
        )


def chance_of_short(holes: int, spares: int, spoiled_like: float, good_like: float) -> float:
    """Return the chance that more spoil than there are spares before the last hole is filled.

    Parameters
    ----------
    holes : int
        Holes to fill. [-]
    spares : int
        Rivets beside the holes. [-]
    spoiled_like : float
        First parameter of the beta distribution of the spoilage. [-]
    good_like : float
        Second parameter. [-]

    Returns
    -------
    float
        Between 0 and 1.

    Raises
    ------
    ValueError
        A negative count or a parameter that is not above zero.

    Notes
    -----
    Short when of holes + spares rivets more than the spares spoil: the tail of a beta-binomial.

    Examples
    --------
    >>> round(chance_of_short(1, 0, 1.0, 1.0), 6)
    0.5

    References
    ----------
    beta-binomial
    """
    if holes < 0 or spares < 0 or min(spoiled_like, good_like) <= 0:
        raise ValueError("counts are not negative and the spoilage has parameters above zero")
    if holes == 0:
        return 0.0
    n, a, b = holes + spares, spoiled_like, good_like
    # P(0), then each next by its ratio: no gamma function is needed beyond the first.
    log_p = math.lgamma(n + b) + math.lgamma(a + b) - math.lgamma(n + a + b) - math.lgamma(b)
    total = 0.0
    for k in range(spares + 1):
        total += math.exp(log_p)
        if k < n:
            log_p += math.log((n - k) / (k + 1)) + math.log((a + k) / (n - k - 1 + b))
    return min(1.0, max(0.0, 1.0 - total))


def service_spares(
    holes: int,
    used: Sequence[Used] = (),
    short_at_most: float = 0.05,
    rule_spares: int = 0,
    lead: Triple | LeadTime | None = None,
) -> ServiceSpares:
    """Return the fewest spares that keep the chance of running short under a level.

    Parameters
    ----------
    holes : int
        Holes to fill. [-]
    used : sequence of Used
        What was driven and spoiled before, of this size or alike. [-]
    short_at_most : float
        Chance of running short that is accepted. [-]
    rule_spares : int
        Spares of the rule of thumb, to say its chance beside it. [-]
    lead : Triple, LeadTime or None
        The vendor's least, likely and most, or what his deliveries taught, for the delay of a second order. [working days]

    Returns
    -------
    ServiceSpares
        Spares, chances, mean spoilage, and the days that a second order takes with four chances in five.

    Raises
    ------
    ValueError
        A negative count, an absurd count of holes, a level that is not between 0 and 1.

    Examples
    --------
    >>> service_spares(100).spares
    12

    References
    ----------
    beta-binomial
    spares-practice
    """
    if not 0 <= holes <= MOST_HOLES or rule_spares < 0 or not 0 < short_at_most < 1:
        raise ValueError(f"holes 0 to {MOST_HOLES:,}, spares not negative, a chance between 0 and 1")
    if any(each.driven < 0 or each.spoiled < 0 for each in used):
        raise ValueError("what was used is not negative")
    a = PRIOR_SPOILED + sum(each.spoiled for each in used)
    b = PRIOR_GOOD + sum(each.driven for each in used)
    low, high = -1, 8
    while chance_of_short(holes, high, a, b) > short_at_most:
        low, high = high, high * 2
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if chance_of_short(holes, middle, a, b) <= short_at_most else (middle, high)
    spares = 0 if holes == 0 else high
    short = chance_of_short(holes, spares, a, b)
    by_rule = chance_of_short(holes, rule_spares, a, b)
    days = 0
    if lead is not None:
        days = math.ceil(lead.four_in_five) if isinstance(lead, LeadTime) else days_by(lead, 0.8)
    gone = sum(u.spoiled + u.driven for u in used)
    learned = f"common practice: as if 2 of 50, and on record {sum(u.spoiled for u in used)} spoiled of {gone:,}"
    if not used:
        learned = "common practice, no source: as if 2 of 50 were spoiled; nothing used up is on record yet"
    return ServiceSpares(
        working=working(
            "fewest s with P(spoiled of holes + s is more than s) at most the level",
            [
                ("holes", holes, "-", "rows"),
                ("spoilage, mean", round(a / (a + b), 4), "-", learned),
                ("level", short_at_most, "-", "asked for"),
                ("spares", spares, "-", "computed"),
                ("chance of running short", round(short, 4), "-", "computed"),
                (f"the same with {rule_spares} by rule of thumb", round(by_rule, 4), "-", "computed"),
            ],
            ("beta-binomial", "spares-practice"),
            (f"A second order takes {days} working days, four chances in five.",) if days else (),
            "Spoilage of one rivet does not hang on the next, beyond the rate that they share.",
        ),
        spares=spares,
        chance_short=short,
        chance_short_by_rule=by_rule,
        rule_spares=rule_spares,
        spoilage=a / (a + b),
        second_order_days=days,
        learned=learned,
    )


def leave_days_before(lead: Triple, late_at_most: float) -> int:
    """Return the working days that an order must leave before it is needed.

    Parameters
    ----------
    lead : Triple
        The vendor's least, likely and most. [working days]
    late_at_most : float
        Chance that it comes too late, as accepted. [-]

    Returns
    -------
    int
        Days. [working days]

    Raises
    ------
    ValueError
        A chance that is not between 0 and 1.

    Examples
    --------
    >>> leave_days_before(Triple(40, 50, 120), 0.2)
    87

    References
    ----------
    triangular-closed-form
    """
    if not 0 < late_at_most < 1:
        raise ValueError(f"a chance lies between 0 and 1, not {late_at_most}")
    return days_by(lead, 1 - late_at_most)
