"""The pieces of a bucket: one is measured under its number, struck out again, and figures taken in together are taken back."""

import uuid

from django.db import transaction

from witnessmark.calc.bags.plausible import slip
from witnessmark.records.actions.mat_bags import strike
from witnessmark.records.actions.mixing import locked
from witnessmark.records.actions.readings import figure, read_pieces
from witnessmark.records.actions.saying import Refused, Result, say
from witnessmark.records.lookups.bucket import numbers
from witnessmark.records.lookups.mixing import sorting
from witnessmark.records.lookups.piece_readings import standing_readings
from witnessmark.records.models import Act, Mix, Person, PieceReading, Shipment, ToldApart


def measure_in_bucket(*, by: Person, act_id: uuid.UUID, shipment: Shipment, item: str, what: str, typed: str) -> Result:
    """Write a figure of one piece of the bucket down: its number is one that a piece there can have, the figure one that a fastener can."""
    number = item.strip()
    if not number:
        raise Refused("A piece in the bucket has a number. Nothing was changed. Type its number.")
    with transaction.atomic():
        locked(shipment)
        seen = sorting(shipment)
        if seen is None:
            raise Refused(f"Nothing of shipment {shipment.number} is mixed. Nothing was changed.")
        if any(each.item == number for each in seen.told):
            raise Refused(f"Piece {number[:20]} is home already. Nothing was changed. Take the next number.")
        if why := numbers(seen).why_not(number):
            raise Refused(why)
        beside = {name: row.value for name, row in seen.items.get(number, {}).items() if name != what}
        if why := slip(what, figure(what, typed), beside):
            raise Refused(f"{why} What was read in inches is typed as 0.315 in.")
        return read_pieces(by=by, act_id=act_id, piece=seen.mix.piece, readings={number: {what: typed}})


def strike_piece(*, by: Person, act_id: uuid.UUID, shipment: Shipment, item: str) -> Result:
    """Strike out all that was read under a number of the bucket: no piece has it. Measured anew, it is there again."""
    number = item.strip()[:40]

    def do(act: Act) -> Result:
        mix = Mix.objects.filter(shipment=locked(shipment)).first()
        if mix is None:
            raise Refused(f"Nothing of shipment {shipment.number} is mixed. Nothing was changed.")
        _not_home(mix, [number])
        rows = list(standing_readings([mix.piece_id]).filter(item=number))
        if not rows:
            raise Refused(f"Nothing is read under number {number or 'none'}. Nothing was changed.")
        return {"item": number, "figures": strike(act, rows)}

    said = {"shipment": shipment.pk, "item": number}
    return say("strike_reading", by=by, act_id=act_id, said=said, do=do)


def take_back_figures(*, by: Person, act_id: uuid.UUID, act: Act) -> Result:
    """Take back the figures that one act wrote down on a bag or bucket; pieces that are home by them are refused."""
    if act.verb != "read_piece":
        raise Refused("That wrote no figures down. Nothing was changed.")
    if Act.objects.filter(undoes=act).exclude(pk=act_id).exists():
        raise Refused("These figures were taken back already. Nothing was changed.")

    def do(back: Act) -> Result:
        rows = list(PieceReading.objects.filter(act=act, struck=None))
        mix = Mix.objects.filter(piece__in={row.piece_id for row in rows}).first()
        if mix is not None:
            locked(mix.shipment)
            _not_home(mix, sorted({row.item for row in rows}))
        return {"act": str(act.pk), "figures": strike(back, rows)}

    said = {"act": str(act.pk)}
    return say("undo", by=by, act_id=act_id, said=said, do=do, aircraft=act.aircraft, undoes=act)


def _not_home(mix: Mix, items: list[str]) -> None:
    home = ToldApart.objects.filter(mix=mix, item__in=items).order_by("item").first()
    if home is not None:
        raise Refused(f"Piece {home.item} is home already by what was read on it. Nothing was changed.")
