"""The mat as a printed sheet: the ring of coded squares, the work area, two check lengths, patches, boxes and a code."""

import io
import secrets
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from witnessmark.calc.mat.boxes import code_in_box
from witnessmark.calc.mat.sheet import COLOURS, PATCH_MM, Sheet, read_code
from witnessmark.papers.typesetting import Stamp, code_svg, stamp_for, typeset
from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.lookups.mat_boxes import bound_boxes, came_from, with_tags
from witnessmark.records.models import PrintedMat

CELLS = 7  # a marker of 5 x 5 cells in a black border
_LETTERS = "ACDEFHJKLMNPQRTUVWXY3479"  # none is taken for another


@dataclass(frozen=True)
class Bound:
    """A bag's tag as it is printed in its box, and a few words of where it came from."""

    tag: str
    words: str = ""


@dataclass(frozen=True)
class Mat:
    """One sheet to print; the serial tells it from every other, for each is measured with a ruler once."""

    stamp: Stamp
    sheet: Sheet
    serial: str
    boxes: Mapping[str, Bound] = field(default_factory=dict)


def new_serial(said: uuid.UUID | None = None) -> str:
    """Make the number of a sheet that is about to be printed; the same act gives the same number."""
    left = said.int if said is not None else secrets.randbits(64)
    letters = ""
    for _ in range(6):
        left, k = divmod(left, len(_LETTERS))
        letters += _LETTERS[k]
    return letters


def _markers(sheet: Sheet) -> list[dict[str, Any]]:
    import cv2

    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000)
    cell = sheet.marker_mm / CELLS
    drawn = []
    for number, (x, y) in sheet.markers().items():
        bits = cv2.aruco.generateImageMarker(dictionary, number, CELLS, borderBits=1)
        drawn.append({"x": x, "y": y, "size": sheet.marker_mm, "cell": cell, "white": _runs(bits)})
    return drawn


def _runs(bits: Any) -> list[tuple[int, int, int]]:
    """Give the white cells as runs along each line: fewer edges, so that no printer leaves hairlines between them."""
    runs = []
    for row in range(CELLS):
        column = 0
        while column < CELLS:
            start = column
            while column < CELLS and bits[row, column] > 127:
                column += 1
            if column > start:
                runs.append((start, row, column - start))
            column += 1
    return runs


def _box_code(mat: Mat, box: str) -> str:
    """Draw a tag's code in the ground's own darker shade: it can be read, and has no hue that would make it a piece."""
    import segno

    if box not in mat.boxes:
        return ""
    _ground, shade = COLOURS[mat.sheet.colour]
    drawn = io.BytesIO()
    code = segno.make_qr(code_in_box(mat.boxes[box].tag), error="m")
    dark = "#{:02x}{:02x}{:02x}".format(*shade)
    code.save(drawn, kind="svg", border=0, dark=dark, light=None, xmldecl=False, svgclass=None)
    return drawn.getvalue().decode()


def _data(mat: Mat) -> dict[str, Any]:
    sheet = mat.sheet
    s = sheet.square_mm
    ground, shade = COLOURS[sheet.colour]
    qr_mm = 13.0
    return {
        "name": sheet.name,
        "paper": sheet.paper,
        "layout": "plain" if sheet.layout == "plain" else "twelve boxes",
        "colour": sheet.colour,
        "serial": mat.serial,
        "width": sheet.width_mm,
        "height": sheet.height_mm,
        "margin": sheet.margin_mm,
        "ring": sheet.ring_mm,
        "work": sheet.work_mm,
        "square": s,
        "checks": sheet.check_mm,
        "ground": ground,
        "shade": shade,
        "squares": [(i * s, j * s, s) for i, j in sheet.ring_squares() if (i + j) % 2 == 0],
        "markers": _markers(sheet),
        "boxes": [
            {
                "name": b.name,
                "x": b.x_mm,
                "y": b.y_mm,
                "w": b.width_mm,
                "h": b.height_mm,
                "code": b.code_mm,
                "tag": mat.boxes[b.name].tag if b.name in mat.boxes else "",
                "words": mat.boxes[b.name].words if b.name in mat.boxes else "",
                "svg": _box_code(mat, b.name),
            }
            for b in sheet.boxes()
        ],
        "patches": [{"rgb": rgb, "x": x, "y": y, "size": PATCH_MM} for _, rgb, x, y in sheet.patches()],
        "qr": (sheet.ring_mm[0] - qr_mm - 1, -qr_mm - 0.6, qr_mm),
        "code_svg": code_svg(sheet.code(mat.serial)),
    }


def with_boxes(printed: PrintedMat) -> Mat:
    """Gather a sheet that is in the record, to be printed as often as it is wanted: the tags that are printed into it."""
    known = read_code(f"WMAT:{printed.kind}:{printed.serial}")
    assert known is not None
    rows = {box: row for box, row in bound_boxes(printed).items() if row.printed}
    pieces = with_tags(row.tag for row in rows.values())
    bags = list(pieces.values())
    places = dict(zip((bag.pk for bag in bags), came_from(bags), strict=True))
    boxes = {}
    for box, row in rows.items():
        bag = pieces.get(row.tag)
        words = row.came_from or (", ".join(filter(None, (bag.name[:40], places[bag.pk]))) if bag is not None else "")
        boxes[box] = Bound(row.tag, words)
    return Mat(stamp_for(the_aircraft()), known[0], printed.serial, boxes)


def pdf(mat: Mat) -> bytes:
    """Lay out one mat at full size."""
    return typeset("mat_sheet.typ", _data(mat), mat.stamp)


def png(mat: Mat, ppi: float) -> bytes:
    """Lay the same sheet out as a picture, such as a shop with a plotter asks for."""
    return typeset("mat_sheet.typ", _data(mat), mat.stamp, ppi=ppi)
