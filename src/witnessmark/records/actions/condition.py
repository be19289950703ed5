"""What is found on a piece, what is decided, and steps of its route that are done."""

import json
import uuid
from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from django.db.models import Max

from witnessmark.records.actions.answers import inputs_sha256, keep_answer, rely_on
from witnessmark.records.actions.route_reasons import refuse_broken_rules
from witnessmark.records.actions.saying import WRITERS, Refused, Result, say
from witnessmark.records.models import (
    Act,
    Aircraft,
    Decision,
    DecisionKind,
    EngineeringWord,
    Finding,
    Person,
    Piece,
    Place,
    Role,
    Step,
)
from witnessmark.records.words import search_words


def next_finding_number(aircraft: Aircraft) -> str:
    """Give the number after the highest that reads F-N."""
    numbers = Finding.objects.filter(aircraft=aircraft, number__regex=r"^F-[0-9]+$").values_list("number", flat=True)
    return f"F-{max((int(number[2:]) for number in numbers), default=0) + 1}"


def add_finding(
    *,
    by: Person,
    act_id: uuid.UUID,
    what: str,
    seen_on: date,
    piece: Piece | None = None,
    place: Place | None = None,
    measured: str = "",
    happened_at: datetime | None = None,
) -> Result:
    """Record what is wrong with a piece or at a place, in a few words; figures come when they are measured."""
    if not what.strip():
        raise Refused("A finding says in a few words what is wrong. Nothing was changed.")
    aircraft = piece.aircraft if piece is not None else place.aircraft if place is not None else None
    if aircraft is None:
        raise Refused("A finding is on a piece or a place of an aircraft. Nothing was changed.")

    def do(act: Act) -> Result:
        number = next_finding_number(aircraft)
        Finding.objects.create(
            aircraft=aircraft,
            number=number,
            piece=piece,
            place=place,
            what=what.strip(),
            measured=measured.strip()[:200],
            seen_on=seen_on,
            seen_by=by.name,
            words=search_words(number, what, measured),
            act=act,
        )
        return {"finding": number}

    said = {
        "piece": piece.pk if piece else None,
        "place": place.pk if place else None,
        "what": what.strip(),
        "measured": measured.strip(),
        "seen_on": seen_on,
    }
    return say("add_finding", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft, happened_at=happened_at)


def decide(
    *,
    by: Person,
    act_id: uuid.UUID,
    piece: Piece,
    kind: str,
    reason: str,
    scrap_twice: bool = False,
    sheet: Mapping[str, Any] | None = None,
    before_engineering: bool = False,
    happened_at: datetime | None = None,
) -> Result:
    """Decide what is done with a piece; a reversal is a new decision, and the reason is kept.

    It settles every open finding on this piece. Scrapping an original is asked twice, and moves nothing: the original is
    kept as pattern until the hand-over. `sheet` is the decision sheet he had before him; it is frozen with the act.
    """
    if kind not in DecisionKind.values:
        raise Refused(f"'{kind}' is no decision. Nothing was changed. It is one of {', '.join(DecisionKind.values)}.")
    if not reason.strip():
        raise Refused("A decision has a reason. Nothing was changed. Write why.")
    if kind == DecisionKind.SCRAP and not scrap_twice:
        raise Refused("Scrapping is asked twice. Nothing was changed. Say again that it is to be scrapped.")

    asked = [] if before_engineering or kind in (DecisionKind.REMAKE, DecisionKind.SCRAP) else _with_engineering(piece)
    if asked:
        raise Refused(
            f"{asked[0]} is with engineering and not answered. Nothing was changed. Wait for the answer, or say that you "
            "decide before it."
        )

    def do(act: Act) -> Result:
        if sheet is not None:
            kept = keep_answer(
                "decision sheet",
                f"piece {piece.pk}",
                inputs={"piece": piece.pk, "sheet": sheet_sha256(sheet)},
                result=dict(sheet),
                working=dict(sheet.get("working") or {}),
            )
            rely_on(act, kept)
        decision = Decision.objects.create(piece=piece, kind=kind, reason=reason.strip(), by=by, act=act)
        settled = Finding.objects.filter(piece=piece, state="open").update(state="decided")
        return {"decision": decision.kind, "findings": settled}

    said = {"piece": piece.pk, "kind": kind, "reason": reason.strip(), "scrap_twice": scrap_twice}
    if before_engineering:
        said["before_engineering"] = True
    return say(
        "decide",
        by=by,
        act_id=act_id,
        said=said,
        do=do,
        aircraft=piece.aircraft,
        roles=(Role.LEAD,),
        happened_at=happened_at,
    )


def sheet_sha256(sheet: Mapping[str, Any]) -> str:
    """Hash a decision sheet; one changed figure gives another hash."""
    return inputs_sha256(json.loads(json.dumps(sheet, default=str)))


def _with_engineering(piece: Piece) -> list[str]:
    """Numbers of the open findings on a piece that engineering was asked about and did not answer."""
    last = {
        word.finding.number: word.kind
        for word in EngineeringWord.objects.filter(finding__piece=piece, finding__state="open").select_related(
            "finding"
        )
    }
    return sorted(number for number, kind in last.items() if kind == "asked")


def finish_step_in(act: Act, step: Step) -> None:
    """Finish a step inside an act: in order, and not past an open finding on this very piece."""
    if step.done_act_id is not None:
        raise Refused(f"'{step.name}' is done already. Nothing was changed.")
    earlier = Step.objects.filter(piece_id=step.piece_id, done_act=None, number__lt=step.number).first()
    if earlier is not None:
        raise Refused(f"'{earlier.name}' comes before '{step.name}' and is not done. Nothing was changed.")
    waits = Finding.objects.filter(piece_id=step.piece_id, state="open").first()
    if waits is not None:
        raise Refused(f"Finding {waits.number} on this piece has no decision. Nothing was changed. Decide it first.")
    refuse_broken_rules(step, act.happened_at)
    step.done_act = act
    step.save(update_fields=["done_act"])


def finish_step(*, by: Person, act_id: uuid.UUID, step: Step, happened_at: datetime | None = None) -> Result:
    """Say that the next step of a piece's route is done."""

    def do(act: Act) -> Result:
        fresh = Step.objects.select_for_update().get(pk=step.pk)
        finish_step_in(act, fresh)
        last = Step.objects.filter(piece_id=fresh.piece_id).aggregate(last=Max("number"))["last"]
        return {"step": fresh.number, "of": last}

    said = {"step": step.pk}
    return say(
        "finish_step",
        by=by,
        act_id=act_id,
        said=said,
        do=do,
        aircraft=step.piece.aircraft,
        roles=WRITERS,
        happened_at=happened_at,
    )
