"""Hours from paper: taken once, refused with a reason, and estimates learn from the steps they are on."""

import uuid
from pathlib import Path

import pytest

from tests.records.shop import Shop, make_part, make_shop
from tests.support.rows import make_hand_job, make_steps
from witnessmark.exchange.load import LoadReport, load
from witnessmark.records.actions.condition import finish_step
from witnessmark.records.actions.jobs import take_back_hours
from witnessmark.records.lookups.learned import booked_hours, finished_jobs
from witnessmark.records.lookups.network import gather
from witnessmark.records.models import HoursBooked, Step

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    part = make_part(shop, "0007", shop.shelf)
    make_steps(part, ("Strip", "sheet metal"), ("Prime", "sheet metal"))
    step = Step.objects.get(number=1)
    Step.objects.update(hours_likely=2, hours_most=4)
    finish_step(by=shop.mechanic, act_id=uuid.uuid4(), step=step)
    make_hand_job(shop, "H-1", "Fit the keel")
    return shop


def loaded(shop: Shop, folder: Path, *rows: str) -> LoadReport:
    (folder / "hours.csv").write_text("job,person,day,hours\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return load(folder, by=shop.lead)


def test_hours_are_taken_once_and_teach_by_the_step_they_are_on(shop: Shop, tmp_path: Path) -> None:
    rows = ("0007:1,Mechanic,2026-01-12,3", "H-1,Mechanic,2026-01-12,4", "0007:1,Mechanic,2026-01-13,1")
    assert loaded(shop, tmp_path, *rows).counts["taken"] == 3
    assert loaded(shop, tmp_path, *rows).counts["same"] == 3
    (done,) = finished_jobs(shop.aircraft, booked_hours(shop.aircraft))
    assert (done.kind, done.likely_hours, done.booked_hours) == ("strip", 2, 4)
    gathered = gather(shop.aircraft)
    assert gathered.learned.of("strip").factor > 1
    assert gathered.booked["hand:H-1:do"] == 4


def test_what_was_taken_back_by_tap_is_not_booked_anew_by_its_list(shop: Shop, tmp_path: Path) -> None:
    loaded(shop, tmp_path, "H-1,Mechanic,2026-01-12,4")
    booked = HoursBooked.objects.get()
    take_back_hours(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, booked=booked)
    assert loaded(shop, tmp_path, "H-1,Mechanic,2026-01-12,4").counts["same"] == 1
    assert gather(shop.aircraft).booked == {}


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ("0007:9,Mechanic,2026-01-12,3", "There is no job '0007:9'"),
        ("0007:1,Mechanic,2199-01-12,3", "on which they were worked"),
        ("0007:1,Mechanic,2026-01-12,0", "hours is nought"),
        ("0007:1,Nobody,2026-01-12,3", "nobody called 'Nobody'"),
        ("0007:1,Mechanic,2026-01-12,23", "makes 25 hours of Mechanic"),
    ],
)
def test_what_cannot_be_is_refused_and_the_rest_is_kept(shop: Shop, tmp_path: Path, row: str, why: str) -> None:
    report = loaded(shop, tmp_path, "H-1,Mechanic,2026-01-12,2", row)
    assert [line.state for line in report.lines] == ["refused"] and why in report.lines[0].words
    assert HoursBooked.objects.get().hours == 2


def test_other_hours_for_the_same_day_are_reported_and_the_record_stays(shop: Shop, tmp_path: Path) -> None:
    loaded(shop, tmp_path, "H-1,Mechanic,2026-01-12,2")
    report = loaded(shop, tmp_path, "H-1,Mechanic,2026-01-12,5")
    assert report.counts["differs"] == 1 and "2 h in the record" in report.lines[0].words
    assert HoursBooked.objects.get().hours == 2
