"""A flush head in its dimple or countersink: how proud it stands, where it touches, what is left unfilled."""

from __future__ import annotations

import math
from dataclasses import dataclass

from witnessmark.calc.fasteners.holes import deepest_countersink
from witnessmark.calc.fasteners.length import cone_height
from witnessmark.calc.working import Answer, working

PROUD_MM = 0.10
LOW_MM = 0.05
GAP_MM = 0.05


@dataclass(frozen=True)
class Seating(Answer):
    """The head's rim over the sheet (below it when negative), the dome over that, and the gap where it does not touch."""

    rim_mm: float
    top_mm: float
    gap_mm: float
    touches: str
    accepted: bool
    sentence: str


def seating(
    head_mm: float,
    head_deg: float,
    mouth_mm: float,
    seat_deg: float,
    hole_mm: float,
    shank_mm: float,
    dome_mm: float = 0.0,
    proud_mm: float = PROUD_MM,
    low_mm: float = LOW_MM,
) -> Seating:
    """Return how a flush head sits in a seat of any other angle and width.

    Parameters
    ----------
    head_mm : float
        Diameter of the head at its rim. [mm]
    head_deg : float
        Included angle of the head. [deg]
    mouth_mm : float
        Diameter of the dimple or countersink at the surface; for a die or cutter, the head it was made for. [mm]
    seat_deg : float
        Included angle of the seat. [deg]
    hole_mm : float
        Hole at the bottom of the seat. [mm]
    shank_mm : float
        Shank of the rivet. [mm]
    dome_mm : float
        Height of a domed top over its rim; 0 for a flat one. [mm]
    proud_mm : float
        Most that the rim may stand over the sheet. [mm]
    low_mm : float
        Most that the rim may lie below the sheet, and the widest gap between head and seat. [mm]

    Returns
    -------
    Seating
        Heights, the gap along the axis, where head and seat touch, and whether it is within the limits.

    Raises
    ------
    ValueError
        A figure not above zero, absurd or in another unit, a head no wider than its shank, a mouth no wider than its hole, an angle of 180 or more.

    Notes
    -----
    Two cones on one axis, nothing yields. Driving closes part of a gap; a gap is still metal that carries nothing.
    The usual limits are from memory; the drawing's own come first.

    Examples
    --------
    >>> seating(6.0, 120, 6.0, 120, 3.1, 3.0).rim_mm
    0.0
    >>> seating(5.6, 100, 6.0, 120, 3.3, 3.2).touches
    'at the hole'

    References
    ----------
    cone-geometry
    flushness-practice
    """
    figures = (("head", head_mm), ("seat", mouth_mm), ("hole", hole_mm), ("shank", shank_mm))
    for what, value in figures:
        if not math.isfinite(value) or not 0.5 <= value <= 40:
            raise ValueError(f"the {what} of {value:g} mm is outside 0.5 to 40 mm: look at its unit")
    if not math.isfinite(dome_mm) or not 0 <= dome_mm <= head_mm / 2:
        raise ValueError(f"a dome of {dome_mm:g} mm does not belong to a head of {head_mm:g} mm")
    if min(proud_mm, low_mm) < 0 or not math.isfinite(proud_mm + low_mm):
        raise ValueError("a limit is not negative")
    cone_height(head_mm, shank_mm, head_deg)
    if hole_mm < shank_mm - 0.05:
        raise ValueError(f"a hole of {hole_mm:g} mm takes no shank of {shank_mm:g} mm")
    if mouth_mm <= hole_mm:
        raise ValueError(
            f"a seat {mouth_mm:g} mm wide at its mouth over a hole of {hole_mm:g} mm is no seat: a countersink or a dimple "
            "is wider than its hole. Measure across its mouth, at the face of the sheet"
        )
    cone_height(mouth_mm, hole_mm, seat_deg)
    head_slope = 2 * math.tan(math.radians(head_deg) / 2)
    seat_slope = 2 * math.tan(math.radians(seat_deg) / 2)
    wide = min(head_mm, mouth_mm)
    narrow = min(hole_mm, wide)

    def over(at_mm: float) -> float:
        return (head_mm - at_mm) / head_slope - (mouth_mm - at_mm) / seat_slope

    # Both depths are straight lines over the diameter, so the first touch is at one end or, with like angles, all along.
    at_rim, at_hole = over(wide), over(narrow)
    rim = round(max(at_rim, at_hole), 6) + 0.0
    gap = round(abs(at_rim - at_hole), 6)
    touches = "all along" if gap < 1e-6 else ("at the rim" if at_rim > at_hole else "at the hole")
    accepted = -low_mm - 1e-9 <= rim <= proud_mm + 1e-9 and gap <= max(low_mm, 0) + 1e-9
    stands = f"{rim:.2f} mm proud" if rim > 0.005 else f"{-rim:.2f} mm low" if rim < -0.005 else "flush"
    filled = "" if gap < 0.005 else f", under-filled: it touches {touches} alone and leaves {gap:.2f} mm along the axis"
    verdict = "within the limits" if accepted else "not within the limits: take the die or cutter of this rivet"
    sentence = f"The rim sits {stands}{filled}; {verdict}."
    return Seating(
        working=working(
            "rim = most over all D of (head - D)/(2 tan a/2) - (seat - D)/(2 tan b/2)",
            [
                ("head", head_mm, "mm", f"{head_deg:g} deg"),
                ("seat", mouth_mm, "mm", f"{seat_deg:g} deg"),
                ("rim over the sheet", rim, "mm", "computed"),
                ("dome over the sheet", rim + dome_mm, "mm", "computed"),
                ("gap", gap, "mm", "computed"),
                ("limits", f"+{proud_mm:g}, -{low_mm:g}", "mm", "asked for"),
            ],
            ("cone-geometry", "flushness-practice"),
            () if accepted else (sentence,),
            "Rigid cones on one axis.",
        ),
        rim_mm=rim,
        top_mm=rim + dome_mm,
        gap_mm=gap,
        touches=touches,
        accepted=accepted,
        sentence=sentence,
    )


@dataclass(frozen=True)
class Shaved(Answer):
    """A head that stands proud, shaved down to the sheet: what comes off, and the width and cone that stay."""

    off_mm: float
    left_mm: float
    left_cone_mm: float
    sentence: str


def shaved(head_mm: float, head_deg: float, shank_mm: float, rim_mm: float, dome_mm: float = 0.0) -> Shaved:
    """Return what is left of a flush head that is milled or shaved level with the sheet after driving.

    Parameters
    ----------
    head_mm : float
        Diameter of the head at its rim. [mm]
    head_deg : float
        Its included angle. [deg]
    shank_mm : float
        Shank. [mm]
    rim_mm : float
        How far its rim stands over the sheet; below nought it lies under. [mm]
    dome_mm : float
        Height of a domed top over the rim. [mm]

    Returns
    -------
    Shaved
        What comes off, and the width and the cone that stay.

    Raises
    ------
    ValueError
        A head that cannot be, one that does not stand proud, or a rim that leaves no cone.

    Notes
    -----
    Where the rim lies under the sheet only its dome comes off, and the head keeps its width. The width that stays is no
    catalogue's: it is not to be taken for another size.

    Examples
    --------
    >>> round(shaved(6.0, 120, 3.0, 0.1).left_mm, 3)
    5.654

    References
    ----------
    cone-geometry
    """
    cone = cone_height(head_mm, shank_mm, head_deg)
    if not (math.isfinite(rim_mm) and math.isfinite(dome_mm)) or dome_mm < 0:
        raise ValueError("a rim and a dome are figures, and a dome is not below nought")
    if rim_mm + dome_mm <= 0:
        raise ValueError("this head does not stand over the sheet: there is nothing to shave")
    if rim_mm >= cone:
        raise ValueError(f"shaving {rim_mm:.2f} mm leaves nothing of a cone of {cone:.2f} mm")
    under = max(0.0, rim_mm)
    left = head_mm - 2 * under * math.tan(math.radians(head_deg) / 2)
    sentence = (
        f"Shaved level with the sheet, {rim_mm + dome_mm:.2f} mm comes off; the head stays {left:.2f} mm wide"
        f"{f', no more {head_mm:g} mm' if under else ''}, over a cone of {cone - under:.2f} mm. Its mark is gone."
    )
    return Shaved(
        working=working(
            "width left = head - 2 rim tan(a/2)",
            [
                ("head", head_mm, "mm", f"{head_deg:g} deg"),
                ("rim over the sheet", round(rim_mm, 3), "mm", "computed"),
                ("comes off", round(rim_mm + dome_mm, 3), "mm", "rim and dome"),
                ("width left", round(left, 3), "mm", "computed"),
                ("cone left", round(cone - under, 3), "mm", "computed"),
            ],
            ("cone-geometry",),
            (
                "Write down that the head was shaved: measured later, it is taken for another size. Wear eye protection.",
            ),
            "Rigid cones; a dimple that was sanded with it has lost thickness, too.",
        ),
        off_mm=rim_mm + dome_mm,
        left_mm=left,
        left_cone_mm=cone - under,
        sentence=sentence,
    )


def least_sheet(head_mm: float, shank_mm: float, angle_deg: float, land_mm: float = 0.2) -> float:
    """Return the thinnest sheet that may be countersunk for a head; a thinner one is dimpled.

    Parameters
    ----------
    head_mm : float
        Head diameter. [mm]
    shank_mm : float
        Shank diameter. [mm]
    angle_deg : float
        Included angle. [deg]
    land_mm : float
        Cylindrical hole to leave. [mm]

    Returns
    -------
    float
        Thickness. [mm]

    Raises
    ------
    ValueError
        A head that cannot be, or a negative land.

    Examples
    --------
    >>> round(least_sheet(6.0, 3.0, 90.0), 2)
    1.7

    References
    ----------
    lecture-notes-rivets
    cone-geometry
    """
    least = cone_height(head_mm, shank_mm, angle_deg) + land_mm
    deepest_countersink(least, land_mm)
    return least


def nested_mouth(mouth_mm: float, outer_mm: float, angle_deg: float) -> float:
    """Return the seat that the sheet below wants when the sheet above is dimpled into it.

    Parameters
    ----------
    mouth_mm : float
        Seat of the outer sheet at its surface. [mm]
    outer_mm : float
        Thickness of the outer sheet. [mm]
    angle_deg : float
        Included angle of both. [deg]

    Returns
    -------
    float
        Diameter at the surface of the sheet below. [mm]

    Raises
    ------
    ValueError
        A figure that is not above zero, an angle of 180 degrees or more.

    Notes
    -----
    The cone moves down by T / sin(a/2) (1.155 T at 120, 1.305 T at 100 degrees) and the surface by T.

    Examples
    --------
    >>> round(nested_mouth(6.0, 1.0, 120.0), 3)
    6.536

    References
    ----------
    cone-geometry
    """
    if min(mouth_mm, outer_mm, angle_deg) <= 0 or angle_deg >= 180 or not math.isfinite(mouth_mm + outer_mm):
        raise ValueError("seat and sheet are above zero and an angle lies below 180 degrees")
    half = math.radians(angle_deg) / 2
    return mouth_mm + 2 * math.tan(half) * outer_mm * (1 / math.sin(half) - 1)
