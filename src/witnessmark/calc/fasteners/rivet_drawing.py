"""The drawing of a rivet that has to be made: its outline from the figures, its limits, what is from memory."""

from __future__ import annotations

import math
from dataclasses import dataclass

from witnessmark.calc.fasteners.catalogue import Shape, cone_height
from witnessmark.calc.tables import load_table
from witnessmark.calc.units import MM_PER_IN
from witnessmark.calc.working import Answer, working

ANGLE_TOL_DEG = 1.0
LENGTH_TOL_MM = 0.25
HEIGHT_TOL_MM = 0.1
LEAST_SHANK_OUT = 0.5
# Printed tables round a height to a thousandth of an inch.
ROUNDED_MM = 0.026


@dataclass(frozen=True)
class Corner:
    """A corner of the outline; `bulge` is the tangent of a quarter of the arc to the next one, 0 where it is straight."""

    x_mm: float
    y_mm: float
    bulge: float = 0.0


@dataclass(frozen=True)
class RivetDrawing(Answer):
    """One rivet before it is driven, its axis along x; x = 0 is the plane that its length is counted from."""

    code: str
    flush: bool
    shank_mm: float
    shank_plus_mm: float
    shank_minus_mm: float
    head_mm: float
    head_tol_mm: float
    head_deg: float | None
    angle_tol_deg: float
    head_height_mm: float
    height_tol_mm: float
    above_mm: float
    seat_mm: float
    length_mm: float
    length_tol_mm: float
    under_head_mm: float
    over_all_mm: float
    outline: tuple[Corner, ...]
    printed_limits: tuple[str, ...] = ()


def draw_rivet(shape: Shape, length_mm: float) -> RivetDrawing:
    """Return the drawing of one size in one length.

    Parameters
    ----------
    shape : Shape
        The size with its head. [-]
    length_mm : float
        Length as it is ordered: from the rim of a flush head, from under any other. [mm]

    Returns
    -------
    RivetDrawing
        Figures with their limits, and the closed outline, counter-clockwise from the tail.

    Raises
    ------
    ValueError
        A thread, a head not larger than its shank, an angle outside 0 to 180 degrees, a head whose height is missing
        or does not belong to its width and angle, a length that leaves no shank.

    Notes
    -----
    The length of a flush rivet counts from its rim, as its grip does: a dome stands over it. A flat flush head that is
    higher than its cone has a cylindrical edge. Round and universal heads are drawn as one arc over their width.

    Examples
    --------
    >>> from witnessmark.calc.fasteners.catalogue import rivet_shape
    >>> drawn = draw_rivet(rivet_shape("VN11-3.0", "house", "domed", 3.0, 6.3, 120, 1.40), 8.0)
    >>> round(drawn.seat_mm, 3), round(drawn.over_all_mm, 3)
    (0.953, 8.447)

    References
    ----------
    cone-geometry
    fastener-habits
    rivet-drawing-practice
    """
    code, shank, head, height = shape.code, shape.shank_mm, shape.head_mm, shape.head_height_mm
    if shape.form == "thread":
        raise ValueError(f"{code} is no solid rivet")
    if head is None:
        raise ValueError(f"{code}: nobody has measured its head")
    for what, value in (("shank", shank), ("head", head), ("length", length_mm)):
        if not math.isfinite(value) or not 0.5 <= value <= 100:
            raise ValueError(f"{code}: a {what} of {value:g} mm is outside 0.5 to 100 mm: look at its unit")
    if head <= shank:
        raise ValueError(f"{code}: a head of {head:g} mm is not larger than its shank of {shank:g} mm")
    flush = shape.form in ("flush", "domed")
    cautions: list[str] = []
    if flush:
        seat, above, edge = _flush(shape, head, cautions)
        height = seat + above
        height_tol = max(HEIGHT_TOL_MM, shape.head_tol_mm / 2 / math.tan(math.radians(shape.head_deg or 0) / 2))
    else:
        if height is None:
            raise ValueError(f"{code}: nobody has measured the height of its head")
        if not math.isfinite(height) or not 0 < height <= head / 2:
            raise ValueError(f"{code}: a head {height:g} mm high does not belong to one {head:g} mm wide")
        seat, above, edge, height_tol = 0.0, height, 0.0, HEIGHT_TOL_MM
        if shape.form == "universal":
            cautions.append("A universal head is drawn as one arc; its standard has the profile.")
    if length_mm - seat < LEAST_SHANK_OUT * shank:
        raise ValueError(f"{code}: a length of {length_mm:g} mm leaves no shank behind the head")
    bulge = 0.0 if flush and shape.form == "flush" else above / (head / 2)
    rims = [(edge, head / 2), (0.0, head / 2)] if edge > 0 else [(0.0, head / 2)]
    upper = [(length_mm, shank / 2), (seat, shank / 2), *rims]
    lower = [Corner(x, -y) for x, y in reversed(upper)]
    corners = [*(Corner(x, y) for x, y in upper[:-1]), Corner(*upper[-1], bulge), *lower]
    return RivetDrawing(
        working=working(
            "height of the cone = (head - shank) / 2 / tan(angle / 2)"
            if flush
            else "one arc over the head's width and height",
            [
                ("shank", round(shank, 3), "mm", shape.source),
                ("head", round(head, 3), "mm", shape.source),
                ("head angle", shape.head_deg or "none", "deg" if shape.head_deg else "-", shape.source),
                ("head height", round(height, 3), "mm", shape.source if shape.form != "flush" else "from the cone"),
                ("length", round(length_mm, 3), "mm", "order"),
                ("shank limits", f"+{shape.shank_plus_mm:.2f} -{shape.shank_minus_mm:.2f}", "mm", "from memory"),
                ("head limits", f"+{shape.head_tol_mm:.2f} -{shape.head_tol_mm:.2f}", "mm", "from memory"),
                ("height limits", f"+{height_tol:.2f} -{height_tol:.2f}", "mm", "common practice, no source"),
                ("length limits", f"+{LENGTH_TOL_MM:.2f} -{LENGTH_TOL_MM:.2f}", "mm", "common practice, no source"),
                *(
                    [("angle limits", f"+{ANGLE_TOL_DEG:g} -{ANGLE_TOL_DEG:g}", "deg", "common practice, no source")]
                    if flush
                    else []
                ),
            ],
            ("cone-geometry", "fastener-habits", "rivet-drawing-practice"),
            tuple(cautions),
            "Solid rivets before driving. No fillet under the head and no chamfer at the tail is drawn.",
        ),
        code=code,
        flush=flush,
        shank_mm=shank,
        shank_plus_mm=shape.shank_plus_mm,
        shank_minus_mm=shape.shank_minus_mm,
        head_mm=head,
        head_tol_mm=shape.head_tol_mm,
        head_deg=shape.head_deg if flush else None,
        angle_tol_deg=ANGLE_TOL_DEG,
        head_height_mm=height,
        height_tol_mm=height_tol,
        above_mm=above,
        seat_mm=seat,
        length_mm=length_mm,
        length_tol_mm=LENGTH_TOL_MM,
        under_head_mm=length_mm - seat,
        over_all_mm=length_mm + above,
        outline=tuple(corners),
        printed_limits=printed_limits(shape),
    )


def printed_limits(shape: Shape) -> tuple[str, ...]:
    """Return what printed standards allow a like rivet, to hold beside the limits of the drawing.

    Parameters
    ----------
    shape : Shape
        The size with its head. [-]

    Returns
    -------
    tuple of str
        A sentence for the shank, and for a flush head one for its angle and width.

    Examples
    --------
    >>> from witnessmark.calc.fasteners.catalogue import rivet_shape
    >>> printed_limits(rivet_shape("R", "own", "round", 3.5, 6.2, head_height_mm=2.1))[0]
    'DIN 660 lets a shank of 3.5 mm be 0.13 mm thinner (quoted).'

    References
    ----------
    din660
    bs4620-t6
    tm-countersinks
    """
    din = [row for row in load_table("rivets_metric").rows if row["standard"].startswith("DIN 660")]
    row = next((row for row in din if abs(float(row["d_mm"]) - shape.shank_mm) < 1e-3), None)
    said = [
        f"DIN 660 lets a shank of {shape.shank_mm:g} mm be {shape.shank_mm - float(row['shank_min_mm']):.2f} mm thinner "
        f"({row['status']})."
        if row is not None
        else f"No printed limit was found for a shank of {shape.shank_mm:.4g} mm."
    ]
    if shape.form in ("flush", "domed") and shape.head_deg is not None:
        for limit in load_table("head_limits").rows:
            way = float(limit["angle_most_deg"]) - float(limit["angle_nominal_deg"])
            said.append(
                f"{limit['standard'].split(' T')[0]} lets a head of {limit['angle_nominal_deg']} degrees vary by {way:g} "
                f"degrees and be no wider than nominal ({limit['status']})."
            )
        for seat in load_table("countersink_sheets").rows:
            nominal = _inches(seat["rivet"]) * MM_PER_IN
            if shape.head_deg == 100 and seat["csk_dia_min_in"] and abs(nominal - shape.shank_mm) < 0.02:
                wide = (float(seat["csk_dia_max_in"]) - float(seat["csk_dia_min_in"])) / 2 * MM_PER_IN
                said.append(
                    f"TM 9-2320-363-34-2 lets the seat of a {seat['rivet']} in head vary by {wide:.2f} mm ({seat['status']})."
                )
    return tuple(said)


def _inches(fraction: str) -> float:
    top, bottom = fraction.split("/")
    return int(top) / int(bottom)


def _flush(shape: Shape, head_mm: float, cautions: list[str]) -> tuple[float, float, float]:
    """Give the depth of the head below its rim, its dome, and its cylindrical edge."""
    deg, height = shape.head_deg, shape.head_height_mm
    if deg is None:
        raise ValueError(f"{shape.code}: nobody has measured the angle of its head")
    if not 0 < deg < 180:
        raise ValueError(f"{shape.code}: a head angle of {deg:g} degrees is none: it lies between 0 and 180")
    cone = cone_height(head_mm, shape.shank_mm, deg)
    if height is None:
        if shape.form == "domed":
            raise ValueError(f"{shape.code}: nobody has measured the height of its domed head")
        return cone, 0.0, 0.0
    more = height - cone
    if not math.isfinite(more) or more < -HEIGHT_TOL_MM or more > head_mm / 2:
        raise ValueError(
            f"{shape.code}: a head {height:g} mm high does not belong to one {head_mm:g} mm wide at {deg:g} degrees, "
            f"whose cone alone is {cone:.2f} mm: measure it again"
        )
    if abs(more) <= ROUNDED_MM:
        return cone, more if shape.form == "domed" and more > 0 else 0.0, 0.0
    if more < 0:
        cautions.append(f"The height read, {height:.2f} mm, is below the cone's {cone:.2f} mm, which is drawn.")
        return cone, 0.0, 0.0
    return (cone, more, 0.0) if shape.form == "domed" else (height, 0.0, more)
