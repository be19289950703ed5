"""Pieces change holders: off, down, out, back, home."""

import uuid
from collections.abc import Collection, Sequence
from dataclasses import asdict
from datetime import date, datetime

from witnessmark.calc.bags import shipment as weighing
from witnessmark.records.actions.answers import keep_answer, rely_on
from witnessmark.records.actions.certificates import hold_back, refuse_quarantined, refuse_untraced
from witnessmark.records.actions.claims import losses_counted
from witnessmark.records.actions.leaving import Packed, let_leave
from witnessmark.records.actions.saying import Refused, Result, move, say
from witnessmark.records.actions.vendor_steps import finish_at_vendor_in
from witnessmark.records.lookups.outwork import took_in
from witnessmark.records.lookups.patterns import gives_way
from witnessmark.records.models import (
    Act,
    Belongs,
    DecisionKind,
    Holder,
    HolderKind,
    Holding,
    Hunt,
    HuntWhy,
    Move,
    Person,
    Piece,
    Place,
    Shipment,
    ShipmentLine,
    Step,
    Vendor,
)


def holder(kind: str, name: str, person: Person | None = None) -> Holder:
    """Find the holder of this kind and name, or make it: shelves and boxes need no announcement."""
    found, _ = Holder.objects.get_or_create(kind=kind, name=name.strip(), defaults={"person": person})
    return found


def single(kind: str) -> Holder:
    """The one holder of a kind that exists once: origin, scrap, not found."""
    names = {
        HolderKind.ORIGIN: "origin",
        HolderKind.SCRAP: "scrap",
        HolderKind.NOT_FOUND: "not found",
        HolderKind.NOT_SAID: "not said yet",
    }
    return holder(kind, names[HolderKind(kind)])


def _held(piece: Piece, at: Holder | None, count: int | None) -> tuple[Holder, int]:
    """Where this piece is, if that is one holder, and how many of it; else say what to say."""
    rows = list(Holding.objects.filter(piece=piece, count__gt=0).select_related("holder"))
    if at is not None:
        rows = [row for row in rows if row.holder_id == at.pk]
    if not rows:
        raise Refused(f"{piece} is not there. Nothing was changed. Look it up and say where it is.")
    if len(rows) > 1:
        names = ", ".join(f"{row.count} at {row.holder.name}" for row in rows)
        raise Refused(f"{piece} lies in more than one place ({names}). Nothing was changed. Say which you mean.")
    if count is not None and count < 1:
        raise Refused(f"A count is a whole number above nought, not {count}. Nothing was changed.")
    return rows[0].holder, rows[0].count if count is None else count


def _refuse_wrong_type(piece: Piece, to: Holder) -> None:
    hunt = Hunt.objects.filter(piece=piece, place_id=to.pk, why=HuntWhy.WRONG).exclude(state="given up").first()
    if hunt is not None:
        raise Refused(
            f"{piece} is wrong for the type there: {hunt.what} is hunted, {hunt.number}. It was not fitted, nothing was changed."
        )


def _shift(
    verb: str,
    *,
    by: Person,
    act_id: uuid.UUID,
    piece: Piece,
    to: Holder,
    at: Holder | None,
    count: int | None,
    happened_at: datetime | None,
    from_kinds: Sequence[str] = (),
    refusal: str = "",
    note: str = "",
) -> Result:
    def do(act: Act) -> Result:
        if to.kind == HolderKind.PLACE:
            refuse_quarantined([piece], "cannot be fitted")
            refuse_untraced(piece)
            _refuse_wrong_type(piece, to)
        where, number = _held(piece, at, count)
        if from_kinds and where.kind not in from_kinds:
            raise Refused(f"{piece} {refusal}: it is at {where.name}. Nothing was changed.")
        if where.pk == to.pk:
            raise Refused(f"{piece} is at {to.name} already. Nothing was changed.")
        if where.kind == HolderKind.PLACE:  # what comes off is remembered as belonging there
            Belongs.objects.get_or_create(
                piece=piece,
                place_id=where.pk,
                defaults={"count": number, "evidence": "taken off here", "act": act},
            )
        move(act, [Move(from_piece=piece, from_holder=where, to_piece=piece, to_holder=to, count=number)])
        return {"piece": piece.pk, "count": number, "from": where.name, "to": to.name}

    said = {"piece": piece.pk, "to": to.pk, "at": at.pk if at else None, "count": count, "note": note}
    return say(verb, by=by, act_id=act_id, said=said, do=do, aircraft=piece.aircraft, happened_at=happened_at)


def take_off(
    *,
    by: Person,
    act_id: uuid.UUID,
    piece: Piece,
    to: Holder,
    at: Holder | None = None,
    count: int | None = None,
    happened_at: datetime | None = None,
) -> Result:
    """Take a piece off its place and lay it at a shelf, a box or with a person."""
    if to.kind not in (HolderKind.SHELF, HolderKind.CONTAINER, HolderKind.ASSEMBLY, HolderKind.PERSON):
        raise Refused(
            f"What comes off is laid on a shelf, in a box or with a person, not at {to.name}. Nothing was changed."
        )
    return _shift(
        "take_off",
        by=by,
        act_id=act_id,
        piece=piece,
        to=to,
        at=at,
        count=count,
        happened_at=happened_at,
        from_kinds=(HolderKind.PLACE, HolderKind.ASSEMBLY),
        refusal="is not on the aircraft",
    )


def put_back(
    *,
    by: Person,
    act_id: uuid.UUID,
    piece: Piece,
    place: Place,
    at: Holder | None = None,
    count: int | None = None,
    happened_at: datetime | None = None,
) -> Result:
    """Put a piece into a place: its own, or one of the same kind of which the record knows nothing else."""
    if piece.side != place.side and "C" not in (piece.side, place.side):
        raise Refused(
            f"{piece} is the {piece.get_side_display()} one and {place.mark} is on the {place.get_side_display()}. "
            "Nothing was changed. Look for the opposite one."
        )
    own = list(Belongs.objects.filter(piece=piece).values_list("place_id", flat=True))
    if own and place.pk not in own:
        raise Refused(f"{piece} belongs somewhere else, not at {place}. Nothing was changed.")
    refuse_original(piece)
    return _shift(
        "put_back",
        by=by,
        act_id=act_id,
        piece=piece,
        to=place.holder,
        at=at,
        count=count,
        happened_at=happened_at,
        from_kinds=(
            HolderKind.SHELF,
            HolderKind.CONTAINER,
            HolderKind.ASSEMBLY,
            HolderKind.PERSON,
            HolderKind.NOT_SAID,
        ),
        refusal="is not here to be put back",
    )


def refuse_original(piece: Piece) -> None:
    """Refuse to put back what another part stands in for, until the route of the new one is done to the end."""
    decided = gives_way([piece.pk]).get(piece.pk)
    if decided is None:
        return
    steps = list(Step.objects.filter(piece=piece).order_by("number"))
    left = next((step for step in steps if step.done_act_id is None), None)
    if decided != DecisionKind.SCRAP and steps and left is None:
        return
    stands = f"Its route stands at step {left.number} of {len(steps)}, {left.name}." if left else "It has no route."
    raise Refused(
        f"It is decided of {piece}: {decided}. The original does not go back on. {stands} Nothing was changed. Put the new one "
        "in when its route is done; where the decision no longer holds, decide again first."
    )


def lay_down(
    *,
    by: Person,
    act_id: uuid.UUID,
    piece: Piece,
    to: Holder,
    at: Holder | None = None,
    count: int | None = None,
    happened_at: datetime | None = None,
) -> Result:
    """Lay a piece that is off the aircraft on another shelf, in another box or with another person."""
    verbs = {HolderKind.SCRAP: "scrap", HolderKind.NOT_FOUND: "mark_not_found"}
    if to.kind in (HolderKind.PLACE, HolderKind.VENDOR, HolderKind.ORIGIN, HolderKind.NOT_SAID):
        raise Refused(f"{to.name} is no shelf. Nothing was changed. Put it back, or send it out.")
    return _shift(
        verbs.get(HolderKind(to.kind), "lay_down"),
        by=by,
        act_id=act_id,
        piece=piece,
        to=to,
        at=at,
        count=count,
        happened_at=happened_at,
    )


def send_in(
    act: Act,
    *,
    vendor: Vendor,
    process: str,
    pieces: Sequence[Piece],
    number: str,
    sent_on: date,
    promised_on: date | None = None,
    packed: Packed | None = None,
) -> Shipment:
    """Send pieces to a vendor inside an act; all of each that is here goes."""
    if Shipment.objects.filter(number=number).exists():
        raise Refused(f"Shipment {number} is in the record already. Nothing was changed. Take the next number.")
    shipment = Shipment.objects.create(
        number=number, vendor=vendor, process=process, sent_on=sent_on, promised_on=promised_on, act=act
    )
    moves = []
    for piece in pieces:
        where, count = _held(piece, None, None)
        if where.kind in (HolderKind.VENDOR, HolderKind.PLACE, HolderKind.SCRAP, HolderKind.NOT_FOUND):
            raise Refused(f"{piece} cannot leave: it is at {where.name}. Nothing was changed, nothing was sent.")
        ShipmentLine.objects.create(shipment=shipment, piece=piece, count_out=count, mass_out_g=piece.mass_g)
        moves.append(Move(from_piece=piece, from_holder=where, to_piece=piece, to_holder=vendor.holder, count=count))
    sent = list(zip(pieces, (m.count for m in moves), strict=True))
    let_leave(act, shipment, sent, packed)
    move(act, moves)
    _freeze_totals(act, number, vendor, sent)
    return shipment


def send_out(
    *,
    by: Person,
    act_id: uuid.UUID,
    vendor: Vendor,
    process: str,
    pieces: Sequence[Piece],
    number: str,
    sent_on: date,
    promised_on: date | None = None,
    packed: Packed | None = None,
    happened_at: datetime | None = None,
) -> Result:
    """Send pieces to a vendor as one shipment: what must not go is refused, what goes on terms needs a person's word."""
    if not pieces:
        raise Refused("A shipment needs at least one piece. Nothing was changed.")

    def do(act: Act) -> Result:
        shipment = send_in(
            act,
            vendor=vendor,
            process=process,
            pieces=pieces,
            number=number,
            sent_on=sent_on,
            promised_on=promised_on,
            packed=packed,
        )
        lines = list(shipment.lines.all())
        return {"shipment": number, "pieces": len(lines), "count": sum(line.count_out for line in lines)}

    said = {
        "vendor": vendor.pk,
        "process": process,
        "pieces": sorted(piece.pk for piece in pieces),
        "number": number,
        "sent_on": sent_on,
        "promised_on": promised_on,
    }
    if packed is not None:
        terms = sorted((piece, rule, person.pk) for piece, rule, person in packed.terms)
        said["packed"] = {"by": packed.by.pk, "instruction": packed.instruction, "terms": terms}
    return say(
        "send_out",
        by=by,
        act_id=act_id,
        said=said,
        do=do,
        aircraft=pieces[0].aircraft,
        happened_at=happened_at,
    )


def _freeze_totals(act: Act, number: str, vendor: Vendor, sent: Sequence[tuple[Piece, int]]) -> None:
    """Keep the count and mass that the shipment left with, with their working."""
    lines = [weighing.ShipmentLine(p.tag or p.key, p.name, count, p.mass_g, p.material) for p, count in sent]
    totals = weighing.shipment_totals(lines, weighing.parse_minimum_order(vendor.min_order).whole_g)
    told = totals.to_dict()
    working = told.pop("working")
    rely_on(
        act, keep_answer("shipment", number, inputs={"lines": [asdict(x) for x in lines]}, result=told, working=working)
    )


def receive_in(
    act: Act, *, shipment: Shipment, counts: dict[int, int], to: Holder, back_on: date, undone: Collection[int] = ()
) -> list[dict[str, object]]:
    """Receive what came back inside an act; give what is short by line. The shipment is locked: two people receive one after the other.

    What is all here has the vendor's steps behind it, but for `undone`: pieces that came back as they went.
    """
    shipment = Shipment.objects.select_for_update().get(pk=shipment.pk)
    lines = {line.piece_id: line for line in shipment.lines.select_related("piece")}
    strangers = sorted(set(counts) - set(lines))
    if strangers:
        raise Refused(f"Shipment {shipment.number} did not take these out: {strangers}. Nothing was changed.")
    moves: list[Move] = []
    short: list[dict[str, object]] = []
    mixed = _in_one_bucket(shipment)
    for pk, line in lines.items():
        back = counts.get(pk, 0)
        before = line.count_back or 0
        if back < 0 or back > line.count_out - before:
            earlier = f", {before} of them came before" if before else ""
            raise Refused(
                f"{line.piece}: {line.count_out} left{earlier}, {back} cannot have come back. Nothing was changed."
                f"{f' {took_in(shipment)}' if before else ''}"
            )
        if back and line.piece_id in mixed:
            raise Refused(
                f"{line.piece} was put in one bucket with others at {shipment.vendor.name}. Nothing was changed. "
                "Receive the bucket by count and mass on its sorting page."
            )
        line.count_back = before + back
        line.save(update_fields=["count_back"])
        if back:
            moves.append(
                Move(
                    from_piece=line.piece,
                    from_holder_id=shipment.vendor.holder_id,
                    to_piece=line.piece,
                    to_holder=to,
                    count=back,
                )
            )
        if line.count_back < line.count_out:
            short.append({"tag": line.piece.tag, "missing": line.count_out - line.count_back})
    move(act, moves)
    if not short:
        shipment.back_on = back_on
        shipment.save(update_fields=["back_on"])
    hold_back(act, shipment, [m.to_piece_id for m in moves])
    whole = [m.to_piece_id for m in moves if lines[m.to_piece_id].count_back == lines[m.to_piece_id].count_out]
    finish_at_vendor_in(act, shipment, [pk for pk in whole if pk not in undone])
    return short


def _in_one_bucket(shipment: Shipment) -> set[int]:
    """Bags of which nothing is left at the vendor but in the shipment's bucket."""
    gave = set(Move.objects.filter(to_piece__mix__shipment=shipment).values_list("from_piece_id", flat=True))
    held = Holding.objects.filter(piece__in=gave, holder_id=shipment.vendor.holder_id, count__gt=0)
    return gave - set(held.values_list("piece_id", flat=True))


def receive_back(
    *,
    by: Person,
    act_id: uuid.UUID,
    shipment: Shipment,
    counts: dict[int, int],
    to: Holder,
    back_on: date,
    undone: Collection[int] = (),
    happened_at: datetime | None = None,
) -> Result:
    """Receive what came back, by piece and count; what did not come stays with the vendor and is named.

    A bag that came and is not whole lost the rest there: a finding and a claim, until the rest comes.
    Without its papers it goes into quarantine. The vendor's steps of what is all here are done, but for `undone`.
    """

    def do(act: Act) -> Result:
        short = receive_in(act, shipment=shipment, counts=counts, to=to, back_on=back_on, undone=undone)
        came = shipment.lines.filter(piece__in=[pk for pk, n in counts.items() if n]).select_related("piece__aircraft")
        losses_counted(act, shipment, came, back_on)
        return {"shipment": shipment.number, "back": sum(counts.values()), "short": short}

    said: dict[str, object] = {
        "shipment": shipment.pk,
        "counts": {str(k): v for k, v in counts.items()},
        "to": to.pk,
        "back_on": back_on,
    }
    if undone:
        said["undone"] = sorted(undone)
    return say("receive_back", by=by, act_id=act_id, said=said, do=do, happened_at=happened_at)


def undo(*, by: Person, act_id: uuid.UUID, act: Act) -> Result:
    """Take an act's moves back, by a new act; the first stays in the history."""

    if Act.objects.filter(undoes=act).exclude(pk=act_id).exists():
        raise Refused("This was taken back already. Nothing was changed.")

    def do(new: Act) -> Result:
        moves = [
            Move(
                from_piece_id=m.to_piece_id,
                from_holder_id=m.to_holder_id,
                to_piece_id=m.from_piece_id,
                to_holder_id=m.from_holder_id,
                count=m.count,
            )
            for m in act.moves.all()
        ]
        if not moves or act.verb not in ("take_off", "put_back", "lay_down", "scrap", "mark_not_found"):
            raise Refused(
                "Only a move of a piece can be taken back. Nothing was changed. Say what is true now instead."
            )
        move(new, moves)
        return {"undone": str(act.pk), "moves": len(moves)}

    return say("undo", by=by, act_id=act_id, said={"act": act.pk}, do=do, aircraft=act.aircraft, undoes=act)
