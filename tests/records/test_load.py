"""Lists that are right, and every way in which a list can be wrong: a clear line each, the rest kept."""

import uuid
from pathlib import Path
from typing import Any

import pytest

from tests.records.shop import make_shop
from tests.records.small_lists import LISTS, write_lists
from witnessmark.exchange import load as loading
from witnessmark.exchange.lists import intake
from witnessmark.exchange.load import CannotLoad, LoadReport, load
from witnessmark.records.actions import custody, saying
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.models import (
    Act,
    Aircraft,
    Belongs,
    Decision,
    FastenerSize,
    Finding,
    HandJob,
    Holder,
    Holding,
    HoleFilled,
    HoleReading,
    Layer,
    Move,
    Person,
    Piece,
    Place,
    RouteTemplate,
    Row,
    Shipment,
    Step,
    Vendor,
    Zone,
)

pytestmark = pytest.mark.django_db


def refusals(report: LoadReport) -> list[str]:
    return [line.words for line in report.lines if line.state == "refused"]


def differences(report: LoadReport) -> list[str]:
    return [line.words for line in report.lines if line.state == "differs"]


def counts(report: LoadReport, file: str) -> dict[str, int]:
    (found,) = [outcome.counts for outcome in report.outcomes if outcome.file == f"{file}.csv"]
    return {state: count for state, count in found.items() if count}


def where(tag: str) -> list[tuple[str, int]]:
    found = Holding.objects.filter(piece__tag=tag, count__gt=0).order_by("holder__name")
    return list(found.values_list("holder__name", "count"))


def add(name: str, *rows: str) -> str:
    """One of the small lists with more rows."""
    return LISTS[name] + "".join(f"{row}\n" for row in rows)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write_lists(tmp_path / "lists")


def test_the_small_lists_are_taken(folder: Path) -> None:
    report = load(folder)
    assert [line.words for line in report.lines if line.state != "remark"] == []
    assert report.all_taken
    assert report.by == "Ada"
    assert {o.file for o in report.outcomes} == {f"{name}.csv" for name in LISTS}
    assert where("0001") == [("shelf A1", 1)]
    assert where("0005") == [("Plater Lane", 4)]
    assert where("0006") == [("Bo", 1)]
    assert where("B-001") == [("box 3", 8)]
    skin = Piece.objects.get(tag="0003")
    assert skin.holdings.get(count__gt=0).holder_id == Place.objects.get(mark="1-02", side="L").pk
    assert sorted(skin.zones.values_list("number", flat=True)) == ["100", "200"]
    assert skin.decisions.get().kind == "repair"
    assert skin.decisions.get().reason == "doubler"
    assert not Piece.objects.filter(part_no="1-03").exists()  # missing: a place without a piece
    assert Place.objects.get(mark="1-03").capacity == 1
    assert FastenerSize.objects.get(code="S-5/32").nominal_mm == pytest.approx(5 / 32 * 25.4)
    assert FastenerSize.objects.get(code="S-5/32").nominal_typed == "5/32"
    assert Layer.objects.get(row__place__mark="S-01", number=2).thickness_mm == pytest.approx(0.080 * 25.4)
    assert Row.objects.get(place__mark="S-01").pitch_mm == pytest.approx(0.75 * 25.4)
    assert {h.state for h in HoleFilled.objects.filter(hole__number__in=(10, 12))} == {"oversize", "open"}
    assert set(HoleReading.objects.values_list("what", "typed")) == {("hole", "No. 30"), ("edge", "7.2")}
    assert set(Belongs.objects.filter(piece__tag="B-001").values_list("place__side", "count")) == {("L", 4), ("R", 4)}
    done = Step.objects.filter(piece__tag="0002", done_act__isnull=False)
    assert list(done.values_list("number", flat=True)) == [1]
    assert Shipment.objects.get().lines.get().count_out == 4
    assert HandJob.objects.get(name="done").after == ["look"]
    assert Finding.objects.get(number="F-3").hole is not None
    assert Aircraft.objects.get().shop == "Test Shop"
    assert counts(report, "people") == {"taken": 4}
    assert check_ledger().balanced


def test_twice_changes_nothing(folder: Path) -> None:
    first = load(folder)
    before = (Act.objects.count(), Move.objects.count(), list(Piece.objects.values()), list(Place.objects.values()))
    again = load(folder)
    assert again.all_taken
    assert again.counts["same"] == sum(first.counts.values()) == sum(again.counts.values())
    assert (
        Act.objects.count(),
        Move.objects.count(),
        list(Piece.objects.values()),
        list(Place.objects.values()),
    ) == before


def test_a_new_description_is_taken_over(folder: Path) -> None:
    load(folder)
    write_lists(
        folder,
        zones="zone,name\n100,hull floor\n200,cabin\n",
        parts=LISTS["parts"].replace("Keel bracket", "Keel fork"),
    )
    report = load(folder)
    assert counts(report, "zones") == {"changed": 1, "same": 1}
    assert counts(report, "parts") == {"changed": 1, "same": 4}
    assert Zone.objects.get(number="100").name == "hull floor"
    fork = Piece.objects.get(tag="0001")
    assert fork.name == "Keel fork"
    assert "keel fork" in fork.words
    assert load(folder).counts["changed"] == 0
    write_lists(folder)  # and back again, and forth again: each is an act of its own
    assert load(folder).counts["changed"] == 2
    write_lists(folder, zones="zone,name\n100,hull floor\n200,cabin\n")
    assert load(folder).counts["changed"] == 1
    assert Zone.objects.get(number="100").name == "hull floor"


def test_counts_and_whereabouts_are_reported_never_written(folder: Path) -> None:
    load(folder)
    moves = Move.objects.count()
    write_lists(
        folder,
        parts=LISTS["parts"].replace("shelf A1", "shelf Z9").replace(",in place,", ",shelf A1,"),
        bags=LISTS["bags"].replace(",8,", ",9,").replace("box 3", "box 4"),
        seams=LISTS["seams"].replace(",6,20", ",7,20"),
        holes=LISTS["holes"].replace('"1-9, 11",riveted', '"1-9, 11",empty'),
        orders=LISTS["orders"].replace(",500,", ",600,"),
    )
    report = load(folder)
    told = "\n".join(differences(report))
    for word in (
        "shelf Z9",
        "shelf A1",
        "box 4",
        "9 in this list and 8",
        "7 in this list and 6",
        "empty in this list",
        "600",
    ):
        assert word in told
    assert all("The record stays." in line for line in differences(report))
    assert not report.all_taken
    assert refusals(report) == []
    assert Move.objects.count() == moves
    assert where("0001") == [("shelf A1", 1)]
    assert where("B-001") == [("box 3", 8)]
    assert Piece.objects.get(tag="B-001").count_off == 8
    assert Place.objects.get(mark="S-02").capacity == 6
    assert not HoleFilled.objects.filter(state="empty").exists()
    assert not Holder.objects.filter(name__in=("shelf Z9", "box 4")).exists()
    assert check_ledger().balanced


def test_what_people_did_since_stays(folder: Path) -> None:
    load(folder)
    piece, to = Piece.objects.get(tag="0003"), custody.holder("shelf", "rack 9")
    custody.take_off(by=Person.objects.get(name="Bo"), act_id=uuid.uuid4(), piece=piece, to=to)
    report = load(folder)
    (line,) = differences(report)
    assert line.startswith("parts.csv, row 3:")
    assert "rack 9" in line
    assert where("0003") == [("rack 9", 1)]


BAD_ROWS: list[tuple[str, str, tuple[str, ...]]] = [
    ("parts", "9-01,Fork,999,,,1,C,0900,,,,,,shelf A1,,", ("no zone '999'", "zones.csv")),
    ("parts", "9-01,Fork,100,,,1,C,0001,,,,,,shelf A1,,", ("Tag 0001", "row 2")),
    ("parts", "1-01,Fork,100,,,1,L,0900,,,,,,shelf A1,,", ("1-01 L", "row 2")),
    ("parts", "9-01,Fork,100,,,-1,C,0900,,,,,,shelf A1,,", ("qty is -1",)),
    ("parts", "9-01,Fork,100,,,1.5,C,0900,,,,,,shelf A1,,", ("qty is 1.5", "fraction")),
    ("parts", "9-01,Fork,100,,,123456789,C,0900,,,,,,shelf A1,,", ("qty", "Check it")),
    ("parts", "9-01,Fork,100,,,0,C,0900,,,,,,shelf A1,,", ("qty is 0",)),
    ("parts", "9-01,Fork,100,,,1,C,0900,,,,,,shelf A1; shelf A2,,", ("a piece is in one place",)),
    ("parts", "9-01,Fork,100,,,1,X,0900,,,,,,shelf A1,,", ("side is 'X'",)),
    ("parts", "9-01,Fork,100,,,1,LR,0900,,,,,,shelf A1,,", ("makes 2 pieces", "tag names 1")),
    ("parts", "9-01,Fork,100,,,1,C,0900,,,,no such,,shelf A1,,", ("no route 'no such'", "routes.csv")),
    ("parts", "9-01,Fork,100,,,1,C,0900,,,,fitting,9,shelf A1,,", ("step_done is 9", "3 steps")),
    ("parts", "9-01,Fork,100,,,1,C,0900,-3,,,,,shelf A1,,", ("mass_g",)),
    ("parts", "9-01,Fork,100,,900 bananas,1,C,0900,,,,,,shelf A1,,", ("strength_mpa",)),
    ("parts", "9-01,,100,,,1,C,0900,,,,,,shelf A1,,", ("says nothing in name",)),
    ("places", "9-02,L,999,Bolt,1,,,", ("no zone '999'",)),
    ("places", "9-02,L,100,Bolt,-2,,,", ("capacity is -2",)),
    ("places", "9-02,L,100,Bolt,1,,,guessed", ("known is 'guessed'", "measured")),
    ("places", "2-01,L,100,Bolt,4,,,", ("2-01 L", "row 2")),
    ("bags", "B-002,bolts,8,NOPE,,100,,box 3,,", ("no fastener 'NOPE'", "fasteners.csv")),
    ("bags", "B-001,bolts,8,,,100,,box 3,,", ("Tag B-001", "row 2")),
    ("bags", "0001,bolts,8,,,100,,box 3,,", ("Tag 0001",)),
    ("bags", "B-002,bolts,-8,,,100,,box 3,,", ("count is -8",)),
    ("bags", "B-002,bolts,\"2,5\",,,100,,box 3,,", ("count is 2,5", "fraction")),
    ("bags", "B-002,bolts,many,,,100,,box 3,,", ("count is 'many'",)),
    ("bags", "B-002,bolts,8,,,100,9-99 L:8,box 3,,", ("no place '9-99 L'",)),
    ("bags", "B-002,bolts,8,,,100,2-02:9,box 3,,", ("asks for 9",)),
    ("bags", "B-002,bolts,8,,,100,2-01 L:4,box 3,,", ("2-01 left",)),
    ("seams", "Seam,S-01,L,100,,,5,20,9,R-3,yes,", ("Row S-01", "row 2")),
    ("seams", "Seam,S-09,L,100,,,5,20,9,NOPE,yes,", ("no fastener 'NOPE'",)),
    ("seams", "Seam,S-09,LR,100,,,5,20,9,R-3,yes,", ("side is LR",)),
    ("seams", "Seam,S-09,L,100,,,5,20 gauge,9,R-3,yes,", ("pitch", "gauge")),
    ("seams", "Seam,S-09,L,100,,,5,20,9,R-3,perhaps,", ("looked_at is 'perhaps'", "under paint")),
    ("seams", "Seam,S-09,L,100,,,5.5,20,9,R-3,yes,", ("holes is 5.5",)),
    ("stacks", "S-99,1,Skin,,,1.2,", ("no row 'S-99'", "seams.csv")),
    ("stacks", "S-02,1,Skin,,,0,", ("thickness",)),
    ("stacks", "S-02,1,Skin,,,.032,", ("thickness", ".032 in")),
    ("holes", "S-02,1-9,riveted,,,,", ("holes 1 to 6",)),
    ("holes", "S-02,x,riveted,,,,", ("no hole",)),
    ("holes", "S-02,1,open,,,,", ("Say in note for what",)),
    ("holes", "S-02,1,glued,,,,", ("state is 'glued'",)),
    ("holes", "S-01,3,riveted,,,,", ("Hole 3 of row S-01", "row 2")),
    ("findings", "F-9,7777,Crack,2026-02-03,Ada,,open", ("'7777'",)),
    ("findings", "F-9,S-01:99,Crack,2026-02-03,Ada,,open", ("no hole 'S-01:99'",)),
    ("findings", "F-9,zone 999,Crack,2026-02-03,Ada,,open", ("no zone '999'",)),
    ("findings", "F-9,0001,Crack,2026-02-30,Ada,,open", ("no such day",)),
    ("findings", "F-9,0001,Crack,last week,Ada,,open", ("seen_on is 'last week'", "2026-05-12")),
    ("findings", "F-9,0001,Crack,02/13/2026,Ada,,open", ("no month 13", "day first")),
    ("findings", "F-9,0001,Crack,2026-02-03,Ada,,maybe", ("state is 'maybe'",)),
    ("vendors", "X,Xylo,,30,10,5", ("must rise",)),
    ("vendors", "X,Xylo,,soon,10,50", ("'soon', not a number",)),
    ("fasteners", "Z,rivet,7 furlongs per week,", ("diameter",)),
    ("fasteners", "Z,rivet,16 swg,", ("diameter", "gauge")),
    ("people", "Zed,captain,", ("role is 'captain'", "lead, mechanic")),
    ("routes", "fitting,2,Again,sheet metal,1,2,3", ("Step 2 of 'fitting'", "row 3")),
    ("jobs", "x,Do it,sheet metal,3,2,1,,,,,,", ("must rise",)),
    ("jobs", "x,Do it,sheet metal,1,2,3,bench 9,,,,,", ("no bench 'bench 9'",)),
    ("jobs", "x,Do it,sheet metal,1,2,3,,,,,,Nobody", ("nobody called 'Nobody'",)),
    ("shipments", "SH-2,NOPE,plate,2026-05-01,,,0001,", ("no vendor 'NOPE'",)),
    ("shipments", "SH-2,PL,plate,2026-05-01,,,0999,", ("no tag '0999'",)),
    ("shipments", "SH-2,PL,plate,2026-05-01,,2026-04-01,0001,", ("back_on",)),
    ("orders", "O-2,PL,Rivets,R-3,0,,,,", ("count is 0",)),
    ("orders", "O-2,PL,Rivets,NOPE,5,,,,", ("no fastener 'NOPE'",)),
    ("zones", "100,again", ("Zone 100", "row 2")),
]  # fmt: skip


@pytest.mark.parametrize(("name", "row", "words"), BAD_ROWS, ids=[f"{n}-{r[:40]}" for n, r, _ in BAD_ROWS])
def test_a_bad_row_is_refused_and_the_rest_is_kept(folder: Path, name: str, row: str, words: tuple[str, ...]) -> None:
    write_lists(folder, **{name: add(name, row)})
    report = load(folder)
    (line,) = refusals(report)
    number = LISTS[name].count("\n") + 1
    assert line.startswith(f"{name}.csv, row {number}: "), line
    for word in words:
        assert word in line
    assert line.endswith("This row was not taken; the others were kept.")
    assert counts(report, name) == {"refused": 1, **{k: v for k, v in counts(report, name).items() if k != "refused"}}
    assert sum(counts(report, name).values()) == number - 1
    assert report.counts["refused"] == 1
    assert not report.all_taken
    assert check_ledger().balanced


def test_a_tag_of_the_record_is_not_used_again(folder: Path) -> None:
    load(folder)
    write_lists(folder, parts=add("parts", "9-01,Fork,100,,,1,C,0003,,,,,,shelf A1,,"))
    (line,) = refusals(load(folder))  # in this file twice
    assert "Tag 0003" in line
    head = LISTS["parts"].split("\n", 1)[0]
    write_lists(folder, parts=f"{head}\n9-01,Fork,100,,,1,C,0003,,,,,,shelf A1,,\n")
    (line,) = refusals(load(folder))  # in the record
    assert "Tag 0003 hangs on Skin 1-02 in the record" in line
    write_lists(folder, parts=f"{head}\n1-02,Skin,100,,,1,L,0999,,,,,,in place,,\n")
    (line,) = refusals(load(folder))  # a place's part has another tag
    assert "0003" in line
    assert "0999" in line
    assert not Piece.objects.filter(tag="0999").exists()


def test_a_place_takes_no_more_than_it_holds(folder: Path) -> None:
    head = LISTS["bags"].split("\n", 1)[0]
    write_lists(
        folder, bags=f"{head}\nB-1,bolts,4,B-8,,100,2-01 L:4,in place,,\nB-2,bolts,4,B-8,,100,2-01 L:4,in place,,\n"
    )
    (line,) = refusals(load(folder))
    assert line.startswith("bags.csv, row 3:")
    assert "2-01 left" in line
    assert where("B-1") == [("2-01 left", 4)]
    assert not Piece.objects.filter(tag="B-2").exists()


def test_nothing_is_half_written_when_a_files_transaction_fails(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = saying.move

    def broken(act: Act, moves: Any) -> int:
        done = real(act, moves)
        if act.said["file"] == "parts.csv":
            raise Refused("The record refused this: the lamp went out. Nothing was changed.")
        return done

    monkeypatch.setattr(intake, "move", broken)
    report = load(folder)
    whole = [line for line in report.lines if line.line == 0 and line.state == "refused"]
    assert [line.file for line in whole] == ["parts.csv"]
    assert "the lamp went out" in whole[0].say
    assert "None of it was taken" in whole[0].say
    assert not Piece.objects.exclude(tag="B-001").exists()
    assert not Place.objects.filter(mark__startswith="1-").exists()
    assert not Holder.objects.filter(name="shelf A1").exists()
    assert not Decision.objects.exists()
    assert not Act.objects.filter(said__file="parts.csv").exists()
    assert Place.objects.filter(mark="2-01").count() == 2  # the other files were taken
    assert check_ledger().balanced
    monkeypatch.undo()
    assert load(folder).all_taken  # and the mended folder completes the record
    assert Piece.objects.filter(tag="0001").exists()
    assert check_ledger().balanced


def test_a_fault_of_the_program_leaves_nothing_of_its_file(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(act: Act, moves: Any) -> int:
        raise ZeroDivisionError

    monkeypatch.setattr(intake, "move", broken)
    with pytest.raises(ZeroDivisionError):
        load(folder)
    assert not Piece.objects.exists()
    assert not Act.objects.filter(said__file="parts.csv").exists()
    assert RouteTemplate.objects.count() == 1  # files before it stand whole


def test_each_file_is_one_act_and_what_says_nothing_new_is_none(folder: Path) -> None:
    report = load(folder)
    acts = {outcome.file: outcome.act_id for outcome in report.outcomes}
    assert set(Act.objects.values_list("pk", flat=True)) == set(acts.values())
    assert len(acts) == len(LISTS)
    write_lists(folder, zones=add("zones", "300,tail"))
    again = load(folder)
    assert [outcome.file for outcome in again.outcomes if outcome.act_id] == ["zones.csv"]
    assert set(Act.objects.values_list("verb", flat=True)) == {"load_lists"}


def test_who_may_load(folder: Path, tmp_path: Path) -> None:
    write_lists(folder, people="name,role\nBo,mechanic\n")
    with pytest.raises(CannotLoad, match="names no lead"):
        load(folder)
    assert not Person.objects.exists()
    assert not Act.objects.exists()
    shop = make_shop()
    with pytest.raises(CannotLoad, match="may read, not change"):
        load(folder, shop.owner)
    assert load(folder, shop.lead).by == "Lead"
    with pytest.raises(CannotLoad, match="no folder"):
        load(tmp_path / "nowhere")
    (tmp_path / "empty").mkdir()
    with pytest.raises(CannotLoad, match="no list"):
        load(tmp_path / "empty")


def test_without_an_aircraft_only_the_shop_is_taken(folder: Path) -> None:
    write_lists(folder, aircraft=None)
    report = load(folder)
    assert {line.file for line in report.lines if line.state == "refused"} >= {"zones.csv", "parts.csv"}
    assert all("aircraft.csv" in line for line in refusals(report))
    assert Vendor.objects.count() == 1
    assert not Place.objects.exists()


def test_progress_names_every_file(folder: Path) -> None:
    told: list[str] = []
    load(folder, progress=told.append)
    assert len(told) >= len(LISTS)
    assert "parts.csv" in " ".join(told)


def test_every_list_has_its_reader() -> None:
    from witnessmark.exchange.templates import FORMS

    assert set(loading.READERS) == {form.name for form in FORMS}
    assert len(FORMS) == 29
