"""The forecast against scipy, against sums worked by hand, and against the schedule that it is made from."""

from datetime import date

import numpy as np
import pytest
from scipy.stats import lognorm, spearmanr, triang

from witnessmark.calc.plan.calendars import Bench, Person, Shop
from witnessmark.calc.plan.forecast import COMMON_VENDOR, Unsure, futures, lengths_of, one_path
from witnessmark.calc.plan.jobs import Job, Link, Network
from witnessmark.calc.plan.lead_times import Triple, Wait, lead_time_distribution
from witnessmark.calc.plan.outlook import outlook
from witnessmark.calc.plan.project import Project
from witnessmark.calc.plan.solve import solve
from witnessmark.calc.plan.what_if import Change, changed, last_job, why_and_what_helps

TUESDAY = date(2026, 5, 12)


def same(h: float) -> Triple:
    return Triple(h, h, h)


ILVA = Person("Ilva", frozenset({"wood", "sheet metal"}))
SHOP = Shop(TUESDAY, (ILVA,), (Bench("fixture"),))


def test_futures_draw_what_many_deliveries_taught_as_scipy_fits_it():
    """400 deliveries of a known lognormal: what the futures draw has the quantiles of the fit."""
    took = lognorm.rvs(0.4, scale=60, size=400, random_state=1)
    shape, _, scale = lognorm.fit(took, floc=0)
    wait = Wait(lead_time_distribution(20, 40, 90, took.tolist()))
    drawn = lengths_of([Unsure(same(60), "V", wait=wait)], 20_000, 5)
    for chance in (0.1, 0.5, 0.8, 0.95):
        assert np.quantile(drawn, chance) == pytest.approx(lognorm.ppf(chance, shape, scale=scale), rel=0.03)


def test_times_drawn_keep_the_triangle_and_the_common_factor():
    drawn = lengths_of([Unsure(Triple(1000, 2000, 6000), "V")] * 2, 20_000, 3)
    triangle = triang(0.2, 1000, 5000)
    # The common factor has mean 1, so the mean stays and the variance grows: var(XY) of independent X and Y.
    assert drawn.mean() == pytest.approx(triangle.mean(), rel=0.02)
    factor = np.exp(COMMON_VENDOR**2) - 1
    grown = triangle.var() * (1 + factor) + triangle.mean() ** 2 * factor
    assert drawn.var() == pytest.approx(grown, rel=0.05)
    assert np.corrcoef(drawn.T)[0, 1] == pytest.approx(triangle.mean() ** 2 * factor / grown, abs=0.03)


def test_few_deliveries_leave_more_open_than_many_of_the_same():
    few, many = (Wait(lead_time_distribution(40, 90, 250, [80, 100, 160] * n)) for n in (1, 5))
    wide, narrow = (
        np.quantile(lengths_of([Unsure(same(100), "V", wait=wait)], 20_000, 5), 0.95) for wait in (few, many)
    )
    assert wide > narrow > 160


def test_one_future_of_likely_times_is_the_plan_itself():
    jobs = (
        Job("a", "A.", "wood", same(12)),
        Job("o", "O.", vendor="V", days=same(3)),
        Job("b", "B.", "wood", same(20)),
    )
    network = Network(jobs, (Link("a", "o"), Link("o", "b", 5.0)))
    schedule = solve(network, SHOP)
    told = outlook(network, SHOP, schedule, 20)
    assert told.likely_end == schedule.finish_date
    fixed = Network((jobs[1],), ())
    assert (
        outlook(fixed, SHOP, solve(fixed, SHOP), 20).end.half
        <= outlook(fixed, SHOP, solve(fixed, SHOP), 20).end.four_in_five
    )


def test_two_roads_that_meet_end_later_than_the_single_path_says():
    project = Project((10, 10, 1), ((), (), ()), (), ((0, 2, 0, -1), (1, 2, 0, -1)), 200)
    triples = [Triple(5, 10, 30), Triple(5, 10, 30), same(1)]
    path = one_path(triples, [(0, 2), (1, 2)])
    drawn = lengths_of([Unsure(t) for t in triples], 4000, 1)
    told = futures(project, drawn, [0, 1, 2])
    assert (told.ends == np.maximum(drawn[:, 0], drawn[:, 1]) + drawn[:, 2]).all()
    assert told.by(0.5) > path.by(0.5) and path.expected == pytest.approx(12.5 + 1)
    assert told.critical[2] == 4000 and told.critical[0] + told.critical[1] == 4000
    assert told.cruciality[0] == pytest.approx(spearmanr(drawn[:, 0], told.ends).statistic)


def test_three_times_by_hand():
    # 1-2-9: (1 + 8 + 9) / 6 = 3, variance (8 / 6)^2; 4-5-12: 6, the same variance; beside them 2-2-2.
    path = one_path([Triple(1, 2, 9), Triple(4, 5, 12), same(2)], [(0, 1)])
    assert path.jobs == (0, 1) and path.expected == 9
    assert path.spread**2 == pytest.approx(2 * (8 / 6) ** 2)


def test_nobody_works_where_nobody_is_and_a_late_job_gives_way():
    units = np.arange(300)
    project = Project((2, 2, 2), (((0, 1),),) * 3, (1,), (), 300, (0, 0, 0), (units[units % 7 < 2],))
    told = futures(project, np.array([[2, 2, 2], [3, 1, 2]]), [0, 1, 2])
    assert told.starts.tolist() == [[0, 7, 14], [0, 8, 14]]
    assert told.ends.tolist() == [16, 16]
    with pytest.raises(ValueError, match="each job"):
        futures(project, np.array([[1, 1]]), [0, 1])


def test_what_must_leave_and_what_it_hangs_on():
    jobs = (
        Job("long", "Order the long one.", vendor="A", days=Triple(30, 40, 60)),
        Job("short", "Order the short one.", vendor="B", days=Triple(3, 5, 8)), Job("end", "Fit.", "wood", same(8)),
    )  # fmt: skip
    network = Network(jobs, (Link("long", "end"), Link("short", "end")))
    told = outlook(network, SHOP, solve(network, SHOP), 400)
    assert [one.key for one in told.send_by] == ["long", "short"]
    assert told.send_by[0].send_by == TUESDAY and told.send_by[1].send_by > date(2026, 6, 1)
    assert [day for _, day in told.send_by[1].by_risk] == sorted((d for _, d in told.send_by[1].by_risk), reverse=True)
    (speed,) = told.speeds  # the end never hangs on the short one
    assert speed.key == "long" and speed.days == 30 and not speed.asked
    assert speed.half_days > 5 and speed.four_days > speed.half_days
    assert told.hangs_on[0].key == "long" and told.hangs_on[0].share == 1.0
    assert told.end.half <= told.end.four_in_five <= told.end.nineteen_in_twenty
    shares = [share for _, share in told.curve]
    assert shares == sorted(shares) and shares[-1] >= 0.99


def test_what_if_and_what_shortens():
    jobs = (
        Job("o", "Order bolts.", vendor="V", days=Triple(2, 9, 9)), Job("a", "Fit A.", "wood", same(8), bench="fixture"),
        Job("b", "Fit B.", "sheet metal", same(8), bench="fixture", person="Ilva"),
    )  # fmt: skip
    network = Network(jobs, (Link("o", "a"), Link("o", "b")))
    schedule = solve(network, SHOP)
    waits = why_and_what_helps(schedule, network, SHOP, last_job(schedule))
    assert waits.steps[-1].kind == "today" and waits.shorter[0].said.startswith("Order bolts in 2 working days")
    later = solve(*changed(network, SHOP, Change("vendor_late", "V", 20)))
    assert (later.finish_date - schedule.finish_date).days == 28
    ill = solve(*changed(network, SHOP, Change("person_away", "Ilva", 30)))
    assert ill.finish_date > schedule.finish_date
    assert solve(*changed(network, SHOP, Change("job_late", "o", 30))).finish_date > schedule.finish_date
    other = changed(network, SHOP, Change("bench_more", "fixture"))[1]
    assert next(bench.capacity for bench in other.benches if bench.name == "fixture") == 2


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (Change("vendor_late", "nobody", 3), "nothing waits for a vendor"),
        (Change("person_away", "Nemo", 3), "nobody here is called Nemo"),
        (Change("job_late", "none", 3), "there is no job none"),
        (Change("bench_more", "moon"), "there is no bench or fixture moon"),
        (Change("bench_more", ""), "name the bench"),
        (Change("vendor_late", "V", 0), "one day at least"),
    ],
)
def test_what_cannot_happen_is_refused(change, said):
    with pytest.raises(ValueError, match=said):
        changed(Network((Job("o", "O.", vendor="V", days=same(2)),), ()), SHOP, change)
