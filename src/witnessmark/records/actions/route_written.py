"""A proposed route is written to a piece, and written anew; what is done stays."""

import uuid
from collections.abc import Sequence
from datetime import datetime

from django.db.models import Max

from witnessmark.calc.surface.route_asks import FACTS
from witnessmark.records.actions.jobs import derive_jobs
from witnessmark.records.actions.saying import Refused, Result, say
from witnessmark.records.lookups.route_facts import TRAITS, proposed_for
from witnessmark.records.models import Act, HoursBooked, JobSaid, Person, Piece, PieceNature, RouteFact, Step

# A step that no template of the shop knows: from memory, until somebody books hours on one.
GUESSED_HOURS = (0.25, 0.5, 1.0)


def say_route_facts(
    *, by: Person, act_id: uuid.UUID, piece: Piece, facts: dict[str, bool | None], happened_at: datetime | None = None
) -> Result:
    """Say what a part's route hangs on: yes, no, or that nobody knows, which is read neither way."""
    strange = sorted(set(facts) - set(FACTS))
    if strange or not facts:
        raise Refused(f"{', '.join(strange) or 'Nothing'} is not asked of a route. Nothing was changed.")

    def do(act: Act) -> Result:
        RouteFact.objects.bulk_create(
            [RouteFact(piece=piece, fact=fact, holds=holds, act=act) for fact, holds in sorted(facts.items())]
        )
        # What bars it from a bath is said once: the packer reads it too.
        PieceNature.objects.bulk_create(
            [
                PieceNature(piece=piece, trait=TRAITS[fact], holds=holds, act=act)
                for fact, holds in sorted(facts.items())
                if fact in TRAITS and holds is not None
            ]
        )
        return {"piece": piece.pk, "facts": len(facts)}

    said = {"piece": piece.pk, "facts": facts}
    return say(
        "say_route_fact", by=by, act_id=act_id, said=said, do=do, aircraft=piece.aircraft, happened_at=happened_at
    )


def write_route(
    *,
    by: Person,
    act_id: uuid.UUID,
    piece: Piece,
    finish: str,
    work: Sequence[str],
    steps: Sequence[str],
    thickness_mm: float | None = None,
    happened_at: datetime | None = None,
) -> Result:
    """Write the route that was shown: its steps take the place of those that are not done.

    `steps` are the names as they were shown: where the record has changed since and would propose others, nothing is
    written. Numbers that hours or words hang on are not given to another step.
    """

    def do(act: Act) -> Result:
        Piece.objects.select_for_update().get(pk=piece.pk)
        try:
            proposed = proposed_for(piece, finish, work, thickness_mm)
        except ValueError as why:
            raise Refused(f"{str(why)[:1].upper()}{str(why)[1:].rstrip('.')}. Nothing was changed.") from None
        if proposed.withheld:
            raise Refused(f"{proposed.withheld} Nothing was changed.")
        if [step.name for step in proposed.new] != list(steps):
            raise Refused("The record has changed since this route was shown. Nothing was changed. Look at it again.")
        if not proposed.may_be_used:
            first = proposed.stopped[0].sentence if proposed.stopped else "Every step of it is done already."
            raise Refused(f"{first} Nothing was changed.")
        gone = Step.objects.filter(piece=piece, done_act=None)
        removed = list(gone.order_by("number").values_list("name", flat=True))
        gone.delete()
        number = _last_number(piece)
        for step in proposed.new:
            number += 1
            step.number = number
            step.who = step.who or by.craft or "lead"
            if not step.hours_likely:
                step.hours_least, step.hours_likely, step.hours_most = GUESSED_HOURS
            step.tag_medium = step.tag_medium or proposed.proposal.tag_medium
        Step.objects.bulk_create(proposed.new)
        if piece.aircraft is not None:
            derive_jobs(piece.aircraft)
        return {"piece": piece.pk, "steps": len(proposed.new), "kept": len(proposed.done), "removed": removed}

    said = {
        "piece": piece.pk, "finish": finish, "work": sorted(work), "steps": list(steps), "thickness_mm": thickness_mm,
    }  # fmt: skip
    return say("write_route", by=by, act_id=act_id, said=said, do=do, aircraft=piece.aircraft, happened_at=happened_at)


def _last_number(piece: Piece) -> int:
    """The highest number that a done step, booked hours or a word about a job hang on."""
    start = f"piece:{piece.pk}:"
    keys = [
        *JobSaid.objects.filter(key__startswith=start).values_list("key", flat=True),
        *HoursBooked.objects.filter(key__startswith=start).values_list("key", flat=True),
    ]
    last = Step.objects.filter(piece=piece).aggregate(last=Max("number"))["last"] or 0
    return max([last, *(int(key.rsplit(":", 1)[1]) for key in keys)])
