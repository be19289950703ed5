"""Bags that the mat fills: made, begun again, mixed by a person's word, and what was filed taken out again."""

import uuid
from collections.abc import Iterable, Mapping, Sequence

from django.db.models import ProtectedError

from witnessmark.records.actions.saying import Refused, Result, move, say
from witnessmark.records.lookups.mat_boxes import filings, taken_in
from witnessmark.records.lookups.mat_kinds import FILING, Things, another_thing, held_things
from witnessmark.records.models import (
    Act,
    Aircraft,
    Answer,
    HolderKind,
    Holding,
    Move,
    NotCounted,
    Person,
    PhotoUse,
    Piece,
    PieceKind,
    PieceReading,
    ReadingStruck,
    Tagging,
)
from witnessmark.records.words import search_words

MIXED = "mixed: "


def new_bag(act: Act, tag: str, name: str, count: int, aircraft: Aircraft | None, as_found: str) -> Piece:
    """Make a bag with its tag on, inside an act; what it holds is moved in after."""
    bag = Piece.objects.create(
        tag=tag, aircraft=aircraft, kind=PieceKind.BAG, name=name, count_off=count, as_found=as_found[:500],
        words=search_words(tag, name, as_found),
    )  # fmt: skip
    Tagging.objects.create(tag=tag, piece=bag, on_act=act)
    return bag


def figures_in(act: Act, bag: Piece, reading: Answer, inside: Sequence[int]) -> int:
    """Write the picture's figures down on a bag whose pieces are alike: they are known when they come back mixed."""
    told: Mapping[str, Mapping[str, Sequence[float]]] = reading.result.get("returned", {})
    rows = [
        PieceReading(
            piece=bag, item=f"{reading.subject[:6]}-{number}", what=what, value=value, uncertainty=sigma,
            typed=f"{value:.3f}", act=act,
        )
        for number in inside
        for what, (value, sigma) in told.get(str(number), {}).items()
    ]  # fmt: skip
    PieceReading.objects.bulk_create(rows)
    return len(rows)


def emptied(bag: Piece) -> bool:
    """Whether all that ever came into the bag was taken out again, as if it had never come."""
    return not taken_in([bag]) and Move.objects.filter(to_piece=bag).exists()


def was_called(was: str, bag: Piece) -> Mapping[str, str]:
    """What the bag was called before the act renamed it, for the one who takes it back."""
    return {"was": was} if was and bag.name != was else {}


def begin_again(bag: Piece, name: str, count: int, as_found: str) -> None:
    """A bag of which all was taken out again holds what is put into it now, whatever it was called before."""
    bag.name, bag.count_off = name, count
    bag.as_found = as_found[:500] or bag.as_found
    _save(bag)


def goes_mixed(bag: Piece, more: str) -> None:
    """A person said that the bag holds several things: its name says so from now on."""
    held = held_things([bag])[bag.pk].count
    bag.name = f"{bag.name if bag.name.startswith(MIXED) else f'{MIXED}{held} {bag.name}'}, {more}"[:200]
    _save(bag)


def _save(bag: Piece) -> None:
    bag.words = search_words(bag.tag, bag.name, bag.part_no, bag.as_found, bag.note)
    bag.save(update_fields=["name", "count_off", "as_found", "words"])


def refuse_another(bag: Piece, shown: Things) -> None:
    """Refuse what is another thing than the bag holds."""
    why = another_thing(bag.tag or bag.key, held_things([bag])[bag.pk], shown)
    if why:
        raise Refused(f"{why}. Nothing was changed. Take another tag, or say that the bag is mixed.")


def filing_of(reading: Answer, key: str) -> Act:
    """The act of this number that filed from this picture."""
    for each in filings(reading):
        if str(each.act.pk) == key:
            return each.act
    raise Refused(
        "That was taken out of its bag already, or never put in. Nothing was changed. Open the picture again."
    )


def take_back_filing(*, by: Person, act_id: uuid.UUID, act: Act) -> Result:
    """Take out of their bags what one act filed from a picture: counts, figures and picture; both acts stay to be read.

    A bag from which pieces went elsewhere since, so that it lacks them, is refused by name.
    """
    if act.verb not in FILING:
        raise Refused("That put nothing into a bag. Nothing was changed.")
    if Act.objects.filter(undoes=act).exclude(pk=act_id).exists():
        raise Refused("This was taken out again already. Nothing was changed.")

    def do(back: Act) -> Result:
        moves = list(act.moves.select_related("to_piece", "to_holder").order_by("-id"))
        _lie_where_they_were_laid(moves)
        for m in moves:
            back_again = Move(from_piece_id=m.to_piece_id, from_holder_id=m.to_holder_id, count=m.count)
            back_again.to_piece_id, back_again.to_holder_id = m.from_piece_id, m.from_holder_id
            move(back, [back_again])
        strike(back, PieceReading.objects.filter(act=act, struck=None))
        try:
            PhotoUse.objects.filter(act=act).delete()
        except ProtectedError:
            raise Refused("A ring was drawn on its picture since. Nothing was changed.") from None
        begun = NotCounted.objects.filter(counted_act=act)
        Piece.objects.filter(not_counted__in=begun).update(kind=PieceKind.PART, count_off=1)
        begun.update(counted_act=None)
        _as_before(act)
        return {"act": str(act.pk), "moves": len(moves)}

    said = {"act": str(act.pk)}
    return say("undo", by=by, act_id=act_id, said=said, do=do, aircraft=act.aircraft, undoes=act)


def _lie_where_they_were_laid(moves: Sequence[Move]) -> None:
    """Refuse where pieces went on since, by the same moves backwards."""
    rows = Holding.objects.filter(piece__in={m.to_piece_id for m in moves}).values_list("piece", "holder", "count")
    there = {(piece, holder): count for piece, holder, count in rows}
    for m in moves:
        here, before = (m.to_piece_id, m.to_holder_id), (m.from_piece_id, m.from_holder_id)
        if m.to_holder.kind != HolderKind.ORIGIN and there.get(here, 0) < m.count:
            raise Refused(
                f"{m.count} of {m.to_piece} lay at {m.to_holder.name} and went elsewhere since. Nothing was changed. "
                "Lay them back there first, then take this back."
            )
        there[here] = there.get(here, 0) - m.count
        there[before] = there.get(before, 0) + m.count


def strike(act: Act, readings: Iterable[PieceReading]) -> int:
    """Strike readings out, inside an act: they stay in the history and count no more."""
    return len(ReadingStruck.objects.bulk_create([ReadingStruck(reading=row, act=act) for row in readings]))


def _as_before(act: Act) -> None:
    """A bag that the act renamed has its old name again."""
    done = act.actresult.result
    for each in done["boxes"] if act.verb == "file_boxes" else [done]:
        bag = Piece.objects.get(pk=each["piece"])
        if each.get("was") and bag.name != each["was"]:
            bag.name = each["was"]
            _save(bag)
