"""The engine against exact answers: CP-SAT on small projects of our own, networkx on roads, a counter of our own."""

import doctest
import importlib
from itertools import islice, pairwise

import networkx as nx
import numpy as np
import pytest

from witnessmark.bench.plan_files import faults
from witnessmark.calc.plan.bounds import earliest, least_finish, roads_after
from witnessmark.calc.plan.improve import Passes, improved
from witnessmark.calc.plan.polish import Condition, asked_too_much, polished
from witnessmark.calc.plan.portfolio import best_within
from witnessmark.calc.plan.project import Project

SEED = 20260512


def drawn(seed: int, size: int = 14, calendars: bool = False) -> Project:
    """An invented project: two resources, links to some of the six before, one calendar with weekends."""
    chance = np.random.default_rng(seed)
    duration = tuple(int(d) for d in chance.integers(0 if calendars else 1, 7, size))
    needs = tuple(
        tuple((r, int(chance.integers(1, 3))) for r in range(2) if chance.random() < 0.7) for _ in range(size)
    )
    links = tuple(
        (int(b), j, int(chance.integers(0, 3)), -1)
        for j in range(1, size)
        for b in sorted(set(chance.integers(max(0, j - 6), j, 2).tolist()))
        if chance.random() < 0.6
    )
    horizon = 400
    units = np.arange(horizon)
    if not calendars:
        return Project(duration, needs, (2, 3), links, horizon)
    calendar = tuple(int(c) for c in chance.integers(-1, 1, size))
    return Project(duration, needs, (2, 3), links, horizon, calendar, (units[units % 7 < 5],))


@pytest.mark.parametrize("name", ["bounds", "improve", "polish", "portfolio", "shop_project"])
def test_the_examples_run(name):
    told = doctest.testmod(importlib.import_module(f"witnessmark.calc.plan.{name}"))
    assert told.attempted and told.failed == 0


@pytest.mark.parametrize("seed", range(8))
def test_small_projects_are_solved_as_well_as_the_exact_solver_does(seed):
    project = drawn(seed)
    exact = polished(project, None, 20)
    assert exact.proven
    best = list(islice(improved(project, SEED), 30))[-1]
    assert faults(project, best.start) == 0
    assert best.end == exact.end
    assert least_finish(project) <= exact.end


@pytest.mark.parametrize("seed", range(6))
def test_with_calendars_the_engine_is_near_the_exact_end_and_the_bound_below_it(seed):
    project = drawn(seed, 10, calendars=True)
    exact = polished(project, None, 20)
    assert exact.proven and faults(project, exact.start) == 0
    best = list(islice(improved(project, SEED), 60))[-1]
    assert faults(project, best.start) == 0
    assert least_finish(project) <= exact.end <= best.end <= exact.end + 2


def test_the_longest_road_agrees_with_networkx():
    project = drawn(3, 30)
    graph = nx.DiGraph()
    for before, after, lag, _ in project.links:
        graph.add_edge(before, after, w=project.duration[before] + lag)
    for job in range(project.size):
        graph.add_edge(job, "end", w=project.duration[job])
    _, finish = earliest(project)
    assert max(finish) == nx.dag_longest_path_length(graph, "w")
    longest = max(
        nx.single_source_bellman_ford_path_length(graph, 0, lambda a, b, e: -e["w"]).items(), key=lambda i: -i[1]
    )
    assert roads_after(project)[0] + project.duration[0] == -longest[1]


def test_passes_to_the_right_and_left_never_end_later_without_calendars():
    project = drawn(5, 40)
    passes = Passes(project)
    placed = passes.by_urgency(np.random.default_rng(1).random(project.size))
    for _ in range(4):
        again = passes.justified(placed)
        assert again.end <= placed.end and faults(project, again.start) == 0
        placed = again


def test_answers_only_get_better_and_the_same_seed_gives_the_same():
    project = drawn(7, 60)
    ends = [placed.end for placed in islice(improved(project, SEED), 12)]
    assert all(later <= earlier for earlier, later in pairwise(ends))
    assert ends == [placed.end for placed in islice(improved(project, SEED), 12)]


def test_the_counter_sees_each_kind_of_fault():
    project = Project(
        (2, 3), (((0, 1),), ((0, 1),)), (1,), ((0, 1, 1, -1),), 30, (0, 0), (np.array([0, 1, 2, 5, 6, 7, 8]),)
    )
    assert faults(project, [0, 5]) == 0
    assert faults(project, [0, 2]) >= 1
    assert faults(project, [0]) == 1
    assert faults(project, [3, 6]) >= 1
    assert faults(project, [-1, 5]) >= 1
    assert faults(Project((2, 3), (((0, 1),), ((0, 1),)), (1,), (), 30), [0, 1]) == 1


def test_jobs_in_a_ring_are_refused():
    with pytest.raises(ValueError, match="ring"):
        next(improved(Project((1, 1), ((), ()), (), ((0, 1, 0, -1), (1, 0, 0, -1)), 9), 1))


def test_a_grid_that_is_too_short_is_refused():
    with pytest.raises(ValueError, match=r"no schedule fits|too short"):
        next(improved(Project((3, 4), (((0, 1),), ((0, 1),)), (1,), (), 5), 1))


def test_the_exact_solver_keeps_the_greatest_lag_and_says_what_is_too_much():
    both = Project((3, 4, 2), (((0, 1),),) * 3, (1,), ((0, 2, 0, 1),), 20)
    told = polished(both, None, 10)
    assert told.proven and told.start[2] - (told.start[0] + 3) <= 1
    asked = (Condition("A by 3", 0, 3), Condition("B by 4", 1, 4), Condition("C by 20", 2, 19))
    assert asked_too_much(both, asked) == ("A by 3", "B by 4")
    assert asked_too_much(both, asked[1:]) == ()
    assert polished(Project((3, 4), (((0, 1),), ((0, 1),)), (1,), (), 20), None, 5, end=6).impossible


def test_engine_and_exact_solver_together_prove_the_end():
    clock = iter(range(10_000))
    found = best_within(drawn(2, 30), 3.0, lambda: next(clock) * 0.05)
    assert found.over_bound == 0.0 or found.bound <= found.end
    assert faults(drawn(2, 30), found.start) == 0
