"""Corrosion as manuals word it, blend-outs, and what may be blasted, stripped or heated."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from witnessmark.calc.surface.processes import FASTENER_LIMIT_MPA, is_steel
from witnessmark.calc.tables import load_table
from witnessmark.calc.working import Answer, working

MM = 25.4


@dataclass(frozen=True)
class Severity(Answer):
    """The quoted manual's word for a pit's depth: never a limit."""

    word: str


@dataclass(frozen=True)
class BlendOut(Answer):
    """The dish that takes a pit out, and what is left."""

    length_least_mm: float
    remaining_mm: float
    remaining_share: float
    warns: bool


@dataclass(frozen=True)
class Permission(Answer):
    """Whether a surface may be blasted, stripped or so, with what, and who is asked where it may not."""

    allowed: bool
    sentence: str
    hand_over: str


@dataclass(frozen=True)
class TestMethod(Answer):
    """The crack test that a material, its surface and its coat allow."""

    method: str
    before: tuple[str, ...]
    sentence: str


def severity(pit_mm: float) -> Severity:
    """Return a quoted manual's word for a pit's depth.

    Parameters
    ----------
    pit_mm : float
        Depth of the pit. [mm]

    Returns
    -------
    Severity
        `light`, `moderate` or `severe`.

    Raises
    ------
    ValueError
        A depth that is not above zero.

    Notes
    -----
    One type's manual: 0.001 in and 0.010 in, each counted to the lighter word. The word is no limit.

    Examples
    --------
    >>> [severity(depth * 25.4).word for depth in (0.0005, 0.005, 0.012)]
    ['light', 'moderate', 'severe']

    References
    ----------
    corrosion-words
    """
    if not (math.isfinite(pit_mm) and pit_mm > 0):
        raise ValueError("a pit has a depth above zero")
    inches = round(pit_mm / MM, 7)
    word = "light" if inches <= 0.001 else "moderate" if inches <= 0.010 else "severe"
    return Severity(
        working=working(
            "to 0.001 in light, to 0.010 in moderate, deeper severe",
            [("pit", pit_mm, "mm", "measured")],
            ("corrosion-words",),
            ("A word of one type's manual, not a limit: where no limit is published, engineering is asked.",),
            "Discolouration and pitting.",
        ),
        word=word,
    )


def blend_out(pit_mm: float, thickness_mm: float) -> BlendOut:
    """Return the least length of the dish that takes a pit out, and the metal that is left.

    Parameters
    ----------
    pit_mm : float
        Depth of the pit. [mm]
    thickness_mm : float
        Thickness as measured beside it. [mm]

    Returns
    -------
    BlendOut
        Length by 20 to 1; `warns` above a tenth of the thickness.

    Raises
    ------
    ValueError
        A depth that is not above zero and below the thickness.

    Notes
    -----
    "A tenth of the thickness" stands in no general document that was read, only in one type's manual: a warning.

    Examples
    --------
    >>> dish = blend_out(0.008 * 25.4, 2.0)
    >>> round(dish.length_least_mm / 25.4, 3), dish.warns
    (0.16, True)

    References
    ----------
    blend-ratio
    """
    if not (math.isfinite(thickness_mm) and 0 < pit_mm < thickness_mm):
        raise ValueError("a pit is deeper than zero and shallower than the metal")
    left = thickness_mm - pit_mm
    return BlendOut(
        working=working(
            "length = 20 x depth; elliptical, its long axis along the main load; left = thickness - depth",
            [("pit", pit_mm, "mm", "measured"), ("thickness", thickness_mm, "mm", "measured")],
            ("blend-ratio",),
            (
                "No general limit is published for what may be taken off: send what is left to engineering.",
                "A tenth of the thickness is one type's figure: a warning, nothing more.",
            ),
            "Aluminium, magnesium and steel alike.",
        ),
        length_least_mm=20 * pit_mm,
        remaining_mm=left,
        remaining_share=left / thickness_mm,
        warns=pit_mm / thickness_mm > 0.10,
    )


def _family(material: str, clad: bool) -> str:
    plain = material.lower()
    if re.search(r"magnesium|\bmg\b|elektron|az\d\d", plain):
        return "magnesium"
    if is_steel(plain):
        return "ferrous"
    if re.search(r"alumin|\bal\b|dural|2024|2017|6061|7075|5052|light alloy", plain):
        return "clad aluminium" if clad or "clad" in plain else "non-clad aluminium"
    return ""


def may_blast(material: str, clad: bool, thickness_mm: float | None) -> Permission:
    """Say whether a surface may be bead-blasted, at which pressure.

    Parameters
    ----------
    material : str
        Material as written. [-]
    clad : bool
        Whether it is clad. [-]
    thickness_mm : float or None
        Thickness of the metal; None where nobody measured it. [mm]

    Returns
    -------
    Permission
        With pressure, medium and dwell of the table; else whom to ask.

    Raises
    ------
    ValueError
        A thickness that is not above zero.

    Examples
    --------
    >>> may_blast("clad dural", True, 0.8).allowed, may_blast("clad dural", True, 2.0).allowed
    (False, True)

    References
    ----------
    blasting
    """
    if thickness_mm is not None and not (math.isfinite(thickness_mm) and thickness_mm > 0):
        raise ValueError("a thickness is above zero")
    family = _family(material, clad)
    row = next((r for r in load_table("blasting").rows if r["material"] == family and r["pressure_psi"]), None)
    hand_over, allowed = "", False
    if row is None:
        sentence, hand_over = f"No blasting figures are held for '{material}': ask before it is blasted.", "engineer"
    elif "aluminium" in family and thickness_mm is None:
        sentence, hand_over = "Its thickness is not recorded: measure it before anything is blasted.", "mechanic"
    elif "aluminium" in family and thickness_mm is not None and thickness_mm < 0.0625 * MM:
        sentence, hand_over = f"{thickness_mm:g} mm is thinner than 0.0625 in: engineering is asked first.", "engineer"
    else:
        allowed = True
        dwell = f", {row['dwell']}" if row["dwell"] else ""
        sentence = f"{row['media'].capitalize()}, {row['pressure_psi']} psi{dwell}."
    cautions = ["Not for heavy corrosion, nor for exfoliation." if "aluminium" in family else "Plug threads and holes."]
    if family == "magnesium":
        cautions.append("Magnesium dust burns: bone-dry sand or metal-fire powder, never water. Ground the blaster.")
        cautions.append("Inspect again for intergranular attack after blasting.")
    return Permission(
        working=working(
            "by material, cladding and thickness",
            [("material", material, "-", "given"), ("thickness", thickness_mm or "not recorded", "mm", "given")],
            ("blasting",),
            tuple(cautions),
            "Glass bead.",
        ),
        allowed=allowed,
        sentence=sentence,
        hand_over=hand_over,
    )


def may_strip(material: str, strength_mpa: float | None, agent: str) -> Permission:
    """Say whether a chemical may take paint, plate or corrosion off.

    Parameters
    ----------
    material : str
        Material as written. [-]
    strength_mpa : float or None
        Tensile strength; None where nobody measured it. [MPa]
    agent : str
        `acid`, `alkali` or `paint stripper`. [-]

    Returns
    -------
    Permission
        Steel of high or unknown strength meets no acid without the engineer's word; alkali never meets aluminium.

    Raises
    ------
    ValueError
        Another agent, or a strength that is not above zero.

    Notes
    -----
    High strength is read from 150 ksi, the lowest figure of the relief specification.

    Examples
    --------
    >>> may_strip("forged steel", None, "acid").sentence
    'Its strength is not recorded: no acid until a hardness check.'

    References
    ----------
    order-rules
    strip-practice
    """
    if agent not in ("acid", "alkali", "paint stripper"):
        raise ValueError(f"an agent is acid, alkali or paint stripper, not {agent!r}")
    if strength_mpa is not None and not (math.isfinite(strength_mpa) and strength_mpa > 0):
        raise ValueError("a strength is above zero")
    allowed, hand_over, sentence = True, "", f"{agent.capitalize()}: by its maker's sheet, rinsed at once."
    if is_steel(material) and agent != "alkali":
        if strength_mpa is None and agent == "acid":
            allowed, hand_over = False, "mechanic"
            sentence = "Its strength is not recorded: no acid until a hardness check."
        elif strength_mpa is not None and strength_mpa >= FASTENER_LIMIT_MPA:
            allowed, hand_over = False, "design engineer"
            sentence = f"Steel of {strength_mpa:g} MPa: no {agent} without the engineer's word."
    elif agent == "alkali" and "aluminium" in _family(material, False):
        allowed, hand_over, sentence = False, "finisher", "Alkali eats aluminium: take a stripper made for it."
    elif agent == "acid" and _family(material, False) == "magnesium":
        allowed, hand_over, sentence = False, "finisher", "Magnesium meets only the baths of its own specification."
    return Permission(
        working=working(
            "by material and strength",
            [("material", material, "-", "given"), ("strength", strength_mpa or "not recorded", "MPa", "given")],
            ("order-rules", "strip-practice"),
            ("Old paint is taken to hold lead and chromate, old plate to be cadmium, until tested.",),
            "Paint strippers may be acid: read the sheet.",
        ),
        allowed=allowed,
        sentence=sentence,
        hand_over=hand_over,
    )


def crack_test(material: str, coat: str = "", coat_mm: float | None = None, rough: bool = False) -> TestMethod:
    """Choose the crack test by material, surface and thickness of the coat.

    Parameters
    ----------
    material : str
        Material as written. [-]
    coat : str
        `paint`, `chrome`, `nickel`, another word, or empty for bare metal. [-]
    coat_mm : float or None
        Thickness of the coat; None where nobody measured it. [mm]
    rough : bool
        Rough or porous surface, or blasted or peened before. [-]

    Returns
    -------
    TestMethod
        Method, and what is done before it.

    Raises
    ------
    ValueError
        A thickness that is negative.

    Notes
    -----
    Magnetic particle sees through paint or chrome up to 0.003 in and nickel up to 0.001 in. The program plans tests; it
    does not interpret them.

    Examples
    --------
    >>> crack_test("4130", "paint", 0.1).before
    ('strip paint',)
    >>> crack_test("Mg casting").method
    'penetrant'

    References
    ----------
    test-methods
    ac43.13-1b-5-45
    """
    if coat_mm is not None and not (math.isfinite(coat_mm) and coat_mm >= 0):
        raise ValueError("a coat is not negative")
    family, before = _family(material, False), []
    austenitic = bool(re.search(r"\b30[24]\b|\b316|\b32[17]\b|\b347\b|18-8|austenit", material.lower()))
    stripping = "strip plate" if coat in ("chrome", "nickel", "cadmium", "zinc") else "strip paint"
    if family == "ferrous" and not austenitic:
        limits = {"paint": 0.003, "chrome": 0.003, "nickel": 0.001}
        method = "magnetic particle"
        if coat and (coat_mm is None or coat not in limits or coat_mm > limits[coat] * MM + 1e-9):
            before.append(stripping)
        sentence = "Ferromagnetic steel: magnetic particle in two directions, then demagnetise."
    elif family or austenitic:
        if rough:
            method, sentence = (
                "eddy current",
                "Rough, blasted or peened: penetrant would not see it; ask for eddy current.",
            )
        else:
            method, sentence = "penetrant", "Open to the surface only; the part stands between 40 and 120 F."
            if coat:
                before.append(stripping)
    else:
        method, sentence = "visual", f"'{material}' is not known here: look with a glass, and ask the test house."
    return TestMethod(
        working=working(
            "by material, surface and coat",
            [
                ("material", material, "-", "given"),
                ("coat", f"{coat or 'none'} {coat_mm if coat_mm is not None else ''}".strip(), "mm", "given"),
            ],
            ("test-methods", "ac43.13-1b-5-45"),
            ("The program files and plans tests; it does not interpret them. Hand over to: certified inspector.",),
            "Crack tests of the shop's parts.",
        ),
        method=method,
        before=tuple(before),
        sentence=sentence,
    )
