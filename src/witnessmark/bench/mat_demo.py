"""Draw the demo's picture of a mat: `python -m witnessmark.bench.mat_demo FILE`. The demo holds the picture it made."""

import sys
from pathlib import Path

import numpy as np

from witnessmark.bench.mat_pictures import Lens, Scene, jpeg, picture
from witnessmark.bench.mat_scenes import ground, make
from witnessmark.bench.mat_shapes import Mesh, Truth, headed, lay_down
from witnessmark.calc.mat.sheet import sheet

# What lies on it, by places from the upper left corner of the paper: the yard's own bolt M8x1 and the inch bolt
# 5/16-24, which one picture tells apart by the pitch alone; rings, flush rivets, and bolts that touch.
METRIC = {"shank_diameter": 8.0, "across_flats": 13.0, "height": 5.3, "length": 28.0}
INCH = {"shank_diameter": 7.94, "across_flats": 12.7, "height": 5.2, "length": 28.0}
RING = {"inside_diameter": 8.4, "outside_diameter": 16.0, "thickness": 1.6}
FLUSH = {"shank_diameter": 3.5, "head_diameter": 6.6, "head_angle": 120.0, "length": 14.0, "dome": 0.4}
METRIC_AT = ((62, 58), (105, 60), (148, 57), (64, 88), (106, 90))
INCH_AT = ((190, 60), (232, 58), (150, 90), (192, 92))
RINGS_AT = ((60, 120), (85, 118), (110, 121), (135, 119), (160, 121), (186, 122))
FLUSH_AT = ((58, 148), (82, 150), (106, 148), (130, 150), (154, 149))
TOUCHING_AT = ((225, 142), (229, 147), (233, 152))


def _bolt(f: dict[str, float], pitch_mm: float, x: float, y: float, rng: np.random.Generator) -> tuple[Truth, Mesh]:
    upright, _reach = headed("hexagon", f, pitch_mm, 0.7)
    mesh = lay_down("hexagon", f, upright, rng.uniform(0, 2 * np.pi), 0.0)
    middle = (mesh.points[:, :2].min(0) + mesh.points[:, :2].max(0)) / 2
    mesh.points[:, :2] += np.array([x, -y]) - middle
    return Truth("hexagon", x, y, f, "silvery plate", pitch_mm=pitch_mm), mesh


def scene() -> Scene:
    """Lay the demo's hardware on an A4 mat."""
    rng = np.random.default_rng(412)
    kind = sheet("A4")
    laid = [_bolt(METRIC, 1.0, x, y, rng) for x, y in METRIC_AT]
    laid += [_bolt(INCH, 25.4 / 24, x, y, rng) for x, y in INCH_AT]
    laid += [make("washer", RING, x, y, rng, "steel") for x, y in RINGS_AT]
    laid += [make("countersunk", FLUSH, x, y, rng, "dural") for x, y in FLUSH_AT]
    laid += [make("hexagon", METRIC, x, y, rng, "steel", 0.0) for x, y in TOUCHING_AT]
    lens = Lens(width=3264, height=2448, focal_px=2452.0, tilt_deg=7.0, towards_deg=70.0, k1=0.02)
    return Scene(
        ground(kind), (kind.width_mm, kind.height_mm), kind.margin_mm, laid, lens, seed=412, noise=0.6, quality=88
    )


if __name__ == "__main__":
    drawn = scene()
    Path(sys.argv[1]).write_bytes(jpeg(picture(drawn), quality=drawn.quality))
