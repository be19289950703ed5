"""Dimpled sheets lying in each other: what dimple each of them wants, and whether the last may be countersunk."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.calc.fasteners.flush import least_sheet, nested_mouth
from witnessmark.calc.fasteners.length import cone_height
from witnessmark.calc.working import Answer, working

MOST_SHEETS = 5
# Past this a sheet is countersunk, not dimpled.
DIMPLE_TO_MM = 1.6
MOST_SHEET_MM = 25.0  # thicker than the fitting that a last sheet may be


@dataclass(frozen=True)
class Dimple:
    """One sheet's dimple: width and depth at its own surface, how much wider than the head, where its cone starts."""

    sheet: int
    thickness_mm: float
    mouth_mm: float
    depth_mm: float
    wider_mm: float
    down_mm: float


@dataclass(frozen=True)
class NestedDimples(Answer):
    """Every sheet's dimple, outermost first; `least_last_mm` is the last sheet's least thickness to countersink it."""

    dimples: tuple[Dimple, ...]
    least_last_mm: float
    last_may_be_countersunk: bool
    sentence: str


def nesting_depth(outer_mm: float, angle_deg: float) -> float:
    """Return how far down the axis a dimple's inner cone lies below its outer one.

    Parameters
    ----------
    outer_mm : float
        Thickness of the dimpled sheet. [mm]
    angle_deg : float
        Included angle of the dimple. [deg]

    Returns
    -------
    float
        T / sin(a/2). [mm]

    Raises
    ------
    ValueError
        A figure that is not above zero, an angle of 180 degrees or more.

    Notes
    -----
    The sheet keeps its thickness square to the cone; bends are sharp.

    Examples
    --------
    >>> round(nesting_depth(1.0, 120.0), 3)
    1.155

    References
    ----------
    cone-geometry
    nested-dimple-rule
    """
    if not math.isfinite(outer_mm) or outer_mm <= 0 or not 0 < angle_deg < 180:
        raise ValueError("a sheet is above zero and an angle lies between 0 and 180 degrees")
    return outer_mm / math.sin(math.radians(angle_deg) / 2)


def nested_dimples(head_mm: float, head_deg: float, shank_mm: float, sheets_mm: Sequence[float]) -> NestedDimples:
    """Return the dimple of each sheet of a stack that is dimpled together.

    Parameters
    ----------
    head_mm : float
        Diameter of the flush head at its rim. [mm]
    head_deg : float
        Its included angle, and that of every dimple. [deg]
    shank_mm : float
        Shank of the rivet. [mm]
    sheets_mm : sequence of float
        Thicknesses, outermost first. [mm]

    Returns
    -------
    NestedDimples
        Each sheet's dimple, and the least thickness at which the last sheet may be countersunk instead.

    Raises
    ------
    ValueError
        No sheet or more than five, a figure that cannot be, a head no wider than its shank, a sheet too thick to dimple.

    Notes
    -----
    The outer sheet's dimple is as wide as the head. Each sheet below wants one wider by 2 tan(a/2) T (1/sin(a/2) - 1)
    for the sheets over it. Sharp bends, no thinning, no spring-back: the dies are tried on scrap of the same sheets.

    Examples
    --------
    >>> found = nested_dimples(7.4, 120, 3.5, [0.8, 0.8, 1.0])
    >>> [round(each.mouth_mm, 2) for each in found.dimples]
    [7.4, 7.83, 8.26]

    References
    ----------
    cone-geometry
    nested-dimple-rule
    lecture-notes-rivets
    """
    if not 1 <= len(sheets_mm) <= MOST_SHEETS:
        raise ValueError(f"a stack of dimples has 1 to {MOST_SHEETS} sheets, not {len(sheets_mm)}")
    for what, value in (("head", head_mm), ("shank", shank_mm)):
        if not math.isfinite(value) or not 0.5 <= value <= 40:
            raise ValueError(f"the {what} of {value:g} mm is outside 0.5 to 40 mm: look at its unit")
    for number, sheet in enumerate(sheets_mm, 1):
        if not math.isfinite(sheet) or sheet <= 0:
            raise ValueError(f"sheet {number} must be above zero, not {sheet:g}")
        if sheet > MOST_SHEET_MM:
            raise ValueError(f"sheet {number} of {sheet:g} mm is past {MOST_SHEET_MM:g} mm: look at its unit")
        if sheet > DIMPLE_TO_MM and number < len(sheets_mm):
            raise ValueError(
                f"sheet {number} of {sheet:g} mm is too thick to dimple (past {DIMPLE_TO_MM:g} mm): countersink it, "
                "and nothing nests below"
            )
    cone_height(head_mm, shank_mm, head_deg)
    dimples = []
    over = 0.0
    for number, sheet in enumerate(sheets_mm, 1):
        mouth = nested_mouth(head_mm, over, head_deg) if over else head_mm
        down = nesting_depth(over, head_deg) if over else 0.0
        dimples.append(Dimple(number, sheet, mouth, cone_height(mouth, shank_mm, head_deg), mouth - head_mm, down))
        over += sheet
    last = dimples[-1]
    least = least_sheet(last.mouth_mm, shank_mm, head_deg)
    may = last.thickness_mm >= least - 1e-9
    words = ", ".join(f"sheet {d.sheet} {d.mouth_mm:.2f} mm" for d in dimples)
    final = (
        f"The last sheet of {last.thickness_mm:g} mm may be countersunk instead: it wants {least:.2f} mm"
        if may
        else f"The last sheet of {last.thickness_mm:g} mm is dimpled: to countersink it, it would have to be {least:.2f} mm"
    )
    cautions = [
        "Dies for each width, or the same dies pressed deeper: try them on scrap of the same sheets. "
        "Wear eyes and ears, and keep hands out of the squeezer."
    ]
    if last.thickness_mm > DIMPLE_TO_MM and not may:
        cautions.append(
            f"The last sheet is past {DIMPLE_TO_MM:g} mm, where dimpling ends, and too thin to countersink: ask."
        )
    return NestedDimples(
        working=working(
            "mouth below = head + 2 tan(a/2) T (1/sin(a/2) - 1), T = all sheets over it",
            [
                ("head", head_mm, "mm", f"{head_deg:g} deg"),
                ("shank", shank_mm, "mm", "size"),
                *(
                    (f"sheet {d.sheet}, {d.thickness_mm:g} mm: mouth", round(d.mouth_mm, 3), "mm", "computed")
                    for d in dimples
                ),
                *((f"sheet {d.sheet}: depth", round(d.depth_mm, 3), "mm", "cone to the shank") for d in dimples),
                ("last sheet to countersink, at least", round(least, 3), "mm", "its cone and a land of 0.2 mm"),
            ],
            ("cone-geometry", "nested-dimple-rule", "lecture-notes-rivets", "dimple-practice"),
            tuple(cautions),
            "Sharp bends, like angles, sheets that keep their thickness; sheets to 1.6 mm.",
        ),
        dimples=tuple(dimples),
        least_last_mm=least,
        last_may_be_countersunk=may,
        sentence=f"Dimple at its own surface: {words}. {final}.",
    )
