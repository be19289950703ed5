"""Who has what: a typed line is a shipment like any other; calls, pieces and mistakes leave the ledger balanced."""

import json
import uuid
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.records.shop import Shop, make_bag, make_part, make_place, make_shop
from witnessmark.cli.main import main
from witnessmark.records.actions.custody import receive_back, send_out
from witnessmark.records.actions.people import begin
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.actions.who_has_what import how_many, rang, say_it_is, say_out, say_phone, take_word_back
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.lookups.network import gather
from witnessmark.records.lookups.outwork import outwork
from witnessmark.records.lookups.promises import promises
from witnessmark.records.lookups.vendor_times import vendor_times
from witnessmark.records.lookups.who_has_what import reason, who_has_what
from witnessmark.records.models import Act, Aircraft, Holding, Person, Piece, Shipment, Vendor, VendorSaid

pytestmark = pytest.mark.django_db
TODAY = date(2026, 5, 12)  # a Tuesday
WEEK = timedelta(days=7)


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    Aircraft.objects.update(today=TODAY)
    return shop


def line(by: Person, what: str, whom: str, since: date = TODAY, promised: date | None = None) -> tuple[Shipment, Act]:
    act_id = uuid.uuid4()
    told = say_out(by=by, act_id=act_id, what=what, whom=whom, since=since, promised=promised, today=TODAY)
    return Shipment.objects.get(number=told["shipment"]), Act.objects.get(pk=act_id)


def test_an_empty_record_takes_a_line_and_makes_the_vendor() -> None:
    lead = begin(name="First")
    shipment, _ = line(lead, "2 magnetos", "Stonebeck Magnetos", TODAY - 8 * WEEK, TODAY - WEEK)
    assert Vendor.objects.get().code == "SM"
    (only,) = shipment.lines.all()
    assert (only.piece.name, only.piece.tag, only.count_out, only.piece.aircraft) == ("2 magnetos", None, 2, None)
    seen = who_has_what(TODAY)
    assert seen.sentence == "One thing is out, with one shop; one is late."
    assert (
        seen.calls[0].sentence
        == "Ring Stonebeck Magnetos: 2 magnetos, promised for Tuesday 5 May, 5 working days late."
    )
    assert check_ledger().balanced


def test_the_line_stands_in_outwork_promises_and_plan_alike(shop: Shop) -> None:
    shipment, _ = line(shop.mechanic, "Oil cooler", "plater", TODAY - 3 * WEEK, TODAY + 2 * WEEK)
    assert shipment.vendor == shop.vendor  # however it is written
    assert [out.shipment for out in outwork(TODAY).out] == [shipment]
    assert [(p.number, p.promised_on) for p in promises(TODAY, vendor_times(TODAY))] == [
        (shipment.number, TODAY + 2 * WEEK)
    ]
    assert f"shipment:{shipment.number}:back" in gather(shop.aircraft).keys
    receive_back(
        by=shop.mechanic, act_id=uuid.uuid4(), shipment=shipment, counts={shipment.lines.get().piece_id: 1}, to=shop.shelf,
        back_on=TODAY,
    )  # fmt: skip
    assert who_has_what(TODAY).away == ()
    assert check_ledger().balanced


def test_what_was_sent_and_what_was_typed_stand_in_one_list(shop: Shop) -> None:
    send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="Strip", pieces=[make_part(shop, "0118", shop.shelf)],
        number="S-041", sent_on=TODAY - WEEK,
    )  # fmt: skip
    shipment, _ = line(shop.lead, "Seat pans", "Trimmer")
    assert shipment.number == "S-042"
    assert {each.shipment.number for each in who_has_what(TODAY).away} == {"S-041", "S-042"}


def test_a_tag_on_record_is_that_piece_and_leaves_its_shelf(shop: Shop) -> None:
    part = make_part(shop, "0118", shop.shelf)
    shipment, act = line(shop.lead, "0118", "Plater")
    assert shipment.lines.get().piece == part
    assert Holding.objects.get(piece=part, count__gt=0).holder == shop.vendor.holder
    with pytest.raises(Refused, match="is at Plater on record"):
        line(shop.lead, "0118", "Trimmer")
    take_word_back(by=shop.lead, act_id=uuid.uuid4(), act=act)
    assert Holding.objects.get(piece=part, count__gt=0).holder == shop.shelf
    assert check_ledger().balanced


def test_a_mistake_is_taken_back_once_and_leaves_nothing_in_the_lists(shop: Shop) -> None:
    _, act = line(shop.lead, "Oil tank", "Trimmer")
    take_word_back(by=shop.lead, act_id=uuid.uuid4(), act=act)
    assert not Shipment.objects.exists()
    assert not Holding.objects.filter(piece__name="Oil tank", count__gt=0).exists()
    assert not Piece.objects.filter(aircraft=shop.aircraft).exists()
    assert Act.objects.filter(verb="say_out").count() == 1  # the history keeps both
    with pytest.raises(Refused, match="taken back already"):
        take_word_back(by=shop.lead, act_id=uuid.uuid4(), act=act)
    assert check_ledger().balanced


def test_a_thing_is_said_to_be_a_piece_later_and_back(shop: Shop) -> None:
    shipment, act = line(shop.lead, "Wing fitting", "Plater")
    fitting = make_part(shop, "0301", shop.shelf)
    told = uuid.uuid4()
    say_it_is(by=shop.mechanic, act_id=told, shipment=shipment, tag="0301")
    assert shipment.lines.get().piece == fitting
    assert Holding.objects.get(piece=fitting, count__gt=0).holder == shop.vendor.holder
    assert check_ledger().balanced
    fresh = Shipment.objects.get(pk=shipment.pk)
    with pytest.raises(Refused, match="which piece"):
        take_word_back(by=shop.lead, act_id=uuid.uuid4(), act=act)
    take_word_back(by=shop.lead, act_id=uuid.uuid4(), act=Act.objects.get(pk=told))
    assert fresh.lines.get().piece.name == "Wing fitting"
    assert Holding.objects.get(piece=fitting, count__gt=0).holder == shop.shelf
    take_word_back(by=shop.lead, act_id=uuid.uuid4(), act=act)
    assert who_has_what(TODAY).away == ()
    assert check_ledger().balanced


def test_a_piece_in_its_place_is_not_out(shop: Shop) -> None:
    place = make_place(shop, "6-1")
    make_part(shop, "0118", place.holder, belongs=place)
    shipment, _ = line(shop.lead, "Wing fitting", "Plater")
    with pytest.raises(Refused, match="Say on its page how it came away"):
        say_it_is(by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, tag="0118")
    with pytest.raises(Refused, match="No piece has the tag 9999"):
        say_it_is(by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, tag="9999")
    assert check_ledger().balanced


def test_a_call_moves_the_promise_ends_todays_ringing_and_is_taken_back(shop: Shop) -> None:
    shipment, act = line(shop.lead, "Oil cooler", "Plater", TODAY - 5 * WEEK, TODAY - 2 * WEEK)
    assert [call.vendor for call in who_has_what(TODAY).calls] == [shop.vendor]
    call = uuid.uuid4()
    rang(by=shop.mechanic, act_id=call, shipment=shipment, today=TODAY, promised=TODAY + WEEK)
    rang(by=shop.mechanic, act_id=call, shipment=shipment, today=TODAY, promised=TODAY + WEEK)  # sent twice, done once
    assert VendorSaid.objects.count() == 1
    shipment.refresh_from_db()
    assert shipment.promised_on == TODAY + WEEK
    assert who_has_what(TODAY).calls == () and len(who_has_what(TODAY).rung) == 1
    with pytest.raises(Refused, match="rang about"):
        take_word_back(by=shop.lead, act_id=uuid.uuid4(), act=act)
    assert Shipment.objects.filter(pk=shipment.pk).exists() and check_ledger().balanced
    take_word_back(by=shop.lead, act_id=uuid.uuid4(), act=Act.objects.get(pk=call))
    shipment.refresh_from_db()
    assert shipment.promised_on == TODAY - 2 * WEEK
    assert [call.vendor for call in who_has_what(TODAY).calls] == [shop.vendor]


def test_nobody_answered_is_kept_and_he_is_rung_again_tomorrow(shop: Shop) -> None:
    shipment, _ = line(shop.lead, "Oil cooler", "Plater", TODAY - 5 * WEEK, TODAY - WEEK)
    rang(by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, today=TODAY, promised=None)
    assert who_has_what(TODAY).calls == ()
    assert len(who_has_what(TODAY + timedelta(days=1)).calls) == 1


@pytest.mark.parametrize(
    ("since", "promised", "heard", "rank", "words"),
    [
        (-30, -3, None, 0, "a working day late"),  # promised on Saturday 9 May; Monday passed; today is Tuesday
        (-30, 0, None, 1, "promised for today"),
        (-30, 1, None, 1, "promised for tomorrow"),
        (-30, 9, -5, 9, ""),
        (-6, None, None, 9, ""),
        (-7, None, None, 2, "no day promised"),
        (-30, None, -1, 9, ""),
        (-28, 60, None, 3, "4 weeks ago"),
        (-28, 60, -5, 9, ""),
        (-30, -3, 0, 9, ""),
    ],
)  # fmt: skip
def test_whom_to_ring_and_why(since: int, promised: int | None, heard: int | None, rank: int, words: str) -> None:
    def day(n: int | None) -> date | None:
        return None if n is None else TODAY + timedelta(days=n)

    began = day(since)
    assert began is not None
    why, urgency = reason(began, day(promised), day(heard), TODAY)
    if rank == 0:
        assert urgency == (0, -2)
        assert "2 working days late" in why
        return
    assert urgency[0] == rank and words in why and bool(why) == (rank < 9)


def test_the_most_pressing_call_stands_first_and_one_vendor_is_rung_once(shop: Shop) -> None:
    line(shop.lead, "Seat", "Trimmer", TODAY - 3 * WEEK)
    line(shop.lead, "Cowl", "Beater", TODAY - 3 * WEEK, TODAY)
    line(shop.lead, "Tank", "Beater", TODAY - 3 * WEEK, TODAY - WEEK)
    line(shop.lead, "Prop", "Carver", TODAY - 9 * WEEK, TODAY - 4 * WEEK)
    calls = who_has_what(TODAY).calls
    assert [call.vendor.name for call in calls] == ["Carver", "Beater", "Trimmer"]
    assert [each.what for each in calls[1].about] == ["Tank", "Cowl"]


@pytest.mark.parametrize(
    ("what", "number"),
    [
        ("2 magnetos", 2), ("12 x rib clip", 12), ("3 pcs oil line", 3), ("4 wheel brake cylinders", 4),
        ("12 V generator", 1), ("3 mm sheet", 1), ("9 cylinder engine", 1), ("5/32 rivets", 1), ("magneto", 1),
        ("2 magnetos for overhaul", 2), ("24 volts regulator", 1), ("No. 3 frame", 1), ("0 things", 1), ("99999 pins", 1),
    ],
)  # fmt: skip
def test_how_many_the_words_name(what: str, number: int) -> None:
    assert how_many(what) == number


def test_what_cannot_be_is_refused_and_nothing_is_written(shop: Shop) -> None:
    for what, whom, since, promised, why in (
        ("", "Plater", TODAY, None, "what is out"),
        ("Tank", " - ", TODAY, None, "who has it"),
        ("Tank", "Plater", TODAY + WEEK, None, "still to come"),
        ("Tank", "Plater", TODAY, TODAY - WEEK, "before"),
        ("Tank", "Plater", TODAY, TODAY + 200 * WEEK, "three years"),
    ):
        with pytest.raises(Refused, match=why):
            line(shop.lead, what, whom, since, promised)
    with pytest.raises(NotAllowed):
        line(shop.owner, "Tank", "Plater")
    with pytest.raises(Refused, match="no number to ring"):
        say_phone(by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, phone="ask Tom")
    assert not Shipment.objects.exists() and Vendor.objects.count() == 1


def test_alike_is_asked_and_both_are_kept(shop: Shop) -> None:
    line(shop.lead, "Oil tank", "Stonebeck Metal Works")
    told = say_out(by=shop.lead, act_id=uuid.uuid4(), what="Oil tank", whom="Stonebeck", since=TODAY, promised=None, today=TODAY)  # fmt: skip
    assert "Stonebeck Metal Works" in told["remarks"][0]
    again = say_out(by=shop.lead, act_id=uuid.uuid4(), what="oil tank", whom="Stonebeck", since=TODAY, promised=None, today=TODAY)  # fmt: skip
    assert "already" in again["remarks"][0]
    assert Shipment.objects.count() == 3


def test_queries_do_not_grow_with_the_lines(shop: Shop) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            who_has_what(TODAY)
        return len(seen)

    for n in range(3):
        line(shop.lead, f"Thing {n}", f"Shop {n}", TODAY - 4 * WEEK, TODAY - WEEK)
    few = queries()
    for n in range(3, 40):
        shipment, _ = line(shop.lead, f"Thing {n}", f"Shop {n % 9}", TODAY - 4 * WEEK)
        rang(by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, today=TODAY, promised=None)
    make_bag(shop, "0042", shop.shelf, 8)
    assert queries() == few <= 5


def test_the_command_says_the_same(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["who-has-what", "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["out"] == []
    shipment, _ = line(shop.lead, "Oil cooler", "Plater", TODAY - 5 * WEEK, TODAY - WEEK)
    say_phone(by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, phone="+49 170 555 0111")
    assert main(["who-has-what", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["ring"][0]["phone"] == "+49 170 555 0111"
    assert told["ring"][0]["about"][0]["shipment"] == shipment.number
    assert (told["out"][0]["what"], told["out"][0]["late_working_days"]) == ("Oil cooler", 5)
    assert main(["who-has-what"]) == 0
    assert "Ring Plater, +49 170 555 0111:" in capsys.readouterr().out


def test_what_was_typed_today_is_spoken_of_today(shop: Shop) -> None:
    began, promised = TODAY - 51 * WEEK, TODAY + 8 * WEEK
    assert "51 weeks ago" in reason(began, promised, None, TODAY)[0]
    assert reason(began, promised, None, TODAY, TODAY) == ("", (9, 0))
    assert "2 working days late" in reason(began, TODAY - timedelta(days=3), None, TODAY, TODAY)[0]
