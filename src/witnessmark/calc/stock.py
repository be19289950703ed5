"""Stock that a part is made of: sheet, castings and wood with published figures, and the thicknesses sheet is sold in."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from functools import cache

from witnessmark.calc.sources import Status
from witnessmark.calc.tables import load_table
from witnessmark.calc.units import MM_PER_IN

MPA_PER_KSI = 6.894757293

# Common inch thicknesses of sheet.
GAUGES_IN = (0.012, 0.016, 0.020, 0.025, 0.032, 0.040, 0.050, 0.063, 0.071, 0.080, 0.090, 0.100, 0.125, 0.160, 0.190)


# Common metric thicknesses of sheet.
METRIC_MM = (0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0)
# Across the grain birch has about a twentieth of its stiffness, from memory.
ACROSS_BY_ALONG = 0.05


class UnknownSheet(ValueError):
    """A sheet, casting or wood of which no figures are held; the message names those that are."""


@dataclass(frozen=True)
class Sheet:
    """A sheet, casting or wood; strengths may be the shop's own. Plywood bends otherwise than it stretches."""

    name: str
    ultimate_mpa: float
    e_gpa: float
    density_kg_m3: float
    series_name: str
    bend_name: str
    source: str
    status: Status
    form: str = "sheet"  # sheet, casting, wood or plywood
    note: str = ""
    plies: int = 1

    @property
    def shares(self) -> tuple[float, float]:
        """Shares of the plies' own figures that count in stretching and in bending, the face grain along."""
        return ply_shares(self.plies)

    @property
    def tension_mpa(self) -> float:
        return self.ultimate_mpa * self.shares[0]

    @property
    def bending_mpa(self) -> float:
        return self.ultimate_mpa * self.shares[1]

    @property
    def stretching_gpa(self) -> float:
        return self.e_gpa * self.shares[0]

    @property
    def bending_gpa(self) -> float:
        return self.e_gpa * self.shares[1]


@dataclass(frozen=True)
class CastingFactor:
    """By how much a new casting's strength is divided, for how each of them is looked at."""

    inspection: str
    factor: float
    words: str
    source: str
    status: Status


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


@cache
def _stock() -> tuple[tuple[str, Sheet], ...]:
    found = []
    for row in load_table("stock_strengths").rows:
        made = Sheet(
            row["stock"],
            float(row["ultimate_ksi"]) * MPA_PER_KSI,
            float(row["e_Msi"]) * MPA_PER_KSI,  # a million psi in GPa is a thousand psi in MPa
            float(row["density_kg_m3"]),
            row["series_name"],
            "",
            row["source"],
            row["status"],  # type: ignore[arg-type]  # load_table refuses other words
            row["form"],
            row["note"],
            3 if row["form"] == "plywood" else 1,
        )
        found += [(word, made) for word in {*row["words"].split(";"), row["stock"].lower()}]
    return tuple(sorted(found, key=lambda pair: -len(pair[0])))


def stock(text: str, ultimate_mpa: float | None = None) -> Sheet:
    """Return the casting, wood or sheet that the words name.

    Parameters
    ----------
    text : str
        Material and temper as written; of plywood its plies too, such as `birch plywood 5-ply` (else three). [-]
    ultimate_mpa : float or None
        Tensile strength where the shop knows it; else the published figure. [MPa]

    Returns
    -------
    Sheet
        With its figures.

    Raises
    ------
    UnknownSheet
        No word of it is held: a casting without its temper is not.
    ValueError
        A strength that is not above zero, or a number of plies that is not odd or above nine.

    Examples
    --------
    >>> round(stock("spruce").ultimate_mpa, 1), stock("birch plywood 5-ply").plies, stock("2024-T3").form
    (70.3, 5, 'sheet')

    References
    ----------
    stock-strengths
    sheet-strengths
    """
    if ultimate_mpa is not None and not (math.isfinite(ultimate_mpa) and ultimate_mpa > 0):
        raise ValueError("a strength is above zero")
    plain = text.lower()
    for word, made in _stock():
        if re.search(rf"(?<![\w-]){re.escape(word)}(?![\w-])", plain):
            if ultimate_mpa is not None:
                made = replace(made, ultimate_mpa=ultimate_mpa, source="given")
            plies = re.search(r"(?<![\d.])(\d{1,2})[ -]?pl(?:y|ies)\b", plain)
            if made.form == "plywood" and plies:
                count = int(plies[1])
                ply_shares(count)
                made = replace(made, plies=count)
            return made
    try:
        return sheet(text, ultimate_mpa)
    except UnknownSheet:
        held = ", ".join(row["stock"] for row in load_table("stock_strengths").rows)
        sheets = ", ".join(row["sheet"] for row in load_table("sheet_strengths").rows)
        raise UnknownSheet(
            f"No figures are held for '{text}'. Held are the sheets {sheets}; {held}. Name alloy and temper; of another "
            "material ask engineering."
        ) from None


def ply_shares(plies: int) -> tuple[float, float]:
    """Return what equal plies, crossed by turns with the face grain along, keep of the wood's own stiffness.

    Parameters
    ----------
    plies : int
        Number of plies; one is solid wood. [-]

    Returns
    -------
    tuple of float
        Share in stretching, and in bending along the face grain.

    Raises
    ------
    ValueError
        A number that is not odd, or above nine.

    Notes
    -----
    Each ply counts by its thickness in stretching and by its own second moment about the middle in bending; a ply across
    counts a twentieth. Strength is taken to go the same way.

    Examples
    --------
    >>> [round(share, 3) for share in ply_shares(3)]
    [0.683, 0.965]

    References
    ----------
    plywood-plies
    """
    if plies not in (1, 3, 5, 7, 9):
        raise ValueError(f"plywood has 3, 5, 7 or 9 plies, not {plies}")
    counts = [1.0 if ply % 2 == 0 else ACROSS_BY_ALONG for ply in range(plies)]
    edges = [(2 * ply / plies - 1, 2 * (ply + 1) / plies - 1) for ply in range(plies)]
    bending = sum(count * (high**3 - low**3) / 2 for count, (low, high) in zip(counts, edges, strict=True))
    return sum(counts) / plies, bending


def casting_factor(inspection: str = "") -> CastingFactor:
    """Return the casting factor for how each new casting is looked at.

    Parameters
    ----------
    inspection : str
        `visual`, `penetrant` or `radiographic`; nothing is read as visual, the largest factor. [-]

    Returns
    -------
    CastingFactor
        By which the strength of the new casting is divided.

    Raises
    ------
    ValueError
        Another word.

    Examples
    --------
    >>> casting_factor().factor, casting_factor("radiographic").factor
    (2.0, 1.25)

    References
    ----------
    casting-factors
    """
    rows = load_table("casting_factors").rows
    wanted = inspection.strip().lower() or "visual"
    row = next((r for r in rows if r["inspection"] == wanted), None)
    if row is None:
        held = ", ".join(r["inspection"] for r in rows)
        raise ValueError(f"'{inspection[:30]}' is no way to look at a casting: write one of {held}")
    return CastingFactor(
        row["inspection"],
        float(row["factor"]),
        row["words"],
        row["source"],
        row["status"],  # type: ignore[arg-type]  # load_table refuses other words
    )


def metric_for(thickness_mm: float) -> float | None:
    """Return the common metric sheet that is no thinner.

    Parameters
    ----------
    thickness_mm : float
        Thickness wanted. [mm]

    Returns
    -------
    float or None
        Thickness; None where it is thicker than any. [mm]

    Raises
    ------
    ValueError
        A thickness that is not above zero.

    Examples
    --------
    >>> metric_for(0.032 * 25.4), metric_for(9.0)
    (1.0, None)

    References
    ----------
    sheet-gauges
    """
    if not (math.isfinite(thickness_mm) and thickness_mm > 0):
        raise ValueError("a thickness is above zero")
    return next((made for made in METRIC_MM if made >= thickness_mm - 1e-6), None)


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
