"""Who works when. Time is a whole number of quarter-hours of the clock since midnight before today.

Whole quarters keep the arithmetic exact, and clock time lets a cure run on through the night. The shop opens at 8;
a person works his hours from then on, without a break, on his own weekdays. A vendor works Monday to Friday.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta

DAY = 96
OPENING = 32
CLOSING = 64
MON_FRI = frozenset(range(5))


@dataclass(frozen=True)
class Person:
    """Somebody who can be given work. `weekdays`: Monday is 0. `continuous`: wants no gaps once he has begun."""

    name: str
    crafts: frozenset[str]
    hours_per_day: float = 8.0
    weekdays: frozenset[int] = MON_FRI
    absent: frozenset[date] = frozenset()
    continuous: bool = False

    def __post_init__(self) -> None:
        if not 0 <= self.hours_per_day <= 16:
            raise ValueError(f"{self.name} cannot work {self.hours_per_day} hours a day")

    @property
    def quarters_per_day(self) -> int:
        """Whole quarter-hours that he works on each of his days."""
        return int(self.hours_per_day * 4 + 1e-9)

    @property
    def ever_works(self) -> bool:
        """True where he has a day and hours."""
        return self.quarters_per_day > 0 and any(d in range(7) for d in self.weekdays)


@dataclass(frozen=True)
class Bench:
    """A place of work, a booth, an oven or a fixture, and how many jobs it takes at once."""

    name: str
    capacity: int = 1

    def __post_init__(self) -> None:
        if self.capacity < 1:
            raise ValueError(f"bench {self.name} takes {self.capacity} jobs; leave it out instead")


@dataclass(frozen=True)
class Shop:
    """Today, the people, the benches, the days on which nobody works, and vendors that are kept in work without gaps."""

    today: date
    people: tuple[Person, ...]
    benches: tuple[Bench, ...] = ()
    holidays: frozenset[date] = field(default_factory=frozenset)
    continuous_vendors: frozenset[str] = frozenset()

    def date_of(self, quarter: int) -> date:
        """Return the day on which a quarter-hour lies."""
        return self.today + timedelta(days=quarter // DAY)


class _Days:
    """Working days from today on, as numbers of days from today; more are found when asked for."""

    def __init__(self, works_on: Callable[[date], bool], today: date) -> None:
        self._works_on = works_on
        self._today = today
        self._days: list[int] = []
        self._seen = 0

    def _grow(self) -> None:
        for number in range(self._seen, self._seen + 400):
            if self._works_on(self._today + timedelta(days=number)):
                self._days.append(number)
        self._seen += 400

    def day(self, index: int) -> int:
        while index >= len(self._days):
            self._grow()
        return self._days[index]

    def first_from(self, day: int) -> int:
        """Index of the first working day on or after a day."""
        while self._seen <= day:
            self._grow()
        return bisect_left(self._days, day)

    def last_until(self, day: int) -> int:
        """Index of the last working day on or before a day; -1 where there is none."""
        while self._seen <= day:
            self._grow()
        return bisect_right(self._days, day) - 1


class WorkClock:
    """A person's working time: quarters of work done by a clock time, and back."""

    def __init__(self, person: Person, shop: Shop) -> None:
        closed = shop.holidays | person.absent
        self._length = person.quarters_per_day
        self._days = _Days(lambda d: d.weekday() in person.weekdays and d not in closed, shop.today)

    def done_by(self, quarter: int) -> int:
        """Working quarters before a clock time."""
        day, within = divmod(max(quarter, 0), DAY)
        index = self._days.first_from(day)
        if self._days.day(index) != day:
            return index * self._length
        return index * self._length + min(max(within - OPENING, 0), self._length)

    def start_of(self, work: int) -> int:
        """Clock time at which a working quarter begins."""
        index, within = divmod(work, self._length)
        return self._days.day(index) * DAY + OPENING + within

    def end_after(self, work: int) -> int:
        """Clock time at which so many working quarters are done."""
        return self.start_of(work - 1) + 1


class VendorClock:
    """Working days of the vendors and the carriers: Monday to Friday without holidays."""

    def __init__(self, shop: Shop) -> None:
        self._days = _Days(lambda d: d.weekday() < 5 and d not in shop.holidays, shop.today)

    def leaves(self, quarter: int) -> int:
        """Earliest time from a clock time on at which something can leave."""
        day, within = divmod(max(quarter, 0), DAY)
        if within > CLOSING:
            day, within = day + 1, 0
        found = self._days.day(self._days.first_from(day))
        return found * DAY + (max(within, OPENING) if found == day else OPENING)

    def back(self, left: int, days: int) -> int:
        """Time at which it is here: the opening of the nth working day after it left; 0 days is at once."""
        if days == 0:
            return left
        return self._days.day(self._days.first_from(left // DAY) + days) * DAY + OPENING

    def latest_leave(self, here_by: int, days: int) -> int:
        """Latest time to leave so that it is here by then (may be before today: then less than nothing)."""
        if days == 0:
            return here_by
        day, within = divmod(here_by, DAY)
        index = self._days.last_until(day if within >= OPENING else day - 1) - days
        return self._days.day(index) * DAY + CLOSING if index >= 0 else -1

    def days_between(self, first: int, last: int) -> int:
        """Working days from the day of one clock time to the day of another."""
        return max(0, self._days.last_until(last // DAY) - self._days.last_until(first // DAY))


def quarters(hours: float) -> int:
    """Return hours as whole quarter-hours, rounded up; work takes at least one.

    Parameters
    ----------
    hours : float
        Work. [hours]

    Returns
    -------
    int
        At least 1. [quarter-hours]

    Raises
    ------
    ValueError
        Negative or not a number.

    Notes
    -----
    0 <= hours.

    Examples
    --------
    >>> quarters(1.1)
    5

    References
    ----------
    none: counting only.
    """
    if not math.isfinite(hours) or hours < 0:
        raise ValueError(f"{hours} hours of work")
    return max(1, math.ceil(hours * 4 - 1e-9))
