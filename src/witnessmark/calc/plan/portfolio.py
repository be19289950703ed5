"""Engine and exact solver together: the best schedule within a time, and how far it is from the proven bound."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from witnessmark.calc.plan.bounds import least_finish
from witnessmark.calc.plan.improve import improved
from witnessmark.calc.plan.polish import polished
from witnessmark.calc.plan.project import ALWAYS, Project


@dataclass(frozen=True)
class Found:
    """The best schedule: starts by job, its end, and an end that is proved to be the least."""

    start: Any
    end: int
    bound: int

    @property
    def over_bound(self) -> float:
        """How far the end lies over the bound, as a share of it."""
        return self.end / self.bound - 1 if self.bound else 0.0


def best_within(project: Project, seconds: float, clock: Callable[[], float], seed: int = 1) -> Found:
    """Return the best schedule found within a time.

    Parameters
    ----------
    project : Project
        Jobs, links, resources, calendars. [-]
    seconds : float
        Time by the clock that is given. [s]
    clock : callable
        Says the time. [s]
    seed : int
        Start of the chance. [-]

    Returns
    -------
    Found
        Schedule and bound.

    Raises
    ------
    ValueError
        Jobs wait for one another, or no schedule fits the grid.

    Notes
    -----
    Up to about 80 jobs the exact solver takes over after a part of the time, with the engine's schedule as a complete
    hint; above that the engine keeps the time, for a cold exact solver does worse.

    Examples
    --------
    >>> best_within(Project((3, 4), (((0, 1),), ((0, 1),)), (1,), (), 20), 1, lambda: 0.0).end
    7

    References
    ----------
    kolisch-1996, or-tools-cp-sat
    """
    began = clock()
    bound = least_finish(project)
    plain = not any(project.choices or ()) and set(project.calendar or [ALWAYS]) == {ALWAYS}
    exact = plain and project.size <= EXACT_UP_TO
    share = (0.04 if project.size <= 40 else 0.3) if exact else 1.0
    rows = 80 if seconds * share < 1 else ROWS_EXACT if exact else ROWS_LONG
    through = (lambda _: STEADY) if exact else (lambda _: (clock() - began) / max(seconds * share, 1e-9))
    best = None
    for placed in improved(project, seed, rows=rows, prompt=0 if exact else rows, through=through):
        if best is None or placed.end < best.end:
            best = placed
        if best.end <= bound or clock() - began >= seconds * share:
            break
    assert best is not None
    start, end = best.start, best.end
    left = seconds - (clock() - began)
    if exact and end > bound and left > 0:
        told = polished(project, start, left, end, bound)
        bound = max(bound, min(told.bound, end))
        if told.start is not None and told.end < end:
            start, end = told.start, told.end
    return Found(start, end, bound)


# By trial on published instances: a small project is searched long for its size, and there a varied generation that is
# never brought to rest finds more than one that is.
EXACT_UP_TO, ROWS_EXACT, ROWS_LONG, STEADY = 80, 800, 400, 0.75
