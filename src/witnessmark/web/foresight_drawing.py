"""Two drawings to scale: how likely the end is by each day, and who is at what when."""

from dataclasses import dataclass
from datetime import date, timedelta

from witnessmark.calc.plan.calendars import DAY
from witnessmark.calc.plan.outlook import Outlook
from witnessmark.records.lookups.plan import Plan

WIDE, HIGH, LEFT, FOOT = 640, 300, 56, 40
DAY_PX, LANE_PX, LABEL_PX = 6, 22, 190
MOST_DAYS = 550


@dataclass(frozen=True)
class Tick:
    """A line with a word."""

    at: float
    said: str


@dataclass(frozen=True)
class Curve:
    """The S-curve: points of the line, months below it, and the two days that are said."""

    points: str
    months: tuple[Tick, ...]
    levels: tuple[Tick, ...]
    half: tuple[float, float]
    four: tuple[float, float]
    plan_x: float


def curve(told: Outlook) -> Curve:
    """Scale the curve from today to the last day drawn."""
    first, last = told.today, max(told.curve[-1][0], told.end.nineteen_in_twenty)
    span = max(1, (last - first).days)

    def x(day: date) -> float:
        return round(LEFT + (WIDE - LEFT - 16) * (day - first).days / span, 1)

    def y(share: float) -> float:
        return round(16 + (HIGH - FOOT - 16) * (1 - share), 1)

    points = [(x(first), y(0.0))] + [(x(day), y(share)) for day, share in told.curve]
    step = max(1, round(span / 30 / 5))
    months = tuple(Tick(x(day), f"{day:%b %y}") for day in _months(first, last)[::step] if x(day) < WIDE - 40)
    levels = tuple(Tick(y(share), said) for share, said in ((1.0, "all"), (0.8, "4 in 5"), (0.5, "half")))
    return Curve(
        " ".join(f"{a},{b}" for a, b in points), months, levels, (x(told.end.half), y(0.5)), (x(told.end.four_in_five), y(0.8)),
        x(told.likely_end),
    )  # fmt: skip


def _months(first: date, last: date) -> list[date]:
    found: list[date] = []
    day = first.replace(day=1)
    while True:
        day = (day + timedelta(days=32)).replace(day=1)
        if day > last:
            return found
        found.append(day)


@dataclass(frozen=True)
class Bar:
    """One job on its lane."""

    x: float
    width: float
    said: str
    key: str


@dataclass(frozen=True)
class Lane:
    """A person, a bench or a vendor; `rows` keep jobs at one time from lying over one another."""

    name: str
    kind: str
    y: int
    height: int
    bars: tuple[tuple[int, Bar], ...]


@dataclass(frozen=True)
class Timeline:
    """Lanes and weeks on one scale; `left_out`: jobs that begin after the last day drawn."""

    width: int
    height: int
    lanes: tuple[Lane, ...]
    weeks: tuple[Tick, ...]
    left_out: int
    last: date


def timeline(plan: Plan) -> Timeline:
    """Put every job on the lanes of who does it, of where, and of the vendor."""
    held: dict[tuple[int, str, str], list[tuple[int, int, str, str]]] = {}
    days = min(MOST_DAYS, plan.schedule.finish // DAY + 2)
    left_out = 0
    for entry in plan.schedule.entries:
        job = plan.network.by_key[entry.key]
        if entry.start >= days * DAY:
            left_out += 1
            continue
        said = f"{job.what.rstrip('.')}, {entry.start_date:%-d %b} to {entry.finish_date:%-d %b}"
        row = (entry.start, max(entry.finish, entry.start + 1), said, entry.key)
        for order, kind, name in ((0, "person", entry.person), (1, "bench", entry.bench), (2, "vendor", job.vendor)):
            if name:
                held.setdefault((order, kind, name), []).append(row)
    lanes, y = [], 30
    for (_, kind, name), rows in sorted(held.items()):
        ends: list[int] = []
        bars = []
        for start, finish, said, key in sorted(rows):
            at = next((k for k, end in enumerate(ends) if end <= start), len(ends))
            if at == len(ends):
                ends.append(finish)
            ends[at] = finish
            x = LABEL_PX + start / DAY * DAY_PX
            bars.append(
                (
                    y + at * LANE_PX + 3,
                    Bar(round(x, 1), round(max(2.0, (finish - start) / DAY * DAY_PX - 1), 1), said, key),
                )
            )
        height = len(ends) * LANE_PX
        lanes.append(Lane(name, kind, y, height, tuple(bars)))
        y += height + 6
    monday = (7 - plan.shop.today.weekday()) % 7
    weeks = tuple(
        Tick(LABEL_PX + d * DAY_PX, f"{plan.shop.today + timedelta(days=d):%-d %b}") for d in range(monday, days, 14)
    )
    return Timeline(
        LABEL_PX + days * DAY_PX + 8, y + 8, tuple(lanes), weeks, left_out, plan.shop.today + timedelta(days=days)
    )
