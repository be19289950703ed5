"""The drawing of a rivet: its outline against printed heights, its DXF and its paper read back, what is refused."""

import io
from dataclasses import replace
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from ezdxf import bbox
from pypdf import PdfReader

from tests.unit.test_fastener_commands import run
from witnessmark.calc.fasteners.catalogue import Form, Shape, built_in, rivet_shape
from witnessmark.calc.fasteners.rivet_drawing import draw_rivet
from witnessmark.exchange.rivet_dxf import rivet_dxf
from witnessmark.papers import rivet_drawing, tooling
from witnessmark.papers.typesetting import Stamp
from witnessmark.records.lookups.rivet_drawings import OneLength, ToMake

STAMP = Stamp("Testbird, works number 7", "Shop", date(2026, 5, 12), 412)


def shape(form: Form = "domed", deg: float | None = 120.0, height: float | None = 1.65) -> Shape:
    return rivet_shape("HN-3.5", "house", form, 3.5, 7.4, deg, height, source="three from the keel")


def outline_box(text: str) -> Any:
    document = ezdxf.read(io.StringIO(text))  # type: ignore[attr-defined]
    return bbox.extents(document.modelspace().query("LWPOLYLINE"))


def test_the_cone_is_as_high_as_the_inch_table_prints() -> None:
    """MS20426: a 1/8 in rivet has a head 0.225 in wide and 0.042 in high at 100 degrees."""
    drawn = draw_rivet(next(s for s in built_in() if s.code == "1/8 flush 100"), 8.0)
    assert drawn.head_mm == pytest.approx(0.225 * 25.4, abs=0.003)
    assert drawn.seat_mm == pytest.approx(0.042 * 25.4, abs=0.01)
    assert drawn.above_mm == 0
    assert drawn.under_head_mm == pytest.approx(8.0 - drawn.seat_mm)


@pytest.mark.parametrize(
    ("form", "deg", "height"), [("domed", 120.0, 1.65), ("flush", 120.0, None), ("round", None, 2.1)]
)
def test_the_dxf_has_the_outline_and_its_dimensions(form: Form, deg: float | None, height: float | None) -> None:
    drawn = draw_rivet(shape(form, deg, height), 9.0)
    text = rivet_dxf([drawn], ["twelve of them"])
    box = outline_box(text)
    assert box.size.y == pytest.approx(7.4, abs=0.01)
    assert box.extmax.x == pytest.approx(9.0)
    # By hand: (7.4 - 3.5) / 2 / tan 60 = 1.1258 mm of cone, the rest of 1.65 is dome.
    above = {"domed": 1.65 - 1.1258, "flush": 0.0, "round": 2.1}[form]
    assert box.extmin.x == pytest.approx(-above, abs=0.01)
    document = ezdxf.read(io.StringIO(text))  # type: ignore[attr-defined]
    assert document.units == 4
    measured = {round(float(d.get_measurement()), 2) for d in document.modelspace().query("DIMENSION")}
    wanted = {3.5, 7.4, 9.0, {"domed": 1.65, "flush": 1.13, "round": 2.1}[form]}
    assert measured == wanted | ({round(9 + above, 2)} if above else set())
    notes = " ".join(t.dxf.text for t in document.modelspace().query("TEXT"))
    assert "twelve of them" in notes
    assert not document.audit().errors


def test_printed_limits_stand_beside_those_of_the_drawing() -> None:
    """DIN 660 Table 1: a 3.5 mm shank is 3.37 at the least; BS 4620 T6: 87.5 to 92.5 degrees; TM 9-2320: .222 to .228 in."""
    said = " ".join(draw_rivet(shape(), 9.0).printed_limits)
    assert "3.5 mm be 0.13 mm thinner (quoted)" in said
    assert "vary by 2.5 degrees and be no wider than nominal (quoted)" in said
    inch = " ".join(draw_rivet(next(s for s in built_in() if s.code == "1/8 flush 100"), 8.0).printed_limits)
    assert "seat of a 1/8 in head vary by 0.08 mm (read)" in inch
    assert (
        "No printed limit was found"
        in draw_rivet(rivet_shape("V", "own", "domed", 2.6, 5.5, 120, 1.2), 7.0).printed_limits[0]
    )


def test_the_dxf_keeps_outline_axis_dimensions_and_notes_on_layers_of_their_own() -> None:
    document = ezdxf.read(io.StringIO(rivet_dxf([draw_rivet(shape(), 9.0)], ["one"])))  # type: ignore[attr-defined]
    kinds = {(e.dxftype(), e.dxf.layer) for e in document.modelspace()}
    assert {("LWPOLYLINE", "OUTLINE"), ("LINE", "AXIS"), ("DIMENSION", "DIMENSIONS"), ("TEXT", "NOTES")} == kinds
    assert document.header["$INSUNITS"] == 4
    assert document.header["$MEASUREMENT"] == 1


def test_two_lengths_lie_apart() -> None:
    text = rivet_dxf([draw_rivet(shape(), 8.0), draw_rivet(shape(), 9.0)])
    document = ezdxf.read(io.StringIO(text))  # type: ignore[attr-defined]
    one, two = (bbox.extents([line]) for line in document.modelspace().query("LWPOLYLINE"))
    assert one.extmin.y > two.extmax.y + 5


@pytest.mark.parametrize(
    ("changed", "length", "why"),
    [
        ({"head_mm": 3.2}, 9.0, "not larger than its shank"),
        ({"head_deg": 181.0}, 9.0, "between 0 and 180"),
        ({"head_deg": None}, 9.0, "the angle"),
        ({"head_height_mm": None}, 9.0, "nobody has measured the height"),
        ({"head_height_mm": 0.6}, 9.0, "measure it again"),
        ({"head_height_mm": float("nan")}, 9.0, "measure it again"),
        ({"head_mm": None}, 9.0, "nobody has measured its head"),
        ({"shank_mm": 0.138}, 9.0, "look at its unit"),
        ({"form": "round", "head_height_mm": 4.0}, 9.0, "does not belong"),
        ({"form": "thread"}, 9.0, "no solid rivet"),
        ({}, 1.2, "leaves no shank"),
        ({}, float("inf"), "look at its unit"),
    ],
)
def test_what_cannot_be_is_not_drawn(changed: dict[str, Any], length: float, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        draw_rivet(replace(shape(), **changed), length)


def test_the_paper_prints_the_figures_and_what_is_missing() -> None:
    drawn = draw_rivet(shape(), 9.0)
    made = ToMake("HN-3.5", "flush rivet", "dural", "three from the keel",
                  (OneLength(drawn, "9 mm", 300, ("K-9",)),), "", ("Row K-9: settle.",), 300)  # fmt: skip
    none = ToMake("HN-2.6", "flush rivet", "", "", (), "First measure the width of its head.", (), 80)
    pages = PdfReader(BytesIO(rivet_drawing.pdf(rivet_drawing.DrawingPaper(STAMP, (made, none), ("K-1",))))).pages
    assert len(pages) == 2
    said = " ".join(pages[0].extract_text().split())
    for figure in ("Make 300 of HN-3.5", "7.40", "3.50", "120°", "1.65", "9.00", "9.52", "7.87", "three from the keel",
                   "from memory", "dural", "Row K-9: settle.", "5 : 1", "K-1"):  # fmt: skip
        assert figure in said, figure
    missing = " ".join(pages[1].extract_text().split())
    assert "HN-2.6" in missing
    assert "First measure the width of its head." in missing
    empty = PdfReader(BytesIO(rivet_drawing.pdf(rivet_drawing.DrawingPaper(STAMP, ())))).pages
    assert "No rivet on the order" in empty[0].extract_text()


def test_the_drawn_arc_runs_through_rim_and_crown() -> None:
    drawn = draw_rivet(shape("round", None, 2.1), 9.0)
    arc = [(x, y) for x, y in rivet_drawing.outline_points(drawn) if x <= 0 and abs(y) != 1.75]
    assert min(x for x, _ in arc) == pytest.approx(-2.1, abs=0.01)
    radius = (3.7**2 + 2.1**2) / (2 * 2.1)
    assert len(arc) > 20
    assert all((x - radius + 2.1) ** 2 + y**2 == pytest.approx(radius**2) for x, y in arc)


def test_a_tooling_list_without_rows_says_so() -> None:
    page = PdfReader(BytesIO(tooling.pdf(tooling.ToolPaper(STAMP, None)))).pages[0]
    assert "No row that was looked at waits for a rivet." in page.extract_text()


def test_the_command_wants_a_record(tmp_path: Path) -> None:
    done = run(tmp_path, "rivet", "drawing", "HN-3.5", "--dxf", str(tmp_path / "a.dxf"))
    assert done.returncode == 2
    assert "witnessmark load DIR" in done.stderr
    assert not (tmp_path / "a.dxf").exists()


def test_the_drawn_head_lies_in_the_sheet_as_deep_as_the_length_counts_it() -> None:
    """A flush rivet's length counts from its rim (NAVEDTRA 14018: countersunk over all); only the dome stands over it."""
    from witnessmark.records.lookups.seam_rivet import cone_of, dome_of

    for head in (shape(), shape("flush", 100.0, None), rivet_shape("V", "own", "domed", 3.0, 6.3, 120.0, 1.40)):
        drawn = draw_rivet(head, 9.0)
        assert drawn.seat_mm == pytest.approx(cone_of(head))
        assert drawn.above_mm == pytest.approx(dome_of(head))
        assert drawn.over_all_mm == pytest.approx(9.0 + dome_of(head))
