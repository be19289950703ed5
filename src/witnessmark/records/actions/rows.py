"""Rows of holes: somebody looked at one, somebody filled holes of one."""

import re
import uuid
from collections.abc import Sequence
from datetime import datetime

from django.db.models import Max

from witnessmark.records.actions.row_size import refuse_unsettled
from witnessmark.records.actions.saying import Refused, Result, say
from witnessmark.records.models import Act, Hole, HoleFilled, HoleState, LookedAt, Person, Row


def parse_holes(text: str, most: int) -> list[int]:
    """Read hole numbers as people write them: `1-42, 45`.

    Raises Refused where a word is no number, a range runs backwards or a hole is not of the row.
    """
    numbers: set[int] = set()
    for part in re.split(r"[,;]", text):
        plain = part.strip()
        if not plain:
            continue
        match = re.fullmatch(r"([0-9]{1,5})(?:\s*(?:-|–|to)\s*([0-9]{1,5}))?", plain)
        if match is None:
            raise Refused(f"'{plain}' is no hole. Nothing was changed. Write holes like 1-42, 45.")
        first, last = int(match[1]), int(match[2] or match[1])
        if not 1 <= first <= last <= most:
            raise Refused(f"'{plain}': the row has holes 1 to {most}. Nothing was changed.")
        numbers.update(range(first, last + 1))
    if not numbers:
        raise Refused("No hole was named. Nothing was changed. Write holes like 1-42, 45.")
    return sorted(numbers)


def look_at_row(
    *,
    by: Person,
    act_id: uuid.UUID,
    row: Row,
    looked_at: str = LookedAt.YES,
    note: str = "",
    happened_at: datetime | None = None,
) -> Result:
    """Say that a row was looked at, or why it could not be."""
    if looked_at not in LookedAt.values or looked_at == LookedAt.DISPUTED:
        raise Refused(f"'{looked_at}' says nothing about a row. Nothing was changed.")

    def do(_act: Act) -> Result:
        if looked_at == LookedAt.YES:
            refuse_unsettled(row)
        row.looked_at = looked_at
        if note:
            row.note = f"{row.note} {note}".strip()
        row.save(update_fields=["looked_at", "note"])
        return {"row": row.pk, "looked_at": looked_at}

    said = {"row": row.pk, "looked_at": looked_at, "note": note}
    return say(
        "look_at_row",
        by=by,
        act_id=act_id,
        said=said,
        do=do,
        aircraft=row.place.aircraft,
        happened_at=happened_at,
    )


def fill_holes(
    *,
    by: Person,
    act_id: uuid.UUID,
    row: Row,
    holes: str,
    state: str,
    reason: str = "",
    happened_at: datetime | None = None,
) -> Result:
    """Say what stands in these holes of a row from now on; the newest word about a hole counts."""
    if state not in HoleState.values:
        raise Refused(f"'{state}' is nothing that stands in a hole. Nothing was changed.")
    if state == HoleState.OPEN and not reason.strip():
        raise Refused("A hole that stays open waits for something. Nothing was changed. Say for what.")
    numbers = parse_holes(holes, row.place.capacity)

    def do(act: Act) -> Result:
        return {"row": row.pk, "holes": fill_holes_in(act, row, numbers, state, reason.strip()), "state": state}

    said = {"row": row.pk, "holes": numbers, "state": state, "reason": reason.strip()}
    return say(
        "fill_holes",
        by=by,
        act_id=act_id,
        said=said,
        do=do,
        aircraft=row.place.aircraft,
        happened_at=happened_at,
    )


def take_back_filling(*, by: Person, act_id: uuid.UUID, row: Row, filling: Act) -> Result:
    """Take back what one act said of this row's holes: each is again what it was before; both acts stay to be read."""

    def do(act: Act) -> Result:
        said = list(HoleFilled.objects.filter(act=filling, hole__place_id=row.pk).select_related("hole"))
        if not said:
            raise Refused("That act said nothing of this row's holes. Nothing was changed.")
        before: dict[int, HoleFilled] = {}
        for word in HoleFilled.objects.filter(hole_id__in=[f.hole_id for f in said]).order_by("id"):
            if word.pk > max(f.pk for f in said):
                raise Refused(
                    "Somebody has spoken of these holes since. Nothing was changed. Say what stands in them now."
                )
            if word.act_id != filling.pk:
                before[word.hole_id] = word
        unspoken = [f.hole.number for f in said if f.hole_id not in before]
        if unspoken:
            raise Refused(
                f"Nobody had spoken of hole {unspoken[0]} before. Nothing was changed. Say what stands in it now."
            )
        HoleFilled.objects.bulk_create(
            [
                HoleFilled(hole=f.hole, state=before[f.hole_id].state, reason=before[f.hole_id].reason, act=act)
                for f in said
            ]
        )
        return {"row": row.pk, "holes": sorted(f.hole.number for f in said)}

    return say(
        "undo",
        by=by,
        act_id=act_id,
        said={"row": row.pk, "filling": str(filling.pk)},
        do=do,
        aircraft=row.place.aircraft,
        undoes=filling,
    )


def last_filling(row: Row) -> Act | None:
    """The newest act that filled holes of this row, unless it or a later word took it back or it was loaded."""
    newest = HoleFilled.objects.filter(hole__place_id=row.pk).select_related("act__person").order_by("-id").first()
    return newest.act if newest is not None and newest.act.verb == "fill_holes" else None


def fill_holes_in(act: Act, row: Row, numbers: Sequence[int] | None, state: str, reason: str) -> int:
    """Write down, inside an act, what stands in these holes; without numbers, in all that wait for a rivet."""
    if numbers is None:
        newest = HoleFilled.objects.filter(hole__place_id=row.pk).values("hole").annotate(last=Max("id"))
        numbers = list(
            HoleFilled.objects.filter(pk__in=newest.values("last"), state__in=(HoleState.EMPTY, HoleState.TEMPORARY))
            .values_list("hole__number", flat=True)
            .order_by("hole__number")
        )
    known = set(Hole.objects.filter(place_id=row.pk, number__in=numbers).values_list("number", flat=True))
    Hole.objects.bulk_create([Hole(place_id=row.pk, number=n) for n in numbers if n not in known])
    holes = Hole.objects.filter(place_id=row.pk, number__in=numbers)
    HoleFilled.objects.bulk_create(
        [HoleFilled(hole=hole, state=state, reason=reason, act=act) for hole in holes], batch_size=500
    )
    return len(numbers)


def newest_states(row: Row) -> list[tuple[str, str, list[int]]]:
    """What stands in the holes that wait for a rivet: state, reason and hole numbers, so that it can be put back."""
    newest = HoleFilled.objects.filter(hole__place_id=row.pk).values("hole").annotate(last=Max("id"))
    found: dict[tuple[str, str], list[int]] = {}
    for state, reason, number in (
        HoleFilled.objects.filter(pk__in=newest.values("last"), state__in=(HoleState.EMPTY, HoleState.TEMPORARY))
        .order_by("hole__number")
        .values_list("state", "reason", "hole__number")
    ):
        found.setdefault((state, reason), []).append(number)
    return [(state, reason, numbers) for (state, reason), numbers in found.items()]
