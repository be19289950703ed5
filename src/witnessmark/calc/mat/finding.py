"""Where the pieces lie on the flat picture, and their outlines to a part of a pixel."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from witnessmark.calc.mat.camera import Array
from witnessmark.calc.mat.rectify import Flat

LEAST_AREA_MM2 = 3.0
LEAST_HOLE_MM2 = 1.5
SPACING_MM = 0.22
# What is still too far in after that, learned from drawn pictures with other seeds than the measured ones.
EDGE_SHORT_MM = 0.024
_OUT_MM, _IN_MM = 0.45, 1.1


@dataclass(frozen=True)
class Line:
    """A closed outline on the mat: points and outward normals, both (n, 2) in mm; `concave` marks inner corners."""

    points: Array
    normals: Array
    concave: Array


@dataclass(frozen=True)
class Found:
    """One thing on the mat: its outline, its holes, and how bright it is; a dark one was found by its brightness."""

    outline: Line
    holes: tuple[Line, ...]
    area_mm2: float
    rgb: tuple[float, float, float]
    at_border: bool
    solidity: float
    dark: bool


@dataclass(frozen=True)
class Difference:
    """How far each pixel's hue is from the mat's: nought on the mat, in light and in shadow."""

    signal: Array
    noise: float
    ground: tuple[float, float, float]


def difference(light: Array) -> Difference:
    """Take the mat's own hue out of the picture, so that shadows vanish.

    Parameters
    ----------
    light : array
        Linear light of the flat work area, 16 bits. [-], shape (rows, columns, 3)

    Returns
    -------
    Difference
        One figure a pixel, and its noise on the bare mat.

    Notes
    -----
    The figure is the part of grey that is at right angles to the mat's colour: the mat times any brightness gives
    nought, metal gives its own brightness.

    Examples
    --------
    >>> import numpy as np
    >>> blue = np.full((40, 40, 3), (3000, 9000, 26000), np.uint16)
    >>> blue[:, 20:] //= 2
    >>> bool(abs(difference(blue).signal).max() < 0.001)
    True

    References
    ----------
    mat-geometry
    """
    import numpy as np

    some = light[2::5, 2::5].reshape(-1, 3).astype(np.float32) / 65535
    some = some[some.sum(1) > 0.01]
    ratio = some / (some.sum(1, keepdims=True) + 1e-6)
    middle = np.median(ratio, 0)
    for _ in range(4):  # metal is grey: the nearest half of the pixels is mat
        away = np.abs(ratio - middle).sum(1)
        middle = np.median(ratio[away <= np.quantile(away, 0.5)], 0)
    hue = middle / np.linalg.norm(middle)
    axis = np.ones(3) - hue.sum() * hue
    axis /= axis.sum()
    signal = light.astype(np.float32) @ (axis / 65535).astype(np.float32)
    some_signal = signal[2::3, 2::3]
    bare = some_signal[np.abs(some_signal) < np.quantile(np.abs(some_signal), 0.5)]
    noise = float(np.sqrt(np.mean(bare**2))) / 0.38  # the nearer half of a bell curve spreads 0.38 of it
    return Difference(signal, max(noise, 1e-5), (float(middle[0]), float(middle[1]), float(middle[2])))


def find(flat: Flat, apart: Difference) -> list[Found]:
    """Find every piece and its outline.

    Parameters
    ----------
    flat : Flat
        The work area seen from straight above. [-]
    apart : Difference
        Its hue against the mat's. [-]

    Returns
    -------
    list of Found
        In reading order. A thing that touches the ring is marked.

    Examples
    --------
    >>> find.__name__
    'find'

    References
    ----------
    mat-geometry
    """
    import cv2
    import numpy as np

    smooth = cv2.GaussianBlur(apart.signal, (0, 0), 0.1 * flat.px_per_mm)
    low = max(2.2 * apart.noise, 0.006)
    mask: Array = (np.abs(smooth) > low).astype(np.uint8)
    edge = max(2, int(0.35 * flat.px_per_mm))
    mask[:edge], mask[-edge:], mask[:, :edge], mask[:, -edge:] = 0, 0, 0, 0
    reach = max(1, int(0.12 * flat.px_per_mm))
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    mask = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, kernel)
    mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, kernel)
    contours, tree = cv2.findContours(mask, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    bright = flat.light[..., 1].astype(np.float32) / 65535
    ground = float(np.median(bright[::6, ::6]))
    found = []
    per2 = flat.px_per_mm**2
    for n, contour in enumerate(contours):
        if tree[0][n][3] >= 0 or cv2.contourArea(contour) < LEAST_AREA_MM2 * per2:
            continue
        x, y, w, h = cv2.boundingRect(contour)
        patch = apart.signal[y : y + h, x : x + w]
        inside = np.zeros((h, w), np.uint8)
        cv2.drawContours(inside, [contour], -1, 1, -1, offset=(-x, -y))
        if float(np.quantile(np.abs(patch[inside > 0]), 0.8)) < 4 * low:
            continue
        colour = np.median(flat.light[y : y + h, x : x + w][inside > 0], 0) / 65535
        holes, child = [], tree[0][n][2]
        while child >= 0:
            if cv2.contourArea(contours[child]) > LEAST_HOLE_MM2 * per2:
                holes.append(contours[child])
            child = tree[0][child][0]
        # A dark piece hardly differs in hue: its brightness shows its edge better, at the steepest spot.
        dark = float(np.median(bright[y : y + h, x : x + w][inside > 0])) < 0.42 * ground
        outline = _fine(flat, -bright if dark else apart.signal, apart.noise, contour, inward=False, dark=dark)
        if outline is None:
            continue
        border = (
            x <= edge + 1 or y <= edge + 1 or x + w >= mask.shape[1] - edge - 1 or y + h >= mask.shape[0] - edge - 1
        )
        area = cv2.contourArea(contour)
        full = cv2.contourArea(cv2.convexHull(contour))
        lines = tuple(
            line
            for hole in holes
            if (line := _fine(flat, apart.signal, apart.noise, hole, inward=True, dark=False)) is not None
        )
        found.append(
            Found(outline, lines, area / per2, tuple(float(v) for v in colour), border, area / max(full, 1.0), dark)  # type: ignore[arg-type]
        )
    return sorted(
        found, key=lambda f: (round(float(f.outline.points[:, 1].mean()) / 12), float(f.outline.points[:, 0].mean()))
    )


def along_evenly(points: Array, spacing: float) -> Array:
    """Walk along a closed line in even steps.

    Parameters
    ----------
    points : array
        Corners of the line, the last joined to the first. [mm], shape (n, 2)
    spacing : float
        Length of a step. [mm]

    Returns
    -------
    array
        Points on the line, at least sixteen. [mm], shape (m, 2)

    Examples
    --------
    >>> import numpy as np
    >>> len(along_evenly(np.array([[0.0, 0], [5, 0], [5, 5], [0, 5]]), 0.5))
    40

    References
    ----------
    mat-edges
    """
    import numpy as np

    closed = np.vstack([points, points[:1]])
    length = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    count = max(16, int(length[-1] / spacing))
    at = np.linspace(0, length[-1], count, endpoint=False)
    return np.stack([np.interp(at, length, closed[:, k]) for k in (0, 1)], 1)


def _round(values: Array, steps: float) -> Array:
    """Smooth round a closed line with a bell curve."""
    import numpy as np

    reach = max(1, int(3 * steps))
    bell = np.exp(-0.5 * (np.arange(-reach, reach + 1) / steps) ** 2)
    bell /= bell.sum()
    around = (
        np.concatenate([values[-reach:], values, values[:reach]]) if len(values) > reach else np.tile(values, (3, 1))
    )
    return np.stack([np.convolve(around[:, k], bell, "valid")[: len(values)] for k in range(values.shape[1])], 1)


def _normals(points: Array, steps: float) -> Array:
    import numpy as np

    smooth = _round(points, steps)
    along = np.roll(smooth, -1, 0) - np.roll(smooth, 1, 0)
    along /= np.linalg.norm(along, axis=1, keepdims=True) + 1e-12
    return np.stack([along[:, 1], -along[:, 0]], 1)


def steps_across(
    flat: Flat, signal: Array, points: Array, outward: Array, noise: float, share: float = 0.15
) -> tuple[Array, Array]:
    """Find the outermost strong step of hue along the normal of each point.

    Parameters
    ----------
    flat : Flat
        The flat picture. [-]
    signal : array
        Hue against the mat's. [-], shape (rows, columns)
    points : array
        Where to look. [mm], shape (n, 2)
    outward : array
        Unit vectors pointing off the piece. [-], shape (n, 2)
    noise : float
        Noise of the signal. [-]
    share : float
        A step is strong from this share of the steepest one on its line. [-]

    Returns
    -------
    tuple of array
        How far outward each step lies in mm, and whether there is one.

    Notes
    -----
    A half-level threshold reads bright pins small, because their flanks mirror the mat; the outermost step does less.
    Where the metal goes on growing brighter behind its edge by B a millimetre, the steepest spot of an edge of height A
    blurred by a bell of width s lies B s^2 / A too far in: that is taken back, with s measured on the picture's edges.

    Examples
    --------
    >>> steps_across.__name__
    'steps_across'

    References
    ----------
    mat-geometry
    """
    import cv2
    import numpy as np

    fine = 0.5 / flat.px_per_mm
    at = np.arange(_OUT_MM, -_IN_MM, -fine)  # from outside inward
    x = (points[:, :1] + outward[:, :1] * at - flat.origin_mm[0]) * flat.px_per_mm - 0.5
    y = (points[:, 1:] + outward[:, 1:] * at - flat.origin_mm[1]) * flat.px_per_mm - 0.5
    profile = cv2.remap(
        signal, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    bell = np.exp(-0.5 * (np.arange(-4, 5) / 1.6) ** 2)
    bell /= bell.sum()
    profile = cv2.filter2D(profile, -1, bell[None].astype(np.float32), borderType=cv2.BORDER_REPLICATE)
    steep = np.gradient(profile, axis=1)
    third = len(at) // 3
    steep *= np.sign(np.median(profile[:, -third:]) - np.median(profile[:, :third]) + 1e-9)
    most = steep.max(1, keepdims=True)
    strong = np.maximum(share * most, 1.6 * noise * fine * flat.px_per_mm)
    peak = np.zeros_like(steep, bool)
    peak[:, 1:-1] = (steep[:, 1:-1] >= steep[:, :-2]) & (steep[:, 1:-1] > steep[:, 2:]) & (steep[:, 1:-1] > strong)
    first = peak.argmax(1)
    rows = np.arange(len(points))
    seen = peak[rows, first]
    first = np.clip(first, 1, len(at) - 2)
    a, b, c = steep[rows, first - 1], steep[rows, first], steep[rows, first + 1]
    bend = a - 2 * b + c
    part = np.where(np.abs(bend) > 1e-12, 0.5 * (a - c) / np.where(bend == 0, 1, bend), 0.0)
    edge = at[first] - np.clip(part, -0.6, 0.6) * fine
    sharp = seen & (bend < 0)
    if not sharp.any():
        return edge, seen
    blur = float(np.quantile(np.sqrt(b[sharp] / -bend[sharp]) * fine, 0.35))
    blur = min(max(blur, 0.6 * fine), 0.3)
    behind = np.clip(first + round(2.2 * blur / fine), 0, len(at) - 1)
    climb = np.clip(steep[rows, behind] / fine, 0, None)
    height = np.maximum((b / fine - climb / 2) * blur * np.sqrt(2 * np.pi), 1e-6)
    return edge + np.clip(climb * blur**2 / height, 0, 0.15), seen


def _fine(flat: Flat, signal: Array, noise: float, contour: Any, *, inward: bool, dark: bool) -> Line | None:
    """Bring a pixel contour to its true edge, and give it normals."""
    import numpy as np

    raw = contour.reshape(-1, 2).astype(np.float64)
    points = (raw + 0.5) / flat.px_per_mm + np.array(flat.origin_mm)
    points = _round(along_evenly(points, SPACING_MM), 0.8)
    turn = float(np.sum(points[:, 0] * np.roll(points[:, 1], -1) - points[:, 1] * np.roll(points[:, 0], -1)))
    if turn < 0:
        points = points[::-1]
    normals = _normals(points, 1.6)  # pointing off the enclosed region
    off_metal = -normals if inward else normals
    away, seen = steps_across(flat, signal, points, off_metal, noise, 0.6 if dark else 0.15)
    if np.count_nonzero(seen) < 10:
        return None
    filled = np.interp(np.arange(len(away)), np.nonzero(seen)[0], away[seen])
    middle = np.median(np.stack([np.roll(filled, k) for k in range(-3, 4)]), 0)
    good = seen & (np.abs(away - middle) < 0.25)
    moved = points + off_metal * (away[:, None] + EDGE_SHORT_MM)
    moved = along_evenly(moved[good], SPACING_MM)
    normals = _normals(moved, 1.2)
    along = np.stack([-normals[:, 1], normals[:, 0]], 1)
    bend = np.sum((np.roll(normals, -2, 0) - np.roll(normals, 2, 0)) * along, 1)
    hollow = bend < -0.35
    concave = hollow | np.roll(hollow, 1) | np.roll(hollow, -1)
    return Line(moved, normals, concave)
