"""The jobs that the record calls for: a pure reading, the whole set at once, keyed source:id:step."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date

from django.db.models import Sum

from witnessmark.records.lookups.orders import RivetOrder, rivet_order
from witnessmark.records.lookups.outwork import HERE
from witnessmark.records.lookups.seams import RowSeen, rows_seen
from witnessmark.records.models import (
    Aircraft,
    Finding,
    HandJob,
    Holding,
    HoleState,
    Piece,
    PieceKind,
    Shipment,
    ShipmentLine,
    Step,
    Vendor,
    Zone,
)

WORKING_DAY_HOURS = 8.0
SHEET_METAL, LEAD, INSPECTION = "sheet metal", "lead", "inspection"
# Hours that no list gives. Common practice, no source: they are said to be reckoned wherever they are shown.
LOOK_HOURS = (0.25, 0.5, 1.0)
DECIDE_HOURS = (0.25, 0.5, 1.0)
ORDER_HOURS = (0.25, 0.5, 1.0)
CLOSE_HOURS = (1.0, 2.0, 4.0)
HOLES_AN_HOUR = (45.0, 30.0, 15.0)


@dataclass(frozen=True)
class JobDraft:
    """One job. At a vendor `vendor_code` is set and the hours are working days of eight hours."""

    key: str
    what: str
    craft: str = ""
    vendor_code: str = ""
    hours: tuple[float, float, float] = (0.0, 0.0, 0.0)
    hours_from: str = "reckoned"
    bench: str = ""
    zone_id: int | None = None
    piece_id: int | None = None
    priority: int = 0
    caution: str = ""
    person_id: int | None = None
    not_before: date | None = None
    cures_hours: float = 0.0
    since: date | None = None
    promised_on: date | None = None
    to_leave: bool = False
    count: int = 0
    waits_as: str = ""
    lies_at: str = ""
    link: str = ""
    tags: tuple[str, ...] = ()


@dataclass(frozen=True)
class LinkDraft:
    """`before` ends, and its cure runs out, before `after` starts."""

    before: str
    after: str
    min_lag_hours: float = 0.0
    by_hand: bool = False


@dataclass(frozen=True)
class Derived:
    """All jobs and links, and sentences about what in the record could not be read as a job."""

    jobs: tuple[JobDraft, ...]
    links: tuple[LinkDraft, ...]
    faults: tuple[str, ...]
    order: RivetOrder
    rows: tuple[RowSeen, ...]


@dataclass
class _Making:
    jobs: dict[str, JobDraft] = field(default_factory=dict)
    links: dict[tuple[str, str], LinkDraft] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)
    last_of_piece: dict[int, str] = field(default_factory=dict)
    names: dict[str, str] = field(default_factory=dict)
    for_zone: dict[int, list[str]] = field(default_factory=dict)

    def add(self, job: JobDraft) -> str:
        self.jobs[job.key] = job
        if job.zone_id is not None:
            self.for_zone.setdefault(job.zone_id, []).append(job.key)
        return job.key

    def tie(self, before: str, after: str, min_lag_hours: float = 0.0, by_hand: bool = False) -> None:
        if before != after and before in self.jobs and after in self.jobs:
            self.links[before, after] = LinkDraft(before, after, min_lag_hours, by_hand)


def derive(aircraft: Aircraft) -> Derived:
    """Read the whole record of one aircraft as jobs; the number of queries is fixed."""
    made = _Making()
    vendors = {vendor.code: vendor for vendor in Vendor.objects.all()}
    rows = rows_seen(aircraft)
    order = rivet_order(aircraft, rows=rows)
    zone_of = _zones_of_pieces(aircraft)
    findings = list(
        Finding.objects.filter(aircraft=aircraft, state="open")
        .select_related("piece", "place", "zone")
        .order_by("number")
    )
    _outside(made, aircraft, zone_of)
    _routes(made, aircraft, vendors, zone_of)
    _findings(made, findings, zone_of)
    _orders(made, order)
    _rows(made, aircraft, rows, order)
    _by_hand(made, aircraft)
    _close_ups(made, aircraft)
    return Derived(
        tuple(made.jobs[key] for key in sorted(made.jobs)),
        tuple(made.links[key] for key in sorted(made.links)),
        tuple(made.faults),
        order,
        tuple(rows),
    )


def _zones_of_pieces(aircraft: Aircraft) -> dict[int, int]:
    through = Piece.zones.through.objects.filter(piece__aircraft=aircraft).order_by("-id")
    return dict(through.values_list("piece_id", "zone_id"))


def _days(vendor: Vendor) -> tuple[float, float, float]:
    return (
        vendor.least_days * WORKING_DAY_HOURS,
        vendor.likely_days * WORKING_DAY_HOURS,
        vendor.most_days * WORKING_DAY_HOURS,
    )


def piece_words(piece: Piece) -> str:
    """Name a piece inside a sentence, its side said first."""
    name = piece.name or piece.part_no or f"piece {piece.tag or piece.pk}"
    side = "" if piece.side == "C" else f"{piece.get_side_display()} "
    if name[:2].isupper() or not name[:1].isupper():
        return f"{side}{name}"
    return f"{side}{name[0].lower()}{name[1:]}"


def _outside(made: _Making, aircraft: Aircraft, zone_of: dict[int, int]) -> None:
    """A shipment that is out is one job of its vendor, whatever pieces lie in it."""
    lines = ShipmentLine.objects.filter(shipment__back_on=None, piece__aircraft=aircraft).select_related(
        "shipment__vendor", "piece"
    )
    by_shipment: dict[int, list[ShipmentLine]] = {}
    for line in lines.order_by("shipment__number", "id"):
        by_shipment.setdefault(line.shipment_id, []).append(line)
    for group in by_shipment.values():
        shipment: Shipment = group[0].shipment
        key = made.add(
            JobDraft(
                key=f"shipment:{shipment.pk}:back",
                what=f"Shipment {shipment.number} comes back from {shipment.vendor.name}.",
                vendor_code=shipment.vendor.code,
                hours=_days(shipment.vendor),
                hours_from="vendor",
                since=shipment.sent_on,
                promised_on=shipment.promised_on,
                waits_as=f"shipment {shipment.number}, {shipment.process}, is at {shipment.vendor.name}",
                count=sum(line.count_out for line in group),
                link=f"/outwork/{shipment.number}/",
            )
        )
        made.names[shipment.number] = key
        for line in group:
            made.last_of_piece[line.piece_id] = key
            if line.piece_id in zone_of:
                made.for_zone.setdefault(zone_of[line.piece_id], []).append(key)


def _routes(made: _Making, aircraft: Aircraft, vendors: dict[str, Vendor], zone_of: dict[int, int]) -> None:
    steps = (
        Step.objects.filter(done_act=None, piece__aircraft=aircraft)
        .select_related("piece")
        .order_by("piece_id", "number")
    )
    lies = {
        h.piece_id: h.holder.name
        for h in Holding.objects.filter(
            count__gt=0, holder__kind__in=HERE, piece__aircraft=aircraft, piece__steps__done_act=None
        )
        .select_related("holder")
        .distinct()
    }
    cured: dict[int, float] = {}
    first: set[int] = set()
    for step in steps:
        piece = step.piece
        out = made.jobs.get(made.last_of_piece.get(piece.pk, ""))
        if piece.pk not in first:
            first.add(piece.pk)
            if out is not None and out.vendor_code == step.who:  # this step is being done out there now
                cured[piece.pk] = step.cures_hours
                if piece.tag:
                    made.names.setdefault(piece.tag, out.key)
                continue
        vendor = vendors.get(step.who)
        before = made.last_of_piece.get(piece.pk)
        name = piece_words(piece)
        key = made.add(
            JobDraft(
                key=f"piece:{piece.pk}:{step.number}",
                what=f"Send the {name} to {vendor.name}: {_small(step.name)}." if vendor else f"{step.name}: {name}.",
                craft="" if vendor else step.who.strip().lower(),
                vendor_code=vendor.code if vendor else "",
                hours=_days(vendor) if vendor else (step.hours_least, step.hours_likely, step.hours_most),
                hours_from="vendor" if vendor else "route",
                bench=step.bench,
                zone_id=zone_of.get(piece.pk),
                piece_id=piece.pk,
                caution=step.caution,
                cures_hours=step.cures_hours,
                to_leave=vendor is not None,
                waits_as=(
                    f"the {name} has to come back from {vendor.name}"
                    if vendor
                    else f"the {name} waits for {_small(step.name)}"
                ),
                lies_at=lies.get(piece.pk, ""),
                link=f"/piece/{piece.tag or f'id-{piece.pk}'}/",
                tags=(piece.tag,) if piece.tag else (),
            )
        )
        if before is not None:
            made.tie(before, key, cured.get(piece.pk, 0.0))
        cured[piece.pk] = step.cures_hours
        made.last_of_piece[piece.pk] = key
        if piece.tag:
            made.names[piece.tag] = key


def _small(text: str) -> str:
    return text[0].lower() + text[1:] if text[:1].isupper() and not text[:2].isupper() else text


def _findings(made: _Making, findings: Iterable[Finding], zone_of: dict[int, int]) -> None:
    first: dict[int, str] = {}
    for job in made.jobs.values():
        if job.piece_id is not None and job.key.startswith("piece:"):
            first[job.piece_id] = min(first.get(job.piece_id, job.key), job.key, key=lambda k: int(k.split(":")[2]))
    for finding in findings:
        zone_id = finding.zone_id or (finding.place.zone_id if finding.place else zone_of.get(finding.piece_id or 0))
        on = (
            f"the {piece_words(finding.piece)}" if finding.piece
            else str(finding.place) if finding.place
            else f"the {_small(finding.zone.name)}" if finding.zone else ""
        )  # fmt: skip
        key = made.add(
            JobDraft(
                key=f"finding:{finding.pk}:decide",
                what=f"Decide finding {finding.number}, {on}: {_small(finding.what).rstrip('.')}.",
                craft=LEAD,
                hours=DECIDE_HOURS,
                zone_id=zone_id,
                piece_id=finding.piece_id,
                waits_as=f"finding {finding.number} has no decision: {_small(finding.what).rstrip('.')}",
                link=f"/piece/{finding.piece.tag or f'id-{finding.piece_id}'}/" if finding.piece else "",
            )
        )
        made.names[finding.number] = key
        if finding.piece_id in first:  # the finding is on this piece: its route does not go on undecided
            made.tie(key, first[finding.piece_id])


def _orders(made: _Making, order: RivetOrder) -> None:
    for placed in order.placed:
        if placed.came_on or not placed.ordered_on:
            continue
        made.names[placed.number] = made.add(
            JobDraft(
                key=f"order:{placed.pk}:come",
                what=f"{placed.what} comes from {placed.vendor.name}.",
                vendor_code=placed.vendor.code,
                hours=_days(placed.vendor),
                hours_from="vendor",
                since=placed.ordered_on,
                promised_on=placed.promised_on,
                count=placed.count,
                waits_as=f"{_small(placed.what)} has not come from {placed.vendor.name}",
                link="/orders/",
            )
        )


def _rows(made: _Making, aircraft: Aircraft, rows: Iterable[RowSeen], order: RivetOrder) -> None:
    looks = [
        made.add(
            JobDraft(
                key=f"row:{row.place.pk}:look",
                what=f"Look at row {row.name}, {row.row.seam}: measure three heads.",
                craft=SHEET_METAL,
                hours=LOOK_HOURS,
                zone_id=row.place.zone_id,
                waits_as=f"row {row.name} is not looked at",
                link=f"/seam/{row.mark}/{row.place.side}/",
            )
        )
        for row in order.not_looked_at
    ]
    comes = _to_order(made, aircraft, order, looks)
    stock = _stock()
    by_part: dict[str, list[tuple[str, int]]] = {}
    for piece_id, part_no, side in Piece.objects.filter(pk__in=list(made.last_of_piece)).values_list(
        "pk", "part_no", "side"
    ):
        if part_no:
            by_part.setdefault(part_no, []).append((side, piece_id))
    for row in rows:
        holes = row.counts[HoleState.EMPTY] + row.counts[HoleState.TEMPORARY]
        if not (row.looked_at and holes):
            continue
        key = made.add(
            JobDraft(
                key=f"row:{row.place.pk}:rivet",
                what=f"Rivet row {row.name}, {row.row.seam}: {holes} holes.",
                craft=SHEET_METAL,
                hours=(holes / HOLES_AN_HOUR[0], holes / HOLES_AN_HOUR[1], holes / HOLES_AN_HOUR[2]),
                zone_id=row.place.zone_id,
                count=holes,
                waits_as=f"row {row.name} has {holes} holes to fill",
                link=f"/seam/{row.mark}/{row.place.side}/",
            )
        )
        if row.size is not None:
            if stock.get(row.size.pk, 0) >= holes:
                stock[row.size.pk] -= holes
            elif row.size.pk in comes:
                made.tie(comes[row.size.pk], key)
        for layer in row.layers:
            for side, piece_id in by_part.get(layer.part_no, ()):
                if side == row.place.side or "C" in (side, row.place.side):
                    made.tie(made.last_of_piece[piece_id], key, made.jobs[made.last_of_piece[piece_id]].cures_hours)


def _to_order(made: _Making, aircraft: Aircraft, order: RivetOrder, looks: list[str]) -> dict[int, str]:
    """Which job brings the rivets of a size: an order that is out, or one that is still to leave."""
    comes: dict[int, str] = {}
    for placed in order.placed:
        if placed.size_id and f"order:{placed.pk}:come" in made.jobs:
            comes.setdefault(placed.size_id, f"order:{placed.pk}:come")
    for group in order.vendors:
        lines = [line for line in group.lines if line.size.pk not in comes]
        if group.vendor is None or not lines:
            continue
        vendor, count = group.vendor, sum(line.line.count for line in lines)
        what = f"{count:,} rivets, {len(lines)} size and length" + ("s" if len(lines) > 1 else "")
        leave = made.add(
            JobDraft(
                key=f"buy:{aircraft.pk}-{vendor.code}:order",
                what=f"Order {what}, from {vendor.name}.",
                craft=LEAD,
                hours=ORDER_HOURS,
                count=count,
                waits_as="the rivet order has not left" + (": it is held for rows not looked at" if looks else ""),
                link="/orders/",
            )
        )
        come = made.add(
            JobDraft(
                key=f"buy:{aircraft.pk}-{vendor.code}:come",
                what=f"{what} come from {vendor.name}.",
                vendor_code=vendor.code,
                hours=_days(vendor),
                hours_from="vendor",
                to_leave=True,
                count=count,
                waits_as=f"the rivets have to come from {vendor.name}",
                link="/orders/",
            )
        )
        made.tie(leave, come)
        for look in looks:
            made.tie(look, leave)
        for line in lines:
            comes[line.size.pk] = come
    return comes


def _stock() -> dict[int, int]:
    """Loose rivets on the shelves, by size; a bag that belongs into a place of its own is not stock."""
    held = (
        Holding.objects.filter(
            holder__kind__in=HERE,
            count__gt=0,
            piece__kind=PieceKind.BAG,
            piece__size__kind__icontains="rivet",
            piece__belongs=None,
        )
        .values_list("piece__size_id")
        .annotate(n=Sum("count"))
        .order_by()
    )
    return {size: n for size, n in held if size is not None}


def _by_hand(made: _Making, aircraft: Aircraft) -> None:
    hand = list(HandJob.objects.filter(aircraft=aircraft).order_by("name"))
    for job in hand:
        made.names[job.name] = made.add(
            JobDraft(
                key=f"hand:{job.pk}:do",
                what=job.what if job.what.endswith((".", "!", "?")) else f"{job.what}.",
                craft=job.craft.strip().lower(),
                hours=(job.hours_least, job.hours_likely, job.hours_most),
                hours_from="written by hand",
                bench=job.bench,
                zone_id=job.zone_id,
                priority=job.priority,
                person_id=job.person_id,
                not_before=job.not_before,
                waits_as=_small(job.what).rstrip("."),
            )
        )
    for job in hand:
        for name in job.after:
            before = name if name in made.jobs else made.names.get(name)
            if before is None:
                made.faults.append(
                    f"Job {job.name} is to come after '{name}', and nothing in the record that is still to do is called that."
                )
            else:
                made.tie(before, f"hand:{job.pk}:do", made.jobs[before].cures_hours, by_hand=True)


def _close_ups(made: _Making, aircraft: Aircraft) -> None:
    zones = {zone.pk: zone for zone in Zone.objects.filter(aircraft=aircraft)}
    for zone_id, keys in sorted(made.for_zone.items()):
        zone = zones.get(zone_id)
        if zone is None or not any(key in made.jobs for key in keys):
            continue
        close = JobDraft(
            key=f"zone:{zone.pk}:close",
            what=f"Inspect and close the {_small(zone.name)}.",
            craft=INSPECTION,
            hours=CLOSE_HOURS,
            waits_as=f"the {_small(zone.name)} cannot be closed",
            zone_id=zone_id,
            link=f"/zone/{zone.number}/",
        )
        made.jobs[close.key] = close
        for key in dict.fromkeys(keys):
            made.tie(key, close.key, made.jobs[key].cures_hours if key in made.jobs else 0.0)


def without(derived: Derived, done: frozenset[str]) -> Derived:
    """The same set without the jobs that people said are done; what came after them is free of them."""
    return replace(
        derived,
        jobs=tuple(job for job in derived.jobs if job.key not in done),
        links=tuple(link for link in derived.links if link.before not in done and link.after not in done),
    )
