"""The findings report for the owner: what was found, with its ring, what is wanted of him, and what it would cost."""

import io
from dataclasses import dataclass

from witnessmark.papers.pictures import PAPER_PX
from witnessmark.papers.typesetting import Stamp, short_day, stamp_for, typeset
from witnessmark.records.lookups.choices import DecisionSheet, decision_sheet
from witnessmark.records.lookups.findings import FindingSeen, Ringed, findings_seen
from witnessmark.records.lookups.hidden_damage import reserve_of
from witnessmark.records.lookups.plan import make_plan
from witnessmark.records.models import Aircraft
from witnessmark.records.photo_store import served_copy

PICTURE_MM = 74.0


@dataclass(frozen=True)
class FindingsReport:
    """The open findings whole, the decided ones in a line each, and what is held back."""

    stamp: Stamp
    sentence: str
    reserve: str
    open: tuple[tuple[FindingSeen, DecisionSheet | None], ...]
    decided: tuple[FindingSeen, ...]


def gather(aircraft: Aircraft | None) -> FindingsReport:
    """Collect the findings; of each piece with an open one the five choices."""
    seen = findings_seen(aircraft)
    opened = [f for f in seen.every if f.finding.state == "open"]
    sheets: dict[int, DecisionSheet] = {}
    if aircraft is not None and opened:
        plan = make_plan(aircraft)
        for one in opened:
            piece = one.finding.piece
            if piece is not None and piece.pk not in sheets:
                sheets[piece.pk] = decision_sheet(piece, plan)
    return FindingsReport(
        stamp=stamp_for(aircraft),
        sentence=seen.sentence,
        reserve=reserve_of(aircraft, list(seen.every)).sentence if aircraft is not None and seen.total else "",
        open=tuple((f, sheets.get(f.finding.piece_id or 0)) for f in opened),
        decided=tuple(f for f in seen.every if f.finding.state == "decided"),
    )


def ringed_picture(pictures: tuple[Ringed, ...], wide_mm: float = PICTURE_MM) -> tuple[bytes, dict[str, object]] | None:
    """The first picture with its ring in mm of paper; None where there is none, or its file is gone."""
    from PIL import Image

    for one in sorted(pictures, key=lambda p: not p.drawn):
        try:
            copy = served_copy(one.use.photo, PAPER_PX)
        except OSError:
            continue  # a paper without the picture is of more use than no paper
        with Image.open(io.BytesIO(copy)) as opened:
            high = wide_mm * opened.height / opened.width
        ring = one.ring if one.drawn else None
        return copy, {
            "width": wide_mm,
            "height": high,
            "where": one.ring.where_words if one.ring else "",
            "ring": None
            if ring is None
            else {
                "x": (ring.across or 0) * wide_mm,
                "y": (ring.down or 0) * high,
                "rx": (ring.half_wide or 0) * wide_mm,
                "ry": (ring.half_high or 0) * high,
            },
        }
    return None


def _wanted(seen: FindingSeen, sheet: DecisionSheet | None) -> list[str]:
    """What is wanted, and what each choice is reckoned to take; what nobody reckoned is unknown."""
    said = []
    if seen.with_engineering:
        said.append("Waits for engineering's answer.")
    if sheet is None:
        return [*said, "A decision is wanted of the lead mechanic; nothing is reckoned yet."]
    known: list[str] = []
    unknown: list[str] = []
    for kind, cells in sheet.choices.cells.items():
        if kind == "scrap":
            continue
        parts = [cells[what].words for what in ("hours", "money") if cells[what].known]
        parts += [f"{cells['cost'].words} with the shop's hours"] if cells["cost"].known else []
        (known if parts else unknown).append(f"{kind}: {', '.join(parts)}" if parts else kind)
    told = "; ".join(known)
    said.append(
        f"Decision wanted. {told[:1].upper()}{told[1:]}." if known else "Decision wanted. Nothing is reckoned yet."
    )
    if unknown:
        said.append(f"Hours and money of {', '.join(unknown)}: unknown.")
    return said


def pdf(data: FindingsReport) -> bytes:
    """Set the report."""
    pictures: list[bytes | None] = []
    rows = []
    for seen, sheet in data.open:
        found = ringed_picture(seen.pictures)
        number = None
        if found is not None:
            number = len(pictures)
            pictures.append(found[0])
        finding = seen.finding
        says = list(seen.assessment.sentences) if seen.measured else []
        rows.append(
            {
                "number": finding.number,
                "what": finding.what,
                "on": ", ".join(filter(None, (seen.on, seen.where))),
                "seen": f"Seen by {finding.seen_by}{f', {short_day(finding.seen_on)} {finding.seen_on.year}' if finding.seen_on else ''}."
                if finding.seen_by
                else "",
                "says": says or ([f"Measured: {finding.measured}."] if finding.measured else ["Not measured yet."]),
                "limit": seen.assessment.limit_words if seen.measured else "",
                "wanted": _wanted(seen, sheet),
                "picture": number,
                "at": found[1] if found else None,
            }
        )
    return typeset(
        "findings_report.typ",
        {
            "sentence": data.sentence,
            "reserve": data.reserve,
            "rows": rows,
            "decided": [
                [
                    f.finding.number,
                    f"{f.finding.what}. {f.on}",
                    f.decision.kind if f.decision else "decided, not on record what",
                ]
                for f in data.decided
            ],
        },
        data.stamp,
        pictures,
    )
