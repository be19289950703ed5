"""Strength of one row of rivets, its weakest way to fail, and how many rivets a splice wants."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from witnessmark.calc.fasteners.length import cone_height
from witnessmark.calc.tables import OutsideTable
from witnessmark.calc.working import Answer, working

Rounding = Literal["frame", "sheet"]
# Sheet's bearing and rivet's shear over the sheet's tensile strength that reproduce each table; 4-9's are printed.
AC_TABLES = {"4-9": (0.40, 1.60), "4-10": (0.50, 1.60), "4-11": (0.70, 1.65)}


@dataclass(frozen=True)
class Sheet:
    """One sheet of a joint with the strengths that the user vouches for."""

    thickness_mm: float
    ftu_mpa: float
    fbru_mpa: float
    fsu_mpa: float


@dataclass(frozen=True)
class Countersink:
    """A seat cut into the first sheet: width at its surface and included angle."""

    head_mm: float
    angle_deg: float


@dataclass(frozen=True)
class RowStrength(Answer):
    """What one rivet with its strip of sheet carries, by each way to fail; the lowest governs.

    `sunk_mm` is the depth that a countersink takes out of the first sheet, `uncut_bearing_n` the bearing without it.
    """

    shear_n: float
    bearing_n: float
    net_section_n: float
    edge_n: float
    governs: str
    load_n: float
    per_metre_n: float
    factor: float
    sunk_mm: float = 0.0
    uncut_bearing_n: float = 0.0


def _figure(what: str, value: float, most: float) -> float:
    if not math.isfinite(value) or value <= 0:
        raise ValueError(f"{what} must be above zero, not {value}")
    if value > most:
        raise ValueError(f"{what} of {value:g} is past {most:g}: look at its unit")
    return value


def thin_sheet_factor(diameter_mm: float, sheet_mm: float, double: bool = False) -> float:
    """Return the factor on a rivet's shear in a sheet that is thin for its diameter.

    Parameters
    ----------
    diameter_mm : float
        Nominal diameter of the rivet. [mm]
    sheet_mm : float
        Thinner outer sheet in single shear, middle sheet in double. [mm]
    double : bool
        True for double shear. [-]

    Returns
    -------
    float
        Never above 1.

    Raises
    ------
    ValueError
        A figure that is not above zero or is absurd.
    OutsideTable
        A sheet below 0.18 D, where the handbook asks for a test.

    Notes
    -----
    1 - .04 (D/t - 3) single, 1 - .13 (D/t - 1.5) double. Fits all 49 printed values; most printed thickness labels
    are wrong in the copy that was read.

    Examples
    --------
    >>> round(thin_sheet_factor(3 / 16 * 25.4, 0.050 * 25.4), 3)
    0.97

    References
    ----------
    mil-hdbk-5j-thin-sheet
    """
    ratio = _figure("the diameter", diameter_mm, 30) / _figure("the sheet", sheet_mm, 50)
    if ratio > 1 / 0.18 + 1e-9:
        raise OutsideTable(f"a sheet of {sheet_mm:g} mm is below 0.18 D of a {diameter_mm:g} mm rivet: test it, or ask")
    factor = 1 - 0.13 * (ratio - 1.5) if double else 1 - 0.04 * (ratio - 3)
    return min(1.0, factor)


def row_strength(
    diameter_mm: float,
    hole_mm: float,
    rivet_fsu_mpa: float,
    sheets: Sequence[Sheet],
    pitch_mm: float,
    edge_mm: float,
    planes: int = 1,
    countersink: Countersink | None = None,
) -> RowStrength:
    """Return what one rivet of a row carries and which way to fail governs.

    Parameters
    ----------
    diameter_mm : float
        Nominal diameter of the rivet. [mm]
    hole_mm : float
        Hole that the driven rivet fills. [mm]
    rivet_fsu_mpa : float
        Shear strength of the driven rivet. [MPa]
    sheets : sequence of Sheet
        The sheets that carry the load, outermost first; three in double shear. [-]
    pitch_mm : float
        From rivet to rivet. [mm]
    edge_mm : float
        From the centre of the hole to the edge that the load points at. [mm]
    planes : int
        1 for single shear, 2 for double. [-]
    countersink : Countersink or None
        A seat cut into the first sheet; None for a protruding head or a dimple. [-]

    Returns
    -------
    RowStrength
        Four loads a rivet, the lowest, and the lowest a metre of row.

    Raises
    ------
    ValueError
        A figure that is not above zero or absurd, a hole smaller than its rivet or wider than the pitch, a missing sheet.
    OutsideTable
        A sheet too thin for the rivet.

    Notes
    -----
    Shear on the hole's area with the thin-sheet factor; bearing Dh t Fbr; net section (p - Dh) t Ftu; edge
    2 t Fsu (e - Dh/2). Static strength of one row; no fatigue, no bending of a lap. A countersunk sheet bears and tears
    out on its thickness less half the depth of the seat, and its net section loses the cone.

    Examples
    --------
    >>> dural = Sheet(1.0, 400.0, 640.0, 240.0)
    >>> row_strength(3.0, 3.1, 207.0, [dural, dural], 20.0, 9.0).governs
    'shear'

    References
    ----------
    mil-hdbk-5j-thin-sheet
    mil-hdbk-5j-unit-bearing
    joint-statics
    bs5950-countersunk
    """
    _figure("the diameter", diameter_mm, 30)
    _figure("the hole", hole_mm, 40)
    _figure("the rivet's shear strength", rivet_fsu_mpa, 1500)
    _figure("the pitch", pitch_mm, 500)
    _figure("the edge distance", edge_mm, 500)
    if hole_mm < diameter_mm - 0.05:
        raise ValueError(f"a hole of {hole_mm:g} mm takes no rivet of {diameter_mm:g} mm")
    if hole_mm >= pitch_mm or edge_mm <= hole_mm / 2:
        raise ValueError("the hole reaches its neighbour or the edge: look at pitch and edge distance")
    if planes not in (1, 2) or len(sheets) < planes + 1:
        raise ValueError(
            f"{'one shear plane wants' if planes == 1 else f'{planes} shear planes want'} at least {planes + 1} sheets, "
            f"not {len(sheets)}: a layer is missing"
        )
    for sheet in sheets:
        _figure("a sheet", sheet.thickness_mm, 50)
        for value in (sheet.ftu_mpa, sheet.fbru_mpa, sheet.fsu_mpa):
            _figure("a sheet's strength", value, 4000)
    double = planes == 2
    loaded = [sheets[1]] if double else [sheets[0], sheets[-1]]
    factor = min(thin_sheet_factor(diameter_mm, sheet.thickness_mm, double) for sheet in loaded)
    if factor <= 0:
        raise OutsideTable("the thin-sheet factor falls to nothing here: test it, or ask")
    area = math.pi * hole_mm**2 / 4
    sunk, lost_mm2 = _sunk(countersink, sheets[0].thickness_mm, diameter_mm, hole_mm)
    uncut = [_Carrier(s, s.thickness_mm, (pitch_mm - hole_mm) * s.thickness_mm) for s in sheets]
    first = _Carrier(sheets[0], sheets[0].thickness_mm - sunk / 2, uncut[0].net_mm2 - lost_mm2)
    if first.net_mm2 <= 0:
        raise ValueError("the countersink reaches its neighbour: look at pitch and head")
    carriers = _paths([first, *uncut[1:]], double)
    ways = {
        "shear": planes * rivet_fsu_mpa * area * factor,
        "bearing": _bearing_n(carriers, hole_mm),
        "net section": min(sum(c.net_mm2 * c.sheet.ftu_mpa for c in path) for path in carriers),
        "edge": min(sum(2 * c.bears_mm * c.sheet.fsu_mpa * (edge_mm - hole_mm / 2) for c in path) for path in carriers),
    }
    governs = min(ways, key=lambda way: ways[way])
    load = ways[governs]
    rows: list[tuple[str, float | int | str, str, str]] = [
        ("D", diameter_mm, "mm", "size"),
        ("Dh", hole_mm, "mm", "hole"),
        ("thin-sheet factor", round(factor, 4), "-", "computed"),
        *((way, round(n), "N", "computed") for way, n in ways.items()),
    ]
    sources: tuple[str, ...] = ("mil-hdbk-5j-thin-sheet", "mil-hdbk-5j-unit-bearing", "joint-statics")
    cautions: tuple[str, ...] = ()
    uncut_n = _bearing_n(_paths(uncut, double), hole_mm)
    if countersink is not None:
        sources += ("bs5950-countersunk",)
        rows[3:3] = [
            ("countersink's depth in the first sheet", round(sunk, 3), "mm", f"{countersink.angle_deg:g} deg"),
            ("first sheet bears on", round(first.bears_mm, 3), "mm", "t - depth / 2"),
            ("bearing without the countersink", round(uncut_n), "N", "computed"),
        ]
        if sunk >= sheets[0].thickness_mm - 1e-9:
            cautions = (
                "The countersink goes through the first sheet: a knife edge. Its strength is set down to compare; "
                "such a sheet is dimpled.",
            )
    return RowStrength(
        working=working(
            "least of: planes Fsu (pi/4) Dh^2 k; Dh t Fbr; (p - Dh) t Ftu; 2 t Fsu (e - Dh/2)",
            rows,
            sources,
            (*cautions, "A comparison for whoever is asked to decide; it is no leave to substitute."),
            "Static strength of one row; t at least 0.18 D; strengths as typed.",
        ),
        shear_n=ways["shear"],
        bearing_n=ways["bearing"],
        net_section_n=ways["net section"],
        edge_n=ways["edge"],
        governs=governs,
        load_n=load,
        per_metre_n=load / pitch_mm * 1000,
        factor=factor,
        sunk_mm=sunk,
        uncut_bearing_n=uncut_n,
    )


@dataclass(frozen=True)
class _Carrier:
    """A sheet with what bears of its thickness and what is left of its net section."""

    sheet: Sheet
    bears_mm: float
    net_mm2: float


def _sunk(seat: Countersink | None, sheet_mm: float, diameter_mm: float, hole_mm: float) -> tuple[float, float]:
    """The depth that a seat takes out of its sheet, and the net section that it takes beyond the hole."""
    if seat is None:
        return 0.0, 0.0
    _figure("the head", seat.head_mm, 40)
    if seat.head_mm <= hole_mm:
        raise ValueError(f"a head of {seat.head_mm:g} mm falls through a hole of {hole_mm:g} mm")
    depth = min(sheet_mm, cone_height(seat.head_mm, diameter_mm, seat.angle_deg))
    bottom = max(hole_mm, seat.head_mm - 2 * depth * math.tan(math.radians(seat.angle_deg) / 2))
    return depth, depth * ((seat.head_mm + bottom) / 2 - hole_mm)


def _bearing_n(paths: Sequence[Sequence[_Carrier]], hole_mm: float) -> float:
    return min(sum(hole_mm * c.bears_mm * c.sheet.fbru_mpa for c in path) for path in paths)


def _paths(sheets: Sequence[_Carrier], double: bool) -> list[list[_Carrier]]:
    # In double shear the middle sheet carries alone what the two outer ones carry together.
    return [[sheets[1]], [sheets[0], sheets[-1]]] if double else [[sheets[0]], [sheets[-1]]]


def rivets_per_inch(table: str, hole_in: float, sheet_in: float) -> float:
    """Return the rivets an inch that a handbook table's own note asks for.

    Parameters
    ----------
    table : str
        `4-9`, `4-10` or `4-11`. [-]
    hole_in : float
        Nominal hole of the rivet. [in]
    sheet_in : float
        Thickness of the sheet. [in]

    Returns
    -------
    float
        Rivets an inch, not rounded. [1/in]

    Raises
    ------
    OutsideTable
        A table or a sheet that is not printed.
    ValueError
        A hole that is not above zero or absurd.

    Notes
    -----
    max(1/(kb Dh), t/(ks (pi/4) Dh^2)), sheets of .016 to .128 in. The tables differ in the alloy they speak of; two
    of them name the same one. The user chooses, and 4-9 asks for the most rivets.

    Examples
    --------
    >>> round(rivets_per_inch("4-10", 0.1285, 0.032), 1)
    4.9

    References
    ----------
    ac43.13-1b-tables-4-9
    """
    if table not in AC_TABLES:
        raise OutsideTable(f"no table {table!r}; there are {', '.join(AC_TABLES)}")
    if not 0.016 - 1e-9 <= sheet_in <= 0.128 + 1e-9:
        raise OutsideTable(f"table {table} runs from .016 to .128 in, not to {sheet_in:g}")
    _figure("the hole", hole_in, 0.5)
    shear, bearing = AC_TABLES[table]
    return max(1 / (bearing * hole_in), sheet_in / (shear * math.pi / 4 * hole_in**2))


def splice_count(rate_per_in: float, width_in: float, percent: float = 100.0, rounding: Rounding = "frame") -> int:
    """Return the rivets on each side of a cut.

    Parameters
    ----------
    rate_per_in : float
        Rivets an inch, as printed or computed. [1/in]
    width_in : float
        Width of the part across the cut. [in]
    percent : float
        Share that the table's notes allow for this kind of part. [%]
    rounding : str
        `frame`: count up, percentage, count up again; `sheet`: percentage on the rate first. [-]

    Returns
    -------
    int
        Rivets a side.

    Raises
    ------
    ValueError
        A figure that is not above zero or absurd, a percentage above 100, an unknown order of rounding.

    Notes
    -----
    Both orders are in print and may differ by one rivet: show both.

    Examples
    --------
    >>> splice_count(6.2, 0.6, 60), splice_count(4.9, 10, 75, "sheet")
    (3, 37)

    References
    ----------
    ac43.13-1b-4-58g
    ac43.13-1b-fig-4-20
    """
    _figure("the rate", rate_per_in, 30)
    _figure("the width", width_in, 500)
    _figure("the percentage", percent, 100)
    if rounding == "frame":
        return _up(_up(rate_per_in * width_in) * percent / 100)
    if rounding == "sheet":
        return _up(rate_per_in * percent / 100 * width_in)
    raise ValueError(f"rounding is frame or sheet, not {rounding!r}")


def _up(value: float) -> int:
    return math.ceil(round(value, 9))
