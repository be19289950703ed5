"""On a row: how long its rivet is and what head it makes, and the row's strength beside a substitute."""

from typing import Any

from django.http import QueryDict

from witnessmark.calc.fasteners.compare import Beside, RowRivet, beside, rivet_alloys
from witnessmark.calc.fasteners.flush import seating
from witnessmark.calc.fasteners.tooling import drill_for
from witnessmark.records.lookups.seam_rivet import LengthAndHead, dome_of, joint_sheets, length_and_head
from witnessmark.records.lookups.seams import SeamDrawn, is_flush, is_inch, is_rivet
from witnessmark.web.rivet_typed import Typed, need, refused

ALLOYS = [("", "not known"), *((each.code, f"{each.code}, {each.alloy}") for each in rivet_alloys())]
HEADS = [("protruding", "protruding"), ("flush", "flush")]
SYSTEMS = [("metric", "metric"), ("inch", "inch")]
PLANES = [("1", "single shear, first sheet against last"), ("2", "double shear, the middle sheet against the others")]


def shear_mpa(code: str, whose: str) -> float:
    """The driven shear strength of an alloy that was picked."""
    for each in rivet_alloys():
        if each.code == code:
            return each.shear_mpa
    raise ValueError(f"the alloy of {whose} is not known: look at the head mark and pick it")


def length_part(drawn: SeamDrawn, data: QueryDict) -> dict[str, Any]:
    """Length by both ways, the shop heads, and the flush head in the seat that was typed."""
    found = length_and_head(drawn.seen)
    typed = Typed(data)
    mouth, angle = (
        typed.length("mouth", "Mouth of the dimple or countersink"),
        typed.number("seat_deg", "Its angle", "°"),
    )
    seat, why_seat = None, ""
    if found.head is not None and typed.given:
        try:
            seat = _seat(found, need(mouth(), "The mouth"), need(angle(), "The angle"))
        except ValueError as error:
            why_seat = refused(error)
    return {
        "found": found,
        "working": found.choice.working.to_dict() if found.choice else None,
        "seat": seat,
        "seat_working": seat.working.to_dict() if seat else None,
        "why_seat": why_seat,
        "asks": typed.asks,
    }


def _seat(found: LengthAndHead, mouth_mm: float, seat_deg: float) -> Any:
    head = found.head
    if head is None or head.head_mm is None or head.head_deg is None or found.hole_mm is None:
        raise ValueError("this rivet's head is not measured: add its family from measurement")
    return seating(head.head_mm, head.head_deg, mouth_mm, seat_deg, found.hole_mm, head.shank_mm, dome_of(head))


def beside_rows(found: Beside) -> list[tuple[str, str, str, bool, bool]]:
    """Each way to fail with both loads, and the figures a metre of row."""
    one, other = found.original, found.substitute
    ways = (
        ("shear", one.shear_n, other.shear_n),
        ("bearing", one.bearing_n, other.bearing_n),
        ("net section", one.net_section_n, other.net_section_n),
        ("edge", one.edge_n, other.edge_n),
    )
    rows = [(w, f"{a:,.0f}", f"{b:,.0f}", w == one.governs, w == other.governs) for w, a, b in ways]
    return [*rows, ("the row, N a metre", f"{one.per_metre_n:,.0f}", f"{other.per_metre_n:,.0f}", False, False)]


def joint_part(drawn: SeamDrawn, data: QueryDict) -> dict[str, Any] | None:
    """The row's strength beside one substitute, chosen by the form; None for what is no rivet or not looked at."""
    seen = drawn.seen
    size = seen.size
    if size is None or not is_rivet(size) or not seen.looked_at:
        return None
    typed = Typed(data)
    edges = [hole.edge_mm for hole in drawn.holes if hole.edge_mm]
    least_edge = min([*edges, *([seen.row.edge_mm] if seen.row.edge_mm else [])], default=None)
    own = typed.choice("own_alloy", f"Alloy of the row’s rivet, written down as {size.alloy or 'nothing'}", ALLOYS)
    diameter = typed.length("sub_d", "Diameter of the substitute")
    given = typed.given
    alloy = typed.choice("sub_alloy", "Alloy of the substitute", ALLOYS)
    head = typed.choice("sub_head", "Head", HEADS, "flush" if is_flush(size) else "protruding")
    system = typed.choice("sub_system", "System", SYSTEMS, "inch" if is_inch(size) else "metric")
    over = typed.length("sub_hole", "Its hole, if oversize; else by its drill")
    planes = typed.choice("planes", "How the sheets pull", PLANES)
    pitch = typed.length("pitch", "Pitch", f"{seen.row.pitch_mm:g}" if seen.row.pitch_mm else "")
    edge = typed.length("edge", "Edge distance, the least measured", f"{least_edge:g}" if least_edge else "")
    tensile = typed.number("tensile", "Tensile strength of the sheets, if not by the stack", "MPa")
    found, why = None, ""
    if given or typed.data.get("own_alloy"):
        try:
            d = need(diameter(), "The diameter of the substitute")
            hole = drill_for(size.nominal_mm, is_inch(size))[1]
            # A hole cannot be made smaller again: the substitute has the row's hole or its own, whichever is larger.
            other_hole = over() or max(hole, drill_for(d, system == "inch")[1])
            if other_hole < hole - 0.05:
                raise ValueError(f"the hole is {hole:g} mm already: {other_hole:g} mm is smaller")
            found = beside(
                RowRivet(size.code, size.nominal_mm, hole, shear_mpa(own, "the row's rivet"), is_flush(size)),
                RowRivet(f"{d:.3g} mm {head}", d, other_hole, shear_mpa(alloy, "the substitute"), head == "flush"),
                joint_sheets(seen.layers, tensile()),
                need(pitch(), "The pitch"),
                need(edge(), "The edge distance"),
                int(planes),
            )
        except ValueError as error:
            why = refused(error)
    return {
        "beside": found,
        "beside_rows": beside_rows(found) if found else [],
        "working": found.working.to_dict() if found else None,
        "one_working": found.original.working.to_dict() if found else None,
        "other_working": found.substitute.working.to_dict() if found else None,
        "why": why,
        "asks": typed.asks,
    }
