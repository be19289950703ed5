"""Rings of jobs are found and opened: networkx is the outside check of what a ring is."""

from itertools import pairwise

import networkx as nx
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.calc.plan.jobs import Job, Link, Network, without_circles
from witnessmark.calc.plan.lead_times import Triple
from witnessmark.calc.plan.network import RouteIn, ShipmentIn, StepIn, derive_network

KEYS = [f"{source}:{n}:do" for n in range(6) for source in ("hand", "seam")]


@st.composite
def networks(draw: st.DrawFn) -> Network:
    pairs = draw(st.sets(st.tuples(st.sampled_from(KEYS), st.sampled_from(KEYS)), max_size=40))
    return Network(
        tuple(Job(key, f"Do {key}.") for key in sorted(KEYS)),
        tuple(Link(before, after) for before, after in sorted(pairs)),
    )


def graph(network: Network) -> nx.DiGraph:
    found = nx.DiGraph()
    found.add_nodes_from(network.by_key)
    found.add_edges_from((link.before, link.after) for link in network.links)
    return found


@given(networks())
def test_nothing_waits_for_itself_afterwards_and_no_link_outside_a_ring_is_lost(network: Network) -> None:
    opened, said = without_circles(network)
    before, after = graph(network), graph(opened)
    assert nx.is_directed_acyclic_graph(after)
    lost = set(before.edges) - set(after.edges)
    ring_of = {key: n for n, ring in enumerate(nx.strongly_connected_components(before)) for key in ring}
    assert all(ring_of[one] == ring_of[other] for one, other in lost)
    assert len(said) == len(lost)
    assert (said == ()) == nx.is_directed_acyclic_graph(before)
    assert len(opened.in_order) == len(KEYS)


@given(networks())
def test_each_sentence_is_a_ring_that_is_there(network: Network) -> None:
    _, said = without_circles(network)
    edges = set(graph(network).edges)
    for sentence in said:
        names = [word.removeprefix("Do ") for word in sentence.rstrip(".").split(" waits for ")]
        assert names[0] == names[-1]
        assert all((before, after) in edges for after, before in pairwise(names))


@given(st.lists(st.sampled_from(["PL", "TH", ""]), min_size=1, max_size=8))
def test_steps_at_one_vendor_in_a_row_are_one_trip(who: list[str]) -> None:
    steps = tuple(
        StepIn(n, f"Step {n}", each or "sheet metal", Triple(1, 2, 3), days=Triple(1, 2, 3) if each else None)
        for n, each in enumerate(who, 1)
    )
    network = derive_network([RouteIn("7", "0007", "Fitting", steps)])
    trips = [each for n, each in enumerate(who) if not each or n == 0 or who[n - 1] != each]
    assert [job.vendor or "" for job in sorted(network.jobs, key=lambda j: int(j.key.rsplit(":", 1)[1]))] == trips
    assert len(network.links) == len(trips) - 1


def test_a_piece_in_place_comes_off_before_it_goes_away_and_one_already_away_does_not() -> None:
    steps = (StepIn(1, "Dress", "sheet metal", Triple(1, 1, 1)), StepIn(2, "Plate", "PL", days=Triple(1, 2, 3)))
    alone = (steps[1],)
    on = derive_network([RouteIn("7", "0007", "Fitting", alone, take_off_craft="sheet metal")])
    assert {(link.before, link.after) for link in on.links} == {("piece:7:off", "piece:7:2")}
    worked_on_first = derive_network([RouteIn("7", "0007", "Fitting", steps, take_off_craft="sheet metal")])
    assert "piece:7:off" not in worked_on_first.by_key  # its route begins in the shop and says itself how it comes off
    away = ShipmentIn("S-1", "PL", "plate", Triple(1, 2, 3), True, ("7",))
    sent = derive_network([RouteIn("7", "0007", "Fitting", alone, take_off_craft="sheet metal")], shipments=[away])
    assert "piece:7:off" not in sent.by_key


def test_the_greatest_wait_after_a_step_goes_with_its_link() -> None:
    steps = (
        StepIn(1, "Etch", "sheet metal", Triple(1, 1, 1), cures_hours=1, next_within_hours=4),
        StepIn(2, "Prime", "sheet metal", Triple(1, 1, 1)),
    )
    assert derive_network([RouteIn("7", "0007", "Fitting", steps)]).links == (Link("piece:7:1", "piece:7:2", 1, 4),)
