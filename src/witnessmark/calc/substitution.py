"""Substitution of sheet, castings and wood: equal strength, stiffness or mass, couples on faying surfaces, bend limits."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.calc.stock import CastingFactor, Sheet, casting_factor, gauge_for, metric_for
from witnessmark.calc.stock import UnknownSheet as UnknownSheet
from witnessmark.calc.stock import sheet as sheet
from witnessmark.calc.stock import stock as stock
from witnessmark.calc.surface.galvanic import Couple, couple
from witnessmark.calc.tables import OutsideTable, load_table
from witnessmark.calc.units import MM_PER_IN
from witnessmark.calc.working import Answer, working

# From memory.
WOOD_BESIDE_METAL = "Wood makes no couple of its own; wet, it corrodes the metal in it: seal bores and under heads."


@dataclass(frozen=True)
class BendLimit:
    """The smallest bend radius of a printed thickness, as printed: from and to."""

    thickness_mm: float
    radius_least_mm: float
    radius_most_mm: float
    note: str


@dataclass(frozen=True)
class Thickness:
    """A new thickness that is equal in one respect, and the inch and metric sheet that are no thinner; none but of sheet."""

    equal_in: str
    exact_mm: float
    gauge_in: float | None
    metric_mm: float | None
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
    casting: CastingFactor | None = None
    couple_words: tuple[str, ...] = ()


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


def plywood_bend(thickness_mm: float, plies: int) -> BendLimit:
    """Return the printed smallest bend radius of dry plywood, from along to across the face grain.

    Parameters
    ----------
    thickness_mm : float
        Thickness. [mm]
    plies : int
        Number of plies. [-]

    Returns
    -------
    BendLimit
        Radius at 0 or 45 degrees to the face grain, and at 90 degrees, at 10 % moisture.

    Raises
    ------
    OutsideTable
        Plies or a thickness that the table does not hold.

    Notes
    -----
    A thickness between two rows takes the thicker row's radius.

    Examples
    --------
    >>> round(plywood_bend(1.6, 3).radius_most_mm, 1)
    132.1

    References
    ----------
    ac43.13-1b-table-1-2
    """
    for row in load_table("plywood_bends").rows:
        if int(row["plies"]) == plies and float(row["thickness_in"]) * MM_PER_IN >= thickness_mm - 1e-6:
            return BendLimit(
                thickness_mm,
                float(row["min_radius_dry10pct_0_or_45deg_in"]) * MM_PER_IN,
                float(row["min_radius_dry10pct_90deg_in"]) * MM_PER_IN,
                row["note"],
            )
    raise OutsideTable(
        f"Table 1-2 holds no bend radius for plywood of {plies} plies and {thickness_mm:g} mm: try a test piece."
    )


def _bend(new: Sheet, chosen_mm: float) -> tuple[BendLimit | None, str]:
    if new.form == "casting":
        return None, "A casting is not bent."
    if new.form == "wood":
        return None, "No bend radius was read for solid wood: try a test piece, or laminate it. Ask engineering."
    try:
        if new.form == "plywood":
            bend = plywood_bend(chosen_mm, new.plies)
            return bend, (
                f"Smallest bend radius, dry, {bend.radius_least_mm:.0f} mm along or at 45 degrees to the face grain, "
                f"{bend.radius_most_mm:.0f} mm across it (AC 43.13-1B Table 1-2)."
            )
        bend = bend_limit(new.bend_name, chosen_mm)
    except OutsideTable as why:
        return None, str(why)
    return bend, (
        f"Smallest bend radius {bend.radius_least_mm:.2f} to {bend.radius_most_mm:.2f} mm (AC 43.13-1B Table 4-6)."
    )


def _cautions(old: Sheet, new: Sheet, casting: CastingFactor | None) -> list[str]:
    said = ["Joints, buckling and fatigue are not compared: the engineer decides a substitution."]
    if "memory" in (old.status, new.status):
        said.append("Strengths are typical figures from memory: put in those of the material certificate.")
    if casting is not None:
        said.append(
            f"The new casting's strength is divided by its casting factor {casting.factor:g}: {casting.words} "
            f"({casting.source}). Nothing is taken off the original."
        )
    if "casting" in (old.form, new.form):
        said.append(
            "Figures of castings are those of test bars cast apart. Bars cut from an aluminium sand casting need hold "
            "three quarters of that (civil engineering handbook, quoted): ask the foundry for cut bars."
        )
    if {"wood", "plywood"} & {old.form, new.form}:
        said += [
            "Wood's figures hold at 12 % moisture, clear and straight grained. Green it has 0.68 of the bending strength and "
            "0.84 of the stiffness (TM 5-852-4 Table 2-2); decay begins near 20 %. Measure the moisture of both.",
            "Grain not steeper than 1 in 15 (AC 43.13-1B Table 1-1, quoted): steeper grain is weaker, by how much is not "
            "reckoned. Strength is that of bending; along the grain it is taken for tension too, across it there is little.",
        ]
    if "plywood" in (old.form, new.form):
        said.append(
            "Plywood is reckoned of equal plies with the face grain along; glue makes it heavier: weigh a piece."
        )
    if "Mg" in old.series_name + new.series_name or "Magnesium" in (old.series_name, new.series_name):
        said.append("Magnesium: chips dry and covered, no water on a fire. It corrodes beside every other metal.")
    return said


def _couples(new: Sheet, touches: Sequence[str]) -> tuple[tuple[Couple, ...], tuple[str, ...]]:
    if new.series_name:
        found = tuple(couple(new.series_name, other) for other in touches)
        return found, tuple(each.sentence for each in found)
    if not touches:
        return (), ()
    if new.form in ("wood", "plywood"):
        words = WOOD_BESIDE_METAL
    else:
        words = f"The order of metals, as far as it was read, does not hold {new.name}: ask engineering beside {', '.join(touches)}."
    return (), (words,)


def substitute(
    old: Sheet,
    old_thickness_mm: float,
    new: Sheet,
    new_thickness_mm: float | None = None,
    touches: Sequence[str] = (),
    inspection: str = "",
) -> Substitution:
    """Compare new stock with the original: equal strength, equal stiffness, equal mass.

    Parameters
    ----------
    old : Sheet
        What it was made of. [-]
    old_thickness_mm : float
        Its thickness. [mm]
    new : Sheet
        What it would be made of. [-]
    new_thickness_mm : float or None
        Thickness chosen; None takes the inch sheet equal in tensile and bending strength and bending stiffness, of a
        casting or wood that thickness itself. [mm]
    touches : sequence of str
        What the new part touches on each faying surface: material or finish as written. [-]
    inspection : str
        How each new casting is looked at: visual, penetrant or radiographic; nothing is read as visual. [-]

    Returns
    -------
    Substitution
        Ratios are new by old.

    Raises
    ------
    ValueError
        A thickness that is not above zero, no inch sheet thick enough, or no such inspection.
    OutsideTable
        A faying surface whose metal the list does not hold.

    Notes
    -----
    Flat sheet, or bars and walls of one width: tension F t, bending strength F t^2, stretching stiffness E t, bending
    stiffness E t^3, mass rho t. A new casting's F is divided by its casting factor, the original's by none. Joints, buckling
    and fatigue are not compared.

    Examples
    --------
    >>> answer = substitute(sheet("AZ31B"), 1.0, sheet("2024-T3"), 0.8)
    >>> round(answer.strength_ratio, 2), round(answer.mass_ratio, 2)
    (1.27, 1.25)

    References
    ----------
    bending-theory
    sheet-strengths
    stock-strengths
    casting-factors
    plywood-plies
    mil-std-889b
    ac43.13-1b-table-4-6
    ac43.13-1b-table-1-2
    sheet-gauges
    """
    for value in (old_thickness_mm, new_thickness_mm):
        if value is not None and not (math.isfinite(value) and value > 0):
            raise ValueError("a thickness is above zero")
    casting = casting_factor(inspection) if new.form == "casting" else None
    divided = casting.factor if casting else 1.0
    strength, bending = (
        divided * old.tension_mpa / new.tension_mpa,
        divided * old.bending_mpa / new.bending_mpa,
    )
    stiffness, bent = old.stretching_gpa / new.stretching_gpa, old.bending_gpa / new.bending_gpa
    density = new.density_kg_m3 / old.density_kg_m3
    exact = (
        ("tensile strength", strength),
        ("bending strength", math.sqrt(bending)),
        ("stretching stiffness", stiffness),
        ("bending stiffness", bent ** (1 / 3)),
        ("mass", 1 / density),
    )
    sold = new.form == "sheet"
    thicknesses = tuple(
        Thickness(
            words,
            old_thickness_mm * ratio,
            gauge_for(old_thickness_mm * ratio) if sold else None,
            metric_for(old_thickness_mm * ratio) if sold else None,
            ratio * density,
        )
        for words, ratio in exact
    )
    chosen = new_thickness_mm
    if chosen is None:
        asked = max(
            t.exact_mm
            for t in thicknesses
            if t.equal_in in ("tensile strength", "bending strength", "bending stiffness")
        )
        gauge = gauge_for(asked) if sold else None
        if sold and gauge is None:
            raise ValueError(f"no common inch sheet is {asked:.2f} mm thick: name the thickness")
        chosen = gauge * MM_PER_IN if gauge else asked
    t = chosen / old_thickness_mm
    bend, bend_words = _bend(new, chosen)
    couples, couple_words = _couples(new, touches)
    cautions = _cautions(old, new, casting)
    factor = [("casting factor of the new", casting.factor, "-", casting.source)] if casting else []
    return Substitution(
        working=working(
            "F t, F t^2, E t, E t^3, rho t, new by old" + ("; the new casting's F by its factor" if casting else ""),
            [
                ("old", f"{old.name}, {old_thickness_mm:g}", "mm", old.source),
                ("new", f"{new.name}, {chosen:g}", "mm", new.source),
                ("strength old / new", f"{old.tension_mpa:.4g} / {new.tension_mpa:.4g}", "MPa", "tables"),
                ("E old / new", f"{old.stretching_gpa:.4g} / {new.stretching_gpa:.4g}", "GPa", "tables"),
                ("strength, E in bending, new", f"{new.bending_mpa:.4g}, {new.bending_gpa:.4g}", "MPa, GPa", "tables"),
                *factor,
                ("density old / new", f"{old.density_kg_m3:g} / {new.density_kg_m3:g}", "kg/m3", "tables"),
            ],
            _sources(old, new),
            tuple(cautions),
            "Flat sheet, or bars and walls of one width; elastic.",
        ),
        thicknesses=thicknesses,
        chosen_mm=chosen,
        strength_ratio=t / strength,
        bending_strength_ratio=t * t / bending,
        stiffness_ratio=t / stiffness,
        bending_stiffness_ratio=t**3 / bent,
        mass_ratio=t * density,
        mass_change_kg_m2=(chosen * new.density_kg_m3 - old_thickness_mm * old.density_kg_m3) / 1000,
        couples=couples,
        bend=bend,
        bend_words=bend_words,
        hand_over="design engineer, licensed inspector",
        casting=casting,
        couple_words=couple_words,
    )


def _sources(old: Sheet, new: Sheet) -> tuple[str, ...]:
    forms = {old.form, new.form}
    asked = (
        ("sheet-strengths", "sheet" in forms),
        ("stock-strengths", forms != {"sheet"}),
        ("casting-factors", new.form == "casting"),
        ("plywood-plies", "plywood" in forms),
        ("mil-std-889b", True),
        ("ac43.13-1b-table-4-6", new.form == "sheet"),
        ("ac43.13-1b-table-1-2", new.form == "plywood"),
        ("sheet-gauges", new.form == "sheet"),
    )
    return ("bending-theory", *(key for key, used in asked if used))
