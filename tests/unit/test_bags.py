"""Telling mixed bags apart, held against reference libraries, enumeration and simulations that share no code with it."""

import itertools
import math
import random

import networkx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import linear_sum_assignment
from scipy.stats import beta, binom, multivariate_normal

from witnessmark.calc.bags import confusion as confusions
from witnessmark.calc.bags.assign import assign
from witnessmark.calc.bags.balance import balance
from witnessmark.calc.bags.features import (
    Coat,
    Feature,
    Group,
    MeasuredPiece,
    Reading,
    UnknownFeature,
    coat_growth_um,
    feature_of,
)
from witnessmark.calc.bags.remedy import APART, BASKET, MEASURE, TAG, Costs, remedy
from witnessmark.calc.bags.return_match import DOUBTFUL, STRANGER, TOLD, match_return
from witnessmark.calc.bags.scores import FOREIGN, LOST, field_of
from witnessmark.calc.bags.shares import learned_shares

D, P10 = "diameter_mm", "ten_pitches_mm"


def group(key: str, count: int, mean: float, n: int = 10, sigma: float = 0.03, **more: object) -> Group:
    return Group(key, key, count, {D: Feature(mean, sigma, n=n)}, **more)  # type: ignore[arg-type]


def piece(key: str, value: float, sigma: float = 0.03) -> MeasuredPiece:
    return MeasuredPiece(key, {D: Reading(value, sigma)})


def flow_cost(cost: np.ndarray, capacity: np.ndarray) -> int:
    """OR-Tools' min-cost flow on whole costs."""
    from ortools.graph.python import min_cost_flow

    pieces, groups = cost.shape
    flow = min_cost_flow.SimpleMinCostFlow()
    for i, j in np.argwhere(np.isfinite(cost)):
        flow.add_arc_with_capacity_and_unit_cost(int(i), pieces + int(j), 1, int(cost[i, j]))
    for j in range(groups):
        flow.add_arc_with_capacity_and_unit_cost(pieces + j, pieces + groups, int(capacity[j]), 0)
    for i in range(pieces):
        flow.set_node_supply(i, 1)
    flow.set_node_supply(pieces + groups, -pieces)
    assert flow.solve() == flow.OPTIMAL
    return int(flow.optimal_cost())


@pytest.mark.parametrize("seed", range(60))
def test_assignment_costs_what_scipy_and_or_tools_find(seed: int) -> None:
    rng = np.random.default_rng(seed)
    groups = int(rng.integers(1, 9))
    capacity = rng.integers(0, 5, groups)
    capacity[0] += 1
    pieces = int(rng.integers(1, capacity.sum() + 1))
    cost = np.rint(rng.normal(size=(pieces, groups)) * 1000)
    told = assign(cost, capacity)
    assert (np.bincount(told, minlength=groups) <= capacity).all()
    ours = cost[np.arange(pieces), told].sum()
    columns = np.repeat(cost, capacity, axis=1)
    rows, cols = linear_sum_assignment(columns)
    assert ours == columns[rows, cols].sum()
    assert ours == flow_cost(cost, capacity)


def test_assignment_without_room_is_refused() -> None:
    with pytest.raises(ValueError, match="not room"):
        assign(np.zeros((3, 1)), np.array([2]))
    with pytest.raises(ValueError, match="not room"):
        assign(np.array([[np.inf, 1.0], [np.inf, 1.0]]), np.array([5, 1]))
    with pytest.raises(ValueError, match="numbers"):
        assign(np.array([[np.nan]]), np.array([1]))


def some_return(seed: int, pieces: int = 24) -> tuple[list[Group], list[MeasuredPiece]]:
    r = random.Random(seed)
    groups = [
        Group(
            f"B{n}",
            f"B{n}",
            r.randint(1, 5),
            {D: Feature(r.uniform(4, 6), 0.05, 0.02, n=r.randint(1, 6)), "length_mm": Feature(r.uniform(10, 12), 0.2)},
        )
        for n in range(6)
    ]
    back = [
        MeasuredPiece(str(n), {D: Reading(r.uniform(3.8, 6.2), 0.05), "length_mm": Reading(r.uniform(9.5, 12.5), 0.2)})
        for n in range(pieces)
    ]
    return groups, back


@pytest.mark.parametrize("seed", range(12))
def test_the_whole_match_costs_what_scipy_finds_with_strangers_and_empty_places(seed: int) -> None:
    """The density is written out here again: normal about mean plus growth, strangers even over the range."""
    groups, back = some_return(seed)
    coat = Coat(8, 2)
    told = match_return(groups, back, coat)
    field = field_of(groups, back, coat)
    ranges = dict(zip(field.features, field.log_range, strict=True))
    fit = np.zeros((len(back), len(groups)))
    for i, p in enumerate(back):
        for j, g in enumerate(groups):
            for name, reading in p.readings.items():
                f = g.features[name]
                var = (f.sigma_measure**2 + f.sigma_piece**2) / f.n + f.sigma_piece**2 + reading.sigma**2 + 0.004**2
                off = reading.value - f.mean - 0.016
                fit[i, j] += -0.5 * off**2 / var - 0.5 * math.log(2 * math.pi * var) + ranges[name]
    gain = fit - math.log(FOREIGN) - math.log(LOST / (1 - LOST))
    slots = np.repeat(-gain, [g.count for g in groups], axis=1)
    slots = np.hstack([slots, np.zeros((len(back), len(back)))])
    rows, cols = linear_sum_assignment(slots)
    assert told.cost == pytest.approx(slots[rows, cols].sum(), abs=1e-6)
    for g in groups:
        assert told.counts().get(g.key, 0) <= g.count


def posterior(groups: list[Group], back: list[MeasuredPiece], ranges: float) -> list[dict[str, float]]:
    """Every way of placing the pieces, each weighed with the error that pieces of a group share, by scipy's normal."""
    slots = [g for g in groups for _ in range(g.count)]
    names = [*range(len(slots)), *([-1] * len(back))]
    weight: dict[tuple[str, ...], float] = {}
    seen = set(itertools.permutations(names, len(back)))
    for way in seen:
        placed = [slots[n].key if n >= 0 else STRANGER for n in way]
        log = 0.0
        for g in groups:
            own = [i for i, key in enumerate(placed) if key == g.key]
            f = g.features[D]
            log += (g.count - len(own)) * math.log(LOST / (1 - LOST))
            if own:
                shared = f.variance / f.n
                cov = np.full((len(own), len(own)), shared) + np.diag([back[i].readings[D].sigma ** 2 for i in own])
                cov += np.eye(len(own)) * f.sigma_piece**2
                log += multivariate_normal.logpdf([back[i].readings[D].value for i in own], [f.mean] * len(own), cov)
        log += placed.count(STRANGER) * (math.log(FOREIGN) - ranges)
        weight[tuple(placed)] = weight.get(tuple(placed), 0.0) + math.exp(log)
    total = sum(weight.values())
    told: list[dict[str, float]] = [{} for _ in back]
    for way, w in weight.items():
        for i, key in enumerate(way):
            told[i][key] = told[i].get(key, 0.0) + w / total
    return told


@pytest.mark.parametrize("seed", range(4))
def test_chances_are_those_of_full_enumeration(seed: int) -> None:
    r = random.Random(seed)
    groups = [group("A", 2, 8.0, n=2), group("B", 2, 8.05, n=1), group("C", 1, 8.12, n=3)]
    back = [piece(str(n), r.choice([8.0, 8.05, 8.12]) + r.gauss(0, 0.03)) for n in range(4)]
    told = match_return(groups, back)
    wanted = posterior(groups, back, float(field_of(groups, back).log_range[0]))
    for match, chance in zip(told.pieces, wanted, strict=True):
        assert match.sure == pytest.approx(chance[match.group or STRANGER], abs=0.03)
        for name, p in match.others:
            assert p == pytest.approx(chance.get(name, 0.0), abs=0.03)


def simulated_any_wrong(d: float, n: int, rng: np.random.Generator) -> float:
    largest = rng.standard_normal((40_000, n)).max(axis=1)
    least = d + rng.standard_normal((40_000, n)).min(axis=1)
    return float((largest > least).mean())


@pytest.mark.parametrize("d", [2.0, 3.0, 4.0, 5.0])
@pytest.mark.parametrize("n", [2, 5, 10, 20])
def test_any_wrong_is_what_a_simulation_gives(d: float, n: int) -> None:
    got = confusions.any_wrong_chance(d, n, n)
    assert got == pytest.approx(simulated_any_wrong(d, n, np.random.default_rng(7)), abs=0.012)


def test_one_pair_swaps_as_a_simulation_does() -> None:
    rng = np.random.default_rng(3)
    for d in (0.0, 1.0, 2.5):
        swapped = (rng.standard_normal(200_000) > d + rng.standard_normal(200_000)).mean()
        assert confusions.swap_chance(d) == pytest.approx(swapped, abs=0.004)


@given(st.floats(0, 12), st.floats(0, 3), st.integers(1, 60), st.integers(1, 60))
@settings(max_examples=40, deadline=None)
def test_any_wrong_falls_with_distance_and_does_not_care_who_is_who(d: float, more: float, n: int, m: int) -> None:
    here = confusions.any_wrong_chance(d, n, m)
    assert 0 <= here <= 1
    assert confusions.any_wrong_chance(d + more, n, m) <= here + 1e-6
    assert confusions.any_wrong_chance(d, m, n) == pytest.approx(here, abs=1e-6)


def test_the_pair_that_is_hardest_to_tell_apart_is_told_by_its_pitch() -> None:
    """M8x1 and 5/16-24: 0.06 mm in diameter and 0.58 mm over ten pitches, by arithmetic of the two sizes."""
    bolts = [group("M8", 30, 8.0), group("5/16", 16, 5 / 16 * 25.4)]
    seen = confusions.confusion(bolts, Coat(8, 2))
    assert seen.pairs[0].any_wrong > 0.9
    pitch = {k: {P10: Feature(p, 0.1, n=10, from_catalogue=True)} for k, p in (("M8", 10.0), ("5/16", 25.4 / 2.4))}
    for known in (bolts, [Group(g.key, g.key, g.count, {**g.features, **pitch[g.key]}) for g in bolts]):
        told = confusions.confusion(known, Coat(8, 2))
        assert bool(told.pairs) == (P10 not in known[0].features) or told.pairs[0].any_wrong < seen.pairs[0].any_wrong


def test_groups_of_one_bag_and_of_other_looks_are_not_confused() -> None:
    same = [Group("a", "L-1", 5, {D: Feature(8, 0.03)}), Group("b", "L-1", 5, {D: Feature(8, 0.03)})]
    assert not confusions.confusion(same).pairs
    seen = [group("nut", 5, 8.0, looks="castle nut"), group("bolt", 5, 8.0, looks="hexagon bolt")]
    assert not confusions.confusion(seen).pairs


def test_bags_that_share_no_measurement_are_confused_for_certain() -> None:
    seen = confusions.confusion([Group("a", "a", 3), group("b", 3, 8.0)])
    assert seen.pairs[0].not_measured and seen.pairs[0].any_wrong == 1
    assert "nothing tells them apart" in seen.sentence


def test_a_thread_and_a_pin_that_read_alike_before_are_apart_after_the_coat() -> None:
    """The coat takes a thread's pitch diameter four times, a pin's diameter twice: 2 x 25 um between like parts."""
    thread = Coat(25).growth("thread_pitch_diameter_mm")
    assert thread == pytest.approx(0.100) and Coat(25).growth(D) == pytest.approx(0.050)
    assert coat_growth_um("hole_mm", 8) == -16


def legal(groups: list[Group], seen: confusions.Confusion, told: object) -> bool:
    """No line of the graph has both ends in one basket, but for those that a tag or a reading settles."""
    done: dict[str, set[str]] = {}
    for step in told.steps:  # type: ignore[attr-defined]
        done.setdefault(step.bag, set()).add(step.do if step.do != MEASURE else step.feature)
    basket = {bag: n for n, bags in enumerate(told.baskets) for bag in bags}  # type: ignore[attr-defined]
    for pair in seen.pairs:
        a, b = pair.bag_a, pair.bag_b
        marked = {APART, TAG} & (done.get(a, set()) | done.get(b, set()))
        read = (done.get(a, set()) & done.get(b, set())) - {BASKET, APART, TAG}
        if not marked and not read and basket[a] == basket[b]:
            return False
    return True


@pytest.mark.parametrize("seed", range(15))
@pytest.mark.parametrize("baskets", [1, 2, 3])
def test_the_remedy_is_legal_and_costs_the_least_that_trying_everything_finds(seed: int, baskets: int) -> None:
    r = random.Random(seed)
    bags = [group(f"B{n}", r.randint(1, 12), 5 + 0.05 * r.randint(0, 9)) for n in range(6)]
    seen = confusions.confusion(bags)
    told = remedy(bags, seen, baskets)
    assert told.exact and legal(bags, seen, told)
    costs, best = Costs(), math.inf
    lines = [(p.bag_a, p.bag_b) for p in seen.pairs]
    names = sorted({bag for line in lines for bag in line})
    count = {g.key: g.count for g in bags}
    for ships in (1, 2):
        for way in itertools.product(range(-1, baskets * ships), repeat=len(names)):
            at = dict(zip(names, way, strict=True))
            if all(at[a] != at[b] or at[a] < 0 for a, b in lines):
                minutes = 90.0 * (ships - 1) + sum(
                    min(5.0, 1.0 * count[b]) if c < 0 else costs.basket_minutes * (c > 0) for b, c in at.items()
                )
                best = min(best, minutes)
    assert told.minutes == pytest.approx(best)


def test_measuring_is_proposed_where_it_is_cheaper_than_marking() -> None:
    bolts = [group("A", 3, 8.0), group("B", 3, 7.94)]
    pitch = {"A": {P10: Feature(10.0, 0.1, n=3)}, "B": {P10: Feature(11.5, 0.1, n=3)}}
    told = remedy(bolts, confusions.confusion(bolts), 1, measurable=pitch, costs=Costs(measure_each_minutes=0.1))
    assert told.sentence == "Measure the length over ten pitches of A and B."


def test_many_bags_are_coloured_without_a_clash_and_no_dearer_than_networkx_colours_them() -> None:
    r = random.Random(5)
    bags = [group(f"B{n:03}", 8, r.uniform(4, 12)) for n in range(120)]
    seen = confusions.confusion(bags)
    graph = networkx.Graph((p.bag_a, p.bag_b) for p in seen.pairs)
    colours = networkx.greedy_color(graph, strategy="DSATUR")
    enough = max(colours.values()) + 1
    told = remedy(bags, seen, enough)
    assert legal(bags, seen, told)
    assert told.minutes <= sum(1 for c in colours.values() if c) * Costs().basket_minutes


def test_count_and_mass_say_which_bag_is_short() -> None:
    sent = [Group("L-1", "L-1", 46, mass_g=1412.0), Group("L-2", "L-2", 24, mass_g=398.0)]
    told = balance(sent, 69, 1810 + 7 - 1412 / 46, coat_mass_g=7.0, scale_sigma_g=0.5)
    assert told.short == 1 and told.explained_by == ("L-1",) and not told.disagree
    wrong = balance(sent, 70, 1700.0)
    assert wrong.disagree and "Count and weigh again" in wrong.sentence
    assert balance(sent, 72).over == 2


def test_a_piece_that_fits_nowhere_is_foreign_and_what_is_missing_is_named_by_its_hole() -> None:
    sent = [Group(f"L-1:{n}", "L-1", 1, {D: Feature(8 + 0.3 * n, 0.02, n=3)}, place=f"hole {n}") for n in range(1, 7)]
    back = [piece(str(n), 8 + 0.3 * n + 0.016, 0.02) for n in (1, 2, 3, 5, 6)] + [piece("x", 14.0, 0.02)]
    told = match_return(sent, back, Coat(8, 1))
    assert told.foreign == ("x",)
    assert [(s.place, s.count) for s in told.short] == [("hole 4", 1)] and told.short[0].chance > 0.99
    assert all(p.state == TOLD for p in told.pieces[:5])


def test_more_than_a_bag_gave_never_goes_to_it() -> None:
    told = match_return([group("A", 2, 8.0), group("B", 2, 6.0)], [piece(str(n), 8.0) for n in range(4)])
    assert told.counts() == {"A": 2}
    assert len([p for p in told.pieces if p.group is None]) == 2
    assert told.balance.short == 0 and sum(s.count for s in told.short) == 2


def test_a_piece_without_a_useful_reading_is_doubtful_and_the_next_reading_is_named() -> None:
    both = lambda d, p: {D: Feature(d, 0.03, n=9), P10: Feature(p, 0.1, n=9)}  # noqa: E731
    sent = [Group("A", "A", 1, both(8.0, 10.0)), Group("B", "B", 1, both(7.94, 10.58))]
    told = match_return(sent, [MeasuredPiece("1"), MeasuredPiece("2")])
    assert {p.state for p in told.pieces} == {DOUBTFUL}
    near = match_return(sent, [piece("1", 7.97), piece("2", 7.97)])
    assert near.next is not None and near.next.feature == P10 and near.next.pieces == ("1", "2")


def test_bad_figures_are_refused_in_words() -> None:
    sent = [group("A", 2, 8.0)]
    for bad, words in (
        (lambda: match_return(sent, [piece("1", 8.0), piece("1", 8.0)]), "named twice"),
        (lambda: match_return(sent, [piece("1", 8.0), piece("2", 8.0)], count_back=1), "only 1 counted"),
        (lambda: match_return([], []), "nothing left"),
        (lambda: piece("1", math.nan), "needs a number"),
        (lambda: group("A", 0, 8.0), "above nought"),
        (lambda: Feature(8.0, 0.0), "without any error"),
        (lambda: Coat(-1), "not negative"),
        (lambda: balance(sent, 1, -5.0), "above zero"),
    ):
        with pytest.raises(ValueError, match=words):
            bad()
    with pytest.raises(UnknownFeature, match="There are: diameter_mm"):
        MeasuredPiece("1", {"colour": Reading(1, 1)})


@given(st.lists(st.floats(7.9, 8.1), min_size=4, max_size=30))
@settings(max_examples=40, deadline=None)
def test_one_stranger_in_a_bag_is_named_and_does_not_move_its_mean(values: list[float]) -> None:
    told = feature_of([*values, 12.0], 0.03)
    assert len(values) in told.strangers
    assert min(values) <= told.feature.mean <= max(values)


@pytest.mark.parametrize(("out", "lost", "foreign"), [(0, 0, 0), (70, 1, 0), (2000, 0, 7), (400, 300, 2)])
def test_a_vendors_shares_are_the_mean_after_what_was_seen(out: int, lost: int, foreign: int) -> None:
    """Against scipy's Beta distribution (conjugate to the binomial) and against numerical integration."""
    told = learned_shares(out, lost, foreign)
    for share, k, n in ((told.lost, lost, out), (told.foreign, foreign, out - lost + foreign)):
        assert share.share == pytest.approx(beta.mean(1 + k, 99 + n - k))

        def weight(p: float, k: int = k, n: int = n) -> float:
            return math.exp(beta.logpdf(p, 1, 99) + binom.logpmf(k, n, p))

        most = (1e-12, 1 - 1e-12)
        peak = [min(0.999, max(1e-6, (k + 1) / (n + 100)))]
        total = quad(weight, *most, points=peak, limit=400)[0]
        mean = quad(lambda p, weight=weight: p * weight(p), *most, points=peak, limit=400)[0] / total
        assert share.share == pytest.approx(mean, rel=1e-4)
    assert str(out) in told.sentence if out else "as usual" in told.sentence


@pytest.mark.parametrize("counts", [(10, 11, 0), (10, -1, 0), (-1, 0, 0), (10, 0, -2)])
def test_counts_that_cannot_be_teach_nothing(counts: tuple[int, int, int]) -> None:
    with pytest.raises(ValueError, match="cannot be"):
        learned_shares(*counts)


def test_the_odds_of_one_piece_follow_the_shares_by_bayes() -> None:
    """One bolt left, one piece came: odds that it is ours go as (1 - lost) / lost and as 1 / foreign (Bayes, by hand)."""

    def odds(lost: float, foreign: float) -> float:
        (told,) = match_return([group("A", 1, 8.0)], [piece("odd", 8.13)], lost=lost, foreign=foreign).pieces
        ours = told.sure if told.bag else 1 - told.sure
        return ours / (1 - ours)

    assert odds(0.02, 0.05) / odds(0.2, 0.05) == pytest.approx((0.98 / 0.02) / (0.8 / 0.2), rel=0.04)  # drawn
    assert odds(0.2, 0.02) / odds(0.2, 0.1) == pytest.approx(5, rel=0.04)
