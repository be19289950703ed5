"""What stands between a piece and its next step: hard rules that its route breaks, soft ones that nobody has signed for."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from witnessmark.calc.surface.order_rules import RuleBreach
from witnessmark.records.lookups.routes import RouteSeen
from witnessmark.records.models import RouteReason, Step

Key = tuple[str, int, str]


@dataclass(frozen=True)
class Standing:
    """One broken rule with the steps it speaks of, whether it is behind the piece, and the reason that was signed."""

    breach: RuleBreach
    steps: tuple[Step, ...]
    reason: RouteReason | None

    @property
    def first(self) -> Step:
        return self.steps[0]

    @property
    def behind(self) -> bool:
        """All its steps are done: no order of steps can put it right."""
        return all(step.done_act_id is not None for step in self.steps)

    @property
    def may_be_signed(self) -> bool:
        """A soft rule, or a hard one that is behind the piece: of that an engineer or inspector says what follows."""
        return self.reason is None and (not self.breach.hard or self.behind)

    def holds(self, step: Step) -> bool:
        """Whether it keeps this step from being done, begun or sent out for."""
        if self.reason is not None:
            return False
        if self.breach.hard:
            return step.number >= self.first.number
        return any(each.pk == step.pk for each in self.steps)

    @property
    def sentence(self) -> str:
        """Say the rule and its document."""
        places = " and ".join(f"'{step.name}'" for step in self.steps)
        return f"{self.breach.sentence} Rule {self.breach.rule}, {self.breach.source}, at {places}."


def _key(rule: str, number: int, name: str) -> Key:
    return rule, number, name


def _reasons(pieces: Iterable[int]) -> dict[int, dict[Key, RouteReason]]:
    found: dict[int, dict[Key, RouteReason]] = {}
    for row in RouteReason.objects.filter(piece_id__in=list(pieces)).select_related("by", "act").order_by("id"):
        found.setdefault(row.piece_id, {})[_key(row.rule, row.step_number, row.step_name)] = row
    return found


def _standing(seen: RouteSeen, reasons: Mapping[Key, RouteReason]) -> tuple[Standing, ...]:
    found = []
    for breach in (*seen.breaches, *seen.if_now):
        steps = tuple(seen.steps[place - 1] for place in sorted(set(breach.steps)))
        found.append(Standing(breach, steps, reasons.get(_key(breach.rule, steps[0].number, steps[0].name))))
    return tuple(found)


def standing_of(seen: RouteSeen) -> tuple[Standing, ...]:
    """Every rule that one route breaks, with what was signed for it."""
    return _standing(seen, _reasons([seen.piece.pk]).get(seen.piece.pk, {}))


def standings_of(seen: Iterable[RouteSeen]) -> dict[int, tuple[Standing, ...]]:
    """The same of many routes that were seen already, in one query."""
    routes = {each.piece.pk: each for each in seen}
    reasons = _reasons(routes)
    return {pk: _standing(each, reasons.get(pk, {})) for pk, each in routes.items()}


def why_not(standing: Iterable[Standing], step: Step) -> str:
    """Say why a step may not be done, begun or sent out for; empty where it may. A hard rule is said first."""
    held = sorted((each for each in standing if each.holds(step)), key=lambda each: not each.breach.hard)
    if not held:
        return ""
    first = held[0]
    if first.breach.hard and not first.behind:
        return (
            f"Its route breaks a hard rule: {first.sentence} Nothing was changed. Wait where it is too early, else write "
            "its route anew on the route's page."
        )
    if first.breach.hard:
        return (
            f"A hard rule was broken by steps that are done: {first.sentence} Nothing was changed. The lead or an "
            "inspector signs on the route's page what the engineer said of it."
        )
    return f"{first.sentence} Nothing was changed. Sign a reason for it on the route's page, or change the route."


def time_missing(seen: RouteSeen, step: Step) -> Step | None:
    """The done step whose end nobody wrote down, though a window for this step runs from it; None where none is."""
    places = {each.number: place for place, each in enumerate(seen.steps, start=1)}
    clock = next((c for c in seen.clocks if c.to_step == places[step.number] and c.state == "asked"), None)
    return seen.steps[clock.from_step - 1] if clock else None
