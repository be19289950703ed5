"""What a process is done by, said to the vendor: specification, type, class, bake, what is masked, what the oven may do."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.calc.surface.bake import (
    NOT_PUT_RIGHT,
    Bake,
    BakeRule,
    asked_from_mpa,
    bake_for,
    relief_before_plating,
    specifications,
    too_hot,
)
from witnessmark.calc.surface.oven_caps import HEATS, OvenCap
from witnessmark.calc.surface.plating import coats_of, type_means
from witnessmark.calc.surface.plating import specifications as plating_specifications
from witnessmark.calc.surface.processes import FASTENER_LIMIT_MPA, PART_LIMIT_MPA, is_steel, processes_of
from witnessmark.calc.tables import OutsideTable

CALLED = frozenset({"plate", "bake", "conversion coat", "anodise", "stress relief"})
MASKED = frozenset({"mask", "blast", "plate", "anodise", "conversion coat", "prime", "paint"})
ASKED = ("out of the bath", "into the oven", "out of the oven", "the oven stood at")
BATHS = frozenset({"plate", "strip plate", "etch"})
_THREADED = re.compile(r"\b(?:bolt|screw|stud|nut|threaded)s?\b")


@dataclass(frozen=True)
class CalledOutBy:
    """What was called out: words as they stand in the specification; empty and None where nothing is."""

    spec: str = ""
    kind: str = ""
    code: str = ""
    bake_spec: str = ""
    section_mm: float | None = None
    temper_c: float | None = None


@dataclass(frozen=True)
class Instruction:
    """Sentences for the vendor, the times asked of him, and why no bath is released where it is not.

    `bake_open`: it is withheld for a bake that nobody named or that does not hold; `bake_harms`: for one hotter than the
    part may see.
    """

    lines: tuple[str, ...]
    asked: tuple[str, ...]
    withheld: str
    bake: Bake | None
    bake_open: bool = False
    bake_harms: bool = False


@dataclass(frozen=True)
class BakeHeld:
    """What the bake says of a piece before it leaves: why it must not, or what a named person is asked first."""

    must_not: str = ""
    asks: str = ""


def refuse_call(called: CalledOutBy) -> str:
    """Return why something cannot be called out as it is written, or nothing.

    Parameters
    ----------
    called : CalledOutBy
        Specification, type, class and bake as written. [-]

    Returns
    -------
    str
        A sentence; empty where type and class are of that specification, or nothing is held of it.

    Notes
    -----
    A type or class is never carried over from another specification.

    Examples
    --------
    >>> refuse_call(CalledOutBy("QQ-P-416F", "II", "2"))
    ''
    >>> refuse_call(CalledOutBy("QQ-P-416F", "", "SC2"))
    "QQ-P-416F holds no class 'SC2'; it has 1, 2, 3."

    References
    ----------
    plating-specs
    bake-rules
    """
    if (called.kind or called.code) and not called.spec:
        return "A type or a class belongs to a specification: write which."
    if called.spec in plating_specifications():
        codes = [coat.code for coat in coats_of(called.spec)]
        if called.code and codes and called.code not in codes:
            return f"{called.spec} holds no class '{called.code}'; it has {', '.join(codes)}."
        if called.kind:
            try:
                type_means(called.spec, called.kind)
            except OutsideTable as why:
                return str(why)
    if called.bake_spec and called.bake_spec not in specifications():
        return (
            f"Nothing is held of a bake after plating by '{called.bake_spec}'. Held are: {', '.join(specifications())}."
        )
    for value in (called.section_mm, called.temper_c):
        if value is not None and not 0 < value < 5000:
            return f"A section or a heat limit is above zero, not {value:g}."
    return ""


def _spec_line(called: CalledOutBy | None) -> str:
    if called is None or not called.spec:
        return "No specification is called out: ask before the work begins."
    said = [called.spec]
    held = called.spec in plating_specifications()
    if called.kind:
        said.append(f"Type {called.kind}{f' ({type_means(called.spec, called.kind)})' if held else ''}")
    if called.code:
        coat = next((c for c in coats_of(called.spec) if c.code == called.code), None) if held else None
        thick = f" ({coat.least_um:.3g} µm at least, {coat.source}, {coat.status})" if coat else ""
        said.append(f"Class {called.code}{thick}")
    line = f"Called out: {', '.join(said)}."
    return line if held else f"{line} Nothing is held of it here: the document itself counts."


def _rule_words(rule: BakeRule) -> str:
    hours = f"{rule.hours:g} h" if rule.hours is not None else "no time read"
    start = f", into the oven within {rule.start_within_h:g} h of the bath" if rule.start_within_h is not None else ""
    doubt = " (a start that looks too long: verify)" if "DANGEROUS" in rule.note else ""
    return f"{hours} at {rule.temperature_printed}{start}{doubt}, by {rule.source} ({rule.status})"


def _strictest(bake: Bake) -> str:
    beside: dict[str, list[str]] = {}
    for what, rule in (("longest", bake.longest), ("soonest", bake.soonest)):
        if rule is not None and rule != bake.called_out:
            beside.setdefault(_rule_words(rule), []).append(what)
    said = "; ".join(f"{' and '.join(whats)}: {words}" for words, whats in beside.items())
    return f"Strictest beside it, not merged: {said}." if said else ""


def instruct(
    steps: Sequence[str],
    material: str,
    strength_mpa: float | None,
    called: CalledOutBy | None,
    kind: str = "",
    masking: Sequence[str] = (),
    oven: OvenCap | None = None,
    worked: bool = False,
) -> Instruction:
    """Return what a vendor is told of the steps that he does on a part.

    Parameters
    ----------
    steps : sequence of str
        His steps in order. [-]
    material : str
        Material as written; the part's name may stand with it. [-]
    strength_mpa : float or None
        Tensile strength; None where nobody measured it. [MPa]
    called : CalledOutBy or None
        What was called out. [-]
    kind : str
        `case-hardened`, `cold-straightened` or `spring`, or empty. [-]
    masking : sequence of str
        What is masked or plugged. [-]
    oven : OvenCap or None
        What the part may see in the oven. [-]
    worked : bool
        Ground, formed or straightened after it was hardened. [-]

    Returns
    -------
    Instruction
        Withheld where strength or bake is missing for hard steel, or the bake does not hold for this part.

    Examples
    --------
    >>> chrome = CalledOutBy("MIL-STD-1501F", bake_spec="MIL-STD-1501F")
    >>> told = instruct(["hard chrome", "bake"], "4340 steel", 1379, chrome)
    >>> [line[:34] for line in told.lines[1:2]], told.withheld
    (['Bake: 23 h at 375+/-25 F (191+/-14'], '')
    >>> instruct(["hard chrome"], "4340 steel", None, chrome).withheld
    'Its strength is not recorded: no bath until a hardness check is done.'

    References
    ----------
    bake-rules
    plating-specs
    heat-caps
    """
    named = {process for step in steps for process in processes_of(step)}
    lines = [_spec_line(called)] if named & CALLED - {"bake", "stress relief"} else []
    asked: tuple[str, ...] = ()
    withheld, bake, harms = "", None, False
    steel = is_steel(material)
    hard = FASTENER_LIMIT_MPA if _THREADED.search(material.lower()) else PART_LIMIT_MPA
    if steel and named & BATHS and strength_mpa is None:
        withheld = "Its strength is not recorded: no bath until a hardness check is done."
    elif steel and strength_mpa is not None and named & {"plate", "bake"}:
        by = bake_spec_of(called)
        if by:
            bake = bake_for(
                by, strength_mpa, called.section_mm if called else None, called.temper_c if called else None, kind
            )
            harms = too_hot(bake.called_out, called.temper_c if called else None)
            if bake.refusal:
                withheld = f"{bake.refusal} {bake.next_step[:1].upper()}{bake.next_step[1:].rstrip('.')}."
            elif (hot := _too_hot(bake.called_out, oven)) != "":
                withheld, harms = hot, True
            elif bake.called_out is not None:
                lines.append(f"Bake: {_rule_words(bake.called_out)}.")
                asked = ASKED
            else:
                lines.append(f"{by} asks no bake at {strength_mpa:g} MPa, as far as it was read.")
            lines += filter(None, [_strictest(bake)])
        elif strength_mpa >= hard or kind or ("bake" in named and strength_mpa >= asked_from_mpa()):
            withheld = (
                f"No bake is called out for steel of {strength_mpa:g} MPa: name its specification before the bath."
            )
        elif "bake" in named:
            # A habit on soft steel: no specification asks it, so it holds nothing back.
            lines.append(
                f"No bake is called out for steel of {strength_mpa:g} MPa, and none that was read asks one below "
                f"{asked_from_mpa():g} MPa. Ask which one is meant."
            )
        if worked or "stress relief" in named:
            lines.append(relief_before_plating(strength_mpa, None, worked or "stress relief" in named)[1])
    if asked:
        lines.append(f"Write the times on the certificate. Over the limit or missing is quarantine. {NOT_PUT_RIGHT}")
    if named & MASKED:
        lines.append(f"Mask or plug: {', '.join(masking)}." if masking else "Mask or plug: nothing is named.")
    # A bake that is called out says its heat itself.
    if oven is not None and named & HEATS and not asked:
        lines.append(f"Oven: {oven.sentence}")
    asks = strength_mpa is not None and bool(withheld)
    return Instruction(tuple(lines), asked, withheld, bake, asks and not harms, asks and harms)


def bake_held(told: Instruction, steps: Sequence[str], later: Sequence[str] = ()) -> BakeHeld:
    """Return what keeps steps from being sent out for the sake of their bake.

    Parameters
    ----------
    told : Instruction
        What the vendor is told of these steps. [-]
    steps : sequence of str
        The steps that he does. [-]
    later : sequence of str
        The steps of the route after them. [-]

    Returns
    -------
    BakeHeld
        It must not go where the bake called out is hotter than the part may see, or where the specification asks a bake and
        no step after the plating is one. A named person is asked where no bake is named, or none that holds. Else empty.

    Examples
    --------
    >>> chrome = CalledOutBy("MIL-STD-1501F")
    >>> told = instruct(["hard chrome"], "4340 steel bracket", 1310, chrome)
    >>> bake_held(told, ["hard chrome"]).must_not[:43]
    'MIL-STD-1501F asks a bake after the plating'
    >>> bake_held(told, ["hard chrome"], ["bake"])
    BakeHeld(must_not='', asks='')
    >>> bake_held(instruct(["plate"], "4340 steel", 1310, None), ["plate"]).asks[:24]
    'No bake is called out fo'

    References
    ----------
    bake-rules
    """
    named = [process for step in steps for process in processes_of(step)]
    if told.bake_harms:
        return BakeHeld(must_not=told.withheld)
    if told.bake_open:
        return BakeHeld(asks=told.withheld)
    rule = told.bake.called_out if told.bake is not None and not told.withheld else None
    if rule is None or "plate" not in named:
        return BakeHeld()
    after = [*named[named.index("plate") :], *(process for step in later for process in processes_of(step))]
    if "bake" in after:
        return BakeHeld()
    return BakeHeld(
        must_not=f"{rule.spec} asks a bake after the plating ({_rule_words(rule)}), and none follows it in the route or in "
        "what the vendor is asked. Write the bake into its route, or into the words of the shipment."
    )


def _too_hot(rule: BakeRule | None, oven: OvenCap | None) -> str:
    """Why the bake is more than the part with its coats may see; empty where it is not, or nothing is known."""
    known = oven.known if oven is not None else None
    # The tables are in whole degrees Fahrenheit: half a degree is a rounding, no heat.
    if rule is None or rule.most_c is None or known is None or rule.most_c <= known.max_c + 0.5:
        return ""
    return (
        f"The bake runs up to {rule.most_c:.0f} C and {known.material_temper} may see {known.max_c:.0f} C ({known.source}). "
        "Ask the engineer."
    )


def bake_spec_of(called: CalledOutBy | None) -> str:
    """Return the specification whose bake counts.

    Parameters
    ----------
    called : CalledOutBy or None
        What was called out. [-]

    Returns
    -------
    str
        The one named for the bake, else the plating's own where a bake of it is held; else empty.

    Examples
    --------
    >>> bake_spec_of(CalledOutBy("MIL-STD-1501F")), bake_spec_of(CalledOutBy("ASTM B633"))
    ('MIL-STD-1501F', '')

    References
    ----------
    bake-rules
    """
    if called is None:
        return ""
    return called.bake_spec or (called.spec if called.spec in specifications() else "")
