"""How much survey is enough, against the distributions of a general library and by laws that must hold."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import betabinom, hypergeom

from witnessmark.calc.fasteners.sampling import (
    Reach,
    SurveyRow,
    _log_none,
    heads_to_measure,
    single_head_chance,
    survey_risk,
    unseen_chance,
)


def rows(structure: str, looked: int, left: int, reach: Reach = "not looked at", kind: str = "3.0") -> list[SurveyRow]:
    seen = [SurveyRow(f"{structure} {i}", structure, 40, "looked at", kind) for i in range(looked)]
    return seen + [SurveyRow(f"{structure} {looked + i}", structure, 40, reach) for i in range(left)]


@given(st.integers(1, 400), st.data())
def test_single_heads_follow_the_hypergeometric_distribution(heads: int, data: st.DataObject) -> None:
    looked, odd = data.draw(st.integers(0, heads)), data.draw(st.integers(0, heads))
    # scipy.stats.hypergeom
    assert single_head_chance(heads, looked, odd) == pytest.approx(
        float(hypergeom.pmf(0, heads, odd, looked)), abs=1e-9
    )


@given(st.floats(0.05, 40), st.floats(0.05, 40), st.integers(0, 200))
def test_none_new_among_the_rows_left_follows_the_beta_binomial(a: float, b: float, left: int) -> None:
    import math

    # scipy.stats.betabinom
    assert math.exp(_log_none(a, b, left)) == pytest.approx(float(betabinom.pmf(0, left, a, b)), rel=1e-6, abs=1e-12)


@given(st.integers(3, 80), st.integers(0, 3), st.integers(0, 40))
def test_more_rows_left_are_never_less_risk_and_more_surprises_are_never_less(n: int, odd: int, left: int) -> None:
    chance = unseen_chance([n], [odd], [left])[1]
    assert 0 <= chance <= 1
    assert unseen_chance([n], [odd], [left + 1])[1] >= chance - 1e-12
    assert unseen_chance([n], [min(n, odd + 1)], [left])[1] >= chance - 1e-12
    assert (left == 0) == (chance == pytest.approx(0, abs=1e-12))


def test_what_lies_under_paint_or_out_of_reach_is_never_taken_to_be_alike() -> None:
    told = survey_risk([*rows("skin", 30, 0), *rows("spar", 0, 4, "cannot reach"), *rows("rib", 20, 2, "under paint")])
    assert told.no_claim == ("spar 0", "spar 1", "spar 2", "spar 3", "rib 20", "rib 21")
    assert "No claim for 6 rows under paint or out of reach" in told.sentence
    spar = next(each for each in told.structures if each.structure == "spar")
    assert spar.chance is None and "No claim" in spar.sentence


def test_a_structure_nobody_looked_at_has_no_chance_and_comes_first() -> None:
    told = survey_risk([*rows("skin", 60, 4), *rows("spar", 1, 5)])
    assert told.chance is None and not told.enough
    assert "No claim for the spar" in told.sentence
    assert told.next_rows[:2] == ("spar 1", "spar 2")


def test_a_size_met_in_one_row_alone_makes_the_rest_doubtful() -> None:
    calm = survey_risk(rows("skin", 40, 6))
    odd = survey_risk([*rows("skin", 40, 6), SurveyRow("patch", "skin", 40, "looked at", "1/8")])
    assert calm.chance is not None and odd.chance is not None and odd.chance > 2 * calm.chance


def test_rows_to_enough_are_enough() -> None:
    start = rows("skin", 12, 20)
    told = survey_risk(start, 0.10)
    assert told.rows_to_enough is not None and 0 < told.rows_to_enough <= 20
    more = [
        SurveyRow(row.name, row.structure, row.holes, "looked at", "3.0") if 12 <= i < 12 + told.rows_to_enough else row
        for i, row in enumerate(start)
    ]
    assert survey_risk(more, 0.10).enough


def test_every_row_looked_at_leaves_nothing() -> None:
    told = survey_risk(rows("skin", 9, 0))
    assert told.chance == pytest.approx(0, abs=1e-12) and told.enough and told.next_rows == ()


def test_three_heads_and_more_where_they_disagree() -> None:
    # Common practice, no source: three heads a row.
    assert heads_to_measure([], 84) == 3
    assert heads_to_measure(["a", "a", "a"], 84) == 0
    assert heads_to_measure(["a", "a", "b"], 84) == 3
    assert heads_to_measure(["a", "b"], 2) == 0


def test_nonsense_is_refused() -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        survey_risk([], 0)
    with pytest.raises(ValueError, match="one name"):
        survey_risk([*rows("skin", 1, 0), *rows("skin", 1, 0)])
    with pytest.raises(ValueError, match="do not fit"):
        single_head_chance(10, 11, 1)
