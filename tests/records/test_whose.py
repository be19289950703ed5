"""A person overrules the readings: solved anew with his word as fixed, kept on record, refused where it cannot be."""

import json
import uuid
from pathlib import Path

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from tests.records.shop import Shop, make_shop
from tests.records.test_mixing import received, sent, told
from tests.records.test_sorting import mixed, of_size, read, seen
from witnessmark.cli.main import main
from witnessmark.records.actions.mixing import Told
from witnessmark.records.actions.saying import Refused
from witnessmark.records.actions.whose import say_whose
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.lookups.mixing import sorting
from witnessmark.records.models import Act, Mix, Move, Piece, Shipment, ToldApart, WhoseWord

PITCHES = {str(n): {"ten_pitches_mm": "10.0" if n <= 4 else "10.6"} for n in range(1, 8)}


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop()


def on_the_bench(shop: Shop) -> tuple[Shipment, Piece, Piece]:
    """Four of A and three of B, all back, all measured: the readings tell every one."""
    shipment, a, b = mixed(shop)
    received(shop, shipment, 7)
    read(shop, Mix.objects.get().piece, PITCHES)
    return shipment, a, b


def word(shop: Shop, shipment: Shipment, item: str, bag: Piece | None = None, **more: object) -> dict[str, object]:
    said = {"why": "another head form", **more}
    return say_whose(by=shop.mechanic, act_id=uuid.uuid4(), shipment=shipment, item=item, bag=bag, **said)  # type: ignore[arg-type]


def test_a_word_goes_before_the_readings_and_the_ledger_waits(shop: Shop) -> None:
    shipment, a, b = on_the_bench(shop)
    moves = Move.objects.count()
    result = word(shop, shipment, "1", b)
    assert Move.objects.count() == moves and result["says"] == "B"
    kept = WhoseWord.objects.get()
    assert (kept.read_bag, kept.read_state, kept.act.person) == (
        a,
        "told",
        shop.mechanic,
    ) and kept.read_sure is not None
    assert kept.read_sure > 0.99 and kept.why == "another head form"
    after = seen(shipment)
    assert after.match is not None
    at = {p.piece: (p.bag, p.state) for p in after.match.pieces}
    assert at["1"] == ("B", "said")
    # B gave three and has four that look like it: one of the pieces of B's pitch has no place left in it.
    assert sum(bag == "B" for bag, _ in at.values()) == 3
    assert {p.piece for p in after.passed} <= {"5", "6", "7"} and after.passed
    homes = [Told(p.piece, after.bags[p.bag] if p.bag else None) for p in after.match.pieces if p.bag != "A"]
    told(shop, shipment, *homes)
    assert ToldApart.objects.get(item="1").piece == b and not check_ledger().faults


def test_the_frozen_answer_holds_what_was_said(shop: Shop) -> None:
    shipment, _, b = on_the_bench(shop)
    word(shop, shipment, "1", b)
    assert seen(shipment).answer()["inputs"]["said"] == {"1": "B"}


def test_not_ours_and_taken_back(shop: Shop) -> None:
    shipment, _, _ = on_the_bench(shop)
    word(shop, shipment, "7", foreign=True)
    match = seen(shipment).match
    assert match is not None and match.foreign == ("7",) and [s.bag for s in match.short] == ["B"]
    word(shop, shipment, "7", why="")
    match = seen(shipment).match
    assert match is not None and {p.piece: p.bag for p in match.pieces}["7"] == "B" and not match.said
    assert [w.stands for w in WhoseWord.objects.all()] == [True, False]
    with pytest.raises(Refused, match="Nothing is said of piece 7"):
        word(shop, shipment, "7", why="")


def test_what_cannot_be_is_refused_and_nothing_is_written(shop: Shop) -> None:
    shipment, a, b = on_the_bench(shop)
    other = of_size(shop, "Z", 2, None)
    sent(shop, other, number="S-2")
    for item, bag, more, why in (
        ("99", b, {}, "No piece of this bucket has the number 99"),
        ("", b, {}, "No piece of this bucket"),
        ("1", other, {}, "Z did not leave with shipment S-1"),
        ("1", b, {"why": " "}, "Nothing is said of what you see"),
        ("1", b, {"why": "x" * 201}, "longer than 200"),
        ("1", b, {"foreign": True}, "of a bag or not ours"),
    ):
        with pytest.raises(Refused, match=why):
            word(shop, shipment, item, bag, **more)
    for item in ("1", "2", "3"):
        word(shop, shipment, item, b)
    with pytest.raises(Refused, match=r"B is full: it gave 3 that are not home yet, and of 1, 2, 3 it is said already"):
        word(shop, shipment, "4", b)
    word(shop, shipment, "3", a)
    word(shop, shipment, "4", b)
    assert WhoseWord.objects.count() == 5
    with pytest.raises(Refused, match="Nothing of shipment S-2 is mixed"):
        word(shop, Shipment.objects.get(number="S-2"), "1", other)


def test_what_is_home_is_not_told_again_and_words_keep_their_room(shop: Shop) -> None:
    shipment, a, b = on_the_bench(shop)
    told(shop, shipment, Told("5", b))
    with pytest.raises(Refused, match="home in B already"):
        word(shop, shipment, "5", a)
    word(shop, shipment, "1", b)
    with pytest.raises(Refused, match="B would be full, and piece 1 is of it, says Mechanic"):
        told(shop, shipment, Told("6", b), Told("7", b))
    with pytest.raises(Refused, match="Piece 1 is of B, says Mechanic: another head form"):
        told(shop, shipment, Told("1", a))
    told(shop, shipment, Told("1", b), Told("6", b))
    with pytest.raises(Refused, match="B is full: it gave 0"):
        word(shop, shipment, "2", b)


def test_said_twice_is_done_once(shop: Shop) -> None:
    shipment, _, b = on_the_bench(shop)
    number = uuid.uuid4()
    for _ in range(2):
        say_whose(by=shop.lead, act_id=number, shipment=shipment, item="1", bag=b, why="tried in its hole")
    assert WhoseWord.objects.count() == 1 and Act.objects.filter(verb="say_whose").count() == 1


def test_a_word_stays_as_it_was_said(shop: Shop) -> None:
    shipment, _, b = on_the_bench(shop)
    word(shop, shipment, "1", b)
    with pytest.raises(IntegrityError, match="what was recorded stays"), transaction.atomic():
        WhoseWord.objects.update(why="x")
    with pytest.raises(IntegrityError, match="what was recorded stays"), transaction.atomic():
        WhoseWord.objects.all().delete()


def test_the_number_of_queries_does_not_grow_with_the_words(shop: Shop) -> None:
    shipment, a, b = on_the_bench(shop)

    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            sorting(shipment)
        return len(asked)

    word(shop, shipment, "1", b)
    counted = queries()
    for item in ("2", "3"):
        word(shop, shipment, item, b)
    word(shop, shipment, "5", a)
    assert queries() == counted


def run(*typed: str) -> int:
    return main(["match", *typed])


def test_the_command_says_it_too(shop: Shop, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    on_the_bench(shop)
    assert run("S-1", "--say", "1=B", "--why", "paint mark", "--as", "Mechanic", "--json") == 0
    said = json.loads(capsys.readouterr().out)
    (kept,) = said["said"]
    assert (kept["piece"], kept["says"], kept["by"], kept["why"]) == ("1", "B", "Mechanic", "paint mark")
    assert kept["readings_said"]["bag"] == "A" and kept["readings_said"]["sure"] > 0.99 and kept["in_force"]
    assert {p["piece"]: p["state"] for p in said["pieces"]}["1"] == "said" and said["passed"]
    assert run("S-1", "--say", "2=foreign", "--why", "no head like ours") == 0
    assert "2  said      not ours  Lead: no head like ours; the readings said A" in capsys.readouterr().out
    assert run("S-1", "--take-back", "1", "--json") == 0
    assert [w["piece"] for w in json.loads(capsys.readouterr().out)["said"]] == ["2"]
    before = WhoseWord.objects.count()
    for typed, why in (
        (("--say", "99=B", "--why", "x"), "has the number 99"),
        (("--say", "1=Z9", "--why", "x"), "There is no bag Z9"),
        (("--say", "1=B"), "Nothing is said of what you see"),
        (("--say", "B", "--why", "x"), "write PIECE=BAG"),
        (("--say", "1=B", "--take-back", "1"), "one at a time"),
        (("--take-back", "7"), "Nothing is said of piece 7"),
        (("--why", "x"), "go with --say"),
        (("--say", "1=B", "--why", "x", "--as", "Owner"), "may read this"),
    ):
        assert run("S-1", *typed) == 2
        assert why in capsys.readouterr().err
    assert WhoseWord.objects.count() == before
