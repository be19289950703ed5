"""Fastener shapes resting on the mat, seen from where the camera stood, fitted to an outline.

A point p of the outline with outward normal n is the trace of a plane through the camera that touches the body. With
the camera at (cx, cy, H) and N = (n, (n.p - n.c) / H), the body's reach along N must be n.p: what is left over is the
miss, in mm on the mat. For circles, caps and hexagons that reach is a closed formula, whatever the height: so the
shift and the growth that height brings are in the fit and need no correction afterwards.
A measured normal is noisy, which matters along a straight flank: each is turned to the one that touches the shape at
hand, the one with the least reach left over, which makes the miss the true distance from a convex shape.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from witnessmark.calc.mat.camera import Array


@dataclass(frozen=True)
class View:
    """What a fit sees: outline points, normals, the touching planes, and the camera's place."""

    points: Array
    measured: Array
    normals: Array
    reach: Array
    planes: Array
    camera: tuple[float, float, float]
    hole: Array | None


@dataclass(frozen=True)
class Fit:
    """A fitted shape: parameters, their spread, the miss of each point, and what one figure of cost it comes to."""

    family: str
    values: Array
    spread: Array
    misses: Array
    cost: float


def view(points: Array, normals: Array, camera: tuple[float, float, float], hole: Array | None = None) -> View:
    """Turn outline points into touching planes.

    Parameters
    ----------
    points : array
        Outline. [mm], shape (n, 2)
    normals : array
        Unit vectors off the piece. [-], shape (n, 2)
    camera : tuple of float
        Where the camera stood, height last. [mm]
    hole : array or None
        Edge of a hole. [mm], shape (m, 2)

    Returns
    -------
    View
        Ready to fit.

    Examples
    --------
    >>> import numpy as np
    >>> view(np.array([[5.0, 0.0]]), np.array([[1.0, 0.0]]), (0.0, 0.0, 250.0)).planes[0].tolist()
    [1.0, 0.0, 0.02]

    References
    ----------
    mat-geometry
    """
    import numpy as np

    reach = np.sum(points * normals, 1)
    slope = (reach - normals @ np.array(camera[:2])) / camera[2]
    return View(points, normals, normals, reach, np.column_stack([normals, slope]), camera, hole)


def _turned(seen: View, angles: Array, times: int = 1, *, hole: bool = True) -> View:
    """Give the view with each normal turned by an angle; with `times` the points are repeated so often."""
    import numpy as np

    c, s = np.cos(angles), np.sin(angles)
    m = np.tile(seen.measured, (times, 1))
    points = np.tile(seen.points, (times, 1))
    normals = np.stack([c * m[:, 0] - s * m[:, 1], s * m[:, 0] + c * m[:, 1]], 1)
    made = view(points, normals, seen.camera, seen.hole if hole else None)
    return View(points, m, made.normals, made.reach, made.planes, made.camera, made.hole)


def _touching(shape: Callable[[Array, View], Array], values: Array, seen: View, angles: Array, spans: Any) -> Array:
    """Turn each normal to where its plane touches the shape: where the least reach is left over."""
    import numpy as np

    count = len(seen.points)
    offsets = np.linspace(-1, 1, 5)
    rows = np.arange(count)
    for span in spans:
        tried = angles[None] + span * offsets[:, None]
        left = shape(values, _turned(seen, tried.ravel(), 5, hole=False)).reshape(5, count)
        angles = tried[left.argmin(0), rows]
    return np.clip(angles, -0.5, 0.5)


def _circle(planes: Array, centre: Array, axis: Array, radius: float) -> Array:
    import numpy as np

    along = planes @ axis
    across = np.sqrt(np.maximum(np.sum(planes * planes, 1) - along * along, 0.0))
    return planes @ centre + radius * across


def _frame(v: Array, rim: float, drop: float, over: float) -> tuple[Array, Array, Array, float]:
    """Give axis (head to tail), upward normal of the axis, sideways, and the tilt of a pin on its rim and its tail."""
    import numpy as np

    tilt = np.arctan2(drop, max(over, 1e-3))
    c, s = np.cos(v[2]), np.sin(v[2])
    axis = np.array([c * np.cos(tilt), s * np.cos(tilt), -np.sin(tilt)])
    side = np.array([-s, c, 0.0])
    up = np.array([c * np.sin(tilt), s * np.sin(tilt), np.cos(tilt)])
    return axis, up, side, float(tilt)


def _plain(v: Array, w: View) -> Array:
    """Cylinder: x, y of one end, azimuth, radius, length, broken edge of both ends."""
    import numpy as np

    axis = np.array([np.cos(v[2]), np.sin(v[2]), 0.0])
    start = np.array([v[0], v[1], v[3]])
    body = np.maximum(_shank(v, w, start, axis, 5), _shank(v, w, start + axis * v[4], -axis, 5))
    return body - w.reach


def _shank(v: Array, w: View, start: Array, axis: Array, chamfer: int) -> Array:
    """Reach of a shank of radius v[3] and length v[4] whose far edge is broken at 45 degrees."""
    import numpy as np

    cut = v[chamfer]
    near = _circle(w.planes, start, axis, v[3])
    side = _circle(w.planes, start + axis * (v[4] - cut), axis, v[3])
    return np.maximum(np.maximum(near, side), _circle(w.planes, start + axis * v[4], axis, v[3] - cut))


def _of_two(v: Array, w: View, head: Array, shank: Array, bearing: Array, axis: Array) -> Array:
    """Give each point to the head or the shank, by where the neck shows from the camera."""
    import numpy as np

    cx, cy, high = w.camera
    grow = high / (high - bearing[2])
    neck = np.array([cx + (bearing[0] - cx) * grow, cy + (bearing[1] - cy) * grow])
    flat = axis[:2] / (np.hypot(axis[0], axis[1]) + 1e-12)
    apart = w.points - neck
    along = apart @ flat
    beside = np.abs(apart @ np.array([-flat[1], flat[0]]))
    back = (w.measured @ flat > 0.5) & (beside > v[3] * 1.05 + 0.15) & (along < v[5])
    return np.where((along < 0) | back, head, shank) - w.reach


def _hexagon(v: Array, w: View) -> Array:
    """Six-sided head: x, y of the bearing face's middle, azimuth, radius, length, half across flats, head height,
    broken edge of the tail.
    """
    import numpy as np

    axis, up, side, tilt = _frame(v, v[5], v[5] - v[3], v[4])
    bearing = np.array([v[0], v[1], v[5] * np.cos(tilt)])
    corner = v[5] / np.cos(np.pi / 6)
    turn = np.arange(6) * np.pi / 3
    star = corner * (np.cos(turn)[:, None] * side + np.sin(turn)[:, None] * up)
    reach = (w.planes @ star.T).max(1)
    top = w.planes @ bearing
    head = top + reach + np.maximum(0.0, -(w.planes @ axis) * v[6])
    return _of_two(v, w, head, _shank(v, w, bearing, axis, 7), bearing, axis)


def _cap(planes: Array, centre: Array, axis: Array, radius: float, height: float) -> Array:
    """Reach of a cap of a ball that bulges against the axis from a rim at `centre`."""
    import numpy as np

    height = max(height, 1e-3)
    ball = (radius**2 + height**2) / (2 * height)
    middle = centre + axis * (ball - height)
    size = np.sqrt(np.sum(planes * planes, 1))
    along = -(planes @ axis) / size
    on_ball = along >= (ball - height) / ball
    return np.where(on_ball, planes @ middle + ball * size, _circle(planes, centre, axis, radius))


def _round(v: Array, w: View) -> Array:
    """Round head: x, y of the bearing face's middle, azimuth, radius, length, head radius, head height,
    broken edge of the tail.
    """
    import numpy as np

    axis, _up, _side, tilt = _frame(v, v[5], v[5] - v[3], v[4])
    bearing = np.array([v[0], v[1], v[5] * np.cos(tilt)])
    head = _cap(w.planes, bearing, axis, v[5], v[6])
    return _of_two(v, w, head, _shank(v, w, bearing, axis, 7), bearing, axis)


def _countersunk(v: Array, w: View) -> Array:
    """Flush head: x, y of the rim's middle, azimuth, radius, length over all, rim radius, depth of the cone,
    dome, broken edge of the tail.
    """
    import numpy as np

    axis, _up, _side, tilt = _frame(v, v[5], v[5] - v[3], v[4])
    rim = np.array([v[0], v[1], v[5] * np.cos(tilt)])
    neck = rim + axis * v[6]
    small = _circle(w.planes, neck, axis, v[3])
    head = np.maximum(_cap(w.planes, rim, axis, v[5], v[7]), small)
    return _of_two(v, w, head, np.maximum(small, _shank(v, w, rim, axis, 8)), neck, axis)


def _hole_misses(v: Array, w: View, radius: float, high: float) -> Array:
    """A hole seen through is what both its rims leave open."""
    import numpy as np

    if w.hole is None:
        return np.zeros(0)
    cx, cy, camera = w.camera
    grow = camera / (camera - high)
    low = np.hypot(w.hole[:, 0] - v[0], w.hole[:, 1] - v[1]) - radius
    top = np.hypot(w.hole[:, 0] - cx - (v[0] - cx) * grow, w.hole[:, 1] - cy - (v[1] - cy) * grow) - radius * grow
    return np.maximum(low, top)


def _ring(v: Array, w: View) -> Array:
    """Ring or disc lying flat: x, y, radius, thickness, radius of the hole."""
    import numpy as np

    body = w.normals @ v[:2] + v[2] + np.maximum(0.0, w.planes[:, 2] * v[3])
    return np.concatenate([body - w.reach, _hole_misses(v, w, v[4], v[3])])


def _nut(v: Array, w: View) -> Array:
    """Nut lying flat: x, y, turn, half across flats, thickness, radius of the hole."""
    import numpy as np

    turn = v[2] + np.arange(6) * np.pi / 3
    corners = v[3] / np.cos(np.pi / 6) * np.stack([np.cos(turn), np.sin(turn)])
    body = w.normals @ v[:2] + (w.normals @ corners).max(1) + np.maximum(0.0, w.planes[:, 2] * v[4])
    return np.concatenate([body - w.reach, _hole_misses(v, w, v[5], v[4])])


SHAPES: dict[str, Callable[[Array, View], Array]] = {
    "plain pin": _plain,
    "hexagon": _hexagon,
    "round": _round,
    "countersunk": _countersunk,
    "ring": _ring,
    "nut": _nut,
}


def thinned(seen: View, keep: int) -> View:
    """Keep every so many-th point, for a first look.

    Parameters
    ----------
    seen : View
        The outline. [-]
    keep : int
        One of how many points stays. [-]

    Returns
    -------
    View
        With fewer points; the hole stays whole.

    Examples
    --------
    >>> import numpy as np
    >>> len(thinned(view(np.ones((6, 2)), np.ones((6, 2)), (0.0, 0.0, 250.0)), 3).points)
    2

    References
    ----------
    mat-geometry
    """
    return view(seen.points[::keep], seen.measured[::keep], seen.camera, seen.hole)


def fit(
    family: str, start: Array, low: Array, high: Array, seen: View, prior: tuple[Array, Array], *, rounds: int = 14
) -> Fit:
    """Fit one shape to an outline.

    Parameters
    ----------
    family : str
        One of SHAPES. [-]
    start : array
        First guess of the parameters. [mm and rad], shape (k,)
    low : array
        Lower bounds. [mm and rad], shape (k,)
    high : array
        Upper bounds. [mm and rad], shape (k,)
    seen : View
        The outline. [-]
    prior : tuple of array
        What is expected of each parameter and how firmly (infinite: not at all). [mm and rad], shape (k,)
    rounds : int
        Most steps; the far misses are let in from the fifth on. [-]

    Returns
    -------
    Fit
        Damped least squares with far misses held down; the spread is of one standard deviation.

    Examples
    --------
    >>> import numpy as np
    >>> t = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    >>> n = np.stack([np.cos(t), np.sin(t)], 1)
    >>> seen = view(n * 5 + 20, n, (0.0, 0.0, 1e9))
    >>> free = (np.zeros(5), np.full(5, np.inf))
    >>> got = fit("ring", np.array([19.0, 21, 4, 1, 0]), np.zeros(5), np.full(5, 50.0), seen, free)
    >>> round(float(got.values[2]), 3)
    5.0

    References
    ----------
    mat-geometry
    """
    import numpy as np

    shape = SHAPES[family]
    expected, firm = prior
    held = np.isfinite(firm)
    step = 1e-4

    def weigh(misses: Array, scale: float) -> Array:
        return 1.0 / (1.0 + (misses / scale) ** 2)

    values = np.clip(start, low, high)
    flat = seen
    angles = np.zeros(len(flat.points))
    misses = shape(values, seen)
    damp, scale = 1e-3, 0.5

    def total(m: Array, v: Array, s: float) -> float:
        pull = ((v - expected)[held] / firm[held]) * 0.05
        return float(np.sum(s * s * np.log1p((m / s) ** 2)) + np.sum(pull**2) * 4)

    now = total(misses, values, scale)
    slopes = np.empty((len(misses), len(values)))
    for turn in range(rounds):
        new_scale = max(0.12, scale * 0.6) if turn else scale
        scale = new_scale
        angles = _touching(shape, values, flat, angles, (0.2, 0.08, 0.03, 0.012) if turn < 1 else (0.03, 0.01))
        seen = _turned(flat, angles)
        misses = shape(values, seen)
        now = total(misses, values, scale)
        for k in range(len(values)):
            near = values.copy()
            near[k] += step
            slopes[:, k] = (shape(near, seen) - misses) / step
        weights = weigh(misses, scale)
        square = slopes.T @ (slopes * weights[:, None])
        pull = slopes.T @ (weights * misses)
        square[np.diag_indices_from(square)] += np.where(held, 4 * (0.05 / np.where(held, firm, 1)) ** 2, 0.0)
        pull += np.where(held, 4 * (0.05 / np.where(held, firm, 1)) ** 2 * np.where(held, values - expected, 0.0), 0.0)
        done = False
        for _ in range(5):
            move = np.linalg.solve(square + damp * np.diag(np.diag(square) + 1e-9), -pull)
            tried = np.clip(values + move, low, high)
            found = shape(tried, seen)
            cost = total(found, tried, scale)
            if cost < now:
                done = scale <= 0.12 and now - cost < 1e-3 * now + 1e-9
                values, misses, now = tried, found, cost
                damp = max(damp * 0.3, 1e-7)
                break
            damp *= 6
        else:
            if scale <= 0.12:
                break
        if done:
            break
    weights = weigh(misses, 0.12)
    left = float(np.sum(weights * misses**2) / max(1.0, weights.sum() - len(values)))
    inverse = np.linalg.pinv(square)
    # Neighbouring points share their error: about one in three counts for itself.
    spread = np.sqrt(np.maximum(np.diag(inverse), 0) * max(left, 1e-6) * 3)
    cost = float(np.mean(np.minimum(misses**2, 0.25)))
    return Fit(family, values, spread, misses, cost)
