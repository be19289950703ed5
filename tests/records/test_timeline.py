"""The timeline is to scale, whatever draws it: screen, A3 paper, JSON; nothing is drawn twice or left out."""

import argparse
import json
from datetime import date, timedelta
from io import BytesIO
from itertools import pairwise
from math import ceil, floor

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from tests.records.shop import Shop, make_part, make_shop
from tests.support.pages import client
from tests.support.rows import make_hand_job, make_steps
from witnessmark.cli import timeline as command
from witnessmark.papers import month_plan
from witnessmark.papers import timeline as paper
from witnessmark.records.lookups.plan import make_plan
from witnessmark.records.lookups.timeline import Bar, lanes
from witnessmark.records.models import DayOff, HandJob, Person

pytestmark = pytest.mark.django_db
TUESDAY = date(2026, 5, 12)


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    shop.aircraft.today = TUESDAY
    shop.aircraft.save()
    Person.objects.update(hours_per_day=8)
    for tag in ("0001", "0002"):
        make_steps(make_part(shop, tag, shop.shelf), ("Cadmium plate", "PL"), ("Prime", "sheet metal"))
    long = make_hand_job(shop, "fit", "Fit the door", "sheet metal")
    HandJob.objects.filter(pk=long.pk).update(hours_least=20, hours_likely=20, hours_most=20, bench="bench 2")
    flown = make_hand_job(shop, "flown", "First engine run", "", after=["fit"])
    HandJob.objects.filter(pk=flown.pk).update(hours_least=0, hours_likely=0, hours_most=0)
    return shop


def test_every_job_is_on_the_lane_of_who_does_it_where_and_for_how_long(shop: Shop) -> None:
    plan = make_plan(shop.aircraft)
    found = lanes(plan, TUESDAY, 364)
    drawn = {(lane.kind, lane.name): lane for lane in found.lanes}
    assert [lane.kind for lane in found.lanes] == ["step", "person", "bench", "vendor"]
    (door,) = [bar for bar in drawn["bench", "bench 2"].bars if bar.keys == ("hand:fit:do",)]
    # 20 hours of a day of 8 from 8 o'clock: from 8 on the first day to 12 on the third, to scale with the nights.
    assert door.at == pytest.approx(8 / 24) and door.long == pytest.approx(2 + 4 / 24)
    assert (door.first_day, door.last_day) == (TUESDAY, TUESDAY + timedelta(days=2))
    (sent,) = drawn["vendor", "Plater"].bars  # both leave and come back on the same days: one bar
    assert len(sent.keys) == 2 and sent.what.startswith("2 things: ")
    assert {key for lane in found.lanes for bar in lane.bars for key in bar.keys} == set(plan.schedule.by_key)
    assert found.closed[:2] == (4, 5) and found.earlier == found.later == 0


def test_a_window_cuts_bars_at_its_edges_and_counts_the_rest(shop: Shop) -> None:
    plan = make_plan(shop.aircraft)
    found = lanes(plan, TUESDAY + timedelta(days=1), 1)
    (door,) = [b for lane in found.lanes for b in lane.bars if lane.kind == "person"]
    assert (door.at, door.long) == (0, 1)
    shown = {key for lane in found.lanes for bar in lane.bars for key in bar.keys}
    assert len(shown) + found.earlier + found.later == len(plan.schedule.entries)


def test_bars_of_one_row_never_lie_over_one_another(shop: Shop) -> None:
    for n in range(12):
        make_hand_job(shop, f"n{n}", f"Job {n}", "sheet metal")
    HandJob.objects.filter(name__startswith="n").update(bench="bench 2")
    for lane in lanes(make_plan(shop.aircraft), TUESDAY, 60).lanes:
        for row in range(lane.rows):
            bars = sorted((b.at, b.at + b.long) for b in lane.bars if b.row == row)
            assert all(end <= start + 1e-9 for (_, end), (start, _) in zip(bars, bars[1:], strict=False))  # noqa: RUF007


def test_days_on_which_nobody_works_are_grey(shop: Shop) -> None:
    DayOff.objects.create(day=TUESDAY + timedelta(days=1), why="fair")
    assert lanes(make_plan(shop.aircraft), TUESDAY, 7).closed == (1, 4, 5)


def test_the_paper_is_a3_lying_down_a_quarter_of_a_year_a_sheet(shop: Shop) -> None:
    made = PdfReader(BytesIO(paper.pdf(paper.gather(shop.aircraft))))
    (page,) = made.pages  # 45 working days at most are nine weeks
    assert (round(float(page.mediabox.width) / 72 * 25.4), round(float(page.mediabox.height) / 72 * 25.4)) == (420, 297)
    text = " ".join(page.extract_text().split())
    for said in (
        "Plater",
        "bench 2",
        "Mechanic",
        "First engine run",
        "11 May to 9 Aug 2026",
        "half the chance at each vendor",
    ):
        assert said in text
    assert paper.gather(None).sentence and paper.pdf(paper.gather(None))


def test_the_month_plan_is_one_page_a_person_however_much_there_is(shop: Shop) -> None:
    words = (
        "Put back and rivet the left leading edge skin with every clip that was ever found in the box under the bench"
    )
    for n in range(300):
        make_hand_job(shop, f"n{n}", f"{words}, number {n}", "sheet metal")
    for n in range(60):
        make_steps(make_part(shop, f"1{n:03}", shop.shelf), (f"Test {n}", "sheet metal"), ("Cadmium plate", "PL"))
    Person.objects.create(name="Second", role="mechanic", craft="sheet metal")
    data = month_plan.gather(shop.aircraft)
    made = PdfReader(BytesIO(month_plan.pdf(data))).pages
    heads = ["Mechanic: four weeks.", "Second: four weeks.", "What leaves, what comes, what is reached."]
    assert [page.title for page in data.pages] == heads and len(made) == 3
    for page, head in zip(made, heads, strict=True):
        assert head in page.extract_text()
    days = [line for _, week in data.pages[0].weeks for line in week]
    assert len(days) == 19 and all(said for _, said in days)  # Tuesday to Friday, and three weeks of five days
    assert any(" more." in said for _, said in days)


def test_a_lane_too_high_for_a_sheet_is_still_drawn_whole(shop: Shop) -> None:
    for n in range(70):
        make_steps(make_part(shop, f"1{n:03}", shop.shelf), (f"Test {n}", "sheet metal"), ("Cadmium plate", "PL"))
    every = paper.gather(shop.aircraft)
    drawn = [paper._drawn(sheet) for sheet in every.sheets]
    assert all(
        bar["y"] + bar["h"] <= paper.HIGH_MM for sheet in drawn for lane in sheet["lanes"] for bar in lane["bars"]
    )
    assert all(
        bar["x"] + bar["w"] <= paper.WIDE_MM + 1 for sheet in drawn for lane in sheet["lanes"] for bar in lane["bars"]
    )


def test_the_screen_takes_a_span_and_never_leaves_the_plan(shop: Shop) -> None:
    me = client(shop.owner)
    assert "12 May to 25 May 2026" in me.get("/timeline/").content.decode()
    assert "12 May to 6 July 2026" in me.get("/timeline/?weeks=8").content.decode()
    for odd in (
        "weeks=0",
        "weeks=²",
        "weeks=99999",
        "from=soon",
        "from=0001-01-01",
        "from=9999-12-31",
        "weeks=156&from=9999-12-31",
    ):
        assert me.get(f"/timeline/?{odd}").status_code == 200


def test_the_command_says_the_lanes(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    assert command.run(argparse.Namespace(json=True, first="", weeks=52)) == 0
    told = json.loads(capsys.readouterr().out)
    assert [lane["kind"] for lane in told["lanes"]] == ["step", "person", "bench", "vendor"]
    assert command.run(argparse.Namespace(json=False, first="2026-05-13", weeks=1)) == 0
    assert "Fit the door, 12 May to 14 May" in capsys.readouterr().out


spans = st.lists(st.tuples(st.integers(0, 40), st.integers(0, 200)), min_size=1, max_size=30)


@given(spans=spans)
def test_no_bar_on_paper_is_too_thin_and_none_hides_another(spans: list[tuple[int, int]]) -> None:
    """Quarter-hours between jobs and of jobs, one after another as one person does them."""
    day_mm, at, bars = paper.WIDE_MM / 91, 32, []
    for n, (gap, long) in enumerate(spans):
        at += gap
        bars.append(Bar(at / 96, long / 96, 0, f"job {n}", (str(n),), TUESDAY, TUESDAY, TUESDAY))
        at += max(1, long)
    drawn = paper.wide_enough(bars, day_mm)
    assert [job for bar in drawn for job in bar.jobs] == [bar.what for bar in bars]  # each once, in its order
    assert all(bar.end - bar.x >= paper.LEAST_MM - 1e-9 for bar in drawn)
    assert all(one.end <= other.x + 1e-9 for one, other in pairwise(drawn))
    true = {bar.what: (bar.at * day_mm, (bar.at + bar.long) * day_mm) for bar in bars}
    for bar in drawn:
        begins, ends = true[bar.jobs[0]][0], true[bar.jobs[-1]][1]
        days = floor(begins / day_mm + 1e-9), max(floor(begins / day_mm + 1e-9) + 1, ceil(ends / day_mm - 1e-9))
        if ends - begins >= paper.LEAST_MM:  # to scale
            assert (bar.x, bar.end) == (
                pytest.approx(begins, abs=paper.LEAST_MM),
                pytest.approx(ends, abs=paper.LEAST_MM),
            )
            if len(bar.jobs) == 1:
                assert (bar.x, bar.end) == (begins, ends)
        # Nothing is drawn on a day on which it is not.
        assert days[0] * day_mm - 1e-9 <= bar.x and bar.end <= days[1] * day_mm + 1e-9


def test_a_short_job_is_wider_where_there_is_room_and_with_its_neighbour_where_there_is_none() -> None:
    """By hand: a day is 3.80 mm, an hour 0.158 mm; ten hours from 8 o'clock begin at 1.27 mm and end at 2.85 mm."""

    def bar(at_hours: float, hours: float, what: str) -> Bar:
        return Bar(at_hours / 24, hours / 24, 0, what, (what,), TUESDAY, TUESDAY, TUESDAY)

    day_mm = paper.WIDE_MM / 91
    hour = day_mm / 24
    alone, long = paper.wide_enough([bar(8, 1, "look"), bar(32, 10, "fit")], day_mm)
    assert (alone.x, alone.end) == (pytest.approx(8 * hour), pytest.approx(8 * hour + 1.3))
    assert (long.x, long.end) == (pytest.approx(32 * hour), pytest.approx(42 * hour))
    before, after = paper.wide_enough([bar(8, 1, "look"), bar(9, 10, "fit")], day_mm)
    assert (before.x, before.end) == (
        pytest.approx(9 * hour - 1.3),
        pytest.approx(9 * hour),
    )  # before dawn there is room
    assert (after.x, after.end) == (pytest.approx(9 * hour), pytest.approx(19 * hour))
    (one,) = paper.wide_enough([bar(0, 12, "cure"), bar(12, 1, "look"), bar(13, 12, "fit")], day_mm)[:1]
    assert one.jobs == ("cure", "look") and (one.x, one.end) == (0, pytest.approx(13 * hour))
    assert one.said == "2 jobs: cure and more"
