"""The decision sheet on paper: the finding with its ring, five choices side by side, and the line that is signed."""

from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.calc.choices import CHOICES
from witnessmark.papers.findings_report import ringed_picture
from witnessmark.papers.typesetting import Stamp, address_of, code_svg, short_day, stamp_for, typeset
from witnessmark.records.lookups.choices import DecisionSheet, decision_sheet
from witnessmark.records.lookups.plan import make_plan
from witnessmark.records.models import Aircraft, Finding, Piece

MOST_SHEETS = 30
PICTURE_MM = 40.0


@dataclass(frozen=True)
class DecisionSheets:
    """The sheets of one file."""

    stamp: Stamp
    sheets: tuple[DecisionSheet, ...]
    left_out: int


def gather(aircraft: Aircraft | None, tags: Sequence[str] = ()) -> DecisionSheets:
    """The sheets of these tags, or of the pieces whose findings wait for a decision."""
    pieces = Piece.objects.filter(aircraft=aircraft).select_related("aircraft").order_by("tag", "pk")
    if tags:
        numbers = [int(tag[3:]) for tag in tags if tag.startswith("id-") and tag[3:].isdigit()]
        chosen = list(pieces.filter(tag__in=tags) | pieces.filter(pk__in=numbers))
    else:
        waiting = Finding.objects.filter(aircraft=aircraft, state="open").exclude(piece=None)
        chosen = list(pieces.filter(pk__in=waiting.values("piece")))
    plan = make_plan(aircraft) if aircraft is not None and chosen else None
    sheets = tuple(decision_sheet(piece, plan) for piece in chosen[:MOST_SHEETS])
    return DecisionSheets(stamp_for(aircraft), sheets, max(0, len(chosen) - MOST_SHEETS))


def how(sheet: DecisionSheet) -> list[str]:
    """Say how the sheet is reckoned: formula, what went in and where from, and the documents with how far each was read."""
    told = sheet.choices.working.to_dict()
    rows = [
        f"{row['what']} {row['value']}{'' if row['unit'] == '-' else ' ' + row['unit']} ({row['from']})"
        for row in told["rows"]
    ]
    sources = [source["printed"] for source in told["sources"]]
    who = [
        f"{kind}: {what} by {cell.come_from}"
        for kind, cells in sheet.choices.cells.items()
        for what in ("hours", "money")
        if (cell := cells[what]).come_from
    ]
    return [
        f"Reckoned: {told['formula']}.",
        f"From: {'; '.join((*rows, *who))}.",
        f"By: {'; '.join(dict.fromkeys(sources))}.",
    ]


def pdf(data: DecisionSheets) -> bytes:
    """Set the sheets, each on pages of its own."""
    pictures: list[bytes | None] = []
    sheets = []
    for sheet in data.sheets:
        found = ringed_picture(tuple(p for f in sheet.findings for p in f.pictures), PICTURE_MM)
        number = None
        if found is not None:
            number = len(pictures)
            pictures.append(found[0])
        decision = sheet.decision
        sheets.append(
            {
                "title": str(sheet.piece),
                "material": sheet.piece.material or "what it is made of is not written",
                "code": code_svg(address_of(sheet.piece.key)),
                "findings": [
                    f"{f.finding.number}: {f.finding.what}. "
                    + " ".join(
                        (f.assessment.sentences if f.measured else ())
                        or (f"Measured: {f.finding.measured or 'not yet'}.",)
                    )
                    for f in sheet.findings
                ],
                "decided": ""
                if decision is None
                else f"Decided: {decision.kind}"
                + (
                    ", from the lists"
                    if decision.act.verb == "load_lists"
                    else f", {decision.by.name}, {short_day(decision.act.happened_at.date())} {decision.act.happened_at.year}"
                )
                + (f": {decision.reason}" if decision.reason else "")
                + ".",
                "rows": [[heading, *(cell.words for _, cell in cells)] for heading, cells in sheet.choices.rows()],
                "cautions": list(sheet.choices.cautions),
                "how": how(sheet),
                "picture": number,
                "at": found[1] if found else None,
            }
        )
    return typeset(
        "decision_sheet.typ",
        {
            "choices": [choice.capitalize() for choice in CHOICES],
            "sheets": sheets,
            "empty": "No finding waits for a decision.",
            "note": f"{data.left_out} more wait: ask for them by tag." if data.left_out else "",
        },
        data.stamp,
        pictures,
    )
