"""Tags read out of a photograph: every code in it that names a tag of the shop.

The picture is read as it is, then with its contrast evened out. What is left, too small or too tilted for the decoder, is
looked for by its face: a bright oblong whose codes lie at known places, so that their modules can be sampled one by one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import chain
from typing import Any

from witnessmark.calc.tags.code import tag_of
from witnessmark.calc.tags.face import CODE_LEFT_MM, CODE_TOP_MM, HEIGHT_MM, MODULE_MM, MODULES, WIDTH_MM

Array = Any
Corners = tuple[tuple[float, float], ...]
_PX_A_MM = 8
_EVENED_SIDE, _SMALL_SIDE, _FACE_SIDE = 1400, 1800, 1600
_MOST_FACES = 60


@dataclass(frozen=True)
class TagRead:
    """A tag that a picture shows, and the corners of the code that named it, in pixels of the picture."""

    tag: str
    corners: Corners


def read_tags(grey: Array, tag_of: Callable[[str], str | None] = tag_of) -> tuple[TagRead, ...]:
    """Read the tags that a picture shows, each once, from left to right.

    Parameters
    ----------
    grey : numpy.ndarray
        Height by width, 8 bits. [-]
    tag_of : callable
        Gives the tag that a code's text names, or None where it is none of the shop's. [-]

    Returns
    -------
    tuple of TagRead
        Empty where nothing could be read: a code that is torn, covered or not of the shop is passed over. [-]

    Notes
    -----
    A code counts only when its error correction holds and, on a blank tag, its check letter fits.

    Examples
    --------
    >>> import numpy as np
    >>> read_tags(np.zeros((40, 60), np.uint8))
    ()

    References
    ----------
    iso-18004, iso-7064
    """
    if min(grey.shape) < MODULES:
        return ()
    found: dict[str, TagRead] = {}
    # A tag that one way reads says nothing of its neighbour, so all three look.
    for text, corners in chain(_raw(grey), _evened(grey), _by_face(grey)):
        tag = tag_of(text)
        if tag is not None:
            found.setdefault(tag, TagRead(tag, corners))
    return tuple(sorted(found.values(), key=lambda read: read.corners[0]))


def _decoded(image: Array, scale: float, *, pure: bool = False) -> Iterator[tuple[str, Corners]]:
    import zxingcpp

    for code in zxingcpp.read_barcodes(
        image, formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode), is_pure=pure
    ):
        if code.valid:
            p = code.position
            yield (
                code.text,
                tuple((q.x / scale, q.y / scale) for q in (p.top_left, p.top_right, p.bottom_right, p.bottom_left)),
            )


def _raw(grey: Array) -> Iterator[tuple[str, Corners]]:
    yield from _decoded(grey, 1.0)


def _evened(grey: Array) -> Iterator[tuple[str, Corners]]:
    """Read again where light and shade are evened out; a small picture is enlarged, a large one reduced."""
    import cv2

    side = max(grey.shape)
    scale = 2.0 if side < _SMALL_SIDE else min(1.0, _EVENED_SIDE / side)
    how = cv2.INTER_CUBIC if scale > 1 else cv2.INTER_AREA
    sized = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=how)
    yield from _decoded(cv2.createCLAHE(3.0, (8, 8)).apply(sized), scale)


def _by_face(grey: Array) -> Iterator[tuple[str, Corners]]:
    """Look for faces of blank tags and sample their codes where they must lie."""
    import cv2
    import numpy as np

    face = np.array([[0, 0], [WIDTH_MM, 0], [WIDTH_MM, HEIGHT_MM], [0, HEIGHT_MM]], np.float32)
    for corners in _bright_oblongs(grey):
        for turn in (0, 2):
            onto = cv2.getPerspectiveTransform(face * _PX_A_MM, np.roll(corners, -turn, axis=0))
            size = (int(WIDTH_MM * _PX_A_MM), int(HEIGHT_MM * _PX_A_MM))
            flat = cv2.warpPerspective(grey, onto, size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
            text = next(filter(None, (_sampled(flat, left) for left in CODE_LEFT_MM)), None)
            if text:
                yield text, tuple((float(x), float(y)) for x, y in corners)
                break


def _bright_oblongs(grey: Array) -> Iterator[Array]:
    """Give four-sided bright patches as long as a tag, the largest first: corners round the patch, a long side first."""
    import cv2
    import numpy as np

    scale = min(1.0, _FACE_SIDE / max(grey.shape))
    small = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA) if scale < 1 else grey
    seen: list[Array] = []
    # Closing fills the codes, so that a tag is one bright patch.
    side = max(3, int(max(small.shape) / 160)) | 1
    filled = cv2.morphologyEx(small, cv2.MORPH_CLOSE, np.ones((side, side), np.uint8))
    block = (max(small.shape) // 6) | 1
    level, _ = cv2.threshold(filled, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    bright = float(np.percentile(filled, 99.5))
    # A light part behind a tag runs into it at one level and falls away at a higher one.
    masks = [cv2.adaptiveThreshold(filled, 255, cv2.ADAPTIVE_THRESH_MEAN_C, cv2.THRESH_BINARY, block, -12)]
    masks += [
        cv2.threshold(filled, level + share * max(0.0, bright - level), 255, cv2.THRESH_BINARY)[1]
        for share in (0.0, 0.35, 0.6)
    ]
    for mask in masks:
        contours, _ = cv2.findContours(mask, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
        large = sorted((c for c in contours if len(c) > 60), key=cv2.contourArea, reverse=True)[:_MOST_FACES]
        for contour in large:
            corners = _four_sides(contour)
            if corners is None:
                continue
            middle = corners.mean(axis=0)
            if any(np.abs(other.mean(axis=0) - middle).max() < 4 and abs(_length(other) - _length(corners)) < 8
                   for other in seen):  # fmt: skip
                continue
            seen.append(corners)
            yield (corners / scale).astype(np.float32)


def _length(corners: Array) -> float:
    import numpy as np

    return float(np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1).sum())


def _four_sides(contour: Array) -> Array | None:
    """Fit four straight sides to a patch that has the shape of a tag seen at a tilt."""
    import cv2
    import numpy as np

    hull = cv2.convexHull(contour)
    area = cv2.contourArea(hull)
    if area < 900 or cv2.contourArea(contour) < 0.7 * area:
        return None
    corners = None
    for share in (0.02, 0.04, 0.06, 0.09):
        corners = cv2.approxPolyDP(hull, share * cv2.arcLength(hull, True), True)
        if len(corners) <= 4:
            break
    if corners is None or len(corners) != 4:
        return None
    rough = corners.reshape(4, 2).astype(np.float64)
    points = contour.reshape(-1, 2).astype(np.float64)
    lines = []
    for at in range(4):
        a, b = rough[at], rough[(at + 1) % 4]
        along = (b - a) / np.linalg.norm(b - a)
        out = np.array([along[1], -along[0]])
        far, off = (points - a) @ along, np.abs((points - a) @ out)
        length = np.linalg.norm(b - a)
        near = points[(off < max(3.0, 0.04 * length)) & (far > 0.08 * length) & (far < 0.92 * length)]
        if len(near) < 8:
            return None
        vx, vy, x, y = cv2.fitLine(near.astype(np.float32), cv2.DIST_HUBER, 0, 0.01, 0.01).ravel()
        lines.append(np.array([vy, -vx, vy * x - vx * y]))
    crossed = []
    for at in range(4):
        (a1, b1, c1), (a2, b2, c2) = lines[at - 1], lines[at]
        det = a1 * b2 - a2 * b1
        if abs(det) < 1e-6:
            return None
        crossed.append(((c1 * b2 - c2 * b1) / det, (a1 * c2 - a2 * c1) / det))
    sides = np.linalg.norm(np.roll(crossed, -1, axis=0) - np.array(crossed), axis=1)
    first, second = sides[0] + sides[2], sides[1] + sides[3]
    if not 1.15 < max(first, second) / max(1.0, min(first, second)) < 4.2:
        return None
    clockwise = np.array(crossed)
    if cv2.contourArea(clockwise.astype(np.float32), oriented=True) < 0:
        clockwise = clockwise[::-1]
    sides = np.linalg.norm(np.roll(clockwise, -1, axis=0) - clockwise, axis=1)
    return clockwise if sides[0] + sides[2] > sides[1] + sides[3] else np.roll(clockwise, -1, axis=0)


def _sampled(flat: Array, left_mm: float) -> str | None:
    """Read a code on a flattened face module by module, moved a little where it does not read at once."""
    import numpy as np

    middles = (np.arange(MODULES) + 0.5) * MODULE_MM
    x0, y0 = left_mm + middles, CODE_TOP_MM + middles
    half = max(1, int(MODULE_MM * _PX_A_MM * 0.25))
    for dx, dy in ((0, 0), (0.35, 0), (-0.35, 0), (0, 0.35), (0, -0.35), (0.35, 0.35), (-0.35, -0.35)):
        xs = np.clip(((x0 + dx) * _PX_A_MM).astype(int), half, flat.shape[1] - half - 1)
        ys = np.clip(((y0 + dy) * _PX_A_MM).astype(int), half, flat.shape[0] - half - 1)
        cells = sum(flat[np.ix_(ys + j, xs + i)].astype(np.float64) for i in (-half, 0, half) for j in (-half, 0, half))
        text = _from_cells(cells / 9)
        if text:
            return text
    return None


def _from_cells(cells: Array) -> str | None:
    """Decode 21 by 21 grey cells: dark and light by their neighbourhood, what every code shares put back."""
    import cv2
    import numpy as np

    if cells.max() - cells.min() < 30:
        return None
    blurred = cv2.blur(cells, (9, 9), borderType=cv2.BORDER_REFLECT)
    dark = cells < (blurred + (cells.max() + cells.min()) / 2) / 2
    _put_back(dark)
    image = np.pad(np.where(dark, 0, 255).astype(np.uint8), 4, constant_values=255).repeat(4, 0).repeat(4, 1)
    return next((text for text, _ in _decoded(image, 1.0, pure=True)), None)


def _put_back(dark: Array) -> None:
    """Draw the corner marks, the white round them, the timing and the one dark module that every code has."""
    import numpy as np

    mark = np.zeros((8, 8), bool)
    mark[0:7, 0:7] = True
    mark[1:6, 1:6] = False
    mark[2:5, 2:5] = True
    dark[:8, :8] = mark
    dark[:8, -8:] = mark[:, ::-1]
    dark[-8:, :8] = mark[::-1]
    dark[6, 8:13] = dark[8:13, 6] = [True, False, True, False, True]
    dark[13, 8] = True
