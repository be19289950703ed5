"""Promised, expected and come: every shipment and order, and what each vendor's deliveries have taught."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from witnessmark.calc.plan.lead_times import LeadTime, lead_time_distribution
from witnessmark.records.lookups.network_faults import usual_days
from witnessmark.records.lookups.outside import vendor_days, working_days
from witnessmark.records.models import Claim, Order, Shipment, Vendor


@dataclass(frozen=True)
class Promise:
    """One shipment or order: when it went, for when it was promised, when it may be expected, when it came."""

    kind: str
    number: str
    vendor: Vendor
    what: str
    link: str
    went_on: date
    promised_on: date | None
    came_on: date | None
    half_by: date | None
    four_in_five_by: date | None
    chance_of_promise: float | None
    late_days: int


@dataclass(frozen=True)
class VendorTime:
    """A vendor's days, as he says and as he does."""

    vendor: Vendor
    time: LeadTime
    delivered: tuple[int, ...]
    out: tuple[int, ...]
    kept: int
    promised: int

    @property
    def sentence(self) -> str:
        """Say what he says and what he does."""
        v, n = self.vendor, len(self.delivered)
        says = f"{v.name} says {v.likely_days:g} working days, {v.most_days:g} at the worst"
        if not v.most_days:
            says = f"{v.name} names no time; the others' usual one stands in"
        if not n:
            return f"{says}; nothing of his came back yet."
        did = "one delivery" if n == 1 else f"{n} deliveries"
        kept = f", {self.kept} of {self.promised} promises kept" if self.promised else ""
        return (
            f"{says}. After {did}{kept}: half the chance within {self.time.half:.0f}, "
            f"four in five within {self.time.four_in_five:.0f}."
        )


def add_working_days(day: date, days: float) -> date:
    """The day so many working days, Monday to Friday, after this one; parts of a day count as one."""
    left = max(0, -int(-days // 1))
    while left > 0:
        day += timedelta(days=1)
        left -= day.weekday() < 5
    return day


def vendor_times(today: date, only: Collection[int] | None = None) -> dict[int, VendorTime]:
    """Every vendor's days, or these vendors', from what he says and from what came back, in three queries."""
    gone: dict[int, list[tuple[date, date | None, date | None]]] = {}
    for s in Shipment.objects.exclude(sent_on=None):
        assert s.sent_on is not None
        gone.setdefault(s.vendor_id, []).append((s.sent_on, s.promised_on, s.back_on))
    seen: set[str] = set()
    for o in Order.objects.exclude(ordered_on=None).order_by("number", "id"):
        assert o.ordered_on is not None
        if o.number not in seen:  # the lines of one order come together
            seen.add(o.number)
            gone.setdefault(o.vendor_id, []).append((o.ordered_on, o.promised_on, o.came_on))
    made = {}
    vendors = list(Vendor.objects.order_by("name"))
    stand_in = usual_days(vendors)
    for vendor in vendors:
        if only is not None and vendor.pk not in only:
            continue
        rows = gone.get(vendor.pk, [])
        delivered = tuple(working_days(went, came) for went, _, came in rows if came)
        out = tuple(working_days(went, today) for went, _, came in rows if not came and went <= today)
        judged = [(promised, came or today) for _, promised, came in rows if promised and (came or promised < today)]
        said = vendor_days(vendor, stand_in)
        time = lead_time_distribution(said.least, said.likely, said.most, delivered, out)
        kept = sum(came <= promised for promised, came in judged)
        made[vendor.pk] = VendorTime(vendor, time, delivered, out, kept, len(judged))
    return made


def _promise(
    kind: str, number: str, what: str, link: str, days: tuple[date, date | None, date | None], of: VendorTime, now: date
) -> Promise:
    went, promised, came = days
    half = four = None
    chance = None
    if came is None:
        since = working_days(went, now)
        half = add_working_days(went, max(since + 1, of.time.quantile(0.5, since)))
        four = add_working_days(went, max(since + 1, of.time.quantile(0.8, since)))
        if promised and promised > now:
            chance = of.time.chance_by(working_days(went, promised), since)
    until = came or now
    return Promise(
        kind=kind,
        number=number,
        vendor=of.vendor,
        what=what,
        link=link,
        went_on=went,
        promised_on=promised,
        came_on=came,
        half_by=half,
        four_in_five_by=four,
        chance_of_promise=chance,
        late_days=working_days(promised, until) if promised and until > promised else 0,
    )


def promises(today: date, times: dict[int, VendorTime]) -> list[Promise]:
    """Every shipment and order that left: what is still out first, the longest promised first."""
    made = []
    for s in Shipment.objects.exclude(sent_on=None).order_by("sent_on", "number"):
        assert s.sent_on is not None
        days = (s.sent_on, s.promised_on, s.back_on)
        made.append(_promise("shipment", s.number, s.process, f"/outwork/{s.number}/", days, times[s.vendor_id], today))
    for number, lines in _orders().items():
        first = lines[0]
        assert first.ordered_on is not None
        what = first.what if len(lines) == 1 else f"{len(lines)} lines"
        days = (first.ordered_on, first.promised_on, first.came_on)
        made.append(_promise("order", number, what, "/orders/", days, times[first.vendor_id], today))
    return sorted(made, key=lambda p: (p.came_on is not None, p.promised_on or date.max, p.went_on))


def _orders() -> dict[str, list[Order]]:
    found: dict[str, list[Order]] = {}
    for line in Order.objects.exclude(ordered_on=None).order_by("ordered_on", "number", "id"):
        found.setdefault(line.number, []).append(line)
    return found


def claims(numbers: Iterable[str] | None = None) -> list[Claim]:
    """Claims, the open ones first; of these shipments, or all."""
    rows = Claim.objects.select_related("shipment__vendor", "order__vendor", "piece", "finding").order_by(
        "settled_on", "-id"
    )
    if numbers is not None:
        rows = rows.filter(shipment__number__in=list(numbers))
    return sorted(rows, key=lambda c: c.settled_on is not None)
