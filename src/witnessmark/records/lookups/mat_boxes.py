"""The boxes of a mat: whose they were before a picture came, and what the picture says of each bag."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db.models import Q, Sum

from witnessmark.records.lookups.mat_kinds import FILING, Things, another_thing, held_things, shown_things
from witnessmark.records.models import (
    Act,
    Aircraft,
    Answer,
    Belongs,
    HolderKind,
    Holding,
    MatBox,
    Move,
    NotCounted,
    Person,
    Piece,
    PieceKind,
    PrintedMat,
    Tagging,
    TagPrinted,
)

MOST_BAGS = 60
AWAY = (HolderKind.PLACE, HolderKind.SCRAP, HolderKind.NOT_FOUND, HolderKind.ORIGIN)


@dataclass(frozen=True)
class BoxRow:
    """One box of a picture as a person settles it; `held` is what the record holds of a bag that was taken in before."""

    box: str
    tag: str
    state: str
    sentence: str
    pieces: tuple[int, ...]
    piles: int
    piece: Piece | None
    held: int | None
    came_from: str
    in_bag: str
    ready: bool
    remark: str = ""

    @property
    def count(self) -> int | None:
        """How many the picture shows; None where a person has to count."""
        return None if self.piles else len(self.pieces)

    @property
    def against(self) -> str:
        """The picture's count held against the record's; nothing for a bag that is new to it."""
        if self.held is None or self.count is None:
            return ""
        if self.held == self.count:
            return f"The record holds {self.held}: it agrees."
        off = abs(self.held - self.count)
        return f"The record holds {self.held}: {off} {'fewer' if self.count < self.held else 'more'} on the picture. Its count is left as it is."


def bound_boxes(mat: PrintedMat) -> dict[str, MatBox]:
    """The newest word about each box of a mat that has a tag."""
    found = {row.box: row for row in MatBox.objects.filter(mat=mat).order_by("id")}
    return {box: row for box, row in found.items() if row.tag}


def bound_before(moment: datetime) -> dict[str, dict[str, str]]:
    """For each mat the tags that were bound to its boxes at that moment."""
    found: dict[str, dict[str, str]] = {}
    rows = MatBox.objects.filter(act__recorded_at__lte=moment).order_by("id").values_list("mat_id", "box", "tag")
    for serial, box, tag in rows:
        found.setdefault(serial, {})[box] = tag
    return {serial: {box: tag for box, tag in boxes.items() if tag} for serial, boxes in found.items()}


def filed_pieces(reading: Answer) -> list[tuple[str, list[int]]]:
    """Which pieces of a reading went into which bag, by act; those taken back do not count."""
    found: list[tuple[str, list[int]]] = []
    for act in Act.objects.filter(verb__in=FILING, answerreliedon__answer=reading, undone_by=None):
        for each in act.said["boxes"] if act.verb == "file_boxes" else [act.said]:
            found.append((each["tag"], each["pieces"]))
    return found


@dataclass(frozen=True)
class Filing:
    """One act that put pieces of a picture into bags, for the one who takes it back."""

    act: Act
    bags: tuple[tuple[str, str], ...]


def filings(reading: Answer) -> list[Filing]:
    """What was put into bags from this picture and not taken out again, the newest first."""
    acts = Act.objects.filter(verb__in=FILING, answerreliedon__answer=reading, undone_by=None)
    found = []
    for act in acts.select_related("person", "actresult").order_by("-recorded_at"):
        done = act.actresult.result
        rows = done["boxes"] if act.verb == "file_boxes" else [done]
        told = tuple((r["tag"], f"box {r['box']}" if "box" in r else str(r["count"])) for r in rows)
        found.append(Filing(act, told))
    return found


def last_shelf(by: Person) -> str:
    """Where this person laid the last bag from the mat: the next lies there too, more often than not."""
    last = Act.objects.filter(verb__in=FILING, person=by).order_by("-recorded_at").first()
    return str(last.said["shelf"]) if last is not None else ""


def with_tags(tags: Iterable[str]) -> dict[str, Piece]:
    """The pieces that these tags hang on, or hung on last where they are off for a bath."""
    wanted = [tag for tag in tags if tag]
    found = {p.tag: p for p in Piece.objects.filter(tag__in=wanted).select_related("aircraft") if p.tag}
    off = Tagging.objects.filter(tag__in=[t for t in wanted if t not in found]).select_related("piece__aircraft")
    for each in off.order_by("pk"):
        found[each.tag] = each.piece
    return found


def given_out(tags: Iterable[str]) -> set[str]:
    """Those of these numbers that this shop printed."""
    return set(TagPrinted.objects.filter(tag__in=list(tags)).values_list("tag", flat=True))


def not_counted(pieces: Iterable[Piece]) -> set[int]:
    """Those of these pieces that a picture began and nobody counted yet."""
    ids = [piece.pk for piece in pieces]
    return set(NotCounted.objects.filter(piece__in=ids, counted_act=None).values_list("piece", flat=True))


def taken_in(pieces: Iterable[Piece]) -> dict[int, int]:
    """How many loose ones the record holds of each bag that was ever taken in.

    A bag that never was is not named, nor one of which all was taken out again as if it had never come.
    """
    ids = [piece.pk for piece in pieces]
    ever = set(Move.objects.filter(to_piece__in=ids).values_list("to_piece", flat=True))
    came, went = (_by_piece(ids, side) for side in ("from", "to"))
    ever -= {pk for pk, count in came.items() if went.get(pk) == count}
    loose = dict(
        Holding.objects.filter(piece__in=ids, count__gt=0)
        .exclude(holder__kind__in=AWAY)
        .values_list("piece_id")
        .annotate(n=Sum("count"))
        .order_by()
    )
    return {pk: loose.get(pk, 0) for pk in ever}


def _by_piece(ids: Sequence[int], side: str) -> dict[int, int]:
    """How many of each piece came from outside the record (side "from"), or went back there ("to")."""
    rows = Move.objects.filter(**{f"{side}_holder__kind": HolderKind.ORIGIN, f"{side}_piece__in": ids})
    return dict(rows.values_list(f"{side}_piece").annotate(n=Sum("count")).order_by())


def bags_for_boxes(aircraft: Aircraft | None, words: str = "") -> list[tuple[Piece, str]]:
    """Bags that may go into boxes, the newest first, each with where it came from."""
    found = Piece.objects.filter(kind=PieceKind.BAG, aircraft=aircraft).exclude(tag=None).order_by("-pk")
    for word in words.casefold().split():
        found = found.filter(Q(words__contains=word) | Q(tag__icontains=word))
    bags = list(found[:MOST_BAGS])
    return [(bag, where) for bag, where in zip(bags, came_from(bags), strict=True)]


def came_from(bags: Sequence[Piece]) -> list[str]:
    """Say in a few words where the pieces of each bag were on the aircraft, as far as it is known."""
    rows = Belongs.objects.filter(piece__in=[b.pk for b in bags]).select_related("place").order_by("id")
    marks: dict[int, list[str]] = {}
    for row in rows:
        marks.setdefault(row.piece_id, []).append(f"{row.place.mark} {row.place.side}".removesuffix(" C"))
    told = []
    for bag in bags:
        at = list(dict.fromkeys(marks.get(bag.pk, [])))
        told.append(
            ", ".join(at[:3]) + (f" and {len(at) - 3} more" if len(at) > 3 else "") if at else bag.as_found[:60]
        )
    return told


def box_rows(reading: Answer) -> list[BoxRow]:
    """Every box of a reading held against the record; the number of queries does not grow with the boxes."""
    boxes: Sequence[Mapping[str, Any]] = reading.result.get("boxes", [])
    if not boxes:
        return []
    tags = {tag for b in boxes for tag in (b["tag"], *b["seen"])}
    pieces = with_tags(tags)
    ours = given_out(tags)
    bare = not_counted(pieces.values())
    held = taken_in(pieces.values())
    mat = PrintedMat.objects.filter(pk=reading.result.get("serial") or "-").first()
    bound = bound_boxes(mat) if mat is not None else {}
    in_bag = {number: tag for tag, numbers in filed_pieces(reading) for number in numbers}
    bags = held_things(p for p in pieces.values() if p.kind == PieceKind.BAG and p.pk not in bare)
    rows = [_row(b, pieces, ours, bare, held, bound, in_bag) for b in boxes]
    return [_remarked(reading, row, bags) for row in rows]


def _remarked(reading: Answer, row: BoxRow, bags: Mapping[int, Things]) -> BoxRow:
    """A box that shows another thing than its bag holds waits for a word."""
    things = bags.get(row.piece.pk) if row.piece is not None else None
    if things is None or row.in_bag or not row.pieces:
        return row
    remark = another_thing(row.tag, things, shown_things(reading, row.pieces))
    return replace(row, remark=remark, ready=row.ready and not remark)


def _row(
    b: Mapping[str, Any],
    pieces: Mapping[str, Piece],
    ours: set[str],
    bare: set[int],
    held: Mapping[int, int],
    bound: Mapping[str, MatBox],
    in_bag: Mapping[int, str],
) -> BoxRow:
    tag, state, said = b["tag"], b["state"], b["sentence"]
    piece = pieces.get(tag)
    word = bound.get(b["box"])
    if state in ("one bag", "empty") and tag:
        if piece is None and tag not in ours and tag != b["bound"]:
            state, said = (
                "unknown tag",
                f"Box {b['box']} has tag {tag}, which is on nothing here and was not printed here. Say whose it is.",
            )
        elif piece is not None and piece.kind == PieceKind.PART and piece.pk not in bare:
            state, said = (
                "a part's tag",
                f"Box {b['box']} has tag {tag}, which is on a part: {piece.name}. Say whose it is.",
            )
    inside = tuple(b["pieces"])
    filed = sorted({in_bag[n] for n in inside if n in in_bag})
    ever = piece is not None and piece.kind == PieceKind.BAG and piece.pk in held and piece.pk not in bare
    return BoxRow(
        b["box"], tag, state, said, inside, b["piles"], piece, held.get(piece.pk) if ever and piece else None,
        word.came_from if word is not None and word.tag == tag else "", ", ".join(filed),
        ready=state == "one bag" and not b["piles"] and not b["over"] and not filed and bool(inside),
    )  # fmt: skip
