"""Problem sets for the plan's figures, read from a folder outside the project; and a checker that shares no code.

Looked for in `WITNESSMARK_BENCHMARKS`, else in `shared/benchmarks` beside the checkout.
"""

import csv
import json
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from witnessmark.bench.figures import NotMeasured
from witnessmark.calc.plan.project import Project

WORKING_DAYS = {0: range(7), 1: range(5), 2: range(1, 4)}


def folder() -> Path:
    """Give the folder of the problem sets, or say that it is not here."""
    named = os.environ.get("WITNESSMARK_BENCHMARKS", "")
    found = Path(named) if named else Path(__file__).resolve().parents[3].parent / "shared" / "benchmarks"
    if not found.is_dir():
        raise NotMeasured("no files; WITNESSMARK_BENCHMARKS names the folder that holds psplib and restoration_jobs")
    return found


@dataclass(frozen=True)
class Instance:
    """One PSPLIB problem with the best that is known of it."""

    name: str
    project: Project
    best: int
    critical_path: int


def psplib(kind: str, full: bool, sample: int) -> list[Instance]:
    """Read all instances of a set, or so many evenly spread over its sorted list."""
    home = folder() / "psplib"
    if not (home / "best_known.csv").is_file():
        raise NotMeasured(f"no files in {home}")
    with (home / "best_known.csv").open() as lines:
        rows = sorted(
            (row for row in csv.DictReader(lines) if row["set"] == kind), key=lambda row: _number(row["instance"])
        )
    rows = [row for row in rows if (home / kind / row["instance"]).is_file()]
    if not full:
        rows = [rows[(2 * k + 1) * len(rows) // (2 * sample)] for k in range(min(sample, len(rows)))]
    return [
        Instance(row["instance"], read_sm(home / kind / row["instance"]), int(row["ub"]), int(row["cpm"]))
        for row in rows
    ]


def _number(name: str) -> tuple[int, int]:
    first, second = name.split(".")[0].split("_")
    return int(first[1:]), int(second)


def read_sm(path: Path) -> Project:
    """Read one single-mode file; the jobs that only mark begin and end are left out."""
    lines = path.read_text().splitlines()

    def table(title: str, skip: int) -> list[list[int]]:
        at = next(k for k, line in enumerate(lines) if line.startswith(title)) + skip
        rows = []
        while at < len(lines) and not lines[at].startswith("*"):
            rows.append([int(word) for word in lines[at].split()])
            at += 1
        return rows

    after = {row[0]: row[3:] for row in table("PRECEDENCE", 2)}
    asked = {row[0]: (row[2], row[3:]) for row in table("REQUESTS", 3)}
    capacity = table("RESOURCEAVAIL", 2)[0]
    last = max(after)
    jobs = range(2, last)
    return Project(
        duration=tuple(asked[j][0] for j in jobs),
        needs=tuple(tuple((r, a) for r, a in enumerate(asked[j][1]) if a) for j in jobs),
        capacity=tuple(capacity),
        links=tuple((j - 2, k - 2, 0, -1) for j in jobs for k in after[j] if k < last),
        horizon=sum(asked[j][0] for j in jobs) + 1,
    )


@dataclass(frozen=True)
class Frozen:
    """One invented restoration project, and its file as read."""

    name: str
    project: Project
    raw: dict[str, Any]


def frozen(size: int, duration: str = "likely") -> list[Frozen]:
    """Read the invented projects of a size: half-days, day 0 a Monday."""
    found = sorted((folder() / "restoration_jobs").glob(f"jobs_{size}_*.json"))
    if not found:
        raise NotMeasured(f"no files jobs_{size}_*.json in {folder() / 'restoration_jobs'}")
    return [Frozen(path.stem, as_project(raw := json.loads(path.read_text()), duration), raw) for path in found]


def as_project(raw: dict[str, Any], duration: str = "likely") -> Project:
    """Put one file into arrays."""
    import numpy as np

    names = list(raw["resources"])
    jobs = raw["jobs"]
    horizon = 900 if len(jobs) < 1000 else 4200
    units = np.arange(horizon)
    return Project(
        duration=tuple(job[duration] for job in jobs),
        needs=tuple(tuple((names.index(r), a) for r, a in job["needs"].items()) for job in jobs),
        capacity=tuple(raw["resources"].values()),
        links=tuple((before, job["id"], 0, -1) for job in jobs for before in job["after"]),
        horizon=horizon,
        calendar=tuple(job["calendar"] - 1 for job in jobs),
        open_units=tuple(units[np.isin(units // 2 % 7, list(WORKING_DAYS[c]))] for c in (1, 2)),
    )


def faults(project: Project, starts: Sequence[int]) -> int:
    """Count what a schedule breaks, unit by unit, with nothing of the code that made it."""
    wrong = 0
    if len(starts) != project.size:
        return 1
    open_sets = [set(map(int, units)) for units in project.open_units]
    ends, used = [], dict[tuple[int, int], int]()
    for job, begin in enumerate(map(int, starts)):
        calendar = project.calendar[job] if project.calendar else -1
        left, at = project.duration[job], begin
        if begin < 0 or (left and calendar >= 0 and begin not in open_sets[calendar]):
            wrong += 1
        while left:
            if at > 2 * project.horizon:
                wrong += 1
                break
            if calendar < 0 or at in open_sets[calendar]:
                left -= 1
            for resource, amount in project.needs[job]:
                used[at, resource] = used.get((at, resource), 0) + amount
            at += 1
        ends.append(at)
    wrong += sum(1 for (_, resource), amount in used.items() if amount > project.capacity[resource])
    wrong += sum(1 for before, after, lag, _ in project.links if int(starts[after]) < ends[before] + lag)
    return wrong
