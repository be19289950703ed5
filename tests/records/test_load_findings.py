"""Findings with kinds, figures, rings and questions come in by lists; loading twice changes nothing; bad cells are named."""

from pathlib import Path

import pytest
from PIL import Image

from tests.records.small_lists import write_lists
from witnessmark.exchange.load import LoadReport, load
from witnessmark.records.lookups.findings import finding_called
from witnessmark.records.models import (
    Aircraft,
    ChoiceFigure,
    EngineeringWord,
    Finding,
    FindingFigure,
    FindingRing,
    ShopHourSaid,
)

pytestmark = pytest.mark.django_db
FINDINGS = "finding,on,what,seen_on,by,state,kind,opened,figures,engineering\n"
GOOD = "F-1,0001,Pitted,2026-02-03,Ada,open,{kind},{opened},{figures},engineer: May it stay?\n"
PHOTOS = "file,subject,taken_on,by,what,ring\n"
FIGURES = "pit_depth_mm=0.3 ± 0.05 mm; thickness_mm=1.2 mm; work_hours=4"


def folder(path: Path, ring: str = "61; 44; 8; 12", subject: str = "F-1", **cells: str) -> Path:
    row = GOOD.format(**{"kind": "pitting", "opened": "yes", "figures": FIGURES, **cells})
    made = write_lists(path, findings=FINDINGS + row, photos=f"{PHOTOS}a.jpg,{subject},2026-02-03,Ada,Pitting,{ring}\n")
    (made / "photos").mkdir(exist_ok=True)
    Image.new("RGB", (60, 40), "#888").save(made / "photos" / "a.jpg")
    return made


def refusals(report: LoadReport) -> str:
    return " ".join(line.words for line in report.lines if line.state == "refused")


def test_all_of_it_is_taken_and_twice_changes_nothing(tmp_path: Path) -> None:
    lists = folder(tmp_path / "lists")
    assert refusals(load(lists)) == ""
    seen = finding_called(Aircraft.objects.get(), "F-1")
    assert seen is not None
    assert (seen.finding.kind, seen.finding.opened, seen.hours, seen.with_engineering) == ("pitting", True, 4.0, True)
    assert seen.engineering[0].from_whom == "engineer"
    assert seen.pictures[0].ellipse["cx"] == "61.00"
    assert seen.read["pit_depth_mm"].plus_minus == 0.05
    again = load(lists)
    assert again.counts["taken"] == 0
    assert (FindingFigure.objects.count(), FindingRing.objects.count(), EngineeringWord.objects.count()) == (3, 1, 1)


def test_a_figure_measured_anew_stands_beside_the_old_one(tmp_path: Path) -> None:
    load(folder(tmp_path / "lists"))
    load(folder(tmp_path / "lists", figures="pit_depth_mm=0.4 mm; thickness_mm=1.2 mm"))
    assert [f.typed for f in FindingFigure.objects.filter(what="pit_depth_mm")] == ["0.3 ± 0.05 mm", "0.4 mm"]


@pytest.mark.parametrize(
    ("cells", "why"),
    [
        ({"kind": "rust"}, "kind"),
        ({"opened": "perhaps"}, "opened"),
        ({"figures": "deep"}, "says no figure"),
        ({"figures": "pit_depth_mm=deep"}, "Depth of the deepest pit"),
        ({"figures": "pit_depth_mm=1.5 mm; thickness_mm=1.2 mm"}, "the finding is a hole"),
        ({"ring": "61; 44"}, "is no ring"),
        ({"ring": "161; 44; 8; 12"}, "does not lie on the picture"),
        ({"ring": "61; 44; 8; 12", "subject": "0001"}, "lies on a finding's picture"),
    ],
)
def test_a_bad_cell_is_refused_with_its_row(tmp_path: Path, cells: dict[str, str], why: str) -> None:
    report = load(folder(tmp_path / "lists", **cells))
    assert why in refusals(report)
    assert FindingRing.objects.count() == (0 if "ring" in cells else Finding.objects.filter(number="F-1").count())


def test_what_is_reckoned_of_a_choice_comes_in_by_a_list(tmp_path: Path) -> None:
    rows = (
        "piece,choice,what,typed\n0001,remake,hours,14\n0001,remake,money,2300 EUR\n0001,substitute,material,2024-T3\n"
    )
    lists = write_lists(tmp_path / "lists", choices=rows)
    assert refusals(load(lists)) == ""
    assert load(lists).counts["taken"] == 0
    assert [(f.kind, f.what, f.value) for f in ChoiceFigure.objects.all()] == [
        ("remake", "hours", 14.0),
        ("remake", "money", 2300.0),
        ("substitute", "material", None),
    ]


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ("9999,remake,hours,14", "No piece has the tag"),
        ("0001,weld,hours,14", "choice"),
        ("0001,scrap,hours,14", "is not reckoned for scrap"),
        ("0001,remake,money,2300", "2300 EUR"),
        ("0001,substitute,material,unobtainium", "No figures are held"),
    ],
)
def test_a_choice_that_cannot_be_read_is_refused_with_its_row(tmp_path: Path, row: str, why: str) -> None:
    report = load(write_lists(tmp_path / "lists", choices=f"piece,choice,what,typed\n{row}\n"))
    assert why in refusals(report)
    assert not ChoiceFigure.objects.exists()


AIRCRAFT = "aircraft,maker,type,works_number,year,arrived_on,today,shop,shop_hour,shop_hour_since\n"


def test_what_an_hour_costs_comes_in_with_the_aircraft(tmp_path: Path) -> None:
    lists = write_lists(tmp_path / "lists", aircraft=AIRCRAFT + "Testbird,,,,,2026-01-12,,Slip End,62 EUR,2026-01-01\n")
    assert refusals(load(lists)) == ""
    assert [str(row) for row in ShopHourSaid.objects.all()] == ["62.00 EUR from 2026-01-01"]
    load(lists)
    assert ShopHourSaid.objects.count() == 1


@pytest.mark.parametrize(
    ("hour", "since", "why"),
    [("62", "2026-01-01", "like 62 EUR"), ("62 EUR", "", "go together"), ("62 EUR", "spring", "day")],
)
def test_an_hour_that_cannot_be_read_is_refused_with_its_row(tmp_path: Path, hour: str, since: str, why: str) -> None:
    lists = write_lists(tmp_path / "lists", aircraft=AIRCRAFT + f"Testbird,,,,,2026-01-12,,Slip End,{hour},{since}\n")
    assert why in refusals(load(lists))
    assert not ShopHourSaid.objects.exists()
