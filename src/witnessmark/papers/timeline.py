"""The timeline on A3: steps, people, benches and vendors as lanes to scale, a quarter of a year on a sheet."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import groupby
from math import ceil, floor
from typing import Any

from witnessmark.papers.typesetting import Stamp, short_day, stamp_for, typeset
from witnessmark.records.lookups.plan import COUNTED, make_plan
from witnessmark.records.lookups.timeline import Bar, Lane, Lanes, lanes
from witnessmark.records.models import Aircraft

WEEKS, MOST_SHEETS = 13, 8
# The drawing on A3 lying down, in mm: names at the left, days to the right, rows below one another.
NAMES_MM, WIDE_MM, HIGH_MM, ROW_MM = 46.0, 346.0, 221.0, 4.0
BETWEEN_MM = 1.2
# What can still be seen at arm's length, its white or black edge taken off: about 1.2 mm. Judgement, common practice.
LEAST_MM = 1.3


@dataclass(frozen=True)
class Sheet:
    """One sheet: the lanes that fit on it, of one span."""

    lanes: Lanes
    shown: tuple[Lane, ...]


@dataclass(frozen=True)
class TimelinePaper:
    """All sheets; `sentence` says why there are none."""

    stamp: Stamp
    sheets: tuple[Sheet, ...]
    ends_on: date | None
    sentence: str = ""


def gather(aircraft: Aircraft | None) -> TimelinePaper:
    """Collect the lanes, a quarter of a year after another, as far as the plan goes."""
    stamp = stamp_for(aircraft)
    if aircraft is None:
        return TimelinePaper(stamp, (), None, "There is no aircraft in the record, so there is no plan to draw.")
    plan = make_plan(aircraft)
    if not plan.proved:
        return TimelinePaper(stamp, (), None, "The plan did not pass its own check, so it is not printed.")
    if not plan.schedule.entries:
        return TimelinePaper(stamp, (), None, "Nothing is planned, so there is nothing to draw.")
    first = plan.shop.today - timedelta(days=plan.shop.today.weekday())
    sheets: list[Sheet] = []
    while first <= plan.schedule.finish_date and len(sheets) < MOST_SHEETS:
        found = lanes(plan, first, WEEKS * 7)
        sheets += [Sheet(found, part) for part in _parted(found.lanes)]
        first += timedelta(weeks=WEEKS)
    return TimelinePaper(stamp, tuple(sheets), plan.schedule.finish_date)


@dataclass(frozen=True)
class Drawn:
    """One bar as it is drawn: one job to scale, or one or several that are too short to be seen each by itself."""

    x: float
    end: float
    row: int
    jobs: tuple[str, ...]

    @property
    def said(self) -> str:
        """What the bar is."""
        return self.jobs[0] if len(self.jobs) == 1 else f"{len(self.jobs)} jobs: {self.jobs[0]} and more"

    def with_(self, other: "Drawn") -> "Drawn":
        """Both as one bar."""
        return Drawn(min(self.x, other.x), max(self.end, other.end), self.row, (*self.jobs, *other.jobs))


def wide_enough(bars: Iterable[Bar], day_mm: float) -> list[Drawn]:
    """Bars to scale, but none thinner than can be seen.

    A job that is too short is drawn wider, on its own day, where that hides no other. Where there is no room it is one bar
    with the job beside it: from where the one begins to where the other ends, to scale again.
    """
    by_row = sorted(bars, key=lambda bar: (bar.row, bar.at))
    drawn: list[Drawn] = []
    for _, row in groupby(by_row, key=lambda bar: bar.row):
        drawn += _row([Drawn(b.at * day_mm, (b.at + b.long) * day_mm, b.row, (b.what,)) for b in row], day_mm)
    return drawn


def _row(left: list[Drawn], day_mm: float) -> list[Drawn]:
    done: list[Drawn] = []
    while left:
        bar, after = left.pop(0), left[0] if left else None
        if bar.end - bar.x >= LEAST_MM:
            done.append(bar)
            continue
        dawn = floor(bar.x / day_mm + 1e-9) * day_mm
        night = max(dawn + day_mm, ceil(bar.end / day_mm - 1e-9) * day_mm)
        least = max(dawn, done[-1].end if done else 0.0)
        most = min(night, after.x if after else night, WIDE_MM)
        if most - least >= LEAST_MM:
            x = max(least, min(bar.x, most - LEAST_MM))
            done.append(replace(bar, x=x, end=max(bar.end, x + LEAST_MM)))
        elif after is not None and (not done or _beside(done[-1], bar, after, night)):
            left[0] = bar.with_(after)
        else:
            done[-1] = done[-1].with_(bar)
    return done


def _beside(before: Drawn, bar: Drawn, after: Drawn, night: float) -> bool:
    """Whether it goes with the next: another short one of its day, else the nearer of the two."""
    short = after.end - after.x < LEAST_MM and after.x < night
    return short or after.x - bar.end < bar.x - before.end


def _parted(every: tuple[Lane, ...]) -> list[tuple[Lane, ...]]:
    """Lanes by sheets, none of them torn; a lane too high for one sheet is drawn in thinner rows."""
    parts: list[list[Lane]] = [[]]
    left = HIGH_MM
    for lane in every:
        needs = min(HIGH_MM, lane.rows * ROW_MM + BETWEEN_MM)
        if needs > left and parts[-1]:
            parts.append([])
            left = HIGH_MM
        parts[-1].append(lane)
        left -= needs
    return [tuple(part) for part in parts if part]


def pdf(data: TimelinePaper) -> bytes:
    """Draw the sheets."""
    ends = data.ends_on
    return typeset(
        "timeline.typ",
        {
            "empty": data.sentence,
            "counted": f"With {COUNTED}: too hopeful, for it leaves no room for lateness."
            + (f" It ends on {ends:%A} {ends.day} {ends:%B %Y}." if ends else ""),
            "names": NAMES_MM,
            "wide": WIDE_MM,
            "sheets": [_drawn(sheet) for sheet in data.sheets],
        },
        data.stamp,
    )


def _drawn(sheet: Sheet) -> dict[str, Any]:
    found, day_mm = sheet.lanes, WIDE_MM / sheet.lanes.days
    drawn, y, joined = [], 0.0, 0
    for lane in sheet.shown:
        row_mm = min(ROW_MM, (HIGH_MM - BETWEEN_MM) / lane.rows)
        bars = wide_enough(lane.bars, day_mm)
        joined += sum(len(bar.jobs) > 1 for bar in bars if lane.kind != "vendor")
        drawn.append(
            {
                "name": lane.name,
                "kind": lane.kind,
                "y": y,
                "bars": [
                    {
                        "x": bar.x,
                        "y": y + 0.4 + bar.row * row_mm,
                        "w": bar.end - bar.x,
                        "h": row_mm - 0.7,
                        "said": bar.said,
                    }
                    for bar in bars
                ],
            }
        )
        y += lane.rows * row_mm + BETWEEN_MM
    mondays = [n for n in range(found.days) if (found.first + timedelta(days=n)).weekday() == 0]
    return {
        "joined": f" {joined} {'bar stands' if joined == 1 else 'bars stand'} for several jobs." if joined else "",
        "title": f"{short_day(found.first)} to {short_day(found.last)} {found.last.year}",
        "high": y,
        "lanes": drawn,
        "weeks": [{"x": n * day_mm, "said": short_day(found.first + timedelta(days=n))} for n in mondays],
        "closed": [{"x": n * day_mm, "w": day_mm} for n in found.closed],
    }
