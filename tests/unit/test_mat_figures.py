"""What one picture gives of rings, threads and countersunk heads, on pictures drawn by code that shares nothing with it."""

from functools import cache

import numpy as np

from witnessmark.bench.mat_pictures import Lens, Scene, jpeg, picture
from witnessmark.bench.mat_scenes import ground, make
from witnessmark.bench.mat_shapes import Mesh, Truth, headed, lay_down
from witnessmark.calc.mat.groups import describe
from witnessmark.calc.mat.pieces import Piece
from witnessmark.calc.mat.reading import MatReading, read_mat
from witnessmark.calc.mat.sheet import sheet

LENS = Lens(width=3264, height=2448, focal_px=2452.0, tilt_deg=18.0, towards_deg=200.0, k1=-0.02)
RING = {"inside_diameter": 8.4, "outside_diameter": 17.6, "thickness": 1.0}
# ISO 261 and ASME B1.1: outside diameter and pitch in mm; one picture parts the two by the pitch alone.
M8X1, INCH_5_16_24 = (8.0, 1.0), (7.938, 25.4 / 24)


def read(pieces: list[tuple[Truth, Mesh]], seed: int) -> MatReading:
    kind = sheet("A4")
    scene = Scene(ground(kind, 300.0), (kind.width_mm, kind.height_mm), kind.margin_mm, pieces, LENS, seed=seed)
    return read_mat(jpeg(picture(scene)), {"BENCH": (240.0, 150.0)})


def paired(pieces: list[tuple[Truth, Mesh]], found: MatReading) -> list[tuple[Truth, Piece]]:
    dx, dy = sheet("A4").margin_mm
    return [
        (truth, min(found.pieces, key=lambda p: np.hypot(p.x_mm + dx - truth.x_mm, p.y_mm + dy - truth.y_mm)))
        for truth, _mesh in pieces
    ]


def bolt(diameter: float, pitch: float, x: float, y: float, rng: np.random.Generator) -> tuple[Truth, Mesh]:
    f = {"shank_diameter": diameter, "across_flats": 13.0, "height": 5.3, "length": 26.0}
    mesh = lay_down("hexagon", f, headed("hexagon", f, pitch, 0.7)[0], rng.uniform(0, 2 * np.pi), 0.0)
    mesh.points[:, :2] += np.array([x, -y]) - (mesh.points[:, :2].min(0) + mesh.points[:, :2].max(0)) / 2
    return Truth("hexagon", x, y, f, "silvery plate", pitch_mm=pitch), mesh


def test_rings_of_one_size_are_one_group_wherever_they_lie() -> None:
    """Under a slant the wall of a ring mirrors the mat: its foot is seen on some, its upper rim on others."""
    rng = np.random.default_rng(42)
    laid = [
        make("washer", RING | {"outside_diameter": d}, 60.0 + 36 * n, y, rng, "silvery plate")
        for n in range(6)
        for d, y in ((17.6, 60.0), (17.6, 85.0), (17.6, 110.0), (17.9, 135.0))
    ]
    found = read(laid, 42)
    assert sorted(g.count for g in found.groups) == [6, 18]
    told = [(truth, piece.figures_mm["outside_diameter"]) for truth, piece in paired(laid, found)]
    assert max(abs(figure.value - truth.figures["outside_diameter"]) for truth, figure in told) < 0.1


def test_a_thread_is_measured_over_its_crests_at_a_slant_too() -> None:
    rng = np.random.default_rng(32)
    spots = [(65.0 + 55 * (n % 4), 65.0 + 40 * (n // 4)) for n in range(8)]
    laid = [bolt(*(M8X1 if n < 4 else INCH_5_16_24), *spot, rng) for n, spot in enumerate(spots)]
    found = read(laid, 32)
    assert sorted(g.count for g in found.groups) == [4, 4]
    off = []
    for truth, piece in paired(laid, found):
        shank = piece.figures_mm["shank_diameter"]
        off.append(abs(shank.value - truth.figures["shank_diameter"]))
        assert off[-1] <= shank.uncertainty
        assert piece.pitch_mm is not None and truth.pitch_mm is not None
        assert abs(piece.pitch_mm.value - truth.pitch_mm) <= min(piece.pitch_mm.uncertainty, 0.02)
    assert float(np.median(off)) < 0.08


@cache
def heads() -> tuple[tuple[Truth, Piece], ...]:
    rng = np.random.default_rng(33)
    laid = []
    for n in range(24):
        f = {
            "shank_diameter": 4.0,
            "head_diameter": 7.6,
            "head_angle": (82.0, 90.0, 100.0, 120.0)[n % 4],
            "length": 14.0,
        }
        if n >= 12:
            f["dome"] = 0.45
        laid.append(make("countersunk", f, 62.0 + 33 * (n % 6), 60.0 + 29 * (n // 6), rng, "dural"))
    return tuple(paired(laid, read(laid, 33)))


def test_the_angle_of_a_countersunk_head_lies_within_what_is_stated() -> None:
    """82, 90, 100 and 120 degrees, flat and domed, lying every way round; one that shows too little cone gets no angle."""
    told = [(truth.figures["head_angle"], piece.head_angle_deg) for truth, piece in heads() if piece.head_angle_deg]
    assert len(told) >= 16
    assert sum(abs(figure.value - true) <= figure.uncertainty for true, figure in told) >= 0.9 * len(told)
    assert float(np.median([abs(figure.value - true) for true, figure in told])) < 3.0
    assert max(figure.uncertainty for _true, figure in told) <= 30


def test_flush_and_domed_heads_stay_doubtful_by_name() -> None:
    """A domed and a flat head of one slope have nearly one outline: neither is named as if it were certain."""
    piece = next(p for t, p in heads() if p.head_angle_deg is not None and t.figures["head_angle"] == 120)
    group = describe(1, [piece])
    chances = {p.name.split()[0]: p.probability for p in reversed(group.proposals)}
    assert max(chances.values()) < 0.6
    assert group.ask


def test_a_domed_head_of_120_degrees_is_not_read_as_100() -> None:
    steep = [p.head_angle_deg for t, p in heads() if t.figures["head_angle"] == 120 and "dome" in t.figures]
    told = [figure for figure in steep if figure is not None]
    assert told
    assert all(figure.value + figure.uncertainty >= 118 for figure in told)
