"""Paper, packing page and command say the same of what may leave, and which papers are wanted.

Outside: ASTM B850-98(2009), table 1 (quoted in the bake table): a bake from 1000 MPa; MIL-STD-870C 5.2 (read): the bake
certificate holds the clock; radium of luminous dials, and that a magnet does not part one steel from another: common
practice, from memory.
"""

import json
import uuid
from datetime import date

import pytest

from tests.records.shop import Shop, make_part, make_shop
from tests.support.pages import client, words
from tests.support.rows import make_steps
from witnessmark.calc.bags.solids import told_apart
from witnessmark.calc.surface.bake import asked_from_mpa
from witnessmark.cli.main import main
from witnessmark.papers.platers_sheet import gather, names
from witnessmark.records.actions.custody import send_out
from witnessmark.records.actions.leaving import Packed
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.certificates import papers
from witnessmark.records.lookups.leaving import judge
from witnessmark.records.lookups.packing import pack
from witnessmark.records.models import Act, Certificate, Piece, Shipment, ShipmentLine, Step

pytestmark = pytest.mark.django_db
UNKNOWN = "No acid and no plating until its strength is known."


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def fitting(shop: Shop, mpa: float | None, *steps: str, tag: str = "T1", name: str = "root fitting") -> Piece:
    piece = make_part(shop, tag, shop.shelf)
    Piece.objects.filter(pk=piece.pk).update(material="forged steel", strength_mpa=mpa, name=name, mass_g=400)
    if steps:
        make_steps(piece, *((step, "PL") for step in steps), ("put back", "sheet metal"))
        Step.objects.filter(piece=piece, number=1).update(caution=f"{UNKNOWN} Do not cut the wire.")
    return Piece.objects.get(pk=piece.pk)


def test_the_sheet_does_not_doubt_a_strength_that_it_prints(shop: Shop) -> None:
    known, unknown = fitting(shop, 1100, "plate", "bake"), fitting(shop, None, "plate", "bake", tag="T2")
    (sheet,) = gather(shop.aircraft, "PL").sheets
    caution = {line.tag: line.caution for line in sheet.lines}
    assert caution == {known.tag: "Do not cut the wire.", unknown.tag: f"{UNKNOWN} Do not cut the wire."}
    page = words(client(shop.lead).get("/piece/T1/"))
    assert "Do not cut the wire." in page and UNKNOWN not in page


def test_sheet_page_command_and_act_hold_the_same_piece_for_its_bake(
    shop: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    """At 1100 MPa B850 asks a bake (from 1000); the route has one and nobody called its specification out."""
    piece = fitting(shop, 1100, "plate", "bake")
    (sheet,) = gather(shop.aircraft, "PL").sheets
    assert "No bake is called out for steel of 1100 MPa" in sheet.only_so[0] + sheet.done_by[0].withheld
    assert [line.split(":")[0] for line in sheet.comes_back] == ["certificate of conformity", "bake certificate"]
    page = words(client(shop.lead).get("/pack/?vendor=PL&process=plate"))
    assert "No bake is called out for steel of 1100 MPa" in page and "Nothing that is known here" not in page
    assert main(["ship", "PL", "plate", "T1", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [term["rule"] for term in told["pieces"][0]["terms"]] == ["bake not called out"]
    assert [paper["kind"] for paper in told["papers"]] == ["conformity", "bake"]
    with pytest.raises(Refused, match="No bake is called out for steel of 1100 MPa"):
        send_out(
            by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="plate", pieces=[piece], number="S-1",
            sent_on=date(2026, 5, 12), packed=Packed(shop.lead),
        )  # fmt: skip
    term = ((piece.pk, "bake not called out", shop.lead),)
    send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="plate", pieces=[piece], number="S-1",
        sent_on=date(2026, 5, 12), packed=Packed(shop.lead, "", term),
    )  # fmt: skip
    assert sorted(Certificate.objects.values_list("kind", flat=True)) == ["bake", "conformity"]
    (left,) = gather(shop.aircraft, "S-1").sheets
    assert any(line.startswith("bake certificate") for line in left.comes_back)


def test_soft_steel_with_a_bake_by_habit_is_held_nowhere_and_still_brings_its_paper(shop: Shop) -> None:
    fitting(shop, asked_from_mpa() - 1, "plate", "bake")
    (sheet,) = gather(shop.aircraft, "PL").sheets
    assert sheet.only_so == () and sheet.done_by[0].withheld == ""
    assert any("none that was read asks one below 1000 MPa" in line for line in sheet.done_by[0].lines)
    judged = judge([Piece.objects.get(tag="T1")], shop.vendor, "plate")
    assert judged.terms == () and [paper.kind for paper in judged.papers] == ["conformity", "bake"]


def test_the_papers_of_what_left_before_go_by_the_same_lookup(shop: Shop) -> None:
    piece = fitting(shop, 1100, "plate", "bake")
    act = Act.objects.latest("recorded_at")
    shipment = Shipment.objects.create(
        number="S-9", vendor=shop.vendor, process="plate", sent_on=date(2026, 5, 12), act=act
    )
    ShipmentLine.objects.create(shipment=shipment, piece=piece, count_out=1)
    (seen,) = papers().not_asked
    assert [paper.kind for paper in seen.papers] == ["conformity", "bake"]


def test_a_luminous_dial_goes_into_no_bath_and_no_blast(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    fitting(shop, 600, "cadmium plate", tag="T3", name="Altimeter, luminous")
    fitting(shop, 600, "cadmium plate", tag="T4", name="clevis")
    seen = pack(shop.vendor, "cadmium plate", None, [])
    assert [bar.rule for bar in seen.judged.must_not] == ["radium"]
    assert seen.totals is not None and (seen.totals.count, seen.totals.mass_g) == (1, 400.0)
    assert "Left out of pieces, mass and price, for it stays here: T3." in seen.sentence
    page = words(client(shop.lead).get("/pack/?vendor=PL&process=cadmium+plate"))
    assert "Assume radium: do not open. Hand over to: licensed instrument shop" in page
    assert main(["ship", "PL", "cadmium plate", "T3"]) == 1
    said = capsys.readouterr().out
    assert "must not go: Assume radium" in said and "caution: Assume radium" in said
    (sheet,) = gather(shop.aircraft, "PL").sheets
    assert [line.tag for line in sheet.lines] == ["T4"] and sheet.stays[0].startswith("T3: Assume radium")
    assert ("PL", "Ready for Quillbrae plating: cadmium plate, 1 piece.") in [
        (code, said.replace(shop.vendor.name, "Quillbrae plating")) for code, said in names(shop.aircraft)
    ]
    for process, barred in (("glass bead blast", True), ("overhaul", False), ("paint", False)):
        judged = judge([Piece.objects.get(tag="T3")], shop.vendor, process)
        assert any(bar.rule == "radium" for bar in judged.must_not) is barred, process


def test_an_empty_process_is_named(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ship", "PL", " "]) == 2
    assert "does not say what he is to do" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("materials", "says", "not_said"),
    [
        (["4130 tube", "4340 steel", "forged steel", "steel"], "A magnet does not part 4130 tube", "parts"),
        (["dural", "steel"], "A magnet parts steel from dural.", "hardness"),
        (["brass", "dural"], "mass and size tell them", "hardness"),
        (["2024", "7075"], "hardness reading", "parts"),
        (["stainless steel", "steel"], "nothing sure of stainless steel", "parts"),
    ],
)
def test_a_magnet_is_advised_only_where_it_tells(materials: list[str], says: str, not_said: str) -> None:
    assert says in told_apart(materials) and not_said not in told_apart(materials)
