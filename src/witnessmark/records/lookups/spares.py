"""How spares are reckoned: the chances the lead accepts, what was really used up, and the day an order must leave."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from math import ceil

from django.db.models import Count, Sum

from witnessmark.calc.fasteners.spares import Used, leave_days_before
from witnessmark.calc.plan.lead_times import LeadTime, Triple
from witnessmark.calc.plan.working_days import days_before
from witnessmark.records.models import Act, Aircraft, DayOff, HoleFilled, HoleState, Order, Vendor


@dataclass(frozen=True)
class OrderRisks:
    """The chances accepted for an order; `by` is empty while nobody has set them."""

    short_at_most: float = 0.05
    late_at_most: float = 0.2
    by: str = ""
    wanted_by: date | None = None

    @property
    def short_percent(self) -> float:
        return round(self.short_at_most * 100, 2)

    @property
    def late_percent(self) -> float:
        return round(self.late_at_most * 100, 2)


def order_risks(aircraft: Aircraft) -> OrderRisks:
    """The chances that the lead set last, and the day on which the rivets are wanted, as it was said last."""
    acts = {
        act.verb: act
        for act in Act.objects.filter(verb__in=("set_order_risks", "say_wanted_by"), aircraft=aircraft, undone_by=None)
        .select_related("person")
        .order_by("recorded_at")
    }
    said = acts["say_wanted_by"].said["wanted_by"] if "say_wanted_by" in acts else None
    wanted_by = date.fromisoformat(said) if said else None
    risks = acts.get("set_order_risks")
    if risks is None:
        return OrderRisks(wanted_by=wanted_by)
    return OrderRisks(risks.said["short_at_most"], risks.said["late_at_most"], risks.person.name, wanted_by)


def holidays() -> frozenset[date]:
    """The days on which nobody works; sellers are taken to rest on them, too."""
    return frozenset(DayOff.objects.filter(person=None).values_list("day", flat=True))


def used_up(on_shelf: Mapping[int, int]) -> tuple[Used, ...]:
    """What of the sizes that were ordered was driven and what was spoiled, where the record shows both.

    `on_shelf` is what lies here of a size. A size counts only when its order came, the rest of it lies counted in a
    bag, and holes were filled since; rivets that were in the aircraft before are no use of the order. Where more was
    driven than the order leaves room for, older stock was used, and nothing is learned.
    """
    came = {
        size: n
        for size, n in Order.objects.exclude(came_on=None)
        .exclude(size=None)
        .values_list("size_id")
        .annotate(n=Sum("count"))
        if size in on_shelf
    }
    if not came:
        return ()
    # A hole opened up took another size. A hole filled twice is driven once: its first rivet was spoiled.
    driven = dict(
        HoleFilled.objects.filter(
            state=HoleState.RIVETED, act__verb="fill_holes", act__undone_by=None, hole__place__wants_size_id__in=came
        )
        .values_list("hole__place__wants_size_id")
        .annotate(n=Count("hole", distinct=True))
    )
    return tuple(
        Used(driven[size], gone - driven[size])
        for size, n in sorted(came.items())
        if (gone := n - on_shelf[size]) >= driven.get(size, 0) > 0
    )


def days_of(vendor: Vendor | None) -> Triple | None:
    """The vendor's own three figures; none where he names no time."""
    if vendor is None or not vendor.most_days:
        return None
    return Triple(vendor.least_days, vendor.likely_days, vendor.most_days)


@dataclass(frozen=True)
class LeaveBy:
    """How long before it is needed an order must leave, and the day where it was said when it is needed."""

    working_days: int
    day: date | None
    late_already: bool


def leave_by(
    vendor: Vendor | None,
    late_at_most: float,
    wanted_by: date | None,
    now: date,
    closed: frozenset[date] = frozenset(),
    learned: LeadTime | None = None,
) -> LeaveBy | None:
    """The last day to leave, Monday to Friday but for the days that are `closed`. None where the vendor names no time.

    By what his deliveries taught where that is given, else by his own three figures alone.
    """
    days = days_of(vendor)
    if days is None:
        return None
    before = ceil(learned.quantile(1 - late_at_most)) if learned else leave_days_before(days, late_at_most)
    if wanted_by is None:
        return LeaveBy(before, None, False)
    day = days_before(wanted_by, before, closed)
    return LeaveBy(before, day, day < now)
