"""Pieces that touch: parted at one point where that is beyond doubt, else left to the person; never a wrong count unasked.

The pictures are drawn by code that shares nothing with the reader: pieces are pushed together until they touch.
"""

import numpy as np
import pytest

from tests.unit.test_mat_reading import BOLT, scene
from witnessmark.bench.mat_pictures import jpeg, picture
from witnessmark.bench.mat_scenes import drawn, make
from witnessmark.bench.mat_shapes import Mesh, Truth
from witnessmark.bench.mat_touching import CHECKS, bring_together, touching_scene
from witnessmark.calc.mat.reading import MatReading, read_mat

PIN = {"shank_diameter": 5.0, "length": 26.0}
RING = {"inside_diameter": 6.4, "outside_diameter": 12.0, "thickness": 1.6}


def read(*things: tuple[Truth, Mesh]) -> MatReading:
    return read_mat(jpeg(picture(scene(list(things)))), CHECKS)


def turned(family: str, f: dict[str, float], x: float, y: float, azimuth: float) -> tuple[Truth, Mesh]:
    """A piece lying at a chosen azimuth."""

    class Drawn:
        """Answers the two draws that laying a piece asks for."""

        def uniform(self, *_limits: float) -> float:
            return azimuth

    return make(family, dict(f), x, y, Drawn(), "steel", 0.0)  # type: ignore[arg-type]


@pytest.mark.parametrize("seed", [9100, 9101])
def test_no_count_of_touching_pieces_is_told_wrong(seed: int) -> None:
    laid, counts = touching_scene(seed)
    found = read_mat(jpeg(drawn(laid)), CHECKS)
    truths = [truth for truth, _mesh in laid.pieces]
    first, parted = 0, 0
    for count in counts:
        at = [(t.x_mm - laid.ring_at_mm[0], t.y_mm - laid.ring_at_mm[1]) for t in truths[first : first + count]]
        first += count
        here = [p for p in found.pieces if min(np.hypot(p.x_mm - x, p.y_mm - y) for x, y in at) < 11]
        assert here
        if not any(p.for_person for p in here):
            assert len(here) == count, [p.family for p in here]
            parted += count > 1
    assert parted >= 4
    assert all("parted" in " ".join(p.doubts) for p in found.pieces if not p.for_person and _touched(p, found))


def _touched(piece: object, found: MatReading) -> bool:
    """Whether another outline comes as near as pieces that touch do."""
    mine = np.array(piece.outline_mm)  # type: ignore[attr-defined]
    others = [np.array(p.outline_mm) for p in found.pieces if p is not piece]
    return any(np.hypot(*(mine[:, None] - o[None]).transpose(2, 0, 1)).min() < 0.8 for o in others)


def test_a_bolt_against_a_ring_is_parted_and_both_are_measured() -> None:
    ring = turned("washer", RING, 180.0, 80.0, 0.0)
    bolt = turned("hexagon", BOLT, 180.0, 80.0, 0.9)
    bring_together(ring[1], bolt[1], 0.3)
    found = read(ring, bolt)
    assert (found.count, found.for_person) == (2, 0)
    by = {p.family: p for p in found.pieces}
    assert by["ring"].figures_mm["outside_diameter"].value == pytest.approx(12.0, abs=0.2)
    assert by["hexagon"].figures_mm["length"].value == pytest.approx(25.0, abs=0.35)
    assert by["hexagon"].figures_mm["shank_diameter"].value == pytest.approx(6.0, abs=0.2)


def test_pins_side_by_side_are_left_to_the_person() -> None:
    """They touch along a line: no waist tells where one ends, nor how many they are."""
    pins = [turned("plain pin", PIN, 90.0 + 5.0 * n, 100.0, np.pi / 2) for n in range(3)]
    pins += [turned("plain pin", PIN, 130.0 + 5.0 * n, 100.0, np.pi / 2) for n in range(2)]
    thick = turned("plain pin", {"shank_diameter": 10.0, "length": 26.0}, 180.0, 100.0, np.pi / 2)
    found = read(*pins, thick)
    assert (found.count, found.for_person) == (1, 2)
    assert "Count it by hand" in next(p for p in found.pieces if p.for_person).doubts[0]
    assert next(p for p in found.pieces if not p.for_person).figures_mm["shank_diameter"].value == pytest.approx(
        10, abs=0.2
    )


def test_crossed_bolts_are_left_to_the_person() -> None:
    found = read(*(turned("hexagon", BOLT, 150.0, 100.0, a) for a in (0.2, 1.7)))
    assert (found.count, found.for_person) == (0, 1)


def test_lone_pieces_are_never_parted() -> None:
    """Heads, holes, threads and hexagons make waists of their own; none of them is a contact."""
    lone = [
        turned("hexagon", BOLT, 90.0, 80.0, 0.4),
        turned("countersunk", {"shank_diameter": 2.6, "head_diameter": 5.2, "head_angle": 100.0, "length": 16.0}, 150.0, 80.0, 2.0),
        turned("round", {"shank_diameter": 2.8, "head_diameter": 5.6, "height": 2.0, "length": 18.0}, 200.0, 80.0, 1.0),
        turned("nut", {"across_flats": 13.0, "inside_diameter": 7.0, "thickness": 6.5}, 90.0, 130.0, 0.3),
        turned("washer", {"inside_diameter": 10.0, "outside_diameter": 12.0, "thickness": 1.0}, 150.0, 130.0, 0.0),
    ]  # fmt: skip
    found = read(*lone)
    assert (found.count, found.for_person) == (5, 0)
    assert not any("parted" in " ".join(p.doubts) for p in found.pieces)
