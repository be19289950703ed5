"""What rivets to order, from whom, in which lengths; which rows hold the order back; what was ordered already."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import isclose

from django.db.models import Max

from witnessmark.calc.bags.shipment import parse_minimum_order
from witnessmark.calc.fasteners.bulk import POUND_G, CombinedRun, Weighed, combined_run, pieces_for_mass, rivet_mass
from witnessmark.calc.fasteners.catalogue import Shape
from witnessmark.calc.fasteners.order import OrderLine, OrderRow, roll_up
from witnessmark.calc.fasteners.spares import ServiceLevel
from witnessmark.calc.metals import UnknownMetal
from witnessmark.calc.units import UnknownSize, parse_length
from witnessmark.records.lookups.catalogue import shapes_for
from witnessmark.records.lookups.day import today
from witnessmark.records.lookups.outwork import HERE
from witnessmark.records.lookups.receiving import Box, boxes, held_for
from witnessmark.records.lookups.seams import RowSeen, rows_seen
from witnessmark.records.lookups.spares import OrderRisks, days_of, order_risks, used_up
from witnessmark.records.lookups.survey import Accepted, risk_accepted
from witnessmark.records.lookups.vendor_times import vendor_times
from witnessmark.records.models import Aircraft, FastenerSize, Holding, HoleFilled, HoleState, Order, PieceKind, Vendor


@dataclass(frozen=True)
class OnShelf:
    """Loose rivets in a bag on a shelf; `length_mm` is None where the bag's name does not say it."""

    tag: str
    size_id: int
    count: int
    length_mm: float | None
    lies_at: str


@dataclass(frozen=True)
class OnOrder:
    """Rivets that were ordered and have not come; `length_mm` is None where the order does not say it."""

    number: str
    size_id: int
    count: int
    length_mm: float | None


@dataclass(frozen=True)
class ToOrder:
    """One size and length to order, with the rows that want it, and what of the size is on order or on the shelf."""

    line: OrderLine
    size: FastenerSize
    rows: tuple[RowSeen, ...]
    orders: tuple[OnOrder, ...]
    on_shelf: tuple[OnShelf, ...]
    one_g: float | None = None
    no_mass: str = ""

    @property
    def pounds(self) -> float | None:
        """What the whole line weighs; None where size or alloy do not say."""
        return None if self.one_g is None else self.one_g * self.line.count / POUND_G

    @property
    def mass_kg(self) -> float | None:
        return None if self.one_g is None else self.one_g * self.line.count / 1000

    @property
    def on_order(self) -> int:
        """What of this size is on order, in this length or in one that is not written down."""
        return sum(o.count for o in self.orders if o.length_mm is None or self._alike(o.length_mm))

    @property
    def covered(self) -> bool:
        """Whether what lies here or is on order in this size and length is enough for the holes and the spares."""
        here = sum(bag.count for bag in self.alike_here)
        return here + sum(order.count for order in self.on_its_way) >= self.line.wanted

    @property
    def alike_here(self) -> tuple[OnShelf, ...]:
        """The bags of just this size and length."""
        return tuple(bag for bag in self.on_shelf if self._alike(bag.length_mm))

    @property
    def on_its_way(self) -> tuple[OnOrder, ...]:
        """The orders of just this size and length."""
        return tuple(order for order in self.orders if self._alike(order.length_mm))

    def _alike(self, length_mm: float | None) -> bool:
        return length_mm is not None and isclose(length_mm, self.line.stock_mm, abs_tol=1e-3)


@dataclass(frozen=True)
class VendorOrder:
    """All that one vendor can make; `vendor` is None where the catalogue names nobody."""

    vendor: Vendor | None
    lines: tuple[ToOrder, ...]

    @property
    def least_mass(self) -> str:
        """Whether the seller's least mass is reached, where he asks for one; it is filled up where the masses are known."""
        least_g = parse_minimum_order(self.vendor.min_order).mass_g if self.vendor else None
        if self.vendor is None or least_g is None:
            return ""
        unknown = [each.line.code for each in self.lines if each.one_g is None]
        if unknown:
            return (
                f"{self.vendor.name} takes no less than {self.vendor.min_order}. Whether this is enough cannot be said: "
                f"nobody knows what {', '.join(unknown)} weighs."
            )
        pieces = ", ".join(f"{each.line.count:,} of {each.line.code} {each.mass_kg:.2f} kg" for each in self.lines)
        return f"{self.vendor.name} takes no less than {self.vendor.min_order}: {pieces}."

    @property
    def combined(self) -> tuple[CombinedRun, ...]:
        """One run a family instead of a least run for each size and length, where that saves rivets."""
        if self.vendor is None:
            return ()
        families: dict[str, list[OrderLine]] = {}
        for each in self.lines:
            if each.size.family:
                families.setdefault(each.size.family, []).append(each.line)
        found = (combined_run(family, lines) for family, lines in families.items())
        return tuple(run for run in found if run is not None)

    @property
    def count(self) -> int:
        return sum(each.line.count for each in self.lines)


@dataclass(frozen=True)
class OpenHole:
    """A hole whose next rivet is undecided, and what it waits for: it is named and left out of the order."""

    row: RowSeen
    number: int
    reason: str


@dataclass(frozen=True)
class RivetOrder:
    """The whole order; it is held while a row is not looked at, for its size may be one nobody has seen.

    A named person may accept that (`accepted`); then nothing holds it, though nothing is claimed of those rows either.
    """

    vendors: tuple[VendorOrder, ...]
    covered: tuple[ToOrder, ...]
    not_looked_at: tuple[RowSeen, ...]
    no_length: tuple[RowSeen, ...]
    unsaid: tuple[RowSeen, ...]
    undecided: tuple[OpenHole, ...]
    spares: ServiceLevel
    risks: OrderRisks
    placed: tuple[Order, ...]
    boxes: tuple[Box, ...]
    in_boxes: dict[str, int]
    shelf: tuple[OnShelf, ...]
    accepted: Accepted | None

    @property
    def held(self) -> bool:
        return bool(self.holding)

    @property
    def holding(self) -> tuple[RowSeen, ...]:
        """The rows that hold the order back; none where what is open was accepted and that stands."""
        return () if self.accepted is not None and self.accepted.stands else self.not_looked_at

    @property
    def count(self) -> int:
        return sum(vendor.count for vendor in self.vendors)

    @property
    def holes(self) -> int:
        return sum(each.line.holes for vendor in self.vendors for each in vendor.lines)


def rivet_order(aircraft: Aircraft, rows: Sequence[RowSeen] | None = None) -> RivetOrder:
    """Roll up every hole that is still to be filled; no row that was not looked at is counted."""
    seen = list(rows) if rows is not None else rows_seen(aircraft)
    placed = tuple(Order.objects.select_related("vendor", "size").order_by("ordered_on", "number", "id"))
    on_order = [
        OnOrder(order.number, order.size.pk, order.count, length_in(order.what, order.size.code))
        for order in placed
        if order.size is not None and order.ordered_on and not order.came_on
    ]
    shelf = loose_rivets()
    here: dict[int, int] = {}
    for bag in shelf:
        here[bag.size_id] = here.get(bag.size_id, 0) + bag.count
    risks = order_risks(aircraft)
    spares = ServiceLevel(risks.short_at_most, used_up(here))
    measured = boxes(aircraft)
    in_boxes = held_for(aircraft, seen, measured)
    wanted = [row for row in seen if row.looked_at and row.to_order]
    times = vendor_times(today(aircraft))
    by_vendor: dict[int | None, list[RowSeen]] = {}
    for row in wanted:
        if row.length is not None and row.size is not None:
            by_vendor.setdefault(row.size.vendor_id, []).append(row)
    groups, covered = [], []
    shapes = shapes_for(row.size for row in wanted)
    for group in by_vendor.values():
        assert group[0].size is not None
        vendor = group[0].size.vendor
        level = replace(spares, lead=times[vendor.pk].time if vendor is not None and days_of(vendor) else None)
        lines = _lines(group, vendor, level, on_order, shelf, in_boxes)
        lines = tuple(_weighed(each, shapes) for each in lines)
        more = _least_mass(vendor, [each for each in lines if not each.covered])
        if more:
            lines = _lines(group, vendor, level, on_order, shelf, in_boxes, more)
            lines = tuple(_weighed(each, shapes) for each in lines)
        covered += [each for each in lines if each.covered]
        short = tuple(each for each in lines if not each.covered)
        if short:
            groups.append(VendorOrder(vendor, short))
    return RivetOrder(
        vendors=tuple(sorted(groups, key=lambda g: (g.vendor is None, g.vendor.name if g.vendor else ""))),
        covered=tuple(covered),
        not_looked_at=tuple(row for row in seen if not row.looked_at),
        no_length=tuple(row for row in wanted if row.length is None),
        unsaid=tuple(row for row in seen if row.looked_at and row.unsaid),
        undecided=open_holes(seen),
        spares=spares,
        risks=risks,
        placed=placed,
        boxes=measured,
        in_boxes=in_boxes,
        shelf=shelf,
        accepted=risk_accepted(aircraft, seen),
    )


def open_holes(rows: Sequence[RowSeen]) -> tuple[OpenHole, ...]:
    """Every open hole of these rows by its number, in one query."""
    by_place = {row.place.pk: row for row in rows if row.open}
    newest = HoleFilled.objects.filter(hole__place_id__in=by_place).values("hole").annotate(last=Max("id"))
    found = (
        HoleFilled.objects.filter(pk__in=newest.values("last"), state=HoleState.OPEN)
        .select_related("hole")
        .order_by("hole__place_id", "hole__number")
    )
    return tuple(OpenHole(by_place[f.hole.place_id], f.hole.number, f.reason) for f in found)


def _lines(
    rows: Sequence[RowSeen],
    vendor: Vendor | None,
    spares: ServiceLevel,
    on_order: Sequence[OnOrder],
    shelf: Sequence[OnShelf],
    in_boxes: Mapping[str, int],
    line_runs: Mapping[tuple[str, float], int] | None = None,
) -> tuple[ToOrder, ...]:
    sizes = {row.size.code: row.size for row in rows if row.size is not None}
    asked = [
        OrderRow(
            row.name,
            row.size.code,
            row.length.stock_label,
            row.length.stock_mm,
            max(0, row.to_order - in_boxes.get(row.name, 0)),
        )
        for row in rows
        if row.size is not None and row.length is not None
    ]
    least = parse_minimum_order(vendor.min_order).count if vendor is not None else None
    lines = roll_up(
        asked,
        spares=spares,
        packs={code: size.pack for code, size in sizes.items() if size.pack},
        minimum_runs=dict.fromkeys(sizes, least) if least else None,
        line_runs=line_runs,
    )
    return tuple(
        ToOrder(
            line=line,
            size=sizes[line.code],
            rows=tuple(
                row
                for row in rows
                if row.size is not None
                and row.size.code == line.code
                and row.length is not None
                and row.length.stock_label == line.stock_label
            ),
            orders=tuple(order for order in on_order if order.size_id == sizes[line.code].pk),
            on_shelf=tuple(bag for bag in shelf if bag.size_id == sizes[line.code].pk),
        )
        for line in lines
    )


def _least_mass(vendor: Vendor | None, lines: Sequence[ToOrder]) -> dict[tuple[str, float], int]:
    """The pieces that a seller's least mass asks for; none where a mass is not known."""
    least = parse_minimum_order(vendor.min_order) if vendor is not None else None
    if least is None or least.mass_g is None:
        return {}
    known = [
        Weighed(each.line.code, each.line.stock_mm, each.line.holes, each.line.count, each.one_g)
        for each in lines
        if each.one_g is not None
    ]
    if len(known) < len(lines) and not least.per_size:
        return {}
    return pieces_for_mass(known, least.mass_g, least.per_size)


def _weighed(each: ToOrder, shapes: Mapping[str, Shape | None]) -> ToOrder:
    """Say what one rivet weighs, or why nobody can."""
    shape = shapes.get(each.size.code)
    if shape is None:
        return replace(each, no_mass=f"{each.size.code} has no head figures in the catalogue")
    try:
        return replace(each, one_g=rivet_mass(shape, each.line.stock_mm, each.size.alloy).mass_g)
    except (ValueError, UnknownMetal) as why:
        return replace(each, no_mass=str(why))


def loose_rivets() -> tuple[OnShelf, ...]:
    """Loose rivets on the shelves; a bag that belongs into a place of its own is not stock."""
    held = (
        Holding.objects.filter(
            holder__kind__in=HERE,
            count__gt=0,
            piece__kind=PieceKind.BAG,
            piece__size__kind__icontains="rivet",
            piece__belongs=None,
        )
        .select_related("piece__size", "holder")
        .order_by("piece_id", "holder_id")
    )
    return tuple(
        OnShelf(h.piece.tag or "", h.piece.size.pk, h.count, length_in(h.piece.name, h.piece.size.code), h.holder.name)
        for h in held
        if h.piece.size is not None
    )


def length_in(name: str, code: str) -> float | None:
    """Read the length that follows the size in a bag's name: `rivets VN12-3.0 x 8, new`."""
    after = name.partition(code)[2]
    match = re.match(r"\s*[x×]\s*([0-9][0-9./ ]*(?:\s*(?:mm|in\b))?)", after)
    if match is None:
        return None
    try:
        return parse_length(match[1].strip()).mm
    except UnknownSize:
        return None
