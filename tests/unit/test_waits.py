"""What the plan and the forecast count on for a vendor, held against scipy's Student t of the logarithm."""

import math
from datetime import date

import numpy as np
import pytest
from scipy import stats

from witnessmark.calc.plan.calendars import Shop
from witnessmark.calc.plan.forecast import Unsure, lengths_of
from witnessmark.calc.plan.jobs import Job, Network
from witnessmark.calc.plan.lead_times import Triple, Wait, lead_time_distribution, worth_of_word
from witnessmark.calc.plan.outlook import outlook, unsure_of
from witnessmark.calc.plan.solve import solve
from witnessmark.calc.plan.what_if import Change, changed

LATE = [40.0, 44.0, 38.0, 51.0, 36.0, 60.0, 47.0]
TUESDAY = date(2026, 5, 12)


def predicted(likely: float, most: float, delivered: list[float]) -> tuple[float, float, float]:
    """Freedom, middle and scale of the log of the next delivery: the textbook normal-inverse-gamma update."""
    z = stats.norm.ppf(0.95)
    spread = (-z + math.sqrt(z * z + 4 * math.log(most / likely))) / 2
    m, k, a = math.log(likely) + spread**2, 2.0, 4.0
    b = a * (spread * z / stats.t.ppf(0.95, 8)) ** 2 / (1 + 1 / k)
    x = np.log(delivered)
    n, mean = len(x), float(np.mean(x))
    kn, an = k + n, a + n / 2
    bn = b + 0.5 * float(((x - mean) ** 2).sum()) + 0.5 * k * n * (mean - m) ** 2 / kn
    return 2 * an, (k * m + n * mean) / kn, math.sqrt(bn / an * (1 + 1 / kn))


def test_the_plan_counts_on_the_learned_half_and_the_forecast_draws_its_long_late_end() -> None:
    time = lead_time_distribution(8, 15, 45, LATE)
    t = stats.t(*predicted(15, 45, LATE))
    # A part of a day counts as one, in the plan as in the futures: half the chance is reached by then, not nearly.
    assert Wait(time).days == Triple(*(math.ceil(math.exp(t.ppf(p))) for p in (0.05, 0.5, 0.95)))
    assert Wait(time, gone=30).chance_within(8) == pytest.approx(1 - t.sf(math.log(38)) / t.sf(math.log(30)), abs=0.005)
    job = Job("o", "Order.", vendor="V", days=Wait(time).days, wait=Wait(time))
    drawn = lengths_of([unsure_of(job)], 40_000, 3)[:, 0]
    for p in (0.1, 0.5, 0.8, 0.95, 0.99):
        assert np.quantile(drawn, p) == pytest.approx(math.exp(t.ppf(p)) + 0.5, rel=0.03)  # whole days, rounded up
    assert (drawn > time.quantile(0.999)).any()


def test_what_has_been_away_long_is_drawn_past_the_days_that_are_gone() -> None:
    """Given that it was not here after 50 days: scipy's survival function, by hand P(T > 50 + d) / P(T > 50)."""
    time = lead_time_distribution(8, 15, 45, LATE)
    t = stats.t(*predicted(15, 45, LATE))
    drawn = lengths_of([Unsure(Triple(1, 5, 9), "V", wait=Wait(time, gone=50))], 40_000, 4)[:, 0]
    for more in (5, 20, 60):
        true = t.sf(math.log(50 + more)) / t.sf(math.log(50))
        assert (drawn > more).mean() == pytest.approx(true, abs=0.02)
    assert drawn.min() >= 1


def test_a_vendor_that_is_slow_is_slow_with_all_that_he_has() -> None:
    """Of the spread of the next delivery the part 1 / (1 + 2 + n) is that his middle is not known (textbook)."""
    time = lead_time_distribution(8, 15, 45, [20.0, 30.0])
    both = [Unsure(Triple(1, 20, 90), "V", wait=Wait(time))] * 2
    drawn = stats.rankdata(lengths_of(both, 40_000, 5), axis=0)
    r = 2 * math.sin(math.pi / 6 * float(np.corrcoef(drawn.T)[0, 1]))  # of ranks, back to that of normals
    assert r == pytest.approx(1 / 5, abs=0.03)


def test_a_promise_is_believed_as_much_as_two_deliveries() -> None:
    fresh, taught = lead_time_distribution(8, 15, 45), lead_time_distribution(8, 15, 45, LATE)
    assert worth_of_word(fresh, 5) == pytest.approx(1 / 3)
    assert worth_of_word(taught, 10) == pytest.approx((10 / 15) ** (2 / 9))
    assert worth_of_word(taught, 150) * taught.half == pytest.approx(150)  # never before the day he names himself
    with pytest.raises(ValueError, match="after the day it left"):
        worth_of_word(taught, -1)


def test_a_late_vendor_is_late_in_every_future_too() -> None:
    time = lead_time_distribution(8, 15, 45, LATE)
    network = Network((Job("o", "Order.", vendor="V", days=Wait(time).days, wait=Wait(time)),), ())
    shop = Shop(TUESDAY, ())
    later, _ = changed(network, shop, Change("vendor_late", "V", 20))
    ends = [outlook(n, shop, solve(n, shop), 500).end.half for n in (network, later)]
    assert (ends[1] - ends[0]).days == 28
