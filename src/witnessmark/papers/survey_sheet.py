"""The survey sheet: which rows to look at, where to strip a stripe, which three heads to measure, which to give up."""

from dataclasses import dataclass

from witnessmark.papers.typesetting import Stamp, stamp_for, typeset
from witnessmark.records.lookups.seams import RowSeen, is_flush
from witnessmark.records.lookups.survey import SurveySeen, survey
from witnessmark.records.models import Aircraft

MOST_ROWS = 40


@dataclass(frozen=True)
class SheetRow:
    """One row to look at: what to do first, the three holes to measure, and what is given up."""

    name: str
    seam: str
    where: str
    structure: str
    holes: int
    stripe: bool
    measure: tuple[int, ...]
    give_up: tuple[int, ...]


@dataclass(frozen=True)
class SurveySheet:
    """The whole sheet; `sentence` is what the survey says now."""

    stamp: Stamp
    sentence: str
    single: str
    rows: tuple[SheetRow, ...]
    out_of_reach: tuple[str, ...]
    left_out: int


def three_heads(holes: int) -> tuple[int, ...]:
    """The heads to measure: the first, the middle one, the last."""
    return tuple(sorted({1, (holes + 1) // 2, holes}))


def three_to_give_up(holes: int) -> tuple[int, ...]:
    """The flush rivets to knock out whole: spread over the row, never the ends that hold the sheet's corners."""
    if holes < 3:
        return tuple(range(1, holes + 1))
    spread = {max(2, round(holes * part)) for part in (0.25, 0.5, 0.75)}
    return tuple(sorted(hole for hole in spread if hole < holes)) or (2,)


def gather(aircraft: Aircraft | None) -> SurveySheet:
    """Collect the rows that were not looked at: the next ones first, then those that need a stripe."""
    stamp = stamp_for(aircraft)
    if aircraft is None:
        return SurveySheet(stamp, "There is no aircraft in the record, so there is nothing to survey.", "", (), (), 0)
    seen = survey(aircraft)
    rank = {name: number for number, name in enumerate(seen.risk.next_rows)}
    wanted = [row for row in seen.rows if row.row.looked_at in ("no", "under paint", "disputed")]
    wanted.sort(key=lambda row: (rank.get(row.name, len(rank)), row.row.looked_at == "under paint"))
    return SurveySheet(
        stamp=stamp,
        sentence=seen.risk.sentence,
        single=seen.risk.single_head_sentence,
        rows=tuple(_row(row, seen) for row in wanted[:MOST_ROWS]),
        out_of_reach=tuple(row.name for row in seen.rows if row.row.looked_at == "cannot reach"),
        left_out=max(0, len(wanted) - MOST_ROWS),
    )


def _row(row: RowSeen, seen: SurveySeen) -> SheetRow:
    flush = row.size is None or is_flush(row.size)
    stations = f"{row.row.from_station} to {row.row.to_station}" if row.row.from_station else ""
    return SheetRow(
        name=row.name,
        seam=row.row.seam,
        where=", ".join(filter(None, (row.place.zone.name, stations))),
        structure=seen.structure_of[row.name],
        holes=row.holes,
        stripe=row.row.looked_at == "under paint",
        measure=three_heads(row.holes),
        give_up=three_to_give_up(row.holes) if flush else (),
    )


def pdf(data: SurveySheet) -> bytes:
    """Set the sheet: a block a row with room for the figures."""
    if data.rows:
        count = len(data.rows) + data.left_out
        title = f"Look at {'one row' if count == 1 else f'{count} rows'} before the order leaves."
    else:
        title = "Every row that can be reached was looked at."
    reach = f"Out of reach, no claim: {', '.join(data.out_of_reach)}." if data.out_of_reach else ""
    more = f"{data.left_out} more rows do not fit on this sheet." if data.left_out else ""
    return typeset(
        "survey_sheet.typ",
        {
            "title": title,
            "lead": data.sentence,
            "rows": [
                {
                    "name": row.name,
                    "words": ", ".join(filter(None, (row.seam, row.where, row.structure, f"{row.holes} holes"))),
                    "stripe": row.stripe,
                    "measure": [str(hole) for hole in row.measure],
                    "lines": [
                        {"hole": str(hole), "out": hole in row.give_up} for hole in sorted({*row.measure, *row.give_up})
                    ],
                    "give_up": " and ".join(", ".join(map(str, row.give_up)).rsplit(", ", 1)),
                }
                for row in data.rows
            ],
            "said": [each for each in (reach, more, data.single) if each],
        },
        data.stamp,
    )
