"""A person corrects the groups of a picture of the mat: split, merge, move, rename. The reading stays as it was."""

import uuid
from collections.abc import Sequence

from witnessmark.records.actions.saying import Refused, Result, say
from witnessmark.records.lookups.mat_boxes import filed_pieces
from witnessmark.records.lookups.mat_groups import OWN, groups_of
from witnessmark.records.models import Act, Answer, Person


def regroup(
    *, by: Person, act_id: uuid.UUID, reading: Answer, pieces: Sequence[int] = (), to: str, name: str = ""
) -> Result:
    """Put these pieces to another group (its number), or make them a group of their own; or, with a name, rename that group."""
    number = int(to) if to.isascii() and to.isdigit() else None
    name, chosen = " ".join(name.split())[:200], sorted(set(pieces))

    def do(act: Act) -> Result:
        groups = groups_of(reading, act)
        if to != OWN and number not in {g["number"] for g in groups}:
            raise Refused("This picture has no such group. Nothing was changed. Open it again and choose.")
        if name and to == OWN:
            raise Refused("A group that is not there yet has no name. Nothing was changed. Part it first.")
        if not name:
            _refuse_pieces(reading, groups, chosen, number)
        return {"reading": reading.pk, "to": number or OWN, "pieces": chosen}

    said = {"reading": reading.pk, "to": number or OWN, "pieces": [] if name else chosen, "name": name}
    return say("regroup_mat", by=by, act_id=act_id, said=said, do=do)


def take_back_regrouping(*, by: Person, act_id: uuid.UUID, reading: Answer) -> Result:
    """Take the newest correction back; both acts stay to be read."""
    last = (
        Act.objects.filter(verb="regroup_mat", said__reading=reading.pk, undone_by=None)
        .order_by("-recorded_at")
        .first()
    )
    if last is None:
        raise Refused("No correction of this picture stands. Nothing was changed.")
    said = {"reading": reading.pk, "correction": str(last.pk)}
    return say("undo", by=by, act_id=act_id, said=said, do=lambda _act: said, undoes=last)


def _refuse_pieces(reading: Answer, groups: Sequence[Result], chosen: Sequence[int], number: int | None) -> None:
    where = {n: g for g in groups for n in g["pieces"]}
    if not chosen or any(n not in where for n in chosen):
        raise Refused("This picture has no such pieces. Nothing was changed. Tick those that you mean.")
    if any(where[n]["for_person"] for n in chosen) or (number is not None and _pile(groups, number)):
        raise Refused("A spot of touching pieces is counted by hand, not moved. Nothing was changed.")
    if {n for _tag, numbers in filed_pieces(reading) for n in numbers} & set(chosen):
        raise Refused("One of these pieces is in a bag already. Nothing was changed.")
    whole = number is None and any(set(g["pieces"]) == set(chosen) for g in groups)
    same = number is not None and all(where[n]["number"] == number for n in chosen)
    if whole or same:
        raise Refused("They are a group like that already. Nothing was changed. Untick those that stay.")


def _pile(groups: Sequence[Result], number: int) -> bool:
    return any(g["number"] == number and g["for_person"] for g in groups)
