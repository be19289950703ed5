"""A person says whose a piece of the bucket is, before the readings; the ledger moves only when the pieces are confirmed."""

import uuid
from datetime import datetime

from witnessmark.calc.bags.return_match import STRANGER
from witnessmark.records.actions.mixing import given, locked
from witnessmark.records.actions.saying import Refused, Result, say
from witnessmark.records.lookups.mixing import sorting, standing, words_of
from witnessmark.records.lookups.piece_readings import standing_readings
from witnessmark.records.models import Act, Mix, Person, Piece, Shipment, ToldApart, WhoseWord


def say_whose(
    *,
    by: Person,
    act_id: uuid.UUID,
    shipment: Shipment,
    item: str,
    bag: Piece | None = None,
    foreign: bool = False,
    why: str = "",
    happened_at: datetime | None = None,
) -> Result:
    """Say that a piece is of this bag, or not ours, and what is seen of it; with neither, the readings decide again.

    What the readings had said is kept beside the word. A bag takes no more words than it gave pieces that are not home.
    """
    number, reason = item.strip()[:40], " ".join(why.split())
    if bag is not None and foreign:
        raise Refused("A piece is of a bag or not ours. Nothing was changed. Say one of both.")
    if (bag is not None or foreign) and not reason:
        raise Refused("Nothing is said of what you see. Nothing was changed. Say why it is not what the readings say.")
    if len(reason) > 200:
        raise Refused("What you see is longer than 200 letters. Nothing was changed. Say it shorter.")
    seen = sorting(shipment, but=number)
    read = next((p for p in seen.match.pieces if p.piece == number), None) if seen and seen.match else None

    def do(act: Act) -> Result:
        fresh = locked(shipment)
        mix = Mix.objects.filter(shipment=fresh).select_related("piece").first()
        if mix is None:
            raise Refused(f"Nothing of shipment {fresh.number} is mixed. Nothing was changed.")
        _in_the_bucket(mix, number)
        before = standing(words_of(mix))
        if bag is not None:
            _has_room(fresh, mix, number, bag, before)
        elif not foreign and number not in before:
            raise Refused(f"Nothing is said of piece {number}. Nothing was changed. The readings decide already.")
        word = WhoseWord.objects.create(
            mix=mix,
            item=number,
            bag=bag,
            foreign=foreign,
            why=reason,
            read_bag=seen.bags.get(read.bag) if seen and read and read.bag else None,
            read_state=read.state if read else "",
            read_sure=round(read.sure, 4) if read else None,
            act=act,
        )
        return {"item": number, "says": STRANGER if foreign else word.says, "against": word.against}

    said = {
        "shipment": shipment.pk,
        "item": number,
        "bag": bag.pk if bag else None,
        "foreign": foreign,
        "why": reason,
    }
    return say("say_whose", by=by, act_id=act_id, said=said, do=do, happened_at=happened_at)


def _in_the_bucket(mix: Mix, number: str) -> None:
    home = ToldApart.objects.filter(mix=mix, item=number).select_related("piece").first()
    if home is not None:
        raise Refused(
            f"Piece {number} is home in {home.piece.tag or home.piece.key} already. Nothing was changed. "
            "What is home is not told apart again: move it by its bag."
        )
    if not standing_readings([mix.piece_id]).filter(item=number).exists():
        raise Refused(
            f"No piece of this bucket has the number {number[:20] or 'none'}. Nothing was changed. "
            "Take a number that has a reading, or measure it first."
        )


def _has_room(shipment: Shipment, mix: Mix, number: str, bag: Piece, before: dict[str, WhoseWord]) -> None:
    if not shipment.lines.filter(piece=bag).exists():
        raise Refused(
            f"{bag.tag or bag.key} did not leave with shipment {shipment.number}. Nothing was changed. "
            "Say one of its bags, or that the piece is not ours."
        )
    room = given(mix).get(bag.pk, 0)
    others = sorted(word.item for item, word in before.items() if item != number and word.bag_id == bag.pk)
    if len(others) >= room:
        taken = f", and of {', '.join(others)} it is said already" if others else ""
        raise Refused(
            f"{bag.tag or bag.key} is full: it gave {room} that are not home yet{taken}. Nothing was changed. "
            "Take one of these words back, or count the bag again."
        )
