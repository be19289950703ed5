"""A person's word among the readings: taken as fixed, and the rest solved as if its piece were no longer open.

Outside: every way to put the pieces counted out one by one (enumeration with exact weights), and scipy's assignment of the
pieces that are left once the spoken one has its place.
"""

import itertools
import math

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from witnessmark.calc.bags.features import BARE, Feature, Group, MeasuredPiece, Reading
from witnessmark.calc.bags.return_match import DOUBTFUL, SAID, STRANGER, match_return
from witnessmark.calc.bags.scores import FOREIGN, LOST, field_of


def group(key: str, bag: str, count: int, mm: float, place: str = "") -> Group:
    # The bag was measured often: its mean hardly moves, so that the exact weights below hold.
    return Group(key, bag, count, {"diameter_mm": Feature(mm, 0.04, n=100_000)}, place=place)


def piece(key: str, mm: float) -> MeasuredPiece:
    return MeasuredPiece(key, {"diameter_mm": Reading(mm, 0.04)})


SENT = [group("A", "A", 2, 8.00), group("B one", "B", 1, 7.90, "one"), group("B two", "B", 1, 7.96, "two")]
BACK = [piece("1", 7.99), piece("2", 7.97), piece("3", 7.93), piece("4", 7.95)]


def exact(said: dict[str, str]) -> dict[str, dict[str, float]]:
    """Count out every way, weighted by its chance; a place that stays empty weighs LOST / (1 - LOST)."""
    field = field_of(SENT, BACK)
    stranger = field.foreign()
    gains = np.concatenate([gain for _, gain in field.gains()])
    room = [g.count for g in SENT]
    told = {p.key: dict[str, float]() for p in BACK}
    total = 0.0
    for way in itertools.product(range(len(SENT) + 1), repeat=len(BACK)):
        if any(sum(j == g for j in way) > room[g] for g in range(len(SENT))):
            continue
        names = [SENT[j].bag if j < len(SENT) else STRANGER for j in way]
        if any(said.get(p.key, name) != name for p, name in zip(BACK, names, strict=True)):
            continue
        # Places within a group are alike: how many ways there are to fill them belongs to the weight.
        ways = math.prod(math.perm(room[g], sum(j == g for j in way)) for g in range(len(SENT)))
        log = sum(gains[i, j] if j < len(SENT) else 0.0 for i, j in enumerate(way))
        weight = ways * math.exp(log)
        total += weight
        for p, j in zip(BACK, way, strict=True):
            key = SENT[j].key if j < len(SENT) else STRANGER
            told[p.key][key] = told[p.key].get(key, 0.0) + weight
    assert np.isfinite(stranger).all() and total > 0
    return {key: {name: w / total for name, w in row.items()} for key, row in told.items()}


@pytest.mark.parametrize("said", [{}, {"1": "B"}, {"1": "B", "2": "B"}, {"3": "A"}, {"4": "A", "3": "A"}])
def test_the_chances_are_those_of_counting_every_way_out(said: dict[str, str]) -> None:
    told, wanted = match_return(SENT, BACK, BARE, said=said), exact(said)
    for each in told.pieces:
        for name, chance in each.others:
            assert chance == pytest.approx(wanted[each.piece].get(name, 0.0), abs=0.03), (each.piece, name)
        if each.piece in said:
            assert each.state == SAID and each.bag == said[each.piece] and each.bag_sure == 1


def test_the_rest_costs_what_scipy_finds_for_it() -> None:
    said = {"1": "B"}
    told = match_return(SENT, BACK, BARE, said=said)
    at = {p.piece: p.group for p in told.pieces}
    field = field_of(SENT, BACK)
    gains = np.concatenate([gain for _, gain in field.gains()])
    best = math.inf
    for taken in (1, 2):  # whichever of its bag's two places the spoken piece takes
        slots = [j for j, g in enumerate(SENT) for _ in range(g.count - (j == taken))]
        cost = np.concatenate([-gains[1:, slots], np.zeros((3, 3))], axis=1)
        rows, cols = linear_sum_assignment(cost)
        best = min(best, float(cost[rows, cols].sum()))
        if at["1"] == SENT[taken].key:
            mine = float(cost[rows, cols].sum())
    assert told.cost == pytest.approx(mine) and told.cost >= best - 1e-9


def test_a_piece_said_to_be_foreign_leaves_its_place_empty_and_is_counted_as_read() -> None:
    told = match_return(SENT, BACK, BARE, said={"1": STRANGER})
    first = told.pieces[0]
    assert (first.piece, first.bag, first.state) == ("1", None, SAID)
    assert told.foreign == ("1",) and told.not_measured == 0 and sum(s.count for s in told.short) == 1


def test_a_word_far_from_every_reading_teaches_its_bag_nothing() -> None:
    sent = [group("A", "A", 1, 8.0), Group("B", "B", 2, {"diameter_mm": Feature(6.0, 0.04)})]
    back = [piece("1", 8.0), piece("2", 6.0), piece("3", 6.02)]
    told = match_return(sent, back, BARE, said={"1": "B"})
    states = {p.piece: (p.bag, p.state) for p in told.pieces}
    assert states["1"] == ("B", SAID)
    # One of the two thin pieces has no place any more: neither is taken for the thick bag's.
    assert {states["2"][0], states["3"][0]} == {"B", None}
    alone = match_return(sent, back, BARE)
    assert {p.piece: p.bag for p in alone.pieces} == {"1": "A", "2": "B", "3": "B"}


def test_a_reading_that_fits_no_place_of_the_bag_said_drives_nobody_out_of_his() -> None:
    """Both places of B are thicker than the piece by twenty deviations and more: its reading is wrong, and parts none."""
    sent = [group("A", "A", 2, 6.0), group("B one", "B", 1, 8.0, "one"), group("B two", "B", 1, 7.5, "two")]
    back = [piece("1", 6.0), piece("2", 6.01), piece("3", 7.5)]
    told = match_return(sent, back, BARE, said={"1": "B"})
    at = {p.piece: (p.group, p.state) for p in told.pieces}
    assert at["3"] == ("B two", "told") and at["2"] == ("A", "told") and at["1"] == ("B one", SAID)
    assert [(s.group, s.count) for s in told.short] == [("A", 1)]


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"9": "A"}, "no piece that was measured"),
        ({"1": "C"}, "it gave 0"),
        ({"1": "B", "2": "B", "3": "B"}, "3 were said to be of B, and it gave 2"),
    ],
)
def test_a_word_that_cannot_be_is_refused(said: dict[str, str], why: str) -> None:
    with pytest.raises(ValueError, match=why):
        match_return(SENT, BACK, BARE, said=said)


def test_the_doubtful_one_is_settled_when_its_twin_is_said() -> None:
    sent = [group("A", "A", 1, 8.0), group("B", "B", 1, 7.98)]
    back = [piece("1", 7.99), piece("2", 7.99)]
    assert all(p.state == DOUBTFUL for p in match_return(sent, back, BARE).pieces)
    told = match_return(sent, back, BARE, lost=LOST, foreign=FOREIGN, said={"1": "B"})
    assert told.pieces[1].bag == "A" and told.pieces[1].sure > 0.97
