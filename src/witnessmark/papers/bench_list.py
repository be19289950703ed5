"""The bench list: a page a person, with what to do now and why, what lies where, what waits and for what.

The lead's page says besides what has to leave.
"""

from dataclasses import dataclass

from witnessmark.papers.typesetting import Stamp, short_day, stamp_for, typeset
from witnessmark.records.lookups.bench import BenchJob, BenchToday, Mechanic, bench_today
from witnessmark.records.models import Aircraft, Role

# A mechanic's list is one page; what all wait for stands whole on the lead's.
WAITS_OF_A_MECHANIC = 3


@dataclass(frozen=True)
class Job:
    """One thing to do, in the order to do it; `facts` stand in the margin: hours, where it lies, which bench."""

    what: str
    why: str = ""
    caution: str = ""
    facts: tuple[str, ...] = ()


@dataclass(frozen=True)
class Wait:
    """One thing that waits, for what, and what to do about it."""

    what: str
    waits_for: str
    so: str = ""


@dataclass(frozen=True)
class Leaves:
    """One thing that has to be ordered or sent, by when, and when it may be here."""

    what: str
    words: str
    leave_by: str
    here: str


@dataclass(frozen=True)
class Page:
    """What is said to one person; `now` repeats the first job as the sentence to act on."""

    name: str
    craft: str
    lead: str
    now: str
    jobs: tuple[Job, ...] = ()
    waits: tuple[Wait, ...] = ()
    leaves: tuple[Leaves, ...] = ()


@dataclass(frozen=True)
class BenchList:
    """Everybody's pages of one day; `sentence` says why there is none."""

    stamp: Stamp
    pages: tuple[Page, ...]
    sentence: str = "Nobody works in this shop yet: the record names no mechanic."


def gather(aircraft: Aircraft | None, person: str = "") -> BenchList:
    """Collect everybody's page of today, or one person's."""
    stamp = stamp_for(aircraft)
    if aircraft is None:
        return BenchList(stamp, (), "There is no aircraft in the record, so there is no work.")
    bench = bench_today(aircraft)
    pages = tuple(_page(bench, each) for each in bench.mechanics if person in ("", each.person.name))
    if pages:
        return BenchList(stamp, pages)
    if person:
        return BenchList(stamp, (), f"There is no bench for '{person}' today.")
    return BenchList(stamp, (), bench.sentence) if bench.sentence else BenchList(stamp, ())


def _page(bench: BenchToday, mechanic: Mechanic) -> Page:
    chains = (*((bench.chain,) if bench.chain else ()), *bench.waits)
    stuck = tuple(Wait(each.what, f"stuck: {each.because or 'nobody said why'}", each.by) for each in bench.stuck)
    said = []
    if not mechanic.here_today:
        said.append("Not here today.")
    if mechanic.none:
        said.append(mechanic.none)
    elif mechanic.all_day:
        said.append("There is work for all day.")
    if mechanic.dry and mechanic.jobs:
        said.append(f"Runs dry {mechanic.dry}.")
    first = mechanic.jobs[0] if mechanic.jobs else None
    may = first is not None and mechanic.here_today and first.status != "stuck"
    is_lead = mechanic.person.role == Role.LEAD
    most = None if is_lead else WAITS_OF_A_MECHANIC
    return Page(
        name=mechanic.person.name,
        craft="lead mechanic" if is_lead else mechanic.person.craft or mechanic.person.role,
        lead=" ".join(said),
        now=first.what if first is not None and may else "",
        jobs=tuple(_job(job) for job in mechanic.jobs),
        waits=stuck + tuple(Wait(chain.head, "; because ".join(chain.because), chain.so) for chain in chains[:most]),
        leaves=_leaves(bench) if is_lead else (),
    )


def _job(job: BenchJob) -> Job:
    facts = (
        job.hours_words,
        f"Tag {job.tag}." if job.tag else "",
        f"Lies at {job.lies_at}." if job.lies_at else "",
        f"Bench: {job.bench}." if job.bench else "",
        f"Stuck: {job.note}." if job.status == "stuck" else "",
    )
    return Job(job.what, job.why, job.caution, tuple(fact for fact in facts if fact))


def _leaves(bench: BenchToday) -> tuple[Leaves, ...]:
    return tuple(
        Leaves(
            what=" ".join(filter(None, (each.what, each.to))),
            words=each.held or each.risk,
            leave_by=short_day(each.leave_by),
            here=f"half the chance by {short_day(each.half_by)}, four in five by {short_day(each.four_in_five_by)}",
        )
        for each in bench.to_send
    )


def pdf(data: BenchList) -> bytes:
    """Set the list, each person on a page of their own."""
    return typeset(
        "bench_list.typ",
        {
            "empty": data.sentence,
            "pages": [
                {
                    "title": _title(page),
                    "lead": page.lead,
                    "now": page.now,
                    "jobs": [
                        {"what": job.what, "why": job.why, "caution": job.caution, "facts": list(job.facts)}
                        for job in page.jobs
                    ],
                    "waits_head": "One thing waits." if len(page.waits) == 1 else f"{len(page.waits)} things wait.",
                    "waits": [{"what": wait.what, "for": wait.waits_for, "so": wait.so} for wait in page.waits],
                    "leaves": [
                        {"what": each.what, "words": each.words, "by": each.leave_by, "here": each.here}
                        for each in page.leaves
                    ],
                }
                for page in data.pages
            ],
        },
        data.stamp,
    )


def _title(page: Page) -> str:
    who = f"{page.name}, {page.craft}" if page.craft else page.name
    if not page.jobs:
        return f"{who}: there is nothing to do now."
    if len(page.jobs) == 1:
        return f"{who}: one job can be done now."
    return f"{who}: {len(page.jobs)} jobs can be done now."
