"""Whole pictures, drawn by code that shares nothing with the reader, and every picture that must be refused."""

import dataclasses
import io
import re
from collections.abc import Callable
from functools import cache
from typing import Any

import numpy as np
import pytest
from PIL import Image

from witnessmark.bench.mat_pictures import Lens, Scene, jpeg, picture
from witnessmark.bench.mat_scenes import ground, make
from witnessmark.bench.mat_shapes import Mesh, Truth
from witnessmark.calc.mat.groups import describe, group
from witnessmark.calc.mat.pieces import Figure, Piece
from witnessmark.calc.mat.reading import MatReading, read_mat
from witnessmark.calc.mat.rectify import NotReadable, open_picture
from witnessmark.calc.mat.sheet import Sheet, sheet

# Council Regulation (EC) No 975/98, annex: diameter and thickness in mm (figures quoted).
EURO_MM = {
    "2 EUR": (25.75, 2.20), "1 EUR": (23.25, 2.33), "50 ct": (24.25, 2.38), "20 ct": (22.25, 2.14),
    "10 ct": (19.75, 1.93), "5 ct": (21.25, 1.67), "2 ct": (18.75, 1.67), "1 ct": (16.25, 1.67),
}  # fmt: skip
BOLT = {"shank_diameter": 6.0, "across_flats": 10.0, "height": 4.0, "length": 25.0}
LENS = Lens(width=3264, height=2448, focal_px=2452.0, tilt_deg=9.0, towards_deg=40.0, k1=0.02)


def scene(pieces: list[tuple[Truth, Mesh]], kind: Sheet | None = None, **changed: object) -> Scene:
    on = kind or sheet("A4")
    made = Scene(ground(on, 300.0), (on.width_mm, on.height_mm), on.margin_mm, pieces, LENS, seed=4)
    return dataclasses.replace(made, **changed)  # type: ignore[arg-type]


@cache
def few() -> bytes:
    rng = np.random.default_rng(1)
    laid = [make("hexagon", dict(BOLT), 80.0 + 55 * n, 80.0, rng, "steel", 0.0) for n in range(2)]
    laid += [
        make("washer", {"inside_diameter": 6.4, "outside_diameter": 12.0, "thickness": 1.6}, 90.0 + 40 * n, 130.0, rng)
        for n in range(3)
    ]
    return jpeg(picture(scene(laid)))


@cache
def read() -> MatReading:
    return read_mat(few(), {"BENCH": (240.0, 150.0)})


def test_a_picture_is_counted_measured_and_grouped() -> None:
    found = read()
    assert (found.count, found.for_person, found.serial, found.scale_measured) == (5, 0, "BENCH", True)
    assert [(g.family, g.count) for g in found.groups] == [("ring", 3), ("hexagon", 2)]
    bolt = found.groups[1]
    assert bolt.figures_mm["shank_diameter"].value == pytest.approx(6.0, abs=0.2)
    assert bolt.figures_mm["length"].value == pytest.approx(25.0, abs=0.3)
    assert bolt.figures_mm["across_flats"].value == pytest.approx(10.0, abs=0.2)
    assert found.tilt_deg == pytest.approx(9.0, abs=0.5)
    assert found.sentence == "5 pieces in 2 groups."
    assert set(found.returned) == {"1", "2", "3", "4", "5"}
    assert found.to_dict()["working"]["sources"]


def test_an_unmeasured_printer_is_said_and_widens_every_figure() -> None:
    blind = read_mat(few())
    assert not blind.scale_measured
    assert "check lengths were not measured" in blind.cautions[0]
    assert blind.groups[1].figures_mm["length"].uncertainty > read().groups[1].figures_mm["length"].uncertainty


def test_a_stretched_print_is_taken_back_in_both_directions() -> None:
    """A printer that prints 1 % too wide and 1 % too low: the ruler's two lengths give the bolt its own length back."""
    on = sheet("A4")
    rng = np.random.default_rng(1)
    laid = [make("hexagon", dict(BOLT), 80.0 + 55 * n, 80.0, rng, "steel", 0.0) for n in range(2)]
    data = jpeg(picture(scene(laid, ground_mm=(on.width_mm * 1.01, on.height_mm * 0.99))))
    found = read_mat(data, {"BENCH": (242.4, 148.5)})
    assert found.scale == pytest.approx((1.01, 0.99))
    assert [p.figures_mm["length"].value for p in found.pieces] == pytest.approx([25.0, 25.0], abs=0.3)
    with pytest.raises(NotReadable, match="printer stretches"):
        read_mat(data)


@pytest.mark.parametrize("turned", [3, 6, 8])
def test_a_picture_held_otherwise_reads_the_same(turned: int) -> None:
    """EXIF orientation, CIPA DC-008: 3 upside down, 6 and 8 a quarter turn."""
    with Image.open(io.BytesIO(few())) as image:
        back = {3: Image.Transpose.ROTATE_180, 6: Image.Transpose.ROTATE_90, 8: Image.Transpose.ROTATE_270}[turned]
        rgb = np.asarray(image.transpose(back).convert("RGB"))
    found = read_mat(jpeg(rgb, turned=turned, quality=95), {"BENCH": (240.0, 150.0)})
    assert found.count == 5
    assert found.groups[1].figures_mm["length"].value == pytest.approx(
        read().groups[1].figures_mm["length"].value, abs=0.1
    )


def test_coins_of_legal_diameter() -> None:
    """Rendered discs of the eight euro coins; the diameters are the regulation's."""
    rng = np.random.default_rng(2)
    laid = [
        make(
            "washer",
            {"inside_diameter": 0.002, "outside_diameter": d, "thickness": t},
            65.0 + 42 * (n % 4),
            75.0 + 50 * (n // 4),
            rng,
        )
        for n, (d, t) in enumerate(EURO_MM.values())
    ]
    found = read_mat(jpeg(picture(scene(laid))), {"BENCH": (240.0, 150.0)})
    assert found.count == 8
    told = sorted(p.figures_mm["outside_diameter"].value for p in found.pieces)
    assert told == pytest.approx(sorted(d for d, _t in EURO_MM.values()), abs=0.2)
    assert all("without a hole" in " ".join(p.doubts) for p in found.pieces)


def test_boxes_keep_their_bags_apart() -> None:
    kind = sheet("A4", "boxes")
    rng = np.random.default_rng(5)
    ring = {"inside_diameter": 6.4, "outside_diameter": 12.0, "thickness": 1.6}
    spots = [kind.boxes()[0], kind.boxes()[0], kind.boxes()[6]]
    dx, dy = kind.margin_mm
    laid = [
        make("washer", ring, dx + b.x_mm + b.width_mm * (0.3 + 0.4 * (n == 1)), dy + b.y_mm + b.height_mm / 2, rng)
        for n, b in enumerate(spots)
    ]
    found = read_mat(jpeg(picture(scene(laid, kind))), {"BENCH": (240.0, 150.0)})
    assert sorted((g.box, g.count) for g in found.groups) == [("1", 2), ("7", 1)]


def test_touching_pieces_are_left_to_the_person() -> None:
    rng = np.random.default_rng(6)
    crossed = [make("hexagon", dict(BOLT), 120.0 + 5 * n, 90.0 + 5 * n, rng, "steel", 0.0) for n in range(3)]
    alone = make("washer", {"inside_diameter": 6.4, "outside_diameter": 12.0, "thickness": 1.6}, 200.0, 120.0, rng)
    found = read_mat(jpeg(picture(scene([*crossed, alone]))), {"BENCH": (240.0, 150.0)})
    assert (found.count, found.for_person) == (1, 1)
    pile = next(p for p in found.pieces if p.for_person)
    assert "Count it by hand" in pile.doubts[0] and pile.figures_mm == {}


def _drawing() -> bytes:
    out = io.BytesIO()
    Image.fromarray(ground(sheet("A4"), 300.0)).save(out, "PNG")
    return out.getvalue()


def _two() -> bytes:
    with Image.open(io.BytesIO(few())) as image:
        half = image.convert("RGB").resize((1632, 1224))
        both = Image.new("RGB", (1632 * 2, 1224), "grey")
        both.paste(half, (0, 0))
        both.paste(half, (1632, 0))
        return jpeg(np.asarray(both))


def _flat(value: int) -> bytes:
    return jpeg(np.full((900, 1200, 3), value, np.uint8))


def _bomb() -> bytes:
    out = io.BytesIO()
    Image.new("1", (20_000, 10_000)).save(out, "PNG")  # 200 megapixels in a few kilobytes
    return out.getvalue()


def _blurred() -> bytes:
    return jpeg(picture(scene([], blur_px=9.0)))


def _bench() -> bytes:
    """A sharp picture without any mat: a chequered cloth."""
    tiles = np.indices((900, 1200)) // 60
    return jpeg(np.repeat(np.where(tiles.sum(0) % 2, 200, 60).astype(np.uint8)[..., None], 3, axis=2))


def _covered(sides: str) -> bytes:
    """The picture of few pieces with a dark cloth over some sides of the ring."""
    with Image.open(io.BytesIO(few())) as image:
        rgb = np.asarray(image.convert("RGB")).copy()
    rows, columns = rgb.shape[:2]
    strips: dict[str, Any] = {
        "top": np.s_[: rows // 4], "bottom": np.s_[rows * 3 // 4 :],
        "left": np.s_[:, : columns // 5], "right": np.s_[:, columns * 4 // 5 :],
    }  # fmt: skip
    for side in sides.split():
        rgb[strips[side]] = (60, 52, 44)
    return jpeg(rgb)


def _glare() -> bytes:
    """A lamp's mirror image over a third of the work area: burnt out to white."""
    with Image.open(io.BytesIO(few())) as image:
        rgb = np.asarray(image.convert("RGB")).copy()
    rows, columns = rgb.shape[:2]
    rgb[rows // 4 : rows * 3 // 4, columns // 4 : columns // 2] = 255
    return jpeg(rgb)


def _far() -> bytes:
    """The whole mat in a quarter of a small picture."""
    with Image.open(io.BytesIO(few())) as image:
        return jpeg(np.asarray(image.convert("RGB").resize((1100, 825))))


@cache
def bad(name: str) -> bytes:
    """The bytes of one bad input, made once."""
    return BAD[name][0]()


# What may come in instead of a picture of a mat: how it is made, and what is said of it.
BAD: dict[str, tuple[Callable[[], bytes], str]] = {
    "no mat": (lambda: _flat(180), "No mat is in the picture"),
    "black": (lambda: _flat(3), "The picture is black"),
    "two mats": (_two, "Two mats are in the picture"),
    "screenshot": (_drawing, "a screenshot of a mat"),
    "bomb": (_bomb, "more than 60 million pixels"),
    "truncated": (lambda: few()[: len(few()) // 2], "cut off or broken"),
    "no picture": (lambda: b"%PDF-1.7 no picture", "no picture that can be read"),
    "empty file": (lambda: b"", "no picture that can be read"),
    "blur": (_blurred, "The picture is blurred"),
    "strong blur": (lambda: jpeg(picture(scene([], blur_px=25.0))), "The picture is blurred"),
    "a cloth": (_bench, "No mat is in the picture"),
    "oblique": (lambda: jpeg(picture(scene([], lens=dataclasses.replace(LENS, tilt_deg=52.0)))), "too obliquely"),
    "curled": (lambda: jpeg(picture(scene([], curl_mm=14.0))), "does not lie flat"),
    "folded": (lambda: jpeg(picture(scene([], fold_mm=9.0))), "does not lie flat"),
    "glare": (_glare, "Glare covers"),
    "two sides": (lambda: _covered("top left"), "fewer than three sides"),
    "too few markers": (lambda: _covered("top left bottom right"), "No mat|Only [0-9]+ of"),
    "far away": (_far, "The mat is small in the picture"),
}


@pytest.mark.parametrize("name", BAD)
def test_what_cannot_be_measured_is_refused_in_one_line(name: str) -> None:
    with pytest.raises(NotReadable, match=BAD[name][1]) as why:
        read_mat(bad(name))
    assert "\n" not in str(why.value)
    # Every refusal ends in what to do: an order, not a complaint.
    assert re.search(r"\b(Take|take|Give|Copy|Print|Go|Lay|Hold|Uncover|Turn)\b", str(why.value))


def test_a_bomb_is_refused_before_it_is_unpacked() -> None:
    import tracemalloc

    data = _bomb()
    tracemalloc.start()
    with pytest.raises(NotReadable):
        open_picture(data)
    assert tracemalloc.get_traced_memory()[1] < 30_000_000
    tracemalloc.stop()


def _piece(number: int, shank: float, length: float, box: str = "") -> Piece:
    figures = {"shank_diameter": Figure(shank, 0.1), "length": Figure(length, 0.2)}
    return Piece(number, "plain pin", "", 9.0, figures, None, None, 0, 0, 0, (), (), "silvery", 0.02, box, ())


def test_sizes_apart_stay_apart_without_being_told_how_many() -> None:
    pieces = [_piece(n, 4.0 + 0.3 * (n % 3) + 0.02 * (n % 2), 20.0) for n in range(12)]
    made = group(pieces)
    assert sorted(g.count for g in made) == [4, 4, 4]
    assert {frozenset(n % 3 for n in g.pieces) for g in made} == {frozenset({k}) for k in range(3)}


def test_boxes_are_never_joined() -> None:
    assert len(group([_piece(1, 4, 20, "1"), _piece(2, 4, 20, "2")])) == 2


def test_a_mean_is_surer_than_one_but_keeps_what_repeats() -> None:
    many = describe(1, [_piece(n, 4.0, 20.0) for n in range(9)])
    assert 0.07 < many.figures_mm["shank_diameter"].uncertainty < 0.1
