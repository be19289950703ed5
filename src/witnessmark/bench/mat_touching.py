"""Pieces that touch, drawn with known truth: pairs at one point, chains of three, pairs side by side, crossed ones."""

from functools import cache

import numpy as np

from witnessmark.bench.figures import figure
from witnessmark.bench.mat_pictures import Scene, jpeg
from witnessmark.bench.mat_scenes import Rng, any_piece, drawn, ground, make, random_lens
from witnessmark.bench.mat_shapes import Array, Mesh, Truth
from witnessmark.calc.mat.sheet import sheet

CHECKS = {"BENCH": (240.0, 150.0)}
_PX_A_MM = 16


def _mask(mesh: Mesh, low: Array, size: tuple[int, int]) -> Array:
    """What a mesh covers of the mat, from above."""
    import cv2

    made = np.zeros(size, np.uint8)
    flat = ((mesh.points[:, :2] - low) * _PX_A_MM).astype(np.int32)
    for triangle in flat[mesh.triangles]:
        cv2.fillConvexPoly(made, triangle, 1)
    return made


def bring_together(still: Mesh, moved: Mesh, towards: float) -> None:
    """Push one piece against another, from the direction `towards`, until they touch on the mat."""
    way = np.array([np.cos(towards), np.sin(towards)])
    middles = [(m.points[:, :2].min(0) + m.points[:, :2].max(0)) / 2 for m in (still, moved)]
    moved.points[:, :2] += middles[0] - middles[1]
    reach = 70.0
    low = middles[0] - reach
    size = (int(2 * reach * _PX_A_MM), int(2 * reach * _PX_A_MM))
    there, here = _mask(still, low, size), _mask(moved, low, size)
    near, far = 0.0, reach / 2
    for _ in range(14):
        tried = (near + far) / 2
        step = np.round(way * tried * _PX_A_MM).astype(int)
        over = (np.roll(here, (step[1], step[0]), (0, 1)) & there).any()
        near, far = (tried, far) if over else (near, tried)
    moved.points[:, :2] += way * far


def touching_scene(seed: int, pairs: int = 9, chained: int = 2) -> tuple[Scene, list[int]]:
    """Lay things of one, two or three pieces that touch at one point, apart from each other; gives how many each is of."""
    rng = np.random.default_rng(seed)
    kind = sheet("A4")
    lens = random_lens(rng, float(rng.uniform(0, 15)))
    laid: list[tuple[Truth, Mesh]] = []
    counts: list[int] = []
    left, top, right, bottom = kind.work_mm
    dx, dy = kind.margin_mm
    spots = [
        (dx + left + (right - left) * (c + 0.5) / 4, dy + top + (bottom - top) * (r + 0.5) / 3)
        for r in range(3)
        for c in range(4)
    ]
    for n, (x, y) in enumerate(spots):
        several = 1 if n >= pairs + chained else 3 if n >= pairs else 2
        thing = _thing(several, x, y, rng)
        laid += thing
        counts.append(len(thing))
    scene = Scene(
        ground(kind),
        (kind.width_mm, kind.height_mm),
        kind.margin_mm,
        laid,
        lens,
        seed=seed,
        blur_px=rng.uniform(0.7, 1.1),
    )
    return scene, counts


def _thing(several: int, x: float, y: float, rng: Rng) -> list[tuple[Truth, Mesh]]:
    """So many short pieces that touch, their middle at (x, y)."""
    made: list[tuple[Truth, Mesh]] = []
    around = rng.uniform(0, 2 * np.pi)
    for n in range(several):
        while True:
            family, f, metal = any_piece(rng)
            if (
                metal != "black"
                and max(f.get("length", 0), f.get("outside_diameter", 0), f.get("across_flats", 0)) < 17
            ):
                break
        one = make(family, f, x, y, rng, metal, 0.3)
        if n:
            bring_together(made[-1][1], one[1], around + rng.uniform(-0.5, 0.5))
        made.append(one)
    both = np.concatenate([mesh.points[:, :2] for _t, mesh in made])
    off = np.array([x, -y]) - (both.min(0) + both.max(0)) / 2
    for truth, mesh in made:
        mesh.points[:, :2] += off
        middle = (mesh.points[:, :2].min(0) + mesh.points[:, :2].max(0)) / 2
        truth.x_mm, truth.y_mm = float(middle[0]), float(-middle[1])
    return made


@cache
def _told(pictures: int) -> tuple[int, int, int, float]:
    """Things laid, those counted right, those counted wrong without a word, and the mean error of parted pieces."""
    import cv2

    from witnessmark.bench.mat import COMPARED
    from witnessmark.calc.mat.reading import read_mat

    cv2.setNumThreads(1)
    things = right = wrong = 0
    errors: list[float] = []
    for n in range(pictures):
        scene, counts = touching_scene(9100 + n)
        found = read_mat(jpeg(drawn(scene)), CHECKS)
        truths = [truth for truth, _mesh in scene.pieces]
        first = 0
        for count in counts:
            own = truths[first : first + count]
            first += count
            at = [(t.x_mm - scene.ring_at_mm[0], t.y_mm - scene.ring_at_mm[1]) for t in own]
            here = [p for p in found.pieces if min(np.hypot(p.x_mm - x, p.y_mm - y) for x, y in at) < 11]
            things += 1
            if any(p.for_person for p in here):
                continue
            right += len(here) == count
            wrong += len(here) != count
            if len(here) != count or count == 1:
                continue
            for truth, (x, y) in zip(own, at, strict=True):
                piece = min(here, key=lambda p, x=x, y=y: np.hypot(p.x_mm - x, p.y_mm - y))  # type: ignore[misc]
                errors += [
                    abs(piece.figures_mm[name].value - truth.figures[name])
                    for name in COMPARED
                    if name in truth.figures and name in piece.figures_mm
                ]
    return things, right, wrong, float(np.mean(errors)) if errors else 0.0


@figure("mat.touching_miscounted", unit="things", goal=0)
def miscounted(full: bool) -> tuple[float, str]:
    """Things of pieces that touch at one point whose count is told wrong, without asking the person."""
    things, right, wrong, off = _told(24 if full else 4)
    note = f"of {things} things, most of two or three pieces: {right} parted and counted right, {things - right - wrong} left to the person"
    return float(wrong), f"{note}; parted pieces are off by {off:.3f} mm on the average"


@figure("mat.touching_counted", unit="share", goal=0.5, sense=">=")
def counted(full: bool) -> tuple[float, str]:
    """Share of such things that are parted and counted right; the rest is left to the person."""
    things, right, _wrong, _off = _told(24 if full else 4)
    return right / things, f"{things} things"
