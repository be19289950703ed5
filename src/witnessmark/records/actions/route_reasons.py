"""Order rules act: a broken hard rule stops a step, a soft one waits for a signed reason."""

import uuid
from collections.abc import Sequence
from datetime import datetime

from django.utils import timezone

from witnessmark.calc.bags.leaving import is_test
from witnessmark.records.actions.saying import NotAllowed, Refused, Result, say
from witnessmark.records.lookups.day import now
from witnessmark.records.lookups.route_gate import standing_of, standings_of, time_missing, why_not
from witnessmark.records.lookups.routes import ended_at, route_seen
from witnessmark.records.models import Act, Person, Piece, Role, RouteReason, Step, Vendor


def refuse_broken_rules(step: Step, at: datetime) -> None:
    """Refuse to begin or finish a step that an order rule holds back at that moment."""
    seen = route_seen(step.piece, at=at)
    why = why_not(standing_of(seen), step)
    if why:
        raise Refused(why)
    before = time_missing(seen, step)
    if before is not None:
        raise Refused(
            f"'{step.name}' waits for a time: a window runs from the end of '{before.name}', and nobody wrote down when that "
            "was. Nothing was changed. Write it down on the route's page."
        )


def moment_typed(text: str) -> datetime:
    """Read a day and time as they are typed on a screen or in a command; without a zone it is the shop's own time."""
    words = text.strip()
    try:
        typed = datetime.fromisoformat(words)
    except ValueError:
        raise Refused(f"'{words[:20]}' is no day and time. Nothing was changed. Write 2026-05-12 09:00.") from None
    if ":" not in words:
        raise Refused(
            f"'{words[:20]}' holds no time of day, and the window runs in hours. Nothing was changed. Write 2026-05-12 09:00."
        )
    return typed if typed.tzinfo else timezone.make_aware(typed)


def say_when(
    *, by: Person, act_id: uuid.UUID, step: Step, ended: datetime, happened_at: datetime | None = None
) -> Result:
    """Say when a step ended that a list alone says is done: its window runs from then."""

    def do(act: Act) -> Result:
        # the step alone is locked: PostgreSQL locks no act that may be missing
        fresh = Step.objects.select_for_update(of=("self",)).select_related("done_act").get(pk=step.pk)
        if fresh.done_act is None:
            raise Refused(
                f"'{fresh.name}' is not done. Nothing was changed. Finish it, and its time is kept by itself."
            )
        if ended_at(fresh) is not None:
            raise Refused(f"When '{fresh.name}' ended is written down already. Nothing was changed.")
        if ended > now(fresh.piece.aircraft):
            raise Refused(f"{ended:%-d %B %H:%M} is still to come. Nothing was changed. Write when it ended.")
        fresh.ended_at = ended
        fresh.save(update_fields=["ended_at"])
        return {"piece": fresh.piece_id, "step": fresh.number}

    said = {"piece": step.piece_id, "step": step.number, "ended": ended}
    return say(
        "say_when", by=by, act_id=act_id, said=said, do=do, aircraft=step.piece.aircraft, happened_at=happened_at
    )


def refuse_shipping_broken(pieces: Sequence[Piece], vendor: Vendor) -> None:
    """Refuse to send out for a step that an order rule holds back, each piece by its tag."""
    steps: dict[int, list[Step]] = {piece.pk: [] for piece in pieces}
    for step in Step.objects.filter(piece__in=pieces).select_related("done_act").order_by("piece_id", "number"):
        steps[step.piece_id].append(step)
    held = []
    routes = [route_seen(piece, steps[piece.pk]) for piece in pieces if steps[piece.pk]]
    for pk, standing in standings_of(routes).items():
        theirs = next((s for s in steps[pk] if s.done_act_id is None and s.who == vendor.code), None)
        if theirs is None:
            continue
        # A crack test stays open until its result is read: its soft rules are asked then, when the report is here.
        asked = [each for each in standing if each.breach.hard] if is_test(theirs.name) else standing
        why = why_not(asked, theirs)
        if why:
            piece = next(piece for piece in pieces if piece.pk == pk)
            held.append(f"{piece.key}: {why}")
    if held:
        more = f" {len(held) - 3} pieces more are held back likewise." if len(held) > 3 else ""
        raise Refused(f"{' '.join(held[:3])}{more} Nothing was sent.")


def sign_reason(
    *,
    by: Person,
    act_id: uuid.UUID,
    piece: Piece,
    rule: str,
    step_number: int,
    reason: str,
    happened_at: datetime | None = None,
) -> Result:
    """Sign why the route goes on although a soft rule asks; of a hard rule only once it is behind the piece.

    What is done cannot be put right by an order of steps: there the lead or an inspector signs what the engineer said.
    """
    words = " ".join(reason.split())
    if len(words) < 3:
        raise Refused("A reason is a few words that stay. Nothing was changed. Write why.")
    if len(words) > 400:
        raise Refused("That reason is longer than 400 letters. Nothing was changed. Say it shorter.")

    def do(act: Act) -> Result:
        Piece.objects.select_for_update().get(pk=piece.pk)
        asked = next(
            (s for s in standing_of(route_seen(piece)) if s.breach.rule == rule and s.first.number == step_number), None
        )
        if asked is None:
            raise Refused(
                f"The route of {piece} does not break {rule} at step {step_number} now. Nothing was changed. Open the "
                "route again."
            )
        if asked.reason is not None:
            raise Refused(f"{asked.reason.by.name} signed for that already. Nothing was changed.")
        if not asked.may_be_signed:
            raise Refused(
                f"{rule} is a hard rule and cannot be signed away: {asked.sentence} Nothing was changed. Write the route anew."
            )
        if asked.breach.hard and by.role not in (Role.LEAD, Role.INSPECTOR):
            raise NotAllowed(
                f"{rule} is a hard rule: the lead or an inspector signs what the engineer said. Nothing was changed."
            )
        row = RouteReason.objects.create(
            piece=piece, rule=rule, hard=asked.breach.hard, step_number=asked.first.number, step_name=asked.first.name,
            sentence=asked.breach.sentence[:400], source=asked.breach.source[:300], reason=words, by=by, act=act,
        )  # fmt: skip
        return {"reason": row.pk, "rule": rule, "step": asked.first.number}

    said = {"piece": piece.pk, "rule": rule, "step": step_number, "reason": words}
    return say("sign_reason", by=by, act_id=act_id, said=said, do=do, aircraft=piece.aircraft, happened_at=happened_at)
