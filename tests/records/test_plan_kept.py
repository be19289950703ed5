"""The plan that people see is the one the search found; it changes little from day to day, and it is checked."""

import uuid
from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.test import Client

from tests.records.shop import Shop, make_shop
from tests.support.rows import make_hand_job
from witnessmark.calc.plan.calendars import DAY
from witnessmark.calc.plan.feasible import breaches
from witnessmark.calc.plan.solve import Schedule, solve
from witnessmark.calc.plan.yesterday import Course
from witnessmark.cli import plan as plan_command
from witnessmark.records.actions.forecast import foresee
from witnessmark.records.actions.jobs import say_of_job
from witnessmark.records.lookups.forecast import known_forecast, what_if
from witnessmark.records.lookups.plan import (
    Plan,
    bound_sentence,
    days_over_least,
    due_sentences,
    make_plan,
    solved_without,
)
from witnessmark.records.models import Answer, HandJob, Person, Work
from witnessmark.records.watch import Watch

pytestmark = pytest.mark.django_db
TUESDAY = date(2026, 5, 12)
# Craft, hours, and what comes before: urgency alone ends a day later than the best order (found by trying all orders).
JOBS = (
    ("y", 4, ()), ("y", 12, ()), ("x", 16, ()), ("x", 4, ()), ("x", 8, (1,)), ("x", 8, (0,)), ("y", 2, (5,)), ("x", 4, (4,)),
)  # fmt: skip


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    shop.aircraft.today = TUESDAY
    shop.aircraft.save()
    Person.objects.update(is_active=False)
    for name in "xy":
        Person.objects.create(name=f"Does {name}", role="mechanic", craft=name, days="Mon-Fri")
    for number, (craft, hours, after) in enumerate(JOBS):
        job = make_hand_job(shop, f"H-{number}", f"Job {number}", craft, after=[f"H-{n}" for n in after])
        HandJob.objects.filter(pk=job.pk).update(hours_least=hours, hours_likely=hours, hours_most=hours)
    return shop


def starts(plan: Plan) -> dict[str, tuple[int, str]]:
    return {e.key: (e.start, e.person) for e in plan.schedule.entries}


def test_what_is_shown_is_the_plan_that_was_found(shop: Shop) -> None:
    first = make_plan(shop.aircraft)
    assert first.stored is None and first.solved.course == Course()
    assert "first answer" in bound_sentence(first) and days_over_least(first) is None
    foresee(shop.aircraft)
    found = make_plan(shop.aircraft)
    assert found.schedule.finish_date == first.schedule.finish_date - timedelta(days=1)
    assert found.proved and not breaches(found.schedule, found.network, found.shop)
    assert found.stored is not None and found.stored.fresh
    assert {key: start for key, (start, _) in starts(found).items()} == found.stored.starts
    known = known_forecast(shop.aircraft, found)
    assert known is not None and known.outlook.likely_end == found.schedule.finish_date
    assert days_over_least(found) == plan_command.to_dict(found)["at_most_days_longer"]
    assert "that is proved" in bound_sentence(found)


def test_the_screen_and_the_command_say_how_near_the_plan_is_to_the_best(shop: Shop) -> None:
    foresee(shop.aircraft)
    client = Client()
    client.force_login(shop.owner)
    Person.objects.filter(pk=shop.owner.pk).update(is_active=True)
    text = client.get("/plan/").content.decode()
    assert bound_sentence(make_plan(shop.aircraft)) in text and "that is proved" in text


def test_a_new_job_leaves_what_is_planned_next_where_it_was(shop: Shop) -> None:
    foresee(shop.aircraft)
    before = make_plan(shop.aircraft)
    make_hand_job(shop, "H-9", "Job 9", "x")
    carried = make_plan(shop.aircraft)
    assert carried.proved and "carried on" in bound_sentence(carried)
    moved = [key for key, at in starts(before).items() if starts(carried)[key] != at]
    assert moved == [] and "hand:H-9:do" in starts(carried)
    foresee(shop.aircraft)
    again = make_plan(shop.aircraft)
    assert again.stored is not None and again.stored.fresh
    assert sum(starts(again)[key] != at for key, at in starts(before).items()) <= 1


def test_the_next_day_goes_on_from_the_plan_of_the_day_before(shop: Shop) -> None:
    foresee(shop.aircraft)
    before = make_plan(shop.aircraft)
    shop.aircraft.today = TUESDAY + timedelta(days=1)
    shop.aircraft.save()
    say_of_job(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, key="hand:H-0:do", status="done")
    say_of_job(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, key="hand:H-3:do", status="started")
    after = make_plan(shop.aircraft)
    ahead = {k: (s - DAY, who) for k, (s, who) in starts(before).items() if s - DAY >= 32 and k != "hand:H-3:do"}
    assert ahead and after.proved
    later = [key for key, at in ahead.items() if starts(after)[key][0] < at[0]]
    assert later == []  # nothing is drawn forward over what people were told
    assert after.schedule.by_key["hand:H-3:do"].start == 32  # and work begun goes on first


def test_when_the_record_is_as_it_was_the_plan_is_too(shop: Shop) -> None:
    foresee(shop.aircraft)
    first = make_plan(shop.aircraft)
    extra = make_hand_job(shop, "H-9", "Job 9", "x")
    foresee(shop.aircraft)
    extra.delete()
    again = make_plan(shop.aircraft)
    assert again.stored is not None and again.stored.fresh
    assert starts(again) == starts(first)
    known = known_forecast(shop.aircraft, again)
    assert known is not None and known.fresh


def test_a_stored_plan_that_fails_its_check_is_not_shown(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """The check is the one that shares nothing with the engine; here the laid plan puts one man at all jobs at once."""
    foresee(shop.aircraft)

    def at_once(self: Course, network: object, there: object) -> Schedule:
        whole = solve(network, there, self.order)  # type: ignore[arg-type]
        if self == Course():
            return whole
        return replace(whole, entries=tuple(replace(e, start=32) for e in whole.entries))

    monkeypatch.setattr(Course, "lay", at_once)
    shop.aircraft.today = TUESDAY + timedelta(days=6)
    shop.aircraft.save()
    plan = make_plan(shop.aircraft)
    assert plan.solved.course == Course() and plan.proved
    assert days_over_least(plan) is None


def test_what_if_and_stuck_go_by_the_same_plan(shop: Shop) -> None:
    from witnessmark.calc.plan.what_if import Change

    foresee(shop.aircraft)
    plan = make_plan(shop.aircraft)
    assert solved_without(plan, set()) == plan.schedule
    assert what_if(plan, Change("job_late", "hand:H-3:do", 1)).before == plan.schedule.finish_date
    assert what_if(plan, Change("person_away", "Does x", 7)).days >= 7


def test_an_old_stored_plan_of_another_form_does_no_harm(shop: Shop) -> None:
    foresee(shop.aircraft)
    Answer.objects.filter(kind="plan order").update(result={"order": ["hand:H-1:do"]})
    assert make_plan(shop.aircraft).stored is None


def test_who_wants_continuous_work_is_said_and_counts(shop: Shop) -> None:
    foresee(shop.aircraft)
    Person.objects.filter(name="Does y").update(continuous=True)
    plan = make_plan(shop.aircraft)
    assert plan.stored is not None and not plan.stored.fresh
    assert plan.stored.wishes(plan.shop).continuous == {"Does y"}
    assert plan_command.to_dict(plan)["continuous"] == ["Does y"]


def test_an_idle_worker_asks_for_a_plan_once_the_record_went_on(shop: Shop) -> None:
    watch, at_once = Watch(), timedelta()
    assert watch.look(at_once) == 1 and watch.look(at_once) == 0
    assert Work.objects.get().kind == "foresee"
    Work.objects.all().delete()
    foresee(shop.aircraft)
    say_of_job(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, key="hand:H-0:do", status="done")
    assert watch.look() == 0  # somebody is still typing
    assert watch.look(at_once) == 1


def test_days_that_cannot_all_be_kept_are_named_in_a_sentence(shop: Shop) -> None:
    HandJob.objects.filter(name__in=["H-0", "H-1"]).update(due=TUESDAY)  # 16 hours of one man on one day
    HandJob.objects.filter(name="H-7").update(due=TUESDAY + timedelta(days=60))
    foresee(shop.aircraft)
    told = due_sentences(make_plan(shop.aircraft))
    assert len(told) == 2 and "due on 12 May 2026, done on " in told[0]
    assert told[1].startswith("Job 1 cannot be done by its day") or told[1].startswith("These cannot all be done")
    assert "Job 7" not in told[1]
    HandJob.objects.update(due=None)
    foresee(shop.aircraft)
    assert due_sentences(make_plan(shop.aircraft)) == []
