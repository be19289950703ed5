"""Whatever is typed or measured: a named refusal, or an answer whose chances are chances."""

import math

from hypothesis import given
from hypothesis import strategies as st

from witnessmark.calc.fasteners.identify import identify
from witnessmark.calc.fasteners.readings import LOOKS, MARKS, WAYS, BadReading, parse_reading

figures = st.one_of(st.floats(allow_nan=True, allow_infinity=True), st.floats(0.3, 30), st.integers(-5, 400))
words = st.sampled_from([*LOOKS, *MARKS, "yes", "no", "", "perhaps"])


@given(st.dictionaries(st.sampled_from(list(WAYS)), st.one_of(figures, words, st.booleans()), min_size=1, max_size=6))
def test_figures_are_refused_by_name_or_answered(measured: dict[str, float | str | bool]) -> None:
    refused = None
    try:
        found = identify(measured)
    except BadReading as error:
        refused = error
    if refused is not None:
        assert "Nothing was stored" in str(refused) and refused.what in measured
        return
    chances = [each.probability for each in found.candidates]
    assert all(0 <= chance <= 1 + 1e-9 and math.isfinite(chance) for chance in chances)
    assert chances == sorted(chances, reverse=True) and sum(chances) <= 1 + 1e-6
    assert found.answered == (found.probability >= 0.97)


@given(st.sampled_from(list(WAYS)), st.text(max_size=40))
def test_typed_text_is_refused_by_name_or_read(what: str, typed: str) -> None:
    refused = None
    try:
        read = parse_reading(what, typed)
    except BadReading as error:
        refused = error
    if refused is not None:
        assert refused.what == what and "Nothing was stored" in str(refused)
    else:
        assert isinstance(read.value, str) or read.value > 0
