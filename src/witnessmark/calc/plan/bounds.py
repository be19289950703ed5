"""How early a project can end at best, and how urgent each job is for its end."""

from __future__ import annotations

from bisect import bisect_left
from typing import Any

import numpy as np

from witnessmark.calc.plan.project import ALWAYS, VENDOR, Project


def earliest(project: Project) -> tuple[Any, Any]:
    """Return starts and ends with everybody always free.

    Parameters
    ----------
    project : Project
        Jobs, links, calendars. [-]

    Returns
    -------
    tuple of two arrays
        Starts and ends, by job. [units]

    Raises
    ------
    ValueError
        Jobs wait for one another, or the grid is too short.

    Notes
    -----
    Of several who may do a job the one who ends first counts.

    Examples
    --------
    >>> [list(map(int, times)) for times in earliest(Project((3, 4), ((), ()), (), ((0, 1, 2, -1),), 20))]
    [[0, 5], [3, 9]]

    References
    ----------
    kolisch-1996
    """
    start, finish = np.zeros(project.size, np.int64), np.zeros(project.size, np.int64)
    before: list[list[tuple[int, int]]] = [[] for _ in range(project.size)]
    for one, other, lag, _ in project.links:
        before[other].append((one, lag))
    for j in project.topological:
        ready = max([finish[k] + lag for k, lag in before[j]], default=0)
        if project.release:
            ready = max(ready, project.release[j])
        calendars = [c for _, c in project.choices[j]] if project.choices and project.choices[j] else []
        calendars = calendars or [project.calendar[j] if project.calendar else ALWAYS]
        start[j], finish[j] = min((_run(project, int(ready), j, c) for c in calendars), key=lambda run: run[1])
    return start, finish


def _run(project: Project, ready: int, job: int, calendar: int) -> tuple[int, int]:
    length = project.duration[job]
    if ready >= project.horizon:
        raise ValueError("the time that the project is given is too short")
    if length == 0 or calendar == ALWAYS:
        return ready, ready + length
    if calendar == VENDOR:
        assert project.vendor is not None
        leave, day, opening = project.vendor
        begin = int(leave[ready])
        return begin, int(opening[int(day[begin]) + length])
    units = project.open_units[calendar]
    at = int(np.searchsorted(units, ready))
    if at + length > len(units):
        raise ValueError("the time that the project is given is too short")
    return int(units[at]), int(units[at + length - 1]) + 1


def roads_after(project: Project) -> Any:
    """Return the least time from the end of each job to the end of all, calendars left out.

    Parameters
    ----------
    project : Project
        Jobs and links. [-]

    Returns
    -------
    array
        By job. [units]

    Raises
    ------
    ValueError
        Jobs wait for one another.

    Notes
    -----
    Everybody is always free.

    Examples
    --------
    >>> roads_after(Project((3, 4), ((), ()), (), ((0, 1, 2, -1),), 20)).tolist()
    [6, 0]

    References
    ----------
    none: counting only.
    """
    tail = np.zeros(project.size, np.int64)
    after: list[list[tuple[int, int]]] = [[] for _ in range(project.size)]
    for one, other, lag, _ in project.links:
        after[one].append((other, lag))
    for j in reversed(project.topological):
        tail[j] = max([project.duration[k] + lag + tail[k] for k, lag in after[j]], default=0)
    return tail


def least_finish(project: Project) -> int:
    """Return a time before which the project cannot end.

    Parameters
    ----------
    project : Project
        Jobs, links, resources, calendars. [-]

    Returns
    -------
    int
        The greatest of the longest road and, for each resource, the work of the jobs between a head and a tail. [units]

    Raises
    ------
    ValueError
        Jobs wait for one another, or the grid is too short.

    Notes
    -----
    A proven bound. A resource counts where all jobs that need it keep one calendar.

    Examples
    --------
    >>> least_finish(Project((3, 4), (((0, 1),), ((0, 1),)), (1,), (), 20))
    7

    References
    ----------
    kolisch-1996
    """
    start, finish = earliest(project)
    low = int((finish + roads_after(project)).max(initial=0))
    tests = _energy_tests(project)
    high = low
    for _, _, calendar, work in tests:
        high = max(high, _end_of(project, calendar, 0, int(work.sum())) + int(finish.max(initial=0)))
    # The least end that the work of no resource contradicts, by halving.
    while low < high:
        middle = (low + high) // 2
        if _contradicted(project, middle, start, tests):
            low = middle + 1
        else:
            high = middle
    return low


def _energy_tests(project: Project) -> list[tuple[int, Any, int, Any]]:
    """For each resource whose jobs keep one calendar: capacity, jobs, calendar, units of work of each job."""
    length = np.array(project.duration)
    tests = []
    for r, capacity in enumerate(project.capacity):
        amount = np.array([sum(a for q, a in row if q == r) for row in project.needs])
        jobs = np.flatnonzero((amount > 0) & (length > 0))
        calendars = {project.calendar[j] if project.calendar else ALWAYS for j in jobs}
        chosen = bool(project.choices) and any(project.choices[j] for j in jobs)
        if len(jobs) and capacity and len(calendars) == 1 and not chosen and VENDOR not in calendars:
            tests.append((capacity, jobs, calendars.pop(), length[jobs] * amount[jobs]))
    return tests


def _contradicted(project: Project, end: int, start: Any, tests: list[tuple[int, Any, int, Any]]) -> bool:
    latest = latest_ends(project, end)
    for capacity, jobs, calendar, work in tests:
        heads, lasts = start[jobs], latest[jobs]
        for head in _some(heads):
            by_last = np.argsort(lasts, kind="stable")
            inside = np.where(heads[by_last] >= head, work[by_last], 0).cumsum()
            ends = lasts[by_last]
            if calendar == ALWAYS:
                room = ends - head
            else:
                units = project.open_units[calendar]
                room = np.searchsorted(units, ends) - np.searchsorted(units, head)
            if bool((inside > np.maximum(room, 0) * capacity).any()):
                return True
    return False


def latest_ends(project: Project, end: int) -> Any:
    """Return the latest end of each job where all is to end by a time and everybody is always free.

    Parameters
    ----------
    project : Project
        Jobs and links. [-]
    end : int
        End of all. [units]

    Returns
    -------
    array
        By job. [units]

    Raises
    ------
    ValueError
        Jobs wait for one another.

    Notes
    -----
    Vendors' days count as units, which is never too early.

    Examples
    --------
    >>> latest_ends(Project((3, 4), ((), ()), (), ((0, 1, 2, -1),), 20), 10).tolist()
    [4, 10]

    References
    ----------
    none: counting only.
    """
    latest = np.full(project.size, end, np.int64)
    after: list[list[tuple[int, int]]] = [[] for _ in range(project.size)]
    for one, other, lag, _ in project.links:
        after[one].append((other, lag))
    begin = [0] * project.size
    units = [np.asarray(u).tolist() for u in project.open_units]
    for j in reversed(project.topological):
        last = min([begin[k] - lag for k, lag in after[j]], default=end)
        length = project.duration[j]
        calendar = project.calendar[j] if project.calendar else ALWAYS
        begin[j] = last - length
        if calendar >= 0 and length:
            at = bisect_left(units[calendar], last) - length
            begin[j] = units[calendar][at] if at >= 0 else -1
        latest[j] = last
    return latest


def _some(values: Any) -> Any:
    distinct = np.unique(values)
    return distinct[:: max(1, len(distinct) // 25)]


def _end_of(project: Project, calendar: int, head: int, work: int) -> int:
    if calendar == ALWAYS:
        return head + work
    units = project.open_units[calendar]
    at = int(np.searchsorted(units, head)) + work - 1
    return int(units[at]) + 1 if at < len(units) else head + work


def shares(project: Project) -> Any:
    """Return which part of each resource a job takes: one row a job, one column a resource.

    Parameters
    ----------
    project : Project
        Jobs and links. [-]

    Returns
    -------
    array
        Shares, shape (jobs, resources). [-]

    Raises
    ------
    ValueError
        Jobs wait for one another.

    Notes
    -----
    One of several who may do a job counts with his part of the chance.

    Examples
    --------
    >>> shares(Project((3,), (((0, 1),),), (2,), (), 20)).tolist()
    [[0.5]]

    References
    ----------
    none: counting only.
    """
    share = np.zeros((project.size, len(project.capacity)))
    for j, row in enumerate(project.needs):
        for r, amount in row:
            share[j, r] = amount / max(1, project.capacity[r])
        for r, _ in project.choices[j] if project.choices else ():
            share[j, r] = 1 / len(project.choices[j])
    return share
