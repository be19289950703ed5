"""A mat whose boxes know their bags: tags printed in or laid in, pieces by box, and every box that must be asked about.

The pictures are drawn by code that shares nothing with the reader; QR codes are made by segno and read by zxing-cpp, both
after ISO/IEC 18004; the check letter is that of ISO 7064 MOD 37-2.
"""

import io
from functools import cache

import numpy as np
import pytest
import segno
from PIL import Image

from tests.unit.test_mat_reading import BOLT, scene
from witnessmark.bench.mat_pictures import jpeg, picture
from witnessmark.bench.mat_scenes import ground, make
from witnessmark.bench.mat_shapes import Array, Mesh, Truth
from witnessmark.calc.mat.boxes import BoxRead, code_in_box
from witnessmark.calc.mat.reading import MatReading, read_mat
from witnessmark.calc.mat.sheet import Box, Sheet, sheet
from witnessmark.calc.tags import face

RING = {"inside_diameter": 6.4, "outside_diameter": 12.0, "thickness": 1.6}
TAGS = (("1", "1001"), ("2", "1002"), ("3", "L-014-7"), ("5", "1005"), ("12", "1012"))
CHECKS = {"BENCH": (240.0, 150.0)}


def ring_in(kind: Sheet, box: str, across: float, down: float, n: int = 1) -> tuple[Truth, Mesh]:
    """A ring at a share of the box's width and height."""
    b = box_of(kind, box)
    dx, dy = kind.margin_mm
    rng = np.random.default_rng(n)
    return make("washer", RING, dx + b.x_mm + across * b.width_mm, dy + b.y_mm + down * b.height_mm, rng)


def box_of(kind: Sheet, name: str) -> Box:
    return next(b for b in kind.boxes() if b.name == name)


def paper_tag(text: str, dots_per_mm: float) -> Array:
    """The face of a blank tag as it comes off the printer: two codes on white paper."""
    tag = Image.new("L", (round(face.WIDTH_MM * dots_per_mm), round(face.HEIGHT_MM * dots_per_mm)), 235)
    drawn = io.BytesIO()
    segno.make_qr(text, error="h", version=1, boost_error=False).save(drawn, kind="png", scale=8, border=0)
    side = round(face.CODE_MM * dots_per_mm)
    code = Image.open(drawn).convert("L").resize((side, side), Image.Resampling.BOX)
    for left in face.CODE_LEFT_MM:
        tag.paste(code, (round(left * dots_per_mm), round(face.CODE_TOP_MM * dots_per_mm)))
    return np.repeat(np.asarray(tag)[..., None], 3, 2)


def laid(kind: Sheet, printed: Array, text: str, x_mm: float, y_mm: float) -> Array:
    """The sheet with a paper tag on it, its upper left corner so far from the ring's."""
    dots = printed.shape[1] / kind.width_mm
    tag = paper_tag(text, dots)
    on = printed.copy()
    left, top = (round((v + m) * dots) for v, m in zip((x_mm, y_mm), kind.margin_mm, strict=True))
    on[top : top + tag.shape[0], left : left + tag.shape[1]] = tag
    return on


def boxes(found: MatReading) -> dict[str, BoxRead]:
    return {b.box: b for b in found.boxes}


@cache
def printed_in() -> MatReading:
    kind = sheet("A4", "boxes")
    pieces = [ring_in(kind, "1", 0.25, 0.7), ring_in(kind, "1", 0.6, 0.7), ring_in(kind, "2", 0.4, 0.6)]
    pieces += [ring_in(kind, "5", 0.82, 0.22), ring_in(kind, "7", 0.4, 0.6), ring_in(kind, "12", 0.04, 0.6)]
    data = jpeg(picture(scene(pieces, kind, ground=ground(kind, 300.0, TAGS))))
    return read_mat(data, CHECKS, bound={"BENCH": {"5": "1005", "7": "2000", "8": "2001"}})


def test_tags_printed_in_are_read_and_are_no_pieces() -> None:
    found = printed_in()
    assert (found.count, found.for_person) == (6, 0)
    assert found.tags == ("1001", "1002", "1012", "L-014-7")
    by = boxes(found)
    assert (by["1"].tag, len(by["1"].pieces), by["1"].state) == ("1001", 2, "one bag")
    assert by["1"].sentence == "Box 1, tag 1001: 2 pieces."
    assert {p.box for p in found.pieces if p.number in by["1"].pieces} == {"1"}


def test_a_piece_on_the_printed_code_is_counted_and_the_record_says_whose_it_is() -> None:
    five = boxes(printed_in())["5"]
    assert (five.seen, five.bound, five.tag, len(five.pieces), five.state) == ((), "1005", "1005", 1, "one bag")


def test_empty_boxes_are_named_with_their_tags() -> None:
    found = printed_in()
    by = boxes(found)
    assert (by["3"].state, by["3"].tag, by["3"].sentence) == ("empty", "L-014-7", "Box 3, tag L-014-7: empty.")
    assert by["8"].tag == "2001" and by["8"].state == "empty"
    assert found.sentence.endswith("5 boxes with pieces, 7 empty: 3, 4, 6, 8, 9, 10, 11.")


def test_a_piece_over_the_line_is_asked_about() -> None:
    twelve = boxes(printed_in())["12"]
    assert twelve.over == twelve.pieces and "reaches over its line" in twelve.sentence
    assert boxes(printed_in())["1"].over == ()


def test_a_box_bound_to_another_tag_than_it_shows_has_two() -> None:
    kind = sheet("A4", "boxes")
    data = jpeg(picture(scene([ring_in(kind, "1", 0.3, 0.7)], kind, ground=ground(kind, 300.0, TAGS))))
    one = boxes(read_mat(data, CHECKS, bound={"BENCH": {"1": "1777", "2": "1002"}}))["1"]
    assert (one.state, one.tag) == ("two tags", "")
    assert one.sentence == "Box 1 has two tags: 1001 and 1777. Say which of them it is."


def test_one_tag_for_two_boxes_is_asked_about_in_both() -> None:
    kind = sheet("A4", "boxes")
    data = jpeg(picture(scene([ring_in(kind, "4", 0.3, 0.7)], kind, ground=ground(kind, 300.0, TAGS))))
    by = boxes(read_mat(data, CHECKS, bound={"BENCH": {"4": "1001"}}))
    assert by["4"].state == by["1"].state == "two tags"
    assert "for box 4 and for box 1" in by["4"].sentence


def a3(*tags: tuple[str, float, float], pieces: tuple[tuple[Truth, Mesh], ...] = ()) -> MatReading:
    """An A3 mat with boxes and paper tags on it: text, then where the upper left corner lies."""
    kind = sheet("A3", "boxes")
    on = ground(kind, 220.0)
    for text, x, y in tags:
        on = laid(kind, on, text, x, y)
    return read_mat(jpeg(picture(scene(list(pieces), kind, ground=on))), {"BENCH": kind.check_mm})


def test_a_tag_laid_in_a_box_speaks_for_it_and_is_no_piece() -> None:
    kind = sheet("A3", "boxes")
    b = box_of(kind, "6")
    found = a3(
        (code_in_box("0231"), b.x_mm + 8, b.y_mm + 6),
        pieces=(ring_in(kind, "6", 0.25, 0.8), ring_in(kind, "6", 0.6, 0.8)),
    )
    six = boxes(found)["6"]
    assert (six.tag, six.state, len(six.pieces), found.for_person) == ("0231", "one bag", 2, 0)


def test_a_tag_with_a_piece_against_it_is_left_to_the_person() -> None:
    kind = sheet("A3", "boxes")
    b = box_of(kind, "6")
    bolt = make(
        "hexagon",
        dict(BOLT),
        kind.margin_mm[0] + b.x_mm + 40,
        kind.margin_mm[1] + b.y_mm + 39,
        np.random.default_rng(3),
    )
    found = a3((code_in_box("0231"), b.x_mm + 8, b.y_mm + 8), pieces=(bolt,))
    six = boxes(found)["6"]
    assert (six.tag, six.piles, found.count) == ("0231", 1, 0)
    assert "something on it or against it" in found.pieces[0].doubts[0]


@pytest.mark.parametrize("text", ["https://example.org/t/0231/", "WM:0231:9"], ids=["elsewhere", "misread letter"])
def test_a_code_that_is_no_tag_of_the_shop_is_named(text: str) -> None:
    kind = sheet("A3", "boxes")
    b = box_of(kind, "2")
    on = ground(kind, 220.0)
    dots = on.shape[1] / kind.width_mm
    drawn = io.BytesIO()
    segno.make_qr(text, error="m").save(drawn, kind="png", scale=12, border=4)
    side = round(24 * dots)
    code = np.asarray(Image.open(drawn).convert("RGB").resize((side, side), Image.Resampling.BOX))
    left, top = (round((v + m + 8) * dots) for v, m in zip((b.x_mm, b.y_mm), kind.margin_mm, strict=True))
    on = on.copy()
    on[top : top + side, left : left + side] = code
    found = read_mat(jpeg(picture(scene([ring_in(kind, "2", 0.7, 0.7)], kind, ground=on))), {"BENCH": kind.check_mm})
    two = boxes(found)["2"]
    assert (two.state, two.foreign, two.tag) == ("another code", (text,), "")
    assert two.sentence.startswith("Box 2 has a code that is no tag of this shop")


def test_two_tags_laid_in_one_box_are_named() -> None:
    kind = sheet("A3", "boxes")
    b = box_of(kind, "6")
    found = a3(
        (code_in_box("0231"), b.x_mm + 8, b.y_mm + 2), (code_in_box("0232"), b.x_mm + 8, b.y_mm + 34),
    )  # fmt: skip
    assert boxes(found)["6"].sentence == "Box 6 has two tags: 0231 and 0232. Say which of them it is."
