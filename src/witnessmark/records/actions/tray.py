"""The don't-know tray: a find is laid in with its picture and size; it becomes something only when a person says so."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import F

from witnessmark.records.actions.custody import holder, receive_in, single
from witnessmark.records.actions.saying import NotAllowed, Refused, Result, move, say
from witnessmark.records.lookups.day import today
from witnessmark.records.lookups.tray import TRAY, holds_purchase, holds_sizes, in_tray
from witnessmark.records.models import (
    Act,
    Aircraft,
    Belongs,
    FastenerSize,
    HolderKind,
    Holding,
    Hunt,
    Move,
    Person,
    PhotoUse,
    Piece,
    PieceKind,
    Place,
    ShipmentLine,
    Side,
    TrayFind,
    TrayLooked,
    Untraced,
)
from witnessmark.records.photo_store import keep_bytes
from witnessmark.records.words import search_words

MAGNET = ("", "sticks", "does not")
MOST_MM = 20_000.0


@dataclass(frozen=True)
class Size:
    """What could be measured on a find."""

    length_mm: float | None = None
    width_mm: float | None = None
    thickness_mm: float | None = None
    diameter_mm: float | None = None


def lay_in_tray(
    *,
    by: Person,
    act_id: uuid.UUID,
    data: bytes,
    picture_name: str,
    name: str = "",
    material: str = "",
    magnet: str = "",
    side: str = Side.CENTRE,
    size: FastenerSize | None = None,
    measured: Size | None = None,
    count: int = 1,
    found_where: str = "",
    aircraft: Aircraft | None = None,
    happened_at: datetime | None = None,
) -> Result:
    """Lay an untagged find into the tray: a picture, and as much as is known. It is untraced until somebody shows whose it is."""
    if not by.may_write:
        raise NotAllowed(f"{by.name} may look, not add. Nothing was changed.")
    measured = measured or Size()
    figures = [measured.length_mm, measured.width_mm, measured.thickness_mm, measured.diameter_mm]
    if any(mm is not None and not 0 < mm <= MOST_MM for mm in figures):
        raise Refused("A size is above nought and at most 20 m. Nothing was changed. Measure it again.")
    if magnet not in MAGNET or side not in Side.values:
        raise Refused("A magnet sticks or does not; a side is left, right or neither. Nothing was changed.")
    if not 1 <= count <= 100_000:
        raise Refused(f"A count starts at 1, not {count}. Nothing was changed.")
    photo = keep_bytes(data, picture_name)
    name = " ".join(name.split())[:200]

    def do(act: Act) -> Result:
        piece = Piece.objects.create(
            aircraft=aircraft,
            kind=PieceKind.PART if count == 1 else PieceKind.BAG,
            side=side,
            name=name,
            material=material.strip()[:120],
            size=size,
            count_off=count,
            words=search_words(name, material, found_where, TRAY),
        )
        TrayFind.objects.create(
            piece=piece,
            length_mm=measured.length_mm,
            width_mm=measured.width_mm,
            thickness_mm=measured.thickness_mm,
            diameter_mm=measured.diameter_mm,
            magnet=magnet,
            size=size,
            found_where=found_where.strip()[:200],
            act=act,
        )
        Untraced.objects.create(piece=piece, act=act)
        PhotoUse.objects.create(photo=photo, piece=piece, what="As it was found", act=act)
        origin, tray = single(HolderKind.ORIGIN), holder(HolderKind.SHELF, TRAY)
        move(act, [Move(from_piece=piece, from_holder=origin, to_piece=piece, to_holder=tray, count=count)])
        return {"find": piece.pk, "key": piece.key, "photo": photo.sha256}

    said: dict[str, Any] = {
        "photo": photo.sha256,
        "name": name,
        "material": material.strip(),
        "magnet": magnet,
        "side": side,
        "size": size.pk if size else None,
        "figures_mm": figures,
        "count": count,
        "found_where": found_where.strip(),
        "aircraft": aircraft.pk if aircraft else None,
    }
    return say("lay_in_tray", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft, happened_at=happened_at)


def look_in_tray(
    *, by: Person, act_id: uuid.UUID, missing: str, finds: Sequence[TrayFind], is_it: bool, answer: str = ""
) -> Result:
    """Say, by name, whether finds are the missing thing (`hunt:N`, `piece:N`, `short:N`, `place:N` or `size:CODE`).

    "It is" takes one find: a lost piece is found in it, a hunt ends, an empty place gets its piece, what had come back short
    is received. "It is not" may be said of several at once.
    """
    if not finds or (is_it and len(finds) != 1):
        raise Refused("Say of which find: one that it is, or those that it is not. Nothing was changed.")
    kind, _, number = missing.partition(":")
    if kind not in ("hunt", "piece", "short", "place", "size") or not number:
        raise Refused(f"'{missing[:40]}' is nothing that is missing. Nothing was changed. Open the page again.")

    def do(act: Act) -> Result:
        there = set(in_tray().values_list("pk", flat=True))
        if any(find.pk not in there for find in finds):
            raise Refused("It does not lie in the tray any more. Nothing was changed. Open the page again.")
        hunt = Hunt.objects.filter(pk=int(number)).first() if kind == "hunt" and number.isdigit() else None
        for find in finds:
            TrayLooked.objects.create(
                find=find, missing=missing, hunt=hunt, is_it=is_it, said=answer.strip()[:300], act=act
            )
        became = _became(act, kind, number, finds[0]) if is_it else ""
        return {"missing": missing, "finds": [find.pk for find in finds], "is_it": is_it, "became": became}

    said = {"missing": missing, "finds": sorted(find.pk for find in finds), "is_it": is_it, "answer": answer.strip()}
    return say("look_in_tray", by=by, act_id=act_id, said=said, do=do, aircraft=finds[0].piece.aircraft)


def _became(act: Act, kind: str, number: str, find: TrayFind) -> str:
    if kind == "hunt":
        hunt = Hunt.objects.select_for_update().filter(pk=int(number), state="open").first()
        if hunt is None:
            raise Refused("That hunt is over. Nothing was changed.")
        hunt.found_piece, hunt.state = find.piece, "found"
        hunt.stores_act, hunt.stores_said = act, "found in the don’t-know tray"
        hunt.save(update_fields=["found_piece", "state", "stores_act", "stores_said"])
        return f"hunt {hunt.number} is over"
    if kind == "piece":
        return _is_lost_piece(act, Piece.objects.filter(pk=int(number)).first() if number.isdigit() else None, find)
    if kind == "place":
        place = Place.objects.filter(pk=int(number)).first() if number.isdigit() else None
        if place is None:
            raise Refused("That place is not in the record. Nothing was changed.")
        Belongs.objects.get_or_create(
            piece=find.piece, place=place, defaults={"evidence": "known again in the don’t-know tray", "act": act}
        )
        return f"it belongs to {place}"
    if kind == "short":
        return _came_back(act, int(number) if number.isdigit() else 0, find)
    return "it lies here: order fewer"


def _came_back(act: Act, piece: int, find: TrayFind) -> str:
    """What was short of a shipment lies here after all: received into the tray, and the find, which was no other thing, goes out."""
    line = (
        ShipmentLine.objects.filter(piece=piece, count_back__lt=F("count_out"))
        .select_related("piece", "shipment__vendor")
        .order_by("shipment__sent_on", "pk")
        .first()
    )
    if line is None:
        raise Refused("Nothing of that is short any more. Nothing was changed.")
    here = Holding.objects.select_related("holder").get(piece=find.piece, count__gt=0, holder__name=TRAY)
    short = line.count_out - (line.count_back or 0)
    if here.count > short:
        raise Refused(
            f"{here.count} were found and {short} are short of shipment {line.shipment.number}. Nothing was changed. "
            "Count them apart first."
        )
    receive_in(
        act,
        shipment=line.shipment,
        counts={line.piece_id: here.count},
        to=here.holder,
        back_on=today(line.piece.aircraft),
    )
    _goes_out(act, find, here, line.piece)
    return f"{here.count} of {line.piece} came back from shipment {line.shipment.number}"


def _goes_out(act: Act, find: TrayFind, here: Holding, known: Piece) -> None:
    """The find was this piece all along: it leaves the ledger, and its pictures stay with the piece."""
    origin = single(HolderKind.ORIGIN)
    move(
        act,
        [Move(from_piece=find.piece, from_holder=here.holder, to_piece=find.piece, to_holder=origin, count=here.count)],
    )
    for use in PhotoUse.objects.filter(piece=find.piece):
        PhotoUse.objects.get_or_create(photo=use.photo, piece=known, defaults={"what": use.what, "act": act})


def _is_lost_piece(act: Act, lost: Piece | None, find: TrayFind) -> str:
    """The lost piece is found: it comes back by the count of the find, and the find, which was no other thing, goes out."""
    gone = single(HolderKind.NOT_FOUND)
    held = Holding.objects.filter(piece=lost, holder=gone, count__gt=0).first() if lost is not None else None
    if lost is None or held is None:
        raise Refused("That piece is not missed any more. Nothing was changed.")
    here = Holding.objects.select_related("holder").get(piece=find.piece, count__gt=0, holder__name=TRAY)
    if here.count > held.count:
        raise Refused(
            f"{here.count} were found and {held.count} are missed. Nothing was changed. Count them apart first."
        )
    move(act, [Move(from_piece=lost, from_holder=gone, to_piece=lost, to_holder=here.holder, count=here.count)])
    _goes_out(act, find, here, lost)
    return f"{lost} is found"


def refuse_unlooked(hunt: Hunt) -> None:
    """Hold a purchase back while a find that could be it has not been looked at."""
    finds = holds_purchase(hunt)
    if finds:
        raise Refused(
            f"Held back: {_named(finds)} in the don’t-know tray could be {hunt.what}, and nobody has looked since. "
            "Nothing was bought. Look in the tray and say whether it is."
        )


def refuse_unlooked_sizes(codes: Sequence[str]) -> None:
    """Hold an order of fasteners back while finds of the same size lie in the tray and nobody has looked at them."""
    finds = holds_sizes(codes)
    if finds:
        sizes = ", ".join(sorted({find.size.code for find in finds if find.size is not None}))
        raise Refused(
            f"Held back: {_named(finds)} in the don’t-know tray, of {sizes}, and nobody has looked whether they serve. "
            "Nothing was ordered. Look in the tray and say so."
        )


def _named(finds: Sequence[TrayFind]) -> str:
    first = finds[0].piece.name or f"an untagged find ({finds[0].piece.key})"
    return first if len(finds) == 1 else f"{first} and {len(finds) - 1} more"
