"""What the times on a bake certificate mean for each piece of its shipment."""

from collections.abc import Iterable
from datetime import datetime

from witnessmark.calc.surface.bake import UnknownSpecification, bake_for, read_certificate
from witnessmark.calc.surface.instruction import CalledOutBy, bake_spec_of
from witnessmark.calc.surface.processes import is_steel
from witnessmark.records.models import CalledOut, CertificateTimes, Piece, Shipment, ShipmentLine


def _hours(moment: datetime | None) -> float | None:
    return moment.timestamp() / 3600 if moment else None


def why_held(times: CertificateTimes, piece: Piece) -> str:
    """Why this piece stays in quarantine by these times; empty where they agree with what was called out."""
    material = piece.material or (piece.size.alloy if piece.size else "")
    if material and not is_steel(material):
        return ""
    if not times.spec:
        return "The certificate does not name the specification that it was baked by. Ask the engineer."
    strength = piece.strength_mpa if piece.strength_mpa and piece.strength_mpa > 0 else None
    try:
        bake = bake_for(times.spec, strength, times.section_mm)
    except (UnknownSpecification, ValueError) as why:
        return f"{why} Ask the engineer."
    if bake.refusal:
        return f"{bake.refusal} Next: {bake.next_step}."
    if bake.called_out is None:
        return ""
    verdict = read_certificate(
        bake.called_out, _hours(times.out_of_bath), _hours(times.into_oven), times.hours, times.oven_c
    )
    return f"{' '.join(verdict.reasons)} Ask the {verdict.hand_over}." if verdict.quarantine else ""


def held_by_times(shipment: Shipment, pieces: Iterable[int]) -> dict[int, str]:
    """The pieces that the newest times of the shipment's bake certificate keep in quarantine, and why."""
    times = CertificateTimes.objects.filter(certificate__shipment=shipment).order_by("-id").first()
    if times is None:
        return {}
    found = {
        piece.pk: why_held(times, piece) for piece in Piece.objects.filter(pk__in=list(pieces)).select_related("size")
    }
    return {pk: why for pk, why in found.items() if why}


def bakes_called(shipments: Iterable[int]) -> dict[int, str]:
    """The specification of the bake that was called out for the pieces of each shipment, where all have the same."""
    lines: dict[int, set[int]] = {}
    for shipment, piece in ShipmentLine.objects.filter(shipment__in=list(shipments)).values_list("shipment", "piece"):
        lines.setdefault(shipment, set()).add(piece)
    said: dict[int, str] = {}
    for row in CalledOut.objects.filter(piece__in={pk for pks in lines.values() for pk in pks}).order_by("id"):
        spec = bake_spec_of(CalledOutBy(row.spec, bake_spec=row.bake_spec))
        if spec:
            said[row.piece_id] = spec
    specs = {shipment: {said[pk] for pk in pks if pk in said} for shipment, pks in lines.items()}
    return {shipment: next(iter(each)) for shipment, each in specs.items() if len(each) == 1}
