"""The plan's figures of the forecast, of a plan made again, and of why a job waits.

The simulator that judges the forecast stands here: it shares no code with it, draws vendors' times from another family
(Weibull), and works the jobs hour by hour in its own way.
"""

import random
import statistics
import time
from dataclasses import replace
from datetime import date
from itertools import islice

from witnessmark.bench.figures import SEED, figure, least_cpu_s
from witnessmark.bench.plan import show
from witnessmark.bench.plan_files import WORKING_DAYS, frozen
from witnessmark.calc.plan.calendars import Bench, Person, Shop
from witnessmark.calc.plan.jobs import Job, Link, Network
from witnessmark.calc.plan.lead_times import Triple, Wait, lead_time_distribution
from witnessmark.calc.plan.project import Project

MONDAY = date(2026, 5, 11)


def stretched(project: Project, times: int = 2) -> Project:
    """The same project on a longer grid, for late futures."""
    import numpy as np

    horizon = project.horizon * times
    units = np.arange(horizon)
    opens = tuple(units[np.isin(units // 2 % 7, list(WORKING_DAYS[c]))] for c in (1, 2))
    return replace(project, horizon=horizon, open_units=opens)


@figure("plan.futures_1000x3000_cpu_s", unit="s", goal=2)
def futures_cpu(full: bool) -> tuple[float, str]:
    """CPU time of 1,000 futures of 3,000 jobs: times drawn and worked event by event; the least of three."""
    from witnessmark.calc.plan.forecast import Unsure, futures, lengths_of
    from witnessmark.calc.plan.improve import improved

    one = frozen(3000)[0]
    project = stretched(one.project)
    order = next(improved(project, SEED)).order
    unsure = [
        Unsure(Triple(j["least"], j["likely"], j["most"]), "vendor" if not j["needs"] else "") for j in one.raw["jobs"]
    ]
    likely = lengths_of([Unsure(Triple(u.triple.likely, u.triple.likely, u.triple.likely)) for u in unsure], 1, SEED)
    likely[0] = [u.triple.likely for u in unsure]
    show(project, futures(project, likely, order).starts[0])
    return least_cpu_s(lambda: futures(project, lengths_of(unsure, 1000, SEED), order), times=3), one.name


def _another_world(
    chance: random.Random, jobs: int, vendors: int
) -> tuple[Project, list[int], list[tuple[float, float]]]:
    """Rows of chains: work by one of two people, then a vendor; and how each vendor truly is: shape and scale."""
    duration, needs, links, whose = [], [], [], []
    for at in range(jobs):
        outside = at % 3 == 2
        whose.append(at // 3 % vendors if outside else -1)
        duration.append(chance.randint(20, 60) if outside else chance.randint(2, 10))
        needs.append(() if outside else ((0, 1),))
        if at % 12:
            links.append((at - 1, at, 0, -1))
    truth = [(chance.uniform(1.6, 3.5), chance.uniform(0.9, 1.7)) for _ in range(vendors)]
    return Project(tuple(duration), tuple(needs), (2,), tuple(links), 6000), whose, truth


def _work_through(project: Project, times: list[int]) -> int:
    """Unit by unit: two people take the first jobs of the list that are ready. Its own code, and slow."""
    before: dict[int, list[int]] = {}
    for a, b, _, _ in project.links:
        before.setdefault(b, []).append(a)
    end: dict[int, int] = {}
    busy: list[int] = []
    now = 0
    while len(end) < len(times):
        busy = [until for until in busy if until > now]
        for job, time_taken in enumerate(times):
            if job in end or any(a not in end or end[a] > now for a in before.get(job, [])):
                continue
            if not project.needs[job]:
                end[job] = now + time_taken
            elif len(busy) < 2:
                end[job] = now + time_taken
                busy.append(end[job])
        now += 1
    return max(end.values())


@figure("plan.p80_coverage_error", unit="share", goal=0.05)
def p80_coverage(full: bool) -> tuple[float, str]:
    """How far from four in five the share of true ends is that came by the "four in five by" of the forecast.

    Each shop has vendors of its own, known by 12 deliveries each; its true end is one future of the other simulator.
    """
    from witnessmark.calc.plan.forecast import Unsure, futures, lengths_of

    shops = 400 if not full else 2000
    met = 0
    for number in range(shops):
        chance = random.Random(SEED + number)  # noqa: S311
        project, whose, truth = _another_world(chance, 36, 4)

        def taken(
            vendor: int, said: float, chance: random.Random = chance, truth: list[tuple[float, float]] = truth
        ) -> float:
            shape, scale = truth[vendor]
            return max(1.0, said * chance.weibullvariate(scale, shape))

        times = [lead_time_distribution(20, 40, 80, [taken(v, 40) for _ in range(12)]) for v in range(4)]
        unsure = [
            Unsure(Triple(d / 2, d, 2 * d), f"v{whose[at]}", wait=Wait(times[whose[at]], word=d / 40))
            if whose[at] >= 0
            else Unsure(Triple(d, d, d))
            for at, d in enumerate(project.duration)
        ]
        told = futures(project, lengths_of(unsure, 500, number), list(range(project.size)))
        true = [round(taken(whose[at], d)) if whose[at] >= 0 else d for at, d in enumerate(project.duration)]
        met += _work_through(project, true) <= told.by(0.8)
    return abs(
        met / shops - 0.8
    ), f"{shops} shops; {met / shops:.3f} came by then; true times Weibull; learned from 12 deliveries as in the record"


def shop_of(size: int) -> tuple[Network, Shop]:
    """One frozen project in the record's own form: people by name, benches, vendors' days."""
    raw = frozen(size)[0].raw
    crafts = {"sheet-metal mechanic": "sheet metal", "mechanic": "fitting", "welder": "welding", "painter": "painting"}
    jobs, links = [], []
    for job in raw["jobs"]:
        skill = next((crafts[r] for r in job["needs"] if r in crafts), "")
        bench = next((r for r in job["needs"] if r in ("fixture A", "spray booth", "bench")), "")
        triple = Triple(job["least"] * 4.0, job["likely"] * 4.0, job["most"] * 4.0)
        key, what = f"hand:{job['id']:04}:do", f"{job['kind']} {job['id']}."
        if job["needs"]:
            person = "Craftsman" if "outside craftsman" in job["needs"] else ""
            jobs.append(Job(key, what, skill, triple, bench=bench, person=person))
        else:
            days = Triple(*(max(1, job[part] * 5 // 14) for part in ("least", "likely", "most")))
            jobs.append(Job(key, what, vendor=f"V{job['id'] % 7}", days=days))
        links += [Link(f"hand:{before:04}:do", key) for before in job["after"]]
    people = (
        Person("Ada", frozenset({"sheet metal", "fitting"})), Person("Bo", frozenset({"sheet metal", "painting"})),
        Person("Cy", frozenset({"fitting", "welding"})), Person("Di", frozenset({"fitting"})),
        Person("Craftsman", frozenset({"craft"}), 8, frozenset({1, 2, 3})),
    )  # fmt: skip
    return Network(tuple(jobs), tuple(links)), Shop(
        MONDAY, people, (Bench("bench", 3), Bench("fixture A"), Bench("spray booth"))
    )


@figure("plan.why_ms", unit="ms", goal=200)
def why(full: bool) -> tuple[float, str]:
    """CPU time to say why the last of 300 jobs waits and what would shorten it, each found by planning again."""
    from witnessmark.calc.plan.solve import solve
    from witnessmark.calc.plan.what_if import last_job, why_and_what_helps

    network, shop = shop_of(300)
    schedule = solve(network, shop)
    told = why_and_what_helps(schedule, network, shop, last_job(schedule))
    taken = least_cpu_s(lambda: why_and_what_helps(schedule, network, shop, last_job(schedule)))
    return taken * 1000, f"{len(told.steps)} steps; {len(told.shorter)} of 4 tries shorten it"


@figure("plan.replan_cpu_s", unit="s", goal=0.5)
def replan(full: bool) -> tuple[float, str]:
    """CPU time to plan 300 jobs again after a day: a vendor five days late, a job twice as long, a new one.

    The note gives the share of next week's jobs that moved, of which the goal is at most 0.05.
    """
    from witnessmark.calc.plan.feasible import breaches
    from witnessmark.calc.plan.shop_project import better_plans
    from witnessmark.calc.plan.solve import solve
    from witnessmark.calc.plan.yesterday import Wishes

    network, shop = shop_of(300)
    old = solve(network, shop)
    starts = {entry.key: entry.start for entry in old.entries}
    week = {key: start for key, start in starts.items() if start < 7 * 96}
    next(islice(better_plans(network, shop, Wishes(starts)), 3, None))  # everything is compiled then
    moved, spent, wrong = [], [], 0
    for turn in range(10 if full else 5):
        chance = random.Random(SEED + turn)  # noqa: S311
        late = chance.choice([e for e in old.entries if network.by_key[e.key].vendor])
        longer = chance.choice([e for e in old.entries if network.by_key[e.key].hours.likely])
        jobs = []
        for job in network.jobs:
            if job.key == late.key:
                job = replace(job, days=Triple(*(d + 5 for d in (job.days.least, job.days.likely, job.days.most))))
            if job.key == longer.key:
                job = replace(job, hours=Triple(*(2 * h for h in (job.hours.least, job.hours.likely, job.hours.most))))
            jobs.append(job)
        jobs.append(Job("hand:new:do", "New.", "fitting", Triple(2, 4, 8)))
        other = Network(tuple(jobs), network.links)
        before = time.process_time()
        plans = better_plans(other, shop, Wishes(starts, {entry.key: entry.person for entry in old.entries}))
        best = next(plans)
        while time.process_time() - before < 0.3:
            best = next(plans)
        spent.append(time.process_time() - before)
        wrong += bool(breaches(best.schedule, other, shop))
        moved.append(sum(best.schedule.by_key[k].start != t for k, t in week.items()) / len(week))
    if wrong:
        raise RuntimeError(f"{wrong} plans made again cannot be worked")
    return max(spent), f"{statistics.mean(moved):.3f} of next week's {len(week)} jobs moved, at most {max(moved):.3f}"
