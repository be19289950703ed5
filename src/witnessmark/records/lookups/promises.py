"""Promised, expected and come: every shipment and order, and what each vendor's deliveries have taught."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from witnessmark.calc.plan.working_days import working_days
from witnessmark.records.lookups.spares import holidays
from witnessmark.records.lookups.vendor_times import VendorTime, expected, wait_of
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

    @property
    def chance_said(self) -> str:
        """The chance that the promise holds, as it is said."""
        return "" if self.chance_of_promise is None else chances_in_ten(self.chance_of_promise)


def chances_in_ten(chance: float) -> str:
    """A chance as it is said in the shop."""
    if not 0 <= chance <= 1:
        raise ValueError(f"a chance lies between 0 and 1, not {chance}")
    words = ("hardly a chance", "one chance in ten", "two", "three", "four", "half the chance", "six", "seven", "eight",
             "nine", "all but certain")  # fmt: skip
    said = words[round(chance * 10)]
    return said if " " in said else f"{said} chances in ten"


def _promise(
    kind: str,
    number: str,
    what: str,
    link: str,
    days: tuple[date, date | None, date | None],
    of: VendorTime,
    now: date,
    closed: frozenset[date],
) -> Promise:
    went, promised, came = days
    half = four = None
    chance = None
    if came is None:
        wait = wait_of(of, went, promised, now)
        here = expected(wait, now, closed)
        half, four = here.half, here.four_in_five
        if promised and promised > now:
            chance = wait.chance_within(working_days(now, promised, closed))
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
    closed = holidays()
    for s in Shipment.objects.exclude(sent_on=None).order_by("sent_on", "number"):
        assert s.sent_on is not None
        days = (s.sent_on, s.promised_on, s.back_on)
        made.append(
            _promise("shipment", s.number, s.process, f"/outwork/{s.number}/", days, times[s.vendor_id], today, closed)
        )
    for number, lines in _orders().items():
        first = lines[0]
        assert first.ordered_on is not None
        what = first.what if len(lines) == 1 else f"{len(lines)} lines"
        days = (first.ordered_on, first.promised_on, first.came_on)
        made.append(_promise("order", number, what, "/orders/", days, times[first.vendor_id], today, closed))
    return sorted(made, key=lambda p: (p.came_on is not None, p.promised_on or date.max, p.went_on))


def _orders() -> dict[str, list[Order]]:
    found: dict[str, list[Order]] = {}
    for line in Order.objects.exclude(ordered_on=None).order_by("ordered_on", "number", "id"):
        found.setdefault(line.number, []).append(line)
    return found


def claims(numbers: Iterable[str] | None = None) -> list[Claim]:
    """Claims, the open ones first; of these shipments, or all."""
    rows = Claim.objects.select_related("shipment__vendor", "order__vendor", "piece", "finding", "photo").order_by(
        "settled_on", "-id"
    )
    if numbers is not None:
        rows = rows.filter(shipment__number__in=list(numbers))
    return sorted(rows, key=lambda c: c.settled_on is not None)
