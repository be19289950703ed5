"""Craftsmen outside: what each has, when he runs dry, what could feed him."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Prefetch
from django.utils import timezone

from witnessmark.calc.plan.working_days import said_day
from witnessmark.records.lookups.outwork import Ready, ready_to_send
from witnessmark.records.lookups.spares import holidays
from witnessmark.records.lookups.steps import NearlyReady, one_step_short
from witnessmark.records.lookups.vendor_times import VendorTime, expected, vendor_times, wait_of
from witnessmark.records.models import OutsideLink, Shipment, ShipmentLine, Vendor, VendorSaid


@dataclass(frozen=True)
class AtHis:
    """One shipment at a craftsman's, with what he said of it and when it may be done."""

    shipment: Shipment
    lines: tuple[ShipmentLine, ...]
    received: VendorSaid | None
    likely_done: date
    four_in_five_by: date
    learned_from: int
    today: date

    @property
    def count(self) -> int:
        return sum(line.count_out - (line.count_back or 0) for line in self.lines)

    @property
    def because(self) -> str:
        """What the day rests on."""
        taught = "one delivery of his" if self.learned_from == 1 else f"{self.learned_from} deliveries of his"
        said = "the time he names" if self.shipment.vendor.most_days else "the others' usual time: he names none"
        rests = f"half the chance, after {taught}" if self.learned_from else f"half the chance, by {said}"
        promised = self.shipment.promised_on
        return f"{rests}; promised for {said_day(promised, self.today)}" if promised else rests


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
            at = self.has[0]
            many = "one shipment" if len(self.has) == 1 else f"{len(self.has)} shipments"
            head = (
                f"{name} has {many} and runs dry about {self.dry_on:%A} {said_day(self.dry_on or at.today, at.today)}."
            )
        going = [ready for ready in self.ready if ready.may_go]
        if going:
            feed = "one piece is" if len(going) == 1 else f"{len(going)} pieces are"
            return f"{head} {feed[0].upper()}{feed[1:]} ready for him."
        if self.nearly:
            return f"{head} {len(self.nearly)} could be made ready: one step short."
        return f"{head} Nothing is ready for him."


def _at_his(
    shipment: Shipment, received: VendorSaid | None, today: date, of: VendorTime, closed: frozenset[date]
) -> AtHis:
    """Half the chance, as the plan counts on it: what he promised moves it, how long it is out already moves it too."""
    here = expected(wait_of(of, shipment.sent_on or today, shipment.promised_on, today), today, closed)
    lines = tuple(shipment.lines.all())
    return AtHis(shipment, lines, received, here.half, here.four_in_five, len(of.delivered), today)


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
    shipments = list(asked)
    times = vendor_times(today, {shipment.vendor_id for shipment in shipments}) if shipments else {}
    closed = holidays() if shipments else frozenset()
    for shipment in shipments:
        at = _at_his(shipment, received.get(shipment.pk), today, times[shipment.vendor_id], closed)
        found.setdefault(shipment.vendor_id, []).append(at)
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
