"""A list as people save it: whichever encoding, separator and spelling of the header their program chose."""

import codecs
import csv
import io
import re
from dataclasses import dataclass

from witnessmark.exchange.templates import Form

MOST_BYTES = 50_000_000
MOST_CELL = 5_000
MOST_LINES = 100
SEPARATORS = (",", ";", "\t")
# The first bytes of what is often saved, or renamed, under a wrong name.
KNOWN = (
    (b"PK\x03\x04", "a spreadsheet or zip file"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet or document"),
    (b"%PDF", "a PDF"),
    (b"\xff\xd8\xff", "a JPEG photograph"),
    (b"\x89PNG", "a PNG picture"),
    (b"GIF8", "a GIF picture"),
    (b"SQLite format 3", "a database"),
    (b"\x1f\x8b", "a packed file"),
    (b"{\\rtf", "a text document"),
    (b"<!DOCTYPE", "a web page"),
    (b"<html", "a web page"),
)


class ListRefused(Exception):
    """A whole list that cannot be read; the message says why and what to do."""


@dataclass(frozen=True)
class Row:
    """One row: the line it starts on, and every column of the form, empty where the list says nothing."""

    line: int
    cells: dict[str, str]


@dataclass(frozen=True)
class ListRead:
    """The rows of a list, what is amiss by line, and what to know about the whole file."""

    rows: tuple[Row, ...]
    bad: tuple[tuple[int, str], ...]
    remarks: tuple[str, ...]


def decode(data: bytes) -> tuple[str, str]:
    """Give the text and, where the encoding was guessed, a remark."""
    if len(data) > MOST_BYTES:
        raise ListRefused(f"is larger than {MOST_BYTES // 1_000_000} MB. Split it into several folders")
    if not data.strip(b"\x00\r\n\t \xef\xbb\xbf"):
        raise ListRefused("is empty. Write its header row, or delete the file")
    for start, what in KNOWN:
        if data.startswith(start):
            raise ListRefused(f"is {what}, not a list. Save it as CSV from the program that made it")
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        try:
            return data.decode("utf-16"), "The file is in UTF-16."
        except UnicodeDecodeError:
            raise ListRefused("is broken UTF-16. Save it as CSV UTF-8") from None
    if b"\x00" in data:
        raise ListRefused("holds bytes that no text has. Save it as CSV UTF-8")
    try:
        return data.decode("utf-8-sig"), ""
    except UnicodeDecodeError:
        pass
    try:
        return data.decode("cp1252"), (
            "The file is not in UTF-8; it was read as Windows western (cp1252). Look whether accents came out right."
        )
    except UnicodeDecodeError:
        raise ListRefused("is in an encoding that is not read here. Save it as CSV UTF-8") from None


def _plain(header: str) -> str:
    return re.sub(r"[\s_\-*]+", "_", header.strip().lower()).strip("_")


class _Feed:
    """Gives the lines of one row after the other; comments and empty lines count only between rows.

    A quotation mark that never closes would swallow the rest of the file: a row ends after some lines whatever it says.
    """

    def __init__(self, text: str) -> None:
        self.lines = io.StringIO(text, newline=None).readlines()
        self.at = 0
        self.start = 0

    def __iter__(self) -> "_Feed":
        return self

    def __next__(self) -> str:
        if self.at >= len(self.lines) or self.at - self.start >= MOST_LINES:
            raise StopIteration
        self.at += 1
        return self.lines[self.at - 1]

    def row(self) -> bool:
        """Go to where the next row starts; False at the end."""
        while self.at < len(self.lines):
            line = self.lines[self.at].strip()
            if line and not line.startswith("#"):
                self.start = self.at
                return True
            self.at += 1
        return False


def _header(line: str, form: Form) -> tuple[str, list[str]]:
    """Choose the separator by which the header names most columns."""
    known = {column.name for column in form.columns}
    tried = []
    for separator in SEPARATORS:
        cells = next(csv.reader([line], delimiter=separator), [])
        names = [_plain(cell) for cell in cells]
        tried.append((len(known & set(names)), separator, names))
    _, separator, names = max(tried, key=lambda one: one[0])
    return separator, names


def read_list(data: bytes, form: Form) -> ListRead:
    """Read a list of this form.

    Raises ListRefused where the file is no such list: then none of it is taken.
    """
    text, remark = decode(data)
    remarks = [remark] if remark else []
    feed = _Feed(text)
    if not feed.row():
        raise ListRefused("has no header row. `witnessmark new DIR` writes one")
    try:
        separator, names = _header(next(feed), form)
    except csv.Error:
        raise ListRefused("has a header row that cannot be read. `witnessmark new DIR` writes one") from None
    twice = {name for name in names if name and names.count(name) > 1}
    if twice:
        raise ListRefused(f"has the column {', '.join(sorted(twice))} twice. Delete one")
    lacking = [column.name for column in form.columns if column.needed and column.name not in names]
    if lacking:
        raise ListRefused(f"has no column {', '.join(lacking)}. Its first row names the columns; add what lacks")
    known = {column.name for column in form.columns}
    strange = [name for name in names if name and name not in known]
    if strange:
        remarks.append(f"Columns not known here, not read: {', '.join(strange)}.")
    rows, bad = _rows(feed, separator, names, form)
    return ListRead(tuple(rows), tuple(bad), tuple(remarks))


def _rows(feed: _Feed, separator: str, names: list[str], form: Form) -> tuple[list[Row], list[tuple[int, str]]]:
    rows: list[Row] = []
    bad: list[tuple[int, str]] = []
    empty = {column.name: "" for column in form.columns}
    needed = [column.name for column in form.columns if column.needed]
    wanted = [(at, name) for at, name in enumerate(names) if name in empty]
    reader = csv.reader(feed, delimiter=separator)
    while feed.row():
        line = feed.start + 1
        try:
            cells = next(reader)
        except (csv.Error, StopIteration):
            bad.append((line, "cannot be read as cells. Check its quotation marks"))
            feed.at, reader = line, csv.reader(feed, delimiter=separator)
            continue
        if feed.at - feed.start > 1 and sum(text.count('"') for text in feed.lines[feed.start : feed.at]) % 2:
            bad.append((line, "has a quotation mark that never closes. Close it, or write it twice"))
            feed.at, reader = line, csv.reader(feed, delimiter=separator)
            continue
        if not any(cell.strip() for cell in cells):
            continue
        values = empty | {name: cells[at].strip() for at, name in wanted if at < len(cells)}
        why = _amiss(cells, values, names, needed, separator)
        if why:
            bad.append((line, why))
        else:
            rows.append(Row(line, values))
    return rows, bad


def _amiss(cells: list[str], values: dict[str, str], names: list[str], needed: list[str], separator: str) -> str:
    """Say what is wrong with the shape of a row, or nothing."""
    if any(cell.strip() for cell in cells[len(names) :]):
        return (
            f"has {len(cells)} cells for {len(names)} columns. Put a text that holds '{separator}' in quotation marks"
        )
    if any(len(value) > MOST_CELL for value in values.values()):
        return f"has a cell of more than {MOST_CELL:,} letters. Shorten it, and check its quotation marks"
    lacking = [name for name in needed if not values[name]]
    return f"says nothing in {', '.join(lacking)}. Fill it in" if lacking else ""
