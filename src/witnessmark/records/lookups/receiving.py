"""Boxes of rivets that came and were measured: what the rows make of them, and what they still owe."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Any

from witnessmark.calc.fasteners.receiving import Received, Wanting, receive
from witnessmark.records.lookups.catalogue import shapes_for
from witnessmark.records.lookups.seams import RowSeen, is_flush
from witnessmark.records.models import Aircraft, AnswerReliedOn, HoleReading

KIND = "rivets received"


@dataclass(frozen=True)
class Box:
    """One box as it was measured, with the rows as they were then."""

    name: str
    sentence: str
    count: int
    rows: tuple[dict[str, Any], ...]
    by: str


def heads_wanted(aircraft: Aircraft) -> dict[int, float]:
    """The head of each row, as measured there: the mean of what was read, by place, in one query."""
    read: dict[int, list[float]] = {}
    found = HoleReading.objects.filter(hole__place__aircraft=aircraft, what="head_mm", painted=False)
    for place, value in found.exclude(value_mm=None).values_list("hole__place_id", "value_mm"):
        read.setdefault(place, []).append(float(value or 0))
    return {place: round(fmean(values), 2) for place, values in read.items()}


def wanting(aircraft: Aircraft, rows: Sequence[RowSeen]) -> list[Wanting]:
    """What every row that was looked at waits for; where nobody measured its head, the shop's own size may say it."""
    measured = heads_wanted(aircraft)
    heads = {code: shape.head_mm for code, shape in shapes_for(row.size for row in rows).items()}
    return [
        Wanting(
            row.name,
            row.size.nominal_mm,
            row.length.stock_mm,
            measured.get(row.place.pk) or heads.get(row.size.code),
            row.to_order,
        )
        for row in rows
        if row.looked_at and row.to_order and row.size is not None and row.length is not None and is_flush(row.size)
    ]


def match_box(
    aircraft: Aircraft,
    rows: Sequence[RowSeen],
    shanks_mm: Sequence[float],
    heads_mm: Sequence[float],
    length_mm: float,
    count: int,
) -> Received:
    """Match a measured box with the rows that wait, less what earlier boxes hold for them."""
    held = held_for(aircraft, rows)
    asked = [
        Wanting(want.row, want.shank_mm, want.length_mm, want.head_mm, want.holes - held.get(want.row, 0))
        for want in wanting(aircraft, rows)
    ]
    return receive(shanks_mm, heads_mm, length_mm, count, asked)


def boxes(aircraft: Aircraft) -> tuple[Box, ...]:
    """Every box that was measured and written down, as it was found then."""
    relied = AnswerReliedOn.objects.filter(answer__kind=KIND, act__aircraft=aircraft, act__verb="measure_box")
    return tuple(
        Box(
            each.answer.subject,
            each.answer.result["sentence"],
            each.answer.inputs["count"],
            tuple(each.answer.result["rows"]),
            each.act.person.name,
        )
        for each in relied.select_related("answer", "act__person").order_by("id")
    )


def boxes_for(aircraft: Aircraft, row: str) -> tuple[tuple[str, dict[str, Any]], ...]:
    """What each measured box is for one row: what it gives, or why it is barred."""
    return tuple((box.name, each) for box in boxes(aircraft) for each in box.rows if each["row"] == row)


def held_for(aircraft: Aircraft, rows: Sequence[RowSeen], known: Sequence[Box] | None = None) -> dict[str, int]:
    """What the boxes still hold for each row: a hole filled since was filled out of the box."""
    waits = {row.name: row.to_order for row in rows}
    held: dict[str, int] = {}
    for box in boxes(aircraft) if known is None else known:
        for row in box.rows:
            still = row["takes"] - max(0, row["holes"] - waits.get(row["row"], 0) - held.get(row["row"], 0))
            if still > 0:
                held[row["row"]] = held.get(row["row"], 0) + still
    return held
