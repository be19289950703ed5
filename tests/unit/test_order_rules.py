"""Each row of order_rules.csv is checked; each names its own document at the row (calc/data/order_rules.csv)."""

import csv
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import witnessmark.calc
from witnessmark.bench.route import WRITTEN, disagreements
from witnessmark.bench.route_examples import EXAMPLES, Route
from witnessmark.calc.surface.clocks import clocks, may_coat_now, window_state
from witnessmark.calc.surface.order_rules import CHECKED, RuleBreach, check_route
from witnessmark.calc.surface.proposal import FINISHES, WORK, PartToRoute, propose_route
from witnessmark.calc.surface.route_line import RouteFacts, StepTime

ROWS = list(csv.DictReader((Path(witnessmark.calc.__path__[0]) / "data" / "order_rules.csv").open()))


def found(route: Route) -> dict[str, RuleBreach]:
    checked = check_route(route.steps, route.material, route.strength_mpa, route.facts, route.times)
    return {breach.rule: breach for breach in checked}


@pytest.mark.parametrize("row", ROWS, ids=[row["rule_id"] for row in ROWS])
def test_a_route_breaks_the_rule_and_another_keeps_it(row: dict[str, str]) -> None:
    breaking, keeping = EXAMPLES[row["rule_id"]]
    breach = found(breaking)[row["rule_id"]]
    assert row["source"] in breach.source and breach.status == row["status"]
    assert breach.hard == (row["hard_or_soft"] == "hard")
    assert row["rule_id"] not in found(keeping)


def test_all_rules_are_claimed_and_the_four_from_memory_are_soft() -> None:
    assert tuple(row["rule_id"] for row in ROWS) == CHECKED
    remembered = [row for row in ROWS if row["status"] == "memory"]
    assert len(remembered) == 4 and {row["hard_or_soft"] for row in remembered} == {"soft"}


def test_random_routes_agree_with_a_checker_by_brute_force() -> None:
    """The other checker shares no code: bench/route_brute.py."""
    accepts, blocks, seen, clean = disagreements(3000, seed=7)
    assert (accepts, blocks) == (0, 0)
    assert len(seen) >= 25 and clean > 500


@pytest.mark.parametrize(("start", "breaks"), [(12 + 59 / 60, False), (13 + 1 / 60, True)])
def test_hard_chrome_goes_into_the_oven_within_four_hours(start: float, breaks: bool) -> None:
    """MIL-STD-1501F 5.2.6, 5.2.7 (read): plating ends 09:00, into the oven by 13:00."""
    times = {1: StepTime(8, 9), 2: StepTime(start, start + 23)}
    rules = {b.rule for b in check_route(("hard chrome", "bake"), "4340", 1379, times=times) if b.hard}
    assert ("R07" in rules) == breaks


@pytest.mark.parametrize(
    ("hours", "state"), [(4, "too early"), (6, "open"), (10, "wipe or scuff"), (26, "scuff"), (5, "open"), (8, "open")]
)
def test_epoxy_primer_window(hours: float, state: str) -> None:
    """USAF finish manual 5.6.2e (read): primer 08:00, topcoat 12:00, 14:00, 18:00, next day 10:00."""
    assert window_state("R21", hours) == state


def test_a_clock_asks_for_a_time_that_nobody_wrote_down() -> None:
    (clock,) = clocks(("prime", "topcoat"), "dural", times={2: StepTime(12, 13)}, now_h=14)
    assert clock.state == "asked" and clock.elapsed_h is None
    assert "Nobody wrote down" in may_coat_now("R21", None)
    assert "early" in may_coat_now("R21", 4.9) and not may_coat_now("R21", 5.0)
    assert may_coat_now("R21", 25, wiped=True) and not may_coat_now("R21", 25, scuffed=True)
    assert "late" in may_coat_now("R19", 1.1)


def test_strength_not_recorded_releases_no_plating_and_reads_neither_mild_nor_hard() -> None:
    unknown = propose_route(PartToRoute("forged steel", None, "cadmium plate"))
    assert not unknown.released and "hardness check" in unknown.steps and "cadmium plate" not in unknown.steps
    assert "bake" not in propose_route(PartToRoute("forged steel", 600, "cadmium plate")).steps
    assert "bake" in propose_route(PartToRoute("forged steel", 1300, "cadmium plate")).steps


PARTS = st.builds(
    PartToRoute,
    st.sampled_from(["4340 steel", "forged steel", "4130", "clad dural", "2024-T3", "Mg casting", "brass", "spruce"]),
    st.one_of(st.none(), st.floats(1, 3000)),
    st.sampled_from(FINISHES),
    st.sets(st.sampled_from(WORK)),
    st.booleans(),
    st.one_of(st.none(), st.floats(0.1, 50)),
    st.sampled_from(["", "paint", "chrome", "nickel", "cadmium"]),
    st.one_of(st.none(), st.floats(0, 1)),
    bushes=st.booleans(),
    threads=st.booleans(),
    control_surface=st.booleans(),
    worked_after_hardening=st.booleans(),
)


@settings(max_examples=300, deadline=None)
@given(PARTS)
def test_no_proposed_route_breaks_a_hard_rule_or_plates_unknown_steel(part: PartToRoute) -> None:
    proposal = propose_route(part)
    assert [breach for breach in proposal.breaches if breach.hard] == []
    if "steel" in part.material and part.strength_mpa is None:
        assert not {"cadmium plate", "zinc plate", "hard chrome"} & set(proposal.steps)
    assert proposal.steps.count("tag off") == proposal.steps.count("tag on")


STEP_WORDS = st.one_of(st.text(max_size=30), st.sampled_from([word for words in WRITTEN.values() for word in words]))
HOUR = st.one_of(st.none(), st.floats(-1e6, 1e6))


@settings(max_examples=200, deadline=None)
@given(
    st.lists(STEP_WORDS, max_size=12),
    st.text(max_size=20),
    st.one_of(st.none(), st.floats(0.1, 5000)),
    st.dictionaries(st.integers(1, 12), st.builds(StepTime, HOUR, HOUR)),
    st.builds(RouteFacts, coat=st.sampled_from(["", "paint"]), coat_mm=st.one_of(st.none(), st.floats(0, 5))),
)
def test_any_words_are_read_without_falling_over(
    steps: list[str], material: str, strength: float | None, times: dict[int, StepTime], facts: RouteFacts
) -> None:
    for breach in check_route(steps, material, strength, facts, times):
        assert breach.rule in CHECKED and all(1 <= step <= len(steps) for step in breach.steps)
    for clock in clocks(steps, material, facts, times, 0.0):
        assert clock.from_step < clock.to_step


@pytest.mark.parametrize(
    "part", [PartToRoute(""), PartToRoute("steel", finish="gold"), PartToRoute("steel", work=("x",))]
)
def test_what_is_not_held_is_named(part: PartToRoute) -> None:
    with pytest.raises(ValueError, match="a route needs"):
        propose_route(part)
