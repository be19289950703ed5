"""The picture is the entry: one act a picture, nothing typed.

From a screen, a queue or a command call `picture_comes_in` with the bytes: it keeps the picture, reads its tags, keeps the
spoken note, and tells one act. `take_picture` is that act for a picture that is kept and read already (old pictures).
Both give the same result, and the stored one when the same `act_id` comes again::

    {"photo": sha256, "line": what to say to the person, "unsorted": bool, "asks": a question or "",
     "tags": [{"tag", "piece", "name", "new", "pictures"}], "sound": sha256 or None, "taken_at": iso, "clock_off_seconds"}

A refusal (`Refused`, `NotAllowed`, `NotAPicture`) means that nothing was kept: sending it again would be refused again.
A picture without a tag, of two aircraft, with a bad sound or from a phone with a wrong clock is kept, and the line says so.
"""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils import timezone

from witnessmark.records.actions.custody import single
from witnessmark.records.actions.saying import NotAllowed, Refused, Result, move, say
from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.models import (
    Act,
    Aircraft,
    HolderKind,
    Move,
    NotCounted,
    Person,
    Photo,
    PhotoUse,
    PictureIn,
    Piece,
    PieceKind,
    SoundNote,
    Tagging,
)
from witnessmark.records.photo_store import keep_bytes
from witnessmark.records.sound_store import NotASound, Sound, keep_sound
from witnessmark.records.tag_reading import tags_in
from witnessmark.records.words import search_words

CLOCK_MAY_BE_OFF = timedelta(minutes=5)
# Without the phone's own time of sending, an older picture may have waited in a drawer: it cannot be told from a wrong clock.
OLDEST_BELIEVED = timedelta(days=60)
_KEPT_UNSORTED = "It is kept, unsorted; give it to a place or a piece when there is time."


@dataclass(frozen=True)
class When:
    """When a picture was taken as far as the record believes it, and how far the phone's clock was off."""

    taken_at: datetime
    off: timedelta | None = None
    doubt: str = ""


def believed(came_at: datetime, taken_at: datetime | None, sent_at: datetime | None) -> When:
    """Hold the phone's time against the shop's.

    `sent_at` is the phone's own time as it sends: the difference to the shop's time is how far its clock is off, however
    long the picture waited without signal.
    """
    if taken_at is None:
        return When(came_at)
    if sent_at is not None and taken_at <= sent_at + CLOCK_MAY_BE_OFF:
        off = sent_at - came_at
        if abs(off) <= CLOCK_MAY_BE_OFF:
            return When(taken_at)
        right = min(taken_at - off, came_at)
        return When(right, off, f"The phone's clock is {_span(off)}: set it. The shop's time stands beside it.")
    off = taken_at - came_at
    if off > CLOCK_MAY_BE_OFF:
        return When(came_at, off, f"The phone's clock is {_span(off)}: set it. The shop's time stands beside it.")
    if -off > OLDEST_BELIEVED:
        doubt = f"It says it was taken on {taken_at:%-d %B %Y}: an old picture, or a wrong clock. The shop's time stands beside it."
        return When(came_at, off, doubt)
    return When(taken_at)


def _span(off: timedelta) -> str:
    """Say how far a clock is off, as one says it."""
    size, way = abs(off), "ahead" if off > timedelta(0) else "behind"
    for days, what in ((365, "year"), (30, "month"), (1, "day")):
        if size >= timedelta(days=days) * 0.9:
            number = max(1, round(size / timedelta(days=days)))
            return f"{number} {what}{'' if number == 1 else 's'} {way}"
    minutes = round(size.total_seconds() / 60)
    return f"{round(minutes / 60)} hours {way}" if minutes >= 90 else f"{minutes} minutes {way}"


def picture_comes_in(
    *,
    by: Person,
    act_id: uuid.UUID,
    data: bytes,
    name: str,
    taken_at: datetime | None = None,
    sent_at: datetime | None = None,
    device: str = "",
    sound: bytes | None = None,
    aircraft: Aircraft | None = None,
) -> Result:
    """Keep a picture as it comes from a phone, read its tags and file it; the spoken note stays with it.

    `taken_at` and `sent_at` are by the phone's own clock; `aircraft` only where the person named one.
    """
    if not by.may_write:
        raise NotAllowed(f"{by.name} may look, not add. Nothing was kept.")
    photo = keep_bytes(data, name)
    note, no_note = None, ""
    if sound is not None:
        try:
            note = keep_sound(sound, "with it")
        except NotASound as why:
            no_note = str(why)
    again = Act.objects.filter(pk=act_id).exists()
    return take_picture(
        by=by,
        act_id=act_id,
        photo=photo,
        tags_read=() if again else tags_in(data),
        taken_at=taken_at,
        sent_at=sent_at,
        device=device,
        sound=note,
        no_sound=no_note,
        aircraft=aircraft,
    )


def take_picture(
    *,
    by: Person,
    act_id: uuid.UUID,
    photo: Photo,
    tags_read: Sequence[str],
    taken_at: datetime | None = None,
    sent_at: datetime | None = None,
    device: str = "",
    sound: Sound | None = None,
    no_sound: str = "",
    aircraft: Aircraft | None = None,
) -> Result:
    """File one picture that is kept already: to each piece whose tag it shows, or unsorted.

    A tag that hangs on nothing yet makes a piece, of which nothing else is known: it lies at *not said yet*, one until it is
    counted, of the aircraft of its neighbours in the picture, or of nobody knows which.
    """
    when = believed(timezone.now(), taken_at or photo.taken_at, sent_at if taken_at else None)
    known = pieces_of(tags_read)
    owners, of_tags = whose_tags(known)
    whose = aircraft or of_tags

    def do(act: Act) -> Result:
        asks = asks_of(known, owners)
        filed = [] if asks else file_under(act, tags_read, photo, whose)
        PictureIn.objects.create(
            act=act,
            photo=photo,
            aircraft=whose,
            said_taken_at=taken_at or photo.taken_at,
            taken_at=when.taken_at,
            clock_off_seconds=round(when.off.total_seconds()) if when.off is not None else None,
            dated_by="phone",
            tags_read=list(dict.fromkeys(tags_read)),
            asks=asks,
        )
        if sound is not None:
            note_with(act, photo, sound)
        unsorted = not photo.uses.exists()
        said = [_line(each) for each in filed] or [
            asks
            or (
                "No tag can be read in this picture. " + _KEPT_UNSORTED if unsorted else "This picture was here before."
            )
        ]
        said += [text for text in (when.doubt, "The spoken note is kept with it." if sound else no_sound) if text]
        return {
            "photo": photo.sha256,
            "line": " ".join(said),
            "unsorted": unsorted,
            "asks": asks,
            "tags": filed,
            "sound": sound.sha256 if sound else None,
            "taken_at": when.taken_at.isoformat(),
            "clock_off_seconds": round(when.off.total_seconds()) if when.off is not None else None,
        }

    said = {
        "photo": photo.sha256,
        "taken_at": taken_at,
        "device": device[:80],
        "sound": sound.sha256 if sound else None,
        "aircraft": aircraft.pk if aircraft else None,
    }
    shown = the_aircraft()
    demonstrated = shown is not None and shown.today is not None  # a demonstration's day is not the phone's
    return say(
        "take_picture",
        by=by,
        act_id=act_id,
        said=said,
        do=do,
        aircraft=whose,
        happened_at=None if demonstrated else when.taken_at,
    )


def whose_tags(known: dict[str, Piece]) -> tuple[list[Aircraft], Aircraft | None]:
    """Name the aircraft of these pieces, and the one a new tag among them is taken to be of."""
    owners = sorted({p.aircraft for p in known.values() if p.aircraft is not None}, key=lambda a: a.pk)
    return owners, owners[0] if len(owners) == 1 else _only_aircraft() if not owners else None


def _only_aircraft() -> Aircraft | None:
    """The aircraft, where the shop has one and no more: with two, somebody has to say."""
    two = list(Aircraft.objects.order_by("pk")[:2])
    return two[0] if len(two) == 1 else None


def pieces_of(tags: Sequence[str]) -> dict[str, Piece]:
    """The pieces that these tags hang on, or hung on last where they are off for a bath."""
    found = {p.tag: p for p in Piece.objects.filter(tag__in=tags).select_related("aircraft") if p.tag}
    off = Tagging.objects.filter(tag__in=[tag for tag in tags if tag not in found]).select_related("piece__aircraft")
    for each in off.order_by("pk"):
        found[each.tag] = each.piece
    return found


def asks_of(known: dict[str, Piece], owners: Sequence[Aircraft]) -> str:
    """The question of a picture that shows tags of two aircraft; it is given to nothing until somebody answers."""
    if len(owners) < 2:
        return ""
    of = {owner.pk: [tag for tag, p in known.items() if p.aircraft_id == owner.pk] for owner in owners}
    named = " and ".join(f"{', '.join(of[owner.pk][:4])} of {owner.name}" for owner in owners)
    return f"Tags of {len(owners)} aircraft in one picture: {named}. It is kept; say whose it is."[:300]


def file_under(act: Act, tags: Sequence[str], photo: Photo, whose: Aircraft | None) -> list[Result]:
    """Give the picture to the piece of each tag, made there and then where no piece has it; inside an act."""
    known = pieces_of(tags)
    filed: list[Result] = []
    for tag in dict.fromkeys(tags):
        piece = known.get(tag) or _begin(act, tag, whose)
        if not PhotoUse.objects.filter(photo=photo, piece=piece).exists():
            PhotoUse.objects.create(photo=photo, piece=piece, act=act)
        pictures = PhotoUse.objects.filter(piece=piece).values("photo").distinct().count()
        filed.append({"tag": tag, "piece": piece.pk, "name": piece.name, "new": tag not in known, "pictures": pictures})
    return filed


def _begin(act: Act, tag: str, whose: Aircraft | None) -> Piece:
    if len(tag) > 40:
        raise Refused("A tag has at most 40 letters. Nothing was changed.")
    piece, made = Piece.objects.get_or_create(
        tag=tag, defaults={"aircraft": whose, "kind": PieceKind.PART, "words": search_words(tag)}
    )
    if made:
        Tagging.objects.create(tag=tag, piece=piece, on_act=act)
        NotCounted.objects.create(piece=piece, act=act)
        origin, here = single(HolderKind.ORIGIN), single(HolderKind.NOT_SAID)
        move(act, [Move(from_piece=piece, from_holder=origin, to_piece=piece, to_holder=here, count=1)])
    return piece


def _line(filed: Result) -> str:
    called = f" {filed['name']}" if filed["name"] else ""
    if filed["new"]:
        return f"{filed['tag']} is new: begun with this picture. Name, count and place may come later."
    number = filed["pictures"]
    return f"{filed['tag']}{called}: {number} picture{'' if number == 1 else 's'} now."


def note_with(act: Act, photo: Photo, sound: Sound) -> None:
    """Keep a spoken note with a picture, once."""
    SoundNote.objects.get_or_create(
        sha256=sound.sha256, photo=photo, defaults={"bytes": sound.bytes, "type": sound.type, "act": act}
    )


def say_over(*, by: Person, act_id: uuid.UUID, photo: Photo, data: bytes, name: str) -> Result:
    """Keep a note that was spoken after the picture was taken."""
    if not by.may_write:
        raise NotAllowed(f"{by.name} may look, not add. Nothing was kept.")
    sound = keep_sound(data, name)

    def do(act: Act) -> Result:
        note_with(act, photo, sound)
        return {"photo": photo.sha256, "sound": sound.sha256}

    said = {"photo": photo.sha256, "sound": sound.sha256}
    arrival = PictureIn.objects.filter(photo=photo).select_related("aircraft").first()
    return say("say_over", by=by, act_id=act_id, said=said, do=do, aircraft=arrival.aircraft if arrival else None)
