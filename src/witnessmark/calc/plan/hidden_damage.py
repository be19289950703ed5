"""Hidden damage held back for each zone: what opening revealed against what was seen before, shrunk towards the aircraft."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.calc.working import Answer, working

# Common practice, no source: one hidden finding for four seen, and that is worth as much as four findings.
PRIOR_HIDDEN, PRIOR_SEEN = 1.0, 4.0
# A zone's own openings count against the aircraft's as if the aircraft's were so many findings, and so many hours' figures.
ZONE_STRENGTH, HOURS_STRENGTH = 4.0, 2.0
# One is added to what was seen: where nobody saw anything there is still something to open.
ALWAYS = 1.0


@dataclass(frozen=True)
class ZoneOpened:
    """A zone: findings seen before opening, those that opening revealed with their hours, and the share that is open."""

    name: str
    seen_before: int
    revealed: int
    revealed_hours: tuple[float, ...]
    opened_share: float


@dataclass(frozen=True)
class ZoneReserve:
    """What is held back for the rest of a zone. Hours are None while nobody reckoned any of a hidden finding."""

    name: str
    rate: float
    to_open: float
    count: float
    count_four_in_five: int
    hours_each: float | None
    hours: float | None
    hours_four_in_five: float | None
    chance_of_more: float


@dataclass(frozen=True)
class Reserve(Answer):
    """The reserve of every zone and of all together."""

    zones: tuple[ZoneReserve, ...]
    aircraft_rate: float
    hours: float | None
    sentence: str


def negative_binomial_quantile(shape: float, rate: float, exposure: float, chance: float) -> int:
    """Return the count that is not passed with a chance, for a count whose mean is a gamma variable times an exposure.

    Parameters
    ----------
    shape : float
        Shape of the gamma variable. [-]
    rate : float
        Its rate. [-]
    exposure : float
        What it is multiplied by. [-]
    chance : float
        Chance not to be passed, below one. [-]

    Returns
    -------
    int
        The least count whose distribution reaches the chance.

    Raises
    ------
    ValueError
        A figure that is not above nought, or a chance that is not between nought and one.

    Examples
    --------
    >>> negative_binomial_quantile(1, 4, 4, 0.5), negative_binomial_quantile(1, 4, 4, 0.8)
    (0, 2)

    References
    ----------
    gamma-poisson
    """
    if not (shape > 0 and rate > 0 and exposure >= 0 and 0 < chance < 1):
        raise ValueError("shape, rate and exposure are above nought, the chance between nought and one")
    stay = rate / (rate + exposure)
    term = stay**shape
    total, count = term, 0
    while total < chance and count < 100_000:
        term *= (shape + count) / (count + 1) * (1 - stay)
        total += term
        count += 1
    return count


def reserve(zones: Sequence[ZoneOpened]) -> Reserve:
    """Learn from what opening revealed how much to hold back for what is still closed.

    Parameters
    ----------
    zones : sequence of ZoneOpened
        Every zone of the aircraft. [-]

    Returns
    -------
    Reserve
        By zone the hidden findings for one seen, the findings and hours still to come, and the count that four in five
        stay within.

    Raises
    ------
    ValueError
        A count below nought, more hours than findings, or a share outside nought to one.

    Notes
    -----
    Hidden findings are counts whose mean is a rate times (seen before + 1) times the share opened. The aircraft's rate is
    the mean of a gamma (1, 4) brought up to date with all zones; a zone's starts from it with the weight of four findings.
    A zone's own openings enter the aircraft's rate too: that makes the shrinking a little weaker than it looks. The four in
    five of the hours is that of the count times the mean hours: the spread of the hours themselves is not in it.

    Examples
    --------
    >>> r = reserve([ZoneOpened("hull", 7, 6, (4.0, 8.0), 0.5), ZoneOpened("tail", 3, 0, (), 0.0)])
    >>> [round(z.rate, 2) for z in r.zones], round(r.zones[1].count, 2), r.zones[1].hours_each
    ([1.19, 0.88], 3.5, 6.0)

    References
    ----------
    gamma-poisson
    hidden-damage-prior
    """
    for z in zones:
        if z.seen_before < 0 or z.revealed < 0 or len(z.revealed_hours) > z.revealed:
            raise ValueError(f"{z.name}: counts are not below nought, and hours belong to findings that were revealed")
        if not (math.isfinite(z.opened_share) and 0 <= z.opened_share <= 1):
            raise ValueError(f"{z.name}: the share that is open lies between nought and one")
        if any(not math.isfinite(h) or h < 0 for h in z.revealed_hours):
            raise ValueError(f"{z.name}: hours are not below nought")
    opened = [(z.seen_before + ALWAYS) * z.opened_share for z in zones]
    mean = (PRIOR_HIDDEN + sum(z.revealed for z in zones)) / (PRIOR_SEEN + math.fsum(opened))
    every = [h for z in zones for h in z.revealed_hours]
    each = math.fsum(every) / len(every) if every else None
    made = tuple(_zone(z, exposure, mean, each) for z, exposure in zip(zones, opened, strict=True))
    hours = math.fsum(z.hours for z in made if z.hours is not None) if every else None
    revealed = sum(z.revealed for z in zones)
    sentence = (
        f"Opening revealed {revealed} finding{'' if revealed == 1 else 's'} that nobody had seen; for each one seen, "
        f"{mean:.2f} more are expected. "
        + (
            f"{hours:,.0f} hours are held back for what is still closed."
            if hours is not None
            else "Nobody reckoned hours of a hidden finding: the hours to hold back are unknown."
        )
    )
    rows: list[tuple[str, float | int | str, str, str]] = [("aircraft's rate", round(mean, 3), "-", "all zones")]
    for z, m in zip(zones, made, strict=True):
        seen = f"{z.seen_before} seen, {z.revealed} revealed, {100 * z.opened_share:.0f} % open"
        rows.append((z.name, round(m.rate, 2), "-", seen))
    return Reserve(
        working=working(
            "aircraft's rate m = (1 + revealed) / (4 + sum of (seen + 1) x share opened); zone's rate = (4 m + revealed) / "
            "(4 + (seen + 1) x share opened); to come = rate x (seen + 1) x share closed",
            rows,
            ("gamma-poisson", "hidden-damage-prior"),
            ("The prior, one hidden for four seen, is common practice without a source.",),
            "What was seen and revealed so far.",
        ),
        zones=made,
        aircraft_rate=mean,
        hours=hours,
        sentence=sentence,
    )


def _zone(zone: ZoneOpened, exposure: float, mean: float, each: float | None) -> ZoneReserve:
    shape, rate = ZONE_STRENGTH * mean + zone.revealed, ZONE_STRENGTH + exposure
    closed = (zone.seen_before + ALWAYS) * (1 - zone.opened_share)
    high = negative_binomial_quantile(shape, rate, closed, 0.8)
    own = None
    if each is not None:
        own = (HOURS_STRENGTH * each + math.fsum(zone.revealed_hours)) / (HOURS_STRENGTH + len(zone.revealed_hours))
    count = shape / rate * closed
    return ZoneReserve(
        name=zone.name,
        rate=shape / rate,
        to_open=closed,
        count=count,
        count_four_in_five=high,
        hours_each=own,
        hours=None if own is None else count * own,
        hours_four_in_five=None if own is None else high * own,
        # For one finding seen: the chance that opening there shows at least one more.
        chance_of_more=1 - (rate / (rate + 1)) ** shape,
    )
