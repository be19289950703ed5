"""Pictures as phones write them, every paper, and a mat that is partly covered."""

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.support.heic import turned
from tests.unit.test_mat_reading import BOLT, few, scene
from witnessmark.bench.mat_large import read_alone, turned_large
from witnessmark.bench.mat_pictures import jpeg, picture
from witnessmark.bench.mat_scenes import make
from witnessmark.calc.mat.reading import read_mat
from witnessmark.calc.mat.rectify import find_mat, open_picture
from witnessmark.calc.mat.sheet import all_sheets, sheet

# The demo's own drawing at 3 megapixels, written once as HEIC by libheif's heif-enc (quality 45).
HEIC = Path(__file__).parent / "pictures" / "mat.heic"
CHECKS = {"BENCH": (240.0, 150.0)}
RING = {"inside_diameter": 6.4, "outside_diameter": 12.0, "thickness": 1.6}


def test_a_heic_picture_is_counted_as_its_jpeg_is() -> None:
    found = read_mat(HEIC.read_bytes(), CHECKS)
    assert found.picture_px == (2000, 1500)
    # Nine bolts of two threads, six rings, five flush rivets; three bolts touch and are one spot for the person.
    assert (found.count, found.for_person) == (20, 1)
    rings = [p for p in found.pieces if p.family == "ring"]
    assert [p.figures_mm["outside_diameter"].value for p in rings] == pytest.approx([16.0] * 6, abs=0.3)


@pytest.mark.parametrize("quarters", [1, 2, 3])
def test_a_heic_from_a_phone_held_otherwise_opens_upright(quarters: int) -> None:
    upright = open_picture(HEIC.read_bytes()).rgb
    opened = open_picture(turned(HEIC.read_bytes(), quarters)).rgb
    assert np.array_equal(opened, np.rot90(upright, quarters))


def test_a_heic_on_its_side_is_counted_all_the_same() -> None:
    found = read_mat(turned(HEIC.read_bytes(), 1), CHECKS)
    assert (found.picture_px, found.count, found.for_person) == ((1500, 2000), 20, 1)


def test_fifty_megapixels_on_their_side_fit_into_a_small_machine() -> None:
    """The largest that phones take: at most 1.5 GB and the same count; 0.74 GB when this was written."""
    count, gigabytes, _cpu = read_alone(turned_large(few()))
    assert count == 5
    assert 0.2 < gigabytes < 1.5


def _turned_back(held: int) -> Image.Transpose | None:
    """What a camera held so writes, CIPA DC-008 (EXIF 2.32) tag 274: undone, it stands upright."""
    return {
        1: None,
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_90,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_270,
    }[held]


@pytest.mark.parametrize("held", range(1, 9))
def test_all_eight_ways_of_holding_a_phone_open_upright(held: int) -> None:
    with Image.open(io.BytesIO(few())) as image:
        upright = image.convert("RGB").resize((1632, 1224))
        back = _turned_back(held)
        rgb = np.asarray(upright if back is None else upright.transpose(back))
    opened = open_picture(jpeg(rgb, turned=held, quality=97))
    assert opened.rgb.shape == (1224, 1632, 3)
    off = np.abs(opened.rgb.astype(int) - np.asarray(upright).astype(int))
    assert off.mean() < 3
    kind, _mm, _px, markers = find_mat(opened)
    assert kind == sheet("A4") and markers > 40


@pytest.mark.parametrize("kind", [s for s in all_sheets() if s.colour == "blue"], ids=lambda s: s.name)
def test_every_paper_and_layout_is_read(kind: object) -> None:
    from witnessmark.calc.mat.sheet import Sheet

    assert isinstance(kind, Sheet)
    rng = np.random.default_rng(8)
    middle = kind.width_mm / 2, kind.height_mm / 2
    laid = [
        make("hexagon", dict(BOLT), middle[0] - 34, middle[1] - 17, rng, "steel", 0.0),
        make("washer", dict(RING), middle[0] + 20, middle[1] + 20, rng),
    ]
    found = read_mat(jpeg(picture(scene(laid, kind))), {"BENCH": kind.check_mm})
    assert (found.mat, found.count, found.for_person) == (kind.name, 2, 0)
    bolt = next(p for p in found.pieces if p.family == "hexagon")
    assert bolt.figures_mm["length"].value == pytest.approx(25.0, abs=0.4)
    assert all(bool(p.box) == (kind.layout == "boxes") for p in found.pieces)


def test_a_hand_on_the_ring_covers_markers_and_the_rest_is_read() -> None:
    with Image.open(io.BytesIO(few())) as image:
        covered = np.asarray(image.convert("RGB")).copy()
    whole = read_mat(few(), CHECKS)
    kind, mm, px, _markers = find_mat(open_picture(few()))
    across, down = kind.ring_mm
    under = px[(mm[:, 1] > 0.9 * down) & (np.abs(mm[:, 0] - across / 2) < across / 6)].astype(int)
    # The fingers of a hand lie on the middle of the lower edge.
    covered[under[:, 1].min() - 20 : under[:, 1].max() + 60, under[:, 0].min() : under[:, 0].max()] = (201, 160, 134)
    found = read_mat(jpeg(covered), CHECKS)
    assert found.markers < whole.markers
    bolts = [p for p in found.pieces if p.family == "hexagon"]
    assert [p.figures_mm["length"].value for p in bolts] == pytest.approx([25.0, 25.0], abs=0.35)
