"""How long a vendor takes: from the least, likely and most working days he names."""

from __future__ import annotations

import math
from dataclasses import dataclass


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
