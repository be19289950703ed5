"""Fits against a printed example, another method and the trade's own figure."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.bench.route import pressure_by_differences
from witnessmark.calc.fits import Joint, grip_left, press_fit, shrink_fit
from witnessmark.calc.metals import UnknownMetal, metal
from witnessmark.calc.surface.heat_caps import celsius, fahrenheit, heat_cap

STEEL, WHEEL = metal("steel"), metal("AZ63A casting")
DRUM = Joint(STEEL, WHEEL, 250.0, 290.0, 0.30, 60.0, 235.0)


def test_a_hollow_shaft_agrees_with_finite_differences() -> None:
    """Finite differences of the equation of equilibrium, solved by scipy."""
    for joint in (
        DRUM,
        Joint(metal("brass"), metal("356"), 40, 70, 0.05, 30, 20),
        Joint(STEEL, STEEL, 50, 80, 0.04, 40),
    ):
        assert press_fit(joint).pressure_mpa == pytest.approx(pressure_by_differences(joint), rel=1e-4)


def test_a_housing_rises_as_computed_by_hand() -> None:
    """Fit-heating formula (derived): 356 bore 50 mm, interference 0.05, clearance 0.025, 21.5e-6: 69.8 C rise."""
    joint = Joint(STEEL, metal("356"), 50, 80, 0.05, 20)
    answer = shrink_fit(joint, 0.025, heat_cap("356-T6 casting"))
    assert answer.needed_c - 20 == pytest.approx(69.8, rel=0.005)


def test_a_drum_comes_out_of_its_magnesium_wheel_near_300_f() -> None:
    """Common practice, no source: a steel drum shrunk into a magnesium wheel comes out at about 300 F.

    With 1.2 to 1.6 per mille of shrink and a slipping clearance the whole wheel must soak to about that heat, and 300 F is
    also where the temper of AZ63A (stabilised at 300 F, T.O. 1-1A-9, read) ends.
    """
    joint = Joint(STEEL, WHEEL, 250, 290, 0.375, 60, 235)
    out = shrink_fit(joint, 0.05, heat_cap("AZ63A casting"), both_heated=True)
    assert 260 <= fahrenheit(out.needed_c) <= 310
    assert out.least_c < out.needed_c < out.most_c
    assert heat_cap("AZ63A casting").max_c == pytest.approx(celsius(300))


def test_plate_on_the_drum_needs_more_heat_than_the_cap_and_other_ways_are_given_in_figures() -> None:
    """0.06 mm of hard chrome on the outside: the diameter grows by 0.12 mm."""
    cap = heat_cap("AZ63A casting")
    assert shrink_fit(DRUM, 0.05, cap, both_heated=True).allowed
    plated = Joint(STEEL, WHEEL, 250, 290, 0.30 + 2 * 0.06, 60, 235)
    refused = shrink_fit(plated, 0.05, cap, both_heated=True)
    assert not refused.allowed and "300 °F" in refused.refusal
    ways = {way.what: way for way in refused.instead}
    assert set(ways) == {"chill", "grind"}
    ground = Joint(STEEL, WHEEL, 250, 290, 0.42 - ways["grind"].figure, 60, 235)
    assert shrink_fit(ground, 0.0499, cap, both_heated=True).allowed
    # Both figures open the fit by the wanted gap, at the cautious ends of the expansion figures.
    chilled = 250e-6 * (WHEEL.cte_low * (cap.max_c - 20) + STEEL.cte_low * (20 - ways["chill"].figure))
    assert chilled >= 0.47 - 1e-3


def test_an_unknown_alloy_gets_the_least_that_releases_and_no_allowed_one() -> None:
    assert heat_cap("Mg casting") is None
    answer = shrink_fit(DRUM, 0.05, heat_cap("Mg casting"), both_heated=True)
    assert not answer.allowed and answer.cap_c is None
    assert f"{answer.least_c:.0f} °C" in answer.refusal and "engineer" in answer.refusal


@pytest.mark.parametrize(
    ("material", "cap_f", "below"),
    [
        ("AZ31B hard rolled sheet", 300, False), ("AZ31B extrusion", 500, False), ("AZ63A casting", 300, False),
        ("AZ91C-T6 casting", 400, True), ("AZ91C-T7 casting", 400, True), ("AZ92A casting", 420, True),
        ("6061-T6", 320, False), ("356 casting T51", 400, False), ("356-T6", 310, False), ("2024-T3", 250, False),
        ("7075-T6", 250, False),
    ],
)  # fmt: skip
def test_caps_are_those_of_the_row(material: str, cap_f: float, below: bool) -> None:
    """T.O. 1-1A-9 and the rows of heat_caps.csv."""
    cap = heat_cap(material)
    assert fahrenheit(cap.max_c) == pytest.approx(cap_f) and cap.below == below


def test_an_unpainted_conversion_coat_lowers_the_cap() -> None:
    """MIL-DTL-5541F 6.14 (read): 140 F."""
    assert fahrenheit(heat_cap("6061-T6", ("conversion coat",)).max_c) == pytest.approx(140)
    assert fahrenheit(heat_cap("6061-T6", ("conversion coat", "prime")).max_c) == pytest.approx(320)


def test_bad_sizes_and_unknown_metals_are_named() -> None:
    with pytest.raises(ValueError, match="bore"):
        press_fit(Joint(STEEL, WHEEL, 50, 40, 0.1, 10))
    with pytest.raises(ValueError, match="not surely grow"):
        shrink_fit(Joint(WHEEL, STEEL, 50, 80, 0.1, 10), 0.01, None, both_heated=True)
    with pytest.raises(UnknownMetal, match="unobtainium"):
        metal("unobtainium")


@settings(max_examples=150, deadline=None)
@given(
    st.floats(5, 500), st.floats(1.05, 4), st.floats(0, 0.95), st.floats(1e-4, 3e-3), st.floats(0, 0.5), st.booleans()
)
def test_grip_and_heat_follow_the_interference(
    d: float, wall: float, bore: float, share: float, clearance: float, both: bool
) -> None:
    joint = Joint(STEEL, WHEEL, d, d * wall, d * share, 20, d * bore)
    more = Joint(STEEL, WHEEL, d, d * wall, d * share * 1.5, 20, d * bore)
    assert press_fit(more).pressure_mpa > press_fit(joint).pressure_mpa > 0
    answer = shrink_fit(joint, clearance, None, both)
    assert answer.least_c <= answer.needed_c <= answer.most_c
    assert shrink_fit(more, clearance, None, both).needed_c > answer.needed_c
    likely, low, high = grip_left(joint, 80)
    assert low <= likely <= high <= 1 and math.isfinite(likely)
