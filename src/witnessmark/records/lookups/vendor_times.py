"""How long each vendor takes: what he says, what his deliveries taught, and what is left to wait of one of them."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property, lru_cache
from statistics import median

from witnessmark.calc.plan.calendars import DAY, OPENING, Shop, VendorClock
from witnessmark.calc.plan.lead_times import (
    NOTHING,
    LeadTime,
    Triple,
    Wait,
    lead_time_distribution,
    worth_of_word,
)
from witnessmark.calc.plan.working_days import working_days
from witnessmark.records.lookups.network_faults import usual_days
from witnessmark.records.models import Order, Shipment, Vendor


def vendor_days(vendor: Vendor, stand_in: Triple = NOTHING) -> Triple:
    """The vendor's own three figures; for one that names no time, what stands in for them."""
    return Triple(vendor.least_days, vendor.likely_days, vendor.most_days) if vendor.most_days else stand_in


@lru_cache(maxsize=512)
def _learned(said: Triple, delivered: tuple[int, ...], out: tuple[int, ...]) -> LeadTime:
    """The same words and deliveries teach the same, so it is reckoned once."""
    return lead_time_distribution(said.least, said.likely, said.most, delivered, out)


@dataclass(frozen=True)
class VendorTime:
    """A vendor's days, as he says and as he does."""

    vendor: Vendor
    said: Triple
    delivered: tuple[int, ...]
    out: tuple[int, ...]
    kept: int
    promised: int

    @cached_property
    def time(self) -> LeadTime:
        """What his words and his deliveries teach together."""
        return _learned(self.said, tuple(sorted(self.delivered)), tuple(sorted(self.out)))

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

    @property
    def days_counted_on(self) -> float:
        """The one figure that the plan takes for something that leaves now: half the chance."""
        return Wait(self.time).days.likely

    @property
    def counted_on(self) -> str:
        """Say which days the plan counts on, and why these."""
        v, n = self.vendor, len(self.delivered)
        days = self.days_counted_on
        says = f"{v.name} says {v.likely_days:g} working days" if v.most_days else f"{v.name} names no time"
        if n:
            took = (
                f"the one delivery took {self.delivered[0]}"
                if n == 1
                else f"of {n} deliveries half took {median(self.delivered):g} or more"
            )
            return f"{says}; {took}. The plan counts on {days:g}."
        why = "half the chance by his own words" if v.most_days else "half the chance by the others' usual time"
        return f"{says}; nothing of his has come yet. The plan counts on {days:g}: {why}."


def vendor_times(today: date, only: Collection[int] | None = None) -> dict[int, VendorTime]:
    """Every vendor's days, or these vendors', from what he says and from what came back, in three queries."""
    gone: dict[int, list[tuple[date, date | None, date | None]]] = {}
    for s in Shipment.objects.exclude(sent_on=None):
        assert s.sent_on is not None
        gone.setdefault(s.vendor_id, []).append((s.sent_on, s.promised_on, s.back_on))
    with_shipment = {pk: frozenset(days) for pk, days in gone.items()}
    seen: set[str] = set()
    for o in Order.objects.exclude(ordered_on=None).order_by("number", "id"):
        assert o.ordered_on is not None
        days = (o.ordered_on, o.promised_on, o.came_on)
        # The lines of one order come together; and what was ordered with a shipment comes with it.
        if o.number not in seen and not (o.promised_on and days in with_shipment.get(o.vendor_id, ())):
            gone.setdefault(o.vendor_id, []).append(days)
        seen.add(o.number)
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
        kept = sum(came <= promised for promised, came in judged)
        made[vendor.pk] = VendorTime(vendor, vendor_days(vendor, stand_in), delivered, out, kept, len(judged))
    return made


@dataclass(frozen=True)
class HereBy:
    """When something is here: half the chance, and four in five."""

    half: date
    four_in_five: date


def expected(wait: Wait, today: date, closed: Iterable[date] = ()) -> HereBy:
    """By when something is here that is at a vendor, or leaves today.

    Every screen and paper that names such a day asks here or counts the same days of the same calendar, as the plan does.
    """
    clock = VendorClock(Shop(today, (), holidays=frozenset(closed)))
    left = clock.leaves(OPENING)
    return HereBy(*(today + timedelta(days=clock.back(left, wait.whole_days(chance)) // DAY) for chance in (0.5, 0.8)))


def wait_of(of: VendorTime, since: date | None, promised_on: date | None, now: date) -> Wait:
    """What is left to wait of something that left then, or is still to leave, with the day he promised for it."""
    if since is None:
        return Wait(of.time)
    word = worth_of_word(of.time, working_days(since, promised_on)) if promised_on else 1.0
    return Wait(of.time, working_days(since, now), word)
