"""Random mats with pieces of continuous sizes, for measuring; the same seed lays the same pieces."""

import os
import tempfile
from collections.abc import Callable
from functools import cache

import numpy as np

from witnessmark.bench.mat_pictures import Lens, Scene, camera_place, picture
from witnessmark.bench.mat_shapes import Array, Mesh, Truth, flat, headed, lay_down
from witnessmark.calc.mat.sheet import Sheet, sheet

Rng = np.random.Generator
SHARES = {
    "hexagon": 0.22,
    "countersunk": 0.24,
    "round": 0.14,
    "plain pin": 0.10,
    "washer": 0.18,
    "nut": 0.12,
}
GAP_MM = 2.0  # between pieces as the camera sees them: a tall one leans over its neighbour
FLAT = ("washer", "nut")


def _open_papers() -> None:
    """Let the papers be imported: they know the record's tables, but none is read here, so no folder is made."""
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "witnessmark.settings")
    before = os.environ.get("WITNESSMARK_DATA")
    with tempfile.TemporaryDirectory() as nowhere:
        os.environ["WITNESSMARK_DATA"] = nowhere
        try:
            django.setup()
        finally:
            if before is None:
                del os.environ["WITNESSMARK_DATA"]
            else:
                os.environ["WITNESSMARK_DATA"] = before


@cache
def ground(kind: Sheet, ppi: float = 400.0, tags: tuple[tuple[str, str], ...] = ()) -> Array:
    """Print one sheet into a picture, as a printer would on paper; `tags` are printed into its boxes, by box."""
    import datetime

    import cv2

    _open_papers()
    from witnessmark.papers.mat import Bound, Mat, png
    from witnessmark.papers.typesetting import Stamp

    boxes = {box: Bound(tag) for box, tag in tags}
    made = png(Mat(Stamp("", "", datetime.date(2026, 1, 1), None), kind, "BENCH", boxes), ppi)
    decoded: Array = cv2.imdecode(np.frombuffer(made, np.uint8), cv2.IMREAD_COLOR)
    rgb = cv2.cvtColor(decoded, cv2.COLOR_BGR2RGB)
    # Paper is less white and ink less black than the file says.
    return np.asarray((rgb * 0.86 + 14).astype(np.uint8))


def figures(family: str, rng: Rng) -> dict[str, float]:
    """Draw the sizes of one piece of a family; continuous, so that no table of sizes helps."""
    if family == "hexagon":
        d = rng.uniform(4, 9)
        return {
            "shank_diameter": d,
            "across_flats": d * rng.uniform(1.5, 1.7),
            "height": d * rng.uniform(0.55, 0.7),
            "length": rng.uniform(max(10, 2 * d), 42),
        }
    if family == "countersunk":
        d = rng.uniform(2.6, 5.0)
        angle = float(rng.choice([90.0, 100.0, 120.0]))
        made = {
            "shank_diameter": d,
            "head_diameter": d * rng.uniform(1.75, 2.0),
            "head_angle": angle,
            "length": rng.uniform(2.8 * d, 20),
        }
        if angle == 120.0:
            made["dome"] = 0.12 * d
        return made
    if family == "round":
        d = rng.uniform(2.8, 5.0)
        return {
            "shank_diameter": d,
            "head_diameter": d * rng.uniform(1.65, 2.0),
            "height": d * rng.uniform(0.55, 0.75),
            "length": rng.uniform(2.5 * d, 20),
        }
    if family == "plain pin":
        return {"shank_diameter": rng.uniform(2.5, 8), "length": rng.uniform(14, 40)}
    if family == "washer":
        bore = rng.uniform(3.2, 10.5)
        return {
            "inside_diameter": bore,
            "outside_diameter": bore * rng.uniform(1.8, 2.2),
            "thickness": rng.uniform(0.8, 2.0),
        }
    flats = rng.uniform(7, 16)
    return {
        "across_flats": flats,
        "inside_diameter": flats * rng.uniform(0.5, 0.58),
        "thickness": flats * rng.uniform(0.45, 0.56),
    }


def make(
    family: str, f: dict[str, float], x: float, y: float, rng: Rng, metal: str = "steel", threaded: float = 0.5
) -> tuple[Truth, Mesh]:
    """Make one piece lying on the mat at (x, y) from the upper left corner of the paper."""
    azimuth, pitch = rng.uniform(0, 2 * np.pi), None
    if family in FLAT:
        mesh = flat(family, f, azimuth)
    else:
        if family == "hexagon" and rng.uniform() < threaded:
            pitch = 0.15 * f["shank_diameter"]
        upright, _reach = headed(family, f, pitch, rng.uniform(0.5, 0.95))
        mesh = lay_down(family, f, upright, azimuth, rng.uniform(0, 2 * np.pi))
    middle = (mesh.points[:, :2].min(0) + mesh.points[:, :2].max(0)) / 2
    mesh.points[:, :2] += np.array([x, -y]) - middle
    return Truth(family, x, y, f, metal, pitch_mm=pitch), mesh


def _seen(mesh: Mesh, eye: Array) -> Array:
    """Give where each corner of a mesh is seen on the mat from the camera."""
    grow = eye[2] / (eye[2] - mesh.points[:, 2:3])
    return eye[:2] + (mesh.points[:, :2] - eye[:2]) * grow


def lay(
    kind: Sheet,
    count: int,
    rng: Rng,
    sizes: Callable[[Rng], tuple[str, dict[str, float], str]],
    lens: Lens,
    threaded: float = 0.5,
) -> list[tuple[Truth, Mesh]]:
    """Lay pieces at random, apart as the camera sees them; one that finds no room is left out."""
    import cv2

    left, top, right, bottom = kind.work_mm
    dx, dy = kind.margin_mm
    per_mm = 4
    taken = np.ones((int(kind.height_mm * per_mm), int(kind.width_mm * per_mm)), np.uint8)
    taken[
        int((dy + top + 2) * per_mm) : int((dy + bottom - 2) * per_mm),
        int((dx + left + 2) * per_mm) : int((dx + right - 2) * per_mm),
    ] = 0
    eye = camera_place(lens, (kind.width_mm, kind.height_mm))
    laid: list[tuple[Truth, Mesh]] = []
    for _ in range(count):
        family, f, metal = sizes(rng)
        for _try in range(60):
            x, y = dx + rng.uniform(left + 4, right - 4), dy + rng.uniform(top + 4, bottom - 4)
            truth, mesh = make(family, f, x, y, rng, metal, threaded)
            outline = np.concatenate([mesh.points[:, :2], _seen(mesh, eye)])
            hull = cv2.convexHull((outline * [per_mm, -per_mm]).astype(np.int32))
            spot = np.zeros_like(taken)
            cv2.fillConvexPoly(spot, hull, 1)
            cv2.polylines(spot, [hull], True, 1, int(GAP_MM * 2 * per_mm))
            if not (spot & taken).any():
                cv2.fillConvexPoly(taken, hull, 1)
                laid.append((truth, mesh))
                break
    return laid


def any_piece(rng: Rng) -> tuple[str, dict[str, float], str]:
    """Draw a family, its sizes and its metal."""
    family = str(rng.choice(list(SHARES), p=list(SHARES.values())))
    metal = str(rng.choice(["steel", "silvery plate", "dural", "yellow plate", "black"], p=[0.3, 0.3, 0.2, 0.15, 0.05]))
    return family, figures(family, rng), metal


def random_lens(rng: Rng, tilt_deg: float) -> Lens:
    """Draw a phone's lens, held at this tilt."""
    return Lens(
        focal_px=3005.0 * rng.uniform(0.97, 1.03),
        tilt_deg=tilt_deg,
        towards_deg=rng.uniform(0, 360),
        turned_deg=rng.uniform(-6, 6) + float(rng.choice([0, 180])),
        k1=rng.uniform(-0.05, 0.05),
        k2=rng.uniform(-0.03, 0.03),
    )


def random_scene(seed: int, count: int, tilt_deg: float) -> Scene:
    """Lay a random A4 mat and choose a lens and light."""
    rng = np.random.default_rng(seed)
    kind = sheet("A4")
    lens = random_lens(rng, tilt_deg)
    pieces = lay(kind, count, rng, any_piece, lens)
    return Scene(
        ground(kind), (kind.width_mm, kind.height_mm), kind.margin_mm, pieces, lens,
        seed=seed, noise=rng.uniform(0.7, 1.3), blur_px=rng.uniform(0.7, 1.1), brightness=rng.uniform(0.8, 1.1),
    )  # fmt: skip


def drawn(scene: Scene) -> Array:
    """Take the picture of a scene."""
    return picture(scene)


def twin_scene(seed: int, tilt_deg: float) -> Scene:
    """Lay two sizes of each of three shapes, six pieces each, 0.3 mm apart in one diameter and alike in the rest."""
    rng = np.random.default_rng(seed)
    kind = sheet("A4")
    lens = random_lens(rng, tilt_deg)
    wanted: list[tuple[str, dict[str, float], str]] = []
    kinds: list[int] = []
    for family, figure in (
        ("countersunk", "shank_diameter"),
        ("hexagon", "shank_diameter"),
        ("washer", "outside_diameter"),
    ):
        base = figures(family, rng)
        for n in range(2):
            for _ in range(6):
                # Pieces of one size differ a little, as bought ones do.
                f = {k: v if k == "head_angle" else v + rng.normal(0, 0.015) for k, v in base.items()}
                f[figure] += 0.3 * n
                wanted.append((family, f, "silvery plate"))
                kinds.append(n)
    turn = iter(wanted)
    pieces = lay(kind, len(wanted), rng, lambda _rng: next(turn), lens, threaded=1.0)
    for truth, _mesh in pieces:
        truth.kind = kinds[next(k for k, (_family, f, _metal) in enumerate(wanted) if f is truth.figures)]
    return Scene(ground(kind), (kind.width_mm, kind.height_mm), kind.margin_mm, pieces, lens, seed=seed, blur_px=0.9)
