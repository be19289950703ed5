"""What people fix in the plan by hand is obeyed, or it is named why not; each word is taken back by another."""

import argparse
import json
import uuid
from datetime import date

import pytest

from tests.records.shop import Shop, make_part, make_shop
from tests.support.rows import make_hand_job, make_steps
from witnessmark.calc.plan.jobs import Job, Link, Network, without_circles
from witnessmark.cli import by_hand as command
from witnessmark.cli.main import NotSo
from witnessmark.records.actions import plan_by_hand as acts
from witnessmark.records.actions.forecast import foresee
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.plan import due_sentences, kept_words, make_plan
from witnessmark.records.models import Act, HandJob, JobFixed, Person, Vendor

pytestmark = pytest.mark.django_db
TUESDAY, WEDNESDAY, FRIDAY, SATURDAY = (date(2026, 5, day) for day in (12, 13, 15, 16))
FIT, DRILL, SAND = (f"hand:{name}:do" for name in ("fit", "drill", "sand"))


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    shop.aircraft.today = TUESDAY
    shop.aircraft.save()
    Person.objects.update(days="Mon-Fri", hours_per_day=8)
    Person.objects.create(name="Second", role="mechanic", craft="sheet metal")
    Person.objects.create(name="Joiner", role="mechanic", craft="wood")
    for name, what in (("fit", "Fit the door"), ("drill", "Drill the frame"), ("sand", "Sand the skin")):
        job = make_hand_job(shop, name, what, "sheet metal")
        HandJob.objects.filter(pk=job.pk).update(hours_least=8, hours_likely=8, hours_most=8)
    return shop


def new(shop: Shop, by: Person | None = None) -> dict[str, object]:
    return {"by": by or shop.mechanic, "act_id": uuid.uuid4(), "aircraft": shop.aircraft}


def at(shop: Shop, key: str) -> tuple[str, date]:
    plan = make_plan(shop.aircraft)
    assert plan.proved
    entry = plan.schedule.by_key[key]
    return entry.person, entry.start_date


def test_a_job_goes_to_whom_and_to_the_day_that_was_fixed_and_is_free_again(shop: Shop) -> None:
    free = {key: at(shop, key) for key in (FIT, DRILL, SAND)}
    second = Person.objects.get(name="Second")
    acts.fix_job(**new(shop), key=SAND, person=second, day=FRIDAY)
    assert at(shop, SAND) == ("Second", FRIDAY)
    assert due_sentences(make_plan(shop.aircraft)) == []
    joiner = Person.objects.get(name="Joiner")  # whoever fixes it knows better than the list of crafts
    acts.fix_job(**new(shop), key=SAND, person=joiner, day=WEDNESDAY)
    assert at(shop, SAND) == ("Joiner", WEDNESDAY)
    acts.fix_job(**new(shop), key=SAND)
    assert {key: at(shop, key) for key in (FIT, DRILL, SAND)} == free
    assert Act.objects.filter(verb="fix_job").count() == 3


def test_a_fixed_day_goes_before_what_nobody_fixed_and_before_the_last_plan(shop: Shop) -> None:
    """Two mechanics, three jobs of a day each: on Tuesday two are done, the third on Wednesday; fixed, it is among the two."""
    assert foresee(shop.aircraft) is not None
    (last,) = [key for key in (FIT, DRILL, SAND) if at(shop, key)[1] == WEDNESDAY]
    acts.fix_job(**new(shop), key=last, day=TUESDAY)
    assert at(shop, last)[1] == TUESDAY
    assert foresee(shop.aircraft) is not None
    assert at(shop, last)[1] == TUESDAY and make_plan(shop.aircraft).stored.fresh  # type: ignore[union-attr]


def test_what_a_fixed_job_waits_for_is_done_before_it(shop: Shop) -> None:
    make_hand_job(shop, "long", "Strip the floor", "sheet metal")
    HandJob.objects.filter(name="long").update(hours_least=80, hours_likely=80, hours_most=80, priority=1)
    acts.tie_jobs(**new(shop), before=DRILL, after=FIT)
    acts.fix_job(**new(shop), key=FIT, day=WEDNESDAY)
    assert at(shop, DRILL)[1] == TUESDAY and at(shop, FIT)[1] == WEDNESDAY


@pytest.mark.parametrize(
    ("day", "cause"),
    [(SATURDAY, "Mechanic does not work on Sat 16 May."), (TUESDAY, "It waits for: Drill the frame")],
)
def test_a_day_that_cannot_be_kept_is_named_with_its_cause(shop: Shop, day: date, cause: str) -> None:
    acts.tie_jobs(**new(shop), before=DRILL, after=FIT)
    acts.fix_job(**new(shop), key=FIT, person=shop.mechanic, day=day)
    (said,) = due_sentences(make_plan(shop.aircraft))
    assert said.startswith("Fit the door: fixed to ") and cause in said


def test_who_left_and_a_day_gone_by_are_named_and_the_job_is_planned_all_the_same(shop: Shop) -> None:
    second = Person.objects.get(name="Second")
    acts.fix_job(**new(shop), key=SAND, person=second, day=WEDNESDAY)
    Person.objects.filter(pk=second.pk).update(is_active=False)
    shop.aircraft.today = date(2026, 5, 14)
    shop.aircraft.save()
    plan = make_plan(shop.aircraft)
    assert plan.proved and plan.schedule.by_key[SAND].person == "Mechanic"
    assert any("who does not work here any more" in fault for fault in plan.faults)
    assert any("13 May 2026, which has gone by" in fault for fault in plan.faults)


def test_what_cannot_be_fixed_is_refused_and_nothing_is_written(shop: Shop) -> None:
    part = make_part(shop, "0007", shop.shelf)
    make_steps(part, ("Cadmium plate", "PL"))
    outside = f"piece:{part.pk}:1"
    with pytest.raises(Refused, match="has gone by"):
        acts.fix_job(**new(shop), key=FIT, day=date(2026, 5, 11))
    with pytest.raises(Refused, match="Plater does this, nobody of the shop"):
        acts.fix_job(**new(shop), key=outside, person=shop.mechanic)
    with pytest.raises(Refused, match="no longer there"):
        acts.fix_job(**new(shop), key="hand:gone:do", day=FRIDAY)
    with pytest.raises(Refused, match="does not work here"):
        acts.fix_job(**new(shop), key=FIT, person=shop.owner)
    with pytest.raises(Refused, match="Nothing is fixed"):
        acts.fix_job(**new(shop), key=FIT)
    with pytest.raises(NotAllowed):
        acts.fix_job(**new(shop, shop.owner), key=FIT, day=FRIDAY)
    assert not JobFixed.objects.exists()
    acts.fix_job(**new(shop), key=outside, day=FRIDAY)  # a day for what leaves the shop is a day to send it
    assert at(shop, outside) == ("", FRIDAY)


def test_said_twice_is_fixed_once(shop: Shop) -> None:
    same = new(shop)
    acts.fix_job(**same, key=FIT, day=FRIDAY)
    acts.fix_job(**same, key=FIT, day=FRIDAY)
    assert JobFixed.objects.count() == 1


def test_jobs_are_tied_by_hand_and_a_circle_is_refused_with_its_sentence(shop: Shop) -> None:
    acts.tie_jobs(**new(shop), before=FIT, after=DRILL, because="the door gives the line")
    acts.tie_jobs(**new(shop), before=DRILL, after=SAND)
    plan = make_plan(shop.aircraft)
    assert plan.schedule.by_key[DRILL].start >= plan.schedule.by_key[FIT].finish
    assert plan.schedule.by_key[SAND].start >= plan.schedule.by_key[DRILL].finish
    assert (FIT, DRILL) in plan.gathered.by_hand
    with pytest.raises(Refused) as circle:
        acts.tie_jobs(**new(shop), before=SAND, after=FIT)
    assert all(
        f"{what} waits for " in str(circle.value) for what in ("Fit the door", "Drill the frame", "Sand the skin")
    )
    with pytest.raises(Refused, match="waits for that already"):
        acts.tie_jobs(**new(shop), before=FIT, after=DRILL)
    with pytest.raises(Refused, match="cannot wait for itself"):
        acts.tie_jobs(**new(shop), before=FIT, after=FIT)
    acts.tie_jobs(**new(shop), before=FIT, after=DRILL, stands=False)
    assert make_plan(shop.aircraft).schedule.by_key[DRILL].start_date == TUESDAY
    with pytest.raises(Refused, match="Nobody tied these two"):
        acts.tie_jobs(**new(shop), before=FIT, after=DRILL, stands=False)


def test_of_a_ring_the_tie_made_by_hand_gives_way_first() -> None:
    jobs = (Job("piece:1:1", "A."), Job("piece:1:2", "B."))
    ring = Network(jobs, (Link("piece:1:1", "piece:1:2"), Link("piece:1:2", "piece:1:1", by_hand=True)))
    opened, said = without_circles(ring)
    assert opened.links == (ring.links[0],) and len(said) == 1


def test_a_job_is_written_down_planned_and_struck_out(shop: Shop) -> None:
    told = acts.write_job(
        **new(shop), job=acts.Written("Make a jig", "sheet metal", 1, 2, 4, zone="100", after=[FIT], due=FRIDAY)
    )
    plan = make_plan(shop.aircraft)
    assert plan.schedule.by_key[told["job"]].start >= plan.schedule.by_key[FIT].finish
    assert plan.network.by_key[told["job"]].due == FRIDAY
    with pytest.raises(Refused, match="Mechanic wrote it down"):
        acts.strike_job(**new(shop, Person.objects.get(name="Joiner")), name=told["name"])
    acts.strike_job(**new(shop, shop.lead), name=told["name"])
    assert told["job"] not in make_plan(shop.aircraft).network.by_key
    with pytest.raises(Refused, match="Only a job that was written down by hand"):
        acts.strike_job(**new(shop), name="fit")  # came by a list


@pytest.mark.parametrize(
    ("job", "why"),
    [
        (acts.Written(" "), "in a few words"),
        (acts.Written("Cut", "wood", 4, 2, 8), "not least, likely and most"),
        (acts.Written("Cut", "wood", 1, 2, 1e9), "not least, likely and most"),
        (acts.Written("Cut", "", 1, 2, 4), "whose craft"),
        (acts.Written("Cut", "wood", 1, 2, 4, bench="moon"), "no bench 'moon'"),
        (acts.Written("Cut", "wood", 1, 2, 4, zone="999"), "no zone 999"),
        (acts.Written("Cut", "wood", 1, 2, 4, after=["hand:none:do"]), "no longer there"),
        (
            acts.Written(
                what="Weld",
                craft="sheet metal",
                hours_least=1,
                hours_likely=2,
                hours_most=4,
                not_before=date(2026, 7, 1),
                due=date(2026, 6, 1),
            ),
            "Due on 1 June 2026, and not before 1 July 2026: no plan can keep both.",
        ),
    ],
)
def test_a_job_that_says_too_little_or_wrong_is_refused(shop: Shop, job: acts.Written, why: str) -> None:
    with pytest.raises(Refused, match=why):
        acts.write_job(**new(shop), job=job)
    assert HandJob.objects.count() == 3


def test_people_and_vendors_are_kept_in_work_without_gaps(shop: Shop) -> None:
    for who in (shop.mechanic, shop.vendor):
        acts.say_continuous(by=shop.lead, act_id=uuid.uuid4(), who=who, continuous=True)
    assert kept_words(make_plan(shop.aircraft)) == "Mechanic and Plater are to have work without gaps."
    acts.say_continuous(by=shop.lead, act_id=uuid.uuid4(), who=shop.mechanic, continuous=False)
    assert kept_words(make_plan(shop.aircraft)) == "Plater is to have work without gaps."
    with pytest.raises(NotAllowed):
        acts.say_continuous(by=shop.owner, act_id=uuid.uuid4(), who=shop.vendor, continuous=False)
    assert Vendor.objects.get(pk=shop.vendor.pk).continuous


def said(capsys: pytest.CaptureFixture[str]) -> dict[str, object]:
    told: dict[str, object] = json.loads(capsys.readouterr().out)
    return told


def order(job: str = "", **more: object) -> argparse.Namespace:
    usual: dict[str, object] = {
        "job": job, "person": "", "on": "", "free": False, "after": "", "not_after": "", "write": "", "craft": "",
        "hours": (0.0, 0.0, 0.0), "strike": False, "gaps": None, "acting": "", "json": True,
    }  # fmt: skip
    return argparse.Namespace(**{**usual, **more})


def test_the_command_lays_out_what_the_screen_does(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    assert command.run(order("fit", person="Second", on="2026-05-15")) == 0
    said(capsys)
    assert command.run(order("fit", after="drill")) == 0
    said(capsys)
    assert command.run(order("fit")) == 0
    told = said(capsys)
    assert told["fixed"] == "Lead fixed it to Second and to Friday 15 May 2026."
    assert told["waits_for"] == [{"key": DRILL, "what": "Drill the frame.", "by_hand": True}]
    assert command.run(order("fit", not_after="drill")) == 0
    assert command.run(order("fit", free=True)) == 0
    capsys.readouterr()
    assert command.run(order("fit")) == 0
    assert said(capsys)["fixed"] == ""
    assert command.run(order("fit", write="Make a jig", craft="wood", hours=(1, 2, 3))) == 0
    written = str(said(capsys)["job"])
    assert command.run(order(written, strike=True)) == 0
    assert command.run(order(gaps=["PL", "yes"])) == 0
    capsys.readouterr()
    assert Vendor.objects.get(code="PL").continuous
    with pytest.raises(NotSo, match="There is no open job 'nothing'"):
        command.run(order("nothing"))
