"""Grip of a stack and the rivet length that it needs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from witnessmark.calc.units import MM_PER_IN
from witnessmark.calc.working import Answer, working

Known = Literal["measured", "drawn", "inferred", "mirrored"]
Head = Literal["protruding", "flush"]
System = Literal["metric", "inch"]

# From the surest to the least sure: mirrored is a reading, though of the opposite side; inferred is none.
KNOWN_ORDER: tuple[Known, ...] = ("measured", "drawn", "mirrored", "inferred")
METRIC_STEP_MM = 1.0
INCH_STEP_MM = MM_PER_IN / 32
_HAIR_MM = 1e-6


@dataclass(frozen=True)
class StackLayer:
    """One sheet of a stack; the first lies under the manufactured head."""

    name: str
    thickness_mm: float
    known: Known


@dataclass(frozen=True)
class Grip(Answer):
    """Thickness that the fastener clamps, and how well the worst layer is known."""

    grip_mm: float
    known: Known
    layers: int
    thickest_mm: float


@dataclass(frozen=True)
class RivetLength(Answer):
    """Exact length and the next stock length above it."""

    exact_mm: float
    stock_mm: float
    stock_label: str
    dash: str


@dataclass(frozen=True)
class FormedHead:
    """Aimed size of a driven head."""

    diameter_mm: float
    height_mm: float


def _positive(what: str, value: float) -> float:
    if not math.isfinite(value) or value <= 0:
        raise ValueError(f"{what} must be above zero, not {value}")
    return value


def grip(stack: Sequence[StackLayer]) -> Grip:
    """Add up the layers of a stack.

    Parameters
    ----------
    stack : sequence of StackLayer
        Layers from the manufactured head to the shop head. [-]

    Returns
    -------
    Grip
        Sum, the worst mark of its layers, their number and the thickest.

    Raises
    ------
    ValueError
        No layers, or a thickness that is not above zero.

    Notes
    -----
    Sheets lie flat on each other; sealant, paint and the depth of dimples are not counted.

    Examples
    --------
    >>> stack = [StackLayer("skin", 1.2, "measured"), StackLayer("stringer", 1.2, "inferred")]
    >>> grip(stack).grip_mm, grip(stack).known
    (2.4, 'inferred')

    References
    ----------
    none: a sum.
    """
    if not stack:
        raise ValueError("a stack needs at least one layer")
    for layer in stack:
        _positive(f"the thickness of {layer.name or 'a layer'}", layer.thickness_mm)
        if layer.known not in KNOWN_ORDER:
            raise ValueError(f"{layer.name or 'a layer'} is marked {layer.known!r}; one of {', '.join(KNOWN_ORDER)}")
    worst = max((layer.known for layer in stack), key=KNOWN_ORDER.index)
    unsure = [layer for layer in stack if layer.known in ("inferred", "mirrored")]
    cautions = tuple(f"{layer.name} is {layer.known}: measure it before the order leaves." for layer in unsure)
    total = round(math.fsum(layer.thickness_mm for layer in stack), 9)
    return Grip(
        working=working(
            "G = sum of t",
            [(f"t, {layer.name}", layer.thickness_mm, "mm", layer.known) for layer in stack]
            + [("G", total, "mm", "computed")],
            cautions=cautions,
            valid_range="Sheets lie flat on each other; sealant, paint and dimple depth are not counted.",
        ),
        grip_mm=total,
        known=worst,
        layers=len(stack),
        thickest_mm=max(layer.thickness_mm for layer in stack),
    )


def _diameter_cautions(diameter_mm: float, thickest_mm: float) -> tuple[str, ...]:
    ratio = diameter_mm / thickest_mm
    if ratio < 1 - 1e-9:
        return (f"D is {ratio:.2f} times the thickest sheet, guidance minimum 1: ask engineering.",)
    if ratio > 3 + 1e-9:
        return (f"D is {ratio:.2f} times the thickest sheet, guidance maximum 3: ask engineering.",)
    return ()


def rivet_length(
    grip_mm: float,
    diameter_mm: float,
    head: Head = "protruding",
    system: System = "metric",
    thickest_mm: float | None = None,
) -> RivetLength:
    """Return the length of a solid rivet for a grip, exact and as stocked.

    Parameters
    ----------
    grip_mm : float
        Total thickness of the stack. [mm]
    diameter_mm : float
        Nominal diameter of the rivet. [mm]
    head : str
        `protruding` (length under the head) or `flush` (length over all, head included). [-]
    system : str
        `metric` (steps of 1 mm) or `inch` (steps of 1/16 in with half sizes, so of 1/32 in). [-]
    thickest_mm : float or None
        Thickest sheet of the stack; when given, the diameter rule is checked too. [mm]

    Returns
    -------
    RivetLength
        Exact length, next stock length, its label (`9 mm`, `13/32 in`) and dash number (inch only).

    Raises
    ------
    ValueError
        A figure that is not above zero, an unknown head or system.

    Notes
    -----
    L = G + 1.5 D, always rounded up. Solid rivets with a flat shop head of about 1.5 D by 0.5 D in a hole of nominal
    size; diameter from one to three times the thickest sheet. The step of 1 mm is common practice, from memory.

    Examples
    --------
    >>> rivet_length(2.4, 4.0).stock_label
    '9 mm'
    >>> rivet_length(2.5, 3.175, system="inch").dash
    '5'

    References
    ----------
    navedtra-14018-length
    navedtra-14018-diameter
    ac43.13-1b-4-57
    metric-length-step
    """
    _positive("the grip", grip_mm)
    _positive("the diameter", diameter_mm)
    if head not in ("protruding", "flush"):
        raise ValueError(f"a head is protruding or flush, not {head!r}")
    if system not in ("metric", "inch"):
        raise ValueError(f"a system is metric or inch, not {system!r}")
    exact = round(grip_mm + 1.5 * diameter_mm, 9)
    step = METRIC_STEP_MM if system == "metric" else INCH_STEP_MM
    # A length that is a stock length already must not jump a step for the last digit of a float.
    steps = math.ceil((exact - _HAIR_MM) / step)
    cautions: tuple[str, ...] = ()
    sources: tuple[str, ...] = ("navedtra-14018-length",)
    rows: list[tuple[str, float | int | str, str, str]] = [
        ("G", grip_mm, "mm", "stack"),
        ("D", diameter_mm, "mm", "size"),
        ("L", exact, "mm", "computed"),
    ]
    if thickest_mm is not None:
        cautions = _diameter_cautions(diameter_mm, _positive("the thickest sheet", thickest_mm))
        rows.append(("D / thickest sheet", round(diameter_mm / thickest_mm, 3), "-", "computed"))
        sources += ("navedtra-14018-diameter",)
    if system == "metric":
        label, dash = f"{steps} mm", ""
        sources += ("metric-length-step",)
    else:
        label = f"{thirtyseconds(steps)} in"
        dash = f"{steps // 2}.5" if steps % 2 else str(steps // 2)
        sources += ("ac43.13-1b-4-57",)
    stock = round(steps * step, 9)
    rows.append(("stock length", stock, "mm", "over all" if head == "flush" else "under the head"))
    return RivetLength(
        working=working(
            "L = G + 1.5 D, rounded up to the stock step" + (", head included" if head == "flush" else ""),
            rows,
            sources,
            cautions,
            "Solid rivets; D from 1 to 3 times the thickest sheet.",
        ),
        exact_mm=exact,
        stock_mm=stock,
        stock_label=label,
        dash=dash,
    )


def stock_words(stock_mm: float) -> str:
    """Write a stock length as its rivet is sold: in mm, or in a fraction of an inch with its mm.

    Parameters
    ----------
    stock_mm : float
        Length. [mm]

    Returns
    -------
    str
        Steps of half a mm are metric, steps of 1/32 in are inches, anything else is mm.

    Examples
    --------
    >>> stock_words(8.0), stock_words(7.14375), stock_words(7.2)
    ('8 mm', '9/32 in (7.14 mm)', '7.2 mm')

    References
    ----------
    none: the fractions are exact.
    """
    steps = stock_mm / INCH_STEP_MM
    if abs(2 * stock_mm - round(2 * stock_mm)) > 1e-6 and abs(steps - round(steps)) < 1e-6:
        return f"{thirtyseconds(round(steps))} in ({stock_mm:.2f} mm)"
    return f"{round(stock_mm, 3):g} mm"


def thirtyseconds(count: int) -> str:
    """Write a count of 32nds of an inch as the trade does.

    Parameters
    ----------
    count : int
        How many 32nds. [-]

    Returns
    -------
    str
        Such as `13/32`, `1 1/4`.

    Examples
    --------
    >>> thirtyseconds(40)
    '1 1/4'

    References
    ----------
    none: arithmetic.
    """
    whole, part = divmod(count, 32)
    if not part:
        return str(whole)
    common = math.gcd(part, 32)
    return f"{f'{whole} ' if whole else ''}{part // common}/{32 // common}"


def formed_head(diameter_mm: float) -> FormedHead:
    """Return the aimed size of a driven head: 1.5 D wide, 0.5 D high.

    Parameters
    ----------
    diameter_mm : float
        Nominal diameter of the rivet. [mm]

    Returns
    -------
    FormedHead
        Diameter and height in mm; a target, not an acceptance limit.

    Raises
    ------
    ValueError
        A diameter that is not above zero.

    Examples
    --------
    >>> formed_head(4.0)
    FormedHead(diameter_mm=6.0, height_mm=2.0)

    References
    ----------
    p40-formed-head
    """
    _positive("the diameter", diameter_mm)
    return FormedHead(1.5 * diameter_mm, 0.5 * diameter_mm)


def cone_height(head_diameter_mm: float, shank_diameter_mm: float, angle_deg: float) -> float:
    """Return the height of a countersunk cone from its angle.

    Parameters
    ----------
    head_diameter_mm : float
        Large end of the cone. [mm]
    shank_diameter_mm : float
        Small end. [mm]
    angle_deg : float
        Included angle. [deg]

    Returns
    -------
    float
        Height. [mm]

    Raises
    ------
    ValueError
        A figure that is not above zero, a head no wider than its shank, an angle of 180 degrees or more.

    Examples
    --------
    >>> round(cone_height(2.0, 1.0, 90.0), 3)
    0.5

    References
    ----------
    bs4620-t6
    bs275
    """
    _positive("the shank", shank_diameter_mm)
    _positive("the angle", angle_deg)
    if head_diameter_mm <= shank_diameter_mm or angle_deg >= 180:
        raise ValueError("a countersunk head is wider than its shank and its angle is below 180 degrees")
    return (head_diameter_mm - shank_diameter_mm) / 2 / math.tan(math.radians(angle_deg) / 2)


def closing_allowance(
    shank_diameter_mm: float, cap_diameter_mm: float, cap_height_mm: float, cone_height_mm: float
) -> float:
    """Return the shank that a head of a given shape uses up beyond the grip.

    The head's volume over the shank's area, less the depth that lies inside the sheet.

    Parameters
    ----------
    shank_diameter_mm : float
        Shank. [mm]
    cap_diameter_mm : float
        Width of the head at the surface of the sheet. [mm]
    cap_height_mm : float
        Height of the domed part above the sheet; 0 for none. [mm]
    cone_height_mm : float
        Depth of the countersunk part inside the sheet; 0 for none. [mm]

    Returns
    -------
    float
        Allowance to add to the grip. [mm]

    Raises
    ------
    ValueError
        A width that is not above zero or a negative height.

    Notes
    -----
    The hole is filled exactly; a loose hole takes more.

    Examples
    --------
    >>> round(closing_allowance(1.0, 1.6, 0.7, 0.0), 3)
    1.125

    References
    ----------
    bs275
    bs4620-t6
    """
    _positive("the shank", shank_diameter_mm)
    _positive("the head", cap_diameter_mm)
    if min(cap_height_mm, cone_height_mm) < 0 or not math.isfinite(cap_height_mm + cone_height_mm):
        raise ValueError("the height of a head is not negative")
    radius = cap_diameter_mm / 2
    cap = math.pi * cap_height_mm * (3 * radius**2 + cap_height_mm**2) / 6
    d, a = shank_diameter_mm, cap_diameter_mm
    cone = math.pi * cone_height_mm * (d * d + d * a + a * a) / 12
    return (cap + cone) / (math.pi * d * d / 4) - cone_height_mm
