"""Better schedules of a project the longer one looks: a first answer at once, then the best so far."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from witnessmark.calc.plan.bounds import least_finish, roads_after, shares
from witnessmark.calc.plan.project import ALWAYS, Project

Cost = Callable[[Any, Any], float]


@dataclass(frozen=True)
class Placed:
    """One schedule: starts and ends by job, who does it (a resource or -1), its end, passes used, and its order."""

    start: Any
    finish: Any
    who: Any
    end: int
    passes: int
    order: Any


class Passes:
    """The engine with its memory for one project: what runs again and again allocates nothing."""

    def __init__(self, project: Project) -> None:
        from witnessmark.calc.plan.engine import NO_TIME, _backward, _forward

        self.project, self.arrays, self.used = project, project.arrays, 0
        self._forward, self._backward, self._no_time = _forward, _backward, NO_TIME
        n, resources = project.size, max(1, len(project.capacity))
        self.free = np.zeros((2 * project.horizon + 2, resources), np.int32)
        self.skip = np.zeros((project.horizon + 1, resources), np.int32)
        self._topological = np.array(project.topological, np.int64)
        self._rank = np.empty(n, np.int64)
        self._rank[self._topological] = np.arange(n)
        due = np.array(project.due or [project.horizon] * n, float)
        self._pressing = np.maximum(project.horizon - due, 0.0)
        self._length, self._share = np.array(project.duration, float), shares(project)

    def forwards(self, order: Any) -> Placed | None:
        """Place the jobs early in an order; None where the grid is too short for it."""
        n = self.project.size
        start, finish, who = np.zeros(n, np.int32), np.zeros(n, np.int32), np.full(n, -1, np.int32)
        order = np.asarray(order, np.int64)
        end = self._forward(self.arrays, order, start, finish, who, self.free, self.skip)
        self.used += 1
        return None if end >= self._no_time else Placed(start, finish, who, int(end), self.used, order)

    def justified(self, placed: Placed) -> Placed:
        """Push all to the right, then to the left again: never later where no calendar closes."""
        n = self.project.size
        start, finish = np.zeros(n, np.int32), np.zeros(n, np.int32)
        order = np.lexsort((-self._rank, -placed.start, -placed.finish))
        span = placed.finish - placed.start
        low = self._backward(self.arrays, order, span, placed.who, placed.end, start, finish, self.free)
        self.used += 1
        if low <= -self._no_time:
            return placed
        again = self.forwards(np.lexsort((self._rank, finish, start)))
        return again if again is not None else placed

    def by_urgency(self, urgency: Any) -> Placed | None:
        """Place the jobs by urgency, the highest first, each after what it waits for."""
        return self.forwards(self.order_by(urgency))

    def order_by(self, urgency: Any) -> Any:
        """Jobs by urgency where nothing waits for something that comes later."""
        from heapq import heapify, heappop, heappush

        succ: list[list[int]] = [[] for _ in range(self.project.size)]
        for before, after, _, _ in self.project.links:
            succ[before].append(after)
        left = np.diff(self.arrays[4]).tolist()
        keys = (-np.asarray(urgency)).tolist()
        ready = [(keys[j], j) for j, count in enumerate(left) if not count]
        heapify(ready)
        order = []
        while ready:
            _, j = heappop(ready)
            order.append(j)
            for k in succ[j]:
                left[k] -= 1
                if not left[k]:
                    heappush(ready, (keys[k], k))
        return np.array(order, np.int64)

    def by_weights(self, weights: Any) -> Placed | None:
        """Place the jobs by their longest road, where time at each resource counts by its weight.

        The last two weights are those of time by the clock and of how early a job is due.
        """
        from witnessmark.calc.plan.evolve import _roads

        road = np.zeros(self.project.size)
        own = self._length * (self._share @ weights[:-2] + weights[-2])
        _roads(self.arrays, self._topological, own, self._pressing * weights[-1], road)
        # A road is never shorter than one behind it, so that sorted roads are an order that can be worked.
        return self.forwards(np.lexsort((self._rank, -road)))


def improved(
    project: Project,
    seed: int,
    cost: Cost | None = None,
    hints: tuple[Any, ...] = (),
    rows: int = 80,
    prompt: int = 80,
    through: Callable[[int], float] = lambda passes: passes / 5000,
) -> Iterator[Placed]:
    """Yield schedules of a project, each better than the one before, as long as it is asked for more.

    Parameters
    ----------
    project : Project
        Jobs, links, resources, calendars. [-]
    seed : int
        Start of the chance. [-]
    cost : callable or None
        Cost of starts and ends; without it the end of the last job. [-]
    hints : tuple
        Orders to begin with, such as yesterday's. [-]
    rows : int
        Schedules in one generation. [-]
    prompt : int
        In so many of the first ones nothing that can begin is kept waiting; the others are less alike. [-]
    through : callable
        How far the search is through its time after so many passes; from 1 on it goes on at its sharpest. [-]

    Returns
    -------
    iterator of Placed
        The first after one pass. The same is yielded again while nothing better is found, so that the caller can stop.

    Raises
    ------
    ValueError
        Jobs wait for one another, or no schedule fits the grid.

    Notes
    -----
    Where nothing but resources and links binds and the end alone counts, schedules are pushed right and left by turns and
    recombined (`evolve`), from wide windows to narrow ones. Else the weights of the resources in the longest road are
    searched, then orders are recombined. Ends when the proven bound is reached.

    Examples
    --------
    >>> two = Project((3, 4), (((0, 1),), ((0, 1),)), (1,), (), 20)
    >>> next(improved(two, 1)).end
    7

    References
    ----------
    kolisch-1996, debels-vanhoucke-2007, valls-2005
    """
    passes = Passes(project)
    bound = least_finish(project)
    plain = cost is None and not project.choices and set(project.calendar or [ALWAYS]) == {ALWAYS}
    priced = cost or (lambda start, finish: float(finish.max(initial=0)))
    best: Placed | None = None
    price = np.inf
    firsts = [passes.forwards(order) for order in hints] or [
        passes.by_weights(np.array([0.0] * len(project.capacity) + [1.0, 1.0]))
    ]
    for found in firsts:
        if found is not None and priced(found.start, found.finish) < price:
            best, price = found, priced(found.start, found.finish)
    if best is None:
        raise ValueError("no schedule fits the time that the project is given")
    yield best
    if cost is None and best.end <= bound:
        return
    search = (
        _recombined(passes, seed, bound, rows, prompt, through)
        if plain
        else _by_weights(passes, seed, best, priced, cost is not None)
    )
    for found in search:
        if found is not None:
            now = priced(found.start, found.finish)
            if now < price:
                best, price = found, now
        yield replace(best, passes=passes.used)
        if cost is None and best.end <= bound:
            return


def _recombined(
    passes: Passes, seed: int, bound: int, rows: int, prompt: int, through: Callable[[int], float]
) -> Iterator[Placed | None]:
    from witnessmark.calc.plan.evolve import _evolve, _first_orders

    project = passes.project
    n = project.size
    start, finish = np.zeros((rows, n), np.int32), np.zeros((rows, n), np.int32)
    end = np.zeros(rows, np.int64)
    who, best = np.full(n, -1, np.int32), np.zeros(n, np.int32)
    room = (passes.free, passes.skip)
    urgency = roads_after(project).astype(float)
    noises = np.array(NOISES) * float(np.mean(project.duration or [1]))
    passes.used += _first_orders(passes.arrays, urgency, noises, prompt, seed, start, finish, end, who, *room)
    row = int(end.argmin())
    yield Placed(start[row].copy(), finish[row].copy(), who.copy(), int(end[row]), passes.used, start[row].argsort())
    right, duration = False, np.array(project.duration, np.int32)
    while True:
        seed += 1
        now = min(1.0, through(passes.used)) ** 2
        draws, widest, swaps = (first + now * (last - first) for first, last in (DRAWS, WIDEST, SWAPS))
        widths = np.array([NARROWEST, widest])
        least = _evolve(
            passes.arrays, start, finish, end, 2, seed, right, draws, widths, swaps, bound, best, who, *room
        )
        passes.used += 2 * rows
        yield Placed(best.copy(), best + duration, who.copy(), int(least), passes.used, best.argsort())


# Found by trial on a third of the published instances of 120 jobs. At first and at last: the mothers drawn for one, the
# widest window as a share of the end, the share of neighbours in the order that change places. Noises, in mean durations: of the first schedules in
# which nothing that can begin waits, and of the others.
DRAWS, WIDEST, SWAPS = (3.0, 15.0), (0.6, 0.2), (0.2, 0.0)
NARROWEST, NOISES = 0.1, (6.0, 25.0)


def _by_weights(passes: Passes, seed: int, best: Placed, priced: Cost, shuffle: bool) -> Iterator[Placed | None]:
    """Search how much each resource counts in the longest road, then recombine the best orders found."""
    chance = np.random.default_rng(seed)
    project = passes.project
    resources = len(project.capacity)
    kept: list[tuple[float, Any, Placed]] = [
        (priced(best.start, best.finish), np.array([0.0] * resources + [1.0, 1.0]), best)
    ]
    turn = 0
    n = project.size
    while True:
        turn += 1
        if shuffle and turn % 4 == 0:
            # A few jobs of the best order go somewhere else in it.
            place = np.empty(n)
            place[kept[0][2].order] = np.arange(n)
            some = chance.integers(0, n, int(chance.integers(1, 4)))
            place[some] += chance.normal(0, max(2.0, n / 6), len(some))
            found = passes.by_urgency(-place)
            yield found
            if found is not None and (now := priced(found.start, found.finish)) < kept[0][0]:
                kept.insert(0, (now, kept[0][1], found))
                del kept[12:]
            continue
        if turn % 3 == 1 or len(kept) < 4:
            weights = chance.exponential(1.0, resources + 2) * (chance.random(resources + 2) < 0.5)
        else:
            one, other = (kept[int(chance.integers(len(kept)))][1] for _ in range(2))
            weights = np.where(chance.random(resources + 2) < 0.5, one, other)
            weights = weights * np.exp(chance.normal(0, 0.3, resources + 2) * (chance.random(resources + 2) < 0.5))
        found = passes.by_weights(weights)
        yield found
        if found is None:
            continue
        now = priced(found.start, found.finish)
        if len(kept) < 12 or now < kept[-1][0]:
            for _ in range(2):
                better = passes.justified(found)
                yield better
                after = priced(better.start, better.finish)
                if after >= now:
                    break
                found, now = better, after
            kept.append((now, weights, found))
            kept.sort(key=lambda row: row[0])
            del kept[12:]
