"""How far the planes through the camera and an outline stand off a shape, compiled: it is asked a million times a picture.

Import this module inside the function that needs it: it brings the compiler. What it compiled once is kept on disk.
Each shape's parameters stand in `shapes.py`; here a shape is its number in FAMILIES.
"""

from __future__ import annotations

from collections.abc import Callable
from math import atan2, cos, hypot, pi, sin, sqrt
from typing import Any, TypeVar, cast

import numpy as np
from numba import njit

F = TypeVar("F", bound=Callable[..., Any])
Array = Any  # numpy arrays, as the compiler sees them
Vector = tuple[float, float, float]
FAMILIES = ("plain pin", "hexagon", "round", "countersunk", "ring", "nut")
_PLAIN, _HEXAGON, _ROUND, _COUNTERSUNK, _RING = range(5)


def _compiled(function: F) -> F:
    """Compile a function when it is first called, and keep what was compiled."""
    made: Any = njit(cache=True, error_model="numpy")(function)
    return cast("F", made)


@_compiled
def _circle(n: Vector, centre: Vector, axis: Vector, radius: float) -> float:
    along = n[0] * axis[0] + n[1] * axis[1] + n[2] * axis[2]
    across = n[0] * n[0] + n[1] * n[1] + n[2] * n[2] - along * along
    there = n[0] * centre[0] + n[1] * centre[1] + n[2] * centre[2]
    return there + radius * sqrt(max(across, 0.0))


@_compiled
def _on(start: Vector, axis: Vector, far: float) -> Vector:
    return start[0] + axis[0] * far, start[1] + axis[1] * far, start[2] + axis[2] * far


@_compiled
def _shank(v: Array, n: Vector, start: Vector, axis: Vector, cut: float) -> float:
    """Reach of a shank of radius v[3] and length v[4] whose far edge is broken at 45 degrees."""
    near = _circle(n, start, axis, v[3])
    side = _circle(n, _on(start, axis, v[4] - cut), axis, v[3])
    return max(near, side, _circle(n, _on(start, axis, v[4]), axis, v[3] - cut))


@_compiled
def _cap(n: Vector, centre: Vector, axis: Vector, radius: float, height: float) -> float:
    """Reach of a cap of a ball that bulges against the axis from a rim at `centre`."""
    height = max(height, 1e-3)
    ball = (radius**2 + height**2) / (2 * height)
    size = sqrt(n[0] * n[0] + n[1] * n[1] + n[2] * n[2])
    along = -(n[0] * axis[0] + n[1] * axis[1] + n[2] * axis[2]) / size
    if along >= (ball - height) / ball:
        middle = _on(centre, axis, ball - height)
        return n[0] * middle[0] + n[1] * middle[1] + n[2] * middle[2] + ball * size
    return _circle(n, centre, axis, radius)


@_compiled
def _reach_of_head(family: int, v: Array, n: Vector, at: Vector, axis: Vector, up: Vector) -> float:
    if family == _ROUND:
        return _cap(n, at, axis, v[5], v[6])
    if family == _COUNTERSUNK:
        return max(_cap(n, at, axis, v[5], v[7]), _circle(n, _on(at, axis, v[6]), axis, v[3]))
    corner = v[5] / cos(pi / 6)
    beside = corner * (n[1] * cos(v[2]) - n[0] * sin(v[2]))
    above = corner * (n[0] * up[0] + n[1] * up[1] + n[2] * up[2])
    most = -1e30
    for k in range(6):
        most = max(most, cos(k * pi / 3) * beside + sin(k * pi / 3) * above)
    along = n[0] * axis[0] + n[1] * axis[1] + n[2] * axis[2]
    return float(n[0] * at[0] + n[1] * at[1] + n[2] * at[2] + most + max(0.0, -along * v[6]))


@_compiled
def _pin(family: int, v: Array, n: Vector, point: Array, measured: Array, camera: Array) -> float:
    """Reach of a pin that rests on its head's rim and its tail; the neck as it is seen parts head from shank."""
    if family == _PLAIN:
        axis = (cos(v[2]), sin(v[2]), 0.0)
        start = (v[0], v[1], v[3])
        back = (-axis[0], -axis[1], 0.0)
        return max(_shank(v, n, start, axis, v[5]), _shank(v, n, _on(start, axis, v[4]), back, v[5]))
    tilt = atan2(v[5] - v[3], max(v[4], 1e-3))
    c, s = cos(v[2]), sin(v[2])
    axis = (c * cos(tilt), s * cos(tilt), -sin(tilt))
    up = (c * sin(tilt), s * sin(tilt), cos(tilt))
    at = (v[0], v[1], v[5] * cos(tilt))
    neck = _on(at, axis, v[6]) if family == _COUNTERSUNK else at
    grow = camera[2] / (camera[2] - neck[2])
    x = point[0] - (camera[0] + (neck[0] - camera[0]) * grow)
    y = point[1] - (camera[1] + (neck[1] - camera[1]) * grow)
    flat = hypot(axis[0], axis[1]) + 1e-12
    fx, fy = axis[0] / flat, axis[1] / flat
    along, beside = x * fx + y * fy, abs(y * fx - x * fy)
    # So near the head, what faces the tail or stands far off the shank is the head's own: seen at a slant, its rim
    # reaches over the neck.
    facing = measured[0] * fx + measured[1] * fy > 0.5 and beside > 0.9 * v[3]
    if along < 0 or (along < min(v[5], 0.5 * v[4]) and (facing or beside > 1.2 * v[3] + 0.3)):
        return _reach_of_head(family, v, n, at, axis, up)
    shank = _shank(v, n, at, axis, v[8] if family == _COUNTERSUNK else v[7])
    return max(shank, _circle(n, neck, axis, v[3])) if family == _COUNTERSUNK else shank


@_compiled
def _foot(family: int, v: Array, n: Vector) -> float:
    """Reach of the lower rim of a ring or a nut lying flat; the upper one reaches farther by its height."""
    there = n[0] * v[0] + n[1] * v[1]
    if family == _RING:
        return float(there + v[2])
    corner = v[3] / cos(pi / 6)
    most = -1e30
    for k in range(6):
        turn = v[2] + k * pi / 3
        most = max(most, corner * (n[0] * cos(turn) + n[1] * sin(turn)))
    return float(there + most)


@_compiled
def _plane(point: Array, measured: Array, angle: float, camera: Array) -> tuple[Vector, float]:
    """Give the plane through the camera and a point of the outline whose normal is turned by an angle."""
    c, s = cos(angle), sin(angle)
    nx, ny = c * measured[0] - s * measured[1], s * measured[0] + c * measured[1]
    reach = point[0] * nx + point[1] * ny
    return (nx, ny, (reach - nx * camera[0] - ny * camera[1]) / camera[2]), reach


@_compiled
def _left(family: int, v: Array, point: Array, measured: Array, angle: float, camera: Array) -> float:
    """What one plane's reach leaves over when its normal is turned by an angle."""
    n, reach = _plane(point, measured, angle, camera)
    if family >= _RING:
        return float(_foot(family, v, n) + max(0.0, n[2] * _thickness(family, v)) - reach)
    return float(_pin(family, v, n, point, measured, camera) - reach)


@_compiled
def _thickness(family: int, v: Array) -> float:
    return float(v[3] if family == _RING else v[4])


@_compiled
def _off_a_rim(family: int, v: Array, point: Array, measured: Array, angle: float, camera: Array) -> float:
    """How far a point lies off the nearer of the two rims that may be seen there.

    Where the camera sees the wall of a flat piece, the wall mirrors the mat: the outline found there is the wall's foot
    or the rim above it, now one and now the other. Elsewhere the upper rim hides the lower one.
    """
    n, reach = _plane(point, measured, angle, camera)
    low = _foot(family, v, n) - reach
    top = low + n[2] * _thickness(family, v)
    return top if top > low or abs(top) < abs(low) else low


@_compiled
def misses(
    family: int, v: Array, points: Array, measured: Array, angles: Array, hole: Array, camera: Array, out: Array
) -> None:
    """Write how far each plane stands off a shape, then each point of the hole off its edge.

    Parameters
    ----------
    family : int
        Number in FAMILIES. [-]
    v : array
        The shape's parameters. [mm and rad], shape (k,)
    points : array
        Outline. [mm], shape (n, 2)
    measured : array
        Unit vectors off the piece. [-], shape (n, 2)
    angles : array
        How far each is turned. [rad], shape (n,)
    hole : array
        Edge of the hole, or none. [mm], shape (m, 2)
    camera : array
        Where the camera stood, height last. [mm]
    out : array
        Filled with the misses; a pin has no hole. [mm], shape (n + m,)

    Returns
    -------
    None
        The misses stand in `out`.

    Notes
    -----
    A hole seen through is what both its rims leave open: the farther of the two counts.

    Examples
    --------
    >>> east, none, out = np.array([[1.0, 0.0]]), np.zeros((0, 2)), np.zeros(1)
    >>> ring, camera = np.array([0.0, 0, 4, 0, 0]), np.array([0.0, 0, 250])
    >>> misses(4, ring, east * 5, east, np.zeros(1), none, camera, out)
    >>> round(float(out[0]), 9)
    -1.0

    References
    ----------
    mat-geometry
    """
    count = len(points)
    if family < _RING:
        for i in range(count):
            out[i] = _left(family, v, points[i], measured[i], angles[i], camera)
        return
    for i in range(count):
        out[i] = _off_a_rim(family, v, points[i], measured[i], angles[i], camera)
    high, radius = (v[3], v[4]) if family == _RING else (v[4], v[5])
    grow = camera[2] / (camera[2] - high)
    x, y = (v[0] - camera[0]) * grow + camera[0], (v[1] - camera[1]) * grow + camera[1]
    for i in range(len(hole)):
        low = hypot(hole[i, 0] - v[0], hole[i, 1] - v[1]) - radius
        top = hypot(hole[i, 0] - x, hole[i, 1] - y) - radius * grow
        out[count + i] = max(low, top)


@_compiled
def turn(family: int, v: Array, points: Array, measured: Array, angles: Array, spans: Array, camera: Array) -> None:
    """Turn each normal to where its plane touches the shape: where the least reach is left over.

    Parameters
    ----------
    family : int
        Number in FAMILIES. [-]
    v : array
        The shape's parameters. [mm and rad], shape (k,)
    points : array
        Outline. [mm], shape (n, 2)
    measured : array
        Unit vectors off the piece. [-], shape (n, 2)
    angles : array
        Where to begin; overwritten with where each touches, at most 0.5. [rad], shape (n,)
    spans : array
        How far to look either way, one round each. [rad]
    camera : array
        Where the camera stood, height last. [mm]

    Returns
    -------
    None
        The angles are changed in place.

    Notes
    -----
    Five angles a span, each span about the best of the one before; no angle beyond 0.5 either way.

    Examples
    --------
    >>> point, normal, angles = np.array([[5.0, 0.0]]), np.array([[0.995, 0.0998]]), np.zeros(1)
    >>> ring, camera = np.array([0.0, 0, 4, 0, 0]), np.array([0.0, 0, 250])
    >>> turn(4, ring, point, normal, angles, np.array([0.2, 0.1]), camera)
    >>> round(float(angles[0]), 2)
    -0.1

    References
    ----------
    mat-geometry
    """
    for i in range(len(points)):
        best = angles[i]
        for span in spans:
            middle, least = best, 1e30
            for k in range(5):
                tried = middle + span * (0.5 * k - 1.0)
                left = _left(family, v, points[i], measured[i], tried, camera)
                if left < least:
                    best, least = tried, left
        angles[i] = min(max(best, -0.5), 0.5)


@_compiled
def slopes(
    family: int, v: Array, points: Array, measured: Array, angles: Array, hole: Array, camera: Array,
    now: Array, out: Array,
) -> None:  # fmt: skip
    """Write how each miss changes with each parameter.

    Parameters
    ----------
    family : int
        Number in FAMILIES. [-]
    v : array
        The shape's parameters. [mm and rad], shape (k,)
    points : array
        Outline. [mm], shape (n, 2)
    measured : array
        Unit vectors off the piece. [-], shape (n, 2)
    angles : array
        How far each is turned. [rad], shape (n,)
    hole : array
        Edge of the hole, or none. [mm], shape (m, 2)
    camera : array
        Where the camera stood, height last. [mm]
    now : array
        The misses at `v`. [mm], shape (n + m,)
    out : array
        Filled with the slopes. [-], shape (n + m, k)

    Returns
    -------
    None
        The slopes stand in `out`.

    Notes
    -----
    Differences over a step of 0.0001 in each parameter, the angles held still.

    Examples
    --------
    >>> east, none, now, out = np.array([[1.0, 0.0]]), np.zeros((0, 2)), np.array([-1.0]), np.zeros((1, 5))
    >>> ring, camera = np.array([0.0, 0, 4, 0, 0]), np.array([0.0, 0, 250])
    >>> slopes(4, ring, east * 5, east, np.zeros(1), none, camera, now, out)
    >>> out.round(3).tolist()
    [[1.0, 0.0, 1.0, 0.02, 0.0]]

    References
    ----------
    mat-geometry
    """
    step = 1e-4
    there = np.empty(len(now))
    for k in range(len(v)):
        near = v.copy()
        near[k] += step
        misses(family, near, points, measured, angles, hole, camera, there)
        for i in range(len(now)):
            out[i, k] = (there[i] - now[i]) / step
