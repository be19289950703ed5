"""Clocks of the shop's own work: how long bare steel, a conversion coat, a primer or a mixed pot may stand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from witnessmark.calc.sources import Status
from witnessmark.calc.surface.route_line import RouteFacts, RouteLine, StepTime
from witnessmark.calc.tables import load_table

State = Literal["not started", "asked", "too early", "open", "wipe or scuff", "scuff", "over", "done"]


@dataclass(frozen=True)
class Clock:
    """One window between two steps: it opens and closes so many hours after the first."""

    rule: str
    from_step: int
    to_step: int
    opens_h: float
    closes_h: float | None
    elapsed_h: float | None
    state: State
    sentence: str
    source: str
    status: Status


def window_state(rule: str, hours: float) -> State:
    """Return where a window stands after so many hours.

    Parameters
    ----------
    rule : str
        R19, R20, R21, R22 or R33. [-]
    hours : float
        Hours since the first step. [h]

    Returns
    -------
    str
        `too early`, `open`, `wipe or scuff`, `scuff` or `over`.

    Raises
    ------
    ValueError
        Another rule, or hours that are negative.

    Notes
    -----
    R21 is the window of one epoxy primer at 75 F: 5, 8 and 24 hours.

    Examples
    --------
    >>> [window_state("R21", hours) for hours in (4, 6, 10, 26)]
    ['too early', 'open', 'wipe or scuff', 'scuff']

    References
    ----------
    finish-manual-5-6-2e
    order-rules
    """
    if rule not in _WINDOWS or not hours >= 0:
        raise ValueError(f"no window is held for {rule} at {hours} h")
    opens, closes, _ = _WINDOWS[rule]
    if hours < opens - 1e-9:
        return "too early"
    if rule == "R21":
        return "open" if hours <= 8 else "wipe or scuff" if hours <= 24 else "scuff"
    return "over" if closes is not None and hours > closes + 1e-9 else "open"


_WINDOWS: dict[str, tuple[float, float | None, str]] = {
    "R19": (0.0, 1.0, "Bare steel gets its primer within an hour; after that it is sanded again."),
    "R20": (0.0, 48.0, "The next coat goes on within 48 hours."),
    "R21": (5.0, None, "Topcoat from 5 to 8 hours clean; to 24 hours wipe or scuff; after that scuff."),
    "R22": (0.5, 4.0, "The mixed pot stands 30 minutes and is used within 4 hours."),
    "R33": (6.0, None, "The next coat of primer goes on after 6 hours."),
}


def clocks(
    steps: Sequence[str],
    material: str,
    facts: RouteFacts | None = None,
    times: Mapping[int, StepTime] | None = None,
    now_h: float | None = None,
) -> tuple[Clock, ...]:
    """Return the clocks of a route, running or to come.

    Parameters
    ----------
    steps : sequence of str
        Step names in order. [-]
    material : str
        Material as written. [-]
    facts : RouteFacts or None
        What the record knows of the part. [-]
    times : mapping of int to StepTime, or None
        When steps began and ended, by step number; a step without a time that stands here is done. [h]
    now_h : float or None
        The present moment on the same scale; None where only the plan is asked for. [h]

    Returns
    -------
    tuple of Clock
        In the order of the steps; `asked` where the first step is done, or the second, and its time is missing.

    Notes
    -----
    Times between a vendor's bath and his oven are no clock of the shop: they are read off his certificate.

    Examples
    --------
    >>> found = clocks(["prime", "topcoat"], "dural", times={1: StepTime(8, 8)}, now_h=12)
    >>> found[0].rule, found[0].state
    ('R21', 'too early')

    References
    ----------
    finish-manual-5-6-2e
    order-rules
    """
    route = RouteLine(steps, material, None, facts or RouteFacts(), times or {})
    pairs = []
    for prime in route.all("prime"):
        if route.steel and (sanded := route.last_before(prime, "blend")):
            pairs.append(("R19", sanded, prime))
        if mixed := route.last_before(prime, "mix primer"):
            pairs.append(("R22", mixed, prime))
    for base in route.all("conversion coat", "scuff"):
        if over := route.after(base, "prime", "paint"):
            pairs.append(("R20", base, over))
    for paint in route.all("paint"):
        prime_before = route.last_before(paint, "prime")
        if prime_before and not route.between(prime_before, paint, "paint"):
            pairs.append(("R21", prime_before, paint))
    if route.facts.dissimilar_joint and not route.magnesium:
        pairs += [("R33", first, second) for first, second in pairwise(route.all("prime"))]
    found = []
    for rule, first, second in sorted(pairs, key=lambda pair: (pair[1].at, pair[2].at, pair[0])):
        if first.step == second.step:
            continue
        done = first.step in route.times
        elapsed, state = _standing(route.time(first), route.time(second), rule, now_h, done)
        opens, closes, words = _WINDOWS[rule]
        row = load_table("order_rules").find("rule_id", rule)
        found.append(
            Clock(rule, first.step, second.step, opens, closes, elapsed, state, words, row["source"], row["status"])  # type: ignore[arg-type]
        )
    return tuple(found)


def _standing(
    first: StepTime, second: StepTime, rule: str, now_h: float | None, done: bool
) -> tuple[float | None, State]:
    began, ended = first.ends_h, second.starts_h
    if began is None and (done or ended is not None):
        return None, "asked"
    if began is None:
        return None, "not started"
    if ended is not None:
        state = window_state(rule, max(0.0, ended - began))
        return ended - began, "done" if state == "open" else state
    if now_h is None:
        return None, "not started"
    elapsed = max(0.0, now_h - began)
    return elapsed, window_state(rule, elapsed)


def may_coat_now(rule: str, hours: float | None, scuffed: bool = False, wiped: bool = False) -> str:
    """Return why the next coat may not go on now, or nothing.

    Parameters
    ----------
    rule : str
        Rule of the window. [-]
    hours : float or None
        Hours since the first step; None where nobody wrote its time down. [h]
    scuffed : bool
        Scuffed since. [-]
    wiped : bool
        Wiped with solvent since. [-]

    Returns
    -------
    str
        A sentence, empty where it may.

    Raises
    ------
    ValueError
        A rule without a window.

    Examples
    --------
    >>> may_coat_now("R21", 4.0)
    'It is too early: 4 h of 5 h. Topcoat from 5 to 8 hours clean; to 24 hours wipe or scuff; after that scuff.'
    >>> may_coat_now("R21", 10.0, wiped=True)
    ''

    References
    ----------
    finish-manual-5-6-2e
    """
    if rule not in _WINDOWS:
        raise ValueError(f"no window is held for {rule}")
    opens, closes, words = _WINDOWS[rule]
    if hours is None:
        return f"Nobody wrote down when the step before ended. {words}"
    state = window_state(rule, max(0.0, hours))
    if state == "too early":
        return f"It is too early: {hours:.3g} h of {opens:g} h. {words}"
    if state == "over":
        return f"It is too late: {hours:.3g} h, {closes:g} h is the limit. {words}"
    if (state == "scuff" and not scuffed) or (state == "wipe or scuff" and not (scuffed or wiped)):
        return f"{hours:.3g} h have gone: {state} first. {words}"
    return ""
