"""Pieces that touch at one point, parted there where that is undoubted; what is not is left whole, for the person.

Two convex pieces that touch at a point meet in a waist far narrower than either: the outline runs in from both sides. The
cut goes across the waist, the outline near it is not believed, and both parts must fit a known shape as well as a lone
piece does. Every other way of cutting must tell the same count, or nothing is cut.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from witnessmark.calc.mat.camera import Array
from witnessmark.calc.mat.finding import Found, Line
from witnessmark.calc.mat.rectify import Flat
from witnessmark.calc.mat.shapes import FLAT, Fit

# A waist is this share of both parts' own width along the cut, at the most; a shank behind its head has a share of one.
MOST_SHARE = 0.5
MOST_WAIST_MM = 4.5
LEAST_PART_MM2 = 6.0
# The gap beside a contact is filled where it is narrow: so far from the cut's ends the outline is not believed.
UNSURE_MM = 1.0
LEAST_BELIEVED = 0.6
# A pile that a lone shape seems to fit: so much of its outline is so far from the shape, and so much more area than it has.
FAR_MM, MOST_FAR, MOST_AREA = 1.0, 0.10, 1.45
# The line between two shanks is this dark beside them, at the most.
SEAM_DEPTH = 0.5
MOST_PIECES = 4
MOST_CUTS = 4

Miss = Callable[[Found], float]


def split(one: Found, miss_of: Miss, good_mm: float) -> tuple[Found, ...]:
    """Part pieces that touch at single points.

    Parameters
    ----------
    one : Found
        One thing on the mat. [-]
    miss_of : callable
        How far an outline misses the shape that fits it best. [mm]
    good_mm : float
        What a lone piece misses at the most. [mm]

    Returns
    -------
    tuple of Found
        The parts; empty where the thing has no waist, or cutting it is in doubt. [-]

    Notes
    -----
    Up to four pieces in one thing.

    Examples
    --------
    >>> split.__name__
    'split'

    References
    ----------
    mat-geometry
    """
    ways = _ways(one, miss_of, good_mm, MOST_PIECES)
    counts = {len(way) for _miss, way in ways}
    if len(counts) != 1:
        return ()
    return min(ways, key=lambda way: way[0])[1]


def has_waist(one: Found) -> bool:
    """Say whether a thing is as narrow somewhere as pieces are that touch.

    Parameters
    ----------
    one : Found
        One thing on the mat. [-]

    Returns
    -------
    bool
        True where it could be cut. [-]

    Examples
    --------
    >>> has_waist.__name__
    'has_waist'

    References
    ----------
    mat-geometry
    """
    return bool(_waists(one.outline.points))


def is_pile(one: Found, fitted: Fit) -> bool:
    """Say whether a thing is more than the one piece whose shape fits it best.

    Parameters
    ----------
    one : Found
        One thing on the mat, whose fit is poor. [-]
    fitted : Fit
        The shape that fits best. [-]

    Returns
    -------
    bool
        True where it has a waist, more holes than the shape can show, or far more outline and area than it. [-]

    Examples
    --------
    >>> is_pile.__name__
    'is_pile'

    References
    ----------
    mat-geometry
    """
    import numpy as np

    if has_waist(one) or len(one.holes) > (1 if fitted.family in FLAT else 0):
        return True
    far = float(np.mean(np.abs(fitted.misses) > FAR_MM))
    return far > MOST_FAR and one.area_mm2 > MOST_AREA * seen_area_mm2(fitted.family, fitted.values)


def _ways(one: Found, miss_of: Miss, good_mm: float, most: int) -> list[tuple[float, tuple[Found, ...]]]:
    """Every way of cutting whose parts all fit: the worst miss, and the parts."""
    ways: list[tuple[float, tuple[Found, ...]]] = []
    if most < 2:
        return ways
    for i, j in _waists(one.outline.points):
        parts = [_part(one, i, j), _part(one, j, i)]
        if any(part is None for part in parts):
            continue
        told: list[list[tuple[float, tuple[Found, ...]]]] = []
        for part in parts:
            assert part is not None
            miss = miss_of(part)
            told.append([(miss, (part,))] if miss <= good_mm else _ways(part, miss_of, good_mm, most - 1))
            if not told[-1]:
                break
        else:
            ways += [(max(a, b), (*first, *second)) for a, first in told[0] for b, second in told[1]]
    return [way for way in ways if len(way[1]) <= most]


def _waists(points: Array) -> list[tuple[int, int]]:
    """Where the outline comes near itself between two wider parts: pairs of points, the narrowest share first."""
    import numpy as np

    count = len(points)
    if count < 40:
        return []
    steps = np.hypot(*(np.roll(points, -1, 0) - points).T)
    walked = np.concatenate([[0.0], np.cumsum(steps)])
    round_mm = float(walked[-1])
    away = np.hypot(points[:, None, 0] - points[None, :, 0], points[:, None, 1] - points[None, :, 1])
    along = np.abs(walked[:count, None] - walked[None, :count])
    along = np.minimum(along, round_mm - along)
    near = (away <= MOST_WAIST_MM) & (along > 3.0 * away) & (along > 5.0)
    found: list[tuple[float, int, int]] = []
    for i, j in zip(*np.nonzero(np.triu(near)), strict=True):
        # The narrowest of its surroundings alone is asked about: neighbours cut the same waist.
        rows, columns = (np.arange(k - 4, k + 5) % count for k in (i, j))
        if away[i, j] > away[np.ix_(rows, columns)].min() + 1e-9:
            continue
        share = max(
            _share(points, int(i), int(j), float(away[i, j])), _share(points, int(j), int(i), float(away[i, j]))
        )
        # An outline that trips over a thread makes a loop of a square millimetre or two: no piece is so small.
        if (
            share <= MOST_SHARE
            and min(_area_mm2(points, int(i), int(j)), _area_mm2(points, int(j), int(i))) > LEAST_PART_MM2
        ):
            found.append((share, int(i), int(j)))
    kept: list[tuple[int, int]] = []
    for _share_of_it, i, j in sorted(found):
        middle = (points[i] + points[j]) / 2
        if all(np.hypot(*(middle - (points[a] + points[b]) / 2)) > 1.5 for a, b in kept):
            kept.append((i, j))
    return kept[:MOST_CUTS]


def _run(count: int, i: int, j: int) -> Array:
    """The points from i on to j, round the end."""
    import numpy as np

    return np.arange(i, j + 1 if j >= i else j + 1 + count) % count


def _area_mm2(points: Array, i: int, j: int) -> float:
    import cv2
    import numpy as np

    return float(cv2.contourArea(points[_run(len(points), i, j)].astype(np.float32)))


def _share(points: Array, i: int, j: int, waist_mm: float) -> float:
    """How wide a waist is beside the part behind it, measured along the cut."""
    import numpy as np

    across = points[j] - points[i]
    across = across / (np.hypot(*across) + 1e-9)
    wide = float(np.ptp(points[_run(len(points), i, j)] @ across))
    return waist_mm / max(wide, 1e-6)


def _part(one: Found, i: int, j: int) -> Found | None:
    """What lies on one side of a cut, its outline near the cut marked as not to be believed."""
    import cv2
    import numpy as np

    line = one.outline
    run = _run(len(line.points), i, j)
    points = line.points[run]
    middle = (line.points[i] + line.points[j]) / 2
    reach = float(np.hypot(*(line.points[i] - line.points[j]))) / 2 + UNSURE_MM
    unsure = line.concave[run] | (np.hypot(*(points - middle).T) < reach)
    if np.mean(~unsure) < LEAST_BELIEVED or np.count_nonzero(~unsure) < 20:
        return None
    polygon = points.astype(np.float32)
    area = float(cv2.contourArea(polygon))
    full = float(cv2.contourArea(cv2.convexHull(polygon)))
    if area < LEAST_PART_MM2:
        return None
    holes = tuple(
        hole for hole in one.holes if cv2.pointPolygonTest(polygon, [float(v) for v in hole.points.mean(0)], False) > 0
    )
    return replace(
        one,
        outline=Line(points, line.normals[run], unsure),
        holes=holes,
        area_mm2=area,
        solidity=area / max(full, 1e-6),
    )


def seen_area_mm2(family: str, v: Array) -> float:
    """Reckon how much of the mat a fitted shape covers, about.

    Parameters
    ----------
    family : str
        One of SHAPES. [-]
    v : array
        Its parameters. [mm and rad], shape (k,)

    Returns
    -------
    float
        To about a tenth: heads are taken as oblongs, caps and trapezia. [mm2]

    Examples
    --------
    >>> round(seen_area_mm2("plain pin", [0.0, 0.0, 0.0, 2.0, 20.0, 0.1]))
    80

    References
    ----------
    mat-geometry
    """
    from math import pi, sqrt

    if family == "ring":
        return float(pi * v[2] ** 2)
    if family == "nut":
        return float(2 * sqrt(3) * v[3] ** 2)
    shank = 2 * v[3] * v[4]
    if family == "hexagon":
        return float(shank + 2.2 * v[5] * v[6])
    if family == "round":
        return float(shank + 1.45 * v[5] * v[6])
    if family == "countersunk":
        return float(shank - 2 * v[3] * v[6] + (v[5] + v[3]) * v[6] + 1.3 * v[5] * v[7])
    return float(shank)


def has_seam(flat: Flat, signal: Array, fitted: Fit) -> bool:
    """Say whether a dark line runs along a pin's shank, as between pins that lie side by side.

    Parameters
    ----------
    flat : Flat
        The flat picture. [-]
    signal : array
        Hue against the mat's. [-], shape (rows, columns)
    fitted : Fit
        A pin. [-]

    Returns
    -------
    bool
        True where the metal is far brighter on both sides of some line inside the shank. [-]

    Notes
    -----
    A lone shank is brightest somewhere and darkens to both flanks, which mirror the mat; two have such flanks inside.

    Examples
    --------
    >>> has_seam.__name__
    'has_seam'

    References
    ----------
    mat-geometry
    """
    return seam_depth(flat, signal, fitted) < SEAM_DEPTH


def seam_depth(flat: Flat, signal: Array, fitted: Fit) -> float:
    """Give how bright the darkest line along a shank is beside the darker of its two sides.

    Parameters
    ----------
    flat : Flat
        The flat picture. [-]
    signal : array
        Hue against the mat's. [-], shape (rows, columns)
    fitted : Fit
        A pin. [-]

    Returns
    -------
    float
        One where the shank has a single bright side; nought for a line as dark as the mat. [-]

    Examples
    --------
    >>> seam_depth.__name__
    'seam_depth'

    References
    ----------
    mat-geometry
    """
    import cv2
    import numpy as np

    v = fitted.values
    along = np.array([np.cos(v[2]), np.sin(v[2])])
    beside = np.array([-along[1], along[0]])
    camera = flat.camera.centre_mm
    grow = camera[2] / (camera[2] - v[3])
    start = np.array(camera[:2]) + (v[:2] - np.array(camera[:2])) * grow
    # The tail's end and the neck are left out; a line of a quarter of a millimetre is still seen.
    s = np.linspace(0.3, 0.9, 48) * v[4] * grow
    t = np.arange(-0.85, 0.86, 0.05) * v[3] * grow
    at = start + s[None, :, None] * along + t[:, None, None] * beside
    x, y = (((at[..., k] - flat.origin_mm[k]) * flat.px_per_mm - 0.5).astype(np.float32) for k in (0, 1))
    across = np.median(cv2.remap(signal, x, y, cv2.INTER_LINEAR), 1)
    left, right = np.maximum.accumulate(across), np.maximum.accumulate(across[::-1])[::-1]
    sides = np.minimum(left, right)[1:-1]
    return float(np.min(across[1:-1] / np.maximum(sides, 1e-6)))
