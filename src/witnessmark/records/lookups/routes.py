"""A piece's route as the rules see it: its steps with their times, the clocks that run, the rules it breaks."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from witnessmark.calc.surface.clocks import Clock, clocks
from witnessmark.calc.surface.order_rules import RuleBreach, check_route
from witnessmark.calc.surface.oven_caps import OvenCap, coats_on, oven_cap
from witnessmark.calc.surface.processes import Caution, cautions_for
from witnessmark.calc.surface.proposal import tag_medium
from witnessmark.calc.surface.route_line import StepTime
from witnessmark.records.lookups.day import now
from witnessmark.records.models import Piece, Step

# A step that the lists brought in as done has no hour of its own.
UNTIMED = "load_lists"


@dataclass(frozen=True)
class RouteSeen:
    """What the route's page and the command say; `if_now` is what the next step would break if it were done now."""

    piece: Piece
    steps: tuple[Step, ...]
    breaches: tuple[RuleBreach, ...]
    clocks: tuple[Clock, ...]
    cautions: tuple[Caution, ...]
    medium: str
    tag_off: tuple[str, ...]
    if_now: tuple[RuleBreach, ...] = ()

    @property
    def stopped(self) -> tuple[RuleBreach, ...]:
        """The hard rules that it breaks."""
        return tuple(breach for breach in self.breaches if breach.hard)

    @property
    def here(self) -> Step | None:
        """The first step that is not done."""
        return next((step for step in self.steps if step.done_act_id is None), None)


def _hours(moment: datetime) -> float:
    return moment.timestamp() / 3600


def _times(steps: Sequence[Step]) -> dict[int, StepTime]:
    """When steps ended: an act says that one is done, and nobody says when it began."""
    found = {}
    for place, step in enumerate(steps, start=1):
        act = step.done_act
        if act is None:
            continue
        moment = ended_at(step)
        at = _hours(moment) if moment else None
        found[place] = StepTime(at, at)
    return found


def ended_at(step: Step) -> datetime | None:
    """When a done step ended: as its act says, or as was said afterwards where a list alone says that it is done."""
    act = step.done_act
    if act is None or step.ended_at is not None:
        return step.ended_at
    return None if act.verb == UNTIMED else act.happened_at


def _strength(piece: Piece) -> float | None:
    return piece.strength_mpa if piece.strength_mpa and piece.strength_mpa > 0 else None


def route_seen(piece: Piece, steps: Sequence[Step] | None = None, at: datetime | None = None) -> RouteSeen:
    """See one piece's route, now or at another moment; steps that were read already are not read again."""
    if steps is None:
        steps = list(Step.objects.filter(piece=piece).select_related("done_act").order_by("number"))
    names = [step.name for step in steps]
    material = f"{piece.material} {piece.name}".strip()
    times, moment = _times(steps), _hours(at or now(piece.aircraft))
    breaches = check_route(names, material, _strength(piece), times=times)
    place = next((n for n, step in enumerate(steps, start=1) if step.done_act_id is None), 0)
    then = check_route(names, material, _strength(piece), times=times | {place: StepTime(moment, moment)})
    medium, off = tag_medium(names)
    cautions = [caution for name in names for caution in cautions_for(name, material, piece.finish, _strength(piece))]
    return RouteSeen(
        piece=piece,
        steps=tuple(steps),
        breaches=breaches,
        clocks=clocks(names, material, times=times, now_h=moment),
        cautions=tuple(dict.fromkeys(cautions)),
        medium=medium,
        tag_off=tuple(names[number - 1] for number in off),
        if_now=tuple(breach for breach in then if breach not in breaches),
    )


def as_found(piece: Piece) -> str:
    """What it was coated with when it came: its finish, and what its material says (`steel, chromed tube`)."""
    return f"{piece.finish}; {piece.material}"


def oven_now(piece: Piece, steps: Sequence[Step]) -> OvenCap:
    """What it may see in an oven as it is now: its metal, and the coats that its done steps left on it."""
    done = [step.name for step in steps if step.done_act_id is not None]
    return oven_cap(piece.material, coats_on(as_found(piece), done))
