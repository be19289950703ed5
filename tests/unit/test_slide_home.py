"""Seconds to slide a shrink fit home, against closed forms, scipy's integrator and finite differences of the heat equation."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from witnessmark.calc.fits import Joint, shrink_fit
from witnessmark.calc.metals import metal
from witnessmark.calc.slide_home import (
    MOST_S,
    TOUCHING_W_M2K,
    Heats,
    gap_after,
    heat_headline,
    seconds_open,
    slide_home,
    specific_heat,
    way_home,
)
from witnessmark.calc.surface.heat_caps import heat_cap
from witnessmark.calc.tables import load_table

STEEL, WHEEL = metal("steel"), metal("AZ63A casting")
DRUM = Joint(STEEL, WHEEL, 250.0, 290.0, 0.30, 60.0, 235.0)


def test_one_body_in_air_cools_by_its_time_constant() -> None:
    """Newton's cooling in closed form: t = C / hA ln(rise / rise that just opens)."""
    flows = Heats(30_000.0, 20_000.0, 0.0, 20.0, 0.0)
    just = DRUM.interference_mm / (DRUM.diameter_mm * WHEEL.cte * 1e-6)
    assert seconds_open(DRUM, flows, 80.0, 0.0) == pytest.approx(1500 * math.log(80 / just), rel=1e-9)


def test_two_bodies_without_air_meet_by_their_joint_time_constant() -> None:
    """Closed form: the difference falls with 1 / (G (1/C1 + 1/C2)), and the heat in both stays the same."""
    flows, t = Heats(30_000.0, 20_000.0, 1500.0, 0.0, 0.0), 4.0
    left = math.exp(-1500 * (1 / 30_000 + 1 / 20_000) * t)
    mean = 80.0 * 30_000 / 50_000
    outer, inner = mean + 80.0 * (1 - 0.6) * left, mean - 80.0 * 0.6 * left
    gap = 250e-6 * (WHEEL.cte * outer - STEEL.cte * inner) - 0.30
    assert gap_after(DRUM, flows, 80.0, 0.0, t) == pytest.approx(gap, abs=1e-12)


@settings(max_examples=60, deadline=None)
@given(
    st.floats(0, 4000), st.floats(0, 40), st.floats(0, 40), st.floats(50, 150), st.floats(-90, 20), st.floats(0.01, 60)
)
def test_the_written_out_exponential_agrees_with_an_integrator(
    seat: float, outer_air: float, inner_air: float, hot: float, cold: float, seconds: float
) -> None:
    """scipy's DOP853 on the two energy balances."""
    flows = Heats(31_300.0, 21_500.0, seat, outer_air, inner_air)

    def rates(_: float, x: np.ndarray) -> list[float]:
        over = seat * (x[0] - x[1])
        return [(-over - outer_air * x[0]) / 31_300, (over - inner_air * x[1]) / 21_500]

    end = solve_ivp(rates, (0, seconds), [hot, cold], method="DOP853", rtol=1e-10, atol=1e-10).y[:, -1]
    wanted = 250e-6 * (WHEEL.cte * end[0] - STEEL.cte * end[1]) - 0.30
    assert gap_after(DRUM, flows, hot, cold, seconds) == pytest.approx(wanted, abs=1e-7)


def by_differences(joint: Joint, seat: float, hot: float, cold: float, conducts: tuple[float, float]) -> float:
    """Radial heat conduction in both rings by explicit finite differences, no air; mean temperatures give the diameters.

    A ring's free diameter follows its mean temperature over the area: thermoelasticity of a free ring, textbook.
    """
    rings, steps = [], []
    for part, k, low, high, start in (
        (joint.inner, conducts[0], joint.bore_mm, joint.diameter_mm, cold),
        (joint.outer, conducts[1], joint.diameter_mm, joint.outer_diameter_mm, hot),
    ):
        edges = np.linspace(low / 2000, high / 2000, 16)
        area = np.pi * (edges[1:] ** 2 - edges[:-1] ** 2)
        capacity = part.density_kg_m3 * specific_heat(part) * area
        width = edges[1] - edges[0]
        flow = k * 2 * np.pi * edges[1:-1] / width
        rings.append((np.full(15, start), capacity, flow, area, k, width))
        steps.append(0.2 * capacity.min() / (flow.max() + seat * np.pi * joint.diameter_mm / 1000))
    step, time = min(steps), 0.0
    (inner, ci, fi, ai, ki, wi), (outer, co, fo, ao, ko, wo) = rings
    face = np.pi * joint.diameter_mm / 1000
    # The seat in line with the half cells beside it.
    between = face / (1 / seat + wi / 2 / ki + wo / 2 / ko)
    while True:
        opened = joint.diameter_mm * 1e-6 * (
            joint.outer.cte * np.average(outer, weights=ao) - joint.inner.cte * np.average(inner, weights=ai)
        )  # fmt: skip
        if opened <= joint.interference_mm:
            return time
        over = between * (outer[0] - inner[-1])
        for temperature, capacity, flow, at, sign in ((inner, ci, fi, -1, 1.0), (outer, co, fo, 0, -1.0)):
            through = flow * np.diff(temperature)
            change = np.zeros(15)
            change[:-1] += through
            change[1:] -= through
            change[at] += sign * over
            temperature += step * change / capacity
        time += step


@pytest.mark.parametrize(("seat", "within"), [(200.0, 0.05), (1000.0, 0.15)])
def test_parts_of_one_temperature_stand_in_for_real_rings(seat: float, within: float) -> None:
    """Conduction of steel 50 and cast magnesium 70 W/(m K) (from memory). A real ring gives heat over more slowly."""
    ce = {m: m.density_kg_m3 * specific_heat(m) * math.pi / 4e6 for m in (STEEL, WHEEL)}
    flows = Heats(
        ce[WHEEL] * (290**2 - 250**2), ce[STEEL] * (250**2 - 235**2), seat * math.pi * 0.25, 0.0, 0.0
    )  # fmt: skip
    lumped = seconds_open(DRUM, flows, 70.0, 0.0)
    real = by_differences(DRUM, seat, 70.0, 0.0, (50.0, 70.0))
    assert lumped <= real <= lumped * (1 + within) + 0.02


def test_touching_faces_of_real_rings_leave_no_less_time_than_is_said() -> None:
    home = slide_home(DRUM, 90.0, 20.0)
    cautious = replace(DRUM, outer=replace(WHEEL, cte=WHEEL.cte_low), inner=replace(STEEL, cte=STEEL.cte_high))
    assert 0 < home.least_s <= by_differences(cautious, TOUCHING_W_M2K, 70.0, 0.0, (50.0, 70.0))


def test_more_heat_or_cold_gives_more_time_and_a_closed_fit_none() -> None:
    cool, hot = slide_home(DRUM, 80.0, 20.0), slide_home(DRUM, 120.0, 20.0)
    assert hot.least_s > cool.least_s and hot.in_air_least_s > cool.in_air_least_s
    assert slide_home(DRUM, 80.0, -78.0).most_s > cool.most_s
    shut = slide_home(DRUM, 50.0, 20.0)
    assert (shut.least_s, shut.most_s) == (0.0, 0.0) and "does not go in at all" in shut.sentence
    with pytest.raises(ValueError, match="warmer"):
        slide_home(DRUM, 20.0, 20.0)
    assert seconds_open(DRUM, Heats(1.0, 1.0, 0.0, 0.0, 0.0), 100.0, 0.0) == MOST_S


def test_the_way_home_is_under_the_cap_and_chills_only_where_it_must() -> None:
    """AZ63A may see 300 F (T.O. 1-1A-9 para 4-46, read)."""
    cap = heat_cap("AZ63A casting")
    assert cap is not None
    easy = way_home(DRUM, 0.05, cap)
    assert easy is not None and easy.inner_c == 20 and easy.outer_c < cap.max_c and easy.gap_mm >= 0.05 - 1e-9
    tight = way_home(replace(DRUM, interference_mm=0.9), 0.05, cap)
    assert tight is not None and tight.outer_c == pytest.approx(cap.max_c) and tight.inner_c < 20
    assert tight.gap_mm == pytest.approx(0.05, abs=0.02)
    assert way_home(DRUM, 0.05, None) is None
    beyond = replace(DRUM, interference_mm=2.0)
    assert {way.what for way in shrink_fit(beyond, 0.05, cap).instead} == {"grind"} and way_home(
        beyond, 0.05, cap
    ) is None


def test_every_metal_of_the_table_has_a_specific_heat_near_that_of_its_atoms() -> None:
    """Dulong and Petit (textbook law): about 25 J a mole and degree; atomic masses of the main element."""
    mole_g = {"Al": 26.98, "Mg": 24.31, "Fe": 55.85, "Cu": 63.55, "Ti": 47.87}
    of = {"AZ": "Mg", "4": "Fe", "st": "Fe", "3": "Fe", "gr": "Fe", "ca": "Cu", "be": "Cu", "ti": "Ti", "35": "Al"}
    for row in load_table("metals").rows:
        name = row["metal"]
        element = next((e for start, e in sorted(of.items(), key=lambda p: -len(p[0])) if name.startswith(start)), "Al")
        molar = specific_heat(metal(name)) * mole_g[element] / 1000
        assert molar == pytest.approx(25, rel=0.12), name


def test_the_headline_says_which_heat_is_refused_and_which_way_is_open() -> None:
    """AZ63A may see 300 F (T.O. 1-1A-9 para 4-46, read); by hand 20 + 0.47 / (250 x 26e-6) = 92 C for the outer part alone."""
    cap, steel, wheel = heat_cap("AZ63A casting"), metal("steel"), metal("AZ63A casting")

    def said(interference: float, both: bool, known: bool = True) -> str:
        joint, limit = Joint(steel, wheel, 250, 290, interference, 60, 235), cap if known else None
        return heat_headline(shrink_fit(joint, 0.05, limit, both), both, way_home(joint, 0.05, limit))

    alone = 20 + 0.47 / (250 * wheel.cte_low * 1e-6)
    assert said(0.42, True).startswith("The heat is refused only to take it apart, both parts soaking together.")
    assert said(0.42, True).endswith(f"heat the outer part alone to {alone:.0f} °C: that is open.")
    assert said(0.42, False).endswith("°C opens it.")
    # Past what the cap opens, the cold that is still needed is said with it; past all cold, nothing is called open.
    assert "alone to 149 °C and chill the inner part to -" in said(1.0, False) and "that is open" in said(1.0, True)
    for closed in (said(3.0, True), said(3.0, False), said(0.42, True, known=False)):
        assert "is refused" in closed and "open." not in closed
