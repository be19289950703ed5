"""What the bench says of work: whose it is, what it needs, what stuck costs, what is taken back, what hours taught."""

import json
import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from icalendar import Calendar

from tests.records.shop import Shop, make_bag, make_part, make_shop
from tests.support.rows import make_hand_job, make_row, make_size, make_steps
from witnessmark.cli.main import main
from witnessmark.exchange.calendar_file import calendar
from witnessmark.papers import month_plan, owners_dates
from witnessmark.records.actions.answers import keep_answer
from witnessmark.records.actions.jobs import book_hours, say_of_job, take_back_word
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.bench import bench_today
from witnessmark.records.lookups.day import today
from witnessmark.records.lookups.learned import booked_hours, earned, finished_jobs, learned_from, promises
from witnessmark.records.lookups.network import gather
from witnessmark.records.lookups.open_jobs import last_word
from witnessmark.records.lookups.other_work import other
from witnessmark.records.lookups.plan import make_plan
from witnessmark.records.lookups.seams import rows_seen
from witnessmark.records.models import Bench, JobSaid, Person, Row, Step

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    Person.objects.create(name="Ruun", role="inspector", craft="inspection")
    Person.objects.update(days="Mon-Sun")
    return shop


def say(shop: Shop, key: str, status: str, note: str = "", by: Person | None = None) -> JobSaid:
    say_of_job(by=by or shop.mechanic, act_id=uuid.uuid4(), aircraft=shop.aircraft, key=key, status=status, note=note)
    word = JobSaid.objects.order_by("-id").first()
    assert word is not None
    return word


def take_back(shop: Shop, word: JobSaid, by: Person | None = None) -> None:
    take_back_word(by=by or shop.mechanic, act_id=uuid.uuid4(), aircraft=shop.aircraft, word=word)


def test_the_sentence_counts_each_once_and_the_thing_to_do_has_a_name(shop: Shop) -> None:
    make_hand_job(shop, "a", "Turn two bushes")
    bench = bench_today(shop.aircraft)
    assert bench.sentence.startswith("One of three can work today")
    assert bench.do_now is not None and bench.do_now.whose == shop.mechanic


def test_a_forecast_orders_the_bench_and_gives_its_reason(shop: Shop) -> None:
    for name in ("a", "b", "c"):
        make_hand_job(shop, name, f"Do {name}")
    make_hand_job(shop, "end", "Close it", after=["a", "b", "c"])
    keep_answer(
        "forecast", str(shop.aircraft.pk), inputs={}, result={"criticality": {"hand:c:do": 0.62, "hand:b:do": 0.3}}
    )
    mechanic = next(m for m in bench_today(shop.aircraft).mechanics if m.person == shop.mechanic)
    assert [job.key for job in mechanic.jobs][:2] == ["hand:c:do", "hand:b:do"]
    assert "In six futures of ten the finish waits for it." in mechanic.jobs[0].why


def test_what_is_needed_is_named_with_its_place(shop: Shop) -> None:
    make_bag(shop, "R-08", shop.box, 50)
    make_hand_job(shop, "press", "Press the bush", needs=["R-08", "arbor @ rack 2"])
    mechanic = next(m for m in bench_today(shop.aircraft).mechanics if m.person == shop.mechanic)
    needs = {need.what.split(",")[0]: need.where for need in mechanic.jobs[0].needs}
    assert needs == {"R-08": "box 7.", "arbor": "rack 2."}


def test_stuck_says_what_it_does_to_the_rest(shop: Shop) -> None:
    make_hand_job(shop, "a", "Turn two bushes")
    say(shop, "hand:a:do", "stuck", "no bronze")
    (stuck,) = bench_today(shop.aircraft).stuck
    assert "from tomorrow" in stuck.costs and "moves the finish by" in stuck.costs


def test_a_finished_step_a_look_and_a_row_are_taken_back(shop: Shop) -> None:
    part = make_part(shop, "0007", shop.shelf)
    make_steps(part, ("Strip", "sheet metal"), ("Prime", "sheet metal"))
    make_row(shop, "C2", make_size(shop), 10, states={"empty": range(1, 8), "temporary": [8, 9], "open": [10]})
    make_row(shop, "C3", None, looked_at="under paint")
    for key in (f"piece:{part.pk}:1", "seam:C2 left:fill", "seam:C3 left:look"):
        take_back(shop, say(shop, key, "done"))
    assert Step.objects.get(piece=part, number=1).done_act is None
    assert Row.objects.get(place__mark="C3").looked_at == "under paint"
    counts = next(row for row in rows_seen(shop.aircraft) if row.mark == "C2").counts
    assert (counts["empty"], counts["temporary"], counts["open"], counts["riveted"]) == (7, 2, 1, 0)
    assert {f"piece:{part.pk}:1", "seam:C2 left:fill", "seam:C3 left:look"} <= gather(shop.aircraft).keys


def test_taking_back_is_refused_when_others_spoke_or_went_on(shop: Shop) -> None:
    part = make_part(shop, "0007", shop.shelf)
    make_steps(part, ("Strip", "sheet metal"), ("Prime", "sheet metal"))
    first = say(shop, f"piece:{part.pk}:1", "done")
    assert last_word(shop.aircraft, shop.mechanic) == first
    with pytest.raises(Refused, match="Who said it"):
        take_back(shop, first, Person.objects.get(name="Ruun"))
    say(shop, f"piece:{part.pk}:2", "done")
    with pytest.raises(Refused, match="later step"):
        take_back(shop, first)
    make_hand_job(shop, "a", "Turn")
    begun = say(shop, "hand:a:do", "started")
    say(shop, "hand:a:do", "stuck", "no bronze", by=shop.lead)
    with pytest.raises(Refused, match="spoken of this job since"):
        take_back(shop, begun)
    assert last_word(shop.aircraft, shop.mechanic) is None


def test_hours_of_finished_jobs_correct_the_plan_and_begun_ones_shrink(shop: Shop) -> None:
    for n in range(6):
        make_hand_job(shop, f"old-{n}", "Turn")
        book_hours(
            by=shop.mechanic, act_id=uuid.uuid4(), aircraft=shop.aircraft, key=f"hand:old-{n}:do", hours=4,
            day=today(shop.aircraft),
        )  # fmt: skip
        say(shop, f"hand:old-{n}:do", "done")
    make_hand_job(shop, "next", "Turn again")
    outcomes = finished_jobs(shop.aircraft, booked_hours(shop.aircraft))
    assert [(each.kind, each.likely_hours, each.booked_hours) for each in outcomes] == [("sheet metal", 2, 4)] * 6
    factor = learned_from(outcomes).of("sheet metal").factor
    assert 1.5 < factor < 2
    network = make_plan(shop.aircraft).network
    assert network.by_key["hand:next:do"].hours.likely == pytest.approx(2 * factor, abs=1e-4)
    assert main(["learned", "--json"]) == 0


def test_progress_and_promises_are_counted(shop: Shop) -> None:
    part = make_part(shop, "0007", shop.shelf)
    make_steps(part, ("Strip", "sheet metal"), ("Prime", "sheet metal"))
    say(shop, f"piece:{part.pk}:1", "done")
    steps = earned(shop.aircraft)[0]
    assert (steps.done, steps.of, steps.percent) == (1, 2, 50)
    assert promises(today(shop.aircraft)) == []


def test_other_work_names_what_to_open_and_keeps_its_queries(shop: Shop) -> None:
    from witnessmark.records.models import Zone

    tail = Zone.objects.create(aircraft=shop.aircraft, number="300", name="tail")
    Bench.objects.create(name="lathe")
    make_hand_job(shop, "main", "Rivet the hull", zone=shop.zone)
    make_hand_job(shop, "t0", "Strip the fin", zone=tail)

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            other(shop.aircraft, "hand:main:do")
        return len(seen)

    few = queries()
    for n in range(1, 5):
        make_hand_job(shop, f"t{n}", "Strip the fin more", zone=tail)
    assert queries() == few
    found = other(shop.aircraft, "hand:main:do")
    assert found.sentence == "Open the tail."
    assert found.choices[0].hours_of == {"Mechanic": 10.0}


def test_the_calendar_reads_back_and_an_entry_keeps_its_name(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    """Outside check: the icalendar library's own reader."""
    make_hand_job(shop, "a", "Turn, ream; and press\nit")
    make_hand_job(shop, "end", "Covering done", "", after=["a"])
    job = type(make_hand_job(shop, "z", "Wait")).objects.get(name="end")
    job.hours_least = job.hours_likely = job.hours_most = 0
    job.save()
    keep_answer(
        "forecast", str(shop.aircraft.pk), inputs={},
        result={"milestones": {"hand:end:do": {"half": "2027-03-01", "four_in_five": "2027-05-10", "nineteen_in_twenty": "2027-07-01"}}},
    )  # fmt: skip
    events = {str(e["uid"]): e for e in Calendar.from_ical(calendar(shop.aircraft)).walk("VEVENT")}
    step = events[f"hand:end:do@{shop.aircraft.pk}.witnessmark"]
    assert "Half the chance by 1 March 2027, four in five by 10 May 2027." in step["description"]
    assert (str(step.decoded("dtstart")), str(step.decoded("dtend"))) == ("2027-03-01", "2027-05-11")
    turn = events[f"hand:a:do@{shop.aircraft.pk}.witnessmark"]
    assert "Turn, ream; and press" in str(turn["summary"])
    again = {str(e["uid"]) for e in Calendar.from_ical(calendar(shop.aircraft)).walk("VEVENT")}
    assert again == set(events)
    assert main(["calendar"]) == 0
    assert capsys.readouterr().out.startswith("BEGIN:VCALENDAR")
    assert main(["calendar", "--person", "Nobody"]) == 1
    assert main(["calendar", "--json"]) == 2


def test_papers_name_steps_and_say_what_their_dates_are(shop: Shop) -> None:
    job = make_hand_job(shop, "run", "First engine run", "")
    job.hours_least = job.hours_likely = job.hours_most = 0
    job.save()
    make_hand_job(shop, "a", "Turn")
    (step,) = owners_dates.gather(shop.aircraft).steps
    assert step.what == "First engine run"
    assert step.half_by.startswith("not before") and step.four_in_five_by == "no forecast yet"
    # A page a person: the pages stand above the weeks, and a line no longer names whose it is.
    lines = [line for page in month_plan.gather(shop.aircraft).pages for _, week in page.weeks for line in week]
    assert any("Turn" in line[1] for line in lines)
    assert month_plan.pdf(month_plan.gather(shop.aircraft)).startswith(b"%PDF")
    assert owners_dates.pdf(owners_dates.gather(None)).startswith(b"%PDF")


def test_the_commands_say_it_as_json(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    make_hand_job(shop, "a", "Turn")
    for words, keys in (
        (
            ["other-work", "--stuck", "hand:a:do"],
            {"stuck", "days", "sentence", "open_already", "free_hours", "choices"},
        ),
        (["learned"], {"overall", "kinds", "earned", "promises"}),
    ):
        assert main([*words, "--json"]) == 0
        assert set(json.loads(capsys.readouterr().out)) == keys
    assert main(["open-jobs", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == []
    assert main(["other-work", "--stuck", "hand:gone:do"]) == 1
    assert main(["other-work", "--days", "0"]) == 2


@pytest.mark.parametrize(
    ("words", "refused"),
    [
        (["bench-list", "--person", "Nobody"], "Nobody called Nobody works here."),
        (["calendar", "--person", "Nobody"], "Nobody called Nobody works here."),
        (["findings", "F-999"], "There is no finding F-999."),
        (["choices", "9x"], "No piece has the tag 9x."),
        (["why", "x"], "There is no open job 'x'. `witnessmark plan --json` names them all."),
        (["by-hand", "x"], "There is no open job 'x'."),
        (["what-if", "vendor-late", "Nowhere", "20"], "That cannot be tried: nothing waits for a vendor Nowhere."),
    ],
)
def test_what_is_not_there_is_refused_on_both_outputs(
    shop: Shop, capsys: pytest.CaptureFixture[str], words: list[str], refused: str
) -> None:
    make_hand_job(shop, "a", "Turn")
    assert main([*words, "--json"]) == 1
    out, err = capsys.readouterr()
    assert json.loads(out) == {"refused": refused} and err.strip() == refused


def test_nobody_for_a_job_and_nobody_ever_here_are_named_and_the_rest_is_planned(shop: Shop) -> None:
    make_hand_job(shop, "wood", "Scarf the spar", "wood")
    make_hand_job(shop, "a", "Turn")
    Person.objects.create(name="Never", role="mechanic", craft="fabric", hours_per_day=0)
    plan = make_plan(shop.aircraft)
    said = " ".join(plan.faults)
    assert "Scarf the spar" in said and "nobody here does wood" in said
    assert "Never has no working day" in said
    assert "hand:a:do" in plan.schedule.by_key
