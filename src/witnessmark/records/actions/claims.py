"""What a vendor is held to: short, damaged, not ours, late; with the picture, until he has answered."""

import uuid
from collections.abc import Iterable, Sequence
from datetime import date

from witnessmark.records.actions.condition import next_finding_number
from witnessmark.records.actions.saying import NotAllowed, Refused, Result, say
from witnessmark.records.models import (
    Act,
    Claim,
    ClaimKind,
    Finding,
    Order,
    Person,
    PhotoUse,
    Piece,
    Place,
    Shipment,
    ShipmentLine,
)
from witnessmark.records.photo_store import keep_bytes
from witnessmark.records.words import search_words


def _found(act: Act, by: Person, piece: Piece, what: str, measured: str, seen_on: date) -> Finding | None:
    if piece.aircraft is None:
        return None
    number = next_finding_number(piece.aircraft)
    return Finding.objects.create(
        aircraft=piece.aircraft,
        number=number,
        piece=piece,
        what=what,
        measured=measured[:200],
        seen_on=seen_on,
        seen_by=by.name,
        words=search_words(number, what, measured),
        act=act,
    )


def loss_found(
    act: Act,
    by: Person,
    shipment: Shipment,
    piece: Piece,
    count: int,
    places: Sequence[Place],
    shown: Piece,
    seen_on: date,
) -> str | None:
    """A loss is a finding with the vendor's name and the pictures of what is shown, and a claim on him; give its number."""
    vendor = shipment.vendor.name
    which = f", {', '.join(str(p) for p in places[:6])}" if places else ""
    what = f"{count} did not come back from {vendor}, shipment {shipment.number}{which}"
    line = shipment.lines.get(piece=piece)
    measured = f"{line.count_out - count} of {line.count_out} came back"
    finding = _found(act, by, piece, what, measured, seen_on)
    pictures = list(PhotoUse.objects.filter(piece=shown).order_by("id"))
    Claim.objects.create(
        shipment=shipment,
        kind=ClaimKind.SHORT,
        piece=piece,
        count=count,
        what=what[:400],
        finding=finding,
        photo_id=pictures[-1].photo_id if pictures else None,
        act=act,
    )
    if finding is None:
        return None
    for use in pictures:
        PhotoUse.objects.create(photo_id=use.photo_id, finding=finding, what=use.what, act=act)
    return finding.number


def losses_counted(act: Act, shipment: Shipment, came: Iterable[ShipmentLine], seen_on: date) -> None:
    """Of a bag that came counted and not whole, the rest is a loss; what comes after all settles the claim before it."""
    for line in came:
        missing = line.count_out - (line.count_back or 0)
        before = Claim.objects.select_for_update().filter(
            shipment=shipment, piece=line.piece, kind=ClaimKind.SHORT, settled_on=None
        )
        for claim in before:
            left = f"{missing} {'is' if missing == 1 else 'are'} still short" if missing else "none is short any more"
            claim.answer, claim.settled_on, claim.settled_act = f"More came back: {left}", seen_on, act
            claim.save(update_fields=["answer", "settled_on", "settled_act"])
            if claim.finding_id is not None:
                Finding.objects.filter(pk=claim.finding_id, state="open").update(state="closed")
        if missing:
            loss_found(act, act.person, shipment, line.piece, missing, [], line.piece, seen_on)


def make_claim(
    *,
    by: Person,
    act_id: uuid.UUID,
    kind: str,
    what: str,
    made_on: date,
    shipment: Shipment | None = None,
    order: Order | None = None,
    piece: Piece | None = None,
    count: int = 1,
    picture: bytes | None = None,
    picture_name: str = "",
) -> Result:
    """Hold a vendor to what is short, damaged, not ours or late; the picture stays with the claim. With a piece it is a finding too."""
    if kind not in ClaimKind.values:
        raise Refused(f"'{kind}' is no claim. Nothing was changed. It is one of {', '.join(ClaimKind.values)}.")
    if not what.strip():
        raise Refused("A claim says in a few words what is wrong. Nothing was changed.")
    if shipment is None and order is None:
        raise Refused("A claim is on a shipment or an order. Nothing was changed.")
    if count < 1:
        raise Refused(f"A count is a whole number above nought, not {count}. Nothing was changed.")
    if not by.may_write:
        raise NotAllowed(f"{by.name} may look, not add. Nothing was changed.")
    photo = keep_bytes(picture, picture_name) if picture else None

    def do(act: Act) -> Result:
        if piece is not None and shipment is not None and not shipment.lines.filter(piece=piece).exists():
            raise Refused(f"{piece} did not leave with shipment {shipment.number}. Nothing was changed.")
        finding = None
        if piece is not None and kind in (ClaimKind.SHORT, ClaimKind.DAMAGED):
            of = shipment.vendor.name if shipment else order.vendor.name if order else ""
            finding = _found(act, by, piece, f"{what.strip()} ({of})", f"{count} {kind}", made_on)
        if photo is not None and (finding or piece):
            PhotoUse.objects.create(photo=photo, piece=piece, finding=finding, what=what.strip()[:300], act=act)
        claim = Claim.objects.create(
            shipment=shipment,
            order=order,
            kind=kind,
            piece=piece,
            count=count,
            what=what.strip()[:400],
            finding=finding,
            photo=photo,
            act=act,
        )
        return {"claim": claim.pk, "finding": finding.number if finding else None}

    said = {
        "kind": kind,
        "what": what.strip(),
        "shipment": shipment.pk if shipment else None,
        "order": order.pk if order else None,
        "piece": piece.pk if piece else None,
        "count": count,
        "made_on": made_on,
        "photo": photo.sha256 if photo else None,
    }
    return say("make_claim", by=by, act_id=act_id, said=said, do=do, aircraft=piece.aircraft if piece else None)


def settle_claim(*, by: Person, act_id: uuid.UUID, claim: Claim, answer: str, settled_on: date) -> Result:
    """Write down what the vendor answered; the claim is settled with it."""
    if not answer.strip():
        raise Refused("Write what he answered. Nothing was changed.")

    def do(act: Act) -> Result:
        fresh = Claim.objects.select_for_update().get(pk=claim.pk)
        if fresh.settled_on is not None:
            raise Refused("This claim is settled already. Nothing was changed.")
        fresh.answer, fresh.settled_on, fresh.settled_act = answer.strip()[:400], settled_on, act
        fresh.save(update_fields=["answer", "settled_on", "settled_act"])
        return {"claim": fresh.pk}

    said = {"claim": claim.pk, "answer": answer.strip(), "settled_on": settled_on}
    return say("settle_claim", by=by, act_id=act_id, said=said, do=do)
