"""Order or send now: each thing's latest day at the risk that is chosen, what goes together, and what speed would win."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from witnessmark.calc.plan.send_by import USUAL_RISK, Goes, Run, Speed, runs_together
from witnessmark.calc.plan.working_days import said_day
from witnessmark.records.lookups.forecast import known_forecast, speeds_asked
from witnessmark.records.lookups.latest import latest_days
from witnessmark.records.lookups.plan import Plan
from witnessmark.records.models import Aircraft, Piece, SpeedAsked, TripStop, Vendor, VendorPrice


@dataclass(frozen=True)
class Leaving:
    """One thing to order or send. `by`: its latest day at the chosen risk; `ready`: when the plan lets it leave."""

    key: str
    what: str
    vendor: str
    by: date
    ready: date
    half_by: date
    four_in_five_by: date
    held: str
    link: str
    share: float

    @property
    def late(self) -> bool:
        """True where it cannot be ready by its latest day."""
        return self.ready > self.by


@dataclass(frozen=True)
class Together:
    """Several things for one vendor that may leave in one run, and what speaks for it."""

    run: Run
    what: tuple[str, ...]
    mass_kg: float
    not_weighed: int
    min_order: str
    least_charge: Decimal
    currency: str
    trip: str

    @property
    def sentence(self) -> str:
        """What one run is worth, in words."""
        said = []
        if self.least_charge:
            said.append(
                f"He asks {self.least_charge.normalize():f} {self.currency} at least for each delivery: it may count once "
                f"instead of {len(self.what)} times."
            )
        if self.min_order:
            weighs = (
                f"what is weighed of this comes to {self.mass_kg:.1f} kg" if self.mass_kg else "none of this is weighed"
            )
            more = f", {self.not_weighed} not weighed" if self.mass_kg and self.not_weighed else ""
            said.append(f"He takes no less than {self.min_order}; {weighs}{more}.")
        if self.trip:
            said.append(self.trip)
        return " ".join(said)


@dataclass(frozen=True)
class Bought:
    """What speed would win, and what it costs where that is known."""

    speed: Speed
    cost: Decimal | None
    currency: str
    said_on: date | None

    @property
    def days_for_100(self) -> float | None:
        """Days of half the chance for a hundred of the currency; None where no price is known or it costs nothing."""
        return self.speed.half_days / float(self.cost) * 100 if self.cost else None


@dataclass(frozen=True)
class OrderOrSend:
    """All of it at one risk. `fresh`: the forecast still fits the record; None where there is none."""

    risk: float
    leaving: tuple[Leaving, ...]
    together: tuple[Together, ...]
    bought: tuple[Bought, ...]
    fresh: bool | None
    today: date

    @property
    def sentence(self) -> str:
        """What is most pressing, said."""
        if not self.leaving:
            return "Nothing has to be ordered or sent."
        first = self.leaving[0]
        what = f"{first.what.rstrip('.')}"
        if first.late:
            by, ready = said_day(first.by, self.today), said_day(first.ready, self.today)
            return f"{what}: its latest day is {by}, and it is ready on {ready}."
        when = "today" if first.by <= self.today else f"by {first.by:%A} {said_day(first.by, self.today)}"
        return f"{what}: {when} at the latest."


def order_or_send(plan: Plan, aircraft: Aircraft, risk: float = USUAL_RISK) -> OrderOrSend:
    """Answer for all that has not left; without a forecast the latest days are those of the plan itself."""
    known = known_forecast(aircraft, plan) if plan.schedule.entries else None
    latest = latest_days(plan, known.outlook if known else None, risk)
    shares = {one.key: one.share for one in known.outlook.send_by} if known else {}
    leaving = []
    for each in plan.solved.to_leave:
        about = plan.about(each.key)
        rows = about.held_by
        leaving.append(
            Leaving(
                each.key, each.what, each.vendor, latest[each.key].by, each.leaves_on,
                each.half_by, each.four_in_five_by,
                f"Held until {len(rows)} row{'s are' if len(rows) > 1 else ' is'} looked at." if rows else "",
                about.link, shares.get(each.key, 0.0),
            )
        )  # fmt: skip
    leaving.sort(key=lambda x: (x.by, x.ready, x.key))
    runs = runs_together(Goes(x.key, x.vendor, x.ready, x.by) for x in leaving)
    return OrderOrSend(
        risk,
        tuple(leaving),
        _together(plan, [run for run in runs if len(run.keys) > 1]),
        _bought(known.outlook.speeds if known else ()),
        known.fresh if known else None,
        plan.shop.today,
    )


def _together(plan: Plan, runs: Iterable[Run]) -> tuple[Together, ...]:
    runs = list(runs)
    names = {run.vendor for run in runs}
    vendors = {v.name: v for v in Vendor.objects.filter(name__in=names)}
    prices = {p.vendor_id: p for p in VendorPrice.objects.filter(vendor__name__in=names).order_by("id")}
    pieces = {pk for run in runs for key in run.keys if (pk := plan.about(key).piece_id)}
    mass_g = dict(Piece.objects.filter(pk__in=pieces, mass_g__gt=0).values_list("pk", "mass_g"))
    stops = list(
        TripStop.objects.filter(trip__day__gte=plan.shop.today, trip__ended_act=None, vendor__name__in=names)
        .select_related("trip", "vendor")
        .order_by("trip__day")
    )
    made = []
    for run in runs:
        vendor = vendors.get(run.vendor)
        price = prices.get(vendor.pk) if vendor else None
        weighed = [mass_g.get(plan.about(key).piece_id or 0) for key in run.keys]
        stop = next((s for s in stops if s.vendor.name == run.vendor and run.ready <= s.trip.day <= run.by), None)
        made.append(
            Together(
                run,
                tuple(plan.network.by_key[key].what for key in run.keys),
                sum(g for g in weighed if g) / 1000,
                sum(not g for g in weighed),
                vendor.min_order if vendor else "",
                price.least_charge if price else Decimal(0),
                price.currency if price else "",
                f"Trip {stop.trip.number} stops there on {stop.trip.day:%A} {said_day(stop.trip.day, plan.shop.today)}."
                if stop
                else "",
            )
        )
    return tuple(made)


def _bought(speeds: Iterable[Speed]) -> tuple[Bought, ...]:
    asked: dict[str, SpeedAsked] = {each.vendor.name: each for each in speeds_asked()}
    made = []
    for speed in speeds:
        price = asked.get(speed.vendor) if speed.asked else None
        cost = price.price * speed.things if price else None
        made.append(Bought(speed, cost, price.currency if price else "", price.said_on if price else None))
    # What is known to cost comes by days for money; what is not, by days alone, after it.
    return tuple(sorted(made, key=lambda b: (b.days_for_100 is None, -(b.days_for_100 or 0), -b.speed.half_days)))
