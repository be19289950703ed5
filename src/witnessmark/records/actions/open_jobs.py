"""A job is left open so that another can take it up; its bare metal is primed; somebody takes it up again."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from witnessmark.records.actions.jobs import find_job
from witnessmark.records.actions.saying import WRITERS, NotAllowed, Refused, Result, say
from witnessmark.records.lookups.day import now
from witnessmark.records.models import (
    Act,
    Aircraft,
    JobLeft,
    JobSaid,
    LeftAfter,
    LeftThing,
    Person,
    Photo,
    Piece,
    Row,
)
from witnessmark.records.photo_store import keep_bytes

# Common practice, no source: cleaned bare dural is primed on the same day. The primer's own sheet replaces it.
PRIME_WITHIN_HOURS = 8.0


@dataclass(frozen=True)
class Leaving:
    """What somebody says of a job as he lays it down."""

    next_words: str = ""
    next_hole: int | None = None
    bare_where: str = ""
    bare_since: datetime | None = None
    prime_within_hours: float | None = None
    primed: bool = False
    bare_because: str = ""
    bags: Sequence[str] = field(default=())
    borrowed: Sequence[str] = field(default=())
    lies_at: str = ""
    note: str = ""


def leave_open(
    *,
    by: Person,
    act_id: uuid.UUID,
    aircraft: Aircraft,
    key: str,
    leaving: Leaving,
    picture: tuple[bytes, str] | None = None,
    happened_at: datetime | None = None,
) -> Result:
    """Lay a job down unfinished: where it goes on, the bags beside it, bare metal and its clock, what is borrowed.

    Bare metal is primed before he walks away, or he says why not; then its clock stays on the bench list.
    """
    if by.role not in WRITERS:
        raise NotAllowed(f"{by.name} may look, not leave a job. Nothing was changed.")
    if not leaving.next_words.strip() and leaving.next_hole is None:
        raise Refused("Say what comes next: a hole, or in a few words. Nothing was changed.")
    if leaving.bare_where.strip() and not (leaving.primed or leaving.bare_because.strip()):
        raise Refused(
            f"Bare metal at {leaving.bare_where.strip()} is primed before you walk away. Nothing was changed. "
            "Prime it and say so, or say why it stays bare."
        )
    if leaving.prime_within_hours is not None and not 0 < leaving.prime_within_hours <= 1000:
        raise Refused(f"{leaving.prime_within_hours:g} hours to prime in is no such time. Nothing was changed.")
    tags = list(dict.fromkeys(tag.strip() for tag in leaving.bags if tag.strip()))
    pieces = {piece.tag: piece for piece in Piece.objects.filter(tag__in=tags)}
    unknown = [tag for tag in tags if tag not in pieces]
    if unknown:
        raise Refused(f"No piece has the tag {', '.join(unknown)}. Nothing was changed. Look at the label again.")
    photo = keep_bytes(*picture) if picture is not None else None

    def do(act: Act) -> Result:
        job, about = find_job(aircraft, key)
        row = Row.objects.select_related("place").get(pk=about.row_id) if about.row_id else None
        if leaving.next_hole is not None and row is None:
            raise Refused("This job is no row of holes. Nothing was changed. Say in words what comes next.")
        if leaving.next_hole is not None and row is not None and not 1 <= leaving.next_hole <= row.place.capacity:
            raise Refused(
                f"Hole {leaving.next_hole}: the row has holes 1 to {row.place.capacity}. Nothing was changed."
            )
        left = write_left(
            act, by=by, key=key, what=job.what, row=row, leaving=leaving, pieces=list(pieces.values()), photo=photo,
            at=act.happened_at,
        )  # fmt: skip
        JobSaid.objects.create(key=key, status="started", person=by, note="Left open.", act=act)
        return {"job": key, "left": left.pk}

    said = {
        "job": key,
        "next": [leaving.next_words.strip(), leaving.next_hole],
        "bare": [leaving.bare_where.strip(), leaving.bare_since, leaving.primed, leaving.bare_because.strip()],
        "within": leaving.prime_within_hours,
        "bags": tags,
        "borrowed": list(leaving.borrowed),
        "lies_at": leaving.lies_at,
        "note": leaving.note,
        "photo": photo.sha256 if photo else None,
    }
    return say("leave_open", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft, happened_at=happened_at)


def write_left(
    act: Act,
    *,
    by: Person,
    key: str,
    what: str,
    row: Row | None,
    leaving: Leaving,
    pieces: Sequence[Piece],
    photo: Photo | None,
    at: datetime,
) -> JobLeft:
    """Write it down inside an act."""
    bare = leaving.bare_where.strip()[:200]
    words = leaving.next_words.strip()[:300] or f"Go on at hole {leaving.next_hole}."
    left = JobLeft.objects.create(
        key=key,
        what=what[:300],
        by=by,
        left_at=at,
        row=row.place if row is not None else None,
        next_hole=leaving.next_hole,
        next_words=words,
        bare_where=bare,
        bare_since=(leaving.bare_since or at) if bare else None,
        prime_within_hours=(leaving.prime_within_hours or PRIME_WITHIN_HOURS) if bare else None,
        bare_because=leaving.bare_because.strip()[:300],
        lies_at=leaving.lies_at.strip()[:200],
        note=leaving.note.strip(),
        photo=photo,
        act=act,
    )
    LeftThing.objects.bulk_create(
        [
            *(LeftThing(left=left, kind="bag", piece=piece, words=piece.name[:200]) for piece in pieces),
            *(
                LeftThing(left=left, kind="borrowed", words=each.strip()[:200])
                for each in leaving.borrowed
                if each.strip()
            ),
        ]
    )
    if bare and leaving.primed:
        LeftAfter.objects.create(left=left, what="primed", at=at, act=act)
    return left


def _after(
    verb: str, what: str, *, by: Person, act_id: uuid.UUID, left: JobLeft, happened_at: datetime | None
) -> Result:
    aircraft = left.act.aircraft

    def do(act: Act) -> Result:
        if LeftAfter.objects.filter(left=left, what=what).exists():
            raise Refused("That was said already. Nothing was changed.")
        LeftAfter.objects.create(left=left, what=what, at=happened_at or now(aircraft), act=act)
        if what == "taken_up":
            JobSaid.objects.create(key=left.key, status="started", person=by, note="Taken up again.", act=act)
        return {"left": left.pk, "what": what}

    said = {"left": left.pk}
    return say(verb, by=by, act_id=act_id, said=said, do=do, aircraft=aircraft, happened_at=happened_at)


def say_primed(*, by: Person, act_id: uuid.UUID, left: JobLeft, happened_at: datetime | None = None) -> Result:
    """Say that the bare metal of a job left open is primed now; its clock stops."""
    if not left.bare_where:
        raise Refused("Nothing was left bare there. Nothing was changed.")
    return _after("say_primed", "primed", by=by, act_id=act_id, left=left, happened_at=happened_at)


def take_up(*, by: Person, act_id: uuid.UUID, left: JobLeft, happened_at: datetime | None = None) -> Result:
    """Take a job up again where it was left; whoever does is the one who is at it now."""
    return _after("take_up", "taken_up", by=by, act_id=act_id, left=left, happened_at=happened_at)
