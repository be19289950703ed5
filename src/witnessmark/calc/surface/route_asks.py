"""What a proposed route hangs on beside metal and strength, and what no plating is released for while nobody says it."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from witnessmark.calc.surface.proposal import PLATES, PartToRoute

# What is asked: its words, the words of a part that say yes, and whether plating waits for the answer.
FACTS: dict[str, tuple[str, str, bool]] = {
    "bushes": ("bushes that are pressed in", r"\bbush", False),
    "threads": ("threads or blind holes", r"\b(?:bolt|screw|stud|nut|thread)", False),
    "bearing seats": ("bearing seats or press-fit bores", r"\bbearing|\bhub\b|\bball race", False),
    "earth points": ("points that must stay bare for earthing", r"\bearth|\bbonding", False),
    "clad": ("a clad sheet", r"\bclad\b|\balclad\b", False),
    "control surface": ("a control surface that is balanced", r"\belevator\b|\brudder\b|\baileron\b", False),
    "worked after hardening": ("ground, formed or straightened after it was hardened", r"(?!)", False),
    "closed tube": ("a closed tube or a blind cavity", r"(?!)", True),
    "spring": ("a spring", r"(?!)", True),
    "case-hardened": ("case-hardened", r"(?!)", True),
    "carries a load": ("a part that carries a load (belt anchor, hinge pin, seat stop)", r"(?!)", True),
    "slots": ("slots or holes that fill with plate", r"\bslot|\bperforated\b", False),
}
# Asked of decorative chrome alone: every other plate is put on to a specification that asks it.
_OF_LOOKS = "carries a load"


@dataclass(frozen=True)
class Fact:
    """One thing that the route hangs on; `holds` is None where nobody knows, which is read neither way."""

    name: str
    words: str
    holds: bool | None
    come_from: str
    plating_waits: bool

    @property
    def unknown_words(self) -> str:
        """Say that nobody knows it, and what waits for it."""
        waits = ": plating waits for it" if self.plating_waits else ""
        relief = ": stress relief before plating hangs on it" if self.name == "worked after hardening" else ""
        return f"Not known: {self.words}{waits}{relief}."


def facts_said(material: str, said: Mapping[str, bool | None]) -> tuple[Fact, ...]:
    """Return what a route without a record hangs on: what was said, else what the words of the material say.

    Parameters
    ----------
    material : str
        Material as written. [-]
    said : mapping of str to bool or None
        Answers by the names of FACTS; None where it was said to be unknown. [-]

    Returns
    -------
    tuple of Fact
        Every fact, in the order of FACTS.

    Examples
    --------
    >>> [fact.name for fact in facts_said("clad dural", {"spring": False}) if fact.holds is not None]
    ['clad', 'spring']

    References
    ----------
    route-practice
    """
    found = []
    for name, (words, pattern, waits) in FACTS.items():
        match = re.search(pattern, material.lower())
        if said.get(name) is not None:
            found.append(Fact(name, words, said[name], "said", waits))
        elif match:
            found.append(Fact(name, words, True, f"the material says '{match[0].strip()}'", waits))
        else:
            found.append(Fact(name, words, None, "said to be unknown" if name in said else "nobody said it", waits))
    return tuple(found)


def part_with(
    material: str,
    strength_mpa: float | None,
    finish: str,
    work: Collection[str],
    thickness_mm: float | None,
    facts: Sequence[Fact],
) -> PartToRoute:
    """Return the part as a proposal asks for it; what nobody knows is left as not so, and asked elsewhere.

    Parameters
    ----------
    material : str
        Material as written. [-]
    strength_mpa : float or None
        Tensile strength; None where nobody knows. [MPa]
    finish : str
        Finish wanted. [-]
    work : collection of str
        Work wanted. [-]
    thickness_mm : float or None
        Thickness of sheet. [mm]
    facts : sequence of Fact
        Every fact of FACTS. [-]

    Returns
    -------
    PartToRoute
        The part with its nature.

    Examples
    --------
    >>> part_with("steel", 1400.0, "cadmium plate", (), None, facts_said("steel", {"spring": True})).kind
    'spring'

    References
    ----------
    route-practice
    """
    holds = {fact.name: bool(fact.holds) for fact in facts}
    return PartToRoute(
        material, strength_mpa, finish, tuple(work), holds["clad"],
        thickness_mm, bushes=holds["bushes"], threads=holds["threads"], bearing_seats=holds["bearing seats"],
        earth_points=holds["earth points"], control_surface=holds["control surface"],
        worked_after_hardening=holds["worked after hardening"], kind=kind_of(facts), carries_load=holds["carries a load"],
        slots=holds["slots"],
    )  # fmt: skip


def kind_of(facts: Sequence[Fact]) -> str:
    """Return the kind of part for which no bake after plating holds by itself.

    Parameters
    ----------
    facts : sequence of Fact
        Every fact of FACTS. [-]

    Returns
    -------
    str
        `spring` or `case-hardened`, else empty.

    Examples
    --------
    >>> kind_of(facts_said("steel", {"case-hardened": True}))
    'case-hardened'

    References
    ----------
    route-practice
    """
    holds = {fact.name: bool(fact.holds) for fact in facts}
    return "spring" if holds["spring"] else "case-hardened" if holds["case-hardened"] else ""


def withheld_by_nature(finish: str, facts: Sequence[Fact]) -> str:
    """Return why no plating is released to a part of this nature.

    Parameters
    ----------
    finish : str
        Finish wanted. [-]
    facts : sequence of Fact
        Every fact of FACTS. [-]

    Returns
    -------
    str
        What it is, or what nobody has said; empty where nothing stands against it.

    Examples
    --------
    >>> withheld_by_nature("cadmium plate", facts_said("steel", {}))
    'Nobody has said whether it is a closed tube or a blind cavity, a spring, case-hardened: no plating is released until that is answered.'
    >>> no = {"closed tube": False, "spring": False, "case-hardened": False}
    >>> withheld_by_nature("cadmium plate", facts_said("steel", no))
    ''

    References
    ----------
    route-practice
    """
    if finish not in PLATES:
        return ""
    kind = kind_of(facts)
    if kind:
        return f"It is {kind}: no bake after plating is held for that. Ask the engineer; no plating is released until then."
    if any(fact.holds for fact in facts if fact.name == "closed tube"):
        return (
            "It is a closed tube or a blind cavity: acid stays in it. Ask the engineer; no bath is released until then."
        )
    looks = finish == "decorative chrome"
    open_ = [f.words for f in facts if f.plating_waits and f.holds is None and (looks or f.name != _OF_LOOKS)]
    if open_:
        return f"Nobody has said whether it is {', '.join(open_)}: no plating is released until that is answered."
    return ""
