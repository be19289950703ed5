"""A table somebody made before, as it lies in the file: CSV, XLSX, ODS, its headings found, its rows by their own numbers."""

import csv
import io
import re
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path

from witnessmark.exchange.reading import MOST_BYTES, ListRefused, decode

MOST_ROWS = 100_000
MOST_COLUMNS = 200
MOST_UNPACKED = 600_000_000
LOOK_FOR_HEADINGS = 15
# What stands in a second row of headings: the unit of a column, or nothing.
_UNIT = re.compile(r"[\[(]?(mm|cm|m|in|inch|inches|\"|ft|g|kg|lb|lbs|oz|pcs|pc|stk|stück|no|mpa|ksi|psi|n|h|hrs|hours|days|€|eur|usd|gbp|£|\$|%|°c|°f)\.?[\])]?", re.IGNORECASE)  # fmt: skip
# A cell that a spreadsheet would reckon when the file is opened; a number with its sign is none.
_FORMULA = re.compile(r"'*[=+\-@\t\r]")
_SIGNED = re.compile(r"[+-]?[0-9][0-9 .,()/-]*")


@dataclass(frozen=True)
class Table:
    """A sheet as it was read: its headings, the rows under them, and the row of the file on which each lies."""

    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...]
    sheets: tuple[str, ...]
    remark: str = ""
    heading_row: int = 1
    above: tuple[tuple[str, ...], ...] = ()

    def row_at(self, line: int) -> tuple[str, ...] | None:
        """The cells of the file's row of this number."""
        return dict(zip(self.lines, self.rows, strict=True)).get(line)


def read_table(path: Path, sheet: str = "", heading_row: int = 0) -> Table:
    """Read a file's sheet, or its first; see `read_bytes`."""
    return read_bytes(path.read_bytes(), path.name, sheet, heading_row)


def read_bytes(data: bytes, name: str, sheet: str = "", heading_row: int = 0) -> Table:
    """Read a table; its headings stand in the row that is named, else in the one with most words of the first fifteen.

    A second row of headings that holds units is read into the first; a row of group names above, where two columns are called
    alike. Merged cells say their words in every row and column that they cover.

    Raises ListRefused when the file cannot be read as a table; nothing was written.
    """
    if len(data) > MOST_BYTES:
        raise ListRefused(f"is larger than {MOST_BYTES // 1_000_000} MB. Split it")
    remarks: list[str] = []
    merged = 0
    suffix = name.lower().rpartition(".")[2]
    if suffix in ("xlsx", "xlsm", "ods", "xls") or data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        found, sheets, merged = _sheet(data, sheet)
        if suffix == "xlsx" and data.startswith(b"\xd0\xcf\x11\xe0"):
            remarks.append("It is an old .xls whatever its name says; it was read as one.")
    else:
        found, remark = _csv(data)
        sheets = ()
        remarks += [remark] if remark else []
    cells = [[_words(cell) for cell in row] for row in found]
    if len(cells) > MOST_ROWS + LOOK_FOR_HEADINGS:
        raise ListRefused(f"has {len(cells):,} rows; at most {MOST_ROWS:,} are read at once. Split it")
    return _under_headings(cells, sheets, heading_row, merged, remarks)


def _csv(data: bytes) -> tuple[list[list[object]], str]:
    text, remark = decode(data)
    head = text[:20_000]
    separator = max((",", ";", "\t"), key=head.count)
    try:
        rows: list[list[object]] = [list(row) for row in csv.reader(io.StringIO(text, newline=""), delimiter=separator)]
    except csv.Error:
        raise ListRefused(
            "breaks off as a table: a quotation mark never closes, or a cell holds more than 131,072 characters. "
            "Save it anew as CSV"
        ) from None
    return rows, remark


def _sheet(data: bytes, name: str) -> tuple[list[list[object]], tuple[str, ...], int]:
    from python_calamine import CalamineError, CalamineWorkbook, PasswordError, WorksheetNotFound

    locked = "is locked with a password. Open it, save it without one"
    if data.startswith(b"\xd0\xcf\x11\xe0") and "EncryptedPackage".encode("utf-16-le") in data:
        raise ListRefused(locked)
    _not_a_bomb(data)
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        names = tuple(book.sheet_names)
        if not names:
            raise ListRefused("holds no sheet")
        chosen = book.get_sheet_by_name(name or names[0])
        if chosen.total_height > MOST_ROWS + LOOK_FOR_HEADINGS:
            raise ListRefused(f"has {chosen.total_height:,} rows; at most {MOST_ROWS:,} are read at once. Split it")
        rows: list[list[object]] = [list(row) for row in chosen.to_python(skip_empty_area=False)]
        return rows, names, _spread(rows, chosen.merged_cell_ranges or [])
    except PasswordError:
        raise ListRefused(locked) from None
    except WorksheetNotFound:
        raise ListRefused(f"has no sheet {name}. It has: {', '.join(names)}") from None
    except (CalamineError, ValueError, OSError):
        raise ListRefused(
            "is no spreadsheet that can be read, whatever its name says: it is broken or of another kind. Save it anew"
        ) from None


def _not_a_bomb(data: bytes) -> None:
    """Refuse a file that would unpack to more than any list holds."""
    if not data.startswith(b"PK\x03\x04"):
        return
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            size = sum(entry.file_size for entry in packed.infolist())
    except (zipfile.BadZipFile, ValueError, NotImplementedError, OSError):
        return  # what reads spreadsheets says why it cannot
    if size > MOST_UNPACKED:
        raise ListRefused(f"unpacks to {size / 1e6:,.0f} MB; no list is so large. Save the sheet alone, as CSV")


def _spread(rows: list[list[object]], ranges: Sequence[tuple[tuple[int, int], tuple[int, int]]]) -> int:
    """Write the words of merged cells into each cell they cover; give how many there were."""
    spread = 0
    for (top, left), (bottom, right) in ranges:
        if top >= len(rows) or left >= len(rows[top]) or (bottom - top + 1) * (right - left + 1) > MOST_ROWS:
            continue
        value = rows[top][left]
        if value in ("", None):
            continue
        spread += 1
        for row in rows[top : bottom + 1]:
            for column in range(left, min(right + 1, len(row))):
                row[column] = value
    return spread


def _under_headings(
    cells: list[list[str]], sheets: tuple[str, ...], heading_row: int, merged: int, remarks: list[str]
) -> Table:
    filled = [len({c for c in row if re.search(r"[^\W\d_]", c)}) for row in cells[:LOOK_FOR_HEADINGS]]
    if heading_row:
        if not 1 <= heading_row <= len(cells) or not any(cells[heading_row - 1]):
            raise ListRefused(f"has no headings in row {heading_row}. Say another row")
        top = heading_row - 1
    elif not filled or max(filled) == 0:
        raise ListRefused("holds no row of headings in its first fifteen. Write one over the columns")
    else:
        top = filled.index(max(filled))
    names = list(cells[top])
    while names and not names[-1] and all(len(row) < len(names) or not row[len(names) - 1] for row in cells[top:]):
        names.pop()
    if len(names) > MOST_COLUMNS:
        raise ListRefused(f"has {len(names)} columns; at most {MOST_COLUMNS} are read. Take out what is not needed")
    first = top + 1
    if first < len(cells) and _is_second_row(cells[first], len(names)):
        units = cells[first]
        names = [f"{name} {units[at]}".strip() if at < len(units) else name for at, name in enumerate(names)]
        remarks.append(f"Rows {top + 1} and {top + 2} are read as headings together.")
        first += 1
    if top and len({n for n in names if n}) < len([n for n in names if n]):
        names = _with_groups(names, cells[top - 1])
    if merged:
        remarks.append(
            f"{merged} merged cell{' says its' if merged == 1 else 's say their'} words in every cell they cover."
        )
    headings = _told_apart(names)
    under = [(at + 1, row) for at, row in enumerate(cells) if at >= first and any(row)]
    rows = tuple(tuple((*row, *[""] * len(headings))[: len(headings)]) for _, row in under)
    above = tuple(tuple(row[: len(headings)]) for row in cells[:LOOK_FOR_HEADINGS])
    return Table(headings, rows, tuple(at for at, _ in under), sheets, " ".join(remarks), top + 1, above)


def _is_second_row(row: Sequence[str], width: int) -> bool:
    """Say whether a row holds units alone, at least one: a second row of headings."""
    words = [cell for cell in row[:width] if cell]
    return bool(words) and all(_UNIT.fullmatch(cell) for cell in words)


def _with_groups(names: Sequence[str], groups: Sequence[str]) -> list[str]:
    """Write the group's name before columns that are called alike; a group reaches to the next one."""
    made, group = [], ""
    for at, name in enumerate(names):
        group = groups[at] if at < len(groups) and groups[at] else group
        made.append(f"{group} {name}" if group and name and group != name and list(names).count(name) > 1 else name)
    return made


def _words(cell: object) -> str:
    """Write a cell as it would be typed: a whole number without its point, a day as a day, a guarded formula as its words."""
    if cell is None:
        return ""
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    if isinstance(cell, datetime):
        return cell.date().isoformat() if cell.time() == time() else cell.isoformat(" ")
    if isinstance(cell, date | time | timedelta):
        return str(cell)
    text = " ".join(str(cell).replace("\0", "").split())
    return text[1:] if text[:1] == "'" and _FORMULA.match(text[1:]) else text


def _told_apart(headings: Sequence[str]) -> tuple[str, ...]:
    """Name every column, and number those that are called alike."""
    taken: set[str] = set()
    made = []
    for at, heading in enumerate(headings):
        name = heading or f"column {at + 1}"
        number, once = 1, name
        while once in taken:
            number += 1
            once = f"{name} ({number})"
        taken.add(once)
        made.append(once)
    return tuple(made)


def guarded(cell: str) -> str:
    """A cell as it may be written into a CSV: what a spreadsheet would reckon stands behind an apostrophe."""
    return f"'{cell}" if _FORMULA.match(cell) and not _SIGNED.fullmatch(cell) else cell


def rows_with_why(table: Table, why: dict[int, str], heading: str = "why it was refused") -> bytes:
    """Write rows of a table as CSV under its own headings, with the reason in a last column."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow([*(guarded(h) for h in table.headings), _told_apart([*table.headings, heading])[-1]])
    for line, row in zip(table.lines, table.rows, strict=True):
        if line in why:
            writer.writerow([*(guarded(cell) for cell in row), guarded(f"Row {line}: {why[line]}")])
    return out.getvalue().encode("utf-8-sig")
