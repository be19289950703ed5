"""The drawing of every rivet that has to be made: to scale, with dimensions, limits, count; or what to measure first."""

import math
from dataclasses import dataclass
from typing import Any

from witnessmark.calc.fasteners.rivet_drawing import RivetDrawing
from witnessmark.calc.sources import source
from witnessmark.papers.typesetting import Stamp, stamp_for, typeset
from witnessmark.records.lookups.orders import rivet_order
from witnessmark.records.lookups.rivet_drawings import OneLength, ToMake, rivets_to_make
from witnessmark.records.models import Aircraft

SCALES = (10.0, 5.0, 4.0, 2.0, 1.0, 0.5)
WIDTH_MM, HEIGHT_MM = 182.0, 112.0
# What the dimensions take at the sides, above and below.
SIDE_MM, ABOVE_MM = 42.0, 24.0
ARC_STEPS = 32
MOST_HELD = 6


@dataclass(frozen=True)
class DrawingPaper:
    """The sizes that have to be made."""

    stamp: Stamp
    sizes: tuple[ToMake, ...]
    held_rows: tuple[str, ...] = ()


def gather(aircraft: Aircraft | None, code: str = "") -> DrawingPaper:
    """Collect the sizes of the order that have to be made, or the one of this code."""
    stamp = stamp_for(aircraft)
    if aircraft is None:
        return DrawingPaper(stamp, ())
    order = rivet_order(aircraft)
    found = tuple(size for size in rivets_to_make(aircraft, order) if code in ("", size.code))
    return DrawingPaper(stamp, found, tuple(row.name for row in order.holding))


def pdf(data: DrawingPaper) -> bytes:
    """Set a page for each size and length that can be drawn, then what cannot be drawn yet."""
    drawn = [(size, one) for size in data.sizes for one in size.lengths]
    missing = [
        {"code": size.code, "words": f"{size.kind}, {size.count:,} asked for", "missing": size.missing}
        for size in data.sizes
        if size.missing
    ]
    held = [*data.held_rows[:MOST_HELD]]
    if len(data.held_rows) > MOST_HELD:
        held.append(f"{len(data.held_rows) - MOST_HELD} more")
    return typeset(
        "rivet_drawing.typ",
        {
            "pages": [_page(size, one) for size, one in drawn],
            "missing": missing,
            "held": held,
            "sources": [source(key).printed() for key in (drawn[0][1].drawing.sources if drawn else ())],
        },
        data.stamp,
    )


def _page(size: ToMake, one: OneLength) -> dict[str, Any]:
    drawn = one.drawing
    scale = next(
        (
            s
            for s in SCALES
            if drawn.over_all_mm * s <= WIDTH_MM - 2 * SIDE_MM and drawn.head_mm * s <= HEIGHT_MM - 2 * ABOVE_MM
        ),
        SCALES[-1],
    )
    shown = f"{scale:g} : 1" if scale >= 1 else f"1 : {1 / scale:g}"
    return {
        "code": size.code,
        "kind": f"{size.kind}, on order {one.on_order}" if one.on_order else size.kind,
        "length": one.label,
        "count": f"{one.count:,}",
        "rows": list(one.rows),
        "material": size.alloy or "not written down: say it before the order leaves",
        "scale": shown,
        "width": WIDTH_MM,
        "height": HEIGHT_MM,
        **_lines(drawn, scale),
        "figures": _figures(drawn),
        "measured": size.source,
        "cautions": [*size.cautions, *(c for c in drawn.cautions if not c.startswith("From memory"))],
        "range": drawn.working.valid_range,
        "printed": " ".join(drawn.printed_limits),
    }


def outline_points(drawn: RivetDrawing) -> list[tuple[float, float]]:
    """The outline as points, its arc in short steps."""
    points: list[tuple[float, float]] = []
    for corner, after in zip(drawn.outline, (*drawn.outline[1:], drawn.outline[0]), strict=True):
        points.append((corner.x_mm, corner.y_mm))
        if corner.bulge:
            # The only arc is the top of the head: over its chord on the y axis, `above_mm` high.
            half, rise = corner.y_mm, drawn.above_mm
            radius = (half**2 + rise**2) / (2 * rise)
            sweep = 2 * math.asin(min(1.0, half / radius))
            for step in range(1, ARC_STEPS):
                turn = sweep * (0.5 - step / ARC_STEPS)
                points.append((radius - rise - radius * math.cos(turn) + after.x_mm, radius * math.sin(turn)))
    return points


def _figures(drawn: RivetDrawing) -> list[dict[str, str]]:
    habit = "measured; limits from memory"
    practice = "measured; limits from memory, common practice"
    found = [
        ("Shank", f"⌀ {drawn.shank_mm:.2f} mm", f"+{drawn.shank_plus_mm:.2f} −{drawn.shank_minus_mm:.2f}", habit),
        ("Head", f"⌀ {drawn.head_mm:.2f} mm", f"± {drawn.head_tol_mm:.2f}", habit),
        ("Head height", f"{drawn.head_height_mm:.2f} mm", f"± {drawn.height_tol_mm:.2f}", practice),
    ]
    if drawn.head_deg is not None:
        found.append(("Head angle", f"{drawn.head_deg:g}°", f"± {drawn.angle_tol_deg:g}°", practice))
    asked = ("the order; limits from memory, common practice", f"± {drawn.length_tol_mm:.2f}")
    if drawn.flush:
        found.append(("Length from the rim", f"{drawn.length_mm:.2f} mm", asked[1], asked[0]))
        found.append(
            ("Length under the head", f"{drawn.under_head_mm:.2f} mm", "follows", "from the rim less the cone")
        )
    else:
        found.append(("Length under the head", f"{drawn.length_mm:.2f} mm", asked[1], asked[0]))
    if drawn.above_mm > 0:
        found.append(("Length over all", f"{drawn.over_all_mm:.2f} mm", "follows", "with the dome or head"))
    return [{"what": what, "value": value, "limits": limits, "from": why} for what, value, limits, why in found]


def _lines(drawn: RivetDrawing, scale: float) -> dict[str, Any]:
    """Lay out outline, axis and dimensions in mm on the paper, y downwards."""
    left = (WIDTH_MM - drawn.over_all_mm * scale) / 2 + drawn.above_mm * scale
    middle = HEIGHT_MM / 2

    def at(x: float, y: float) -> tuple[float, float]:
        return left + x * scale, middle - y * scale

    head, shank = drawn.head_mm * scale / 2, drawn.shank_mm * scale / 2
    crown, seat, tail = at(-drawn.above_mm, 0)[0], at(drawn.seat_mm, 0)[0], at(drawn.length_mm, 0)[0]
    thin: list[list[float]] = []
    arrows: list[list[float]] = []
    texts: list[dict[str, Any]] = []

    def along(x1: float, x2: float, y: float, from1: float, from2: float, words: str) -> None:
        way = 1.5 if y > middle else -1.5
        thin.extend(([x1, from1, x1, y + way], [x2, from2, x2, y + way]))
        arrows.append([x1, y, x2, y])
        texts.append({"x": (x1 + x2) / 2, "y": y - 3.2, "words": words, "turned": False})

    def across(y1: float, y2: float, x: float, from1: float, words: str) -> None:
        way = 1.5 if x > from1 else -1.5
        thin.extend(([from1, y1, x + way, y1], [from1, y2, x + way, y2]))
        arrows.append([x, y1, x, y2])
        # Outside the line: the words of a thin shank are longer than the shank, and its two thin lines end here.
        texts.append({"x": x + math.copysign(4, way), "y": (y1 + y2) / 2, "words": words, "turned": True})

    across(middle - head, middle + head, crown - 16, left, f"⌀ {drawn.head_mm:.2f} ± {drawn.head_tol_mm:.2f}")
    across(
        middle - shank,
        middle + shank,
        tail + 16,
        tail,
        f"⌀ {drawn.shank_mm:.2f} +{drawn.shank_plus_mm:.2f} −{drawn.shank_minus_mm:.2f}",
    )
    along(
        crown, seat, middle - head - 8, middle, middle - shank,
        f"{drawn.head_height_mm:.2f} ± {drawn.height_tol_mm:.2f}",
    )  # fmt: skip
    along(
        left,
        tail,
        middle + head + 9,
        middle + head,
        middle + shank,
        f"{drawn.length_mm:.2f} ± {drawn.length_tol_mm:.2f}",
    )
    if drawn.above_mm > 0:
        along(crown, tail, middle + head + 18, middle, middle + shank, f"({drawn.over_all_mm:.2f} over all)")
    if drawn.head_deg is not None:
        words = f"{drawn.head_deg:g}° ± {drawn.angle_tol_deg:g}°"
        touch = (left + seat) / 2 if drawn.seat_mm else left, middle - (head + shank) / 2
        thin.extend(([touch[0], touch[1], seat + 9, touch[1] - 7], [seat + 9, touch[1] - 7, seat + 32, touch[1] - 7]))
        texts.append({"x": seat + 21, "y": touch[1] - 10.2, "words": words, "turned": False})
    return {
        "outline": [list(at(x, y)) for x, y in outline_points(drawn)],
        "true": [[x + drawn.above_mm, drawn.head_mm / 2 - y] for x, y in outline_points(drawn)],
        "true_size": [drawn.over_all_mm, drawn.head_mm],
        "axis": [crown - 5, middle, tail + 5, middle],
        "thin": thin,
        "arrows": arrows,
        "texts": texts,
    }
