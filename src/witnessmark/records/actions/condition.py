"""What is found on a piece, what is decided, and steps of its route that are done."""

import uuid
from datetime import date, datetime

from django.db.models import Max

from witnessmark.records.actions.saying import WRITERS, Refused, Result, say
from witnessmark.records.models import Act, Aircraft, Decision, DecisionKind, Finding, Person, Piece, Place, Role, Step
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
    happened_at: datetime | None = None,
) -> Result:
    """Decide what is done with a piece; a reversal is a new decision, and the reason is kept.

    It settles every open finding on this piece. Scrapping an original is asked twice.
    """
    if kind not in DecisionKind.values:
        raise Refused(f"'{kind}' is no decision. Nothing was changed. It is one of {', '.join(DecisionKind.values)}.")
    if not reason.strip():
        raise Refused("A decision has a reason. Nothing was changed. Write why.")
    if kind == DecisionKind.SCRAP and not scrap_twice:
        raise Refused("Scrapping is asked twice. Nothing was changed. Say again that it is to be scrapped.")

    def do(act: Act) -> Result:
        decision = Decision.objects.create(piece=piece, kind=kind, reason=reason.strip(), by=by, act=act)
        settled = Finding.objects.filter(piece=piece, state="open").update(state="decided")
        return {"decision": decision.kind, "findings": settled}

    said = {"piece": piece.pk, "kind": kind, "reason": reason.strip(), "scrap_twice": scrap_twice}
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
