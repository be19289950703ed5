"""Boxes of a mat are bound to bags before the picture; what the picture shows in each goes with its bag."""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from witnessmark.calc.mat.sheet import read_code
from witnessmark.records.actions.answers import rely_on
from witnessmark.records.actions.blank_tags import IN_A_BOX, give_out
from witnessmark.records.actions.custody import holder, single
from witnessmark.records.actions.mat_bags import (
    begin_again,
    emptied,
    figures_in,
    goes_mixed,
    new_bag,
    refuse_another,
    was_called,
)
from witnessmark.records.actions.said_later import counted, lies
from witnessmark.records.actions.saying import Refused, Result, move, say
from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.lookups.mat_boxes import bound_boxes, filed_pieces, given_out, not_counted, taken_in, with_tags
from witnessmark.records.lookups.mat_kinds import shown_things
from witnessmark.records.lookups.piece_readings import standing_readings
from witnessmark.records.models import (
    Act,
    Answer,
    Holder,
    HolderKind,
    Holding,
    MatBox,
    Move,
    Person,
    PhotoUse,
    Piece,
    PieceKind,
    PrintedMat,
)
from witnessmark.records.words import search_words

MOST_IN_A_BAG = 9999


@dataclass(frozen=True)
class IntoBag:
    """What a person says of one box: whose it is, how many (None: what the picture counts), what it is.

    `more` adds to a bag that was taken in before; else its count is only held against the picture. `mixed`: the bag holds
    several things, and these too.
    """

    box: str
    tag: str
    count: int | None = None
    name: str = ""
    came_from: str = ""
    more: bool = False
    mixed: bool = False


def box_names(mat: PrintedMat) -> list[str]:
    """The names of a mat's boxes, in reading order; none on a plain one."""
    known = read_code(f"WMAT:{mat.kind}:{mat.serial}")
    return [box.name for box in known[0].boxes()] if known is not None else []


def print_in(act: Act, mat: PrintedMat, tags: Sequence[str], new: int) -> Result:
    """Bind the boxes of a sheet that is being printed, inside its act: these bags first, then numbers that are free."""
    names = box_names(mat)
    if not names:
        raise Refused("A plain mat has no boxes. Nothing was printed. Choose the layout with twelve boxes.")
    if new < 0 or len(tags) + new > len(names):
        raise Refused(
            f"A mat has {len(names)} boxes; {len(tags)} bags and {new} new numbers are {len(tags) + new}. "
            "Nothing was printed. Take two mats."
        )
    _refuse_tags(tags)
    numbers = give_out(act, new, IN_A_BOX)[1] if new else []
    boxes = dict(zip(names, [*tags, *numbers], strict=False))
    MatBox.objects.bulk_create(MatBox(mat=mat, box=box, tag=tag, printed=True, act=act) for box, tag in boxes.items())
    return boxes


def _refuse_tags(tags: Sequence[str]) -> None:
    """A box takes the tag of a bag, of a piece that is not counted yet, or a number that was given out."""
    twice = sorted({tag for tag in tags if tags.count(tag) > 1})
    if twice:
        raise Refused(f"Tag {twice[0]} is named for two boxes. Nothing was changed. A bag has one box.")
    known = with_tags(tags)
    bare = not_counted(known.values())
    free = given_out(tags)
    for tag in tags:
        piece = known.get(tag)
        if len(tag) > 20:
            raise Refused(f"{tag[:40]} is too long for a box: 20 signs at most. Nothing was changed.")
        if piece is None and tag not in free:
            raise Refused(
                f"No bag has the tag {tag}, and it was not given out here. Nothing was changed. "
                "Read it again, or let the box have a new number."
            )
        if piece is not None and piece.kind != PieceKind.BAG and piece.pk not in bare:
            raise Refused(f"Tag {tag} is on {piece.name or piece}, which is no bag. Nothing was changed.")


def bind_boxes(
    *, by: Person, act_id: uuid.UUID, serial: str, tags: Mapping[str, str], came_from: Mapping[str, str] | None = None
) -> Result:
    """Say whose boxes of a printed mat are from now on, and where their pieces come from; a picture before keeps its own.

    A box without a tag is nobody's. One with a tag printed in keeps it; only its words change.
    """
    mat = PrintedMat.objects.filter(pk=serial).first()
    if mat is None:
        raise Refused(
            f"No mat {serial[:12]} was printed here. Nothing was changed. Read its number at its upper left corner."
        )
    names = box_names(mat)
    words = {box: " ".join(text.split())[:300] for box, text in (came_from or {}).items()}
    wanted = {box: tag.strip()[:40] for box, tag in tags.items()}
    strange = sorted({*wanted, *words} - set(names))
    if strange:
        raise Refused(
            f"Mat {serial} has no box {strange[0][:8]}. Nothing was changed. Its boxes are {', '.join(names)}."
        )

    def do(act: Act) -> Result:
        before = bound_boxes(mat)
        all_now: dict[str, str] = {}
        rows = []
        for box in names:
            old = before.get(box)
            was = (old.tag, old.came_from) if old is not None else ("", "")
            now = wanted.get(box, was[0]), words.get(box, was[1])
            if old is not None and old.printed and now[0] != old.tag:
                raise Refused(
                    f"Tag {old.tag} is printed into box {box}. Nothing was changed. Print another sheet, or lay the pieces into another box."
                )
            all_now[box] = now[0]
            if now != was:
                printed = old is not None and old.printed
                rows.append(MatBox(mat=mat, box=box, tag=now[0], came_from=now[1], printed=printed, act=act))
        if not rows:
            raise Refused(f"That is what mat {serial} says already. Nothing was changed.")
        _refuse_tags([tag for tag in all_now.values() if tag])
        MatBox.objects.bulk_create(rows)
        return {"serial": serial, "boxes": all_now}

    told = {"serial": serial, "tags": wanted, "came_from": words}
    return say("bind_boxes", by=by, act_id=act_id, said=told, do=do)


def file_boxes(*, by: Person, act_id: uuid.UUID, reading: Answer, boxes: Sequence[IntoBag], shelf: str) -> Result:
    """Put what lies in these boxes with their bags: picture, count and figures; all of it or nothing.

    A bag that was taken in before keeps its count, and the picture's is written beside it, unless more is added to it.
    """
    known: Mapping[str, Mapping[str, Any]] = {b["box"]: b for b in reading.result.get("boxes", [])}
    if not boxes:
        raise Refused("No box was chosen. Nothing was changed. Choose one.")
    for each in boxes:
        if each.box not in known or not known[each.box]["pieces"]:
            raise Refused(f"Nothing lies in box {each.box[:8]} on this picture. Nothing was changed.")
        if not each.tag.strip():
            raise Refused(f"Box {each.box} has no tag. Nothing was changed. Say whose it is.")
        if each.count is None and known[each.box]["piles"]:
            raise Refused(f"Box {each.box} has pieces that touch. Nothing was changed. Count them and write how many.")
        if each.count is not None and not 1 <= each.count <= MOST_IN_A_BAG:
            raise Refused(f"A bag holds 1 to {MOST_IN_A_BAG:,} pieces, not {each.count}. Nothing was changed.")
    tags = [each.tag.strip() for each in boxes]
    twice = sorted({tag for tag in tags if tags.count(tag) > 1})
    if twice:
        raise Refused(f"Tag {twice[0]} is named for two boxes. Nothing was changed. A bag has one box.")

    def do(act: Act) -> Result:
        before = {number for _tag, numbers in filed_pieces(reading) for number in numbers}
        done = []
        for each in boxes:
            inside = list(known[each.box]["pieces"])
            if before & set(inside):
                raise Refused(
                    f"What lies in box {each.box} is in a bag already. Nothing was changed. Open the picture again."
                )
            done.append(_into(act, reading, each, inside, shelf.strip()[:200]))
        rely_on(act, reading)
        return {"boxes": done}

    said = {
        "reading": reading.pk,
        "shelf": shelf.strip()[:200],
        "boxes": [
            {
                "box": b.box, "tag": b.tag.strip(), "pieces": list(known[b.box]["pieces"]), "count": b.count,
                "name": b.name, "came_from": b.came_from, "more": b.more, **({"mixed": True} if b.mixed else {}),
            }
            for b in boxes
        ],
    }  # fmt: skip
    whose = {p.aircraft for p in with_tags(tags).values()}
    return say("file_boxes", by=by, act_id=act_id, said=said, do=do, aircraft=whose.pop() if len(whose) == 1 else None)


def _into(act: Act, reading: Answer, each: IntoBag, inside: list[int], shelf: str) -> Result:
    """File one box, inside the act."""
    tag = each.tag.strip()[:40]
    count = len(inside) if each.count is None else each.count
    name = " ".join(each.name.split())[:200] or names_in(reading, inside)
    bag = with_tags([tag]).get(tag)
    bare = bag is not None and bag.pk in not_counted([bag])
    if bag is not None and bag.kind != PieceKind.BAG and not bare:
        raise Refused(f"Tag {tag} of box {each.box} is on {bag.name or bag}, which is no bag. Nothing was changed.")
    held = taken_in([bag]).get(bag.pk) if bag is not None and not bare else None
    was = bag.name if bag is not None else ""
    begins_anew = bag is not None and not bare and emptied(bag)
    if bag is not None and not bare and not begins_anew and not each.mixed:
        refuse_another(bag, shown_things(reading, inside, each.name))
    if held is None and not shelf:
        raise Refused(f"Say where the bag of box {each.box} lies. Nothing was changed. A shelf, or a box.")
    made = bag is None
    if bag is None:
        bag = new_bag(act, tag, name, count, the_aircraft(), each.came_from or f"on the mat, box {each.box}")
    elif begins_anew:
        begin_again(bag, name, count, each.came_from)
    if bare:
        bag = _counted_now(act, bag, count, name, each, shelf)
    elif held is None or each.more:
        if held is not None and each.mixed:
            goes_mixed(bag, f"{count} {name}")
        to = holder(HolderKind.SHELF, shelf) if shelf else _where(bag)
        move(
            act, [Move(from_piece=bag, from_holder=single(HolderKind.ORIGIN), to_piece=bag, to_holder=to, count=count)]
        )
    beside = f" (the record holds {held})" if held is not None and not each.more and held != count else ""
    PhotoUse.objects.create(
        photo_id=reading.subject, piece=bag, what=f"{count} on the mat, box {each.box}{beside}: {name}"[:300], act=act
    )
    # A bag of several kinds has no figures of its own; one that is only counted again was measured before.
    again = held is not None and not each.more and standing_readings([bag.pk]).exists()
    if _alike(reading, inside) and not again and not each.mixed:
        figures_in(act, bag, reading, inside)
    kept = held if held is not None and not each.more else None
    return {
        "box": each.box,
        "tag": tag,
        "piece": bag.pk,
        "count": count,
        "new": made,
        "held": kept,
        **was_called(was, bag),
    }


def _counted_now(act: Act, piece: Piece, count: int, name: str, each: IntoBag, shelf: str) -> Piece:
    """A piece that a picture began: it is counted now, and lies on the shelf."""
    counted(act, piece, count)
    lies(act, piece, holder(HolderKind.SHELF, shelf))
    piece.name = piece.name or name
    piece.as_found = piece.as_found or each.came_from[:500]
    piece.words = search_words(piece.tag, piece.name, piece.part_no, piece.as_found, piece.note)
    piece.save(update_fields=["name", "as_found", "words"])
    return piece


def _where(bag: Piece) -> Holder:
    rows = list(Holding.objects.filter(piece=bag, count__gt=0).select_related("holder"))
    if len(rows) != 1 or rows[0].holder.kind not in (HolderKind.SHELF, HolderKind.CONTAINER):
        raise Refused(f"Bag {bag.tag} does not lie on one shelf. Nothing was changed. Say where the new ones lie.")
    return rows[0].holder


def names_in(reading: Answer, inside: Sequence[int]) -> str:
    """What a box holds in the picture's own words: every group that has a piece in it."""
    there = set(inside)
    told: list[str] = []
    for group in reading.result.get("groups", []):
        number = len(there & set(group["pieces"]))
        if number and not group.get("for_person"):
            told.append(group["name"] if len(told) == 0 else f"{number} of {group['name']}")
    return "; ".join(told)[:200] or "hardware"


def _alike(reading: Answer, inside: Sequence[int]) -> bool:
    return sum(bool(set(group["pieces"]) & set(inside)) for group in reading.result.get("groups", [])) == 1
