"""What rivets to order, from whom, in which lengths; which rows hold the order back; what was ordered already."""

from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.calc.bags.shipment import parse_minimum_order
from witnessmark.calc.fasteners.order import OrderLine, OrderRow, SparesRule, roll_up
from witnessmark.records.lookups.seams import RowSeen, rows_seen
from witnessmark.records.models import Aircraft, FastenerSize, Order, Vendor

USUAL_SPARES = SparesRule()


@dataclass(frozen=True)
class ToOrder:
    """One size and length to order, with the rows that want it and what is on order of that size already."""

    line: OrderLine
    size: FastenerSize
    rows: tuple[RowSeen, ...]
    on_order: int


@dataclass(frozen=True)
class VendorOrder:
    """All that one vendor can make; `vendor` is None where the catalogue names nobody."""

    vendor: Vendor | None
    lines: tuple[ToOrder, ...]

    @property
    def count(self) -> int:
        return sum(each.line.count for each in self.lines)


@dataclass(frozen=True)
class RivetOrder:
    """The whole order; it is held while a row is not looked at, for its size may be one nobody has seen."""

    vendors: tuple[VendorOrder, ...]
    not_looked_at: tuple[RowSeen, ...]
    no_length: tuple[RowSeen, ...]
    spares: SparesRule
    placed: tuple[Order, ...]

    @property
    def held(self) -> bool:
        return bool(self.not_looked_at)

    @property
    def count(self) -> int:
        return sum(vendor.count for vendor in self.vendors)

    @property
    def holes(self) -> int:
        return sum(each.line.holes for vendor in self.vendors for each in vendor.lines)


def rivet_order(
    aircraft: Aircraft, spares: SparesRule = USUAL_SPARES, rows: Sequence[RowSeen] | None = None
) -> RivetOrder:
    """Roll up every hole that is still to be filled; no row that was not looked at is counted."""
    seen = list(rows) if rows is not None else rows_seen(aircraft)
    placed = tuple(Order.objects.select_related("vendor", "size").order_by("ordered_on", "number", "id"))
    on_order: dict[int, int] = {}
    for order in placed:
        if order.size_id and order.ordered_on and not order.came_on:
            on_order[order.size_id] = on_order.get(order.size_id, 0) + order.count
    wanted = [row for row in seen if row.looked_at and row.to_fill]
    by_vendor: dict[int | None, list[RowSeen]] = {}
    for row in wanted:
        if row.length is not None and row.size is not None:
            by_vendor.setdefault(row.size.vendor_id, []).append(row)
    groups = []
    for group in by_vendor.values():
        assert group[0].size is not None
        vendor = group[0].size.vendor
        groups.append(VendorOrder(vendor, _lines(group, vendor, spares, on_order)))
    return RivetOrder(
        vendors=tuple(sorted(groups, key=lambda g: (g.vendor is None, g.vendor.name if g.vendor else ""))),
        not_looked_at=tuple(row for row in seen if not row.looked_at),
        no_length=tuple(row for row in wanted if row.length is None),
        spares=spares,
        placed=placed,
    )


def _lines(
    rows: Sequence[RowSeen], vendor: Vendor | None, spares: SparesRule, on_order: dict[int, int]
) -> tuple[ToOrder, ...]:
    sizes = {row.size.code: row.size for row in rows if row.size is not None}
    asked = [
        OrderRow(row.name, row.size.code, row.length.stock_label, row.length.stock_mm, row.to_fill)
        for row in rows
        if row.size is not None and row.length is not None
    ]
    least = parse_minimum_order(vendor.min_order).count if vendor is not None else None
    lines = roll_up(
        asked,
        spares=spares,
        packs={code: size.pack for code, size in sizes.items() if size.pack},
        minimum_runs=dict.fromkeys(sizes, least) if least else None,
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
            on_order=on_order.get(sizes[line.code].pk, 0),
        )
        for line in lines
    )
