"""What is said at each counter: loaded, left, fetched, unasked, refused, signed. Every leg moves custody, with a picture."""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from witnessmark.calc.bags.shipment import count_against_mass
from witnessmark.records.actions.custody import receive_in, send_in
from witnessmark.records.actions.leaving import Packed
from witnessmark.records.actions.mixing import bucket_counted, locked, mix_in, receive_mixed_in
from witnessmark.records.actions.saying import NotAllowed, Refused, Result, move, say
from witnessmark.records.actions.trips import drivers_hands, open_line, running
from witnessmark.records.actions.untraced import take_in_untraced
from witnessmark.records.lookups.day import the_aircraft, today
from witnessmark.records.models import (
    Act,
    Holder,
    HolderKind,
    Holding,
    Mix,
    Move,
    Person,
    Photo,
    PhotoUse,
    Piece,
    PieceKind,
    Shipment,
    ShipmentLine,
    Trip,
    TripLine,
    TripStop,
)
from witnessmark.records.photo_store import keep_bytes

IN_THE_SHOP = (HolderKind.SHELF, HolderKind.CONTAINER, HolderKind.ASSEMBLY, HolderKind.PERSON)


@dataclass(frozen=True)
class Picture:
    """A picture taken at the counter."""

    data: bytes
    name: str


@dataclass(frozen=True)
class Counted:
    """What was counted of one line; `twice` says that it was counted twice although the scales disagree."""

    count: int
    mass_g: float | None = None
    twice: bool = False


def _kept(by: Person, picture: Picture | None) -> Photo:
    if not by.may_write:
        raise NotAllowed(f"{by.name} may look, not drive. Nothing was changed.")
    if picture is None:
        raise Refused(
            "A leg has its picture: the pieces on the counter, with their tags. Nothing was changed. Take one."
        )
    return keep_bytes(picture.data, picture.name)


def _show(act: Act, photo: Photo, pieces: Sequence[Piece], what: str) -> None:
    PhotoUse.objects.bulk_create([PhotoUse(photo=photo, piece=piece, what=what[:300], act=act) for piece in pieces])


def _at_stop(stop: TripStop) -> TripStop:
    running(stop.trip)
    fresh = TripStop.objects.select_related("vendor__holder", "trip__driver").get(pk=stop.pk)
    if fresh.signed_act_id is not None:
        raise Refused(f"The sheet of {fresh.vendor.name} is signed. Nothing was changed.")
    return fresh


def load_van(*, by: Person, act_id: uuid.UUID, trip: Trip) -> Result:
    """Take everything that is to be left from its shelf into the driver's hands."""

    def do(act: Act) -> Result:
        running(trip)
        hands = drivers_hands(trip.driver)
        lines = TripLine.objects.filter(stop__trip=trip, kind="leave", done_act=None, off_why="", refused_why="")
        pieces = list(dict.fromkeys(lines.order_by("piece_id").values_list("piece_id", flat=True)))
        held = Holding.objects.filter(piece_id__in=pieces, count__gt=0).select_related("holder", "piece")
        moves, stays = [], []
        for row in held.order_by("piece_id"):
            if row.holder_id == hands.pk:
                continue
            if row.holder.kind not in IN_THE_SHOP:
                stays.append(f"{row.piece} is at {row.holder.name}")
                continue
            moves.append(
                Move(from_piece=row.piece, from_holder=row.holder, to_piece=row.piece, to_holder=hands, count=row.count)
            )
        if stays:
            raise Refused(f"{'. '.join(stays)}. Nothing was loaded. Take it off the sheet, or fetch it first.")
        if not moves:
            raise Refused("Nothing is left to load. Nothing was changed.")
        return {"trip": trip.number, "loaded": move(act, moves)}

    return say("load_van", by=by, act_id=act_id, said={"trip": trip.pk}, do=do)


def _the_day(trip: Trip) -> date:
    """The day of what is done at a counter: the trip's, or today where somebody goes before the day that was planned.

    What waited on a phone without a signal is said later, and was done on the trip's day still.
    """
    return min(trip.day, today(the_aircraft()))


def leave_at_counter(
    *,
    by: Person,
    act_id: uuid.UUID,
    stop: TripStop,
    lines: Sequence[TripLine],
    number: str,
    picture: Picture | None,
    packed: Packed | None = None,
    promised_on: date | None = None,
    happened_at: datetime | None = None,
) -> Result:
    """Hand pieces of one process over the counter as one shipment; what must not go is refused here too."""
    photo = _kept(by, picture)
    if not lines or len({line.process for line in lines}) != 1 or any(line.stop_id != stop.pk for line in lines):
        raise Refused("One shipment is for one process at one stop. Nothing was left. Choose its lines again.")
    if not number.strip() or len(number) > 40:
        raise Refused("A shipment needs a number. Nothing was left.")

    def do(act: Act) -> Result:
        here = _at_stop(stop)
        fresh = [open_line(line) for line in lines]
        if any(line.kind != "leave" for line in fresh):
            raise Refused("That is to be fetched, not left. Nothing was changed.")
        pieces = list(
            Piece.objects.filter(pk__in=[line.piece_id for line in fresh]).select_related("size").order_by("pk")
        )
        shipment = send_in(
            act,
            vendor=here.vendor,
            process=fresh[0].process,
            pieces=pieces,
            number=number.strip(),
            sent_on=_the_day(here.trip),
            promised_on=promised_on,
            packed=packed,
        )
        counts = {row.piece_id: row.count_out for row in shipment.lines.all()}
        for line in fresh:
            line.done_act, line.shipment, line.photo, line.count = act, shipment, photo, counts[line.piece_id]
            line.save(update_fields=["done_act", "shipment", "photo", "count"])
            if here.while_waiting:  # tested while one waits: the same counter hands it back today
                TripLine.objects.get_or_create(
                    stop=here,
                    piece_id=line.piece_id,
                    kind="fetch",
                    defaults={"process": line.process, "shipment": shipment, "count": line.count, "act": act},
                )
        _show(act, photo, pieces, f"Left at {here.vendor.name}, shipment {shipment.number}")
        return {"shipment": shipment.number, "pieces": len(pieces), "count": sum(counts.values())}

    said = {
        "stop": stop.pk,
        "lines": sorted(line.pk for line in lines),
        "number": number.strip(),
        "photo": photo.sha256,
        "promised_on": promised_on,
        "packed": None
        if packed is None
        else [packed.by.pk, packed.instruction, sorted((p, r, who.pk) for p, r, who in packed.terms)],
    }
    return say("leave_at_counter", by=by, act_id=act_id, said=said, do=do, happened_at=happened_at)


def fetch_at_counter(
    *,
    by: Person,
    act_id: uuid.UUID,
    stop: TripStop,
    counts: Mapping[int, Counted],
    picture: Picture | None,
    happened_at: datetime | None = None,
) -> Result:
    """Take back over the counter, counted line by line (by the line's number) and held against the scales."""
    photo = _kept(by, picture)
    if not any(each.count > 0 for each in counts.values()):
        raise Refused("Nothing was counted. Nothing was changed. Say how many of each were handed over.")

    def do(act: Act) -> Result:
        here = _at_stop(stop)
        hands = drivers_hands(here.trip.driver)
        asked = {line.pk: line for line in TripLine.objects.filter(stop=here, kind="fetch", pk__in=list(counts))}
        strange = sorted(set(counts) - set(asked))
        if strange:
            raise Refused(f"These are not on this stop's sheet: {strange}. Nothing was changed.")
        by_shipment: dict[int, dict[int, int]] = {}
        fetched = []
        for pk, counted in counts.items():
            if counted.count == 0:
                continue
            line = open_line(asked[pk])
            if line.shipment_id is None:
                raise Refused(f"{line.piece} is of no shipment. Nothing was changed.")
            _against_scales(line, counted)
            by_shipment.setdefault(line.shipment_id, {})[line.piece_id] = counted.count
            line.done_act, line.photo, line.count = act, photo, counted.count
            line.save(update_fields=["done_act", "photo", "count"])
            fetched.append(line)
        short: list[dict[str, object]] = []
        shipments = {line.shipment_id: line.shipment for line in fetched}
        for shipment_id in sorted(by_shipment):
            shipment = shipments[shipment_id]
            assert shipment is not None
            short += receive_in(
                act, shipment=shipment, counts=by_shipment[shipment_id], to=hands, back_on=_the_day(here.trip)
            )
        _show(act, photo, [line.piece for line in fetched], f"Fetched at {here.vendor.name}")
        return {"fetched": len(fetched), "count": sum(c.count for c in counts.values()), "short": short}

    said = {
        "stop": stop.pk,
        "counts": {str(pk): [c.count, c.mass_g, c.twice] for pk, c in sorted(counts.items())},
        "photo": photo.sha256,
    }
    return say("fetch_at_counter", by=by, act_id=act_id, said=said, do=do, happened_at=happened_at)


def fetch_bucket_at_counter(
    *,
    by: Person,
    act_id: uuid.UUID,
    stop: TripStop,
    shipment: Shipment,
    count: int,
    picture: Picture | None,
    mass_g: float | None = None,
    foreign: int = 0,
    happened_at: datetime | None = None,
) -> Result:
    """Take bags back over the counter that were put in one basket there: counted and weighed together, sorted at home."""
    photo = _kept(by, picture)
    bucket_counted(count, mass_g, foreign)

    def do(act: Act) -> Result:
        here = _at_stop(stop)
        lines = [
            line
            for line in TripLine.objects.filter(stop=here, kind="fetch", shipment=shipment).select_related("piece")
            if line.piece.kind == PieceKind.BAG and line.done_act_id is None and not line.off_why
        ]
        if not lines:
            raise Refused(f"No bag of {shipment.number} is to be fetched here. Nothing was changed.")
        fresh = locked(shipment)
        mix = mix_in(act, fresh, None)
        back = receive_mixed_in(
            act, fresh, mix, count=count, to=drivers_hands(here.trip.driver), back_on=_the_day(here.trip), mass_g=mass_g,
            foreign=foreign, coat_um=0.0,
        )  # fmt: skip
        for line in lines:
            line.done_act, line.photo = act, photo
            line.save(update_fields=["done_act", "photo"])
        _show(act, photo, [mix.piece], f"Fetched in one bucket at {here.vendor.name}")
        return back

    said = {
        "stop": stop.pk,
        "shipment": shipment.pk,
        "count": count,
        "mass_g": mass_g,
        "foreign": foreign,
        "photo": photo.sha256,
    }
    return say("fetch_bucket_at_counter", by=by, act_id=act_id, said=said, do=do, happened_at=happened_at)


def _against_scales(line: TripLine, counted: Counted) -> None:
    """A count that disagrees with the mass is counted again before it stands."""
    if counted.mass_g is None or counted.twice or counted.count < 1:
        return
    if not counted.mass_g > 0:
        raise Refused(f"{line.piece}: a mass is above nought. Nothing was changed. Weigh again.")
    out = ShipmentLine.objects.filter(shipment=line.shipment_id, piece=line.piece_id).first()
    if out is None or not out.mass_out_g or out.mass_out_g <= 0:
        return
    held = count_against_mass(out.count_out, out.mass_out_g, counted.count, counted.mass_g)
    if not held.agrees:
        raise Refused(
            f"{line.piece}: {held.sentence} Nothing was changed. If the second count says the same, tick that it was "
            "counted twice: count and mass are then both kept."
        )


def take_unasked(
    *,
    by: Person,
    act_id: uuid.UUID,
    stop: TripStop,
    what: str,
    picture: Picture | None,
    count: int = 1,
    tag: str = "",
    happened_at: datetime | None = None,
) -> Result:
    """Take along what nobody asked for: a piece of ours from another shipment by its tag, or a stranger, untraced."""
    photo = _kept(by, picture)
    if count < 1:
        raise Refused("A count starts at 1. Nothing was changed.")

    def do(act: Act) -> Result:
        here = _at_stop(stop)
        hands = drivers_hands(here.trip.driver)
        ours = Piece.objects.filter(tag=tag.strip()).first() if tag.strip() else None
        if ours is not None:
            out = (
                ShipmentLine.objects.filter(piece=ours, shipment__vendor=here.vendor, shipment__back_on=None)
                .select_related("shipment")
                .order_by("-id")
                .first()
            )
            if out is None:
                raise Refused(
                    f"{ours} is not at {here.vendor.name} in the record. Nothing was changed. Look at the tag."
                )
            receive_in(act, shipment=out.shipment, counts={ours.pk: count}, to=hands, back_on=_the_day(here.trip))
            piece, shipment = ours, out.shipment
        else:
            kind = PieceKind.PART if count == 1 else PieceKind.BAG
            piece, shipment = take_in_untraced(act, None, tag.strip(), what.strip(), hands, kind, count), None
        line, made = TripLine.objects.get_or_create(
            stop=here, piece=piece, kind="fetch", defaults={"unasked": True, "act": act, "shipment": shipment}
        )
        if not made and line.done_act_id is not None:
            raise Refused(f"{piece} was fetched here already. Nothing was changed.")
        line.done_act, line.photo, line.count, line.shipment = act, photo, count, shipment
        line.save(update_fields=["done_act", "photo", "count", "shipment"])
        _show(act, photo, [piece], f"Came along unasked from {here.vendor.name}")
        return {"piece": piece.pk, "ours": shipment is not None}

    said = {"stop": stop.pk, "what": what.strip(), "count": count, "tag": tag.strip(), "photo": photo.sha256}
    return say("take_unasked", by=by, act_id=act_id, said=said, do=do, happened_at=happened_at)


def refuse_at_counter(
    *, by: Person, act_id: uuid.UUID, line: TripLine, why: str, happened_at: datetime | None = None
) -> Result:
    """Say that a line came to nothing at the counter: they would not take it, or it was not ready. It stays where it is."""
    if not why.strip():
        raise Refused("Say what was refused and why. Nothing was changed.")

    def do(act: Act) -> Result:
        _at_stop(line.stop)
        fresh = open_line(line)
        fresh.refused_why = why.strip()[:300]
        fresh.save(update_fields=["refused_why"])
        return {"line": fresh.pk}

    said = {"line": line.pk, "why": why.strip()}
    return say("refuse_at_counter", by=by, act_id=act_id, said=said, do=do, happened_at=happened_at)


def sign_stop(
    *, by: Person, act_id: uuid.UUID, stop: TripStop, signed_by: str, happened_at: datetime | None = None
) -> Result:
    """Close a stop's sheet with the name of the person behind the counter; every line must be settled first."""
    if not signed_by.strip():
        raise Refused("The sheet is signed with a name. Nothing was changed. Ask who took it over.")

    def do(act: Act) -> Result:
        here = _at_stop(stop)
        waiting = TripLine.objects.filter(stop=here, done_act=None, off_why="", refused_why="").select_related("piece")
        names = ", ".join(str(line.piece) for line in waiting[:4])
        if names:
            raise Refused(
                f"Not settled yet: {names}. Nothing was signed. Each line is left, fetched, refused or taken off."
            )
        here.signed_by, here.signed_act = signed_by.strip()[:120], act
        here.save(update_fields=["signed_by", "signed_act"])
        return {"stop": here.vendor.code, "signed_by": here.signed_by}

    said = {"stop": stop.pk, "signed_by": signed_by.strip()}
    return say("sign_stop", by=by, act_id=act_id, said=said, do=do, happened_at=happened_at)


def end_trip(*, by: Person, act_id: uuid.UUID, trip: Trip, to: Holder) -> Result:
    """Unload: what this trip brought, and what it could not leave, goes from the driver's hands to a shelf."""
    if to.kind not in (HolderKind.SHELF, HolderKind.CONTAINER):
        raise Refused(f"What came is laid on a shelf or in a box, not at {to.name}. Nothing was changed.")

    def do(act: Act) -> Result:
        running(trip)
        hands = drivers_hands(trip.driver)
        unsigned = TripStop.objects.filter(trip=trip, signed_act=None).select_related("vendor").first()
        if unsigned is not None:
            raise Refused(f"The sheet of {unsigned.vendor.name} is not signed. Nothing was changed. Sign it first.")
        lines = TripLine.objects.filter(stop__trip=trip)
        pieces = list(lines.values_list("piece_id", flat=True))
        pieces += Mix.objects.filter(shipment__in=lines.values("shipment")).values_list("piece_id", flat=True)
        held = Holding.objects.filter(piece_id__in=pieces, holder=hands, count__gt=0).select_related("piece")
        moves = [
            Move(from_piece=row.piece, from_holder=hands, to_piece=row.piece, to_holder=to, count=row.count)
            for row in held.order_by("piece_id")
        ]
        if moves:
            move(act, moves)
        Trip.objects.filter(pk=trip.pk).update(ended_act=act)
        return {"trip": trip.number, "unloaded": len(moves)}

    return say("end_trip", by=by, act_id=act_id, said={"trip": trip.pk, "to": to.pk}, do=do)
