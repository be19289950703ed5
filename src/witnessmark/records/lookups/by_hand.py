"""One job as people lay it out by hand: who could do it, what it waits for, what was fixed and whether the plan keeps it."""

from dataclasses import dataclass
from datetime import date, timedelta

from witnessmark.calc.plan.jobs import Job
from witnessmark.calc.plan.solve import Entry
from witnessmark.records.lookups.fixed import fixed_words, newest_ties, not_kept
from witnessmark.records.lookups.plan import Plan, works_on
from witnessmark.records.models import Aircraft, HandJob, JobFixed, Person

FOUND = 12


@dataclass(frozen=True)
class Neighbour:
    """A job before or after, and whether a person tied the two."""

    key: str
    what: str
    by_hand: bool = False
    because: str = ""


@dataclass(frozen=True)
class ByHand:
    """All that can be laid out by hand of one job."""

    job: Job
    entry: Entry | None
    cannot: str
    fixed: JobFixed | None
    not_kept: str
    can: tuple[Person, ...]
    others: tuple[Person, ...]
    days: tuple[tuple[str, date], ...]
    before: tuple[Neighbour, ...]
    after: tuple[Neighbour, ...]
    # The row of a job that was written down here and can be struck out here.
    written: HandJob | None

    @property
    def fixed_sentence(self) -> str:
        """What was fixed, and by whom."""
        return fixed_words(self.fixed)

    @property
    def planned_sentence(self) -> str:
        """Where the plan has it."""
        if self.entry is None:
            return self.cannot or "It is not planned."
        first, last = self.entry.start_date, self.entry.finish_date
        if self.job.away:
            return f"It is at {self.job.vendor}."
        who = self.entry.person or self.job.vendor
        day = f"on {first:%A} {first:%-d %B %Y}" + ("" if last == first else f" to {last:%A} {last:%-d %B %Y}")
        return f"The plan gives it to {who}, {day}." if who else f"The plan has it {day}."


def by_hand(plan: Plan, aircraft: Aircraft, key: str) -> ByHand:
    """Answer for one job; raises KeyError where it is not there."""
    job = plan.network.by_key[key]
    craft = job.craft.casefold()
    able = {p.name for p in plan.shop.people if not craft or craft in {c.casefold() for c in p.crafts}}
    inside = not (job.is_outside or job.is_mark)
    missed = next((each.sentence for each in not_kept(plan.network, plan.schedule) if each.key == key), "")
    hand = {(tie.before, tie.after): tie for tie in newest_ties(aircraft)}
    jobs = plan.network.by_key

    def near(keys: list[str], before: bool) -> tuple[Neighbour, ...]:
        found = []
        for other in sorted(set(keys)):
            tie = hand.get((other, key) if before else (key, other))
            found.append(Neighbour(other, jobs[other].what, tie is not None, tie.because if tie else ""))
        return tuple(found)

    name = key.removeprefix("hand:").removesuffix(":do") if key.startswith("hand:") else ""
    return ByHand(
        job=job,
        entry=plan.schedule.by_key.get(key),
        cannot=dict(plan.schedule.cannot).get(key, ""),
        fixed=plan.fixed.get(key),
        not_kept=missed,
        can=tuple(p for p in plan.people if inside and p.name in able),
        others=tuple(p for p in plan.people if inside and p.name not in able),
        days=() if job.is_mark or job.away else _next_days(plan),
        before=near([link.before for link in plan.network.links_in.get(key, ())], before=True),
        after=near([link.after for link in plan.network.links_out.get(key, ())], before=False),
        written=HandJob.objects.filter(aircraft=aircraft, name=name).exclude(act=None).select_related("act").first()
        if name
        else None,
    )


def _next_days(plan: Plan) -> tuple[tuple[str, date], ...]:
    """The next three days on which anybody works, as they are said."""
    found: list[tuple[str, date]] = []
    for ahead in range(15):
        day = plan.shop.today + timedelta(days=ahead)
        if any(works_on(person, day, plan.shop) for person in plan.shop.people):
            found.append(("today" if ahead == 0 else "tomorrow" if ahead == 1 else f"{day:%A}", day))
    return tuple(found[:4])


def jobs_called(plan: Plan, words: str, leave_out: str = "") -> tuple[Neighbour, ...]:
    """Jobs whose words, tag or zone hold all that was typed, those that begin first in front."""
    wanted = words.casefold().split()
    if not wanted:
        return ()
    at = plan.schedule.by_key
    held = [
        job
        for job in plan.network.jobs
        if job.key != leave_out and all(word in f"{job.what} {job.key} {job.zone}".casefold() for word in wanted)
    ]
    held.sort(key=lambda job: (at[job.key].start if job.key in at else 1 << 60, job.key))
    return tuple(Neighbour(job.key, job.what) for job in held[:FOUND])
