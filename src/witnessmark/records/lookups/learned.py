"""What the shop has learned: hours against estimates by kind of work, progress earned, promises against the truth."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from django.db.models import Count, Q, Sum

from witnessmark.calc.plan.learning import Finished, Learned, corrections
from witnessmark.calc.plan.working_days import working_days
from witnessmark.records.lookups.about import in_words
from witnessmark.records.models import (
    Aircraft,
    HolderKind,
    Holding,
    HoursBooked,
    Job,
    JobSaid,
    Order,
    Piece,
    Place,
    Shipment,
    Step,
)


def kind_of_work(key: str, craft: str, step_name: str = "") -> str:
    """The kind by which estimates are corrected: the step's name, what is done to a row, or the craft."""
    source, _, rest = key.partition(":")
    last = rest.rsplit(":", 1)[-1]
    if source == "seam":
        return "look at a row" if last == "look" else "rivet a row"
    if source == "piece":
        return "take off" if last == "off" else step_name.rstrip(":").lower() or craft
    if source == "finding":
        return "decide"
    return craft or "by hand"


def step_names(aircraft: Aircraft, keys: Iterable[str]) -> dict[str, str]:
    """Names of the steps that these jobs are."""
    wanted = {key for key in keys if key.startswith("piece:")}
    if not wanted:
        return {}
    steps = Step.objects.filter(piece__aircraft=aircraft).values_list("piece_id", "number", "name")
    return {key: name for piece, number, name in steps if (key := f"piece:{piece}:{number}") in wanted}


def booked_hours(aircraft: Aircraft) -> dict[str, float]:
    """Hours booked by job."""
    sums = HoursBooked.objects.filter(act__aircraft=aircraft).values_list("key").annotate(n=Sum("hours")).order_by()
    return dict(sums)


@dataclass(frozen=True)
class Outcome:
    """One finished job with its hours, estimated and booked."""

    key: str
    what: str
    kind: str
    likely_hours: float
    booked_hours: float


def finished_jobs(aircraft: Aircraft, booked: Mapping[str, float]) -> list[Outcome]:
    """Jobs that are done, with hours booked on them; a job still going on teaches nothing yet."""
    newest = {w.key: w.status for w in JobSaid.objects.filter(act__aircraft=aircraft, key__in=booked).order_by("id")}
    said = [key for key, status in newest.items() if status == "done"]
    steps = _finished_steps(aircraft, booked)
    jobs = Job.objects.filter(aircraft=aircraft, key__in=said, hours_likely__gt=0)
    others = [
        Outcome(job.key, job.what, kind_of_work(job.key, job.craft), job.hours_likely, booked[job.key])
        for job in jobs
        if job.key not in steps
    ]
    return [*steps.values(), *others]


def _finished_steps(aircraft: Aircraft, booked: Mapping[str, float]) -> dict[str, Outcome]:
    """Steps of routes that are done, however that was said, with the hours that their route gave them."""
    pieces = {int(key.split(":")[1]) for key in booked if re.fullmatch(r"piece:\d+:\d+", key)}
    steps = Step.objects.filter(piece__in=pieces, piece__aircraft=aircraft, hours_likely__gt=0).exclude(done_act=None)
    found = {}
    for step in steps.select_related("piece"):
        key = f"piece:{step.piece_id}:{step.number}"
        if key in booked:
            what = f"{step.name.rstrip(':')}: {in_words(step.piece)}."
            found[key] = Outcome(key, what, kind_of_work(key, step.who, step.name), step.hours_likely, booked[key])
    return found


def learned_from(outcomes: Iterable[Outcome]) -> Learned:
    """The corrections that these outcomes give."""
    return corrections(Finished(each.kind, each.likely_hours, each.booked_hours) for each in outcomes)


@dataclass(frozen=True)
class Earned:
    """Progress in one measure: so much of so much."""

    what: str
    done: float
    of: float
    unit: str

    @property
    def percent(self) -> float:
        return 100 * self.done / self.of if self.of else 0.0


def earned(aircraft: Aircraft) -> tuple[Earned, ...]:
    """Progress by jobs, by their hours, by mass back in place and by places filled; none of them is the whole truth."""
    steps = Step.objects.filter(piece__aircraft=aircraft)
    inside = Q(hours_likely__gt=0)
    counts = steps.aggregate(
        every=Count("id"), done=Count("id", filter=Q(done_act__isnull=False)),
        hours=Sum("hours_likely", filter=inside), hours_done=Sum("hours_likely", filter=inside & Q(done_act__isnull=False)),
    )  # fmt: skip
    weighed = Piece.objects.filter(aircraft=aircraft, mass_g__gt=0)
    going_on = steps.filter(done_act=None).values("piece")
    back = weighed.filter(
        pk__in=Holding.objects.filter(count__gt=0, holder__kind=HolderKind.PLACE).values("piece")
    ).exclude(pk__in=going_on)
    capacity = Place.objects.filter(aircraft=aircraft, row=None).aggregate(n=Sum("capacity"))["n"] or 0
    in_places = Holding.objects.filter(
        count__gt=0, holder__kind=HolderKind.PLACE, piece__aircraft=aircraft, holder__place__row=None
    ).exclude(piece__in=going_on)
    return (
        Earned("steps of routes done", counts["done"], counts["every"], "steps"),
        Earned("hours of those steps", counts["hours_done"] or 0.0, counts["hours"] or 0.0, "hours"),
        Earned(
            "mass in its place with nothing left to do",
            (back.aggregate(n=Sum("mass_g"))["n"] or 0) / 1000,
            (weighed.aggregate(n=Sum("mass_g"))["n"] or 0) / 1000,
            "kg",
        ),
        Earned(
            "places filled, with nothing left to do", in_places.aggregate(n=Sum("count"))["n"] or 0, capacity, "places"
        ),
    )


@dataclass(frozen=True)
class Promise:
    """What one vendor promised and what came of it, in working days."""

    vendor: str
    deliveries: int
    in_time: int
    mean_late_days: float
    worst: str
    worst_late_days: int


def promises(now: date) -> list[Promise]:
    """Promise against truth for each vendor, from what came and from what is overdue today."""
    told: dict[str, list[tuple[int, str]]] = {}
    shipments = Shipment.objects.exclude(promised_on=None).select_related("vendor")
    orders = Order.objects.exclude(promised_on=None).exclude(ordered_on=None).select_related("vendor")
    came = [(s.vendor.name, s.number, s.promised_on, s.back_on) for s in shipments] + [
        (o.vendor.name, o.number, o.promised_on, o.came_on) for o in orders
    ]
    for vendor, number, promised, day in came:
        if promised is None or (day is None and promised >= now):
            continue
        told.setdefault(vendor, []).append((working_days(promised, day or now), number))
    made = []
    for vendor, late in sorted(told.items()):
        days, number = max(late)
        made.append(
            Promise(
                vendor, len(late), sum(1 for n, _ in late if n == 0), sum(n for n, _ in late) / len(late),
                number if days else "", days,
            )
        )  # fmt: skip
    return made
