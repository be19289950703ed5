"""What is outside as the network of jobs needs it: shipments, orders on their way, orders still to leave."""

from witnessmark.calc.plan.network import OrderIn, ShipmentIn
from witnessmark.records.lookups.about import About, Gathering, small
from witnessmark.records.lookups.orders import RivetOrder, VendorOrder
from witnessmark.records.lookups.vendor_times import wait_of
from witnessmark.records.models import Order, ShipmentLine


def shipments_out(at: Gathering) -> list[ShipmentIn]:
    lines = ShipmentLine.objects.filter(shipment__back_on=None, piece__aircraft=at.aircraft).select_related(
        "shipment__vendor"
    )
    grouped: dict[int, list[ShipmentLine]] = {}
    for line in lines.order_by("shipment__number", "id"):
        grouped.setdefault(line.shipment_id, []).append(line)
    made = []
    for group in grouped.values():
        shipment = group[0].shipment
        vendor, sent = shipment.vendor, shipment.sent_on is not None
        key = f"shipment:{shipment.number}:back"
        at.names[shipment.number] = f"shipment:{shipment.number}"
        if sent and shipment.promised_on:
            at.with_shipment[vendor.pk, shipment.sent_on, shipment.promised_on] = f"shipment:{shipment.number}"
        at.tell(
            key,
            About(
                source="shipment",
                vendor=vendor,
                link=f"/outwork/{shipment.number}/",
                count=sum(line.count_out - (line.count_back or 0) for line in group),
                waits_as=f"shipment {shipment.number}, {small(shipment.process)}, is at {vendor.name}",
                hours_from="vendor's list",
                since=shipment.sent_on,
                promised_on=shipment.promised_on,
            ),
        )
        for line in group:
            if line.piece_id in at.zone_of:
                at.for_zone.setdefault(at.zone_of[line.piece_id], []).append(key)
        wait = wait_of(at.times[vendor.pk], shipment.sent_on, shipment.promised_on, at.now)
        pieces = tuple(str(line.piece_id) for line in group)
        made.append(
            ShipmentIn(shipment.number, vendor.name, small(shipment.process), wait.days, sent, pieces, wait=wait)
        )
    return made


def orders_out(at: Gathering, order: RivetOrder) -> tuple[list[OrderIn], dict[int, str]]:
    """What is on order, and what is still to be ordered; and which of them brings the rivets of a size."""
    made: list[OrderIn] = []
    brings: dict[int, str] = {}
    placed: dict[str, list[Order]] = {}
    for line in order.placed:
        if line.ordered_on and not line.came_on:
            placed.setdefault(line.number, []).append(line)
    for number, lines in placed.items():
        first = lines[0]
        same = at.with_shipment.get((first.vendor_id, first.ordered_on, first.promised_on))
        if same and not any(line.size_id for line in lines):
            at.names[number] = same  # ordered with the shipment, for what left in it: that comes back once
            continue
        what = small(first.what) if len(lines) == 1 else f"order {number} of {len(lines)} lines"
        at.names[number] = f"order:{number}"
        at.tell(
            f"order:{number}:arrive",
            About(
                source="order",
                vendor=first.vendor,
                link="/orders/",
                count=sum(line.count for line in lines),
                waits_as=f"{what} has not come from {first.vendor.name}",
                hours_from="vendor's list",
                since=first.ordered_on,
                promised_on=first.promised_on,
            ),
        )
        wait = wait_of(at.times[first.vendor_id], first.ordered_on, first.promised_on, at.now)
        made.append(OrderIn(number, first.vendor.name, what, wait.days, True, wait=wait))
        brings.update({line.size_id: number for line in lines if line.size_id})
    covered = {line.size.pk: group.vendor for group in order.vendors for line in group.lines if group.vendor}
    for line in order.placed:
        if line.ordered_on or line.came_on:
            continue
        vendor = covered.get(line.size_id or 0)
        if vendor is not None:  # what the rows want is counted from the rows, whatever was noted beforehand
            at.names[line.number] = f"order:rivets-{vendor.code}"
            continue
        key = line.number if f"order:{line.number}:arrive" not in at.about else f"{line.number}-{line.pk}"
        at.names[line.number] = f"order:{key}"
        at.tell(
            f"order:{key}:arrive",
            About(
                source="buy",
                vendor=line.vendor,
                link="/orders/",
                count=line.count,
                waits_as=f"{small(line.what)} has not been ordered from {line.vendor.name}",
                hours_from="vendor's list",
            ),
        )
        wait = wait_of(at.times[line.vendor_id], None, None, at.now)
        made.append(OrderIn(key, line.vendor.name, small(line.what), wait.days, wait=wait))
    for group in order.vendors:
        new = _to_buy(at, group, order, brings)
        if new is not None:
            made.append(new)
    return made, brings


def _to_buy(at: Gathering, group: VendorOrder, order: RivetOrder, brings: dict[int, str]) -> OrderIn | None:
    lines = [line for line in group.lines if line.size.pk not in brings]
    if group.vendor is None or not lines:
        return None
    key, count = f"rivets-{group.vendor.code}", sum(line.line.count for line in lines)
    codes = sorted({line.size.code for line in lines})
    which = codes[0] if len(codes) == 1 else f"{len(codes)} sizes"
    held = tuple(row.name for row in order.holding)
    at.tell(
        f"order:{key}:arrive",
        About(
            source="buy",
            vendor=group.vendor,
            link="/orders/",
            count=count,
            waits_as="the rivet order is held for rows not looked at"
            if held
            else f"the rivets have to come from {group.vendor.name}",
            hours_from="vendor's list",
            held_by=held,
        ),
    )
    for line in lines:
        brings[line.size.pk] = key
    wait = wait_of(at.times[group.vendor.pk], None, None, at.now)
    return OrderIn(key, group.vendor.name, f"{count:,} rivets, {which},", wait.days, wait=wait)
