"""On a row: how long its rivet is and what head it makes, and the row's strength beside a substitute."""

from typing import Any

from django.http import QueryDict

from witnessmark.calc.fasteners.catalogue import Shape
from witnessmark.calc.fasteners.compare import RowRivet, alloy_shear_mpa, beside, rivet_name
from witnessmark.calc.fasteners.flush import least_sheet, seating
from witnessmark.calc.fasteners.tooling import drill_for
from witnessmark.records.lookups.seam_rivet import LengthAndHead, dome_of, head_of, joint_sheets, length_and_head
from witnessmark.records.lookups.seams import SeamDrawn, is_flush, is_inch, is_rivet
from witnessmark.web.rivet_joint import ALLOYS, HEADS, PLANES, SYSTEMS, beside_rows, opened
from witnessmark.web.rivet_typed import Typed, need, refused


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


def _seated(head: Shape | None, outer_mm: float | None) -> str:
    if head is None or outer_mm is None or not head.head_mm or not head.head_deg:
        return "countersunk"
    return "dimpled" if outer_mm < least_sheet(head.head_mm, head.shank_mm, head.head_deg) - 1e-9 else "countersunk"


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
    measured = head_of(size) if is_flush(size) else None
    # A sheet thinner than the head's cone and a land is dimpled, else countersunk, until somebody says otherwise.
    seated = _seated(measured, seen.layers[0].thickness_mm if seen.layers else None) if is_flush(size) else "protruding"
    if is_flush(size):
        seated = typed.choice("own_seat", "The row’s own heads sit", HEADS[1:], seated)
    head = typed.choice("sub_head", "Head", HEADS, seated)
    sub_head_mm = typed.length("sub_head_d", "Its head, if flush")
    sub_head_deg = typed.number("sub_head_deg", "Angle of its head", "°")
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
            found = beside(
                RowRivet(
                    size.code, size.nominal_mm, hole, alloy_shear_mpa(own, "the row's rivet"), is_flush(size),
                    seated == "dimpled", measured.head_mm if measured else None, measured.head_deg if measured else None,
                ),
                RowRivet(
                    rivet_name(d, system == "inch", head), d, opened(over(), hole, d, system == "inch"),
                    alloy_shear_mpa(alloy, "the substitute"), head != "protruding", head == "dimpled",
                    sub_head_mm(), sub_head_deg(),
                ),
                joint_sheets(seen.layers, tensile()),
                need(pitch(), "The pitch"),
                need(edge(), "The edge distance"),
                int(planes),
            )  # fmt: skip
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
