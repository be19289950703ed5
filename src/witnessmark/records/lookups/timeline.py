"""Who is at what when, as lanes to one scale: steps, people, benches, vendors. Screen, paper and command draw from it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from witnessmark.calc.plan.calendars import DAY
from witnessmark.calc.plan.working_days import said_day
from witnessmark.records.lookups.plan import Plan

KINDS = ("step", "person", "bench", "vendor")


@dataclass(frozen=True)
class Bar:
    """One job on its lane, or several of a vendor that leave and come back together; from and length in days."""

    at: float
    long: float
    row: int
    what: str
    keys: tuple[str, ...]
    first_day: date
    last_day: date
    today: date
    fixed: bool = False

    @property
    def said(self) -> str:
        """The bar in words."""
        day = said_day(self.first_day, self.today, short=True)
        if self.last_day != self.first_day:
            day = f"{day} to {said_day(self.last_day, self.today, short=True)}"
        return f"{self.what}, {day}" + (", fixed by hand" if self.fixed else "")


@dataclass(frozen=True)
class Lane:
    """A person, a bench, a vendor, or the steps that nobody works at; `rows` keep jobs at one time apart."""

    name: str
    kind: str
    rows: int
    bars: tuple[Bar, ...]


@dataclass(frozen=True)
class Lanes:
    """All lanes from one day on. `closed`: days, counted from the first, on which the shop stands still."""

    first: date
    days: int
    lanes: tuple[Lane, ...]
    closed: tuple[int, ...]
    earlier: int
    later: int

    @property
    def last(self) -> date:
        """The last day drawn."""
        return self.first + timedelta(days=self.days - 1)


def lanes(plan: Plan, first: date, days: int) -> Lanes:
    """Put every job of the span on the lanes of who does it, of where, and of the vendor."""
    offset = (first - plan.shop.today).days * DAY
    end = offset + days * DAY
    held: dict[tuple[int, str], list[tuple[int, int, str, str]]] = {}
    earlier = later = 0
    for entry in plan.schedule.entries:
        job = plan.network.by_key[entry.key]
        if entry.start >= end:
            later += 1
            continue
        if max(entry.finish, entry.start + 1) <= offset:
            earlier += 1
            continue
        row = (entry.start, entry.finish, job.what.rstrip("."), entry.key)
        step = "Steps" if job.is_mark and entry.key.startswith("hand:") else ""
        for kind, name in enumerate((step, entry.person, entry.bench, job.vendor)):
            if name:
                held.setdefault((kind, name), []).append(row)
    made = [_lane(plan, KINDS[kind], name, rows, offset, end) for (kind, name), rows in sorted(held.items())]
    shop = plan.shop
    closed = tuple(n for n in range(days) if (d := first + timedelta(days=n)).weekday() > 4 or d in shop.holidays)
    return Lanes(first, days, tuple(made), closed, earlier, later)


def _lane(plan: Plan, kind: str, name: str, rows: Sequence[tuple[int, int, str, str]], offset: int, end: int) -> Lane:
    groups: dict[tuple[int, int, str], list[tuple[int, int, str, str]]] = {}
    for row in sorted(rows):
        # What leaves for a vendor and comes back on the same days is one bar.
        days = (row[0] // DAY, row[1] // DAY, "") if kind == "vendor" else (row[0], row[1], row[3])
        groups.setdefault(days, []).append(row)
    ends: list[int] = []
    bars = []
    for those in groups.values():
        start, finish = min(row[0] for row in those), max(row[1] for row in those)
        at = next((k for k, until in enumerate(ends) if until <= start), len(ends))
        if at == len(ends):
            ends.append(finish)
        ends[at] = max(finish, start + 1)
        shown, until = max(start, offset), min(finish, end)
        what = those[0][2] if len(those) == 1 else f"{len(those)} things: {those[0][2]} and more"
        bars.append(
            Bar(
                (shown - offset) / DAY, max(until - shown, 0) / DAY, at, what, tuple(row[3] for row in those),
                plan.shop.date_of(start), plan.shop.date_of(max(start, finish - 1)), plan.shop.today,
                any(row[3] in plan.fixed for row in those),
            )
        )  # fmt: skip
    return Lane(name, kind, len(ends), tuple(bars))
