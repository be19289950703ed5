"""Sentences as a person would say them: one is one, a stop stands once, a promise ahead is, a size is as it is sold."""

import uuid
from datetime import date, timedelta

import pytest
from django.utils import timezone

from tests.records.shop import Shop, make_bag, make_part, make_shop
from tests.support.pages import client, words
from witnessmark.calc.bags.balance import Group, balance
from witnessmark.calc.bags.shipment import ShipmentLine, shipment_totals
from witnessmark.calc.fasteners.driven import length_choice
from witnessmark.calc.fasteners.joint import Sheet, row_strength
from witnessmark.calc.tables import load_table
from witnessmark.cli.confusion import _minutes
from witnessmark.cli.main import main
from witnessmark.records.actions.custody import send_out
from witnessmark.records.actions.saying import Refused
from witnessmark.records.actions.survey import made_size
from witnessmark.records.lookups.instructions import strength_words
from witnessmark.records.models import Piece, Shipment

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def send(shop: Shop, piece: Piece, sent_on: date, promised_on: date | None = None) -> None:
    send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="Plate", pieces=[piece], number="S-1",
        sent_on=sent_on, promised_on=promised_on,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("days", "said"),
    [(0, "is at Plater since today"), (1, "has been at Plater for a day"), (19, "has been at Plater for 19 days")],
)
def test_how_long_it_is_away(shop: Shop, days: int, said: str) -> None:
    send(shop, make_part(shop, "0118", shop.shelf), timezone.localdate() - timedelta(days=days))
    page = words(client(shop.mechanic).get("/outwork/S-1/"))
    assert f"One piece {said}." in page
    assert "Counted: it is here" in page
    assert "all 1" not in page


@pytest.mark.parametrize(("ahead", "said"), [(5, "It is promised for"), (-2, "It was promised for")])
def test_a_promise_that_lies_ahead_is(shop: Shop, ahead: int, said: str) -> None:
    now = timezone.localdate()
    send(shop, make_bag(shop, "L-014", shop.shelf, 46), now - timedelta(days=3))
    Shipment.objects.update(promised_on=now + timedelta(days=ahead))
    assert said in words(client(shop.mechanic).get("/outwork/S-1/"))


def test_a_piece_without_a_tag_is_named_by_what_it_is(shop: Shop) -> None:
    assert str(Piece(name="a tractor generator")) == "a tractor generator (no tag)"
    assert str(Piece(tag="0118", name="Fitting")) == "0118 Fitting"
    assert str(Piece()) == "a piece (no tag)"


def test_one_is_one() -> None:
    told = shipment_totals([ShipmentLine("L-1", "clip", 1, 20.0, "steel")])
    assert told.sentence.startswith("1 piece, ")
    assert told.working.rows[0].what == "L-1, 1 piece"
    assert (_minutes(0.6), _minutes(1.2), _minutes(2.0)) == ("a minute", "a minute", "2 minutes")
    with pytest.raises(ValueError, match="one shear plane wants at least 2 sheets, not 1"):
        row_strength(3.0, 3.1, 200.0, [Sheet(1.2, 400.0, 600.0, 240.0)], 20.0, 10.0, 1)


def test_a_unit_keeps_its_letters_in_the_list_of_materials() -> None:
    lines = [ShipmentLine("A", "a", 1, 2.0, "Steel 1100 MPa"), ShipmentLine("B", "b", 1, 2.0, "steel 1100 MPa"),
             ShipmentLine("C", "c", 1, 2.0, "AISI 4130")]  # fmt: skip
    told = shipment_totals(lines)
    assert told.materials == ("AISI 4130", "steel 1100 MPa")
    assert "1100 mpa" not in " ".join(told.working.cautions)


def test_a_material_with_its_class_is_not_said_to_have_no_strength() -> None:
    assert strength_words(Piece(material="steel 1100 MPa")) == "its own strength not measured"
    assert strength_words(Piece(material="steel")) == "strength not known"
    assert strength_words(Piece(material="steel 1100 MPa", strength_mpa=1050)) == "1,050 MPa"


def test_more_came_back_than_were_out() -> None:
    assert "9 came back and 7 were out: 2 are not ours." in balance([Group("A", "A", 7)], 9).sentence


def test_inch_rivets_are_read_in_inches(capsys: pytest.CaptureFixture[str]) -> None:
    """7.14375 mm is 9/32 in exactly (25.4 mm an inch by definition)."""
    assert main(["rivet", "length", "--grip", "2.0", "--diameter", "1/8", "--inch"]) == 0
    said = capsys.readouterr().out
    assert "9/32 in (7.14 mm): head" in said
    assert "7.14375" not in said
    assert "Order 9/32 in (7.14 mm):" in length_choice(2.0, 3.175, system="inch").sentence


@pytest.mark.parametrize(
    "call",
    ["rivet length --grip 900 --diameter 3", "rivet flush --head 6.3 --mouth 3 --hole 3.6 --shank 3 --angle 120 --seat-angle 120",
     "rivet joint --diameter 3 --sheet 1.2 --sheet 1.2 --material nonsense --pitch 20 --edge 10 --rivet-shear-mpa 200"],
)  # fmt: skip
def test_a_stop_stands_once(capsys: pytest.CaptureFixture[str], call: str) -> None:
    assert main(call.split()) == 1
    said = capsys.readouterr().err
    assert "Nothing was reckoned." in said
    assert ".. " not in said


def test_no_head_was_given() -> None:
    with pytest.raises(Refused, match="No kind of head was given: flush"):
        made_size(code="X", family="Y", form="", typed={}, measured_on="")


def test_no_family_is_called_by_what_it_lacks() -> None:
    assert not [row["standard"] for row in load_table("rivets_metric").rows if "not named" in row["standard"]]


@pytest.mark.parametrize("why", ["shipment S-1 has not brought its papers", "No bath until a hardness check."])
def test_why_it_is_held_back_ends_once(shop: Shop, monkeypatch: pytest.MonkeyPatch, why: str) -> None:
    part = make_part(shop, "0118", shop.shelf)
    monkeypatch.setattr("witnessmark.web.piece.quarantined", lambda _: {part.pk: why})
    assert f"In quarantine: {why.rstrip('.')}. It is not fitted" in words(client(shop.mechanic).get("/piece/0118/"))
