"""Substitution of sheet: thickness for equal strength, stiffness or mass, couples on faying surfaces, bend limits."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from witnessmark.calc.sources import Status
from witnessmark.calc.surface.galvanic import Couple, couple
from witnessmark.calc.tables import OutsideTable, load_table
from witnessmark.calc.units import MM_PER_IN
from witnessmark.calc.working import Answer, working

# Common inch thicknesses of sheet.
GAUGES_IN = (0.012, 0.016, 0.020, 0.025, 0.032, 0.040, 0.050, 0.063, 0.071, 0.080, 0.090, 0.100, 0.125, 0.160, 0.190)


class UnknownSheet(ValueError):
    """A sheet of which no figures are held; the message names those that are."""


@dataclass(frozen=True)
class Sheet:
    """A sheet material; strengths may be the shop's own."""

    name: str
    ultimate_mpa: float
    e_gpa: float
    density_kg_m3: float
    series_name: str
    bend_name: str
    source: str
    status: Status


@dataclass(frozen=True)
class BendLimit:
    """The smallest bend radius of a printed thickness, as printed: from and to."""

    thickness_mm: float
    radius_least_mm: float
    radius_most_mm: float
    note: str


@dataclass(frozen=True)
class Thickness:
    """A new thickness that is equal in one respect, and the inch sheet that is no thinner."""

    equal_in: str
    exact_mm: float
    gauge_in: float | None
    mass_ratio: float


@dataclass(frozen=True)
class Substitution(Answer):
    """What the new sheet is beside the old one, for each respect and for the thickness chosen."""

    thicknesses: tuple[Thickness, ...]
    chosen_mm: float
    strength_ratio: float
    bending_strength_ratio: float
    stiffness_ratio: float
    bending_stiffness_ratio: float
    mass_ratio: float
    mass_change_kg_m2: float
    couples: tuple[Couple, ...]
    bend: BendLimit | None
    bend_words: str
    hand_over: str


@cache
def _table() -> tuple[tuple[str, Sheet], ...]:
    found = []
    for row in load_table("sheet_strengths").rows:
        made = Sheet(
            row["sheet"],
            float(row["ultimate_MPa"]),
            float(row["e_GPa"]),
            float(row["density_kg_m3"]),
            row["series_name"],
            row["bend_name"],
            row["source"],
            row["status"],  # type: ignore[arg-type]  # load_table refuses other words
        )
        found += [(word, made) for word in {*row["words"].split(";"), row["sheet"].lower()}]
    return tuple(sorted(found, key=lambda pair: -len(pair[0])))


def sheet(text: str, ultimate_mpa: float | None = None) -> Sheet:
    """Return the sheet that the words name.

    Parameters
    ----------
    text : str
        Material and temper as written. [-]
    ultimate_mpa : float or None
        Tensile strength where the shop knows it; else the typical figure from memory. [MPa]

    Returns
    -------
    Sheet
        With its figures.

    Raises
    ------
    UnknownSheet
        No word of it is held.
    ValueError
        A strength that is not above zero.

    Examples
    --------
    >>> sheet("AZ31B-H24").density_kg_m3, sheet("clad dural 0.8").name
    (1770.0, '2024-T3')

    References
    ----------
    sheet-strengths
    """
    if ultimate_mpa is not None and not (math.isfinite(ultimate_mpa) and ultimate_mpa > 0):
        raise ValueError("a strength is above zero")
    plain = text.lower()
    for word, made in _table():
        if re.search(rf"(?<![\w-]){re.escape(word)}(?![\w-])", plain):
            if ultimate_mpa is None:
                return made
            return Sheet(
                made.name,
                ultimate_mpa,
                made.e_gpa,
                made.density_kg_m3,
                made.series_name,
                made.bend_name,
                "given",
                made.status,
            )
    held = ", ".join(row["sheet"] for row in load_table("sheet_strengths").rows)
    raise UnknownSheet(f"No figures are held for the sheet '{text}'. Held are: {held}. Name the alloy and its temper.")


def gauge_for(thickness_mm: float) -> float | None:
    """Return the common inch sheet that is no thinner.

    Parameters
    ----------
    thickness_mm : float
        Thickness wanted. [mm]

    Returns
    -------
    float or None
        Thickness; None where it is thicker than any. [in]

    Raises
    ------
    ValueError
        A thickness that is not above zero.

    Examples
    --------
    >>> gauge_for(0.8), gauge_for(1.2)
    (0.032, 0.05)

    References
    ----------
    sheet-gauges
    """
    if not (math.isfinite(thickness_mm) and thickness_mm > 0):
        raise ValueError("a thickness is above zero")
    return next((gauge for gauge in GAUGES_IN if gauge * MM_PER_IN >= thickness_mm - 1e-6), None)


def bend_limit(sheet_name: str, thickness_mm: float) -> BendLimit:
    """Return the printed smallest bend radius of the next thicker sheet.

    Parameters
    ----------
    sheet_name : str
        Alloy and temper as printed in the table. [-]
    thickness_mm : float
        Thickness. [mm]

    Returns
    -------
    BendLimit
        Radius from and to.

    Raises
    ------
    OutsideTable
        A sheet or a thickness that the table does not hold.

    Notes
    -----
    A thickness between two rows takes the thicker row, whose radius in thicknesses is larger.

    Examples
    --------
    >>> bend_limit("2024-T3", 0.8).radius_most_mm
    3.2

    References
    ----------
    ac43.13-1b-table-4-6
    """
    rows = [row for row in load_table("bend_radii").rows if row["alloy_temper"] == sheet_name]
    for row in rows:
        printed = float(row["thickness_in"]) * MM_PER_IN
        if printed >= thickness_mm - 1e-6:
            return BendLimit(
                thickness_mm,
                float(row["radius_min_xt"]) * thickness_mm,
                float(row["radius_max_xt"]) * thickness_mm,
                row["note"],
            )
    raise OutsideTable(f"Table 4-6 holds no bend radius for '{sheet_name}' of {thickness_mm:g} mm: try a test piece.")


def substitute(
    old: Sheet, old_thickness_mm: float, new: Sheet, new_thickness_mm: float | None = None, touches: Sequence[str] = ()
) -> Substitution:
    """Compare a new sheet with the original: equal strength, equal stiffness, equal mass.

    Parameters
    ----------
    old : Sheet
        What it was made of. [-]
    old_thickness_mm : float
        Its thickness. [mm]
    new : Sheet
        What it would be made of. [-]
    new_thickness_mm : float or None
        Thickness chosen; None takes the inch sheet equal in tensile and bending strength and bending stiffness. [mm]
    touches : sequence of str
        What the new part touches on each faying surface: material or finish as written. [-]

    Returns
    -------
    Substitution
        Ratios are new by old.

    Raises
    ------
    ValueError
        A thickness that is not above zero, or no inch sheet thick enough.
    OutsideTable
        A faying surface whose metal the list does not hold.

    Notes
    -----
    Flat sheet: tension F t, bending strength F t^2, stretching stiffness E t, bending stiffness E t^3, mass rho t. Joints,
    buckling and fatigue are not compared.

    Examples
    --------
    >>> answer = substitute(sheet("AZ31B"), 1.0, sheet("2024-T3"), 0.8)
    >>> round(answer.strength_ratio, 2), round(answer.mass_ratio, 2)
    (1.27, 1.25)

    References
    ----------
    bending-theory
    sheet-strengths
    mil-std-889b
    ac43.13-1b-table-4-6
    sheet-gauges
    """
    for value in (old_thickness_mm, new_thickness_mm):
        if value is not None and not (math.isfinite(value) and value > 0):
            raise ValueError("a thickness is above zero")
    strength, stiffness = old.ultimate_mpa / new.ultimate_mpa, old.e_gpa / new.e_gpa
    density = new.density_kg_m3 / old.density_kg_m3
    exact = (
        ("tensile strength", strength),
        ("bending strength", math.sqrt(strength)),
        ("stretching stiffness", stiffness),
        ("bending stiffness", stiffness ** (1 / 3)),
        ("mass", 1 / density),
    )
    thicknesses = tuple(
        Thickness(words, old_thickness_mm * ratio, gauge_for(old_thickness_mm * ratio), ratio * density)
        for words, ratio in exact
    )
    chosen = new_thickness_mm
    if chosen is None:
        asked = max(
            t.exact_mm
            for t in thicknesses
            if t.equal_in in ("tensile strength", "bending strength", "bending stiffness")
        )
        gauge = gauge_for(asked)
        if gauge is None:
            raise ValueError(f"no common inch sheet is {asked:.2f} mm thick: name the thickness")
        chosen = gauge * MM_PER_IN
    t = chosen / old_thickness_mm
    bend, bend_words = None, ""
    try:
        bend = bend_limit(new.bend_name, chosen)
        bend_words = (
            f"Smallest bend radius {bend.radius_least_mm:.2f} to {bend.radius_most_mm:.2f} mm (AC 43.13-1B Table 4-6)."
        )
    except OutsideTable as why:
        bend_words = str(why)
    couples = tuple(couple(new.series_name, other) for other in touches)
    cautions = ["Joints, buckling and fatigue are not compared: the engineer decides a substitution."]
    if "memory" in (old.status, new.status):
        cautions.append("Strengths are typical figures from memory: put in those of the material certificate.")
    if "Mg" in old.series_name or "Mg" in new.series_name:
        cautions.append("Magnesium: chips dry and covered, no water on a fire. It corrodes beside every other metal.")
    return Substitution(
        working=working(
            "F t, F t^2, E t, E t^3, rho t, new by old",
            [
                ("old", f"{old.name}, {old_thickness_mm:g}", "mm", old.source),
                ("new", f"{new.name}, {chosen:g}", "mm", new.source),
                ("strength old / new", f"{old.ultimate_mpa:g} / {new.ultimate_mpa:g}", "MPa", "tables"),
                ("E old / new", f"{old.e_gpa:g} / {new.e_gpa:g}", "GPa", "tables"),
                ("density old / new", f"{old.density_kg_m3:g} / {new.density_kg_m3:g}", "kg/m3", "tables"),
            ],
            ("bending-theory", "sheet-strengths", "mil-std-889b", "ac43.13-1b-table-4-6", "sheet-gauges"),
            tuple(cautions),
            "Flat sheet, elastic.",
        ),
        thicknesses=thicknesses,
        chosen_mm=chosen,
        strength_ratio=t / strength,
        bending_strength_ratio=t * t / strength,
        stiffness_ratio=t / stiffness,
        bending_stiffness_ratio=t**3 / stiffness,
        mass_ratio=t * density,
        mass_change_kg_m2=(chosen * new.density_kg_m3 - old_thickness_mm * old.density_kg_m3) / 1000,
        couples=couples,
        bend=bend,
        bend_words=bend_words,
        hand_over="design engineer, licensed inspector",
    )
