"""What else to open when a job is stuck: gathered from the plan, weighed by hours filled and assemblies opened."""

from dataclasses import dataclass

from witnessmark.calc.plan.calendars import Shop
from witnessmark.calc.plan.switching import OPENING_HOURS, Choice, Ready, other_work
from witnessmark.records.lookups.open_jobs import open_jobs
from witnessmark.records.lookups.plan import Plan, make_plan, works_on
from witnessmark.records.models import Aircraft

# Working days that a stuck job is taken to stay stuck when nobody says for how long.
USUAL_STUCK_DAYS = 5


@dataclass(frozen=True)
class Other:
    """The choices while one job is stuck, the best first, with what they were weighed from."""

    stuck: str
    days: int
    choices: tuple[Choice, ...]
    what: dict[str, str]
    open_already: tuple[str, ...]
    free_hours: dict[str, float]
    bench_hours: dict[str, float]

    @property
    def sentence(self) -> str:
        """The best of them, said."""
        if not self.what:
            return "There is no other work that can begin now."
        if not self.choices or not self.choices[0].filled_hours:
            return "Nothing is worth opening: it would cost more hours than it gives."
        best = self.choices[0]
        names = " and ".join(f"the {name[:1].lower()}{name[1:]}" for name in best.opens)
        if not best.opens:
            return "Open nothing new: there is enough to do where it is open already."
        return f"Open {names}."


def other(aircraft: Aircraft, stuck: str, days: int = USUAL_STUCK_DAYS) -> Other:
    """Weigh what could be opened so that those who wait for the stuck job have work."""
    plan = make_plan(aircraft)
    job = plan.network.by_key.get(stuck)
    who = _who(plan, stuck)
    free = {name: hours for name, hours in _free_hours(plan.shop, days).items() if not who or name in who}
    ready = tuple(_ready(plan, stuck))
    standing = _standing(plan, aircraft)
    benches = {bench.name: bench.capacity * 8.0 * days for bench in plan.shop.benches}
    if job is not None and job.bench in benches:  # what is stuck keeps its place on the bench
        benches[job.bench] = max(0.0, benches[job.bench] - 8.0 * days)
    choices = other_work(ready, standing, free, benches, OPENING_HOURS)
    return Other(
        stuck=job.what if job else "",
        days=days,
        choices=tuple(choices[:5]),
        what={each.key: each.what for each in ready},
        open_already=tuple(sorted(standing - {""})),
        free_hours=free,
        bench_hours=benches,
    )


def _who(plan: Plan, stuck: str) -> set[str]:
    """Those who could do the stuck job; nobody known, everybody."""
    job = plan.network.by_key.get(stuck)
    if job is None or job.is_outside:
        return set()
    return {p.name for p in plan.shop.people if job.craft in p.crafts and job.person in ("", p.name)}


def _free_hours(shop: Shop, days: int) -> dict[str, float]:
    from datetime import timedelta

    ahead = [shop.today + timedelta(days=n) for n in range(days + 2 * (days // 5))]
    return {p.name: p.hours_per_day * sum(works_on(p, day, shop) for day in ahead) for p in shop.people if p.ever_works}


def _ready(plan: Plan, stuck: str) -> list[Ready]:
    released = plan.shop.today
    waits = {key for key, word in plan.said.items() if word.status == "stuck"} | {stuck} | set(plan.gathered.missing)
    made = []
    for job in plan.network.jobs:
        if job.is_outside or job.is_mark or job.key in waits or plan.network.links_in.get(job.key):
            continue
        if job.release is not None and job.release > released:
            continue
        names = {p.name for p in plan.shop.people if job.craft in p.crafts and job.person in ("", p.name)}
        # What follows in the same assembly by the same craft is work that opening it brings as well.
        hours = job.hours.likely + _chain_hours(plan, job.key)
        made.append(
            Ready(
                job.key, job.what, job.zone, hours, frozenset(names), job.bench,
                len(plan.network.freed_by(job.key)), 0,
            )
        )  # fmt: skip
    return made


def _chain_hours(plan: Plan, key: str) -> float:
    """Hours of the jobs that follow one after another, each waiting for this one alone and for the same craft."""
    total, at = 0.0, key
    while True:
        after = [link.after for link in plan.network.links_out.get(at, ())]
        if len(after) != 1 or len(plan.network.links_in[after[0]]) != 1:
            return total
        job = plan.network.by_key[after[0]]
        if job.is_outside or job.craft != plan.network.by_key[key].craft or job.bench != plan.network.by_key[key].bench:
            return total
        total, at = total + job.hours.likely, job.key


def _standing(plan: Plan, aircraft: Aircraft) -> set[str]:
    """Assemblies where a job is begun or was left open; work of no zone, named "", opens nothing."""
    begun = {key for key, word in plan.said.items() if word.status == "started"} | {
        j.left.key for j in open_jobs(aircraft)
    }
    zones = {plan.network.by_key[key].zone for key in begun if key in plan.network.by_key}
    return zones | {""}
