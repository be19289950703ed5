"""Jobs: the derived set is written down; people say how one stands and what hours it took."""

import uuid
from datetime import date, datetime

from django.db import transaction

from witnessmark.calc.plan.jobs import Job as Wanted
from witnessmark.records.actions.condition import finish_step_in
from witnessmark.records.actions.route_reasons import refuse_broken_rules
from witnessmark.records.actions.row_size import refuse_unsettled
from witnessmark.records.actions.rows import fill_holes_in, newest_states
from witnessmark.records.actions.saying import Refused, Result, say
from witnessmark.records.lookups.about import About
from witnessmark.records.lookups.day import today
from witnessmark.records.lookups.network import Gathered, gather
from witnessmark.records.models import (
    Act,
    Aircraft,
    HoleState,
    HoursBooked,
    HoursTakenBack,
    Job,
    JobLink,
    JobSaid,
    LookedAt,
    Person,
    Role,
    Row,
    Step,
)

STATUSES = ("open", "started", "stuck", "done")
_COLUMNS = (
    "aircraft_id",
    "what",
    "craft",
    "vendor_code",
    "hours_least",
    "hours_likely",
    "hours_most",
    "bench",
    "zone_id",
    "piece_id",
    "priority",
    "caution",
    "withdrawn",
)


# A vendor's working days are written as hours of days of eight hours, so that one column holds both.
_DAY_HOURS = 8.0


def _as_row(aircraft: Aircraft, wanted: Wanted, about: About) -> Job:
    hours, many = (wanted.days, _DAY_HOURS) if wanted.is_outside else (wanted.hours, 1.0)
    return Job(
        key=wanted.key,
        aircraft=aircraft,
        what=wanted.what[:300],
        craft=wanted.craft,
        vendor_code=about.vendor.code if about.vendor else "",
        hours_least=hours.least * many,
        hours_likely=hours.likely * many,
        hours_most=hours.most * many,
        bench=wanted.bench,
        zone_id=about.zone_id,
        piece_id=about.piece_id,
        priority=wanted.priority,
        caution=wanted.caution,
        withdrawn=False,
    )


@transaction.atomic
def derive_jobs(aircraft: Aircraft) -> Gathered:
    """Write the difference between the jobs the record calls for and those written down.

    A vanished job that people spoke of or booked hours on stays, withdrawn; any other is deleted. What people said
    is not touched. Deriving twice changes nothing.
    """
    gathered = gather(aircraft)
    wanted = {job.key: _as_row(aircraft, job, gathered.about_job(job.key)) for job in gathered.network.jobs}
    have = {job.key: job for job in Job.objects.filter(aircraft=aircraft)}
    Job.objects.bulk_create([row for key, row in wanted.items() if key not in have], batch_size=500)
    changed = []
    for key, row in wanted.items():
        old = have.get(key)
        if old is not None and any(getattr(old, name) != getattr(row, name) for name in _COLUMNS):
            row.pk = old.pk
            changed.append(row)
    Job.objects.bulk_update(changed, [name.removesuffix("_id") for name in _COLUMNS], batch_size=200)
    _vanish(aircraft, [job for key, job in have.items() if key not in wanted])
    _links(aircraft, gathered)
    return gathered


def _vanish(aircraft: Aircraft, gone: list[Job]) -> None:
    keys = [job.key for job in gone]
    kept = set(JobSaid.objects.filter(act__aircraft=aircraft, key__in=keys).values_list("key", flat=True))
    kept |= set(HoursBooked.objects.filter(act__aircraft=aircraft, key__in=keys).values_list("key", flat=True))
    Job.objects.filter(pk__in=[job.pk for job in gone if job.key in kept], withdrawn=False).update(withdrawn=True)
    Job.objects.filter(pk__in=[job.pk for job in gone if job.key not in kept]).delete()


def _links(aircraft: Aircraft, gathered: Gathered) -> None:
    ids = dict(Job.objects.filter(aircraft=aircraft).values_list("key", "pk"))
    wanted = {
        (ids[link.before], ids[link.after]): (link.min_lag_hours, (link.before, link.after) in gathered.by_hand)
        for link in gathered.network.links
    }
    have = {(link.before_id, link.after_id): link for link in JobLink.objects.filter(after__aircraft=aircraft)}
    stale = [link.pk for ends, link in have.items() if wanted.get(ends) != (link.min_lag_hours, link.by_hand)]
    JobLink.objects.filter(pk__in=stale).delete()
    JobLink.objects.bulk_create(
        [
            JobLink(before_id=before, after_id=after, min_lag_hours=lag, by_hand=hand)
            for (before, after), (lag, hand) in wanted.items()
            if (before, after) not in have or have[before, after].pk in stale
        ],
        batch_size=500,
    )


def find_job(aircraft: Aircraft, key: str) -> tuple[Wanted, About]:
    """Bring the jobs up to date and find this one; a job that is gone cannot be spoken of."""
    gathered = derive_jobs(aircraft)
    if key not in gathered.keys:
        raise Refused(
            "This job is no longer there: it is done or something changed. Nothing was changed. Open the bench list again."
        )
    return gathered.network.by_key[key], gathered.about_job(key)


def say_of_job(
    *,
    by: Person,
    act_id: uuid.UUID,
    aircraft: Aircraft,
    key: str,
    status: str,
    note: str = "",
    happened_at: datetime | None = None,
) -> Result:
    """Say how a job stands: started, stuck (and why), done, or open again.

    Done finishes the step of the route, the look at the row or the riveting that the job stands for, in the same act.
    """
    if status not in STATUSES:
        raise Refused(f"A job is {', '.join(STATUSES)}, not '{status}'. Nothing was changed.")
    note = note.strip()
    if status == "stuck" and not note:
        raise Refused("A job is stuck because of something. Nothing was changed. Say because of what.")

    def do(act: Act) -> Result:
        _, about = find_job(aircraft, key)
        if status == "started" and about.source == "step":
            refuse_broken_rules(_step_of(key), act.happened_at)
        was = _finish(act, key, about) if status == "done" else {}
        JobSaid.objects.create(key=key, status=status, person=by, note=note[:300], act=act)
        derive_jobs(aircraft)
        return {"job": key, "status": status, **was}

    said = {"job": key, "status": status, "note": note}
    return say("say_of_job", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft, happened_at=happened_at)


def _finish(act: Act, key: str, about: About) -> Result:
    """Write into the record what the job stands for; give what was there before, so that it can be taken back."""
    if about.source == "step":
        _finish_step(act, key)
    elif about.source == "look":
        row = Row.objects.select_related("place").get(pk=about.row_id)
        refuse_unsettled(row)
        was = row.looked_at
        row.looked_at = LookedAt.YES
        row.save(update_fields=["looked_at"])
        return {"row": row.pk, "looked_at": was}
    elif about.source == "fill":
        row = Row.objects.select_related("place").get(pk=about.row_id)
        before = newest_states(row)
        fill_holes_in(act, row, None, HoleState.RIVETED, "")
        return {"row": row.pk, "holes": before}
    elif about.source == "off":
        raise Refused("This is done when it is off. Nothing was changed. Take it off on the piece's page.")
    elif about.source == "finding":
        raise Refused("A finding is done when it has a decision. Nothing was changed. Decide it on the piece's page.")
    elif about.source in ("shipment", "vendor step", "order"):
        raise Refused("This is done when it is here. Nothing was changed. Receive it on the outwork page.")
    elif about.source == "buy":
        raise Refused("An order is done when it has left. Nothing was changed. Let it leave on the orders page.")
    return {}


def _step_of(key: str) -> Step:
    _, piece, number = key.split(":")
    return Step.objects.select_related("piece__aircraft").get(piece_id=int(piece), number=int(number))


def _finish_step(act: Act, key: str) -> None:
    finish_step_in(act, _step_of(key))


def take_back_word(
    *, by: Person, act_id: uuid.UUID, aircraft: Aircraft, word: JobSaid, happened_at: datetime | None = None
) -> Result:
    """Take back what was said of a job last, and what it wrote into the record; both acts remain to be read."""

    def do(act: Act) -> Result:
        newest = JobSaid.objects.filter(key=word.key, act__aircraft=aircraft).order_by("-id").first()
        if newest is None or newest.pk != word.pk:
            raise Refused("Somebody has spoken of this job since. Nothing was changed. Open the bench list again.")
        if word.act.verb != "say_of_job":
            raise Refused("Only a tap can be taken back. Nothing was changed. Say what is true now instead.")
        if word.act.person_id != by.pk and by.role != Role.LEAD:
            raise Refused("Who said it takes it back, or the lead. Nothing was changed.")
        if word.status == "done":
            _undo_finish(act, word)
        earlier = JobSaid.objects.filter(key=word.key, act__aircraft=aircraft, pk__lt=word.pk).order_by("-id").first()
        status = earlier.status if earlier is not None and earlier.status != "done" else "open"
        JobSaid.objects.create(
            key=word.key, status=status, person=earlier.person if earlier else by,
            note=earlier.note if earlier and status == earlier.status else "", act=act,
        )  # fmt: skip
        derive_jobs(aircraft)
        return {"job": word.key, "status": status}

    said = {"word": word.pk}
    return say(
        "take_back_word", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft, happened_at=happened_at,
        undoes=word.act,
    )  # fmt: skip


def _undo_finish(act: Act, word: JobSaid) -> None:
    result = word.act.actresult.result
    if word.key.startswith("piece:"):
        step = Step.objects.filter(done_act=word.act).first()
        if step is None:
            return
        if Step.objects.filter(piece_id=step.piece_id, number__gt=step.number).exclude(done_act=None).exists():
            raise Refused("A later step of this piece is done. Nothing was changed. Take that back first.")
        step.done_act = None
        step.save(update_fields=["done_act"])
    elif "looked_at" in result:
        Row.objects.filter(pk=result["row"]).update(looked_at=result["looked_at"])
    elif "holes" in result:
        row = Row.objects.select_related("place").get(pk=result["row"])
        for state, reason, numbers in result["holes"]:
            fill_holes_in(act, row, numbers, state, reason)


def book_hours(
    *,
    by: Person,
    act_id: uuid.UUID,
    aircraft: Aircraft,
    key: str,
    hours: float,
    day: date,
    person: Person | None = None,
    again: bool = False,
    happened_at: datetime | None = None,
) -> Result:
    """Book the hours that somebody really worked on a job on one day; a second booking of the same day is asked twice."""
    who = person or by
    if not 0 < hours <= 24:
        raise Refused(f"{hours:g} hours cannot be worked on one day. Nothing was changed.")
    if day > today(aircraft):
        raise Refused(f"{day:%-d %B} is still to come. Nothing was changed. Book hours when they are worked.")

    def do(act: Act) -> Result:
        find_job(aircraft, key)
        Person.objects.select_for_update().get(pk=who.pk)  # two phones book one after the other
        that_day = list(HoursBooked.objects.filter(person=who, day=day).values_list("key", "hours", "act__aircraft"))
        here = sum(each for other, each, where in that_day if (other, where) == (key, aircraft.pk))
        if here and not again:
            raise Refused(
                f"{here:g} hours of {who.name} are booked on this job for {day:%-d %B} already. Nothing was changed. "
                "If these come on top, say so and book again."
            )
        total = sum(each for _, each, _ in that_day) + hours
        if total > 24:
            raise Refused(f"That makes {total:g} hours of {who.name} on one day. Nothing was changed.")
        HoursBooked.objects.create(key=key, person=who, day=day, hours=hours, act=act)
        return {"job": key, "person": who.name, "hours": hours}

    said = {"job": key, "hours": hours, "day": day, "person": who.pk, "again": again}
    return say("book_hours", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft, happened_at=happened_at)


def take_back_hours(
    *, by: Person, act_id: uuid.UUID, aircraft: Aircraft, booked: HoursBooked, happened_at: datetime | None = None
) -> Result:
    """Take back hours that were booked by mistake: they count no more, and both acts remain to be read."""

    def do(act: Act) -> Result:
        if HoursTakenBack.objects.filter(booked=booked).exists():
            raise Refused("These hours were taken back already. Nothing was changed.")
        if by.pk not in (booked.person_id, booked.act.person_id) and by.role != Role.LEAD:
            raise Refused("Who worked or booked them takes hours back, or the lead. Nothing was changed.")
        HoursTakenBack.objects.create(booked=booked, act=act)
        return {"job": booked.key, "hours": booked.hours, "person": booked.person.name}

    said = {"booked": booked.pk}
    return say(
        "take_back_hours", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft, happened_at=happened_at,
        undoes=booked.act if booked.act.verb == "book_hours" else None,
    )  # fmt: skip
