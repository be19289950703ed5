"""The day's order, what waits and what it costs, who could finish tonight, the van; held against counting by hand."""

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.calc.trip import Barred, Nearly, Stop, loading_order, order_of_day, tonight

DAY = [Stop("QB", "Plater"), Stop("ON", "Test house"), Stop("TR", "Trimmer")]
BOLTS = Barred("1", "2 wheel bolts", "QB", "ON")


def test_the_test_house_moves_first_and_the_bolts_come_off() -> None:
    plan = order_of_day(DAY, [BOLTS], {"ON": 8}, {"QB": [3, 10, 20]})
    assert plan.order == ("ON", "QB", "TR")
    assert plan.moved == ("Test house comes before Plater: 2 wheel bolts must be tested first.",)
    (wait,) = plan.waits
    assert (wait.off, wait.left_at, wait.till, wait.costs_days) == ("QB", "ON", 10, 10)


def test_tested_while_waiting_nothing_waits_but_the_order_turns() -> None:
    day = [DAY[0], Stop("ON", "Test house", while_waiting=True), DAY[2]]
    plan = order_of_day(day, [BOLTS], {"ON": 8}, {})
    assert plan.order == ("ON", "QB", "TR")
    assert plan.waits == ()
    assert plan.conditional[0].goes_to == "QB"


@pytest.mark.parametrize(
    ("back", "trips", "till", "cost", "words"),
    [({"ON": 8}, [], None, 8, "a drive of its own"), ({}, [5], None, None, "is not known"), ({"ON": 4}, [5], 5, 5, "costs 5 days")],
)  # fmt: skip
def test_what_the_wait_costs(back: dict[str, float], trips: list[int], till: int, cost: int, words: str) -> None:
    (wait,) = order_of_day(DAY, [BOLTS], back, {"QB": trips}).waits
    assert (wait.till, wait.costs_days) == (till, cost)
    assert words in wait.sentence


def test_one_thing_is_spoken_of_as_one() -> None:
    one = Barred("1", "the root fitting", "QB", "ON")
    assert "The root fitting comes off the sheet of Plater and is left" in order_of_day(DAY, [one], {"ON": 8}, {}).waits[0].sentence  # fmt: skip


def test_tests_that_bar_each_other_break_as_few_as_can_be() -> None:
    ring = [Barred("1", "a", "QB", "ON"), Barred("2", "b", "ON", "QB")]
    plan = order_of_day(DAY, ring, {}, {})
    assert plan.order == ("QB", "ON", "TR")  # one of the two is late in every order; the said order stands
    assert len(plan.waits) == 2


def test_nothing_barred_nothing_moved() -> None:
    plan = order_of_day(DAY, [], {}, {})
    assert plan.order == ("QB", "ON", "TR")
    assert plan.sentence == "The stops stay in the order that was said."


@pytest.mark.parametrize(
    ("stops", "barred"),
    [([Stop(str(n), str(n)) for n in range(9)], []), ([DAY[0], DAY[0]], []), (DAY, [Barred("1", "x", "QB", "XX")])],
)
def test_a_day_that_cannot_be_is_refused(stops: list[Stop], barred: list[Barred]) -> None:
    with pytest.raises(ValueError, match=r"eight|8 stops|twice|not on this trip"):
        order_of_day(stops, barred, {}, {})


KEYS = "ABCDE"


@given(st.permutations(KEYS), st.lists(st.tuples(st.sampled_from(KEYS), st.sampled_from(KEYS)), max_size=6))
def test_no_order_drives_past_fewer_barred_pieces(said: list[str], pairs: list[tuple[str, str]]) -> None:
    """Against every order, counted by other code; where a day without a late piece exists, it is found."""
    barred = [Barred(str(n), "x", wants, first) for n, (wants, first) in enumerate(pairs) if wants != first]
    plan = order_of_day([Stop(key, key) for key in said], barred, {}, {})

    def late(order: tuple[str, ...]) -> int:
        return len([b for b in barred if order.index(b.first) > order.index(b.wants)])

    assert sorted(plan.order) == sorted(said)
    assert late(plan.order) == min(late(order) for order in permutations(said))


def test_hours_are_given_out_once_and_cures_are_waited_for() -> None:
    work = [
        Nearly("A", "a", "QB", "Clean", "sheet metal", 1.5),
        Nearly("B", "b", "QB", "Clean", "sheet metal", 1.0),
        Nearly("C", "c", "QB", "Prime", "sheet metal", 0.5, cures_hours=24),
        Nearly("D", "d", "QB", "Turn", "machining", 0.5),
    ]
    told = {t.piece: t for t in tonight(work, {"sheet metal": [("Ilva", 2.0)]}, 14)}
    assert told["B"].who == "Ilva"
    assert not told["A"].can
    assert "24 to cure: not before the van leaves" in told["C"].sentence
    assert "Nobody here has that craft (machining)" in told["D"].sentence


@given(st.lists(st.floats(0.1, 3.0), max_size=12), st.lists(st.floats(0, 4), min_size=1, max_size=4))
def test_nobody_works_more_than_he_has(hours: list[float], have: list[float]) -> None:
    work = [Nearly(str(n), "x", "QB", "Clean", "any", h) for n, h in enumerate(hours)]
    people = [(f"P{n}", h) for n, h in enumerate(have)]
    given_out = dict.fromkeys((name for name, _ in people), 0.0)
    for each in tonight(work, {"any": people}, 100):
        if each.can:
            given_out[each.who] += each.hours
    assert all(given_out[name] <= most + 1e-9 for name, most in people)


def test_hours_below_nought_are_refused() -> None:
    with pytest.raises(ValueError, match="below nought"):
        tonight([], {}, -1)


def test_the_last_stop_goes_in_first() -> None:
    assert loading_order(["ON", "QB", "TR"], {"ON": ["1", "2"], "TR": ["3"]}) == (("3", "TR"), ("2", "ON"), ("1", "ON"))
    with pytest.raises(ValueError, match="not on the trip"):
        loading_order(["ON"], {"QB": ["1"]})
    with pytest.raises(ValueError, match="two stops"):
        loading_order(["ON", "QB"], {"QB": ["1"], "ON": ["1"]})
