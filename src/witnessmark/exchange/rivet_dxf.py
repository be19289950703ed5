"""The drawing of a rivet as DXF: its outline in mm at full size, with real dimensions that a drawing office can move."""

import io
from collections.abc import Sequence

from witnessmark.calc.fasteners.rivet_drawing import RivetDrawing
from witnessmark.calc.working import CAUTION_LINE

INSUNITS_MM = 4
TEXT_MM = 0.6


def rivet_dxf(drawings: Sequence[RivetDrawing], notes: Sequence[str] = ()) -> str:
    """Write every length of one size, one below the other, and the notes under them."""
    import ezdxf
    from ezdxf.enums import TextEntityAlignment

    document = ezdxf.new("R2010", setup=True)  # type: ignore[attr-defined]
    document.units = INSUNITS_MM
    for name, linetype in (
        ("OUTLINE", "CONTINUOUS"),
        ("AXIS", "CENTER"),
        ("DIMENSIONS", "CONTINUOUS"),
        ("NOTES", "CONTINUOUS"),
    ):
        document.layers.add(name, linetype=linetype)
    space = document.modelspace()
    y = 0.0
    style = {"dimtxt": TEXT_MM, "dimasz": TEXT_MM * 0.8, "dimexo": 0.2, "dimexe": 0.3, "dimgap": 0.2, "dimdec": 2}

    def dimension(
        base: tuple[float, float], one: tuple[float, float], two: tuple[float, float], text: str, angle: float = 0
    ) -> None:
        space.add_linear_dim(
            base=base, p1=one, p2=two, angle=angle, text=text, dimstyle="EZDXF", override=style,
            dxfattribs={"layer": "DIMENSIONS"},
        ).render()  # fmt: skip

    def write(words: str, at: tuple[float, float]) -> None:
        space.add_text(words, height=TEXT_MM, dxfattribs={"layer": "NOTES"}).set_placement(
            at, align=TextEntityAlignment.LEFT
        )

    for drawn in drawings:
        space.add_lwpolyline(
            [(c.x_mm, c.y_mm + y, c.bulge) for c in drawn.outline],
            format="xyb",
            close=True,
            dxfattribs={"layer": "OUTLINE"},
        )
        top, low, end = y + drawn.head_mm / 2, y - drawn.head_mm / 2, drawn.length_mm
        space.add_line((-drawn.above_mm - 1, y), (end + 1, y), dxfattribs={"layer": "AXIS"})
        half = drawn.shank_mm / 2
        limits = f"<> +{drawn.shank_plus_mm:.2f} -{drawn.shank_minus_mm:.2f}"
        dimension((end + 2, y), (end, y - half), (end, y + half), f"%%c{limits}", 90)
        dimension((-drawn.above_mm - 2, y), (0, low), (0, top), f"%%c<> %%p{drawn.head_tol_mm:.2f}", 90)
        dimension((0, top + 1.5), (-drawn.above_mm, y), (drawn.seat_mm, y + half), f"<> %%p{drawn.height_tol_mm:.2f}")
        dimension((0, low - 1.5), (0, low), (end, y - half), f"<> %%p{drawn.length_tol_mm:.2f}")
        if drawn.above_mm > 0:
            dimension((0, low - 3.5), (-drawn.above_mm, y), (end, y - half), "(<>)")
        said = f"{drawn.code} x {drawn.length_mm:.2f} mm"
        if drawn.head_deg is not None:
            said += f", head angle {drawn.head_deg:g}%%d %%p{drawn.angle_tol_deg:g}%%d"
        write(said, (0, top + 3))
        y -= drawn.head_mm + 12
    y += 4
    for note in (*notes, CAUTION_LINE):
        write(note, (0, y))
        y -= 2 * TEXT_MM
    out = io.StringIO()
    document.write(out)
    return out.getvalue()
