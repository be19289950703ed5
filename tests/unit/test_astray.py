"""What goes astray between baskets, held against simulation that shares no code with it; the tags that stop it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from witnessmark.calc.bags.astray import ACCEPTED, astray, unnoticed_chance
from witnessmark.calc.bags.confusion import confusion
from witnessmark.calc.bags.features import Feature, Group, Reading, pooled
from witnessmark.calc.bags.remedy import BASKET, TAG, Costs, remedy


def bag(key: str, count: int, mean: float) -> Group:
    return Group(key, key, count, {"diameter_mm": Feature(mean, 0.03, n=max(2, count))})


@pytest.mark.parametrize(("apart", "strayed"), [(0.5, 0.02), (2.0, 0.02), (3.0, 0.05), (4.0, 0.02), (5.5, 0.01)])
def test_a_strayed_piece_is_noticed_as_often_as_bayes_by_simulation_says(apart: float, strayed: float) -> None:
    """Readings drawn about the one mean, judged by scipy's densities and the prior of 1 - s to s."""
    x = np.random.default_rng(7).normal(apart, 1, 400_000)
    taken_for_own = (1 - strayed) * norm.pdf(x, 0, 1) > strayed * norm.pdf(x, apart, 1)
    assert unnoticed_chance(apart, strayed) == pytest.approx(float(taken_for_own.mean()), abs=0.003)


def test_two_bags_of_one_size_in_two_baskets_stray_by_the_plain_share() -> None:
    sent = [bag("L-003", 12, 3.94), bag("L-005", 48, 3.94)]
    graph = confusion(sent)
    told = astray(sent, graph, remedy(sent, graph, baskets=2))
    assert told.pieces == pytest.approx(60 * 0.02, rel=0.02)  # by hand: each of 60 strays once in 50 times
    assert [(t.bag, t.do, t.minutes) for t in told.tags] == [("L-003", TAG, 12.0)] and told.left == 0
    assert "about 1.2 of 60 pieces would come back in the wrong basket unnoticed" in told.sentence
    assert "wire L-003 up" in told.sentence


def test_the_simulated_baskets_lose_as_many_as_was_reckoned() -> None:
    """Pieces stray by lot between two baskets and are judged by Bayes: the count of the wrong ones, drawn 4,000 times."""
    rng = np.random.default_rng(3)
    sent = [bag("A", 10, 8.0), bag("B", 10, 8.1)]
    graph = confusion(sent)
    told = astray(sent, graph, remedy(sent, graph, baskets=2))
    d = graph.pairs[0].apart
    wrong = 0
    for _ in range(4000):
        for _, mean in (("A", 0.0), ("B", d)):
            strayed = rng.random(10) < 0.02
            x = rng.normal(mean, 1, 10)
            here = norm.pdf(x, d - mean, 1) * 0.98 > norm.pdf(x, mean, 1) * 0.02
            wrong += int((strayed & here).sum())
    assert told.pieces == pytest.approx(wrong / 4000, rel=0.12)


def test_what_travels_in_another_shipment_or_under_a_tag_does_not_stray() -> None:
    sent = [bag(k, 30, 8.0) for k in "ABCD"]
    graph = confusion(sent)
    second = remedy(sent, graph, baskets=2, costs=Costs(mesh_bags=False, shipment_minutes=1))
    assert second.shipments == 2
    both = astray(sent, graph, second)
    assert both.pieces == pytest.approx(2 * 60 * 0.02, rel=0.05)  # only between the two baskets of each shipment
    tagged = remedy([bag("A", 2, 8.0), bag("B", 9, 8.0)], confusion([bag("A", 2, 8.0), bag("B", 9, 8.0)]), baskets=1)
    assert tagged.steps[0].do == TAG
    assert (
        astray([bag("A", 2, 8.0), bag("B", 9, 8.0)], confusion([bag("A", 2, 8.0), bag("B", 9, 8.0)]), tagged).pieces
        == 0
    )


@settings(deadline=None, max_examples=40)
@given(st.lists(st.tuples(st.integers(1, 20), st.floats(7.5, 8.5)), min_size=2, max_size=8))
def test_the_tags_bring_it_under_what_is_accepted_and_touch_only_look_alikes(drawn: list[tuple[int, float]]) -> None:
    sent = [bag(f"B{n}", count, mean) for n, (count, mean) in enumerate(drawn)]
    graph = confusion(sent)
    plan = remedy(sent, graph, baskets=2)
    told = astray(sent, graph, plan)
    assert told.left <= max(ACCEPTED * sum(count for count, _ in drawn), 1e-12) and told.left <= told.pieces + 1e-12
    assert {t.bag for t in told.tags} <= set(graph.bags)
    if not any(s.do == BASKET for s in plan.steps) and plan.shipments == 1 and not plan.steps:
        assert told.pieces == 0


@pytest.mark.parametrize("bad", [(-1.0, 0.02), (1.0, 0.0), (1.0, 0.5)])
def test_figures_that_cannot_be_are_refused(bad: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="distance"):
        unnoticed_chance(*bad)


def test_readings_of_one_piece_count_together_and_a_slip_does_not() -> None:
    """Weighted mean and its deviation, by hand: three of 0.1 give 0.1 / sqrt 3."""
    three = pooled([Reading(8.0, 0.1), Reading(8.2, 0.1), Reading(8.1, 0.1)])
    assert (three.value, three.times) == (pytest.approx(8.1), 3) and three.sigma == pytest.approx(0.1 / 3**0.5)
    assert pooled([Reading(1.0, 0.1), Reading(8.0, 0.1), Reading(8.1, 0.1)]).times == 2
    many = pooled([Reading(8.0, 0.1)] * 9)
    assert many.times == 4 and many.sigma == pytest.approx(0.05)
    with pytest.raises(ValueError, match="nothing"):
        pooled([])
