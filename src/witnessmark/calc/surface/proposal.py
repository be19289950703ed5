"""A route proposed for a part: steps in order from what it is made of, how hard it is and what it shall get."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field

from witnessmark.calc.surface.corrosion import crack_test, may_blast
from witnessmark.calc.surface.decorative import decorative_chrome
from witnessmark.calc.surface.order_rules import RuleBreach, check_route
from witnessmark.calc.surface.processes import PART_LIMIT_MPA, is_steel, processes_of
from witnessmark.calc.surface.route_line import RouteFacts
from witnessmark.calc.tables import load_table
from witnessmark.calc.working import Answer, working

FINISHES = (
    "none", "cadmium plate", "zinc plate", "hard chrome", "decorative chrome", "anodise", "conversion coat", "prime", "paint",
)  # fmt: skip
SLOTS = "slots and holes that fill with plate"
WORK = ("strip paint", "strip plate", "blast", "blend", "grind", "straighten", "machine", "drill", "form", "weld")
PLATES = ("cadmium plate", "zinc plate", "hard chrome", "decorative chrome")


@dataclass(frozen=True)
class PartToRoute:
    """What a route is made from; None and empty mean that nobody knows."""

    material: str
    strength_mpa: float | None = None
    finish: str = "none"
    work: Collection[str] = ()
    clad: bool = False
    thickness_mm: float | None = None
    old_coat: str = ""
    old_coat_mm: float | None = None
    bushes: bool = False
    threads: bool = False
    bearing_seats: bool = False
    earth_points: bool = False
    control_surface: bool = False
    worked_after_hardening: bool = False
    kind: str = ""
    carries_load: bool = False
    pair: bool = False
    slots: bool = False
    facts: RouteFacts = field(default_factory=RouteFacts)


@dataclass(frozen=True)
class Proposal(Answer):
    """The proposed steps, what is masked, the tag, what is asked, and why plating is not released where it is not."""

    steps: tuple[str, ...]
    masking: tuple[str, ...]
    tag_medium: str
    asked: tuple[str, ...]
    withheld: str
    breaches: tuple[RuleBreach, ...]

    @property
    def released(self) -> bool:
        """Whether the whole route may go on: nothing withheld, no hard rule broken."""
        return not self.withheld and not any(breach.hard for breach in self.breaches)


def masking_list(part: PartToRoute) -> tuple[str, ...]:
    """Return what is masked or plugged before blasting, plating, film and paint.

    Parameters
    ----------
    part : PartToRoute
        The part. [-]

    Returns
    -------
    tuple of str
        In words; empty where nothing is named.

    Examples
    --------
    >>> masking_list(PartToRoute("steel", threads=True, earth_points=True))
    ('threads and blind holes', 'earth points')

    References
    ----------
    masking-practice
    """
    wanted = (
        (part.threads, "threads and blind holes"),
        (part.slots and part.finish == "decorative chrome", SLOTS),
        (part.bearing_seats, "bearing seats and press-fit bores"),
        (part.bushes, "bores of bushes"),
        (part.earth_points, "earth points"),
    )
    return tuple(words for asked, words in wanted if asked)


def tag_medium(steps: Sequence[str]) -> tuple[str, tuple[int, ...]]:
    """Choose the tag that survives most of a route, and the steps that it must be off for.

    Parameters
    ----------
    steps : sequence of str
        Step names in order. [-]

    Returns
    -------
    tuple
        Name of the medium, and the numbers of the steps it does not survive, counted from 1.

    Examples
    --------
    >>> tag_medium(["clean", "cadmium plate", "bake"])
    ('stainless disc', (2,))

    References
    ----------
    tag-media
    """
    named = [set(processes_of(step)) for step in steps]
    best: tuple[str, tuple[int, ...]] | None = None
    for row in load_table("tag_media").rows:
        dies = set(row["dies_in"].split(";"))
        off = tuple(number for number, processes in enumerate(named, start=1) if processes & dies)
        if best is None or len(off) < len(best[1]):
            best = (row["medium"], off)
    assert best is not None
    return best


def _finish_steps(part: PartToRoute, hard: bool, shaped: bool) -> list[str]:
    steps: list[str] = []
    if part.finish == "decorative chrome":
        looks = list(decorative_chrome(part.carries_load, part.pair, part.slots).steps)
        plated = next(n for n, name in enumerate(looks) if name.startswith("decorative chrome"))
        relief, bake = ["stress relief"] if hard and shaped else [], ["bake"] if hard else []
        steps += [*looks[:plated], *relief, looks[plated], *bake, *looks[plated + 1 :]]
    elif part.finish in PLATES:
        if hard and shaped:
            steps.append("stress relief")
        steps.append(part.finish)
        if hard:
            steps.append("bake")
        if part.finish == "cadmium plate":
            steps.append("chromate")
    elif part.finish == "anodise":
        steps.append("anodise")
    elif part.finish in ("conversion coat", "prime", "paint") and not is_steel(part.material):
        steps.append("conversion coat")
    if part.finish in ("prime", "paint"):
        steps.append("prime")
    if part.finish == "paint":
        steps.append("paint")
    return steps


def propose_route(part: PartToRoute) -> Proposal:
    """Propose the ordered steps of a part.

    Parameters
    ----------
    part : PartToRoute
        Material, strength, finish wanted, work wanted, and what is on it. [-]

    Returns
    -------
    Proposal
        Steps in order, with tag off and tag on; checked by every order rule.

    Raises
    ------
    ValueError
        A finish or work that is not held, a strength that is not above zero, no material.

    Notes
    -----
    Steel whose strength nobody measured gets a hardness check and no plating: it is read neither as mild nor as hard.

    Examples
    --------
    >>> propose_route(PartToRoute("forged steel", None, "cadmium plate")).withheld
    'Its strength is not recorded: a hardness check comes first, and no plating is released until then.'

    References
    ----------
    order-rules
    route-practice
    tag-media
    masking-practice
    """
    unknown_work = set(part.work) - set(WORK)
    if part.finish not in FINISHES or unknown_work or not part.material.strip():
        raise ValueError(
            f"a route needs a material, a finish ({', '.join(FINISHES)}) and work of {', '.join(WORK)}; "
            f"given: {part.material!r}, {part.finish!r}, {', '.join(sorted(unknown_work)) or 'no unknown work'}"
        )
    steel, work = is_steel(part.material), set(part.work)
    hard = part.strength_mpa is not None and part.strength_mpa >= PART_LIMIT_MPA
    method = crack_test(part.material, part.old_coat, part.old_coat_mm)
    asked, withheld = [], ""
    steps = ["document as found", "clean"]
    if steel and part.strength_mpa is None:
        steps.append("hardness check")
        asked.append("strength or hardness")
        if part.finish in PLATES:
            withheld = (
                "Its strength is not recorded: a hardness check comes first, and no plating is released until then."
            )
    if part.bushes:
        steps.append("remove bushes")
    steps += [strip for strip in ("strip plate", "strip paint") if strip in work or strip in method.before]
    test = {"magnetic particle": ["magnetic particle test", "demagnetise", "clean"]}.get(
        method.method, [f"{method.method} test" if method.method != "visual" else "visual check"]
    )
    steps += test
    shaping = [name for name in ("weld", "straighten", "form", "machine", "grind") if name in work]
    if "blend" in work:
        if steel:
            steps.append("identify metal")
        steps += ["remove fasteners"] if part.facts.steel_fasteners_in else []
        steps += ["blend", "measure"]
    steps += shaping
    if {"grind", "straighten"} & work and steel:
        steps += test
    steps += ["trial fit"] if (shaping or "drill" in work) and part.finish != "decorative chrome" else []
    steps += ["drill"] if "drill" in work else []
    masking = masking_list(part)
    # Slots are plugged by a step of their own, next to the polishing.
    if set(masking) - {SLOTS} or "blast" in work:
        steps.append("mask")
    if "blast" in work:
        permission = may_blast(part.material, part.clad, part.thickness_mm)
        if permission.allowed:
            steps.append("blast")
            steps += ["visual check"] if "magnesium" in part.material.lower() or "mg" in part.material.lower() else []
        else:
            asked.append(permission.sentence)
    shaped = bool(shaping) or "drill" in work or part.worked_after_hardening
    if not withheld:
        steps += _finish_steps(part, hard, shaped)
        if part.bushes and part.finish in PLATES:
            steps += ["press in bushes", "ream bush"]
        if part.control_surface and part.finish == "paint":
            steps.append("balance")
    looks = part.finish == "decorative chrome"
    looked = decorative_chrome(part.carries_load, part.pair, part.slots)
    if looks and part.carries_load:
        asked.append("the design engineer's word before it goes: it carries a load")
    if part.finish in PLATES:
        asked += ["specification, type and class", "time out of the bath and into the oven, on the certificate"]
    medium, off = tag_medium(steps)
    tagged = _with_tags(steps, off)
    facts = part.facts
    breaches = check_route(tagged, part.material, part.strength_mpa, facts)
    return Proposal(
        working=working(
            "steps in the order of order_rules.csv",
            [(f"step {n}", name, "-", "proposed") for n, name in enumerate(tagged, start=1)],
            (
                "order-rules",
                "route-practice",
                "tag-media",
                "masking-practice",
                *(("decorative-practice",) if looks else ()),
            ),
            (
                method.sentence,
                *method.cautions,
                *((looked.sentence, *looked.cautions) if looks else ()),
            ),
            "Metal parts; the lead makes the route his own before it is used.",
        ),
        steps=tagged,
        masking=masking,
        tag_medium=medium,
        asked=tuple(dict.fromkeys(asked)),
        withheld=withheld,
        breaches=breaches,
    )


def _with_tags(steps: Sequence[str], off: tuple[int, ...]) -> tuple[str, ...]:
    """Put a step before the first bath that the tag does not survive, and one after the last."""
    if not off:
        return tuple(steps)
    first, last = off[0], off[-1]
    return (*steps[: first - 1], "tag off", *steps[first - 1 : last], "tag on", *steps[last:])
