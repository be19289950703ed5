"""The order of processes: every rule of `order_rules.csv`, by the names of a route's steps, facts and times."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from witnessmark.calc.sources import Status
from witnessmark.calc.surface.order_finishing import finishing_breaches
from witnessmark.calc.surface.order_plating import plating_breaches
from witnessmark.calc.surface.order_testing import testing_breaches
from witnessmark.calc.surface.order_windows import window_breaches
from witnessmark.calc.surface.route_line import RouteFacts, RouteLine, StepTime
from witnessmark.calc.tables import load_table

CHECKED = tuple(f"R{number:02d}" for number in range(1, 39))


@dataclass(frozen=True)
class RuleBreach:
    """A rule that the order of a route breaks: a hard one stops it, a soft one needs a signed reason."""

    rule: str
    hard: bool
    sentence: str
    steps: tuple[int, ...]
    source: str
    status: Status


def check_route(
    steps: Sequence[str],
    material: str,
    strength_mpa: float | None = None,
    facts: RouteFacts | None = None,
    times: Mapping[int, StepTime] | None = None,
) -> tuple[RuleBreach, ...]:
    """Check the order of a route's steps by every rule of `order_rules.csv`.

    Parameters
    ----------
    steps : sequence of str
        Step names in order. [-]
    material : str
        Material as written. [-]
    strength_mpa : float or None
        Tensile strength; None where it is not known. [MPa]
    facts : RouteFacts or None
        What the record knows of the part. [-]
    times : mapping of int to StepTime, or None
        When steps began and ended, by step number. [h]

    Returns
    -------
    tuple of RuleBreach
        By rule number, then by step; steps are counted from 1.

    Raises
    ------
    ValueError
        A strength that is not above zero.

    Notes
    -----
    A hard rule shows as soft where names leave a doubt: a strength that nobody measured, a method that no step names.
    A time that is not written down breaks no rule here; `clocks` asks for it. No breach means that none was seen.

    Examples
    --------
    >>> [b.rule for b in check_route(["crack test (magnetic particle)", "demagnetise", "plate"], "steel", 1300)]
    ['R07']

    References
    ----------
    order-rules
    route-practice
    """
    if strength_mpa is not None and not strength_mpa > 0:
        raise ValueError(f"a strength must be above zero, not {strength_mpa}")
    route = RouteLine(steps, material, strength_mpa, facts or RouteFacts(), times or {})
    found = (
        *plating_breaches(route),
        *testing_breaches(route),
        *finishing_breaches(route),
        *window_breaches(route),
    )
    breaches = []
    for rule, hard, sentence, numbers in dict.fromkeys(found):
        row = load_table("order_rules").find("rule_id", rule)
        printed = row["source"] + (f" ({row['interval']})" if row["interval"] else "")
        status: Status = row["status"]  # type: ignore[assignment]  # load_table refuses other words
        breaches.append(RuleBreach(rule, hard, sentence, numbers, printed, status))
    return tuple(sorted(breaches, key=lambda b: (b.rule, b.steps)))
