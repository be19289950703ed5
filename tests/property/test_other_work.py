"""Filling people's hours against networkx's greatest flow; corrections against a numerical posterior by scipy."""

import math

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from witnessmark.calc.plan.lead_times import Triple
from witnessmark.calc.plan.learning import BELIEF_JOBS, Finished, corrected, corrections, left_over
from witnessmark.calc.plan.switching import Ready, filled, other_work

NAMES, BENCHES, ASSEMBLIES = ("Ada", "Ben", "Cid"), ("", "lathe", "mill"), ("tail", "float", "wing")
HOURS = st.integers(0, 40).map(lambda n: n / 4)


@st.composite
def work(draw: st.DrawFn) -> list[Ready]:
    return [
        Ready(
            f"j{n}", f"Job {n}.", draw(st.sampled_from(ASSEMBLIES)), draw(HOURS),
            draw(st.frozensets(st.sampled_from(NAMES))), draw(st.sampled_from(BENCHES)),
        )
        for n in range(draw(st.integers(0, 6)))
    ]  # fmt: skip


FREE = st.fixed_dictionaries(dict.fromkeys(NAMES, HOURS))
BENCH_HOURS = st.fixed_dictionaries({"lathe": HOURS, "mill": HOURS})


def greatest(jobs: list[Ready], free: dict[str, float], benches: dict[str, float]) -> float:
    net = nx.DiGraph()
    net.add_nodes_from(["from", "to"])
    for name, hours in free.items():
        net.add_edge("from", ("person", name), capacity=hours)
    for job in jobs:
        for name in job.names:
            net.add_edge(("person", name), ("job", job.key))
        net.add_edge(("job", job.key), ("on", job.bench), capacity=job.hours)
        if job.bench in benches:
            net.add_edge(("on", job.bench), "to", capacity=benches[job.bench])
        else:
            net.add_edge(("on", job.bench), "to", capacity=1000.0)
    return float(nx.maximum_flow_value(net, "from", "to"))


@settings(max_examples=60)
@given(work(), FREE, BENCH_HOURS)
def test_as_many_hours_are_filled_as_can_be_and_nobody_is_overdrawn(
    jobs: list[Ready], free: dict[str, float], benches: dict[str, float]
) -> None:
    shares = filled(jobs, free, benches)
    by_key = {job.key: job for job in jobs}
    assert sum(h for share in shares.values() for h in share.values()) == pytest.approx(greatest(jobs, free, benches))
    for name, hours in free.items():
        assert sum(share.get(name, 0) for share in shares.values()) <= hours
    for bench, hours in benches.items():
        assert sum(sum(s.values()) for key, s in shares.items() if by_key[key].bench == bench) <= hours
    assert all(
        set(share) <= by_key[key].names and sum(share.values()) <= by_key[key].hours for key, share in shares.items()
    )


@settings(max_examples=40)
@given(work(), FREE, BENCH_HOURS, st.sets(st.sampled_from(ASSEMBLIES)), st.integers(0, 6))
def test_the_best_is_worth_no_less_than_opening_nothing_and_than_any_other_set(
    jobs: list[Ready], free: dict[str, float], benches: dict[str, float], standing: set[str], cost: int
) -> None:
    choices = other_work(jobs, standing, free, benches, cost)
    by_hand = {
        opens: greatest([j for j in jobs if j.assembly in standing | set(opens)], free, benches) - cost * len(opens)
        for opens in [(), *((a,) for a in ASSEMBLIES if a not in standing)]
    }
    assert choices[0].worth_hours >= max(by_hand.values()) - 1e-9
    assert all(choice.worth_hours >= by_hand[()] - 1e-9 for choice in choices)
    assert not any(set(choice.opens) & standing for choice in choices)


def test_dearer_opening_opens_less() -> None:
    jobs = [Ready("a", "Strip.", "tail", 6, frozenset({"Ada"})), Ready("b", "Dress.", "hull", 2, frozenset({"Ada"}))]
    assert other_work(jobs, ["hull"], {"Ada": 8}, {}, 3)[0].opens == ("tail",)
    assert other_work(jobs, ["hull"], {"Ada": 8}, {}, 7)[0].opens == ()


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="less than no hours"):
        filled([], {"Ada": -1}, {})
    with pytest.raises(ValueError, match="less than no hours"):
        other_work([], [], {}, {}, -1)


def test_one_kind_alone_is_the_mean_of_a_posterior_found_numerically() -> None:
    """Outside check: scipy integrates the posterior of a normal mean whose prior is worth BELIEF_JOBS jobs."""
    ratios = [1.2, 1.9, 1.4, 2.5, 0.9]
    learned = corrections([Finished("prime", 2.0, 2.0 * r) for r in ratios])
    logs = [math.log(r) for r in ratios]
    spread = 0.5  # the posterior mean does not depend on it: prior and data share it

    def weight(mean: float) -> float:
        prior = stats.norm.pdf(mean, 0, spread / math.sqrt(BELIEF_JOBS))
        return float(prior * math.prod(stats.norm.pdf(x, mean, spread) for x in logs))

    total = integrate.quad(weight, -3, 3)[0]
    posterior = integrate.quad(lambda m: m * weight(m), -3, 3)[0] / total
    assert math.log(learned.overall.factor) == pytest.approx(posterior, abs=1e-6)
    four = stats.lognorm.ppf(0.8, learned.overall.spread, scale=learned.overall.factor)
    assert learned.overall.four_in_five == pytest.approx(four)


@given(st.lists(st.floats(0.2, 5), min_size=1, max_size=30))
def test_a_correction_lies_between_what_was_believed_and_what_was_booked(ratios: list[float]) -> None:
    learned = corrections([Finished("prime", 1.0, r) for r in ratios])
    kind, overall = learned.kinds["prime"], learned.overall
    low, high = sorted((overall.factor, kind.raw_factor))
    assert low - 1e-9 <= kind.factor <= high + 1e-9
    low, high = sorted((1.0, overall.raw_factor))
    assert low - 1e-9 <= overall.factor <= high + 1e-9
    assert kind.four_in_five > kind.factor


def test_many_jobs_find_the_truth() -> None:
    """Jobs drawn from a lognormal of median 1.6 (scipy): two hundred of them bring the factor near it."""
    drawn = stats.lognorm.rvs(0.4, scale=1.6, size=200, random_state=7)
    learned = corrections([Finished("rivet a row", 4.0, 4.0 * float(r)) for r in drawn])
    assert learned.of("rivet a row").factor == pytest.approx(1.6, rel=0.06)
    assert learned.of("never seen").kind == "all work"
    assert corrections([]).overall.factor == 1.0
    with pytest.raises(ValueError, match="hours booked"):
        corrections([Finished("prime", 0, 1)])


@given(HOURS, HOURS, HOURS, HOURS)
def test_what_is_left_is_in_order_and_never_more_than_before(a: float, b: float, c: float, booked: float) -> None:
    hours = Triple(*sorted((a, b, c)))
    left = left_over(hours, booked)
    assert left.least <= left.likely <= left.most
    assert left.most <= max(hours.most, 0)
    factor = corrections([Finished("x", 1.0, 2.0)] * 3).of("x")
    assert corrected(hours, factor).likely == pytest.approx(hours.likely * factor.factor, abs=1e-5)
