"""The mat: a sheet is printed and measured with a ruler, a picture is read in the background, its groups become bags."""

import uuid
from collections.abc import Mapping, Sequence
from datetime import datetime
from statistics import median
from typing import Any

from django.db import transaction
from django.utils import timezone

from witnessmark.records.actions.answers import keep_answer, rely_on
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
from witnessmark.records.actions.mat_boxes import print_in
from witnessmark.records.actions.readings import read_pieces
from witnessmark.records.actions.saying import NotAllowed, Refused, Result, move, say
from witnessmark.records.lookups.mat_boxes import bound_before, filed_pieces
from witnessmark.records.lookups.mat_kinds import held_things, not_what_lies_there, shown_things
from witnessmark.records.models import (
    Act,
    Aircraft,
    Answer,
    HolderKind,
    Move,
    Person,
    PhotoUse,
    Piece,
    PieceKind,
    PrintedMat,
    Work,
)
from witnessmark.records.photo_store import keep_bytes, original_path
from witnessmark.records.tag_reading import tag_namer
from witnessmark.records.work import Leased, enqueue, handles

READING = "mat reading"
MOST_OFF = 0.05  # a printer that stretches more is set to another paper


def print_mat(
    *, by: Person, act_id: uuid.UUID, serial: str, kind: str, tags: Sequence[str] = (), new: int = 0
) -> Result:
    """Write down that a sheet was printed, so that its ruler lengths have a place.

    Into its boxes go the tags of these bags, then so many numbers that are on nothing yet.
    """
    chosen = [tag.strip() for tag in tags if tag.strip()]

    def do(act: Act) -> Result:
        mat = PrintedMat.objects.create(serial=serial, kind=kind, act=act)
        return {"serial": serial, "boxes": print_in(act, mat, chosen, new) if chosen or new else {}}

    said: dict[str, Any] = {"serial": serial, "kind": kind}
    if chosen or new:
        said |= {"tags": chosen, "new": new}
    return say("print_mat", by=by, act_id=act_id, said=said, do=do)


def measure_mat(*, by: Person, act_id: uuid.UUID, serial: str, check_a_mm: float, check_b_mm: float) -> Result:
    """Keep the two lengths that a ruler read on a printed sheet; a later measuring replaces them."""
    from witnessmark.calc.mat.sheet import read_code

    mat = PrintedMat.objects.filter(pk=serial).first()
    if mat is None:
        raise Refused(
            f"No mat {serial} was printed here. Nothing was changed. Read its number at its upper left corner."
        )
    known = read_code(f"WMAT:{mat.kind}:{serial}")
    assert known is not None
    for typed, drawn, letter in zip((check_a_mm, check_b_mm), known[0].check_mm, "AB", strict=True):
        if not abs(typed / drawn - 1) <= MOST_OFF:
            raise Refused(
                f"Length {letter} is drawn {drawn:.0f} mm; {typed:g} mm is more than 5 % off. Nothing was changed. "
                "Measure it again, or print the mat at 100 %."
            )

    def do(act: Act) -> Result:
        PrintedMat.objects.filter(pk=serial).update(check_a_mm=check_a_mm, check_b_mm=check_b_mm, measured_act=act)
        return {"serial": serial}

    said = {"serial": serial, "check_a_mm": check_a_mm, "check_b_mm": check_b_mm}
    return say("measure_mat", by=by, act_id=act_id, said=said, do=do)


def ask_for_reading(*, by: Person, act_id: uuid.UUID, data: bytes, name: str) -> Result:
    """Keep a picture of a mat for ever, and have it read in the background."""
    if not by.may_write:
        raise NotAllowed(f"{by.name} may look, not add. Nothing was changed.")
    photo = keep_bytes(data, name)

    def do(act: Act) -> Result:
        enqueue("read_mat", photo.sha256, {"photo": photo.sha256})
        return {"photo": photo.sha256}

    return say("read_mat_picture", by=by, act_id=act_id, said={"photo": photo.sha256}, do=do)


def read_again(*, by: Person, act_id: uuid.UUID, sha256: str) -> Result:
    """Have a picture read again, after its mat was measured; the reading before stays."""

    def do(act: Act) -> Result:
        enqueue("read_mat", sha256, {"photo": sha256})
        return {"photo": sha256}

    return say("read_mat_picture", by=by, act_id=act_id, said={"photo": sha256}, do=do)


def checks() -> dict[str, tuple[float, float]]:
    """Every measured mat's two lengths."""
    rows = PrintedMat.objects.exclude(check_a_mm=0).values_list("serial", "check_a_mm", "check_b_mm")
    return {serial: (a, b) for serial, a, b in rows}


@handles("read_mat")
def _read(work: Leased) -> None:
    """Read a picture and keep the answer; a picture that cannot be measured keeps the reason as its answer."""
    from witnessmark.calc.mat.reading import read_mat
    from witnessmark.calc.mat.rectify import NotReadable

    sha256 = str(work.args["photo"])
    measured, bound = checks(), bound_before(_came_at(sha256))
    try:
        found = read_mat(original_path(sha256).read_bytes(), measured, work.progress, bound, tag_namer())
    except NotReadable as why:
        keep_answer(READING, sha256, inputs={"photo": sha256, "checks": measured}, result={"refused": str(why)})
        return
    told = found.to_dict()
    inputs = _inputs(sha256, found.serial, measured) | {"boxes": bound.get(found.serial, {})}
    keep_answer(READING, sha256, inputs=inputs, result=told, working=told.pop("working"))


def _came_at(sha256: str) -> datetime:
    """When the picture came in: what was bound to a box later does not speak for it."""
    first = Act.objects.filter(verb="read_mat_picture", said__photo=sha256).order_by("recorded_at").first()
    return first.recorded_at if first is not None else timezone.now()


def _inputs(sha256: str, serial: str, measured: Mapping[str, tuple[float, float]]) -> dict[str, Any]:
    """What a reading hangs on: the picture, and its own mat's two lengths; those of other mats do not matter."""
    return {"photo": sha256, "check": list(measured[serial]) if serial in measured else None}


def reading_of(sha256: str) -> Answer | None:
    """The newest reading of a picture."""
    return Answer.objects.filter(kind=READING, subject=sha256).order_by("-pk").first()


def work_of(sha256: str) -> Work | None:
    """The work that reads a picture, the newest."""
    return Work.objects.filter(kind="read_mat", key=sha256).order_by("-pk").first()


def same_inputs(answer: Answer) -> bool:
    """Whether the lengths it was read with are those that are known now."""
    now = _inputs(answer.subject, answer.result.get("serial", ""), checks())
    return bool(answer.inputs.get("check") == now["check"])


def file_group(
    *,
    by: Person,
    act_id: uuid.UUID,
    reading: Answer,
    pieces: Sequence[int],
    name: str,
    tag: str,
    shelf: str,
    aircraft: Aircraft | None,
    count: int | None = None,
    evidence: str = "",
    mixed: bool = False,
) -> Result:
    """Make a bag of a corrected group: its count, its picture, its tag; or add its picture and count to a bag that is there.

    Pieces already filed from this reading are refused: a piece lies in one bag. So is another thing than the bag holds,
    until somebody says that the bag is `mixed`.
    """
    known: Mapping[int, Any] = {p["number"]: p for p in reading.result.get("pieces", [])}
    chosen = sorted(set(pieces))
    if not chosen or any(number not in known for number in chosen):
        raise Refused("This reading has no such pieces. Nothing was changed. Open it again and choose.")
    number = len(chosen) if count is None else count
    if not 1 <= number <= 9999:
        raise Refused(f"A bag holds 1 to 9,999 pieces, not {number}. Nothing was changed. Count again.")
    name, tag, shelf = name.strip()[:200], tag.strip()[:40], shelf.strip()[:200]
    if not (name and tag and shelf):
        raise Refused("A bag needs a name, a tag and where it lies. Nothing was changed. Fill all three.")

    def do(act: Act) -> Result:
        before = {n for said in _filed(reading) for n in said}
        twice = sorted(before & set(chosen))
        if twice:
            raise Refused(
                f"Piece {', '.join(map(str, twice))} of this picture is in a bag already. Nothing was changed. Open it again."
            )
        bag = Piece.objects.filter(tag=tag).first()
        if bag is not None and (bag.kind != PieceKind.BAG or bag.aircraft != aircraft):
            raise Refused(f"Tag {tag} is on something else: {bag.name}. Nothing was changed. Take another tag.")
        made, was = bag is None, bag.name if bag is not None else ""
        if bag is None:
            bag = new_bag(act, tag, name, number, aircraft, evidence)
        elif emptied(bag):
            begin_again(bag, name, number, evidence)
        elif mixed:
            goes_mixed(bag, f"{number} {name}")
        else:
            refuse_another(bag, shown_things(reading, chosen, name))
        to = holder(HolderKind.SHELF, shelf)
        origin = single(HolderKind.ORIGIN)
        move(act, [Move(from_piece=bag, from_holder=origin, to_piece=bag, to_holder=to, count=number)])
        PhotoUse.objects.create(
            photo_id=reading.subject, piece=bag, what=f"{number} {name}, read on the mat"[:300], act=act
        )
        if not held_things([bag])[bag.pk].mixed:
            figures_in(act, bag, reading, chosen)
        rely_on(act, reading)
        return {"piece": bag.pk, "tag": tag, "count": number, "new": made, **was_called(was, bag)}

    said = {
        "reading": reading.pk, "pieces": chosen, "name": name, "tag": tag, "shelf": shelf, "count": number,
        "evidence": evidence, **({"mixed": True} if mixed else {}),
    }  # fmt: skip
    return say("file_from_mat", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft)


def give_to_return(*, by: Person, act_id: uuid.UUID, reading: Answer, tag: str, anyway: str = "") -> Result:
    """Write every piece's figures down on a bag or bucket, as readings of its items: the matching of a return reads them.

    The figures are those of the picture, each feature with the usual uncertainty of its pieces. What disagrees with what
    lies in the bag or bucket, in kind or count, is refused until somebody says why it is right (`anyway`).
    """
    bucket = Piece.objects.filter(tag=tag.strip()).exclude(kind=PieceKind.PART).select_related("size").first()
    if bucket is None:
        raise Refused(f"No bag or bucket has the tag {tag.strip()[:40]}. Nothing was changed. Read its tag again.")
    told: Mapping[str, Mapping[str, tuple[float, float]]] = reading.result.get("returned", {})
    if not told:
        raise Refused("No piece on this picture was measured. Nothing was changed. Lay them apart and take it again.")
    sigmas: dict[str, list[float]] = {}
    for figures in told.values():
        for what, (_value, sigma) in figures.items():
            sigmas.setdefault(what, []).append(sigma)
    # The picture's own mark stands before the number, so that a second picture's pieces are others.
    mark = reading.subject[:6]
    readings = {
        f"{mark}-{number}": {what: f"{value:.3f}" for what, (value, _sigma) in figures.items()}
        for number, figures in told.items()
    }
    reason = " ".join(anyway.split())[:200]
    with transaction.atomic():
        Piece.objects.select_for_update(of=("self",)).get(pk=bucket.pk)
        disagrees = not_what_lies_there(bucket, shown_things(reading, [int(n) for n in told]), list(readings))
        if disagrees and not reason:
            raise Refused(f"{disagrees} Nothing was changed. Read the tag again, or say why it is right all the same.")
        return read_pieces(
            by=by,
            act_id=act_id,
            piece=bucket,
            readings=readings,
            uncertainty={what: round(median(each), 4) for what, each in sigmas.items()},
            of={"mat": reading.pk, **({"anyway": reason} if disagrees else {})},
        )


def _filed(reading: Answer) -> list[list[int]]:
    return [pieces for _tag, pieces in filed_pieces(reading)]


def filed(reading: Answer) -> dict[int, str]:
    """Which pieces of a reading are in a bag, and its tag."""
    return {number: tag for tag, pieces in filed_pieces(reading) for number in pieces}
