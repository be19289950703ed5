"""One act for a whole rack: one picture, the tags read from it, and the exceptions named."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from witnessmark.calc.surface.clocks import may_coat_now
from witnessmark.calc.surface.processes import processes_of
from witnessmark.records.actions.condition import finish_step_in
from witnessmark.records.actions.saying import NotAllowed, Refused, Result, say
from witnessmark.records.lookups.day import now
from witnessmark.records.lookups.route_gate import Standing, standings_of, why_not
from witnessmark.records.lookups.routes import RouteSeen, route_seen
from witnessmark.records.models import Act, Person, PhotoUse, Piece, Step
from witnessmark.records.photo_store import keep_bytes
from witnessmark.records.tag_reading import tags_in


@dataclass(frozen=True)
class _Looked:
    step: Step | None
    why_not: str


NO_ROUTE = _Looked(None, "it has no route")


def _look(seen: RouteSeen, process: str, standing: Sequence[Standing]) -> _Looked:
    """The step that the rack finishes, or why it may not."""
    steps = seen.steps
    mine = [step for step in steps if process in processes_of(step.name)]
    if not mine:
        return _Looked(None, f"its route has no step that says {process}")
    step = next((s for s in mine if s.done_act_id is None), None)
    if step is None:
        last = next((s.name for s in reversed(steps) if s.done_act_id is not None), mine[-1].name)
        return _Looked(None, f"its last step done is '{last}': nothing goes on under or over that unasked")
    if seen.here is not None and seen.here.pk != step.pk:
        return _Looked(None, f"'{seen.here.name}' comes before '{step.name}' and is not done")
    place = list(steps).index(step) + 1
    between = {name for s in steps[: place - 1] for name in processes_of(s.name)}
    for clock in seen.clocks:
        if clock.to_step == place and clock.state not in ("not started", "done"):
            why = may_coat_now(clock.rule, clock.elapsed_h, "scuff" in between, "wipe" in between)
            signed = any(s.breach.rule == clock.rule and s.reason and step in s.steps for s in standing)
            if why and not signed:
                return _Looked(None, why)
    return _Looked(step, why_not(standing, step))


def finish_rack(
    *,
    by: Person,
    act_id: uuid.UUID,
    process: str,
    picture: bytes,
    picture_name: str,
    hanging: Sequence[str] = (),
    picked_out: Sequence[str] = (),
    happened_at: datetime | None = None,
) -> Result:
    """Finish one process for all pieces whose tags the picture shows, and name the others.

    `hanging` is what the rack should hold: a tag of it that cannot be read is named and stays undone. `picked_out` hangs
    there and was not done: it is left as it is. A piece whose route does not come to this process now is refused by name;
    the others are done.
    """
    if not by.may_write:
        raise NotAllowed(f"{by.name} may look, not add. Nothing was changed.")
    if process not in processes_of(process):
        raise Refused(f"'{process}' names no process. Nothing was changed. Write it like prime, paint or bake.")
    photo = keep_bytes(picture, picture_name)  # first: it refuses what is no picture or far too large
    read = tags_in(picture)
    if not read:
        raise Refused("No tag can be read in the picture. Nothing was changed. Take it closer, in better light.")

    def do(act: Act) -> Result:
        pieces = {piece.tag: piece for piece in Piece.objects.filter(tag__in=read).select_related("aircraft")}
        steps: dict[int, list[Step]] = {piece.pk: [] for piece in pieces.values()}
        for step in (
            Step.objects.filter(piece__in=pieces.values())
            .select_related("done_act", "piece__aircraft")
            .order_by("piece_id", "number")
        ):
            steps[step.piece_id].append(step)
        seen = {pk: route_seen(mine[0].piece, mine, act.happened_at) for pk, mine in steps.items() if mine}
        standings = standings_of(seen.values())
        done, refused = [], []
        out = [tag for tag in read if tag in set(picked_out)]
        for tag in read:
            if tag in out:
                continue
            piece = pieces.get(tag)
            if piece is None:
                refused.append({"tag": tag, "why": "no piece has that tag"})
                continue
            looked = _look(seen[piece.pk], process, standings[piece.pk]) if piece.pk in seen else NO_ROUTE
            if looked.step is None or looked.why_not:
                refused.append({"tag": tag, "why": looked.why_not})
                continue
            try:
                finish_step_in(act, looked.step)
            except Refused as why:
                refused.append({"tag": tag, "why": str(why)})
                continue
            PhotoUse.objects.create(photo=photo, piece=piece, what=f"rack: {process}", act=act)
            done.append(tag)
        if not done:
            whys = "; ".join(f"{each['tag']}: {each['why']}" for each in refused[:5])
            none = f"Every tag that can be read was picked out: {', '.join(out)}" if out and not refused else whys
            raise Refused(f"No piece of this rack comes to that step now. Nothing was changed. {none}.")
        return {
            "process": process,
            "done": done,
            "unreadable": [tag for tag in dict.fromkeys((*hanging, *picked_out)) if tag not in read],
            **({"picked_out": out} if picked_out else {}),
            "refused": refused,
        }

    said: dict[str, object] = {
        "process": process,
        "photo": photo.sha256,
        "hanging": list(dict.fromkeys(hanging)),
        "read": list(read),
    }
    if picked_out:
        said["picked_out"] = list(dict.fromkeys(picked_out))
    aircraft = Piece.objects.filter(tag__in=read).select_related("aircraft").first()
    return say(
        "finish_rack",
        by=by,
        act_id=act_id,
        said=said,
        do=do,
        aircraft=aircraft.aircraft if aircraft else None,
        happened_at=happened_at or now(aircraft.aircraft if aircraft else None),
    )
