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

from witnessmark.calc.mat.camera import Array


@dataclass(frozen=True)
class View:
    """What a fit sees: outline points, their normals off the piece, the camera's place, and the edge of a hole."""

    points: Array
    normals: Array
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


def _shape(family: str) -> Callable[[Array, View], Array]:
    """Give the misses of one shape as a function of its parameters and what is seen."""

    def told(values: Array, seen: View) -> Array:
        import numpy as np

        from witnessmark.calc.mat.touching import FAMILIES, misses

        hole = _hole(seen)
        out = np.empty(len(seen.points) + (len(hole) if family in FLAT else 0))
        still = np.zeros(len(seen.points))
        points, normals = (np.ascontiguousarray(a, float) for a in (seen.points, seen.normals))
        misses(FAMILIES.index(family), values, points, normals, still, hole, np.array(seen.camera), out)
        return out

    return told


def _hole(seen: View) -> Array:
    import numpy as np

    return np.zeros((0, 2)) if seen.hole is None else np.ascontiguousarray(seen.hole, float)


FLAT = {"ring", "nut"}
# What the parameters are, in mm and radians; a headed pin lies on head rim and tail, its axis from head to tail.
PARAMETERS = {
    "plain pin": "x, y of one end, azimuth, radius, length, broken edge of both ends",
    "hexagon": "x, y of the bearing face, azimuth, radius, length, half across flats, head height, broken tail edge",
    "round": "x, y of the bearing face, azimuth, radius, length, head radius, head height, broken tail edge",
    "countersunk": "x, y of the rim, azimuth, radius, length over all, rim radius, cone's depth, dome, broken tail edge",
    "ring": "x, y, radius, thickness, radius of the hole",
    "nut": "x, y, turn, half across flats, thickness, radius of the hole",
}
SHAPES: dict[str, Callable[[Array, View], Array]] = {family: _shape(family) for family in PARAMETERS}


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
    >>> len(thinned(View(np.ones((6, 2)), np.ones((6, 2)), (0.0, 0.0, 250.0), None), 3).points)
    2

    References
    ----------
    mat-geometry
    """
    return View(seen.points[::keep], seen.normals[::keep], seen.camera, seen.hole)


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
    >>> seen = View(n * 5 + 20, n, (0.0, 0.0, 1e9), None)
    >>> free = (np.zeros(5), np.full(5, np.inf))
    >>> got = fit("ring", np.array([19.0, 21, 4, 1, 0]), np.zeros(5), np.full(5, 50.0), seen, free)
    >>> round(float(got.values[2]), 3)
    5.0

    References
    ----------
    mat-geometry
    """
    import numpy as np

    from witnessmark.calc.mat.touching import FAMILIES, misses, slopes, turn

    expected, firm = prior
    held = np.isfinite(firm)
    pull_by = np.where(held, 4 * (0.05 / np.where(held, firm, 1)) ** 2, 0.0)
    which = FAMILIES.index(family)
    points, measured = np.ascontiguousarray(seen.points, float), np.ascontiguousarray(seen.normals, float)
    hole, camera = _hole(seen), np.array(seen.camera)
    count = len(points) + (len(hole) if family in FLAT else 0)
    angles = np.zeros(len(points))

    def missed(v: Array) -> Array:
        out = np.empty(count)
        misses(which, v, points, measured, angles, hole, camera, out)
        return out

    def total(m: Array, v: Array, s: float) -> float:
        return float(s * s * np.log1p((m / s) ** 2).sum() + (pull_by * (v - expected) ** 2).sum())

    values = np.clip(start, low, high).astype(float)
    damp, scale = 1e-3, 0.5
    left = np.empty((count, len(values)))
    for rank in range(rounds):
        scale = max(0.12, scale * 0.6) if rank else scale
        spans = (0.03, 0.01) if rank else (0.2, 0.08, 0.03, 0.012)
        turn(which, values, points, measured, angles, np.array(spans), camera)
        found_misses = missed(values)
        now = total(found_misses, values, scale)
        slopes(which, values, points, measured, angles, hole, camera, found_misses, left)
        weights = 1.0 / (1.0 + (found_misses / scale) ** 2)
        square = left.T @ (left * weights[:, None])
        pull = left.T @ (weights * found_misses)
        square[np.diag_indices_from(square)] += pull_by
        pull += np.where(held, pull_by * (values - expected), 0.0)
        done = False
        for _ in range(5):
            move = np.linalg.solve(square + damp * np.diag(np.diag(square) + 1e-9), -pull)
            tried = np.clip(values + move, low, high)
            found = missed(tried)
            cost = total(found, tried, scale)
            if cost < now:
                done = scale <= 0.12 and now - cost < 1e-3 * now + 1e-9
                values, found_misses, now = tried, found, cost
                damp = max(damp * 0.3, 1e-7)
                break
            damp *= 6
        else:
            done = scale <= 0.12
        if done:
            break
    weights = 1.0 / (1.0 + (found_misses / 0.12) ** 2)
    rest = float(np.sum(weights * found_misses**2) / max(1.0, weights.sum() - len(values)))
    inverse = np.linalg.inv(square + 1e-6 * np.eye(len(values)))  # what no point shows stays wide open
    # Neighbouring points share their error: about one in three counts for itself.
    spread = np.sqrt(np.maximum(np.diag(inverse), 0) * max(rest, 1e-6) * 3)
    return Fit(family, values, spread, found_misses, float(np.mean(np.minimum(found_misses**2, 0.25))))
