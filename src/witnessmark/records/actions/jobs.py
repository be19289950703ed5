"""Jobs: the derived set is written down; people say how one stands and what hours it took."""

import uuid
from datetime import date, datetime

from django.db import transaction

from witnessmark.records.actions.rows import fill_holes_in
from witnessmark.records.actions.saying import Refused, Result, say
from witnessmark.records.lookups.jobs import Derived, JobDraft, derive
from witnessmark.records.models import (
    Act,
    Aircraft,
    Finding,
    HoleState,
    HoursBooked,
    Job,
    JobLink,
    JobSaid,
    LookedAt,
    Person,
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


def _as_row(aircraft: Aircraft, draft: JobDraft) -> Job:
    least, likely, most = draft.hours
    return Job(
        key=draft.key,
        aircraft=aircraft,
        what=draft.what[:300],
        craft=draft.craft,
        vendor_code=draft.vendor_code,
        hours_least=least,
        hours_likely=likely,
        hours_most=most,
        bench=draft.bench,
        zone_id=draft.zone_id,
        piece_id=draft.piece_id,
        priority=draft.priority,
        caution=draft.caution,
        withdrawn=False,
    )


@transaction.atomic
def derive_jobs(aircraft: Aircraft) -> Derived:
    """Write the difference between the jobs the record calls for and those written down.

    A vanished job that people spoke of or booked hours on stays, withdrawn; any other is deleted. What people said
    is not touched. Deriving twice changes nothing.
    """
    derived = derive(aircraft)
    wanted = {draft.key: _as_row(aircraft, draft) for draft in derived.jobs}
    have = {job.key: job for job in Job.objects.filter(aircraft=aircraft)}
    Job.objects.bulk_create([row for key, row in wanted.items() if key not in have], batch_size=500)
    changed = []
    for key, row in wanted.items():
        old = have.get(key)
        if old is not None and any(getattr(old, name) != getattr(row, name) for name in _COLUMNS):
            row.pk = old.pk
            changed.append(row)
    Job.objects.bulk_update(changed, [name.removesuffix("_id") for name in _COLUMNS], batch_size=200)
    _vanish([job for key, job in have.items() if key not in wanted])
    _links(aircraft, derived)
    return derived


def _vanish(gone: list[Job]) -> None:
    keys = [job.key for job in gone]
    kept = set(JobSaid.objects.filter(key__in=keys).values_list("key", flat=True))
    kept |= set(HoursBooked.objects.filter(key__in=keys).values_list("key", flat=True))
    Job.objects.filter(pk__in=[job.pk for job in gone if job.key in kept], withdrawn=False).update(withdrawn=True)
    Job.objects.filter(pk__in=[job.pk for job in gone if job.key not in kept]).delete()


def _links(aircraft: Aircraft, derived: Derived) -> None:
    ids = dict(Job.objects.filter(aircraft=aircraft).values_list("key", "pk"))
    wanted = {(ids[link.before], ids[link.after]): (link.min_lag_hours, link.by_hand) for link in derived.links}
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


def _find(aircraft: Aircraft, key: str) -> Job:
    job = Job.objects.filter(aircraft=aircraft, key=key).first()
    if job is None:
        derive_jobs(aircraft)
        job = Job.objects.filter(aircraft=aircraft, key=key).first()
    if job is None:
        raise Refused(f"There is no job {key}. Nothing was changed. Open the bench list again.")
    return job


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
        job = _find(aircraft, key)
        if status == "done":
            _finish(act, job)
        JobSaid.objects.create(key=key, status=status, person=by, note=note[:300], act=act)
        derive_jobs(aircraft)
        return {"job": key, "status": status}

    said = {"job": key, "status": status, "note": note}
    return say("say_of_job", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft, happened_at=happened_at)


def _finish(act: Act, job: Job) -> None:
    source, ident, _ = job.key.split(":", 2)
    if source == "piece":
        _finish_step(act, job)
    elif source == "row" and job.key.endswith(":look"):
        Row.objects.filter(pk=int(ident)).update(looked_at=LookedAt.YES)
    elif source == "row":
        row = Row.objects.select_related("place").get(pk=int(ident))
        fill_holes_in(act, row, None, HoleState.RIVETED, "")
    elif source == "finding":
        raise Refused("A finding is done when it has a decision. Nothing was changed. Decide it on the piece's page.")
    elif source in ("shipment", "order"):
        raise Refused("This is done when it is here. Nothing was changed. Receive it on the outwork page.")
    elif source == "buy":
        raise Refused(
            "An order is done when it is in the record. Nothing was changed. Write it into orders.csv and load it."
        )


def _finish_step(act: Act, job: Job) -> None:
    _, piece, number = job.key.split(":")
    step = Step.objects.filter(piece_id=int(piece), number=int(number)).first()
    if step is None or step.done_act_id is not None:
        return
    if job.vendor_code:
        raise Refused("A step outside is done when the piece is back. Nothing was changed. Receive its shipment.")
    earlier = Step.objects.filter(piece_id=step.piece_id, done_act=None, number__lt=step.number).first()
    if earlier is not None:
        raise Refused(f"'{earlier.name}' comes before '{step.name}' and is not done. Nothing was changed.")
    waits = Finding.objects.filter(piece_id=step.piece_id, state="open").first()
    if waits is not None:
        raise Refused(f"Finding {waits.number} on this piece has no decision. Nothing was changed. Decide it first.")
    step.done_act = act
    step.save(update_fields=["done_act"])


def book_hours(
    *,
    by: Person,
    act_id: uuid.UUID,
    aircraft: Aircraft,
    key: str,
    hours: float,
    day: date,
    person: Person | None = None,
    happened_at: datetime | None = None,
) -> Result:
    """Book the hours that somebody really worked on a job on one day."""
    who = person or by
    if not 0 < hours <= 24:
        raise Refused(f"{hours:g} hours cannot be worked on one day. Nothing was changed.")

    def do(act: Act) -> Result:
        _find(aircraft, key)
        HoursBooked.objects.create(key=key, person=who, day=day, hours=hours, act=act)
        return {"job": key, "person": who.name, "hours": hours}

    said = {"job": key, "hours": hours, "day": day, "person": who.pk}
    return say("book_hours", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft, happened_at=happened_at)
