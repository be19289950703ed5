"""What people fixed in the plan by hand: who does a job, on which day it begins, and what it has to wait for."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import date

from django.db.models import Max

from witnessmark.calc.plan.due_days import not_on_their_days
from witnessmark.calc.plan.jobs import Job, Link, Network
from witnessmark.calc.plan.reasons import spoken_day, why_it_waits
from witnessmark.calc.plan.solve import Schedule
from witnessmark.records.models import Aircraft, JobFixed, JobTied


def newest_fixed(aircraft: Aircraft) -> dict[str, JobFixed]:
    """By job, whom and which day somebody fixed; what was freed again is left out."""
    newest = JobFixed.objects.filter(act__aircraft=aircraft).values("key").annotate(last=Max("id")).values("last")
    fixed = JobFixed.objects.filter(pk__in=newest).select_related("person", "act__person")
    return {each.key: each for each in fixed if each.person_id or each.day}


def newest_ties(aircraft: Aircraft) -> tuple[JobTied, ...]:
    """What somebody tied to what, where the tie still stands."""
    every = JobTied.objects.filter(act__aircraft=aircraft)
    newest = every.values("before", "after").annotate(last=Max("id")).values("last")
    return tuple(every.filter(pk__in=newest, stands=True).select_related("act__person"))


def tied_links(aircraft: Aircraft, keys: Collection[str]) -> list[Link]:
    """The ties as links; one to a job that is done binds nothing."""
    return [
        Link(tie.before, tie.after, by_hand=True)
        for tie in newest_ties(aircraft)
        if tie.before in keys and tie.after in keys
    ]


def with_fixed(
    network: Network, fixed: Mapping[str, JobFixed], here: Collection[str], today: date
) -> tuple[Network, tuple[str, ...]]:
    """The network with what was fixed, and sentences on what cannot be kept whatever the plan."""
    faults: list[str] = []
    jobs: list[Job] = []
    for job in network.jobs:
        one = fixed.get(job.key)
        if one is None or job.is_mark or job.away:
            jobs.append(job)
            continue
        if one.person is not None and not job.is_outside:
            if one.person.name in here:
                job = replace(job, person=one.person.name)
            else:
                faults.append(
                    f"{job.what.rstrip('.')}: {one.act.person.name} fixed it to {one.person.name}, who does not work "
                    "here any more. It is planned for whoever can do it; fix it to somebody else, or take it back."
                )
        if one.day is not None and one.day >= today:
            job = replace(job, on=one.day, release=max(job.release or one.day, one.day))
        elif one.day is not None and not job.started:
            faults.append(
                f"{job.what.rstrip('.')}: {one.act.person.name} fixed it to {one.day:%-d %B %Y}, which has gone by. "
                "It is planned as soon as it can begin; fix a new day, or take it back."
            )
        jobs.append(job)
    return Network(tuple(jobs), network.links, network.unknown_after), tuple(faults)


def fixed_words(one: JobFixed | None) -> str:
    """What was fixed, and by whom; nothing where nothing was."""
    if one is None:
        return ""
    to = f" to {one.person.name}" if one.person else ""
    day = f" to {one.day:%A} {one.day:%-d %B %Y}" if one.day else ""
    return f"{one.act.person.name} fixed it{to}{' and' if to and day else ''}{day}."


@dataclass(frozen=True)
class NotKept:
    """A job that does not begin on the day somebody fixed, when it begins instead, and what is in its way."""

    key: str
    day: date
    starts_on: date | None
    sentence: str


def not_kept(network: Network, schedule: Schedule) -> tuple[NotKept, ...]:
    """Each fixed day that this plan cannot keep, named with its cause."""
    found = []
    for key in not_on_their_days(network, schedule):
        job, entry = network.by_key[key], schedule.by_key.get(key)
        assert job.on is not None
        first = why_it_waits(schedule, network, key)[0]
        cause = first.sentence
        if entry and first.kind == "release" and job.release == job.on:  # nothing holds it but the day itself
            cause = f"{entry.person or job.vendor} does not work on {spoken_day(job.on, schedule.today)}."
        begins = f"it begins on {spoken_day(entry.start_date, schedule.today)}" if entry else "it is not planned"
        said = f"{job.what.rstrip('.')}: fixed to {spoken_day(job.on, schedule.today)}, {begins}. {cause}"
        found.append(NotKept(key, job.on, entry.start_date if entry else None, said))
    return tuple(found)
