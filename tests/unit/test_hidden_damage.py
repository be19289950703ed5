"""The hidden-damage reserve against integrals worked out by another library, and laws that hold for any figures."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import gamma, poisson

from witnessmark.calc.plan.hidden_damage import ZoneOpened, negative_binomial_quantile, reserve

HULL = ZoneOpened("hull", 7, 6, (4.0, 8.0, 12.0), 0.5)
TAIL = ZoneOpened("tail", 3, 0, (), 0.0)
WING = ZoneOpened("wing", 9, 1, (2.0,), 0.75)


def test_a_zones_rate_is_the_mean_of_its_posterior() -> None:
    """Bayes written out and integrated by scipy: prior gamma (4 m, 4) times the Poisson chance of what was revealed."""
    made = reserve([HULL, TAIL, WING])
    m = made.aircraft_rate
    for zone, told in zip((HULL, TAIL, WING), made.zones, strict=True):
        exposure = (zone.seen_before + 1) * zone.opened_share

        def weight(rate: float, zone: ZoneOpened = zone, exposure: float = exposure) -> float:
            return float(gamma.pdf(rate, 4 * m, scale=1 / 4) * poisson.pmf(zone.revealed, rate * exposure))

        whole = quad(weight, 0, 40, limit=400)[0]
        mean = quad(lambda rate: rate * weight(rate), 0, 40, limit=400)[0] / whole
        assert told.rate == pytest.approx(mean, rel=1e-4)
        none = quad(lambda rate: math.exp(-rate) * weight(rate), 0, 40, limit=400)[0] / whole
        assert told.chance_of_more == pytest.approx(1 - none, rel=1e-4)


@pytest.mark.parametrize("chance", [0.5, 0.8, 0.95])
@pytest.mark.parametrize(
    ("shape", "rate", "exposure"), [(1.0, 4.0, 4.0), (7.3, 8.0, 3.5), (2.5, 5.0, 0.0), (40.0, 9.0, 12.0)]
)
def test_the_count_that_four_in_five_stay_within(shape: float, rate: float, exposure: float, chance: float) -> None:
    """The mixture of Poisson counts over a gamma rate, integrated by scipy."""
    found = negative_binomial_quantile(shape, rate, exposure, chance)

    def reaches(count: int) -> float:
        top = gamma.ppf(1 - 1e-12, shape, scale=1 / rate)
        return float(
            quad(lambda r: poisson.cdf(count, r * exposure) * gamma.pdf(r, shape, scale=1 / rate), 0, top, limit=400)[0]
        )

    assert reaches(found) >= chance - 1e-7
    assert found == 0 or reaches(found - 1) < chance


def test_a_zone_that_was_never_opened_has_the_aircrafts_rate_and_one_that_is_open_keeps_nothing_back() -> None:
    made = reserve([HULL, TAIL, ZoneOpened("cabin", 5, 3, (6.0,), 1.0)])
    assert made.zones[1].rate == pytest.approx(made.aircraft_rate)
    assert (made.zones[2].count, made.zones[2].hours) == (0.0, 0.0)


def test_before_anything_is_opened_the_prior_stands_and_hours_are_unknown() -> None:
    made = reserve([TAIL])
    assert made.aircraft_rate == pytest.approx(0.25)
    assert made.zones[0].count == pytest.approx(1.0)
    assert made.hours is None
    assert "unknown" in made.sentence


def test_hours_of_a_zone_lie_between_its_own_and_the_aircrafts() -> None:
    """Weighted mean by hand: (2 x 6.5 + 4 + 8 + 12) / (2 + 3)."""
    made = reserve([HULL, TAIL, WING])
    assert made.zones[0].hours_each == pytest.approx((2 * 6.5 + 24) / 5)
    assert made.zones[1].hours_each == pytest.approx(6.5)
    assert made.hours == pytest.approx(sum(z.count * (z.hours_each or 0) for z in made.zones))


@given(
    st.lists(
        st.tuples(st.integers(0, 40), st.integers(0, 40), st.floats(0, 1)).map(
            lambda t: ZoneOpened("z", t[0], t[1] if t[2] > 0 else 0, (), t[2])
        ),
        min_size=1,
        max_size=6,
    )
)
def test_a_zones_rate_lies_between_its_own_and_the_aircrafts_and_one_more_revealed_raises_it(
    zones: list[ZoneOpened],
) -> None:
    made = reserve(zones)
    for zone, told in zip(zones, made.zones, strict=True):
        exposure = (zone.seen_before + 1) * zone.opened_share
        if exposure > 1e-9:
            low, high = sorted((zone.revealed / exposure, made.aircraft_rate))
            assert low - 1e-9 <= told.rate <= high + 1e-9
        assert told.count >= 0
    first = zones[0]
    more = ZoneOpened("z", first.seen_before, first.revealed + 1, (), first.opened_share)
    assert reserve([more, *zones[1:]]).zones[0].rate > made.zones[0].rate


@pytest.mark.parametrize(
    ("zone", "why"),
    [
        (ZoneOpened("z", -1, 0, (), 0.5), "not below nought"),
        (ZoneOpened("z", 1, 1, (2.0, 3.0), 0.5), "belong to findings"),
        (ZoneOpened("z", 1, 1, (-2.0,), 0.5), "hours are not below"),
        (ZoneOpened("z", 1, 1, (), 1.5), "share"),
        (ZoneOpened("z", 1, 1, (), float("nan")), "share"),
    ],
)
def test_what_cannot_be_is_refused(zone: ZoneOpened, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        reserve([zone])
    with pytest.raises(ValueError, match="above nought"):
        negative_binomial_quantile(0, 1, 1, 0.5)
