"""A joint by typed figures alone: one rivet of a row beside another in diameter, alloy, head, system or hole."""

from typing import Any

from django.http import QueryDict

from witnessmark.calc.fasteners.compare import (
    Beside,
    RowRivet,
    alloy_shear_mpa,
    beside,
    joint_sheet,
    rivet_alloys,
    rivet_name,
)
from witnessmark.calc.fasteners.tooling import drill_for
from witnessmark.web.rivet_typed import Typed, need, refused, typed_stack

ALLOYS = [("", "not known"), *((each.code, f"{each.code}, {each.alloy}") for each in rivet_alloys())]
HEADS = [("protruding", "protruding"), ("dimpled", "flush, dimpled"), ("countersunk", "flush, countersunk")]
SYSTEMS = [("metric", "metric"), ("inch", "inch")]
PLANES = [("1", "single shear, first sheet against last"), ("2", "double shear, the middle sheet against the others")]


def joint_part(data: QueryDict) -> dict[str, Any]:
    """Both rivets of the joint by each way to fail, or what is missing."""
    typed = Typed(data)
    stack = typed.words("j_stack", "Sheets, outermost first, like 1.0 + 2.5", "mm")
    material = typed.words("j_material", "Their material, like clad dural", "")
    tensile = typed.number("j_tensile", "Tensile strength, if the shop knows it", "MPa")
    pitch, edge = typed.length("j_pitch", "Pitch"), typed.length("j_edge", "Edge distance")
    d, hole = typed.length("j_d", "Diameter of the rivet"), typed.length("j_hole", "Its hole; else by its drill")
    width = typed.length("j_head_d", "Its head, if flush")
    angle = typed.number("j_head_deg", "Angle of its head", "°")
    other_d = typed.length("j_sub_d", "Diameter of the substitute")
    other_hole = typed.length("j_sub_hole", "Its hole, if oversize; else by its drill")
    other_width = typed.length("j_sub_head_d", "Its head, if flush")
    other_angle = typed.number("j_sub_head_deg", "Angle of its head", "°")
    given = typed.given
    alloy = typed.choice("j_alloy", "Alloy of the rivet", ALLOYS)
    head = typed.choice("j_head", "Head of the rivet", HEADS)
    system = typed.choice("j_system", "System of the rivet", SYSTEMS)
    other = typed.choice("j_sub_alloy", "Alloy of the substitute", ALLOYS)
    other_head = typed.choice("j_sub_head", "Head of the substitute", HEADS)
    other_system = typed.choice("j_sub_system", "System of the substitute", SYSTEMS)
    planes = typed.choice("j_planes", "How the sheets pull", PLANES)
    found: dict[str, Any] = {"asks": typed.asks}
    if not given:
        return found
    try:
        strength = tensile()
        sheets = [joint_sheet(material, t, strength) for t in typed_stack(stack)]
        one, two = need(d(), "The diameter"), need(other_d(), "The diameter of the substitute")
        mine = hole() or drill_for(one, system == "inch")[1]
        found["beside"] = made = beside(
            RowRivet(
                rivet_name(one, system == "inch", head), one, mine, alloy_shear_mpa(alloy, "the rivet"),
                head != "protruding", head == "dimpled", width(), angle(),
            ),
            RowRivet(
                rivet_name(two, other_system == "inch", other_head),
                two,
                opened(other_hole(), mine, two, other_system == "inch"),
                alloy_shear_mpa(other, "the substitute"),
                other_head != "protruding",
                other_head == "dimpled",
                other_width(),
                other_angle(),
            ),
            sheets,
            need(pitch(), "The pitch"),
            need(edge(), "The edge distance"),
            int(planes),
        )  # fmt: skip
        found["beside_rows"] = beside_rows(made)
        found["workings"] = [
            (label, answer.working.to_dict())
            for label, answer in (
                ("The working, side by side", made),
                ("The working of the first", made.original),
                ("The working of the substitute", made.substitute),
            )
        ]
    except ValueError as error:
        found["why"] = refused(error)
    return found


def opened(typed_mm: float | None, now_mm: float, diameter_mm: float, inch: bool) -> float:
    """The substitute's hole: a hole cannot be made smaller again, so its own or the one that is there."""
    if typed_mm is None:
        return max(now_mm, drill_for(diameter_mm, inch)[1])
    if typed_mm < now_mm - 0.05:
        raise ValueError(f"the hole is {now_mm:g} mm already: {typed_mm:g} mm is smaller")
    return typed_mm


def beside_rows(found: Beside) -> list[tuple[str, str, str, bool, bool]]:
    """Each way to fail with both loads, what a countersink took, and the figures a metre of row."""
    one, other = found.original, found.substitute
    ways = (
        ("shear", one.shear_n, other.shear_n),
        ("bearing", one.bearing_n, other.bearing_n),
        ("net section", one.net_section_n, other.net_section_n),
        ("edge", one.edge_n, other.edge_n),
    )
    rows = [(w, f"{a:,.0f}", f"{b:,.0f}", w == one.governs, w == other.governs) for w, a, b in ways]
    if one.sunk_mm or other.sunk_mm:
        lost = [f"{a.uncut_bearing_n - a.bearing_n:,.0f}" for a in (one, other)]
        rows.insert(2, ("of bearing, lost to the countersink", lost[0], lost[1], False, False))
    return [*rows, ("the row, N a metre", f"{one.per_metre_n:,.0f}", f"{other.per_metre_n:,.0f}", False, False)]
