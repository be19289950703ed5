"""Files as shops have them: two rows of headings, merged cells, wrong encodings, locked, renamed, formulas, far too long."""

import csv
import io
import tracemalloc
import zipfile
from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.support.spreadsheets import locked_xlsx, xlsx
from witnessmark.exchange.old_table import MOST_ROWS, Table, guarded, read_bytes, read_table, rows_with_why
from witnessmark.exchange.reading import ListRefused


def _csv(rows: Sequence[Sequence[object]], encoding: str = "utf-8") -> bytes:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=";").writerows(rows)
    return out.getvalue().encode(encoding)


def test_a_second_row_of_units_is_read_into_the_headings(tmp_path: Path) -> None:
    table = read_table(xlsx(tmp_path / "a.xlsx", [("Part", "Length", "Mass"), ("", "mm", "[g]"), ("9-1", 12, 30)]))
    assert table.headings == ("Part", "Length mm", "Mass [g]")
    assert table.rows == (("9-1", "12", "30"),) and table.lines == (3,)
    assert "Rows 1 and 2 are read as headings together." in table.remark


def test_group_names_above_tell_columns_apart_that_are_called_alike(tmp_path: Path) -> None:
    rows = [("Part", "", "Drawing", ""), ("No", "Name", "No", "Sheet"), ("9-1", "Strap", "D7", 2)]
    table = read_table(xlsx(tmp_path / "a.xlsx", rows, merged=("A1:B1", "C1:D1")))
    assert table.headings == ("Part No", "Name", "Drawing No", "Sheet")


def test_merged_cells_say_their_words_in_every_row(tmp_path: Path) -> None:
    rows = [
        ("zone", "part", "name"),
        ("hull", "9-1", "Strap"),
        ("", "9-2", "Clip"),
        ("", "9-3", "Pin"),
        ("tail", "9-4", "Cap"),
    ]
    table = read_table(xlsx(tmp_path / "a.xlsx", rows, merged=("A2:A4",)))
    assert [row[0] for row in table.rows] == ["hull", "hull", "hull", "tail"]
    assert "1 merged cell says its words" in table.remark


def test_the_headings_may_be_said_to_stand_elsewhere() -> None:
    data = _csv(
        [("All that we have, by Tom, in the old hangar", "", ""), ("a", "b", "c"), ("Strap", "left wing", "box seven")]
    )
    assert read_bytes(data, "a.csv", heading_row=2).headings == ("a", "b", "c")
    with pytest.raises(ListRefused, match="no headings in row 9"):
        read_bytes(data, "a.csv", heading_row=9)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_accents_come_out_right_in_every_encoding_that_is_known(encoding: str) -> None:
    table = read_bytes(_csv([("Anhänger", "Benennung"), ("0801", "Flügelrippe")], encoding), "a.csv")
    assert table.headings[0] == "Anhänger" and table.rows[0][1] == "Flügelrippe"
    assert ("cp1252" in table.remark) == (encoding == "cp1252")


def test_a_formula_is_read_as_the_value_that_was_reckoned_last(tmp_path: Path) -> None:
    table = read_table(xlsx(tmp_path / "a.xlsx", [("part", "name"), ("9-1", "==CONCATENATE(A1)|Strap")]))
    assert table.rows == (("9-1", "Strap"),)


def test_what_cannot_be_read_says_why_in_one_line(tmp_path: Path) -> None:
    whole = xlsx(tmp_path / "whole.xlsx", [("part", "name"), ("9-1", "Strap")]).read_bytes()
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as out:
        for n in range(7):
            out.writestr(f"xl/worksheets/sheet{n}.xml", bytes(100_000_000))
    for name, data, why in (
        ("locked.xlsx", locked_xlsx(), "is locked with a password"),
        ("renamed.xlsx", bytes.fromhex("d0cf11e0a1b11ae1") + bytes(2000), "no spreadsheet that can be read"),
        ("cut.xlsx", whole[:400], "no spreadsheet that can be read"),
        ("cut.ods", whole[400:], "no spreadsheet that can be read"),
        ("bomb.xlsx", bomb.getvalue(), "unpacks to 700 MB"),
        ("empty.csv", b"\xef\xbb\xbf\r\n", "is empty"),
        ("picture.csv", b"\xff\xd8\xff\xe0" + bytes(100), "is a JPEG"),
        ("binary.csv", b"a;b\n\x00\x01;2", "holds bytes that no text has"),
        ("wide.csv", b";".join(b"c%d" % n for n in range(300)) + b"\n" + b"1;" * 299 + b"1\n", "has 300 columns"),
    ):
        with pytest.raises(ListRefused, match=why) as refused:
            read_bytes(data, name)
        assert "\n" not in str(refused.value) and len(str(refused.value)) < 250


def test_a_list_of_a_hundred_thousand_rows_is_read_and_one_more_is_not() -> None:
    rows = "".join(f"9-{n};Strap {n};{n % 7}\n" for n in range(MOST_ROWS))
    tracemalloc.start()
    table = read_bytes(f"part;name;qty\n{rows}".encode(), "long.csv")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert len(table.rows) == MOST_ROWS and table.lines[-1] == MOST_ROWS + 1
    assert peak < 400_000_000
    with pytest.raises(ListRefused, match="at most 100,000 are read at once"):
        read_bytes((f"part;name;qty\n{rows}" + "x;y;1\n" * 20).encode(), "long.csv")


def test_what_goes_out_is_never_reckoned_and_comes_back_as_it_was() -> None:
    cells = (
        '=HYPERLINK("http://x")',
        "+cmd|' /C calc'!A0",
        "@SUM(A1)",
        "-2+3",
        "-5",
        "+49 170 555 0111",
        "plain",
        "'=x",
        "",
    )
    table = Table(
        ("part", "=evil", "why it was refused"),
        tuple((c, "b", "c") for c in cells),
        tuple(range(2, 2 + len(cells))),
        (),
    )
    out = rows_with_why(table, dict.fromkeys(table.lines[:-1], "=no") | {table.lines[-1]: "empty"}).decode("utf-8-sig")
    read = list(csv.reader(io.StringIO(out)))
    assert read[0] == ["part", "'=evil", "why it was refused", "why it was refused (2)"]
    assert [row[0] for row in read[1:]] == [
        "'=HYPERLINK(\"http://x\")", "'+cmd|' /C calc'!A0", "'@SUM(A1)", "'-2+3", "-5", "+49 170 555 0111", "plain", "''=x", "",
    ]  # fmt: skip
    again = read_bytes(out.encode("utf-8-sig"), "again.csv")
    assert [row[0] for row in again.rows] == list(cells)
    assert again.headings[:2] == ("part", "=evil")


@given(cell=st.text(alphabet=st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=20))
def test_any_cell_goes_out_and_comes_back(cell: str) -> None:
    typed = " ".join(cell.split())
    out = guarded(typed)
    assert out[:1] not in ("=", "@", "\t", "\r")
    table = Table(("part name", "second"), ((typed, "x"),), (2,), ())
    again = read_bytes(rows_with_why(table, {2: "so"}), "again.csv")
    assert again.rows[0][0] == typed


CELL = st.one_of(
    st.text(max_size=12), st.integers(-10, 10**6).map(str),
    st.sampled_from(["=1+1", "#12", "12.05.2026", "L", '"', ";", "0801", "a\nb", "9-1-001"]),
)  # fmt: skip


@settings(max_examples=200, suppress_health_check=[HealthCheck.too_slow])
@given(
    rows=st.lists(st.lists(CELL, min_size=1, max_size=6), min_size=1, max_size=8),
    encoding=st.sampled_from(["utf-8", "utf-16", "cp1252"]),
    cut=st.integers(0, 40),
)
def test_any_table_is_read_whole_or_refused_in_a_sentence(rows: list[list[str]], encoding: str, cut: int) -> None:
    try:
        data = _csv(rows, encoding)
    except UnicodeEncodeError:
        return
    try:
        table = read_bytes(data[: len(data) - cut], "any.csv")
    except ListRefused:
        return
    assert len(set(table.headings)) == len(table.headings) and all(table.headings)
    assert all(len(row) == len(table.headings) for row in table.rows)
    assert list(table.lines) == sorted(set(table.lines)) and all(line > table.heading_row for line in table.lines)
