"""The hidden-damage reserve of the aircraft from its findings, and the chance of more that each opening job carries."""

from witnessmark.calc.plan.hidden_damage import Reserve, ZoneOpened, reserve
from witnessmark.records.lookups.aircraft import aircraft_seen
from witnessmark.records.lookups.findings import FindingSeen, finding_zones, findings_of
from witnessmark.records.lookups.plan import Plan
from witnessmark.records.models import Aircraft, Finding, Piece


def reserve_of(aircraft: Aircraft, findings: list[FindingSeen] | None = None) -> Reserve:
    """Count by zone what was seen before and what opening revealed; a finding of which nobody said counts as seen before."""
    every = findings_of(Finding.objects.filter(aircraft=aircraft)) if findings is None else findings
    before: dict[int, int] = {}
    revealed: dict[int, list[FindingSeen]] = {}
    for seen in every:
        for zone in finding_zones(seen.finding)[:1]:  # a piece of several zones is found once
            if seen.finding.opened:
                revealed.setdefault(zone.pk, []).append(seen)
            else:
                before[zone.pk] = before.get(zone.pk, 0) + 1
    return reserve(
        [
            ZoneOpened(
                name=row.zone.name,
                seen_before=before.get(row.zone.pk, 0),
                revealed=len(revealed.get(row.zone.pk, [])),
                revealed_hours=tuple(f.hours for f in revealed.get(row.zone.pk, []) if f.hours is not None),
                opened_share=row.off / (row.off + row.filled) if row.off + row.filled else 0.0,
            )
            for row in aircraft_seen(aircraft).zones
        ]
    )


def hidden_chances(aircraft: Aircraft, plan: Plan) -> dict[str, float]:
    """By job, the chance that its zone shows more once it is opened; jobs of no known zone are left out."""
    by_name = {zone.name: zone.chance_of_more for zone in reserve_of(aircraft).zones}
    # Of several zones the last one read here is the first one of the piece.
    zoned = Piece.objects.filter(aircraft=aircraft).exclude(zones=None).order_by("-zones__number")
    zone_of_piece = dict(zoned.values_list("pk", "zones__name"))
    found = {}
    for job in plan.network.jobs:
        zone = job.zone or zone_of_piece.get(plan.about(job.key).piece_id or 0, "")
        if zone in by_name:
            found[job.key] = by_name[zone]
    return found
