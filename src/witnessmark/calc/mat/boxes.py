"""Whose the boxes of the second layout are: the tags printed or laid in them, and what lies with each.

A tag in a box is printed in a darker shade of the ground, so that it has no hue of its own and no piece is seen there; a
paper tag laid in a box is found as a thing on the mat, and is taken out of the pieces by its code.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from witnessmark.calc.mat.camera import Array
from witnessmark.calc.mat.pieces import Piece
from witnessmark.calc.mat.rectify import Flat
from witnessmark.calc.mat.sheet import Box
from witnessmark.calc.tags.code import MOST_SIGNS, code_text, tag_of

TagOf = Callable[[str], "str | None"]
# How far a piece may reach over a box's line before it is asked whose it is: the line's own width.
OVER_LINE_MM = 1.0
# A paper tag fills the oblong round it but for torn corners; what fills less has something on it or beside it.
LEAST_FILLED = 0.94


@dataclass(frozen=True)
class CodeSeen:
    """One code in the picture: what it says, the tag it names (empty: none of a tag), its corners on the mat in mm."""

    text: str
    tag: str
    box: str
    corners_mm: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class BoxRead:
    """One box: the tags that speak for it, its pieces by number, spots to count by hand, and what is wrong with it.

    `seen` were read in the picture, `bound` stands in the record; `foreign` are codes that name no tag; `over` are
    pieces that reach over the box's line.
    """

    box: str
    tag: str
    seen: tuple[str, ...]
    bound: str
    foreign: tuple[str, ...]
    pieces: tuple[int, ...]
    piles: int
    over: tuple[int, ...]
    state: str
    sentence: str


def code_in_box(tag: str) -> str:
    """Write what the code of a tag holds that is printed into a box.

    Parameters
    ----------
    tag : str
        The tag. [-]

    Returns
    -------
    str
        The compact text with its check letter where the tag allows it, else `WM:` and the tag. [-]

    Examples
    --------
    >>> code_in_box("0231"), code_in_box("L-014-7")
    ('WM:0231:8', 'WM:L-014-7')

    References
    ----------
    iso-18004, iso-7064
    """
    compact = 0 < len(tag) <= MOST_SIGNS and tag.isascii() and tag.isalnum() and tag == tag.upper()
    return code_text(tag) if compact else f"WM:{tag}"


def codes_in(flat: Flat, tag_of: TagOf = tag_of) -> tuple[CodeSeen, ...]:
    """Read the codes that are printed on the work area or lie on it.

    Parameters
    ----------
    flat : Flat
        The work area seen from straight above. [-]
    tag_of : callable
        Gives the tag that a code's text names, or None. [-]

    Returns
    -------
    tuple of CodeSeen
        Each code once; a code over a line belongs to the box that holds its middle. [-]

    Notes
    -----
    Printed-in codes have a contrast of 1 to 2.4 alone: each box is looked at by itself, its own light stretched.

    Examples
    --------
    >>> codes_in.__name__
    'codes_in'

    References
    ----------
    iso-18004
    """
    import numpy as np

    # The eye's own curve, about: eight bits are enough for dark print on a dark ground then.
    grey = (np.sqrt(flat.light[..., 1].astype(np.float32)) * (255 / 256)).astype(np.uint8)
    found: dict[tuple[str, str, int, int], CodeSeen] = {}
    for part, left, top in _parts(flat, grey):
        for text, corners in _decoded(part):
            mm = tuple(
                ((x + left + 0.5) / flat.px_per_mm + flat.origin_mm[0], (y + top + 0.5) / flat.px_per_mm + flat.origin_mm[1])
                for x, y in corners
            )  # fmt: skip
            x, y = sum(p[0] for p in mm) / 4, sum(p[1] for p in mm) / 4
            box = _box_at(flat, x, y)
            seen = CodeSeen(text, tag_of(text) or "", box.name if box else "", mm)
            found.setdefault((seen.text, seen.box, round(x / 8), round(y / 8)), seen)
    return tuple(found.values())


def _box_at(flat: Flat, x: float, y: float) -> Box | None:
    x, y = x / flat.scale[0], y / flat.scale[1]
    inside = (b for b in flat.sheet.boxes() if b.x_mm <= x < b.x_mm + b.width_mm and b.y_mm <= y < b.y_mm + b.height_mm)
    return next(inside, None)


def _parts(flat: Flat, grey: Array) -> list[tuple[Array, int, int]]:
    """Cut the picture into its boxes, each a little over its lines and with its own light stretched; and the whole."""
    import cv2

    parts = [(grey, 0, 0)]
    over = 4.0
    for box in flat.sheet.boxes():
        x = box.x_mm * flat.scale[0] - flat.origin_mm[0] - over
        y = box.y_mm * flat.scale[1] - flat.origin_mm[1] - over
        left, top = (max(0, int(v * flat.px_per_mm)) for v in (x, y))
        right = int((x + box.width_mm * flat.scale[0] + 2 * over) * flat.px_per_mm)
        bottom = int((y + box.height_mm * flat.scale[1] + 2 * over) * flat.px_per_mm)
        part = cv2.createCLAHE(4.0, (3, 3)).apply(grey[top:bottom, left:right])
        parts.append((part, left, top))
    return parts


def _decoded(image: Array) -> list[tuple[str, list[tuple[float, float]]]]:
    import zxingcpp

    only = zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode)
    told = []
    for code in zxingcpp.read_barcodes(image, formats=only):
        if code.valid:
            p = code.position
            corners = [(q.x, q.y) for q in (p.top_left, p.top_right, p.bottom_right, p.bottom_left)]
            told.append((code.text, [(float(x), float(y)) for x, y in corners]))
    return told


def without_tags(pieces: Sequence[Piece], codes: Sequence[CodeSeen]) -> tuple[Piece, ...]:
    """Take the paper tags out of what lies on the mat, and number the rest again.

    Parameters
    ----------
    pieces : sequence of Piece
        As measured. [-]
    codes : sequence of CodeSeen
        The codes in the same picture. [-]

    Returns
    -------
    tuple of Piece
        Without the things that hold a whole code. A tag with something on it or against it stays, for the person. [-]

    Notes
    -----
    A piece that lies on a printed-in code never holds all its four corners; paper holds them and a margin.

    Examples
    --------
    >>> without_tags((), ())
    ()

    References
    ----------
    none: takes things out of a list.
    """
    import numpy as np

    kept: list[Piece] = []
    for piece in pieces:
        on_it = [code for code in codes if _holds(piece.outline_mm, code.corners_mm)]
        if not on_it:
            kept.append(piece)
        elif _filled(np.array(piece.outline_mm)) < LEAST_FILLED:
            named = ", ".join(sorted({code.tag or "another code" for code in on_it}))
            why = f"paper with the code of {named}, and something on it or against it. Lay the tag by itself, or count by hand"
            kept.append(
                replace(
                    piece, family="unknown", runner_up="", margin=1.0, figures_mm={}, head_angle_deg=None, pitch_mm=None,
                    doubts=(why,),
                )
            )  # fmt: skip
    return tuple(replace(piece, number=n) for n, piece in enumerate(kept, 1))


def _holds(outline: Sequence[tuple[float, float]], corners: Sequence[tuple[float, float]]) -> bool:
    import cv2
    import numpy as np

    line = np.array(outline, np.float32).reshape(-1, 1, 2)
    return len(line) > 2 and all(cv2.pointPolygonTest(line, corner, False) > 0 for corner in corners)


def _filled(outline: Array) -> float:
    """Share of the smallest oblong round an outline that it fills."""
    import cv2
    import numpy as np

    line = outline.astype(np.float32)
    _middle, (width, height), _turn = cv2.minAreaRect(line)
    return float(cv2.contourArea(line)) / max(width * height, 1e-6)


def read_boxes(
    flat: Flat, pieces: Sequence[Piece], codes: Sequence[CodeSeen], bound: Mapping[str, str]
) -> tuple[BoxRead, ...]:
    """Say for each box whose it is and what lies in it.

    Parameters
    ----------
    flat : Flat
        The work area seen from straight above. [-]
    pieces : sequence of Piece
        What lies on it, without the tags. [-]
    codes : sequence of CodeSeen
        The codes in the picture. [-]
    bound : mapping
        For each box's name the tag that the record bound to it before the picture. [-]

    Returns
    -------
    tuple of BoxRead
        One a box, in reading order; none for a mat without boxes. The state is *one bag*, *empty*, *no tag*,
        *two tags* or *another code*; only the first may be filed without a word from a person. [-]

    Examples
    --------
    >>> read_boxes.__name__
    'read_boxes'

    References
    ----------
    none: puts what was read side by side.
    """
    made = []
    for box in flat.sheet.boxes():
        inside = [p for p in pieces if p.box == box.name]
        here = [code for code in codes if code.box == box.name]
        seen = tuple(sorted({code.tag for code in here if code.tag}))
        foreign = tuple(sorted({code.text[:60] for code in here if not code.tag}))
        known = bound.get(box.name, "")
        tags = sorted({*seen, *([known] if known else [])})
        elsewhere = sorted({code.box for code in codes if code.tag in tags and code.box != box.name} - {""})
        elsewhere += [name for name, tag in bound.items() if tag in tags and name not in (box.name, *elsewhere)]
        state, why = _state(box.name, tags, foreign, elsewhere, bool(inside))
        over = tuple(p.number for p in inside if _reaches_over(flat, box, p))
        piles = sum(p.for_person for p in inside)
        made.append(
            BoxRead(
                box.name, tags[0] if len(tags) == 1 else "", seen, known, foreign, tuple(p.number for p in inside), piles,
                over, state, why or _said(box.name, tags, len(inside), piles, over),
            )
        )  # fmt: skip
    return tuple(made)


def _state(
    box: str, tags: Sequence[str], foreign: Sequence[str], elsewhere: Sequence[str], holds: bool
) -> tuple[str, str]:
    if len(tags) > 1:
        return "two tags", f"Box {box} has two tags: {' and '.join(tags)}. Say which of them it is."
    if elsewhere:
        also = ", ".join(sorted(set(elsewhere)))
        return "two tags", f"Tag {tags[0]} speaks for box {box} and for box {also}. Say which of them it is."
    if not tags and foreign:
        return "another code", f"Box {box} has a code that is no tag of this shop: {foreign[0]}. Lay its own tag in it."
    if not holds:
        return "empty", ""
    return ("one bag", "") if tags else ("no tag", f"Box {box} has no tag. Say whose it is.")


def _said(box: str, tags: Sequence[str], count: int, piles: int, over: Sequence[int]) -> str:
    whose = f", tag {tags[0]}" if tags else ""
    if not count:
        return f"Box {box}{whose}: empty."
    lone = count - piles
    told = f"Box {box}{whose}: {lone} piece{'' if lone == 1 else 's'}"
    if piles:
        told += f" and {piles} spot{'' if piles == 1 else 's'} for you to count"
    if over:
        told += f"; {len(over)} reach{'es' if len(over) == 1 else ''} over its line"
    return told + "."


def _reaches_over(flat: Flat, box: Box, piece: Piece) -> bool:
    xs = [x / flat.scale[0] for x, _y in piece.outline_mm]
    ys = [y / flat.scale[1] for _x, y in piece.outline_mm]
    left, top = box.x_mm - OVER_LINE_MM, box.y_mm - OVER_LINE_MM
    right, bottom = box.x_mm + box.width_mm + OVER_LINE_MM, box.y_mm + box.height_mm + OVER_LINE_MM
    return min(xs) < left or max(xs) > right or min(ys) < top or max(ys) > bottom


def told_of(boxes: Sequence[BoxRead]) -> dict[str, Any]:
    """Sum the boxes up in words.

    Parameters
    ----------
    boxes : sequence of BoxRead
        All of one mat. [-]

    Returns
    -------
    dict
        `with_pieces` and `empty`, each the boxes' names; `ask`, the sentences of those that a person has to settle. [-]

    Examples
    --------
    >>> told_of(())
    {'with_pieces': [], 'empty': [], 'ask': []}

    References
    ----------
    none: counts.
    """
    return {
        "with_pieces": [b.box for b in boxes if b.pieces],
        "empty": [b.box for b in boxes if not b.pieces],
        "ask": [b.sentence for b in boxes if b.state not in ("one bag", "empty")],
    }
