"""Two drawings to scale: how likely the end is by each day, and who is at what when."""

from dataclasses import dataclass
from datetime import date, timedelta

from witnessmark.calc.plan.outlook import Outlook
from witnessmark.records.lookups.timeline import Bar, Lane, Lanes

WIDE, HIGH, LEFT, FOOT = 640, 300, 56, 40
LANE_PX = 20


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
class Strip:
    """One lane drawn: bars in hundredths of the width, rows one below the other."""

    lane: Lane
    height: int
    bars: tuple[tuple[float, int, float, Bar], ...]


@dataclass(frozen=True)
class Timeline:
    """Every lane on one scale; ticks and the days on which the shop stands still in hundredths of the width."""

    lanes: Lanes
    strips: tuple[Strip, ...]
    ticks: tuple[Tick, ...]
    closed: tuple[tuple[float, float], ...]


def timeline(found: Lanes) -> Timeline:
    """Scale the lanes to the width of whatever shows them."""
    share = 100 / found.days
    strips = tuple(
        Strip(
            lane,
            lane.rows * LANE_PX + 4,
            tuple(
                (round(b.at * share, 3), b.row * LANE_PX + 3, max(0.3, round(b.long * share, 3)), b) for b in lane.bars
            ),
        )
        for lane in found.lanes
    )
    every = 1 if found.days <= 14 else 7 * max(1, round(found.days / 56))
    monday = 0 if every == 1 else (7 - found.first.weekday()) % 7
    ticks = tuple(
        Tick(round(n * share, 3), f"{found.first + timedelta(days=n):{'%-d' if every == 1 else '%-d %b'}}")
        for n in range(monday, found.days, every)
    )
    closed = tuple((round(n * share, 3), round(share, 3)) for n in found.closed)
    return Timeline(found, strips, ticks, closed)
