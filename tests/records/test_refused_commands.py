"""With --json every command that refuses says so in one JSON value: {"refused": why}; nothing else is on stdout."""

import json
import os
import uuid
from datetime import date

import pytest

from tests.records.shop import make_part, make_shop
from tests.support.rows import make_row, make_size
from witnessmark.cli.main import main
from witnessmark.records.actions.custody import send_out
from witnessmark.records.actions.saying import say
from witnessmark.records.models import Person

pytestmark = pytest.mark.django_db
EMPTY = "The record is empty: load a folder of lists first."
NO_ROWS = "No row of rivets is in the record yet: load seams.csv first."


def refused(capsys: pytest.CaptureFixture[str], *call: str) -> tuple[int, str]:
    try:
        code = main([*call, "--json"])
    except SystemExit as stop:
        code = int(stop.code or 0)
    out, err = capsys.readouterr()
    told = json.loads(out)
    assert list(told) == ["refused"], told
    assert told["refused"] in err
    return code, told["refused"]


@pytest.mark.parametrize(
    "call",
    ["order", "survey", "rivet tools", "rivet drawing R1", "plan", "bench-list", "open-jobs", "learned", "timeline",
     "since", "findings", "forecast", "why 0118", "choices 0118", "by-hand", "order-or-send",
     "rivet receive --shank 3 --head 6 --length 8 --count 9"],
)  # fmt: skip
def test_an_empty_record(capsys: pytest.CaptureFixture[str], call: str) -> None:
    assert refused(capsys, *call.split()) == (1, EMPTY)


@pytest.mark.parametrize("call", ["order", "survey", "rivet tools"])
def test_what_is_missing_is_said_where_something_is_held(capsys: pytest.CaptureFixture[str], call: str) -> None:
    shop = make_shop()
    send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="Trim",
        pieces=[make_part(shop, "0118", shop.shelf)], number="S-1", sent_on=date(2026, 5, 1),
    )  # fmt: skip
    assert refused(capsys, *call.split()) == (1, NO_ROWS)
    make_row(shop, "C2", make_size(shop))
    assert main([*call.split(), "--json"]) in (0, 1)
    assert "refused" not in json.loads(capsys.readouterr().out)


def test_a_record_that_holds_something_is_not_called_empty(capsys: pytest.CaptureFixture[str]) -> None:
    lead = Person.objects.create(name="Lead", role="lead", is_active=True)
    say("say_shop_hour", by=lead, act_id=uuid.uuid4(), said={}, do=lambda _: {})
    assert refused(capsys, "plan") == (1, "No aircraft is in the record yet: load a folder of lists first.")


def test_a_trip_that_is_not(capsys: pytest.CaptureFixture[str]) -> None:
    make_shop()
    assert refused(capsys, "trip", "T-9") == (1, "There is no trip T-9.")
    assert refused(capsys, "trip") == (1, "No trip is planned.")


@pytest.mark.parametrize(
    ("call", "why"),
    [
        ("rivet length --grip soft --diameter 3", "argument --grip: Cannot read 'soft'"),
        ("rivet length --grip 1,200 --diameter 3", "argument --grip: Cannot read '1,200'"),
        ("rivet length --diameter 3", "the following arguments are required: --grip"),
        ("rivet sing", "argument WAY: invalid choice: 'sing'"),
        ("mat measure", "the following arguments are required"),
        ("order --wanted-by soon", "argument --wanted-by: 'soon' is no day"),
    ],
)
def test_words_that_cannot_be_read(capsys: pytest.CaptureFixture[str], call: str, why: str) -> None:
    code, told = refused(capsys, *call.split())
    assert code == 2
    assert told.startswith(why)


@pytest.mark.parametrize(
    "call",
    ["rivet length --grip 3.5 --diameter 3 --data {}", "rivet --data {} length --grip 3.5 --diameter 3",
     "--data {} rivet length --grip 3.5 --diameter 3"],
)  # fmt: skip
def test_the_data_folder_and_json_stand_anywhere(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: object, call: str
) -> None:
    monkeypatch.setenv("WITNESSMARK_DATA", "before")
    for words in (f"{call} --json", f"{call}".replace("length", "--json length")):
        assert main(words.format(tmp_path).split()) == 0
        assert json.loads(capsys.readouterr().out)["rule_mm"] == 8.0
        assert os.environ["WITNESSMARK_DATA"] == str(tmp_path)
