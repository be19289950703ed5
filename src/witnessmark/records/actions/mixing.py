"""Bags mix at a vendor's, come back in one bucket, and every piece goes home to its bag."""

import uuid
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from witnessmark.records.actions.answers import keep_answer, rely_on
from witnessmark.records.actions.certificates import hold_back
from witnessmark.records.actions.claims import loss_found
from witnessmark.records.actions.custody import single
from witnessmark.records.actions.saying import Refused, Result, move, say
from witnessmark.records.actions.vendor_steps import finish_at_vendor_in
from witnessmark.records.lookups.bucket import gone_on, stop_of
from witnessmark.records.lookups.mixing import sorting, standing, words_of
from witnessmark.records.models import (
    Act,
    Belongs,
    Holder,
    HolderKind,
    Holding,
    Mix,
    Move,
    Person,
    Piece,
    PieceKind,
    Place,
    Shipment,
    ToldApart,
)
from witnessmark.records.models.mixing import stranger_tag
from witnessmark.records.words import search_words

HERE = (HolderKind.SHELF, HolderKind.CONTAINER, HolderKind.ASSEMBLY, HolderKind.PERSON)


@dataclass(frozen=True)
class Told:
    """One piece of the bucket that the person confirms: its bag, None for a stranger, and its place where it is known."""

    item: str
    bag: Piece | None
    place: Place | None = None
    sure: float | None = None


def locked(shipment: Shipment) -> Shipment:
    """Two people at the counter act one after the other."""
    return Shipment.objects.select_for_update().select_related("vendor__holder").get(pk=shipment.pk)


def _count(piece: Piece, holder: Holder) -> int:
    row = Holding.objects.filter(piece=piece, holder=holder).first()
    return row.count if row else 0


def mix_in(act: Act, shipment: Shipment, pieces: Sequence[Piece] | None) -> Mix:
    """Inside an act, move bags of the shipment that are at the vendor into its one mixed piece."""
    at_vendor = shipment.vendor.holder
    lines = {line.piece_id: line.piece for line in shipment.lines.select_related("piece").order_by("id")}
    chosen = [p for p in lines.values() if p.kind == PieceKind.BAG] if pieces is None else list(pieces)
    for piece in chosen:
        if piece.pk not in lines:
            raise Refused(f"{piece} did not leave with shipment {shipment.number}. Nothing was changed.")
        if piece.kind != PieceKind.BAG:
            raise Refused(f"{piece} is one thing with a tag of its own and does not mix. Nothing was changed.")
    mix = Mix.objects.filter(shipment=shipment).select_related("piece").first()
    if mix is None:
        aircraft = {p.aircraft_id: p.aircraft for p in chosen}
        number = f"M-{shipment.number}"[:40]
        if Piece.objects.filter(tag=number).exists():
            raise Refused(f"The tag {number} is taken. Nothing was changed. Give that piece another tag first.")
        name = f"mixed bags of shipment {shipment.number}"
        piece = Piece.objects.create(
            tag=number,
            aircraft=next(iter(aircraft.values())) if len(aircraft) == 1 else None,
            kind=PieceKind.MIXED,
            name=name,
            words=search_words(number, name),
        )
        mix = Mix.objects.create(shipment=shipment, piece=piece, act=act)
    moves = [
        Move(from_piece=p, from_holder=at_vendor, to_piece=mix.piece, to_holder=at_vendor, count=there)
        for p in chosen
        if (there := _count(p, at_vendor))
    ]
    if not moves and not _count(mix.piece, at_vendor):
        raise Refused(
            f"Nothing of shipment {shipment.number} that mixes is at {shipment.vendor.name} any more. Nothing was changed."
        )
    move(act, moves)
    return mix


def mix_at_vendor(
    *,
    by: Person,
    act_id: uuid.UUID,
    shipment: Shipment,
    pieces: Sequence[Piece] | None = None,
    happened_at: datetime | None = None,
) -> Result:
    """Say that bags of a shipment lie in one bucket at the vendor's: they are one mixed piece until they are told apart."""

    def do(act: Act) -> Result:
        mix = mix_in(act, locked(shipment), pieces)
        return {"mixed": mix.piece.tag, "count": _count(mix.piece, shipment.vendor.holder)}

    said = {"shipment": shipment.pk, "pieces": sorted(p.pk for p in pieces) if pieces is not None else None}
    return say("mix_at_vendor", by=by, act_id=act_id, said=said, do=do, happened_at=happened_at)


def _stranger_bag(shipment: Shipment, mix: Mix) -> Piece:
    tag = stranger_tag(shipment.number)
    name = f"not ours, came back with shipment {shipment.number}"
    found, _ = Piece.objects.get_or_create(
        tag=tag,
        defaults={
            "aircraft": mix.piece.aircraft,
            "kind": PieceKind.BAG,
            "name": name,
            "words": search_words(tag, name),
        },
    )
    return found


def bucket_counted(count: int, mass_g: float | None, foreign: int) -> None:
    """Refuse a count or a mass of a bucket that cannot be."""
    if count < 1 or foreign < 0 or foreign > count:
        raise Refused("Nothing was counted. Nothing was changed. Say how many came back, and how many are not ours.")
    if mass_g is not None and not mass_g > 0:
        raise Refused(f"A mass is above nought, not {mass_g}. Nothing was changed. Weigh again or leave it out.")


def receive_mixed_in(
    act: Act,
    shipment: Shipment,
    mix: Mix,
    *,
    count: int,
    to: Holder,
    back_on: date | None,
    mass_g: float | None,
    foreign: int,
    coat_um: float,
) -> Result:
    """Inside an act, take the bucket in; with its last piece the shipment is back, told apart or not."""
    there = _count(mix.piece, shipment.vendor.holder)
    own = count - foreign
    if own > there:
        raise Refused(
            f"{count} came back and {there} are still out: {own - there} more than can come. Nothing was changed. "
            "Count again, or say how many are not ours."
        )
    moves = []
    if own:
        moves.append(
            Move(from_piece=mix.piece, from_holder=shipment.vendor.holder, to_piece=mix.piece, to_holder=to, count=own)
        )
    if foreign:
        strangers = _stranger_bag(shipment, mix)
        moves.append(
            Move(from_piece=strangers, from_holder=single("origin"), to_piece=strangers, to_holder=to, count=foreign)
        )
    move(act, moves)
    mix.count_back = (mix.count_back or 0) + count
    if mass_g is not None:
        mix.mass_back_g = (mix.mass_back_g or 0) + mass_g
    mix.coat_um = coat_um or mix.coat_um
    mix.save(update_fields=["count_back", "mass_back_g", "coat_um"])
    others = [line for line in shipment.lines.select_related("piece") if line.piece.kind != PieceKind.BAG]
    if own == there and back_on and shipment.back_on is None and all(o.count_back == o.count_out for o in others):
        shipment.back_on = back_on
        shipment.save(update_fields=["back_on"])
    hold_back(act, shipment, [mix.piece.pk])
    return {"mixed": mix.piece.tag, "back": own, "foreign": foreign, "still_out": there - own}


def receive_mixed(
    *,
    by: Person,
    act_id: uuid.UUID,
    shipment: Shipment,
    count: int,
    to: Holder,
    back_on: date,
    mass_g: float | None = None,
    foreign: int = 0,
    coat_um: float = 0.0,
    happened_at: datetime | None = None,
) -> Result:
    """Receive what came back in one bucket by count and mass; what stays is the shortage.

    More than left is refused until somebody says how many are not ours: these enter as a bag of their own.
    """
    bucket_counted(count, mass_g, foreign)

    def do(act: Act) -> Result:
        fresh = locked(shipment)
        mix = mix_in(act, fresh, None)
        return receive_mixed_in(
            act, fresh, mix, count=count, to=to, back_on=back_on, mass_g=mass_g, foreign=foreign, coat_um=coat_um
        )

    said = {
        "shipment": shipment.pk,
        "count": count,
        "mass_g": mass_g,
        "foreign": foreign,
        "coat_um": coat_um,
        "to": to.pk,
        "back_on": back_on,
    }
    return say("receive_mixed", by=by, act_id=act_id, said=said, do=do, happened_at=happened_at)


def given(mix: Mix) -> dict[int, int]:
    """How many each bag gave to the bucket, less what went back to it."""
    told: Counter[int] = Counter()
    for m in Move.objects.filter(to_piece=mix.piece).exclude(from_piece=mix.piece):
        told[m.from_piece_id] += m.count
    for m in Move.objects.filter(from_piece=mix.piece).exclude(to_piece=mix.piece):
        told[m.to_piece_id] -= m.count
    return {pk: n for pk, n in told.items() if n}


def tell_apart(
    *,
    by: Person,
    act_id: uuid.UUID,
    shipment: Shipment,
    told: Sequence[Told],
    to: Holder,
    back_on: date,
    answer: Mapping[str, Any] | None = None,
    happened_at: datetime | None = None,
) -> Result:
    """Confirm whose these pieces are; each goes to its bag, never more than the bag gave, strangers to a bag of their own.

    With the last piece out of the bucket, what is short is written down by bag as a finding with the vendor's name.
    """
    if not told:
        raise Refused("Nothing is confirmed. Nothing was changed. Tick the pieces that are told apart.")
    if len({each.item for each in told}) < len(told):
        raise Refused("One piece is named twice. Nothing was changed. Each goes to one bag.")

    def do(act: Act) -> Result:
        fresh = locked(shipment)
        mix = Mix.objects.filter(shipment=fresh).select_related("piece").first()
        if mix is None:
            raise Refused(f"Nothing of shipment {fresh.number} is mixed. Nothing was changed.")
        before = ToldApart.objects.filter(mix=mix, item__in=[each.item for each in told]).first()
        if before is not None:
            raise Refused(f"Piece {before.item} was told apart already. Nothing was changed. Take it off the list.")
        _words_hold(mix, told)
        seen = sorting(fresh)
        stop = stop_of(seen) if seen is not None else ""
        moves = _homeward(act, fresh, mix, told, to)
        if seen is not None and stop and gone_on(seen) is None:
            raise Refused(f"{stop} Nothing was changed. Or somebody goes on and says why.")
        move(act, moves)
        lines = {line.piece_id: line for line in fresh.lines.all()}
        for pk, n in Counter(each.bag.pk for each in told if each.bag).items():
            lines[pk].count_back = (lines[pk].count_back or 0) + n
            lines[pk].save(update_fields=["count_back"])
        hold_back(act, fresh, sorted({each.bag.pk for each in told if each.bag}))
        if answer is not None:
            rely_on(act, keep_answer("return match", fresh.number, **answer))
        closed = not lies_here(mix)
        short = _close(act, by, fresh, mix, back_on) if closed else []
        # What is lost is a finding by now; the rest of its bag was done with the others.
        here = [pk for pk, line in lines.items() if line.count_back and (closed or line.count_back == line.count_out)]
        finish_at_vendor_in(act, fresh, here)
        return {"told": len(told), "short": short, "left_in_bucket": sum(n for _, n in lies_here(mix))}

    said = {
        "shipment": shipment.pk,
        "told": [
            [t.item, t.bag.pk if t.bag else None, t.place.pk if t.place else None, t.sure]
            for t in sorted(told, key=lambda t: t.item)
        ],
        "to": to.pk,
        "back_on": back_on,
    }
    return say("tell_apart", by=by, act_id=act_id, said=said, do=do, happened_at=happened_at)


def _words_hold(mix: Mix, told: Sequence[Told]) -> None:
    """What somebody said of a piece goes before the readings: nothing is confirmed against it, and it keeps its room."""
    room, wanted = given(mix), Counter(each.bag.pk for each in told if each.bag)
    confirmed = {each.item: each.bag.pk if each.bag else None for each in told}
    for item, word in standing(words_of(mix)).items():
        by = word.act.person.name
        if item in confirmed:
            if confirmed[item] != word.bag_id:
                raise Refused(
                    f"Piece {item} is {'not ours' if word.foreign else f'of {word.says}'}, says {by}: {word.why}. Nothing was "
                    "changed. Take that word back first, or confirm it so."
                )
        elif word.bag_id is not None and word.bag_id in wanted:
            wanted[word.bag_id] += 1
            if wanted[word.bag_id] > room.get(word.bag_id, 0):
                raise Refused(
                    f"{word.says} would be full, and piece {item} is of it, says {by}. Nothing was changed. "
                    f"Confirm piece {item} with the others, or take that word back."
                )


def lies_here(mix: Mix) -> list[tuple[Holder, int]]:
    """Where the bucket lies in the shop, and how many are in it."""
    rows = Holding.objects.filter(piece=mix.piece, count__gt=0, holder__kind__in=HERE).select_related("holder")
    return [(row.holder, row.count) for row in rows]


def _homeward(act: Act, shipment: Shipment, mix: Mix, told: Sequence[Told], to: Holder) -> list[Move]:
    room = given(mix)
    wanted = Counter(each.bag.pk for each in told if each.bag)
    for each in told:
        if each.bag and wanted[each.bag.pk] > room.get(each.bag.pk, 0):
            raise Refused(
                f"{each.bag} gave {room.get(each.bag.pk, 0)} that are not home yet, {wanted[each.bag.pk]} cannot go to it. "
                "Nothing was changed. Measure the doubtful ones again."
            )
    strangers = [each for each in told if each.bag is None]
    entered = Move.objects.filter(to_piece__tag=stranger_tag(shipment.number), from_holder__kind=HolderKind.ORIGIN)
    new = max(
        0, ToldApart.objects.filter(mix=mix, foreign=True).count() + len(strangers) - sum(m.count for m in entered)
    )
    lies = lies_here(mix)
    if sum(wanted.values()) + new > sum(n for _, n in lies):
        raise Refused(
            f"{sum(n for _, n in lies)} lie in the bucket and {sum(wanted.values()) + new} are told apart: "
            "one was counted wrong. Nothing was changed. Count the bucket again."
        )
    moves: list[Move] = []
    bags = {each.bag.pk: each.bag for each in told if each.bag}
    left = dict(lies)

    def out_of_bucket(count: int) -> list[tuple[Holder, int]]:
        taken = []
        for holder, n in left.items():
            if part := min(count, n):
                taken.append((holder, part))
                left[holder] -= part
                count -= part
        return taken

    for pk, n in sorted(wanted.items()):
        for holder, part in out_of_bucket(n):
            moves.append(Move(from_piece=mix.piece, from_holder=holder, to_piece=bags[pk], to_holder=to, count=part))
    bag = _stranger_bag(shipment, mix) if strangers else None
    if new and bag:  # one of ours stayed there, and this came in its stead
        for holder, part in out_of_bucket(new):
            moves.append(
                Move(
                    from_piece=mix.piece,
                    from_holder=holder,
                    to_piece=mix.piece,
                    to_holder=shipment.vendor.holder,
                    count=part,
                )
            )
        moves.append(Move(from_piece=bag, from_holder=single("origin"), to_piece=bag, to_holder=to, count=new))
    ToldApart.objects.bulk_create(
        [
            ToldApart(
                mix=mix,
                item=each.item,
                piece=each.bag or bag or mix.piece,
                place=each.place,
                foreign=each.bag is None,
                sure=each.sure,
                act=act,
            )
            for each in told
        ]
    )
    return moves


def _close(act: Act, by: Person, shipment: Shipment, mix: Mix, back_on: date) -> list[dict[str, Any]]:
    """The bucket is empty: what did not come back stands with the vendor under its own bag again, and is found."""
    left = given(mix)
    bags = {p.pk: p for p in Piece.objects.filter(pk__in=left)}
    at = shipment.vendor.holder
    move(
        act,
        [
            Move(from_piece=mix.piece, from_holder=at, to_piece=bags[pk], to_holder=at, count=n)
            for pk, n in left.items()
        ],
    )
    named: dict[int, list[Place]] = {}
    seen = {(t.piece_id, t.place_id) for t in ToldApart.objects.filter(mix=mix) if t.place_id}
    for row in Belongs.objects.filter(piece__in=left).select_related("place").order_by("place__mark"):
        if row.count == 1 and any(pk == row.piece_id for pk, _ in seen) and (row.piece_id, row.place_id) not in seen:
            named.setdefault(row.piece_id, []).append(row.place)
    short = []
    for pk, n in sorted(left.items()):
        places = named.get(pk, [])
        exact = places if len(places) == n else []
        finding = loss_found(act, by, shipment, bags[pk], n, exact, mix.piece, back_on)
        short.append({"tag": bags[pk].tag, "missing": n, "places": [str(p) for p in exact], "finding": finding})
    if (
        shipment.back_on is None
        and not left
        and not any((line.count_back or 0) < line.count_out for line in shipment.lines.all())
    ):
        shipment.back_on = back_on
        shipment.save(update_fields=["back_on"])
    return short
