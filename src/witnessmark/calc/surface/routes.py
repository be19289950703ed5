"""A part's route: steps of a template with their cautions and the rules that they break."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.calc.surface.order_rules import CHECKED, RuleBreach, check_route
from witnessmark.calc.surface.processes import Caution, cautions_for, processes_of
from witnessmark.calc.working import Answer, working


@dataclass(frozen=True)
class TemplateStep:
    """One step of a route template."""

    step: int
    name: str
    who: str = ""


@dataclass(frozen=True)
class PlannedStep:
    """One step of a part's route with its cautions."""

    step: int
    name: str
    who: str
    processes: tuple[str, ...]
    hazards: tuple[Caution, ...]


@dataclass(frozen=True)
class RoutePlan(Answer):
    """Steps, broken rules and cautions of a part's route."""

    steps: tuple[PlannedStep, ...]
    breaches: tuple[RuleBreach, ...]
    hazards: tuple[Caution, ...]

    @property
    def stopped(self) -> bool:
        """True where a hard rule is broken."""
        return any(breach.hard for breach in self.breaches)


def route_from_template(
    template_steps: Sequence[TemplateStep], material: str, strength_mpa: float | None, finish: str
) -> RoutePlan:
    """Make a part's route from a template.

    Parameters
    ----------
    template_steps : sequence of TemplateStep
        Steps of the template, in any order. [-]
    material : str
        Material as written. [-]
    strength_mpa : float or None
        Tensile strength; None where it is not known. [MPa]
    finish : str
        Finish as found. [-]

    Returns
    -------
    RoutePlan
        Steps by number with cautions; breaches name the template's step numbers.

    Raises
    ------
    ValueError
        No steps, a step number twice or below 1, a step without a name, a strength that is not above zero.

    Examples
    --------
    >>> steps = [TemplateStep(1, "clean"), TemplateStep(2, "cadmium plate", "QB"), TemplateStep(3, "put back")]
    >>> plan = route_from_template(steps, "steel", 1300, "")
    >>> plan.stopped, [b.rule for b in plan.breaches]
    (True, ['R07'])

    References
    ----------
    order-rules
    shop-hazards
    """
    ordered = sorted(template_steps, key=lambda s: s.step)
    numbers = [s.step for s in ordered]
    if not ordered or numbers[0] < 1 or len(set(numbers)) != len(numbers):
        raise ValueError("a route needs steps, each with its own number from 1")
    if any(not s.name.strip() for s in ordered):
        raise ValueError("a step needs a name")
    steps = tuple(
        PlannedStep(s.step, s.name, s.who, processes_of(s.name), cautions_for(s.name, material, finish, strength_mpa))
        for s in ordered
    )
    breaches = tuple(
        RuleBreach(b.rule, b.hard, b.sentence, tuple(numbers[i - 1] for i in b.steps), b.source, b.status)
        for b in check_route([s.name for s in ordered], material, strength_mpa)
    )
    hazards = tuple(dict.fromkeys(caution for step in steps for caution in step.hazards))
    unread = [s.name for s in steps if not s.processes]
    cautions = [f"{caution.text} Hand over to: {caution.hand_over}." for caution in hazards]
    if unread:
        cautions.append(f"Not read as a process, so not checked: {'; '.join(unread)}.")
    sources = tuple(dict.fromkeys(("order-rules", *(caution.source for caution in hazards))))
    return RoutePlan(
        working=working(
            f"rules {', '.join(CHECKED)} by the words of the step names",
            [(f"step {s.step}, {s.name}", ", ".join(s.processes) or "not read", "-", "step name") for s in steps],
            sources,
            tuple(cautions),
            "Order only; hours between steps are not checked here.",
        ),
        steps=steps,
        breaches=breaches,
        hazards=hazards,
    )
