"""Each thing on the mat measured: which shape fits its outline, its figures with their uncertainty, and what is in doubt."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from witnessmark.calc.mat.camera import Array
from witnessmark.calc.mat.closer import look_closer
from witnessmark.calc.mat.finding import Found, difference, find
from witnessmark.calc.mat.rectify import Flat
from witnessmark.calc.mat.shapes import Fit, View, fit, thinned
from witnessmark.calc.mat.splitting import has_seam, is_pile, split
from witnessmark.calc.mat.threads import Flank, flank

# What repeats beside the spread of a fit (one standard deviation, mm): how an edge is found on metal, by figure.
# Learned from drawn pictures with other seeds than the measured ones.
SYSTEMATIC_MM = {
    "length": 0.11,
    "shank_diameter": 0.055,
    "head_diameter": 0.10,
    "across_flats": 0.075,
    "head_height": 0.12,
    "outside_diameter": 0.06,
    "inside_diameter": 0.06,
}
THREADED_MM = 0.045
# The broken edge of a tail mirrors the mat and is lost: headed pins read short by this, learned the same way.
TAIL_SHORT_MM = {"hexagon": 0.05, "round": 0.11, "countersunk": 0.10, "plain pin": 0.0}
SCALE_MEASURED, SCALE_ASSUMED = 0.0006, 0.004
COVERAGE = 2.0
MOST_POINTS = 110
WIDEST_ANGLE_DEG = 30.0  # an angle known worse than this is none
ASTRAY_MM2 = 0.01
USUAL_HEAD = (0.5, 0.75)  # height of a head in shank diameters, from common practice
GOOD_MISS_MM = 0.12
POOR_MISS_MM = 0.30
PARTED_MISS_MM = 0.15
# Proportions that such fasteners have, from common practice: a share outside weighs against a shape, never forbids it.
USUAL = {
    "hexagon": {"flats": (1.35, 2.0), "height": (0.45, 0.85)},
    "round": {"rim": (1.5, 2.2), "dome": (0.45, 1.0)},
    "countersunk": {"rim": (1.5, 2.4), "angle": (0.74, 1.28), "cap": (0.0, 0.22)},
}
FACES = {"hexagon", "round", "countersunk", "plain pin"}


@dataclass(frozen=True)
class Figure:
    """One measured figure; the true one lies within the uncertainty nineteen times of twenty."""

    value: float
    uncertainty: float


@dataclass(frozen=True)
class Piece:
    """One thing on the mat. `figures` are in mm, `head_angle_deg` stands by itself; `doubts` are for the person."""

    number: int
    family: str
    runner_up: str
    margin: float
    figures_mm: dict[str, Figure]
    head_angle_deg: Figure | None
    pitch_mm: Figure | None
    x_mm: float
    y_mm: float
    azimuth_deg: float
    outline_mm: tuple[tuple[float, float], ...]
    outline_px: tuple[tuple[float, float], ...]
    colour: str
    miss_mm: float
    box: str
    doubts: tuple[str, ...]

    @property
    def for_person(self) -> bool:
        """True for a pile or a thing that no shape fits: counted as one, never guessed at."""
        return self.family == "unknown"


def measure(flat: Flat, told: Any = None) -> tuple[Piece, ...]:
    """Find and measure every piece on the mat.

    Parameters
    ----------
    flat : Flat
        The work area seen from straight above. [-]
    told : callable or None
        Told how many of how many are measured; may raise to stop. [-]

    Returns
    -------
    tuple of Piece
        In reading order.

    Notes
    -----
    Known shapes: pins with hexagon, round and countersunk heads lying on their side, plain pins, rings and nuts lying
    flat. Anything else is marked for the person.

    Examples
    --------
    >>> measure.__name__
    'measure'

    References
    ----------
    mat-geometry
    """
    apart = difference(flat.light)
    found = find(flat, apart)
    white = _white(flat)
    made: list[Piece] = []
    for n, one in enumerate(found):
        made += _measured(flat, apart, one, len(made) + 1, white)
        if told is not None:
            told(n + 1, len(found))
    return tuple(made)


def _measured(flat: Flat, apart: Any, one: Found, number: int, white: Array) -> list[Piece]:
    """Measure one thing on the mat; where it is pieces that touch at a point beyond doubt, each of them."""
    whole = _measure(flat, apart, one, number, white)
    if whole.miss_mm <= GOOD_MISS_MM:
        return [whole]

    def best_of(part: Found) -> Fit:
        return min(_fits(part, flat.camera.centre_mm), key=lambda fitted: fitted.cost + _odd(fitted))

    parts = split(one, lambda part: float(best_of(part).cost ** 0.5), PARTED_MISS_MM)
    if not parts:
        pile = whole.for_person or is_pile(one, best_of(one))
        return [_unknown(flat, one, number, whole.miss_mm, white) if pile else whole]
    touched = "it touched another piece and was parted from it where they touch"
    made = [_measure(flat, apart, part, number + k, white) for k, part in enumerate(parts)]
    return [replace(piece, doubts=(*piece.doubts, touched)) for piece in made]


def _measure(flat: Flat, apart: Any, one: Found, number: int, white: Array) -> Piece:
    import numpy as np

    tries = [(fitted.cost + _odd(fitted), fitted) for fitted in _fits(one, flat.camera.centre_mm)]
    tries.sort(key=lambda pair: pair[0])
    best = tries[0][1]
    second = tries[1][1] if len(tries) > 1 else None
    margin = float(np.sqrt((tries[1][0] + 1e-4) / (tries[0][0] + 1e-4))) if second else 9.0
    miss = float(np.sqrt(np.mean(np.minimum(best.misses**2, 0.25))))
    doubts = []
    family = best.family
    if family == "ring" and best.values[4] < 0.3:
        family = "disc"
        doubts.append("a disc without a hole: a blank, a coin, or a headed piece seen from its end")
    several = best.family in FACES and has_seam(flat, apart.signal, best)
    if several or miss > POOR_MISS_MM or (one.solidity < 0.55 and miss > GOOD_MISS_MM):
        return _unknown(flat, one, number, miss, white)
    if miss > GOOD_MISS_MM:
        doubts.append(f"its outline misses the shape of a {family} by {miss:.2f} mm on the average")
    if one.dark:
        doubts.append("it is dark: its figures are worse than those of bright pieces, and a thread is not looked for")
    if one.at_border:
        doubts.append("it lies at the edge of the work area and may be cut off")
    if margin < 1.25 and second is not None:
        doubts.append(f"the outline alone could be a {second.family} as well")
    seen = flank(flat, apart.signal, apart.noise, best) if family in FACES and not one.dark else None
    figures, pitch = _figures(flat, best, family, seen)
    angle = None
    if family == "countersunk" and not one.dark:
        angle = _head_angle(look_closer(flat, apart, best))
    if family == "hexagon":
        doubts.append("a round head of the same height, lying on its side, has the same outline")
    if family == "countersunk" and (angle is None or angle.uncertainty > 6):
        doubts.append("the slope of its head is too short in the picture to tell near angles apart")
    outline = one.outline.points
    return Piece(
        number, family, second.family if second else "", min(margin, 9.0), figures, angle, pitch,
        float(outline[:, 0].mean()), float(outline[:, 1].mean()),
        float(np.degrees(best.values[2]) % 360) if family in FACES else 0.0,
        *_drawn(flat, outline), _colour(one.rgb, white), miss, _box(flat, outline), tuple(doubts),
    )  # fmt: skip


def _odd(fitted: Fit) -> float:
    """Weigh against a shape whose proportions no such fastener has."""
    import numpy as np

    v = fitted.values
    if fitted.family == "hexagon":
        shares = {"flats": 2 * v[5] / (2 * v[3]), "height": v[6] / (2 * v[3])}
    elif fitted.family == "round":
        shares = {"rim": v[5] / v[3], "dome": v[6] / v[5]}
    elif fitted.family == "countersunk":
        angle = 2 * np.degrees(np.arctan2(v[5] - v[3], max(v[6], 0.05)))
        shares = {"rim": v[5] / v[3], "angle": angle / 100, "cap": v[7] / v[5]}
    else:
        return 0.0
    away = 0.0
    for name, share in shares.items():
        low, high = USUAL[fitted.family][name]
        away += max(0.0, low - share, share - high) ** 2
    return 0.05 * away


def _unknown(flat: Flat, one: Found, number: int, miss: float, white: Array) -> Piece:
    outline = one.outline.points
    why = "no known shape fits its outline: several pieces that touch or overlap, or a piece of another kind"
    return Piece(
        number, "unknown", "", 1.0, {}, None, None, float(outline[:, 0].mean()), float(outline[:, 1].mean()), 0.0,
        *_drawn(flat, outline), _colour(one.rgb, white), miss, _box(flat, outline),
        (why + ". Count it by hand, or lay the pieces apart and take the picture again",),
    )  # fmt: skip


def _drawn(flat: Flat, outline: Array) -> tuple[Any, Any]:
    """Give the outline thinned, on the mat and in the upright picture."""
    import numpy as np

    thin = outline[:: max(1, len(outline) // 60)]
    u, v = flat.camera.see(thin[:, 0], thin[:, 1])
    on_mat = tuple((round(float(x), 2), round(float(y), 2)) for x, y in thin)
    return on_mat, tuple((round(float(x), 1), round(float(y), 1)) for x, y in np.stack([u, v], 1))


def _box(flat: Flat, outline: Array) -> str:
    x, y = float(outline[:, 0].mean()) / flat.scale[0], float(outline[:, 1].mean()) / flat.scale[1]
    for box in flat.sheet.boxes():
        if box.x_mm <= x < box.x_mm + box.width_mm and box.y_mm <= y < box.y_mm + box.height_mm:
            return box.name
    return ""


def _white(flat: Flat) -> Array:
    """Guess the light's own colour from the mat, whose colour as printed is known."""
    import numpy as np

    from witnessmark.calc.mat.sheet import COLOURS

    printed = (np.array(COLOURS[flat.sheet.colour][0]) / 255) ** 2.2
    middle = np.median(flat.light[::8, ::8].reshape(-1, 3), 0) / 65535
    return np.asarray(np.maximum(middle / printed, 1e-4))


def _colour(rgb: tuple[float, float, float], white: Array) -> str:
    import numpy as np

    r, g, b = np.array(rgb) / white
    most = max(r, g, b)
    if most < 0.11:
        return "dark"
    if b < 0.72 * r and g < 0.74 * r:
        return "reddish"
    if b < 0.72 * r:
        return "yellow"
    return "silvery"


def _fits(one: Found, camera: tuple[float, float, float]) -> list[Fit]:
    """Try the shapes that the outline's length and width leave possible."""
    import numpy as np

    line = one.outline
    keep = ~line.concave
    points, normals = line.points[keep], line.normals[keep]
    if len(points) > MOST_POINTS:
        thin = np.linspace(0, len(points) - 1, MOST_POINTS).astype(int)
        points, normals = points[thin], normals[thin]
    hole = max(one.holes, key=lambda h: len(h.points)).points if one.holes else None
    middle = points.mean(0)
    centred = line.points - middle
    _w, axes = np.linalg.eigh(centred.T @ centred)
    along, beside = centred @ axes[:, 1], centred @ axes[:, 0]
    long, wide = np.ptp(along), np.ptp(beside)
    tries: list[Fit] = []
    if long < 1.35 * wide and one.solidity > 0.9:
        tries += _flat_fits(points, normals, camera, hole, one)
    if long > 1.12 * wide and (hole is None or long > 1.5 * wide):
        tries += _pin_fits(View(points, normals, camera, None), line.points, line.normals, axes[:, 1])
    if not tries:
        tries += _flat_fits(points, normals, camera, hole, one)
    return tries


def _flat_fits(
    points: Array, normals: Array, camera: tuple[float, float, float], hole: Array | None, one: Found
) -> list[Fit]:
    import numpy as np

    seen = View(points, normals, camera, hole)
    middle = points.mean(0)
    away = np.hypot(*(points - middle).T)
    radius = float(np.median(away))
    bore = float(np.median(np.hypot(*(hole - hole.mean(0)).T))) if hole is not None else 0.0
    inf = np.inf
    big = radius * 1.3 + 1
    thin = np.array([0, 0, 0, 1.3, 0.0]), np.array([inf, inf, inf, 0.5, inf])
    tries = [
        fit(
            "ring", np.array([*middle, radius, 1.3, bore]), np.array([middle[0] - 5, middle[1] - 5, 0.5, 0.1, 0]),
            np.array([middle[0] + 5, middle[1] + 5, big, 8, big]), seen, thin,
        )
    ]  # fmt: skip
    corner = points[away.argmax()] - middle
    flats = radius * 0.955
    expected = np.array([0, 0, 0, 0, flats * 1.0, 0.0]), np.array([inf, inf, inf, inf, flats * 0.12, inf])
    turn = float(np.arctan2(corner[1], corner[0]))
    tries.append(
        fit(
            "nut", np.array([*middle, turn, flats, flats, bore]),
            np.array([middle[0] - 5, middle[1] - 5, turn - 2, 0.5, 0.2 * flats, 0]),
            np.array([middle[0] + 5, middle[1] + 5, turn + 2, big, 2.2 * flats, big]), seen, expected,
        )
    )  # fmt: skip
    return tries


def _pin_fits(seen: View, points: Array, normals: Array, direction: Array) -> list[Fit]:
    """Guess a pin from its widths along its length, then fit it with each head."""
    import numpy as np

    inf = np.inf
    few = thinned(seen, 3)
    cx, cy, high = seen.camera
    middle = points.mean(0)
    along, beside = (points - middle) @ direction, (points - middle) @ np.array([-direction[1], direction[0]])
    beside = beside - (beside.max() + beside.min()) / 2
    third = np.ptp(along) / 3
    near = np.abs(beside[along < along.min() + third]).max(initial=0.0)
    far = np.abs(beside[along > along.max() - third]).max(initial=0.0)
    if far > near:
        direction, along, beside = -direction, -along, -beside
    start, total = float(along.min()), float(np.ptp(along))
    flank_points = (along > start + 0.5 * total) & (np.abs(normals @ direction) < 0.35)
    lines = [
        float(np.median(beside[flank_points & side]))
        for side in (beside > 0, beside < 0)
        if (flank_points & side).any()
    ]
    middle_line = sum(lines) / 2 if len(lines) == 2 else 0.0
    shank = float(np.median(np.abs(beside[flank_points]))) if flank_points.any() else float(np.abs(beside).max())
    # A stray of the outline stands off on one side alone: the lesser of both sides is the head's.
    reach = [side[along < start + 0.5 * total].max() for side in (beside - middle_line, middle_line - beside)]
    rim = float(min(reach))
    azimuth = float(np.arctan2(direction[1], direction[0]))

    def lowered(at: float, height: float) -> Array:
        p = middle + direction * (start + at)
        return np.array([cx, cy]) + (p - [cx, cy]) * (high - height) / high

    shrink = (high - rim) / high
    shank, total = shank * shrink, total * shrink
    tries = []
    if rim < shank * 1.5:
        tries.append(_try("plain pin", [*lowered(0, shank), azimuth, shank, total, 0.1], few, inf))
    if rim > shank * 1.07:
        level, near_head = (shank + rim) / 2, along < start + 0.6 * total
        sides = [near_head & (side > level) for side in (beside - middle_line, middle_line - beside)]
        necks = [float(along[side].max() - start) for side in sides if side.any()]
        neck = min(necks, default=0.2 * total)
        rim *= shrink
        cone = max(0.3, (rim - shank) / 1.2)

        def headed(neck: float) -> list[Fit]:
            neck = float(np.clip(neck, 0.3, 0.6 * total))
            at, short = lowered(neck, rim), total - neck
            return [
                _try("hexagon", [*at, azimuth, shank, short, rim * 0.9, neck, 0.15], few, inf),
                _try("round", [*at, azimuth, shank, short, rim, min(neck, rim), 0.15], few, inf),
                _try("countersunk", [*lowered(0, rim), azimuth, shank, total, rim, cone, 0.15, 0.15], few, inf),
            ]

        first = headed(neck)
        if min(one.cost for one in first) > ASTRAY_MM2:
            # A thread, or a stray of the outline, led the guess astray: begin where such heads usually end.
            others = [headed(share * 2 * shank) for share in USUAL_HEAD]
            first = [min(same, key=lambda one: one.cost) for same in zip(first, *others, strict=True)]
        tries += first
    if len(tries) == 1:
        return [_again(tries[0], seen)]
    tries.sort(key=lambda f: f.cost + _odd(f))
    near = 6 * (tries[0].cost + _odd(tries[0])) + 0.002
    return [_again(one, seen) if one.cost + _odd(one) < near else one for one in tries]


def _again(one: Fit, seen: View) -> Fit:
    """Fit a likely shape once more, to all points and to the end."""
    return _try(one.family, list(one.values), seen, float("inf"), rounds=9)


def _try(family: str, guess: list[float], seen: View, inf: float, rounds: int = 7) -> Fit:
    import numpy as np

    start = np.array(guess)
    low = np.concatenate([start[:2] - 6, [start[2] - 0.5], np.full(len(start) - 3, 0.2)])
    high = np.concatenate([start[:2] + 6, [start[2] + 0.5], start[3:] * 1.8 + 1])
    expected, firm = start.copy(), np.full(len(start), inf)
    low[-1], high[-1] = 0.0, 0.3 * start[3]
    expected[-1], firm[-1] = 0.08 * start[3], 0.12 * start[3]
    if family == "countersunk":
        low[7], high[7] = 0.0, 0.45 * start[5]
        expected[7], firm[7] = 0.2, 0.4
        firm[6] = 0.3
    return fit(family, start, low, high, seen, (expected, firm), rounds=rounds)


def _figures(flat: Flat, best: Fit, family: str, seen: Flank | None) -> tuple[dict[str, Figure], Figure | None]:
    import numpy as np

    v, s = best.values, best.spread
    scale = SCALE_MEASURED if flat.scale_measured else SCALE_ASSUMED
    figures: dict[str, Figure] = {}

    def put(name: str, value: float, spread: float) -> None:
        own = np.sqrt(spread**2 + SYSTEMATIC_MM[name] ** 2 + (scale * value) ** 2)
        figures[name] = Figure(round(float(value), 3), round(float(COVERAGE * own), 3))

    if family in ("ring", "disc", "nut"):
        at = 2 if family != "nut" else 3
        put("across_flats" if family == "nut" else "outside_diameter", 2 * v[at], 2 * s[at])
        if v[at + 2] >= 0.3:
            put("inside_diameter", 2 * v[at + 2], 2 * s[at + 2])
        return figures, None
    put("length", v[4] + TAIL_SHORT_MM[family], s[4])
    crest = 0.0
    pitch = None
    if seen is not None and seen.pitch_mm:
        crest = seen.crest_mm
        pitch = Figure(round(seen.pitch_mm, 3), round(seen.pitch_uncertainty_mm, 3))
    put("shank_diameter", 2 * (v[3] + crest), float(np.hypot(2 * s[3], THREADED_MM if pitch else 0.0)))
    if family == "hexagon":
        put("across_flats", 2 * v[5], 2 * s[5])
        put("head_height", v[6], s[6])
    elif family == "round":
        put("head_diameter", 2 * v[5], 2 * s[5])
        put("head_height", v[6], s[6])
    elif family == "countersunk":
        put("head_diameter", 2 * v[5], 2 * s[5])
    return figures, pitch


def _head_angle(closer: Fit | None) -> Figure | None:
    """Give the full angle of a countersunk head; none where too little of its cone is seen."""
    import numpy as np

    if closer is None:
        return None
    v, s = closer.values, closer.spread
    slope, depth = max(v[5] - v[3], 0.05) / max(v[6], 0.05), max(v[6], 0.05)
    own = 2 * np.degrees((s[6] + 0.06) * slope / depth / (1 + slope**2)) + 1.0
    if COVERAGE * own > WIDEST_ANGLE_DEG:
        return None
    return Figure(round(float(2 * np.degrees(np.arctan(slope))), 1), round(float(COVERAGE * own), 1))
