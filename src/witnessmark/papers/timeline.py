"""The timeline on A3: steps, people, benches and vendors as lanes to scale, a quarter of a year on a sheet."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from witnessmark.papers.typesetting import Stamp, short_day, stamp_for, typeset
from witnessmark.records.lookups.plan import COUNTED, make_plan
from witnessmark.records.lookups.timeline import Lane, Lanes, lanes
from witnessmark.records.models import Aircraft

WEEKS, MOST_SHEETS = 13, 8
# The drawing on A3 lying down, in mm: names at the left, days to the right, rows below one another.
NAMES_MM, WIDE_MM, HIGH_MM, ROW_MM = 46.0, 346.0, 221.0, 4.0
BETWEEN_MM, LEAST_MM = 1.2, 0.4


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
    drawn, y = [], 0.0
    for lane in sheet.shown:
        row_mm = min(ROW_MM, (HIGH_MM - BETWEEN_MM) / lane.rows)
        drawn.append(
            {
                "name": lane.name,
                "kind": lane.kind,
                "y": y,
                "bars": [
                    {
                        "x": bar.at * day_mm,
                        "y": y + 0.4 + bar.row * row_mm,
                        "w": max(LEAST_MM, bar.long * day_mm),
                        "h": row_mm - 0.7,
                        "said": bar.what,
                    }
                    for bar in lane.bars
                ],
            }
        )
        y += lane.rows * row_mm + BETWEEN_MM
    mondays = [n for n in range(found.days) if (found.first + timedelta(days=n)).weekday() == 0]
    return {
        "title": f"{short_day(found.first)} to {short_day(found.last)} {found.last.year}",
        "high": y,
        "lanes": drawn,
        "weeks": [{"x": n * day_mm, "said": short_day(found.first + timedelta(days=n))} for n in mondays],
        "closed": [{"x": n * day_mm, "w": day_mm} for n in found.closed],
    }
