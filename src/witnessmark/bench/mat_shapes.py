"""Pieces as fine meshes of triangles, for pictures whose truth is known. Shares nothing with the reader of the mat.

Millimetres, z upwards. A headed piece is turned round its own axis x, head at the left, bearing face at x = 0.
"""

import itertools
from dataclasses import dataclass, field
from typing import Any

import numpy as np

Array = Any
SEGMENTS = 96


@dataclass
class Truth:
    """One piece as it was laid: what it is and its true figures in mm (angles in degrees)."""

    family: str
    x_mm: float
    y_mm: float
    figures: dict[str, float]
    metal: str
    kind: int = 0
    pitch_mm: float | None = None
    footprint: Array = field(default=None, repr=False)


@dataclass
class Mesh:
    """Corners, their normals and the triangles between them."""

    points: Array
    normals: Array
    triangles: Array


def _revolve(profile: list[tuple[float, float]]) -> Mesh:
    """Turn a line of (along, radius) round the axis; each stretch of it keeps its own flat-cut normals."""
    angle = np.linspace(0, 2 * np.pi, SEGMENTS, endpoint=False)
    c, s = np.cos(angle), np.sin(angle)
    points, normals, triangles = [], [], []
    first = 0
    for (u0, r0), (u1, r1) in itertools.pairwise(profile):
        length = np.hypot(u1 - u0, r1 - r0)
        if length < 1e-9:
            continue
        nu, nr = -(r1 - r0) / length, (u1 - u0) / length
        for u, r in ((u0, r0), (u1, r1)):
            points.append(np.stack([np.full_like(c, u), r * c, r * s], 1))
            normals.append(np.stack([np.full_like(c, nu), nr * c, nr * s], 1))
        k = np.arange(SEGMENTS)
        a, b = first + k, first + (k + 1) % SEGMENTS
        triangles += [np.stack([a, b, a + SEGMENTS], 1), np.stack([b, b + SEGMENTS, a + SEGMENTS], 1)]
        first += 2 * SEGMENTS
    return Mesh(np.concatenate(points), np.concatenate(normals), np.concatenate(triangles))


def _dome(at: float, radius: float, height: float, steps: int = 12) -> list[tuple[float, float]]:
    ball = (radius**2 + height**2) / (2 * height)
    widest = np.arcsin(min(1.0, radius / ball))
    if height > radius:
        widest = np.pi - widest
    return [(at - (ball * np.cos(t) - ball + height), ball * np.sin(t)) for t in np.linspace(0, widest, steps)]


def _thread(start: float, end: float, radius: float, pitch: float) -> Mesh:
    """Wind a 60-degree thread along a shank: the radius of each corner follows the helix."""
    steps = max(4, int((end - start) / pitch * 8))
    u = np.linspace(start, end, steps + 1)
    angle = np.linspace(0, 2 * np.pi, SEGMENTS, endpoint=False)
    uu, aa = np.meshgrid(u, angle, indexing="ij")
    phase = np.mod(uu / pitch + aa / (2 * np.pi), 1.0)
    depth, crest = 0.61 * pitch, 0.125
    shape = np.clip((np.abs(phase - 0.5) - crest / 2) / (0.5 - crest / 2 - 0.125), 0, 1)
    r = radius - depth * shape
    points = np.stack([uu, r * np.cos(aa), r * np.sin(aa)], 2)
    du, da = np.gradient(points, axis=0), np.roll(points, -1, 1) - np.roll(points, 1, 1)
    normals = np.cross(da, du)
    normals /= np.linalg.norm(normals, axis=2, keepdims=True) + 1e-12
    outward = np.stack([np.zeros_like(aa), np.cos(aa), np.sin(aa)], 2)
    normals *= np.sign(np.sum(normals * outward, 2, keepdims=True))
    i, k = np.meshgrid(np.arange(steps), np.arange(SEGMENTS), indexing="ij")
    a, b = (i * SEGMENTS + k).ravel(), (i * SEGMENTS + (k + 1) % SEGMENTS).ravel()
    triangles = np.concatenate([np.stack([a, b, a + SEGMENTS], 1), np.stack([b, b + SEGMENTS, a + SEGMENTS], 1)])
    return Mesh(points.reshape(-1, 3), normals.reshape(-1, 3), triangles)


def _hexagon(low: float, high: float, flats: float, bore: float = 0.0) -> Mesh:
    """Make a six-sided prism along x, flats below and above, with a round bore where asked."""
    corner = flats / np.sqrt(3)
    turn = np.arange(6) * np.pi / 3
    ring = np.stack([corner * np.cos(turn), corner * np.sin(turn)], 1)
    points, normals, triangles = [], [], []
    first: Any = 0
    for k in range(6):
        a, b = ring[k], ring[(k + 1) % 6]
        middle = (a + b) / np.linalg.norm(a + b)
        points += [[low, *a], [low, *b], [high, *a], [high, *b]]
        normals += [[0.0, *middle]] * 4
        triangles += [[first, first + 1, first + 2], [first + 1, first + 3, first + 2]]
        first += 4
    made = [Mesh(np.array(points), np.array(normals), np.array(triangles))]
    fine = np.linspace(0, 2 * np.pi, 97)[:-1]
    outer = corner * np.cos(np.pi / 6) / np.cos(np.mod(fine, np.pi / 3) - np.pi / 6)
    for u, side in ((low, -1.0), (high, 1.0)):
        rim = [
            np.stack([np.full_like(fine, u), r * np.cos(fine), r * np.sin(fine)], 1) for r in (outer, bore + 0 * outer)
        ]
        here = np.arange(96)
        there = (here + 1) % 96
        tri = np.concatenate([np.stack([here, there, here + 96], 1), np.stack([there, there + 96, here + 96], 1)])
        made.append(Mesh(np.concatenate(rim), np.tile([side, 0.0, 0.0], (192, 1)), tri))
    if bore:
        made.append(_inward(_revolve([(low, bore), (high, bore)])))
    return _join(made)


def _inward(mesh: Mesh) -> Mesh:
    return Mesh(mesh.points, -mesh.normals, mesh.triangles)


def _join(meshes: list[Mesh]) -> Mesh:
    first, triangles = 0, []
    for mesh in meshes:
        triangles.append(mesh.triangles + first)
        first += len(mesh.points)
    return Mesh(
        np.concatenate([m.points for m in meshes]),
        np.concatenate([m.normals for m in meshes]),
        np.concatenate(triangles),
    )


def headed(family: str, f: dict[str, float], pitch: float | None, thread_share: float) -> tuple[Mesh, float]:
    """Give the mesh of a headed or plain pin along x, and how far its head reaches left of the bearing face."""
    r, length = f["shank_diameter"] / 2, f["length"]
    chamfer = min(0.12 * r, 0.35)
    start, parts, reach = 0.0, [], 0.0
    if family == "hexagon":
        reach = f["height"]
        parts.append(_hexagon(-reach, 0.0, f["across_flats"]))
    elif family == "round":
        reach = f["height"]
        parts.append(_revolve([*_dome(0.0, f["head_diameter"] / 2, reach), (0.0, r)]))
    elif family == "countersunk":
        big = f["head_diameter"] / 2
        depth = (big - r) / np.tan(np.radians(f["head_angle"] / 2))
        dome = f.get("dome", 0.0)
        reach = dome
        parts.append(_revolve([*(_dome(0.0, big, dome) if dome else [(0.0, 0.0), (0.0, big)]), (depth, r)]))
        start = depth
    else:
        chamfer = 0.0
        parts.append(_revolve([(0.0, 0.0), (0.0, r)]))
    end = length - chamfer
    if pitch:
        smooth = start + (1 - thread_share) * (end - start)
        parts += [_revolve([(start, r), (smooth, r)]), _thread(smooth, end, r, pitch)]
    else:
        parts.append(_revolve([(start, r), (end, r)]))
    inner = r - chamfer - (0.61 * pitch * 0.5 if pitch else 0.0)
    parts.append(_revolve([(end, r if not pitch else inner), (length, inner), (length, 0.0)]))
    return _join(parts), reach


def lay_down(family: str, f: dict[str, float], mesh: Mesh, azimuth: float, roll: float) -> Mesh:
    """Let a pin rest on the mat on its head's rim and its tail, its axis along the azimuth."""
    r = f["shank_diameter"] / 2
    rim = f["across_flats"] / 2 if family == "hexagon" else f.get("head_diameter", 2 * r) / 2
    tilt = np.arctan2(rim - r, f["length"])
    if family != "hexagon":  # which is made with a flat below
        mesh = _turned(mesh, _about_x(roll))
    mesh = _turned(mesh, np.array([[np.cos(tilt), 0, np.sin(tilt)], [0, 1, 0], [-np.sin(tilt), 0, np.cos(tilt)]]))
    mesh = _turned(mesh, _about_z(azimuth))
    mesh.points[:, 2] -= mesh.points[:, 2].min()
    return mesh


def flat(family: str, f: dict[str, float], azimuth: float) -> Mesh:
    """Make a ring or a nut lying flat on the mat."""
    bore, high = f["inside_diameter"] / 2, f["thickness"]
    if family == "nut":
        mesh = _hexagon(0.0, high, f["across_flats"], bore)
    else:
        outer = f["outside_diameter"] / 2
        edge = 0.06
        mesh = _join(
            [
                _revolve([(0.0, bore), (0.0, outer), (high - edge, outer), (high, outer - edge), (high, bore)]),
                _inward(_revolve([(0.0, bore), (high, bore)])),
            ]
        )
    standing = _turned(mesh, np.array([[0.0, 1, 0], [0, 0, 1], [1, 0, 0]]))
    return _turned(standing, _about_z(azimuth))


def _turned(mesh: Mesh, matrix: Array) -> Mesh:
    return Mesh(mesh.points @ matrix.T, mesh.normals @ matrix.T, mesh.triangles)


def _about_x(a: float) -> Array:
    return np.array([[1, 0, 0], [0, np.cos(a), -np.sin(a)], [0, np.sin(a), np.cos(a)]])


def _about_z(a: float) -> Array:
    return np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1]])
