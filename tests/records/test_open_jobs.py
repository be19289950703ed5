"""A job left open: said in one act, found again by anybody, with its clock; hours booked once."""

import uuid
from datetime import datetime, timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from tests.records.shop import Shop, make_bag, make_part, make_shop
from tests.support.rows import make_hand_job, make_row, make_size, make_steps
from witnessmark.records.actions.custody import lay_down, single
from witnessmark.records.actions.jobs import book_hours, say_of_job
from witnessmark.records.actions.open_jobs import Leaving, leave_open, say_primed, take_up
from witnessmark.records.actions.saying import NotAllowed, Refused, SaidOtherwise
from witnessmark.records.lookups.day import today
from witnessmark.records.lookups.network import gather
from witnessmark.records.lookups.open_jobs import left_page, open_jobs
from witnessmark.records.models import HoursBooked, JobLeft, LeftAfter, Person, Row

pytestmark = pytest.mark.django_db
KEY = "seam:C2 left:fill"


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    states = {"riveted": range(1, 43), "open": [43], "empty": range(44, 85)}
    make_row(shop, "C2", make_size(shop), 84, states=states)
    return shop


def leave(
    shop: Shop, by: Person | None = None, at: datetime | None = None, act: uuid.UUID | None = None, **said: object
) -> None:
    leave_open(
        by=by or shop.mechanic, act_id=act or uuid.uuid4(), aircraft=shop.aircraft, key=KEY,
        leaving=Leaving(**{"next_hole": 43, **said}), happened_at=at,  # type: ignore[arg-type]
    )  # fmt: skip


def test_five_weeks_later_it_is_all_on_one_page(shop: Shop) -> None:
    make_bag(shop, "R-08", shop.shelf, 100)
    left_at = timezone.now() - timedelta(days=35)
    leave(shop, at=left_at, bare_where="the edge at hole 43", primed=True, bags=["R-08"], borrowed=["bucking bar 7"])
    page = left_page(shop.aircraft, KEY)
    assert page is not None
    assert "5 weeks ago, at hole 43 of 84" in page.sentence
    assert page.next_hole == 44
    assert [hole.number for hole in page.waits] == [43]
    (bag,) = page.job.bags
    assert (bag.thing.piece.tag, bag.lies_at, bag.count) == ("R-08", "C2", 100)  # type: ignore[union-attr]
    assert page.job.borrowed == ("bucking bar 7",)
    assert "was primed on" in page.job.bare_sentence
    take_up(by=shop.lead, act_id=uuid.uuid4(), left=page.job.left)
    after = left_page(shop.aircraft, KEY)
    assert after is not None and after.taken_up is not None and after.taken_up.act.person == shop.lead
    assert open_jobs(shop.aircraft) == []


def test_bare_metal_is_primed_before_he_walks_away_or_its_clock_stays(shop: Shop) -> None:
    with pytest.raises(Refused, match="primed before you walk away"):
        leave(shop, bare_where="the edge")
    assert not JobLeft.objects.exists()
    now = timezone.now()
    leave(
        shop,
        at=now,
        bare_where="the edge",
        bare_because="no primer mixed",
        bare_since=now - timedelta(hours=3),
        prime_within_hours=2,
    )
    (job,) = open_jobs(shop.aircraft)
    assert job.overdue
    assert job.prime_by == now - timedelta(hours=1)
    assert "no primer mixed" in job.bare_sentence
    say_primed(by=shop.lead, act_id=uuid.uuid4(), left=job.left)
    (job,) = open_jobs(shop.aircraft)
    assert job.prime_by is None
    assert "by Lead" in job.bare_sentence
    with pytest.raises(Refused, match="said already"):
        say_primed(by=shop.lead, act_id=uuid.uuid4(), left=job.left)


def test_said_twice_is_left_once_and_otherwise_is_refused(shop: Shop) -> None:
    act = uuid.uuid4()
    leave(shop, act=act)
    leave(shop, act=act)
    assert JobLeft.objects.count() == 1
    with pytest.raises(SaidOtherwise):
        leave(shop, act=act, next_hole=50)


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"next_hole": None}, "Say what comes next"),
        ({"next_hole": 85}, "holes 1 to 84"),
        ({"bags": ["Z-9"]}, "No piece has the tag Z-9"),
        ({"bare_where": "edge", "primed": True, "prime_within_hours": -1.0}, "no such time"),
    ],
)
def test_what_cannot_be_is_refused(shop: Shop, said: dict[str, object], why: str) -> None:
    with pytest.raises(Refused, match=why):
        leave(shop, **said)
    assert not JobLeft.objects.exists()


def test_an_owner_may_not_and_what_was_left_stays(shop: Shop) -> None:
    with pytest.raises(NotAllowed):
        leave(shop, by=shop.owner)
    leave(shop)
    with pytest.raises(IntegrityError, match="stays"), transaction.atomic():
        JobLeft.objects.update(next_hole=1)


def test_a_job_that_is_done_is_open_no_more(shop: Shop) -> None:
    leave(shop)
    say_of_job(by=shop.mechanic, act_id=uuid.uuid4(), aircraft=shop.aircraft, key=KEY, status="done")
    assert open_jobs(shop.aircraft) == []
    assert LeftAfter.objects.count() == 0


def test_the_number_of_queries_does_not_grow(shop: Shop) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            open_jobs(shop.aircraft)
        return len(seen)

    make_bag(shop, "R-08", shop.shelf, 3)
    leave(shop, bags=["R-08"])
    few = queries()
    for n in range(5):
        make_hand_job(shop, f"H-{n}", "Turn bushes")
        make_bag(shop, f"B-{n}", shop.shelf, 3)
        leave_open(
            by=shop.mechanic, act_id=uuid.uuid4(), aircraft=shop.aircraft, key=f"hand:H-{n}:do",
            leaving=Leaving(next_words="Ream", bags=[f"B-{n}"]),
        )  # fmt: skip
    assert len(open_jobs(shop.aircraft)) == 6
    assert queries() == few


def book(shop: Shop, hours: float, **more: object) -> None:
    book_hours(
        by=shop.mechanic, act_id=uuid.uuid4(), aircraft=shop.aircraft, key=KEY, hours=hours,
        **{"day": today(shop.aircraft), **more},  # type: ignore[arg-type]
    )  # fmt: skip


def test_hours_booked_twice_are_asked_twice(shop: Shop) -> None:
    book(shop, 3)
    with pytest.raises(Refused, match="booked on this job"):
        book(shop, 3)
    assert HoursBooked.objects.count() == 1
    book(shop, 2, again=True)
    with pytest.raises(Refused, match="25 hours of Mechanic on one day"):
        book(shop, 20, again=True)
    with pytest.raises(Refused, match="still to come"):
        book(shop, 1, day=today(shop.aircraft) + timedelta(days=1))
    assert sum(HoursBooked.objects.values_list("hours", flat=True)) == 5


def test_what_is_written_by_hand_stands_for_the_records_own_job(shop: Shop) -> None:
    make_hand_job(shop, "go-on", "Rivet on from hole 44", stands_for=["C2:fill"], person=shop.mechanic)
    make_hand_job(shop, "after", "Close it", after=["go-on"])
    gathered = gather(shop.aircraft)
    assert "hand:go-on:do" not in gathered.keys
    job = gathered.network.by_key[KEY]
    assert (job.what, job.person, job.hours.likely) == ("Rivet on from hole 44.", "Mechanic", 2)
    assert (KEY, "hand:after:do") in {(link.before, link.after) for link in gathered.network.links}
    say_of_job(by=shop.mechanic, act_id=uuid.uuid4(), aircraft=shop.aircraft, key=KEY, status="done")
    assert not {KEY, "hand:go-on:do"} & gather(shop.aircraft).keys


def test_work_written_twice_a_due_day_gone_by_and_a_vendor_without_a_time_are_named(shop: Shop) -> None:
    make_hand_job(shop, "again", "Rivet on C2")
    make_hand_job(shop, "late", "Fit the bush", due=today(shop.aircraft) - timedelta(days=3))
    shop.vendor.least_days = shop.vendor.likely_days = shop.vendor.most_days = 0
    shop.vendor.save()
    part = make_part(shop, "0007", shop.shelf)
    make_steps(part, ("Plate", "PL"))
    gathered = gather(shop.aircraft)
    said = " ".join(gathered.faults)
    assert "row C2 already has such a job" in said
    assert "3 days ago" in said
    assert "Plater names no time" in said
    # Of 10, 20 and 60 days, which stand in for his, half the chance: a lognormal with mode 20 has its middle at 25.9.
    assert gathered.network.by_key[f"piece:{part.pk}:1"].days.likely == 26
    assert Row.objects.count() == 1


def test_a_job_waits_for_what_brings_its_tool_and_does_not_start_without_it(shop: Shop) -> None:
    lost = make_part(shop, "T-1", shop.shelf)
    lay_down(by=shop.mechanic, act_id=uuid.uuid4(), piece=lost, to=single("not_found"))
    make_hand_job(shop, "press", "Press the bush", needs=["T-1", "arbor @ rack 2"])
    gathered = gather(shop.aircraft)
    assert gathered.missing == {"hand:press:do": "it needs T-1, which cannot be found"}
    assert gathered.written_needs["hand:press:do"] == ["T-1", "arbor @ rack 2"]
