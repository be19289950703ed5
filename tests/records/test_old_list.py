"""Lists under somebody's own headings: CSV, XLSX (ECMA-376) and ODS (ISO/IEC 26300), written here by hand part by part."""

import json
import zipfile
from collections.abc import Sequence
from pathlib import Path
from xml.sax.saxutils import escape

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.records.shop import Shop, make_bag, make_shop
from witnessmark.cli.main import main
from witnessmark.exchange.old_meanings import guessed
from witnessmark.exchange.old_table import read_table
from witnessmark.exchange.reading import ListRefused
from witnessmark.exchange.templates import FORM
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.models import Piece

pytestmark = pytest.mark.django_db

ROWS = (
    ("Our old list, summer", "", "", "", ""),
    ("", "", "", "", ""),
    ("Teilenummer", "Benennung", "Anzahl", "Anhänger", "Regal"),
    ("9-1-001", "Clamp", 1, "0801", "shelf A1"),
    ("", "", "", "", ""),
    ("9-1-002", "Bracket, long", 2, "0802", "shelf A2"),
)
ALWAYS = ["--always", "zone=100", "--always", "side=C"]


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def _xlsx(path: Path, rows: Sequence[Sequence[object]]) -> Path:
    def cell(value: object) -> str:
        if isinstance(value, int):
            return f"<c><v>{value}</v></c>"
        return f'<c t="inlineStr"><is><t>{escape(str(value))}</t></is></c>'

    main_ns = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
    r = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    pack = "http://schemas.openxmlformats.org/package/2006"
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml"
    body = "".join(f"<row>{''.join(map(cell, row))}</row>" for row in rows)
    with zipfile.ZipFile(path, "w") as out:
        out.writestr(
            "[Content_Types].xml",
            f'<Types xmlns="{pack}/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.'
            f'relationships+xml"/><Override PartName="/xl/workbook.xml" ContentType="{kind}.sheet.main+xml"/>'
            f'<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{kind}.worksheet+xml"/></Types>',
        )
        out.writestr(
            "_rels/.rels",
            f'<Relationships xmlns="{pack}/relationships"><Relationship Id="r1" Type="{r}/officeDocument" Target="xl/workbook.xml"/>'
            "</Relationships>",
        )
        out.writestr(
            "xl/workbook.xml",
            f'<workbook {main_ns} xmlns:r="{r}"><sheets><sheet name="Parts" sheetId="1" r:id="r1"/></sheets></workbook>',
        )
        out.writestr(
            "xl/_rels/workbook.xml.rels",
            f'<Relationships xmlns="{pack}/relationships"><Relationship Id="r1" Type="{r}/worksheet" Target="worksheets/sheet1.xml"/>'
            "</Relationships>",
        )
        out.writestr("xl/worksheets/sheet1.xml", f"<worksheet {main_ns}><sheetData>{body}</sheetData></worksheet>")
    return path


def _ods(path: Path, rows: Sequence[Sequence[object]]) -> Path:
    def cell(value: object) -> str:
        if isinstance(value, int):
            return f'<table:table-cell office:value-type="float" office:value="{value}"><text:p>{value}</text:p></table:table-cell>'
        return f'<table:table-cell office:value-type="string"><text:p>{escape(str(value))}</text:p></table:table-cell>'

    urn = "urn:oasis:names:tc:opendocument:xmlns"
    body = "".join(f"<table:table-row>{''.join(map(cell, row))}</table:table-row>" for row in rows)
    with zipfile.ZipFile(path, "w") as out:
        out.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        out.writestr(
            "META-INF/manifest.xml",
            f'<manifest:manifest xmlns:manifest="{urn}:manifest:1.0"><manifest:file-entry manifest:full-path="/" '
            'manifest:media-type="application/vnd.oasis.opendocument.spreadsheet"/></manifest:manifest>',
        )
        out.writestr(
            "content.xml",
            f'<office:document-content xmlns:office="{urn}:office:1.0" xmlns:table="{urn}:table:1.0" xmlns:text="{urn}:text:1.0">'
            f'<office:body><office:spreadsheet><table:table table:name="Parts">{body}</table:table></office:spreadsheet>'
            "</office:body></office:document-content>",
        )
    return path


def _csv(path: Path, rows: Sequence[Sequence[object]]) -> Path:
    path.write_text("\r\n".join(";".join(map(str, row)) for row in rows), "cp1252")
    return path


@pytest.mark.parametrize(("name", "write"), [("old.xlsx", _xlsx), ("old.ods", _ods), ("old.csv", _csv)])
def test_a_list_is_shown_then_taken_then_there(
    shop: Shop, tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, write: object
) -> None:
    path = write(tmp_path / name, ROWS)  # type: ignore[operator]
    before = Piece.objects.count()
    assert main(["load-list", str(path), "--kind", "parts", "--json"]) == 0
    shown = json.loads(capsys.readouterr().out)
    assert shown["means"] == {
        "Teilenummer": "part_no", "Benennung": "name", "Anzahl": "qty", "Anhänger": "tag", "Regal": "where"
    }  # fmt: skip
    assert shown["missing"] == ["zone", "side"] and shown["rows"] == 2
    assert Piece.objects.count() == before  # looking writes nothing
    assert main(["load-list", str(path), "--kind", "parts", *ALWAYS, "--yes", "--json"]) == 0, capsys.readouterr().out
    report = json.loads(capsys.readouterr().out)["report"]
    assert report["counts"]["taken"] == 2
    assert Piece.objects.get(tag="0802").name == "Bracket, long"
    assert main(["load-list", str(path), "--kind", "parts", *ALWAYS, "--yes", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["report"]["counts"]["taken"] == 0
    assert check_ledger().balanced


def test_a_refused_row_is_named_by_its_row_in_his_own_file(
    shop: Shop, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = _xlsx(tmp_path / "old.xlsx", [*ROWS, ("9-1-003", "Strap", "many", "0803", "shelf A1")])
    assert main(["load-list", str(path), "--kind", "parts", *ALWAYS, "--yes", "--json"]) == 1
    report = json.loads(capsys.readouterr().out)["report"]
    assert [line["row"] for line in report["lines"] if line["state"] == "refused"] == [7]
    assert report["counts"]["taken"] == 2


def test_noughts_that_a_spreadsheet_dropped_come_back(
    shop: Shop, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    make_bag(shop, "0042", shop.shelf, 8)
    path = _xlsx(tmp_path / "b.xlsx", [("tag", "what", "qty"), (42, "bolts", 8), (4711, "nuts", 3)])
    main(["load-list", str(path), "--kind", "bags", "--always", "zone=100", "--always", "where=A1", "--yes", "--json"])
    told = json.loads(capsys.readouterr().out)
    assert told["repaired"] == ["Row 2: tag 42 is on record as 0042; the spreadsheet dropped the noughts."]
    assert Piece.objects.filter(tag="4711").exists()
    assert not Piece.objects.filter(tag="42").exists()


def test_what_no_list_can_be_is_named(shop: Shop, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    whole = _xlsx(tmp_path / "whole.xlsx", ROWS).read_bytes()
    for name, data, why in (
        ("cut.xlsx", whole[:300], "no spreadsheet that can be read"),
        ("paper.xlsx", b"%PDF-1.7 no sheet", "no spreadsheet that can be read"),
        ("empty.csv", b"", "is empty"),
        ("numbers.csv", b"1,2\n3,4\n", "no row of headings"),
    ):
        (tmp_path / name).write_bytes(data)
        assert main(["load-list", str(tmp_path / name), "--kind", "parts"]) == 2, name
        said = capsys.readouterr().err
        assert why in said and "Nothing was written." in said
    assert main(["load-list", str(tmp_path / "none.csv"), "--kind", "parts"]) == 2
    assert main(["load-list", str(tmp_path / "whole.xlsx"), "--kind", "wishes"]) == 2
    assert main(["load-list", str(tmp_path / "whole.xlsx"), "--kind", "parts", "--sheet", "Bags"]) == 2
    assert "has no sheet Bags. It has: Parts" in capsys.readouterr().err


def test_two_headings_alike_are_told_apart(tmp_path: Path) -> None:
    table = read_table(_csv(tmp_path / "a.csv", [("note", "note", ""), ("a", "2", "3")]))
    assert table.headings == ("note", "note (2)", "column 3")
    assert guessed(table.headings, FORM["parts"]) == {"note": "note"}


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(data=st.binary(max_size=400), suffix=st.sampled_from([".csv", ".xlsx", ".ods"]))
def test_no_bytes_break_the_door(tmp_path: Path, data: bytes, suffix: str) -> None:
    path = tmp_path / f"any{suffix}"
    path.write_bytes(data)
    try:
        table = read_table(path)
    except ListRefused:
        return
    assert table.headings and all(len(row) == len(table.headings) for row in table.rows)
