"""A bake that is missing or not settled holds the packing back: asked of a named person, or refused where it is called out.

Outside: MIL-STD-1501F 5.2.6 (read): 23 h after chrome on steel of 180 ksi and over; ASTM B850-98(2009), table 1 (quoted): a
bake from 1000 MPa; bolts count as hard from 150 ksi, other parts from 180 ksi (scope of AMS2759/9D, read).
"""

import json
import uuid
from datetime import date

import pytest

from tests.records.shop import Shop, make_part, make_shop
from tests.support.pages import client, words
from tests.support.rows import make_steps
from witnessmark.calc.surface.instruction import CalledOutBy, bake_held, instruct
from witnessmark.cli.main import main
from witnessmark.records.actions.called_out import call_out
from witnessmark.records.actions.custody import send_out
from witnessmark.records.actions.leaving import Packed, say_nature
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.leaving import judge
from witnessmark.records.models import Act, CalledOut, Holding, Piece, Shipment, Step, TermTaken

pytestmark = pytest.mark.django_db
CHROME, B850 = "MIL-STD-1501F", "ASTM B850-98(2009)"
ASKED = "bake not called out"
DAY = date(2026, 5, 12)


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def fitting(shop: Shop, *steps: str, tag: str = "T1", mpa: float = 1379.0, name: str = "") -> Piece:
    part = make_part(shop, tag, shop.shelf)
    Piece.objects.filter(pk=part.pk).update(material="4340 steel", strength_mpa=mpa, **({"name": name} if name else {}))
    if steps:
        make_steps(part, *((step, "PL") for step in steps), ("put back", "sheet metal"))
    return Piece.objects.get(pk=part.pk)


def call(shop: Shop, piece: Piece, called: CalledOutBy, number: int = 1) -> None:
    step = Step.objects.select_related("piece__aircraft", "piece__size").get(piece=piece, number=number)
    call_out(by=shop.mechanic, act_id=uuid.uuid4(), step=step, called=called)


def send(shop: Shop, piece: Piece, process: str = "hard chrome", *terms: str) -> None:
    packed = Packed(shop.lead, "as the engineer wrote", tuple((piece.pk, rule, shop.lead) for rule in terms))
    send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process=process, pieces=[piece], number="S-1",
        sent_on=DAY, packed=packed,
    )  # fmt: skip


def bars(shop: Shop, piece: Piece, process: str = "hard chrome") -> list[tuple[str, bool]]:
    return [(bar.rule, bar.must_not) for bar in judge([piece], shop.vendor, process).known[0].bars]


def test_no_bake_named_asks_and_a_named_person_answers_for_it(shop: Shop) -> None:
    piece = fitting(shop, "hard chrome", "bake")
    with pytest.raises(
        Refused, match=r"No bake is called out for steel of 1379 MPa.*The design engineer's written word"
    ):
        send(shop, piece)
    assert not Shipment.objects.exists() and Holding.objects.get(piece=piece, count__gt=0).holder == shop.shelf
    send(shop, piece, "hard chrome", ASKED)
    assert (TermTaken.objects.get().rule, TermTaken.objects.get().by) == (ASKED, shop.lead)


def test_a_bake_that_is_called_out_and_follows_goes_unasked(shop: Shop) -> None:
    piece = fitting(shop, "hard chrome", "bake")
    call(shop, piece, CalledOutBy(CHROME))
    assert bars(shop, piece) == []
    send(shop, piece)
    assert not TermTaken.objects.exists()


def test_a_mandatory_bake_that_nobody_does_bars_it(shop: Shop) -> None:
    """At 1150 MPa no order rule asks a bake (180 ksi is 1241 MPa); B850 asks its own from 1000 MPa."""
    piece = fitting(shop, "cadmium plate", mpa=1150)
    call(shop, piece, CalledOutBy("QQ-P-416F", "II", "2", B850, section_mm=18))
    assert bars(shop, piece, "cadmium plate") == [("called-out bake missing", True)]
    with pytest.raises(Refused, match=r"must not go.*ASTM B850-98\(2009\) asks a bake after the plating"):
        send(shop, piece, "cadmium plate", ASKED)
    assert bars(shop, piece, "cadmium plate, bake") == []
    send(shop, piece, "cadmium plate, bake")


def test_a_bake_later_in_the_route_follows(shop: Shop) -> None:
    piece = fitting(shop, "cadmium plate", mpa=1150)
    Step.objects.filter(piece=piece, number=2).update(name="bake", who="HT")
    call(shop, piece, CalledOutBy("QQ-P-416F", "II", "2", B850, section_mm=18))
    assert bars(shop, piece, "cadmium plate") == []


def test_a_bake_hotter_than_the_part_may_see_bars_it_whoever_answers(shop: Shop) -> None:
    piece = fitting(shop, "hard chrome", "bake")
    call(shop, piece, CalledOutBy(CHROME))
    told = instruct(["hard chrome", "bake"], "4340 steel", 1379, CalledOutBy(CHROME, temper_c=150.0))
    assert "lose its temper" in bake_held(told, ["hard chrome", "bake"]).must_not
    CalledOut.objects.create(
        piece=piece,
        step_number=1,
        step_name="hard chrome",
        spec=CHROME,
        temper_c=150.0,
        act=Act.objects.latest("recorded_at"),
    )
    assert bars(shop, piece) == [("called-out bake missing", True)]
    with pytest.raises(Refused, match="lose its temper"):
        send(shop, piece, "hard chrome", ASKED)


def test_a_spring_is_asked_once_by_its_own_term_and_a_straightened_part_by_the_bakes(shop: Shop) -> None:
    spring = fitting(shop, "hard chrome", "bake", tag="T2")
    say_nature(by=shop.mechanic, act_id=uuid.uuid4(), piece=spring, trait="spring", holds=True)
    assert bars(shop, spring) == [("spring", False)]
    bent = fitting(shop, "cold straighten", "hard chrome", "bake", tag="T3", mpa=900)
    Step.objects.filter(piece=bent, number=1).update(who="sheet metal")
    assert (ASKED, False) in bars(shop, bent)


def test_soft_steel_and_other_work_are_not_held(shop: Shop) -> None:
    assert bars(shop, fitting(shop, "hard chrome", "bake", tag="T4", mpa=600)) == []
    assert bars(shop, fitting(shop, tag="T5"), "crack test") == []
    bolt = fitting(shop, tag="T6", mpa=1100, name="eye bolt")
    assert bars(shop, bolt, "cadmium plate") == [(ASKED, False)]
    assert bars(shop, fitting(shop, tag="T7", mpa=1100), "cadmium plate") == []


def test_what_nobody_knows_is_asked_by_its_own_term_alone(shop: Shop) -> None:
    piece = fitting(shop, tag="T8")
    Piece.objects.filter(pk=piece.pk).update(strength_mpa=None)
    assert bars(shop, Piece.objects.get(pk=piece.pk)) == [("steel of unknown strength", False)]
    Piece.objects.filter(pk=piece.pk).update(strength_mpa=1379, material="")
    assert bars(shop, Piece.objects.get(pk=piece.pk)) == [("material unknown", False)]


def test_the_packing_page_and_the_command_show_it(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    fitting(shop, "hard chrome", "bake")
    page = words(client(shop.lead).get("/pack/?vendor=PL&process=hard+chrome"))
    assert "No bake is called out for steel of 1379 MPa" in page and "The design engineer's written word" in page
    assert main(["ship", "PL", "hard chrome", "T1", "--json"]) == 0
    (piece,) = json.loads(capsys.readouterr().out)["pieces"]
    assert [term["rule"] for term in piece["terms"]] == [ASKED] and piece["terms"][0]["status"] == "quoted"
