"""What is said later, at the bench or the desk: name, count, place of a piece begun by its picture; what a picture shows."""

import re
import uuid
from typing import Any

from witnessmark.calc.tags.code import check_letter
from witnessmark.records.actions.custody import single
from witnessmark.records.actions.pictures import file_under
from witnessmark.records.actions.saying import Refused, Result, move, say
from witnessmark.records.models import (
    Act,
    Aircraft,
    Belongs,
    Holder,
    HolderKind,
    Holding,
    Move,
    NotCounted,
    Person,
    Photo,
    PhotoUse,
    PictureIn,
    Piece,
    PieceKind,
    Place,
    Side,
    TagPrinted,
    Zone,
)
from witnessmark.records.words import search_words

MOST_COUNT = 100_000
_STAMPED = re.compile(r"(\d{4,5})(?:[ -]([0-9A-Z*])|([A-Z*]))")
LIES_AT = (HolderKind.SHELF, HolderKind.CONTAINER, HolderKind.ASSEMBLY, HolderKind.PERSON)


def say_of_piece(
    *,
    by: Person,
    act_id: uuid.UUID,
    piece: Piece,
    name: str = "",
    count: int | None = None,
    lies_at: Holder | None = None,
    goes_to: Place | None = None,
    still_there: bool = False,
    zone: Zone | None = None,
    sat: str = "",
    aircraft: Aircraft | None = None,
) -> Result:
    """Say any of these of a piece that came in by its picture, as much as is known now; the rest stays not said.

    `lies_at` is where it lies, `goes_to` the place it came from; `still_there` that it has not come off yet.
    """
    name, sat = " ".join(name.split())[:200], " ".join(sat.split())[:500]
    if not (name or count or lies_at or goes_to or zone or sat or aircraft):
        raise Refused("Nothing was said. Nothing was changed. Say its name, its count or its place.")
    if count is not None and not 1 <= count <= MOST_COUNT:
        raise Refused(f"A count is a whole number from 1 to {MOST_COUNT:,}, not {count}. Nothing was changed.")
    if lies_at is not None and lies_at.kind not in LIES_AT:
        raise Refused(f"{lies_at.name} is no shelf, box or person. Nothing was changed.")
    if still_there and goes_to is None:
        raise Refused("It is still in its place: say which place. Nothing was changed.")
    if still_there and lies_at is not None:
        raise Refused("It cannot be in its place and on a shelf. Nothing was changed. Say one of both.")

    def do(act: Act) -> Result:
        fresh = Piece.objects.select_for_update().get(pk=piece.pk)
        if aircraft is not None or goes_to is not None:
            _whose(fresh, aircraft or (goes_to.aircraft if goes_to else None))
        if name:
            fresh.name = name
        if sat:
            fresh.as_found = f"{fresh.as_found}; {sat}" if fresh.as_found else sat
        if count is not None:
            counted(act, fresh, count)
        if goes_to is not None:
            _goes(act, fresh, goes_to, count or 1)
        fresh.words = search_words(fresh.tag, fresh.name, fresh.part_no, fresh.as_found, fresh.note)
        fresh.save()
        for each in (zone, goes_to.zone if goes_to is not None else None):
            if each is not None:
                if fresh.aircraft_id is not None and each.aircraft_id != fresh.aircraft_id:
                    raise Refused(f"{each.name} is on another aircraft than {fresh}. Nothing was changed.")
                fresh.zones.add(each)
        to = goes_to.holder if still_there and goes_to is not None else lies_at
        if to is not None:
            lies(act, fresh, to)
        return {"piece": fresh.pk, "tag": fresh.tag}

    said: dict[str, Any] = {
        "piece": piece.pk,
        "name": name,
        "count": count,
        "lies_at": lies_at.pk if lies_at else None,
        "goes_to": goes_to.pk if goes_to else None,
        "still_there": still_there,
        "zone": zone.pk if zone else None,
        "sat": sat,
        "aircraft": aircraft.pk if aircraft else None,
    }
    return say("say_of_piece", by=by, act_id=act_id, said=said, do=do, aircraft=piece.aircraft or aircraft)


def _whose(piece: Piece, aircraft: Aircraft | None) -> None:
    if aircraft is None or piece.aircraft_id == aircraft.pk:
        return
    if piece.aircraft is not None:
        raise Refused(f"{piece} is of {piece.aircraft.name}, not of {aircraft.name}. Nothing was changed.")
    piece.aircraft = aircraft


def counted(act: Act, piece: Piece, count: int) -> None:
    """Bring the ledger from the one that the picture began with to what was counted."""
    begun = NotCounted.objects.filter(piece=piece, counted_act=None).first()
    if begun is None:
        raise Refused(
            f"{piece} is counted already: {piece.count_off}. Nothing was changed. A loss or a find is a move."
        )
    held = list(Holding.objects.filter(piece=piece, count__gt=0).select_related("holder"))
    if len(held) != 1:
        raise Refused(f"{piece} lies in more than one place. Nothing was changed. Bring it together, then count.")
    if count > 1:
        piece.kind, piece.count_off = PieceKind.BAG, count
        piece.save(update_fields=["kind", "count_off"])  # the ledger lets nothing but a bag hold more than one
        origin = single(HolderKind.ORIGIN)
        move(
            act,
            [Move(from_piece=piece, from_holder=origin, to_piece=piece, to_holder=held[0].holder, count=count - 1)],
        )
    begun.counted_act = act
    begun.save(update_fields=["counted_act"])


def _goes(act: Act, piece: Piece, place: Place, count: int) -> None:
    if piece.side == Side.CENTRE and place.side != Side.CENTRE:
        piece.side = place.side
    elif place.side not in (piece.side, Side.CENTRE):
        raise Refused(f"{piece} is the {piece.get_side_display()} one, {place} is not. Nothing was changed.")
    Belongs.objects.get_or_create(
        piece=piece, place=place, defaults={"count": count, "evidence": "said from its picture", "act": act}
    )


def lies(act: Act, piece: Piece, to: Holder) -> None:
    held = list(Holding.objects.filter(piece=piece, count__gt=0).select_related("holder"))
    if len(held) != 1 or held[0].holder.kind not in (*LIES_AT, HolderKind.NOT_SAID):
        raise Refused(f"{piece} does not lie here by itself. Nothing was changed. Say it on its own page.")
    if held[0].holder_id != to.pk:
        move(
            act,
            [Move(from_piece=piece, from_holder=held[0].holder, to_piece=piece, to_holder=to, count=held[0].count)],
        )


def _tagged(tag: str) -> Piece | None:
    return Piece.objects.filter(tag=tag).first() or Piece.objects.filter(tag__iexact=tag).first()


def _without_letter(typed: str) -> str:
    """Give the number of a stamped tag typed with its letter; a letter that does not go with it is a misreading."""
    found = _STAMPED.fullmatch(typed.upper())
    if found is None:
        return typed
    number, letter = found[1], found[2] or found[3]
    if check_letter(number) != letter:
        raise Refused(
            f"{letter} does not go with {number}. Nothing was changed. Read the tag again, number and letter."
        )
    return number


def sort_picture(
    *,
    by: Person,
    act_id: uuid.UUID,
    photo: Photo,
    tag: str = "",
    place: Place | None = None,
    zone: Zone | None = None,
    aside: bool = False,
) -> Result:
    """Say what an unsorted picture shows: a piece by its tag, a place, a zone; or set it aside. It is kept either way.

    A stamped tag has no code: its number and letter are typed, and a number that was given out begins its piece here.
    """
    tag = tag.strip()
    if not (tag or place or zone or aside):
        raise Refused("Nothing was said of the picture. Nothing was changed. Write a tag, or set it aside.")

    def do(act: Act) -> Result:
        if aside:
            PictureIn.objects.filter(photo=photo).update(aside_act=act)
        if tag:
            piece = _tagged(tag)
            number = tag if piece else _without_letter(tag)
            piece = piece or _tagged(number)
            if piece is not None:
                PhotoUse.objects.get_or_create(photo=photo, piece=piece, defaults={"act": act})
            elif TagPrinted.objects.filter(tag=number).exists():
                came = PictureIn.objects.filter(photo=photo).select_related("aircraft").first()
                file_under(act, [number], photo, came.aircraft if came else None)
            else:
                raise Refused(
                    f"No piece has the tag {tag}. Nothing was changed. Read it again, or take its tag's picture."
                )
        if place is not None:
            PhotoUse.objects.get_or_create(photo=photo, place=place, defaults={"act": act})
        if zone is not None:
            PhotoUse.objects.get_or_create(photo=photo, zone=zone, defaults={"act": act})
        PictureIn.objects.filter(photo=photo, answered_act=None).exclude(asks="").update(answered_act=act)
        return {"photo": photo.sha256, "aside": aside}

    said = {
        "photo": photo.sha256,
        "tag": tag,
        "place": place.pk if place else None,
        "zone": zone.pk if zone else None,
        "aside": aside,
    }
    return say("sort_picture", by=by, act_id=act_id, said=said, do=do)


def answer_picture(*, by: Person, act_id: uuid.UUID, picture: PictureIn, aircraft: Aircraft | None) -> Result:
    """Answer a picture that shows tags of two aircraft: it is of one of them, or of both (None)."""

    def do(act: Act) -> Result:
        fresh = PictureIn.objects.select_for_update().get(pk=picture.pk)
        if not fresh.asks or fresh.answered_act_id is not None:
            raise Refused("This picture was answered already. Nothing was changed.")
        others = Piece.objects.filter(tag__in=fresh.tags_read).exclude(aircraft=None)
        of_others = set(others.exclude(aircraft=aircraft).values_list("tag", flat=True)) if aircraft else set()
        filed = file_under(act, [tag for tag in fresh.tags_read if tag not in of_others], fresh.photo, aircraft)
        fresh.answered_act, fresh.aircraft = act, aircraft
        fresh.save(update_fields=["answered_act", "aircraft"])
        return {"photo": fresh.photo_id, "tags": filed}

    said = {"picture": picture.pk, "aircraft": aircraft.pk if aircraft else None}
    return say("sort_picture", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft)
