"""The plan on small cases whose answer is worked by hand."""

import doctest
import importlib
from dataclasses import replace
from datetime import date

import networkx as nx
import pytest
from scipy.stats import triang

from witnessmark.calc.plan.calendars import Bench, Person, Shop
from witnessmark.calc.plan.feasible import breaches
from witnessmark.calc.plan.jobs import Circle, Job, Link, Network
from witnessmark.calc.plan.lead_times import Triple, triangle_quantile
from witnessmark.calc.plan.network import (
    FindingIn,
    HandJob,
    OrderIn,
    RouteIn,
    SeamIn,
    ShipmentIn,
    StepIn,
    derive_network,
)
from witnessmark.calc.plan.reasons import bench_list, order_or_send_now, why_it_waits
from witnessmark.calc.plan.solve import Bound, latest_starts, solve

TUESDAY = date(2026, 5, 12)


def hours(h: float) -> Triple:
    return Triple(h, h, h)


ILVA = Person("Ilva", frozenset({"sheet metal"}))
BRANDT = Person("Brandt", frozenset({"lead"}))
SHOP = Shop(TUESDAY, (ILVA, BRANDT), (Bench("oven"),))


@pytest.mark.parametrize("name", ["lead_times", "calendars", "jobs", "network", "solve", "feasible", "reasons"])
def test_the_examples_run(name):
    assert doctest.testmod(importlib.import_module(f"witnessmark.calc.plan.{name}")).failed == 0


@pytest.mark.parametrize("days", [(5, 10, 25), (5, 5, 9), (2, 9, 9), (0, 1, 2)])
@pytest.mark.parametrize("p", [0.0, 0.1, 0.5, 0.8, 0.95, 1.0])
def test_triangle_agrees_with_scipy(days, p):
    least, likely, most = days
    span = most - least
    assert triangle_quantile(*days, p) == pytest.approx(triang.ppf(p, (likely - least) / span, least, span))


@pytest.mark.parametrize("bad", [(3, 2, 4, 0.5), (-1, 2, 4, 0.5), (1, 2, 3, 1.5), (1, float("nan"), 3, 0.5)])
def test_triangle_refuses(bad):
    with pytest.raises(ValueError):
        triangle_quantile(*bad)


def test_steps_of_a_piece_follow_one_another_with_the_cure():
    route = RouteIn(
        "7", "0118", "Wing root fitting, left",
        (StepIn(1, "Strip", "sheet metal", hours(2), done=True), StepIn(2, "Prime", "sheet metal", hours(4), cures_hours=24),
         StepIn(3, "Cadmium plate", "GALV", days=Triple(5, 10, 15)), StepIn(4, "Put back", "sheet metal", hours(1))),
    )  # fmt: skip
    network = derive_network([route])
    assert [j.key for j in network.jobs] == ["piece:7:2", "piece:7:3", "piece:7:4"]
    assert network.links == (Link("piece:7:2", "piece:7:3", 24), Link("piece:7:3", "piece:7:4", 0))
    assert network.by_key["piece:7:3"].what == "Send wing root fitting, left, tag 0118, to GALV: Cadmium plate."
    at = solve(network, SHOP).by_key
    # Tuesday 8 to 12; cured Wednesday 12; leaves Wednesday 13 May; ten working days later is Wednesday 27 May.
    assert (at["piece:7:2"].start, at["piece:7:2"].finish) == (32, 48)
    assert at["piece:7:3"].start_date == date(2026, 5, 13)
    assert at["piece:7:4"].start_date == date(2026, 5, 27)
    assert at["piece:7:4"].bound_by == Bound("predecessor", "piece:7:3")


def test_row_waits_for_its_look_and_its_order():
    seam = SeamIn("HB-12", "hull bottom", "100", 84, 24, False, ("O-1",), closes=("100",))
    put_back = RouteIn("9", "0200", "Frame", (StepIn(1, "Put back", "sheet metal", hours(1)),), zone="100")
    network = derive_network(
        [put_back], [seam], [OrderIn("O-1", "MARL", "rivets", Triple(5, 10, 25))],
        findings=[FindingIn("F-31", "HB-12", "hole 43 too near the edge", True), FindingIn("F-1", "9", "dent", False)],
    )  # fmt: skip
    assert {(k.before, k.after) for k in network.links} == {
        ("seam:HB-12:look", "order:O-1:arrive"), ("seam:HB-12:look", "seam:HB-12:fill"), ("order:O-1:arrive", "seam:HB-12:fill"),
        ("piece:9:1", "seam:HB-12:fill"), ("finding:F-31:decide", "seam:HB-12:fill"),
    }  # fmt: skip
    schedule = solve(network, SHOP)
    assert breaches(schedule, network, SHOP) == []
    steps = why_it_waits(schedule, network, "seam:HB-12:fill")
    assert [s.kind for s in steps][:2] == ["predecessor", "predecessor"]
    leave = order_or_send_now(schedule, network, SHOP)
    assert [(s.key, s.held_by, s.slack_days) for s in leave] == [("order:O-1:arrive", ("seam:HB-12:look",), 0)]
    today = bench_list(schedule, network, SHOP)
    assert next((p.person, [j.key for j in p.jobs]) for p in today.people) == ("Brandt", ["finding:F-31:decide"])
    assert today.people[1].jobs[0].key == "seam:HB-12:look"


def test_finding_holds_the_next_step_and_a_shipment_out_counts_down():
    route = RouteIn(
        "7", "1", "Fork", (StepIn(1, "Test", "OST", days=Triple(3, 5, 9)), StepIn(2, "Fit", "sheet metal", hours(1)))
    )
    sent = ShipmentIn("S-1", "OST", "crack test", Triple(3, 5, 9), True, ("7",), promised_days=2)
    network = derive_network([route], shipments=[sent], findings=[FindingIn("F-2", "7", "bent", True)])
    assert [j.key for j in network.jobs] == ["finding:F-2:decide", "piece:7:2", "shipment:S-1:back"]
    assert network.by_key["shipment:S-1:back"].days == Triple(1, 2, 6)
    assert {(k.before, k.after) for k in network.links} == {
        ("finding:F-2:decide", "piece:7:2"),
        ("shipment:S-1:back", "piece:7:2"),
    }
    assert order_or_send_now(solve(network, SHOP), network, SHOP) == []


def test_circle_is_told():
    loop = [
        HandJob("a", "Fit A", "lead", hours(1), after=("b",)),
        HandJob("b", "Fit B", "lead", hours(1), after=("a",)),
    ]
    ring = derive_network(hand_jobs=loop)
    with pytest.raises(Circle) as told:
        _ = ring.in_order
    assert told.value.sentence == "Fit A waits for Fit B waits for Fit A."
    known = derive_network(hand_jobs=[HandJob("c", "Fit C", "lead", hours(1), after=("gone",))])
    assert known.unknown_after == (("hand:c:do", "gone"),)


def test_person_bench_release_absence_and_priority():
    jobs = (
        Job("a", "A.", "sheet metal", hours(6), bench="oven"), Job("b", "B.", "sheet metal", hours(4), priority=1),
        Job("c", "C.", "lead", hours(1), bench="oven"), Job("d", "D.", "lead", hours(1), release=date(2026, 5, 15)),
        Job("e", "E.", "wood", hours(1)), Job("f", "F.", "lead", hours(1)),
    )  # fmt: skip
    network = Network(jobs, (Link("e", "f"),))
    schedule = solve(network, SHOP)
    at = schedule.by_key
    assert (at["b"].start, at["b"].finish) == (32, 48)
    assert (at["a"].start, at["a"].finish, at["a"].bound_by) == (48, 96 + 40, Bound("person", "b"))
    assert at["c"].finish <= at["a"].start or at["c"].bound_by == Bound("bench", "a")
    assert at["d"].bound_by == Bound("release", "2026-05-15")
    assert dict(schedule.cannot) == {"e": "It cannot be planned: nobody here does wood.", "f": "It waits for: E."}
    assert breaches(schedule, network, SHOP) == []
    away = replace(SHOP, people=(replace(ILVA, absent=frozenset({TUESDAY})),))
    assert solve(Network(jobs[1:2], ()), away).entries[0].bound_by == Bound("calendar", "Ilva")


def test_checker_catches_each_kind_of_breach():
    jobs = (Job("a", "A.", "sheet metal", hours(4), bench="oven"), Job("b", "B.", "sheet metal", hours(4), bench="oven"),
            Job("o", "O.", vendor="V", days=hours(3)), Job("r", "R.", "lead", hours(1), release=date(2026, 5, 14)))  # fmt: skip
    network = Network(jobs, (Link("a", "b", 2.0), Link("b", "o")))
    good = solve(network, SHOP)
    assert breaches(good, network, SHOP) == []

    def said(key, **change):
        return " ".join(
            breaches(
                replace(good, entries=tuple(replace(e, **change) if e.key == key else e for e in good.entries)),
                network,
                SHOP,
            )
        )

    b, o = good.by_key["b"], good.by_key["o"]
    assert "is not planned" in " ".join(breaches(replace(good, entries=good.entries[1:]), network, SHOP))
    assert "more than once" in " ".join(breaches(replace(good, entries=(*good.entries, b)), network, SHOP))
    assert "before a is done and cured" in said("b", start=48, finish=64)
    assert "Ilva has 2 jobs at once" in said("b", start=40, finish=56)
    assert "oven has 2 jobs at once" in said("b", start=40, finish=56)
    assert "does not do sheet metal" in said("b", person="Brandt")
    assert "has no person" in said("b", person="Nobody")
    assert "does not work when" in said("b", start=b.start - 96 * 7 + 40, finish=b.finish)
    assert "needs 4.0" in said("b", finish=b.finish - 4)
    assert "working days at V" in said("o", finish=o.finish - 96)
    assert "starts before it may" in said("r", start=32, finish=36)
    assert "needs oven" in said("b", bench="")


def test_longest_road_agrees_with_networkx():
    jobs = tuple(Job(k, k, vendor="V", days=hours(d)) for k, d in zip("abcde", [3, 2, 5, 1, 4], strict=True))
    network = Network(jobs, (Link("a", "c"), Link("b", "c"), Link("a", "d"), Link("c", "e"), Link("d", "e")))
    graph = nx.DiGraph()
    for link in network.links:
        graph.add_edge(link.before, link.after, w=network.by_key[link.before].days.likely)
    graph.add_edge("e", "end", w=4)
    schedule = solve(network, SHOP)
    assert nx.dag_longest_path_length(graph, "w") == 12
    # Twelve working days after Tuesday 12 May.
    assert schedule.finish_date == date(2026, 5, 28) or schedule.finish // 96 == 16
    latest = latest_starts(schedule, network, SHOP)
    critical = set(nx.dag_longest_path(graph, "w")) - {"end"}
    assert {k for k in "abcde" if latest[k] // 96 == schedule.by_key[k].start // 96} == critical
