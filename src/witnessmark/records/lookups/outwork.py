"""What is out at vendors, since when and promised for when; what is short; what is ready to go."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, OuterRef, Prefetch
from django.utils import timezone

from witnessmark.calc.bags.shipment import ShipmentLine as Weighed
from witnessmark.calc.bags.shipment import ShipmentTotals, parse_minimum_order, shipment_totals
from witnessmark.records.lookups.day import the_aircraft, today
from witnessmark.records.lookups.where import Standing, standings
from witnessmark.records.models import (
    Act,
    Finding,
    HolderKind,
    Holding,
    Move,
    Piece,
    PieceKind,
    Shipment,
    ShipmentLine,
    Step,
    Vendor,
)

SHELVES = (HolderKind.SHELF, HolderKind.CONTAINER)
HERE = (HolderKind.SHELF, HolderKind.CONTAINER, HolderKind.ASSEMBLY, HolderKind.PERSON)


@dataclass(frozen=True)
class Out:
    """One shipment with what left, what came back and how it stands against its promise."""

    shipment: Shipment
    lines: tuple[ShipmentLine, ...]
    totals: ShipmentTotals
    days_out: int | None
    late_days: int
    in_bucket: int = 0

    @property
    def sentence(self) -> str:
        return totals_sentence(self.totals)

    @property
    def count_out(self) -> int:
        return sum(line.count_out for line in self.lines)

    @property
    def count_back(self) -> int:
        return sum(line.count_back or 0 for line in self.lines) + self.in_bucket

    @property
    def short_unknown(self) -> int:
        """How many of a bucket did not come, while nobody knows yet of which bag they are."""
        if not self.in_bucket:
            return 0
        return sum(line.count_out - (line.count_back or 0) for line in self.lines if self.mixes(line)) - self.in_bucket

    def mixes(self, line: ShipmentLine) -> bool:
        """True where this line's pieces lie in the bucket, not told apart yet."""
        return bool(self.in_bucket) and line.piece.kind == PieceKind.BAG

    @property
    def is_back(self) -> bool:
        return self.shipment.back_on is not None

    @property
    def short(self) -> tuple[ShipmentLine, ...]:
        """Lines of which less came back than left, once anything came back at all."""
        if not (self.is_back or any(line.count_back is not None for line in self.lines)):
            return ()
        return tuple(line for line in self.lines if (line.count_back or 0) < line.count_out and not self.mixes(line))

    @property
    def short_count(self) -> int:
        return sum(line.count_out - (line.count_back or 0) for line in self.short)


@dataclass(frozen=True)
class Ready:
    """One piece whose next step is outside, and that is here to be sent."""

    piece: Piece
    step: Step
    standing: Standing
    undecided: tuple[Finding, ...]

    @property
    def may_go(self) -> bool:
        """A finding without a decision keeps this piece's route from going on."""
        return not self.undecided


@dataclass(frozen=True)
class ReadyGroup:
    """What could leave together for one vendor and process."""

    vendor: Vendor
    process: str
    pieces: tuple[Ready, ...]
    totals: ShipmentTotals | None

    @property
    def sentence(self) -> str:
        return totals_sentence(self.totals) if self.totals else ""

    @property
    def to_send(self) -> tuple[Ready, ...]:
        return tuple(ready for ready in self.pieces if ready.may_go)

    @property
    def waiting(self) -> tuple[Ready, ...]:
        return tuple(ready for ready in self.pieces if not ready.may_go)


@dataclass(frozen=True)
class Outwork:
    """All of it, as the screen and the bench list ask for it."""

    out: tuple[Out, ...]
    back: tuple[Out, ...]
    ready: tuple[ReadyGroup, ...]

    @property
    def late(self) -> tuple[Out, ...]:
        return tuple(each for each in self.out if each.late_days > 0)

    @property
    def mixed(self) -> tuple[Out, ...]:
        """Shipments of which a bucket waits to be sorted here."""
        return tuple(each for each in (*self.out, *self.back) if each.in_bucket)

    @property
    def short(self) -> tuple[Out, ...]:
        return tuple(each for each in (*self.out, *self.back) if each.short)


def weighed(lines: Iterable[tuple[Piece, int, float | None]]) -> list[Weighed]:
    """Pieces, counts and masses as the scales' sum takes them."""
    return [
        Weighed(
            piece.tag or f"the untagged {piece.name or 'piece'} ({piece.key})",
            piece.name,
            count,
            mass_g if mass_g and mass_g > 0 else None,
            piece.material or (piece.size.alloy if piece.size else ""),
        )
        for piece, count, mass_g in lines
    ]


def totals_sentence(totals: ShipmentTotals) -> str:
    """Count and mass in words."""
    return totals.sentence.replace("1 pieces", "1 piece", 1) if totals.count == 1 else totals.sentence


def least_g(vendor: Vendor) -> float | None:
    """The vendor's least order by mass, where it is one."""
    return parse_minimum_order(vendor.min_order).whole_g


def see_shipment(shipment: Shipment, today: date) -> Out:
    """Count, mass and lateness of one shipment; its lines come with it."""
    lines = tuple(shipment.lines.all())
    totals = shipment_totals(
        weighed((line.piece, line.count_out, line.mass_out_g) for line in lines), least_g(shipment.vendor)
    )
    until = shipment.back_on or today
    return Out(
        shipment=shipment,
        lines=lines,
        totals=totals,
        days_out=max(0, (until - shipment.sent_on).days) if shipment.sent_on else None,
        late_days=max(0, (until - shipment.promised_on).days) if shipment.promised_on else 0,
        in_bucket=_in_bucket(shipment),
    )


def _in_bucket(shipment: Shipment) -> int:
    """How many of it lie mixed in the shop."""
    mix = getattr(shipment, "mix", None)
    return sum(h.count for h in mix.piece.holdings.all() if h.holder.kind in HERE) if mix else 0


def still_there(shipment: Shipment) -> dict[int, int]:
    """How many of each piece are still at the vendor one by one; what lies in a bucket there is not among them."""
    lines = list(shipment.lines.all())
    at = Holding.objects.filter(piece__in=[x.piece_id for x in lines], holder=shipment.vendor.holder, count__gt=0)
    there = dict(at.values_list("piece_id", "count"))
    missing = {x.piece_id: x.count_out - (x.count_back or 0) for x in lines}
    return {pk: min(n, there[pk]) for pk, n in missing.items() if n > 0 and pk in there}


def took_in(shipment: Shipment) -> str:
    """Who took in last what came back of it, when and how much; empty where nothing came back."""
    pieces = shipment.lines.values("piece")
    last = (
        Act.objects.filter(moves__from_holder=shipment.vendor.holder, moves__from_piece__in=pieces)
        .select_related("person")
        .order_by("-recorded_at")
        .first()
    )
    if last is None:
        return ""
    moved = last.moves.filter(from_holder=shipment.vendor.holder, from_piece__in=pieces)
    count = sum(moved.values_list("count", flat=True))
    at = timezone.localtime(last.happened_at)
    day = "" if at.date() == today(the_aircraft()) else f" on {at:%A} {at.day} {at:%B}"
    return f"{last.person.name} took {'one piece' if count == 1 else f'{count} pieces'} in{day} at {at:%H:%M} already."


def came_from(shipment: Shipment) -> str:
    """The shelf or box from which most of it left: where it is likely to be laid again. Empty where none is known."""
    sent = Move.objects.filter(to_holder=shipment.vendor.holder, from_holder__kind__in=SHELVES, act=shipment.act)
    names = Counter(sent.values_list("from_holder__name", flat=True))
    bucket = Holding.objects.filter(piece__mix__shipment=shipment, holder__kind__in=SHELVES, count__gt=0)
    names.update(bucket.values_list("holder__name", flat=True))
    return names.most_common(1)[0][0] if names else ""


def shipments(today: date, number: str | None = None) -> list[Out]:
    """Every shipment, or the one of this number, in two queries."""
    asked = (
        Shipment.objects.select_related("vendor__holder", "packing__packed_by")
        .prefetch_related("certificates", "said", "terms__piece", "terms__by", "mix__piece__holdings__holder")
        .prefetch_related(Prefetch("lines", ShipmentLine.objects.select_related("piece__size").order_by("id")))
        .order_by("sent_on", "number")
    )
    return [see_shipment(s, today) for s in (asked if number is None else asked.filter(number=number))]


def ready_to_send() -> list[ReadyGroup]:
    """Pieces that are here and whose next step is a vendor's, by vendor and process."""
    vendors = {vendor.code: vendor for vendor in Vendor.objects.select_related("holder")}
    earlier = Step.objects.filter(piece=OuterRef("piece"), done_act=None, number__lt=OuterRef("number"))
    steps = list(
        Step.objects.filter(done_act=None, who__in=list(vendors))
        .filter(~Exists(earlier))
        .select_related("piece__size")
        .order_by("who", "name", "piece__tag", "piece_id")
    )
    where = standings([step.piece for step in steps])
    undecided = undecided_findings([step.piece_id for step in steps])
    groups: dict[tuple[str, str], list[Ready]] = {}
    for step in steps:
        here = [s for s in where[step.piece_id] if s.holder.kind in HERE]
        if len(here) == 1 and len(where[step.piece_id]) == 1:
            groups.setdefault((step.who, step.name), []).append(
                Ready(step.piece, step, here[0], undecided.get(step.piece_id, ()))
            )
    return [_group(vendors[code], process, ready) for (code, process), ready in groups.items()]


def _group(vendor: Vendor, process: str, ready: list[Ready]) -> ReadyGroup:
    going = [r for r in ready if r.may_go]
    totals = (
        shipment_totals(weighed((r.piece, r.standing.count, r.piece.mass_g) for r in going), least_g(vendor))
        if going
        else None
    )
    return ReadyGroup(vendor, process, tuple(ready), totals)


def undecided_findings(pieces: Iterable[int]) -> dict[int, tuple[Finding, ...]]:
    """Findings on these pieces that are open: each waits for a decision."""
    found: dict[int, list[Finding]] = {}
    for finding in Finding.objects.filter(piece_id__in=list(pieces), state="open").order_by("number"):
        if finding.piece_id is not None:
            found.setdefault(finding.piece_id, []).append(finding)
    return {pk: tuple(findings) for pk, findings in found.items()}


def outwork(today: date) -> Outwork:
    """Answer for the screen: what is out, what came back, what could go."""
    seen = shipments(today)
    return Outwork(
        out=tuple(each for each in seen if not each.is_back),
        back=tuple(each for each in seen if each.is_back),
        ready=tuple(ready_to_send()),
    )
