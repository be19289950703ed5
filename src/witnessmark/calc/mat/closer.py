"""A second, closer look at a countersunk head: its edge is sought where a cone of each usual angle would show it.

The first outline is smoothed round its corners and keeps clear of the hollow between head and shank, which takes most
of a short cone. Here the edge is sought square to the shape itself, right up to its corners, from several angles to
begin with; the one that shows the most of its own edge in the picture is followed to the end.
"""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.calc.mat.camera import Array
from witnessmark.calc.mat.finding import EDGE_SHORT_MM, Difference, along_evenly, steps_across
from witnessmark.calc.mat.rectify import Flat
from witnessmark.calc.mat.shapes import Fit, View, fit

HEAD_ANGLES_DEG = (82.0, 100.0, 120.0)
SPACING_MM = 0.12
FLANK_EVERY = 4  # a long straight shank says no more by more points
# The picture's blur rounds what is nearer than this to a corner.
CORNER_MM, CORNER_RAD = 0.24, 0.3
STRAY_MM = 0.2
SHOWN_MM = 0.05
FEWEST = 40
RIM_MM = 0.35  # a head let shrink into its shank would fit the shank alone
_ROUND_STEPS = 96


@dataclass(frozen=True)
class Expected:
    """Where a shape's edge is expected on the mat, with unit normals off it, both (n, 2)."""

    points: Array
    normals: Array


def expected(values: Array, camera: tuple[float, float, float]) -> Expected:
    """Give the outline that a countersunk pin shows to the camera.

    Parameters
    ----------
    values : array
        Its parameters, as `PARAMETERS` lists them. [mm and rad], shape (9,)
    camera : tuple of float
        Where the camera stood, height last. [mm]

    Returns
    -------
    Expected
        Without the corners and the hollow between head and shank.

    Examples
    --------
    >>> import numpy as np
    >>> rivet = np.array([0.0, 0, 0, 2, 12, 4, 2, 0.1, 0.1])
    >>> seen = expected(rivet, (6.0, 0.0, 1e6))
    >>> bool(3.6 < seen.points[:, 1].max() < 4.0)
    True

    References
    ----------
    mat-geometry
    """
    import numpy as np

    head, shank = (_seen_hull(part, camera) for part in _solid(values))
    axis = np.array([np.cos(values[2]), np.sin(values[2])])
    reach = round(CORNER_MM / SPACING_MM)
    # A round end turns within the same stretch, the more the smaller it is.
    sharp = CORNER_RAD + 2 * CORNER_MM / (0.5 * values[3] + 0.5)
    points, normals = [], []
    for hull, other in ((head, shank), (shank, head)):
        line = along_evenly(hull, SPACING_MM)
        off = _normals(line)
        bend = np.arccos(np.clip(np.sum(np.roll(off, reach, 0) * np.roll(off, -reach, 0), 1), -1, 1))
        sides = _normals(other)
        clear = (line @ sides.T - np.sum(other * sides, 1)).max(1) > 0.05 * values[3] + 0.2
        few = (np.arange(len(line)) % FLANK_EVERY == 0) | (hull is head) | (np.abs(off @ axis) > 0.12)
        keep = clear & few & (bend < sharp)
        points.append(line[keep])
        normals.append(off[keep])
    return Expected(np.concatenate(points), np.concatenate(normals))


def _solid(v: Array) -> tuple[Array, Array]:
    """Give points in space on the rims of the head, cap to neck, and of the shank."""
    import numpy as np

    t = np.linspace(0, 2 * np.pi, _ROUND_STEPS, endpoint=False)[:, None]
    c, s = np.cos(v[2]), np.sin(v[2])
    tilt = np.arctan2(v[5] - v[3], max(v[4], 1e-3))
    axis = np.array([c * np.cos(tilt), s * np.cos(tilt), -np.sin(tilt)])
    side, up = np.array([-s, c, 0.0]), np.array([c * np.sin(tilt), s * np.sin(tilt), np.cos(tilt)])
    at = np.array([v[0], v[1], v[5] * np.cos(tilt)])

    def ring(where: float, radius: float) -> Array:
        return at + axis * where + radius * (np.cos(t) * side + np.sin(t) * up)

    high = max(v[7], 1e-3)
    ball = (v[5] ** 2 + high**2) / (2 * high)
    turns = np.arccos((ball - high) / ball) * np.linspace(0.1, 1.0, 12)
    cap = [ring(float(ball * (1 - np.cos(a)) - high), float(ball * np.sin(a))) for a in turns]
    shank = [ring(v[6], v[3]), ring(v[4] - v[8], v[3]), ring(v[4], v[3] - v[8])]
    return np.concatenate([*cap, shank[0]]), np.concatenate(shank)


def _seen_hull(points: Array, camera: tuple[float, float, float]) -> Array:
    import cv2
    import numpy as np

    foot, high = np.array(camera[:2]), camera[2]
    on_mat = foot + (points[:, :2] - foot) * (high / (high - points[:, 2:]))
    middle = on_mat.mean(0)
    hull = cv2.convexHull((on_mat - middle).astype(np.float32)).reshape(-1, 2).astype(float)
    after = np.roll(hull, -1, 0)
    turn = float(np.sum(hull[:, 0] * after[:, 1] - hull[:, 1] * after[:, 0]))
    return np.asarray((hull if turn > 0 else hull[::-1]) + middle)


def _normals(line: Array) -> Array:
    """Give the outward normal of each stretch from one point of a closed line to the next."""
    import numpy as np

    along = np.roll(line, -1, 0) - line
    along /= np.linalg.norm(along, axis=1, keepdims=True) + 1e-12
    return np.stack([along[:, 1], -along[:, 0]], 1)


def look_closer(flat: Flat, apart: Difference, first: Fit) -> Fit | None:
    """Fit a countersunk pin once more, to the edge found where the shape expects it.

    Parameters
    ----------
    flat : Flat
        The flat picture. [-]
    apart : Difference
        Hue against the mat's. [-]
    first : Fit
        The pin as the whole outline gave it. [mm]

    Returns
    -------
    Fit or None
        Its head's slope and cap are better than the first fit's; its spread says how much of the cone was seen. None
        where too little edge is seen.

    Examples
    --------
    >>> look_closer.__name__
    'look_closer'

    References
    ----------
    mat-geometry
    mat-edges
    """
    import numpy as np

    starts = [first.values]
    for angle in HEAD_ANGLES_DEG:
        start = first.values.copy()
        start[6] = (start[5] - start[3]) / np.tan(np.radians(angle / 2))
        starts.append(start)
    tried = [one for start in starts if (one := _once(flat, apart, first, start, 5)) is not None]
    if not tried:
        return None
    best = _once(flat, apart, first, max(tried, key=_shown).values, 9)
    return best if best is not None and _shown(best) >= FEWEST else None


def _shown(one: Fit) -> int:
    import numpy as np

    return int(np.count_nonzero(np.abs(one.misses) < SHOWN_MM))


def _once(flat: Flat, apart: Difference, first: Fit, start: Array, rounds: int) -> Fit | None:
    """Seek the edge where these parameters expect it, and fit to that."""
    import numpy as np

    camera = flat.camera.centre_mm
    there = expected(start, camera)
    away, seen = steps_across(flat, apart.signal, there.points, there.normals, apart.noise)
    middle = np.median(np.stack([np.roll(away, k) for k in range(-4, 5)]), 0)
    good = seen & (np.abs(away - middle) < STRAY_MM)
    if np.count_nonzero(good) < FEWEST:
        return None
    points = (there.points + there.normals * (away + EDGE_SHORT_MM)[:, None])[good]
    low = np.concatenate([start[:2] - 2, [start[2] - 0.2], np.maximum(start[3:] * 0.6 - 0.5, 0.15)])
    high = np.concatenate([start[:2] + 2, [start[2] + 0.2], start[3:] * 1.5 + 0.5])
    low[5], high[5] = first.values[5] - RIM_MM, first.values[5] + RIM_MM
    low[7:], high[7:] = 0.0, (0.45 * start[5], 0.3 * start[3])
    wanted, firm = start.copy(), np.full(len(start), np.inf)
    wanted[7:], firm[7:] = (0.15, 0.08 * start[3]), (0.4, 0.12 * start[3])
    return fit(
        first.family, start, low, high, View(points, there.normals[good], camera, None), (wanted, firm), rounds=rounds
    )
