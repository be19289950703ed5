"""Craftsmen outside: what each has, when he runs dry, what could feed him."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Prefetch
from django.utils import timezone

from witnessmark.records.lookups.outwork import Ready, ready_to_send
from witnessmark.records.lookups.steps import NearlyReady, one_step_short
from witnessmark.records.models import OutsideLink, Shipment, ShipmentLine, Vendor, VendorSaid


@dataclass(frozen=True)
class AtHis:
    """One shipment at a craftsman's, with what he said of it and when it may be done."""

    shipment: Shipment
    lines: tuple[ShipmentLine, ...]
    received: VendorSaid | None
    likely_done: date
    by_promise: bool

    @property
    def count(self) -> int:
        return sum(line.count_out - (line.count_back or 0) for line in self.lines)


@dataclass(frozen=True)
class Craftsman:
    """One vendor: his work, when it ends, and what could come next."""

    vendor: Vendor
    has: tuple[AtHis, ...]
    dry_on: date | None
    ready: tuple[Ready, ...]
    nearly: tuple[NearlyReady, ...]
    links: tuple[OutsideLink, ...]

    @property
    def sentence(self) -> str:
        """Say whether he has work and until when."""
        name = self.vendor.name
        if not self.has:
            head = f"{name} has nothing of ours."
        else:
            many = "one shipment" if len(self.has) == 1 else f"{len(self.has)} shipments"
            head = f"{name} has {many} and runs dry about {self.dry_on:%A} {self.dry_on.day if self.dry_on else ''} {self.dry_on:%B}."
        going = [ready for ready in self.ready if ready.may_go]
        if going:
            feed = "one piece is" if len(going) == 1 else f"{len(going)} pieces are"
            return f"{head} {feed[0].upper()}{feed[1:]} ready for him."
        if self.nearly:
            return f"{head} {len(self.nearly)} could be made ready: one step short."
        return f"{head} Nothing is ready for him."


def working_days_after(first: date, days: float) -> date:
    """The day so many working days, Monday to Friday, after another."""
    left, day = max(0, round(days)), first
    while left:
        day += timedelta(days=1)
        left -= day.weekday() < 5
    return day


def _at_his(shipment: Shipment, received: VendorSaid | None, today: date) -> AtHis:
    lines = tuple(shipment.lines.all())
    by_promise = shipment.promised_on is not None
    likely = shipment.promised_on or working_days_after(shipment.sent_on or today, shipment.vendor.likely_days)
    return AtHis(shipment, lines, received, max(likely, today), by_promise)


def shipments_at(vendors: Iterable[Vendor], today: date) -> dict[int, list[AtHis]]:
    """What is at each vendor's, in a number of queries that does not grow."""
    asked = (
        Shipment.objects.filter(vendor__in=list(vendors), back_on=None)
        .exclude(sent_on=None)
        .select_related("vendor")
        .prefetch_related(Prefetch("lines", ShipmentLine.objects.select_related("piece__size").order_by("id")))
        .order_by("sent_on", "number")
    )
    received = {said.shipment_id: said for said in VendorSaid.objects.filter(what="received", shipment__in=asked)}
    found: dict[int, list[AtHis]] = {}
    for shipment in asked:
        found.setdefault(shipment.vendor_id, []).append(_at_his(shipment, received.get(shipment.pk), today))
    return found


def craftsmen(today: date) -> list[Craftsman]:
    """Every vendor that has something, could get something, or holds a link; the first to run dry first."""
    vendors = list(Vendor.objects.select_related("holder"))
    has = shipments_at(vendors, today)
    ready: dict[int, list[Ready]] = {}
    for group in ready_to_send():
        ready.setdefault(group.vendor.pk, []).extend(group.pieces)
    nearly: dict[str, list[NearlyReady]] = {}
    for each in one_step_short([vendor.code for vendor in vendors]):
        nearly.setdefault(each.vendor_code, []).append(each)
    links: dict[int, list[OutsideLink]] = {}
    for link in OutsideLink.objects.filter(taken_back_act=None, expires_at__gt=timezone.now()).order_by("id"):
        links.setdefault(link.vendor_id, []).append(link)
    made = []
    for vendor in vendors:
        at = has.get(vendor.pk, [])
        one = Craftsman(
            vendor,
            tuple(at),
            max((each.likely_done for each in at), default=None),
            tuple(ready.get(vendor.pk, ())),
            tuple(nearly.get(vendor.code, ())),
            tuple(links.get(vendor.pk, ())),
        )
        if one.has or one.ready or one.nearly or one.links:
            made.append(one)
    return sorted(made, key=lambda c: (c.dry_on is not None, c.dry_on or today, c.vendor.name))
