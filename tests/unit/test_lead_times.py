"""What deliveries teach of a vendor, held against scipy's closed form and its numerical integration."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from witnessmark.calc.plan.lead_times import PRIOR_DELIVERIES, PRIOR_SPREAD, lead_time_distribution


def prior(likely: float, most: float) -> tuple[float, float, float, float]:
    z, t = stats.norm.ppf(0.95), stats.t.ppf(0.95, PRIOR_SPREAD)
    spread = (-z + math.sqrt(z * z + 4 * math.log(most / likely))) / 2
    scale = spread * z / t
    alpha = PRIOR_SPREAD / 2
    return math.log(likely) + spread**2, PRIOR_DELIVERIES, alpha, alpha * scale**2 / (1 + 1 / PRIOR_DELIVERIES)


def test_the_vendors_own_three_figures_come_back_before_he_delivered_anything() -> None:
    """Mode of the lognormal and nineteen of twenty, by scipy's lognormal."""
    fresh = lead_time_distribution(8, 15, 45)
    z = stats.norm.ppf(0.95)
    spread = (-z + math.sqrt(z * z + 4 * math.log(3))) / 2
    assert math.exp(math.log(15) + spread**2 - spread**2) == pytest.approx(15)
    assert fresh.half == pytest.approx(stats.lognorm(spread, scale=15 * math.exp(spread**2)).median(), rel=0.01)
    assert fresh.quantile(0.95) == pytest.approx(45, rel=0.02)
    assert fresh.quantile(0.99) - fresh.half > 2 * (fresh.half - fresh.quantile(0.01))


@pytest.mark.parametrize("delivered", [[20.0], [30.0, 41.0, 25.0], [60.0] * 12, [9.0, 70.0, 15.0, 22.0, 18.0]])
def test_deliveries_update_as_the_closed_form_does(delivered: list[float]) -> None:
    """Normal-inverse-gamma update; the prediction is scipy's Student t of the logarithm."""
    m, k, a, b = prior(15, 45)
    x = [math.log(d) for d in delivered]
    n, mean = len(x), sum(x) / len(x)
    kn, an = k + n, a + n / 2
    mn = (k * m + n * mean) / kn
    bn = b + 0.5 * sum((v - mean) ** 2 for v in x) + 0.5 * k * n * (mean - m) ** 2 / kn
    predicted = stats.t(2 * an, mn, math.sqrt(bn / an * (1 + 1 / kn)))
    got = lead_time_distribution(8, 15, 45, delivered)
    for p in (0.1, 0.5, 0.8, 0.9, 0.95):
        assert got.quantile(p) == pytest.approx(math.exp(predicted.ppf(p)), rel=0.015)


def test_what_is_still_out_counts_as_a_lower_bound() -> None:
    """The same integral over mean and variance by scipy.integrate."""
    m, k, a, b = prior(15, 45)
    out = math.log(60)

    mus, logs = np.linspace(m - 4, m + 5, 241), np.linspace(-6, 2.5, 161)
    v = np.exp(logs)[:, None]
    density = stats.invgamma.pdf(v, a, scale=b) * v * stats.norm.pdf(mus, m, np.sqrt(v / k))
    density *= stats.norm.sf(out, mus, np.sqrt(v))

    def integral(upto: float | None) -> float:
        inner = density if upto is None else density * stats.norm.cdf(upto, mus, np.sqrt(v))
        return float(integrate.simpson(integrate.simpson(inner, x=mus, axis=1), x=logs))

    whole = integral(None)
    got = lead_time_distribution(8, 15, 45, waiting=[60.0])
    for days in (20.0, 40.0, 80.0):
        assert got.chance_by(days) == pytest.approx(integral(math.log(days)) / whole, abs=0.004)
    assert got.half > lead_time_distribution(8, 15, 45).half


@given(st.lists(st.floats(1, 200), max_size=6), st.floats(0, 100), st.floats(0.02, 0.98), st.floats(0.02, 0.98))
@settings(max_examples=25, deadline=None)
def test_quantiles_rise_undo_chances_and_never_lie_in_the_past(
    delivered: list[float], gone: float, p: float, q: float
) -> None:
    got = lead_time_distribution(5, 20, 60, delivered)
    assert (got.quantile(p) <= got.quantile(q)) == (p <= q) or got.quantile(p) == got.quantile(q)
    assert got.chance_by(got.quantile(p)) == pytest.approx(p, abs=0.01)
    assert got.quantile(p, gone) >= gone
    assert got.sample(5, 1) == got.sample(5, 1)


def test_one_short_vendor_does_not_break_it_and_bad_days_are_refused() -> None:
    assert lead_time_distribution(0, 0, 0).half < 1
    assert lead_time_distribution(5, 5, 5).nine_in_ten == pytest.approx(5, rel=0.15)
    with pytest.raises(ValueError, match="in order"):
        lead_time_distribution(10, 5, 20)
    with pytest.raises(ValueError, match="nought or more"):
        lead_time_distribution(1, 2, 3, [-1])
