"""Lists as people save them, cells as people type them, and the empty lists that explain themselves."""

from datetime import date
from pathlib import Path

import pytest

from witnessmark.exchange import cells
from witnessmark.exchange.cells import Wrong
from witnessmark.exchange.reading import ListRefused, decode, read_list
from witnessmark.exchange.templates import FORM, FORMS, write_templates

ZONES = "zone,name\n100,Flügel\n200,tail\n"
BOTH = [{"zone": "100", "name": "Flügel"}, {"zone": "200", "name": "tail"}]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
def test_every_way_of_saving_gives_the_same_rows(encoding: str, separator: str, newline: str) -> None:
    read = read_list(ZONES.replace(",", separator).replace("\n", newline).encode(encoding), FORM["zones"])
    assert [row.cells for row in read.rows] == BOTH
    assert read.bad == ()
    assert bool(read.remarks) == (encoding in ("utf-16", "cp1252"))


def test_comments_empty_lines_and_other_headers() -> None:
    text = '# what, "this is\n\n Name * , ZONE,colour\n# between\nFlügel,100,red\n,,\n"a # in a cell\n# still the cell",200,\n'
    read = read_list(text.encode(), FORM["zones"])
    assert [(row.line, row.cells["zone"], row.cells["name"]) for row in read.rows] == [
        (5, "100", "Flügel"),
        (7, "200", "a # in a cell\n# still the cell"),
    ]
    assert read.remarks == ("Columns not known here, not read: colour.",)


def test_a_quotation_mark_that_never_closes_costs_its_own_row_alone() -> None:
    rows = "".join(f"{n},zone {n}\n" for n in range(300))
    read = read_list(f'zone,name\n1,3/4" plate\n2,"open\n{rows}'.encode(), FORM["zones"])
    assert [line for line, _ in read.bad] == [3]
    assert "never closes" in read.bad[0][1]
    assert len(read.rows) == 301


def test_rows_of_a_wrong_shape() -> None:
    read = read_list(b"zone,name\n100\n200,a,b\n300,c,,\n", FORM["zones"])
    assert [row.cells["zone"] for row in read.rows] == ["300"]
    assert [line for line, _ in read.bad] == [2, 3]
    assert "says nothing in name" in read.bad[0][1]
    assert "3 cells for 2 columns" in read.bad[1][1]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"\xef\xbb\xbf\n", "empty"),
        (b"PK\x03\x04...", "spreadsheet or zip"),
        (b"\xff\xd8\xff\xe0", "JPEG"),
        (b"zone,name\x00", "bytes that no text has"),
        (b"zone,name\n\x81\n", "encoding"),
        ("zone,name\n".encode("utf-16")[:-1], "broken UTF-16"),
    ],
)
def test_what_is_no_text_is_refused(data: bytes, words: str) -> None:
    with pytest.raises(ListRefused, match=words):
        decode(data)


def test_a_list_without_a_needed_column_names_it() -> None:
    with pytest.raises(ListRefused, match="no column name"):
        read_list(b"zone,nom\n100,a\n", FORM["zones"])
    with pytest.raises(ListRefused, match="zone twice"):
        read_list(b"zone,name,Zone\n100,a,b\n", FORM["zones"])


@pytest.mark.parametrize("text", ["2026-05-12", "12.05.2026", "12.5.2026", "12 May 2026", "12. may 2026", "2026/5/12"])
def test_days(text: str) -> None:
    assert cells.day(text, "seen_on") == (date(2026, 5, 12), "")


def test_a_day_that_could_be_read_in_two_ways_is_read_day_first_and_said() -> None:
    assert cells.day("03/04/2026", "seen_on") == (
        date(2026, 4, 3),
        "seen_on 03/04/2026 is read day first: 3 April 2026",
    )
    assert cells.day("13/04/2026", "seen_on") == (date(2026, 4, 13), "")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("05/13/2026", "write 2026-05-13"),
        ("30.02.2026", "no such day"),
        ("soon", "not a day"),
        ("1.1.0001", "the year"),
    ],
)
def test_days_refused(text: str, words: str) -> None:
    with pytest.raises(Wrong, match=words):
        cells.day(text, "seen_on")


@pytest.mark.parametrize(
    ("text", "words"),
    [("-1", "less than 1"), ("0", "less than 1"), ("2.5", "fraction"), ("2,5", "fraction"), ("x", "not a number"),
     ("1e3", "not a number"), ("100001", "more than"), ("9" * 400, "more than")],
)  # fmt: skip
def test_counts_refused(text: str, words: str) -> None:
    with pytest.raises(Wrong, match=words):
        cells.whole(text, "count")


def test_counts_and_figures() -> None:
    assert [cells.whole(text, "count") for text in ("8", " 8 ", "8.0", "8,00", "1 000")] == [8, 8, 8, 8, 1000]
    assert cells.number("7,5", "hours") == cells.number("7.5", "hours") == 7.5
    with pytest.raises(Wrong):
        cells.number("nan", "hours")


@pytest.mark.parametrize(
    ("text", "side"), [("L", "L"), ("left", "L"), (" R ", "R"), ("Centre", "C"), ("l/r", "LR"), ("both", "LR")]
)
def test_sides(text: str, side: str) -> None:
    assert cells.sides(text) == side


def test_sides_refused() -> None:
    with pytest.raises(Wrong, match="L, R, C or LR"):
        cells.sides("up")
    with pytest.raises(Wrong, match="one side"):
        cells.one_side("LR")


def test_empty_lists_explain_themselves_and_are_read(tmp_path: Path) -> None:
    written, kept = write_templates(tmp_path / "lists")
    assert len(written) == 29
    assert kept == []
    for form in FORMS:
        data = (tmp_path / "lists" / form.file).read_bytes()
        assert read_list(data, form).rows == ()
        assert all(f"# {column.name}" in data.decode() for column in form.columns)
        example = next(line for line in data.decode().splitlines() if line.startswith("# For example"))
        filled = data + example.split("): ", 1)[1].encode() + b"\n"
        (row,) = read_list(filled, form).rows
        assert row.cells == {column.name: column.example for column in form.columns}


def test_lists_that_are_there_stay_as_they_are(tmp_path: Path) -> None:
    (tmp_path / "zones.csv").write_text(ZONES)
    written, kept = write_templates(tmp_path)
    assert kept == ["zones.csv"]
    assert len(written) == 28
    assert (tmp_path / "zones.csv").read_text() == ZONES
