"""The plan by hand: a job given to somebody or to a day, tied to another, written down, struck out again."""

import uuid
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from datetime import date, datetime
from decimal import Decimal

from witnessmark.calc.plan.jobs import Circle, Link, Network
from witnessmark.records.actions.jobs import derive_jobs, find_job
from witnessmark.records.actions.saying import NotAllowed, Refused, Result, say
from witnessmark.records.lookups.day import today
from witnessmark.records.lookups.fixed import newest_fixed, newest_ties
from witnessmark.records.lookups.needs import with_links
from witnessmark.records.models import (
    Act,
    Aircraft,
    Bench,
    HandJob,
    HoursBooked,
    JobFixed,
    JobLeft,
    JobSaid,
    JobTied,
    Person,
    Role,
    SpeedAsked,
    Vendor,
    Zone,
)

MOST_HOURS = 10_000


def fix_job(
    *,
    by: Person,
    act_id: uuid.UUID,
    aircraft: Aircraft,
    key: str,
    person: Person | None = None,
    day: date | None = None,
    happened_at: datetime | None = None,
) -> Result:
    """Give a job to somebody, or to a day on which it begins, or both; neither takes back what was fixed."""

    def do(act: Act) -> Result:
        job, _ = find_job(aircraft, key)
        if job.is_mark or job.away:
            raise Refused("Nobody begins this job: it is waited for. Nothing was changed.")
        if person is not None and job.is_outside:
            raise Refused(f"{job.vendor} does this, nobody of the shop. Nothing was changed. Fix its day instead.")
        if person is not None and (not person.is_active or person.role == Role.OWNER):
            raise Refused(f"{person.name} does not work here. Nothing was changed. Choose somebody who does.")
        if day is not None and day < today(aircraft):
            raise Refused(f"{day:%-d %B %Y} has gone by. Nothing was changed. Fix a day that is still to come.")
        if person is None and day is None and key not in newest_fixed(aircraft):
            raise Refused("Nothing is fixed of this job. Nothing was changed.")
        JobFixed.objects.create(key=key, person=person, day=day, act=act)
        return {"job": key, "person": person.name if person else "", "day": day.isoformat() if day else None}

    said = {"job": key, "person": person.pk if person else None, "day": day}
    return say("fix_job", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft, happened_at=happened_at)


def tie_jobs(
    *,
    by: Person,
    act_id: uuid.UUID,
    aircraft: Aircraft,
    before: str,
    after: str,
    stands: bool = True,
    because: str = "",
    happened_at: datetime | None = None,
) -> Result:
    """Let one job wait for another, or take such a tie back; a tie that would make a circle is refused with the circle."""

    def do(act: Act) -> Result:
        gathered = derive_jobs(aircraft)
        network = gathered.network
        tied = any((tie.before, tie.after) == (before, after) for tie in newest_ties(aircraft))
        if not stands and not tied:
            raise Refused("Nobody tied these two by hand. Nothing was changed.")
        if stands:
            for key in (before, after):
                if key not in gathered.keys:
                    raise Refused("One of these jobs is no longer there. Nothing was changed. Open the page again.")
            if before == after:
                raise Refused("A job cannot wait for itself. Nothing was changed.")
            if tied:
                raise Refused("It waits for that already. Nothing was changed.")
            if network.by_key[after].away:
                raise Refused("This has left the shop and waits for nothing here. Nothing was changed.")
            _refuse_circle(network, before, after)
        JobTied.objects.create(before=before, after=after, stands=stands, because=because.strip()[:300], act=act)
        derive_jobs(aircraft)
        return {"before": before, "after": after, "stands": stands}

    said = {"before": before, "after": after, "stands": stands, "because": because.strip()}
    return say("tie_jobs", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft, happened_at=happened_at)


def _refuse_circle(network: Network, before: str, after: str) -> None:
    try:
        _ = with_links(network, [Link(before, after, by_hand=True)]).in_order
    except Circle as ring:
        raise Refused(f"That would be a circle: {ring.sentence} Nothing was changed.") from None


@dataclass(frozen=True)
class Written:
    """What somebody writes of a job that no part, row or finding says by itself."""

    what: str
    craft: str = ""
    hours_least: float = 0.0
    hours_likely: float = 0.0
    hours_most: float = 0.0
    bench: str = ""
    zone: str = ""
    after: Sequence[str] = field(default=())
    not_before: date | None = None
    due: date | None = None
    needs: Sequence[str] = field(default=())
    note: str = ""


def write_job(
    *, by: Person, act_id: uuid.UUID, aircraft: Aircraft, job: Written, happened_at: datetime | None = None
) -> Result:
    """Write down a job; without hours it is a moment that others wait for, and nobody works at it."""
    what = " ".join(job.what.split())
    if not what or len(what) > 300:
        raise Refused("Say in a few words what is to be done. Nothing was changed.")
    hours = (job.hours_least, job.hours_likely, job.hours_most)
    if not 0 <= hours[0] <= hours[1] <= hours[2] <= MOST_HOURS:
        raise Refused(
            f"{hours[0]:g}, {hours[1]:g} and {hours[2]:g} hours are not least, likely and most. Nothing was changed."
        )
    if job.due is not None and job.not_before is not None and job.due < job.not_before:
        begins, ends = (f"{day:%-d %B %Y}" for day in (job.not_before, job.due))
        raise Refused(f"Due on {ends}, and not before {begins}: no plan can keep both. Nothing was changed.")
    if hours[2] and not job.craft.strip():
        raise Refused("Say whose craft it is. Nothing was changed.")
    bench = Bench.objects.filter(name__iexact=job.bench.strip()).first()
    if job.bench.strip() and bench is None:
        raise Refused(f"There is no bench '{job.bench.strip()}'. Nothing was changed. Choose one that is there.")
    zone = Zone.objects.filter(aircraft=aircraft, number=job.zone.strip()).first()
    if job.zone.strip() and zone is None:
        raise Refused(f"There is no zone {job.zone.strip()}. Nothing was changed. Choose one that is there.")

    def do(act: Act) -> Result:
        keys = derive_jobs(aircraft).keys
        if any(key not in keys for key in job.after):
            raise Refused("One of the jobs before it is no longer there. Nothing was changed. Open the page again.")
        # Never given twice: what was once said of a job that was struck out falls on no other.
        name = f"by-hand-{act.pk.hex[:8]}"
        HandJob.objects.create(
            aircraft=aircraft, name=name, what=what, craft=job.craft.strip().lower(), hours_least=hours[0],
            hours_likely=hours[1], hours_most=hours[2], bench=bench.name if bench else "", zone=zone,
            after=list(job.after), not_before=job.not_before, due=job.due, needs=list(job.needs),
            note=job.note.strip(), act=act,
        )  # fmt: skip
        derive_jobs(aircraft)
        return {"job": f"hand:{name}:do", "name": name}

    said = {**asdict(job), "what": what}
    return say("write_job", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft, happened_at=happened_at)


def strike_job(
    *, by: Person, act_id: uuid.UUID, aircraft: Aircraft, name: str, happened_at: datetime | None = None
) -> Result:
    """Strike out a job that was written down by hand; one that somebody spoke of or booked hours on stays."""

    def do(act: Act) -> Result:
        one = HandJob.objects.filter(aircraft=aircraft, name=name).select_related("act__person").first()
        if one is None or one.act is None:
            raise Refused("Only a job that was written down by hand is struck out. Nothing was changed.")
        if one.act.person_id != by.pk and by.role != Role.LEAD:
            raise Refused(f"{one.act.person.name} wrote it down, and strikes it out, or the lead. Nothing was changed.")
        key = f"hand:{name}:do"
        for spoken in (JobSaid, HoursBooked, JobLeft):
            if spoken.objects.filter(key=key, act__aircraft=aircraft).exists():
                raise Refused(
                    "Somebody has worked at it or spoken of it. Nothing was changed. Say that it is finished."
                )
        what = one.what
        one.delete()
        derive_jobs(aircraft)
        return {"job": key, "what": what}

    return say(
        "strike_job", by=by, act_id=act_id, said={"job": name}, do=do, aircraft=aircraft, happened_at=happened_at
    )


def say_continuous(*, by: Person, act_id: uuid.UUID, who: Person | Vendor, continuous: bool) -> Result:
    """Say whether somebody of the shop, or a vendor, is kept in work without gaps once he has begun."""
    if by.role not in (Role.LEAD, Role.MECHANIC):
        raise NotAllowed(f"{by.name} does not lay the work out. Nothing was changed.")

    def do(act: Act) -> Result:
        who.continuous = continuous
        who.save(update_fields=["continuous"])
        return {"who": who.name, "continuous": continuous}

    said = {"who": [type(who).__name__, who.pk], "continuous": continuous}
    return say("say_continuous", by=by, act_id=act_id, said=said, do=do)


def say_speed_price(
    *,
    by: Person,
    act_id: uuid.UUID,
    aircraft: Aircraft,
    vendor: Vendor,
    days: float,
    price: Decimal,
    currency: str,
) -> Result:
    """Write down what a vendor asks on top for being done in fewer working days."""
    currency = currency.strip().upper()
    if not 0 < days <= 500:
        raise Refused(f"{days:g} working days is no such time. Nothing was changed.")
    if not 0 <= price < 10_000_000:
        raise Refused(f"{price} is no such price. Nothing was changed.")
    if len(currency) != 3 or not currency.isalpha():
        raise Refused("Write the currency with three letters, such as EUR. Nothing was changed.")

    def do(act: Act) -> Result:
        SpeedAsked.objects.create(
            vendor=vendor, days=days, price=price, currency=currency, said_on=today(aircraft), act=act
        )
        return {"vendor": vendor.name, "days": days}

    said = {"vendor": vendor.pk, "days": days, "price": str(price), "currency": currency}
    return say("say_speed_price", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft)
