"""Working days, Monday to Friday but for the days on which nobody works: counted, stepped forward and back, and said."""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from datetime import date, timedelta
from math import ceil

_NONE: frozenset[date] = frozenset()
_DAY = timedelta(days=1)
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip
HALF_A_YEAR = 182


def _works(day: date, closed: AbstractSet[date]) -> bool:
    return day.weekday() < 5 and day not in closed


def working_days(first: date, last: date, closed: AbstractSet[date] = _NONE) -> int:
    """Return how many working days lie after the one day, up to the other.

    Parameters
    ----------
    first : date
        The day from which is counted; it does not count itself. [-]
    last : date
        The last day that counts. [-]
    closed : set of date
        Days on which nobody works. [-]

    Returns
    -------
    int
        None where the last lies before the first. [working days]

    Raises
    ------
    none

    Notes
    -----
    Counted by whole weeks, so that years cost no more than days.

    Examples
    --------
    >>> working_days(date(2026, 5, 12), date(2026, 5, 19))
    5

    References
    ----------
    none: counting only.
    """
    weeks, rest = divmod(max(0, (last - first).days), 7)
    over = sum((first + _DAY * n).weekday() < 5 for n in range(1, rest + 1))
    return weeks * 5 + over - sum(first < day <= last and day.weekday() < 5 for day in closed)


def days_after(day: date, days: float, closed: AbstractSet[date] = _NONE) -> date:
    """Return the day so many working days after this one.

    Parameters
    ----------
    day : date
        The day from which is counted. [-]
    days : float
        A part of a day counts as one; none or less is the day itself. [working days]
    closed : set of date
        Days on which nobody works. [-]

    Returns
    -------
    date
        A working day, or the day itself.

    Raises
    ------
    OverflowError
        A day after the last that a calendar knows.

    Notes
    -----
    The inverse of `working_days`.

    Examples
    --------
    >>> days_after(date(2026, 5, 15), 1)
    datetime.date(2026, 5, 18)

    References
    ----------
    none: counting only.
    """
    left = ceil(days)
    while left > 0:
        day += _DAY
        left -= _works(day, closed)
    return day


def days_before(day: date, days: float, closed: AbstractSet[date] = _NONE) -> date:
    """Return the working day so many working days before this one.

    Parameters
    ----------
    day : date
        The day from which is counted; where nobody works on it, the last working day before it. [-]
    days : float
        A part of a day counts as one. [working days]
    closed : set of date
        Days on which nobody works. [-]

    Returns
    -------
    date
        A working day.

    Raises
    ------
    OverflowError
        A day before the first that a calendar knows.

    Notes
    -----
    What leaves then is there on the day, or before it.

    Examples
    --------
    >>> days_before(date(2026, 5, 17), 1)
    datetime.date(2026, 5, 14)

    References
    ----------
    none: counting only.
    """
    day, left = on_or_before(day, closed), ceil(days)
    while left > 0:
        day -= _DAY
        left -= _works(day, closed)
    return day


def on_or_before(day: date, closed: AbstractSet[date] = _NONE, not_before: date = date.min) -> date:
    """Return the day itself, or the last working day before it.

    Parameters
    ----------
    day : date
        The day. [-]
    closed : set of date
        Days on which nobody works. [-]
    not_before : date
        The earliest day that is given, whether anybody works on it or not. [-]

    Returns
    -------
    date
        The day.

    Raises
    ------
    none

    Notes
    -----
    Where `day` lies before `not_before` already, it is given as it is.

    Examples
    --------
    >>> on_or_before(date(2026, 5, 17))
    datetime.date(2026, 5, 15)

    References
    ----------
    none: counting only.
    """
    while day > not_before and not _works(day, closed):
        day -= _DAY
    return day


def said_day(day: date, now: date, short: bool = False) -> str:
    """Return a day as it is said: with its year where that could be mistaken.

    Parameters
    ----------
    day : date
        The day. [-]
    now : date
        The day on which it is said. [-]
    short : bool
        The month in three letters, as a table writes it. [-]

    Returns
    -------
    str
        Day and month; the year too where it is another one, or half a year away.

    Raises
    ------
    AttributeError
        Not a date.

    Notes
    -----
    English names, whatever the machine's language.

    Examples
    --------
    >>> said_day(date(2026, 5, 15), date(2026, 5, 12))
    '15 May'
    >>> said_day(date(2027, 2, 2), date(2026, 5, 12), short=True)
    '2 Feb 2027'

    References
    ----------
    none: words only.
    """
    name = _MONTHS[day.month - 1]
    year = f" {day.year}" if day.year != now.year or abs((day - now).days) > HALF_A_YEAR else ""
    return f"{day.day} {name[:3] if short else name}{year}"
