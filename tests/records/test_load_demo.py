"""The demo's lists come in through the door that every shop's lists use, whole and once."""

import shutil
from pathlib import Path

import pytest

import witnessmark.demo
from witnessmark.demo.photographs import draw_all
from witnessmark.exchange.load import LoadReport, load
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.models import (
    Act,
    Aircraft,
    Belongs,
    Decision,
    FastenerSize,
    Finding,
    HandJob,
    Holding,
    Hole,
    HoleFilled,
    HoleReading,
    Layer,
    Move,
    Order,
    Person,
    PhotoUse,
    Piece,
    PieceKind,
    Place,
    Row,
    Shipment,
    Step,
    TemplateStep,
    Vendor,
)

pytestmark = pytest.mark.django_db

LISTS = Path(witnessmark.demo.__file__).parent / "lists"
TABLES = (
    Act, Aircraft, Belongs, Decision, FastenerSize, Finding, HandJob, Hole, HoleFilled, HoleReading, Holding, Layer,
    Move, Order, Person, PhotoUse, Piece, Place, Row, Shipment, Step, TemplateStep, Vendor,
)  # fmt: skip


def standing(*tags: str) -> list[str]:
    """Where each of these pieces is."""
    found = Holding.objects.filter(piece__tag__in=tags, count__gt=0).order_by("piece__tag")
    return list(found.values_list("holder__name", flat=True))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The lists with every picture drawn beside them."""
    made = tmp_path_factory.mktemp("demo")
    shutil.copytree(LISTS, made, dirs_exist_ok=True)
    draw_all(LISTS, made / "photos")
    return made


def test_everything_is_taken_once(folder: Path) -> None:
    report = load(folder)
    told(report)
    assert Place.objects.count() >= 400
    assert Piece.objects.count() >= 250
    assert Row.objects.count() >= 60
    assert 3900 <= Hole.objects.count() <= 4200
    assert HoleFilled.objects.count() >= 3800
    assert Finding.objects.count() >= 40
    assert Vendor.objects.count() == 12
    assert Person.objects.filter(is_active=True).count() >= 6
    assert PhotoUse.objects.count() >= 100
    ledger = check_ledger()
    assert ledger.balanced, ledger.faults
    # Every piece lies somewhere, by one move each; the bucket came out of two bags, and its own move brought it here.
    assert ledger.moves == Piece.objects.exclude(kind="mixed").count() + 2 + 1

    the_words_of_the_lists()

    before = {table: list(table._default_manager.values()) for table in TABLES}
    again = load(folder)
    told(again)
    assert again.counts["same"] == sum(again.counts.values()) == sum(report.counts.values())
    for table, rows in before.items():
        assert list(table._default_manager.values()) == rows, table.__name__


def told(report: LoadReport) -> None:
    """Every row of every list is taken, without a word of refusal or difference."""
    assert [line.words for line in report.lines if line.state in ("refused", "differs")] == []
    assert len(report.outcomes) == 29
    assert report.all_taken
    assert report.by == "Brandt"


def the_words_of_the_lists() -> None:
    """Rows that need care come out as their words mean."""
    aircraft = Aircraft.objects.get()
    assert aircraft.today is not None
    assert aircraft.arrived_on is not None
    assert (aircraft.today - aircraft.arrived_on).days == 412
    assert aircraft.shop == "Slipway Lane Aero"

    decided = {d.piece.tag: d for d in Decision.objects.select_related("piece")}
    assert decided["0001"].kind == "repair"
    kinds = dict(Piece.objects.filter(tag__in=("0002", "0003")).values_list("tag", "note"))
    assert not {"0002", "0003"} & set(decided)  # blend+measure and splice (major) are no decision yet
    assert "blend+measure" in kinds["0002"]
    assert "splice (major)" in kinds["0003"]
    by_words = {(p.note, decided[p.tag].kind) for p in Piece.objects.exclude(tag=None) if p.tag in decided}
    assert by_words  # notes of decided pieces hold no decision any more
    assert not [note for note, _ in by_words if "To decide" in note]
    assert (
        Decision.objects.filter(kind="substitute").count() >= 8
    )  # five rows, LR twice, and `recast in Al (substitute)`
    assert decided["0041"].kind == "substitute"
    assert "recast in Al" in decided["0041"].reason
    assert decided["0131"].kind == "repair"  # weld repair (major)
    assert Decision.objects.filter(kind="scrap").exists()  # `scrap, remake`
    assert set(Decision.objects.values_list("by__name", flat=True)) == {"Brandt"}

    mixed = Piece.objects.get(tag="L-014")
    assert mixed.size is None
    assert mixed.count_off == 46
    assert mixed.belongs.count() == 46
    damper = Piece.objects.get(tag="0132")
    assert damper.kind == PieceKind.BAG
    assert damper.count_off == 4
    assert sum(h.count for h in damper.holdings.all()) == 4

    empty = Place.objects.get(mark="6-12-031", side="R")
    assert not empty.belongs.exists()
    assert not Holding.objects.filter(holder_id=empty.pk, count__gt=0).exists()

    assert standing("L-003", "L-005") == ["Quillbrae Plating Works"] * 2
    assert Holding.objects.get(piece__tag="0002", count__gt=0).holder.kind == "place"
    assert Holding.objects.get(piece__tag="0001", count__gt=0).holder.name == "shelf A1"

    skin = Piece.objects.get(tag="0001")
    steps = list(skin.steps.order_by("number").values_list("number", "done_act"))
    assert [number for number, done in steps if done] == [1, 2]

    hole = Finding.objects.get(number="F-44")
    assert hole.hole is not None
    assert (hole.hole.number, hole.hole.place.mark) == (43, "C2")
    reading = HoleReading.objects.get(hole=Hole.objects.get(place__mark="HB-02", number=32))
    assert reading.typed == "No. 31"
    assert reading.value_mm == pytest.approx(0.120 * 25.4)

    assert HandJob.objects.filter(craft="milestone", hours_most=0).exists()
    wants = Place.objects.get(mark="6-41-101")
    assert wants.wants_size is not None
    assert wants.wants_size.code == "VN20-M8x1"
    assert wants.parent_place is not None
    assert wants.parent_place.mark == "6-41-005"
    assert "left" in Piece.objects.get(tag="0004").words
    assert "hull bottom" in Piece.objects.get(tag="0004").words


def test_the_demo_needs_no_second_door(folder: Path) -> None:
    """Nothing but an act of loading brought anything in."""
    load(folder)
    assert set(Act.objects.values_list("verb", flat=True)) == {"load_lists"}
    assert Act.objects.count() == 29
    moves = Move.objects.exclude(to_piece__kind="mixed")
    assert set(moves.values_list("from_holder__kind", flat=True)) == {"origin"}
    assert set(Move.objects.filter(to_piece__kind="mixed").values_list("from_piece__tag", flat=True)) == {
        "L-014",
        "L-017",
        "M-S-028",
    }
