"""Lists as programs save them, files that are no lists, empty lists, and the commands."""

import io
import json
import zipfile
from datetime import date
from pathlib import Path

import pytest
from PIL import Image

from tests.records.small_lists import LISTS, write_lists
from tests.records.test_load import counts, refusals
from witnessmark.cli.main import main
from witnessmark.exchange.load import CannotLoad, LoadReport, load
from witnessmark.exchange.templates import FORMS, write_templates
from witnessmark.records.lookups.leaving import tariff
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.models import Finding, Photo, PhotoUse, Piece, Place, Row, Vendor, VendorPrice, Zone

pytestmark = pytest.mark.django_db


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write_lists(tmp_path / "lists")


ZONES = "zone,name\n100,Rumpfböden – hinten\n200,cabin\n"


@pytest.mark.parametrize(
    ("data", "remark"),
    [
        (ZONES.encode("utf-8"), ""),
        (ZONES.encode("utf-8-sig"), ""),
        (ZONES.encode("utf-16"), "UTF-16"),
        (b"\xfe\xff" + ZONES.encode("utf-16-be"), "UTF-16"),
        (ZONES.encode("cp1252"), "cp1252"),
        (ZONES.replace(",", ";").encode(), ""),
        (ZONES.replace(",", "\t").encode(), ""),
        (ZONES.replace("\n", "\r\n").encode(), ""),
        (ZONES.replace("\n", "\r").encode(), ""),
        (ZONES.replace("zone,name", " Zone , NAME ").encode(), ""),
        (("# a comment, with commas\n\n" + ZONES.replace("\n200", "\n\n,,\n# 300,none\n200")).encode(), ""),
        (ZONES.replace("zone,name", "zone,name,colour").replace("hinten", "hinten,red").encode(), "colour"),
        (ZONES.replace("200,cabin", '200,"cabin"').encode(), ""),
    ],
)
def test_a_list_is_read_as_it_was_saved(folder: Path, data: bytes, remark: str) -> None:
    (folder / "zones.csv").write_bytes(data)
    report = load(folder)
    assert refusals(report) == []
    assert dict(Zone.objects.values_list("number", "name")) == {"100": "Rumpfböden – hinten", "200": "cabin"}
    told = [line.say for line in report.lines if line.file == "zones.csv"]
    assert len(told) == (1 if remark else 0)
    assert not remark or remark in told[0]


def test_semicolons_and_decimal_commas(folder: Path) -> None:
    vendors = "code;name;least_days;likely_days;most_days\nPL;Plater Lane;5;10,5;30\n"
    (folder / "vendors.csv").write_text(vendors, encoding="utf-8")
    stacks = "row;layer;name;thickness\nS-01;1;Skin;1,2\nS-01;2;Keel;2,0 mm\n"
    (folder / "stacks.csv").write_text(stacks, encoding="utf-8")
    report = load(folder)
    assert refusals(report) == []
    assert Vendor.objects.get().likely_days == 10.5
    assert [layer.thickness_mm for layer in Row.objects.get(place__mark="S-01").layers.all()] == [1.2, 2.0]


PRICED = "code,name,least_days,likely_days,most_days,price_least,price_per_kg,currency,price_said_on\n"


def priced(folder: Path, cells: str) -> LoadReport:
    (folder / "vendors.csv").write_text(f"{PRICED}PL,Plater Lane,5,10,30,{cells}\n", encoding="utf-8")
    return load(folder)


def test_a_vendors_price_is_kept_and_a_newer_one_stands_beside_it(folder: Path) -> None:
    assert refusals(priced(folder, "60,12.50,eur,2026-01-15")) == []
    vendor = Vendor.objects.get()
    first = tariff(vendor, "Zinc plate")
    assert first is not None
    assert (str(first.least_charge), str(first.per_kg), first.currency) == ("60.00", "12.50", "EUR")
    priced(folder, "60,12.50,EUR,2026-02-20")  # the same figures are no new price
    assert VendorPrice.objects.count() == 1
    priced(folder, "65,12.50,EUR,2026-03-01")
    newest = tariff(vendor, "Zinc plate")
    assert newest is not None
    assert (VendorPrice.objects.count(), str(newest.least_charge)) == (2, "65.00")
    report = priced(folder, "70,12.50,EUR,2026-02-01")  # said before what the record has
    assert any(line.state == "differs" and "The record stays" in line.say for line in report.lines)
    assert VendorPrice.objects.count() == 2
    priced(folder, ",,,")  # an empty cell says nothing
    assert VendorPrice.objects.count() == 2


@pytest.mark.parametrize(
    ("cells", "why"),
    [
        ("60,12.50,,2026-01-15", "three letters"),
        ("60,12.50,EUR,", "price_said_on is empty"),
        ("dear,,EUR,2026-01-15", "not a number"),
        ("-1,,EUR,2026-01-15", "lies between"),
        ("0,0,EUR,2026-01-15", "nought"),
        (",,EUR,", "no price"),
    ],
)
def test_a_price_badly_written_is_refused_with_its_row(folder: Path, cells: str, why: str) -> None:
    report = priced(folder, cells)
    assert any(why in say for say in refusals(report))
    assert not VendorPrice.objects.exists()
    assert not Vendor.objects.exists()


def _zip() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        made.writestr("xl/workbook.xml", "<x/>")
    return out.getvalue()


def _jpeg() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (40, 30), "#888").save(out, "JPEG")
    return out.getvalue()


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"\n\n  \n", "empty"),
        (b"# only a comment\n", "no header row"),
        (_zip(), "spreadsheet or zip"),
        (b"%PDF-1.7 ...", "a PDF"),
        (_jpeg(), "a JPEG"),
        (b"zone,name\n100,a\x00b\n", "bytes that no text has"),
        (b"zone,name\n100,a\x81b\n", "encoding"),
        (b"row;layer;name\nS-01;1;Skin\n", "no column thickness"),
        (b"zone,name,name\n100,a,b\n", "twice"),
        (b"\xff\xfez\x00\n\x00", "no column row"),
        (b"\xff\xfez", "UTF-16"),
    ],
)
def test_a_file_that_is_not_what_its_name_says(folder: Path, data: bytes, words: str) -> None:
    (folder / "stacks.csv").write_bytes(data.replace(b"zone,name", b"row,layer,name,thickness"))
    (line,) = refusals(load(folder))
    assert line.startswith("stacks.csv: The file ")
    assert words in line
    assert line.endswith("None of it was taken; the other files were kept.")
    assert Place.objects.filter(mark="S-01").exists()
    assert "\n" not in line


def test_a_row_that_cannot_be_read_is_one_line(folder: Path) -> None:
    text = 'zone,name\n100,hull, bottom\n200,cabin\n300,"tail\n' + "x" * 200 + '"\n400,' + "y" * 300 + "\n"
    (folder / "zones.csv").write_text(text, encoding="utf-8")
    report = load(folder)
    assert counts(report, "zones") == {"taken": 1, "refused": 3}
    rows = [line.line for line in report.lines if line.file == "zones.csv"]
    assert rows == [2, 4, 6]  # the third of them goes over two lines and is called by its first
    assert dict(Zone.objects.values_list("number", "name")) == {"200": "cabin"}


def test_a_cell_of_several_lines_is_told_in_one(folder: Path) -> None:
    write_lists(
        folder,
        zones="zone,name\n100,hull\n200,cabin\n",
        findings=LISTS["findings"] + 'F-9,0001,Crack,"last\nweek",Ada,,open\n',
    )
    (line,) = refusals(load(folder))
    assert line.startswith("findings.csv, row 6: seen_on is 'last week'")


@pytest.mark.parametrize(
    ("typed", "read", "remark"),
    [
        ("2026-05-12", date(2026, 5, 12), ""),
        ("12.05.2026", date(2026, 5, 12), ""),
        ("27/05/2026", date(2026, 5, 27), ""),
        ("12 May 2026", date(2026, 5, 12), ""),
        ("5 Sept. 2026", date(2026, 9, 5), ""),
        ("03/04/2026", date(2026, 4, 3), "read day first: 3 April 2026"),
    ],
)
def test_days_as_people_write_them(folder: Path, typed: str, read: date, remark: str) -> None:
    write_lists(folder, findings=LISTS["findings"].replace("0001,Pitted,2026-02-03", f"0001,Pitted,{typed}"))
    report = load(folder)
    assert refusals(report) == []
    assert Finding.objects.get(number="F-1").seen_on == read
    told = [line.words for line in report.lines if line.file == "findings.csv"]
    assert [remark in line for line in told] == ([True] if remark else [])


def test_photographs_are_kept_with_what_they_show(folder: Path) -> None:
    (folder / "photos").mkdir()
    (folder / "photos" / "keel.jpg").write_bytes(_jpeg())
    (folder / "photos" / "none.jpg").write_bytes(b"no picture at all")
    rows = ("keel.jpg,0001,2026-02-03,Ada,Before", "keel.jpg,1-03 R,,,", "keel.jpg,F-1,,,", "keel.jpg,zone 100,,,",
            "none.jpg,0001,,,", "gone.jpg,0001,,,", "../lists/zones.csv,0001,,,", "keel.jpg,9999,,,")  # fmt: skip
    write_lists(folder, photos="file,subject,taken_on,by,what\n" + "\n".join(rows) + "\n")
    report = load(folder)
    assert counts(report, "photos") == {"taken": 4, "refused": 4}
    said = refusals(report)
    assert [int(line.split("row ")[1].split(":")[0]) for line in said] == [6, 7, 8, 9]
    assert "gone.jpg" in said[1]
    assert "Write the name alone" in said[2]
    assert Photo.objects.count() == 1
    assert Photo.objects.get().taken_at is not None
    shown = PhotoUse.objects.order_by("id").values_list("piece__tag", "place__mark", "finding__number", "zone__number")
    assert list(shown) == [("0001", None, None, None), (None, "1-03", None, None), (None, None, "F-1", None),
                           (None, None, None, "100")]  # fmt: skip
    assert counts(load(folder), "photos") == {"same": 4, "refused": 4}
    assert PhotoUse.objects.count() == 4


def test_empty_lists_explain_themselves_and_load(tmp_path: Path) -> None:
    folder = tmp_path / "new"
    written, kept = write_templates(folder)
    assert sorted(written) == sorted(form.file for form in FORMS)
    assert kept == []
    (folder / "zones.csv").write_text("mine\n", encoding="utf-8")
    written, kept = write_templates(folder)
    assert written == []
    assert len(kept) == 29
    assert (folder / "zones.csv").read_text(encoding="utf-8") == "mine\n"  # never written over
    for form in FORMS:
        if form.name == "zones":
            continue
        text = (folder / form.file).read_text(encoding="utf-8")
        *comments, header = text.splitlines()
        assert all(line.startswith("#") for line in comments)
        assert header == ",".join(column.name for column in form.columns)
        assert all(any(f"# {column.name}" in line for line in comments) for column in form.columns)
    (folder / "zones.csv").unlink()
    write_templates(folder)
    with pytest.raises(CannotLoad, match="names no lead"):
        load(folder)
    (folder / "people.csv").write_text("name,role\nAda,lead\n", encoding="utf-8")
    (folder / "aircraft.csv").write_text("aircraft\nTestbird\n", encoding="utf-8")
    assert load(folder).all_taken


def test_the_command_says_what_came_of_it(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["load", str(folder)]) == 0
    out = capsys.readouterr().out
    assert "parts.csv" in out
    assert "5 taken" in out
    assert main(["load", str(folder), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["counts"]["taken"] == 0
    assert told["by"] == "Ada"
    assert {one["file"] for one in told["files"]} == {f"{name}.csv" for name in LISTS}
    write_lists(folder, zones=LISTS["zones"] + "100,again\n")
    assert main(["load", str(folder), "--json", "--as", "bo"]) == 1
    told = json.loads(capsys.readouterr().out)
    (line,) = [one for one in told["lines"] if one["state"] == "refused"]
    assert (line["file"], line["row"]) == ("zones.csv", 4)
    assert main(["load", str(folder), "--as", "Nobody"]) == 2
    assert main(["load", str(folder), "--as", "Owen"]) == 2
    assert main(["load", str(folder / "nowhere")]) == 2
    said = capsys.readouterr().err.strip().splitlines()
    assert len(said) == 3
    assert Piece.objects.count() == 6
    assert check_ledger().balanced


def test_new_writes_and_keeps(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["new", str(tmp_path / "a"), "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["written"]) == 29
    (tmp_path / "a" / "parts.csv").unlink()
    assert main(["new", str(tmp_path / "a"), "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert told["written"] == ["parts.csv"]
    assert len(told["kept"]) == 28
