"""The exact solver beside the engine: it polishes a schedule, proves how early the end can be, and says what cannot be."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from witnessmark.calc.plan.project import ALWAYS, VENDOR, Project


@dataclass(frozen=True)
class Polished:
    """What the exact solver found. `start`: None where it found nothing within its time."""

    start: Any
    end: int
    bound: int
    proven: bool
    impossible: bool = False


def polished(
    project: Project,
    hint: Any,
    seconds: float,
    end: int | None = None,
    bound: int = 0,
    free: Any = None,
    seed: int = 1,
) -> Polished:
    """Return a schedule at least as early as a hint, and a proven bound.

    Parameters
    ----------
    project : Project
        Jobs, links, resources, calendars; no choice of who. [-]
    hint : array or None
        Starts of a complete schedule. [units]
    seconds : float
        CPU time of one thread. [s]
    end : int or None
        The end must not be later. [units]
    bound : int
        An end that is known to be the least. [units]
    free : array of bool or None
        Jobs that may move; the others keep their start. Without it all may. [-]
    seed : int
        Start of the chance. [-]

    Returns
    -------
    Polished
        Starts, end, bound; `proven` where they meet; `impossible` where nothing keeps all conditions.

    Raises
    ------
    ValueError
        The project lets people be chosen: name them first.

    Notes
    -----
    OR-tools CP-SAT with one worker. Its schedules are checked like all others before they are shown.

    Examples
    --------
    >>> polished(Project((3, 4), (((0, 1),), ((0, 1),)), (1,), (), 20), None, 5).end
    7

    References
    ----------
    or-tools-cp-sat
    """
    from ortools.sat.python import cp_model

    if any(project.choices or ()):
        raise ValueError("the exact solver takes jobs whose person is named")
    latest = min(end if end is not None else project.horizon - 1, project.horizon - 1)
    model = cp_model.CpModel()
    starts, ends, spans = _variables(model, project, latest, hint, free)
    for before, after, least, most in project.links:
        model.add(starts[after] >= ends[before] + least)
        if most >= 0:
            model.add(starts[after] <= ends[before] + most)
    for r, capacity in enumerate(project.capacity):
        those = [(j, a) for j, row in enumerate(project.needs) for q, a in row if q == r and project.duration[j]]
        if sum(a for _, a in those) > capacity:
            model.add_cumulative([spans[j] for j, _ in those], [a for _, a in those], capacity)
    last = model.new_int_var(bound, latest, "end")
    for variable in ends:
        model.add(last >= variable)
    model.minimize(last)
    if hint is not None:
        for variable, value in zip(starts, hint, strict=True):
            if not isinstance(variable, int):
                model.add_hint(variable, int(value))
        model.add_hint(last, latest)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.random_seed = seed
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return Polished(None, latest, latest + 1, False, True)
    proved = max(bound, int(np.ceil(solver.best_objective_bound - 1e-6)))
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Polished(None, latest, proved, False)
    found = np.array([v if isinstance(v, int) else solver.value(v) for v in starts], np.int32)
    return Polished(found, int(solver.objective_value), proved, status == cp_model.OPTIMAL)


def _variables(
    model: Any, project: Project, latest: int, hint: Any, free: Any
) -> tuple[list[Any], list[Any], list[Any]]:
    starts: list[Any] = []
    ends: list[Any] = []
    spans: list[Any] = []
    for j, length in enumerate(project.duration):
        release = project.release[j] if project.release else 0
        calendar = project.calendar[j] if project.calendar else ALWAYS
        due = project.due[j] if project.due else latest
        if free is not None and not free[j]:
            release = int(hint[j])
            start: Any = model.new_constant(release)
        else:
            start = model.new_int_var(release, latest, "")
        if length == 0 or calendar == ALWAYS:
            finish = start + length
            spans.append(model.new_fixed_size_interval_var(start, length, ""))
            model.add(finish <= min(due, latest))
        else:
            units, closes = _open_runs(project, calendar, length, release, latest)
            if not len(units):
                model.add_bool_or([])
                units, closes = np.array([release]), np.array([release])
            at = model.new_int_var(0, len(units) - 1, "")
            finish = model.new_int_var(0, min(due, latest), "")
            model.add_element(at, [int(u) for u in units], start)
            model.add_element(at, [int(u) for u in closes], finish)
            size = model.new_int_var(0, latest, "")
            spans.append(model.new_interval_var(start, size, finish, ""))
        starts.append(start)
        ends.append(finish)
    return starts, ends, spans


def _open_runs(project: Project, calendar: int, length: int, release: int, latest: int) -> tuple[Any, Any]:
    """Starts at which a job may begin on a calendar, and where it then ends."""
    if calendar == VENDOR:
        assert project.vendor is not None
        leave, day, opening = (np.asarray(a) for a in project.vendor)
        units = np.unique(leave[release : latest + 1])
        units = units[units <= latest]
        closes = opening[np.minimum(day[units] + length, len(opening) - 1)]
    else:
        all_units = np.asarray(project.open_units[calendar])
        count = len(all_units) - length + 1
        units, closes = all_units[: max(0, count)], all_units[length - 1 :][: max(0, count)] + 1
        keep = units >= release
        units, closes = units[keep], closes[keep]
    keep = closes <= latest
    return units[keep], closes[keep]


@dataclass(frozen=True)
class Condition:
    """Something asked of the plan that may be asked too much: a job ends by a time, or starts soon after another."""

    said: str
    job: int
    not_after: int
    behind: int = -1


def asked_too_much(project: Project, conditions: tuple[Condition, ...], seconds: float = 5.0) -> tuple[str, ...]:
    """Return which of the conditions cannot be kept together.

    Parameters
    ----------
    project : Project
        Jobs, links, resources, calendars; no choice of who. [-]
    conditions : tuple of Condition
        `not_after`: a due time, or with `behind` the most between the end of that job and the start. [units]
    seconds : float
        CPU time of one thread. [s]

    Returns
    -------
    tuple of str
        What was said of each of them; none where all can be kept or nothing was proved in time.

    Raises
    ------
    ValueError
        The project lets people be chosen.

    Notes
    -----
    A core of the conditions proved to be impossible together with the links, calendars and resources.

    Examples
    --------
    >>> one = Project((3, 4), (((0, 1),), ((0, 1),)), (1,), (), 20)
    >>> asked_too_much(one, (Condition("A by 3", 0, 3), Condition("B by 6", 1, 6)))
    ('A by 3', 'B by 6')

    References
    ----------
    or-tools-cp-sat
    """
    from ortools.sat.python import cp_model

    if any(project.choices or ()):
        raise ValueError("the exact solver takes jobs whose person is named")
    model = cp_model.CpModel()
    starts, ends, spans = _variables(model, project, project.horizon - 1, None, None)
    for before, after, least, _ in project.links:
        model.add(starts[after] >= ends[before] + least)
    for r, capacity in enumerate(project.capacity):
        those = [(j, a) for j, row in enumerate(project.needs) for q, a in row if q == r and project.duration[j]]
        model.add_cumulative([spans[j] for j, _ in those], [a for _, a in those], capacity)
    asked = []
    for condition in conditions:
        wanted = model.new_bool_var("")
        if condition.behind >= 0:
            model.add(starts[condition.job] <= ends[condition.behind] + condition.not_after).only_enforce_if(wanted)
        else:
            model.add(ends[condition.job] <= condition.not_after).only_enforce_if(wanted)
        asked.append(wanted)
    model.add_assumptions(asked)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = seconds
    if solver.solve(model) != cp_model.INFEASIBLE:
        return ()
    core = set(solver.sufficient_assumptions_for_infeasibility())
    return tuple(c.said for c, wanted in zip(conditions, asked, strict=True) if wanted.index in core)
