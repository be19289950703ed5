"""Holes: distance to the edge, and the countersink that a sheet can take."""

from __future__ import annotations

import math
from dataclasses import dataclass

from witnessmark.calc.working import Answer, working

MIN_RATIO = 2.0
MIN_RATIO_FLUSH = 2.5
MAX_RATIO = 4.0


@dataclass(frozen=True)
class EdgeCheck(Answer):
    """Edge distance in diameters beside the guidance; it says what to ask, never what is allowed."""

    ratio: float
    minimum: float
    below: bool
    sentence: str


def _shown(ratio: float, limit: float) -> str:
    # 1.996 must not be printed as 2.00 beside "below 2".
    for digits in (2, 3, 4, 6):
        text = f"{ratio:.{digits}f}"
        if (float(text) < limit) == (ratio < limit) and (float(text) > limit) == (ratio > limit):
            return text
    return f"{ratio:.2f}"


def edge_distance(edge_mm: float, diameter_mm: float, flush: bool = False) -> EdgeCheck:
    """Compare the edge distance of a hole with the guidance.

    Parameters
    ----------
    edge_mm : float
        From the centre of the hole to the nearest edge. [mm]
    diameter_mm : float
        Diameter of the fastener. [mm]
    flush : bool
        True for a countersunk or dimpled fastener. [-]

    Returns
    -------
    EdgeCheck
        Ratio e/D, guidance minimum, whether it lies below, and the sentence to show.

    Raises
    ------
    ValueError
        A figure that is not above zero.

    Notes
    -----
    Guidance: at least 2 D, flush 2.5 D, at most 4 D. The flush figure is quoted, not read in its document.

    Examples
    --------
    >>> edge_distance(7.2, 4.0).sentence
    'Measured 1.80 D, guidance minimum 2 D: ask engineering.'

    References
    ----------
    edge-distance-2d
    edge-distance-flush
    """
    for what, value in (("the edge distance", edge_mm), ("the diameter", diameter_mm)):
        if not math.isfinite(value) or value <= 0:
            raise ValueError(f"{what} must be above zero, not {value}")
    ratio = round(edge_mm / diameter_mm, 9)
    minimum = MIN_RATIO_FLUSH if flush else MIN_RATIO
    below = ratio < minimum
    shown = _shown(ratio, minimum)
    if below:
        sentence = f"Measured {shown} D, guidance minimum {minimum:g} D: ask engineering."
    elif ratio > MAX_RATIO:
        sentence = f"Measured {_shown(ratio, MAX_RATIO)} D, guidance maximum {MAX_RATIO:g} D: ask engineering."
    else:
        sentence = f"Measured {shown} D, guidance minimum {minimum:g} D: not below the guidance."
    return EdgeCheck(
        working=working(
            "e/D",
            [
                ("e", edge_mm, "mm", "measured"),
                ("D", diameter_mm, "mm", "fastener"),
                ("e/D", ratio, "-", "computed"),
                ("guidance minimum", minimum, "-", "flush" if flush else "protruding"),
            ],
            ("edge-distance-flush",) if flush else ("edge-distance-2d",),
            (sentence,) if below or ratio > MAX_RATIO else (),
            "Solid rivets in sheet; the limit called out for the aircraft comes first.",
        ),
        ratio=ratio,
        minimum=minimum,
        below=below,
        sentence=sentence,
    )


def deepest_countersink(sheet_mm: float, land_mm: float = 0.2) -> float:
    """Return the deepest head that leaves a cylindrical land in the sheet; a higher head is dimpled.

    Parameters
    ----------
    sheet_mm : float
        Thickness of the outer sheet. [mm]
    land_mm : float
        Cylindrical hole to leave. [mm]

    Returns
    -------
    float
        Head height. [mm]

    Raises
    ------
    ValueError
        A sheet that is not thicker than its land, or a negative land.

    Examples
    --------
    >>> round(deepest_countersink(0.8), 3)
    0.6

    References
    ----------
    lecture-notes-rivets
    """
    if not math.isfinite(sheet_mm) or not 0 <= land_mm < sheet_mm:
        raise ValueError(f"a sheet of {sheet_mm} mm leaves no land of {land_mm} mm")
    return sheet_mm - land_mm
