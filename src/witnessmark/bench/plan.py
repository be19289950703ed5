"""The plan's figures: published problem sets and frozen invented projects, CP-SAT alone and one serial pass beside them.

Times are CPU time of one thread. Every schedule is checked by the counter in `plan_files`, which shares no code with the
engine; what it finds is `plan.infeasible_shown`.
"""

import functools
import time
from collections.abc import Sequence
from typing import Any

from witnessmark.bench.figures import SEED, figure
from witnessmark.bench.plan_files import Instance, faults, frozen, psplib
from witnessmark.calc.plan.project import Project

SECONDS = 5.0
# Instances of each size that are given five seconds when not all are.
FIVE_SECOND_SAMPLES = {"j30": 32, "j60": 16, "j120": 8}
_shown: list[int] = []


def show(project: Project, starts: Sequence[int]) -> None:
    """Count a schedule as shown, and what is wrong with it."""
    _shown.append(faults(project, starts))


@functools.cache
def warm() -> None:
    """Have everything compiled before anything is timed."""
    from witnessmark.calc.plan.portfolio import best_within

    for calendar in ((), (0, 0, 0)):
        small = Project(
            (3, 4, 2),
            (((0, 1),), ((0, 1),), ()),
            (1,),
            ((0, 2, 0, -1),),
            40,
            calendar,
            (range(40),) if calendar else (),
        )
        best_within(small, 0.01, time.process_time)
        from witnessmark.calc.plan.improve import improved

        for number, _ in enumerate(improved(small, 1, None if calendar else lambda s, f: 0.0)):
            if number > 3:
                break
    from itertools import islice

    list(islice(improved(Project((3, 4, 2) * 3, (((0, 1),),) * 9, (2,), ((0, 2, 0, -1), (1, 3, 0, -1)), 90), 1), 4))


def serial_pass(project: Project) -> int:
    """One pass, the longest road first: the plain way."""
    from witnessmark.calc.plan.bounds import roads_after
    from witnessmark.calc.plan.improve import Passes

    placed = Passes(project).by_urgency(roads_after(project))
    return placed.end if placed else project.horizon


@functools.cache
def _at_five_seconds(kind: str, full: bool, sample: int) -> tuple[list[tuple[Instance, int, int, int]], float]:
    """Engine with polisher, CP-SAT alone and one pass, for each instance; and the CPU time a piece."""
    from witnessmark.calc.plan.polish import polished
    from witnessmark.calc.plan.portfolio import best_within

    warm()
    rows, spent = [], 0.0
    for instance in psplib(kind, full, sample):
        before = time.process_time()
        found = best_within(instance.project, SECONDS, time.process_time, SEED)
        spent += time.process_time() - before
        show(instance.project, found.start)
        alone = polished(instance.project, None, SECONDS, seed=SEED % 1000)
        rows.append((instance, found.end, alone.end, serial_pass(instance.project)))
    return rows, spent / len(rows)


def _gap(rows: list[tuple[Instance, int, int, int]], column: int) -> float:
    ends = [row[1:][column - 1] for row in rows]
    return sum(end / row[0].best - 1 for end, row in zip(ends, rows, strict=True)) / len(rows)


def _beside(rows: list[tuple[Instance, int, int, int]], spent: float) -> str:
    return (
        f"{len(rows)} instances, {spent:.2f} CPU-s each of one thread; gap of CP-SAT alone {_gap(rows, 2):.4f}, "
        f"of one serial pass {_gap(rows, 3):.4f}"
    )


@figure("plan.j30_optimal_5s", unit="share", goal=1.0, sense=">=")
def j30_optimal(full: bool) -> tuple[float, str]:
    """Share of the small published problems solved to the best known end, which is proved there."""
    rows, spent = _at_five_seconds("j30", full, FIVE_SECOND_SAMPLES["j30"])
    return sum(end <= instance.best for instance, end, _, _ in rows) / len(rows), _beside(rows, spent)


@figure("plan.j60_gap_5s", unit="gap", goal=0.0015)
def j60_gap(full: bool) -> tuple[float, str]:
    """Mean of end / best known end - 1."""
    rows, spent = _at_five_seconds("j60", full, FIVE_SECOND_SAMPLES["j60"])
    return _gap(rows, 1), _beside(rows, spent)


@figure("plan.j120_gap_5s", unit="gap", goal=0.025)
def j120_gap(full: bool) -> tuple[float, str]:
    """Mean of end / best known end - 1."""
    rows, spent = _at_five_seconds("j120", full, FIVE_SECOND_SAMPLES["j120"])
    return _gap(rows, 1), _beside(rows, spent)


@functools.cache
def _after_5000_passes(full: bool) -> list[tuple[Instance, int, int]]:
    """The end after 5,000 passes, each pass forwards or backwards counted, and that of one serial pass."""
    from witnessmark.calc.plan.improve import improved

    warm()
    rows = []
    for instance in psplib("j120", full, 60):
        best = None
        for placed in improved(instance.project, SEED % 1000):
            if placed.passes > 5000:
                break
            best = placed
        assert best is not None
        show(instance.project, best.start)
        rows.append((instance, best.end, serial_pass(instance.project)))
    return rows


@figure("plan.j120_over_critical_path_5000_schedules", unit="share", goal=0.314)
def j120_5000(full: bool) -> tuple[float, str]:
    """Mean of end / critical path - 1 after 5,000 passes."""
    rows = _after_5000_passes(full)

    def over(ends: list[int]) -> float:
        return sum(end / row[0].critical_path - 1 for end, row in zip(ends, rows, strict=True)) / len(rows)

    known, serial = over([row[0].best for row in rows]), over([row[2] for row in rows])
    return over([row[1] for row in rows]), (
        f"{len(rows)} instances; best known {known:.4f} on these, one serial pass {serial:.4f}"
    )


@functools.cache
def _frozen_within(size: int, seconds: float) -> list[tuple[str, Any, int]]:
    from witnessmark.calc.plan.portfolio import best_within

    warm()
    rows = []
    for one in frozen(size):
        found = best_within(one.project, seconds, time.process_time, SEED)
        show(one.project, found.start)
        rows.append((one.name, found, serial_pass(one.project)))
    return rows


@figure("plan.jobs3000_over_bound_2cpu_s", unit="gap", goal=0.010)
def jobs3000(full: bool) -> tuple[float, str]:
    """Mean of end / proven bound - 1 of the 3,000-job projects after 2 CPU-seconds."""
    rows = _frozen_within(3000, 2.0)
    told = "; ".join(f"{name} {found.end} (bound {found.bound}, one pass {serial})" for name, found, serial in rows)
    return sum(found.over_bound for _, found, _ in rows) / len(rows), told


@figure("plan.jobs300_first_answer_ms", unit="ms", goal=50)
def first_answer(full: bool) -> tuple[float, str]:
    """CPU time from the raw jobs to the first schedule, 300 jobs, the compiled engine being loaded; the slowest of three."""
    from witnessmark.bench.figures import least_cpu_s
    from witnessmark.bench.plan_files import as_project
    from witnessmark.calc.plan.improve import improved

    warm()
    slowest = 0.0
    for one in frozen(300):
        show(one.project, next(improved(one.project, SEED)).start)
        slowest = max(slowest, least_cpu_s(lambda raw=one.raw: next(improved(as_project(raw), SEED))))  # type: ignore[misc]
    return slowest * 1000, "arrays made anew each time; least of five"


@figure("plan.infeasible_shown", unit="schedules", goal=0)
def infeasible_shown(full: bool) -> tuple[float, str]:
    """Schedules of all the figures above in which the independent counter finds anything wrong; each is made once a run."""
    for kind, sample in FIVE_SECOND_SAMPLES.items():
        _at_five_seconds(kind, full, sample)
    _after_5000_passes(full)
    _frozen_within(3000, 2.0)
    first_answer(full)
    return sum(1 for wrong in _shown if wrong), f"{len(_shown)} schedules checked"
