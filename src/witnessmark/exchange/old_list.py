"""A list somebody made before, under headings of his own: read from CSV, XLSX or ODS, its columns given a meaning, loaded.

What is read goes through the same door as every list: nothing is decided here but which column is which.
"""

import csv
import io
import re
import tempfile
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path

from witnessmark.exchange.load import LoadReport, load
from witnessmark.exchange.reading import MOST_BYTES, ListRefused, decode
from witnessmark.exchange.templates import FORM, Form
from witnessmark.records.models import Person, Piece

MOST_ROWS = 100_000
# Words that shops write over such columns, by the column they mean; common practice, no source.
MEANS = {
    "tag": ("tag", "tag no", "label", "anhänger", "etikett", "nr anhänger", "étiquette"),
    "part_no": ("part no", "part number", "part", "p/n", "pn", "teilenummer", "teil nr", "zeichnungsnummer", "numéro", "réf"),
    "name": ("name", "description", "designation", "item", "bezeichnung", "benennung", "désignation", "what"),
    "qty": ("qty", "quantity", "pcs", "count", "no off", "anzahl", "stück", "menge", "quantité", "nombre"),
    "count": ("count", "qty", "quantity", "pcs", "no off", "anzahl", "stück", "menge", "quantité"),
    "zone": ("zone", "area", "section", "bereich", "baugruppe", "secteur"),
    "side": ("side", "l/r", "lh/rh", "seite", "côté"),
    "where": ("where", "location", "shelf", "stored", "box", "lagerort", "regal", "ort", "emplacement"),
    "material": ("material", "alloy", "werkstoff", "matière", "matériau"),
    "mass_g": ("mass", "weight", "gewicht", "masse", "poids"),
    "finish": ("finish", "coating", "oberfläche", "finition"),
    "as_found": ("condition", "state", "zustand", "état"),
    "note": ("note", "notes", "remark", "remarks", "comment", "bemerkung", "anmerkung", "remarque"),
}  # fmt: skip


@dataclass(frozen=True)
class Table:
    """A sheet as it was read: its headings, the rows under them, and the row of the file on which each lies."""

    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...]
    sheets: tuple[str, ...]
    remark: str = ""


def read_table(path: Path, sheet: str = "") -> Table:
    """Read a file's sheet, or its first; the row with the most words among the first fifteen holds the headings.

    Raises ListRefused when the file cannot be read as a table; nothing was written.
    """
    data = path.read_bytes()
    if len(data) > MOST_BYTES:
        raise ListRefused(f"is larger than {MOST_BYTES // 1_000_000} MB. Split it")
    if path.suffix.lower() in (".xlsx", ".xlsm", ".ods", ".xls") or data.startswith(b"PK\x03\x04"):
        found, sheets = _sheet(data, sheet)
        remark = ""
    else:
        text, remark = decode(data)
        head = text[:20_000]
        separator = max((",", ";", "\t"), key=head.count)
        sheets = ()
        try:
            found = [list(row) for row in csv.reader(io.StringIO(text, newline=""), delimiter=separator)]
        except csv.Error as why:
            raise ListRefused(f"breaks off as a table ({why}). Save it anew as CSV") from None
    cells = [[_words(cell) for cell in row] for row in found]
    if len(cells) > MOST_ROWS:
        raise ListRefused(f"has {len(cells):,} rows; at most {MOST_ROWS:,} are read at once. Split it")
    filled = [sum(bool(re.search(r"[^\W\d]", cell)) for cell in row) for row in cells[:15]]
    if not filled or max(filled) == 0:
        raise ListRefused("holds no row of headings in its first fifteen. Write one over the columns")
    top = filled.index(max(filled))
    headings = _told_apart(cells[top])
    under = [(at + 1, row) for at, row in enumerate(cells) if at > top and any(row)]
    rows = tuple(tuple((*row, *[""] * len(headings))[: len(headings)]) for _, row in under)
    return Table(headings, rows, tuple(at for at, _ in under), sheets, remark)


def _sheet(data: bytes, name: str) -> tuple[list[list[object]], tuple[str, ...]]:
    from python_calamine import CalamineError, CalamineWorkbook, PasswordError, WorksheetNotFound

    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        names = tuple(book.sheet_names)
        if not names:
            raise ListRefused("holds no sheet")
        chosen = book.get_sheet_by_name(name or names[0])
        return [list(row) for row in chosen.to_python(skip_empty_area=False)], names
    except PasswordError:
        raise ListRefused("is locked with a password. Open it, save it without one") from None
    except WorksheetNotFound:
        raise ListRefused(f"has no sheet {name}. It has: {', '.join(names)}") from None
    except (CalamineError, ValueError, OSError) as why:
        raise ListRefused(f"is no spreadsheet that can be read, whatever its name says ({why}). Save it anew") from None


def _words(cell: object) -> str:
    """Write a cell as it would be typed: a whole number without its point, a day as a day."""
    if cell is None:
        return ""
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    if isinstance(cell, datetime):
        return cell.date().isoformat() if cell.time() == time() else cell.isoformat(" ")
    if isinstance(cell, date | time | timedelta):
        return str(cell)
    return " ".join(str(cell).split())


def _told_apart(headings: Sequence[str]) -> tuple[str, ...]:
    """Name every column, and number those that are called alike."""
    seen: dict[str, int] = {}
    made = []
    for at, heading in enumerate(headings):
        name = heading or f"column {at + 1}"
        seen[name] = seen.get(name, 0) + 1
        made.append(name if seen[name] == 1 else f"{name} ({seen[name]})")
    return tuple(made)


def _plain(words: str) -> str:
    bare = unicodedata.normalize("NFKD", words.casefold())
    return " ".join(re.sub(r"[^a-z0-9/]+", " ", "".join(c for c in bare if not unicodedata.combining(c))).split())


def guessed(headings: Sequence[str], form: Form) -> dict[str, str]:
    """Guess which heading means which column of a list; each is used once, and what is not known is left out."""
    means: dict[str, str] = {}
    for column in form.columns:
        for word in (column.name.replace("_", " "), *MEANS.get(column.name, ())):
            heading = next((h for h in headings if h not in means and _plain(h) == _plain(word)), None)
            if heading is not None:
                means[heading] = column.name
                break
    return means


def load_old_list(
    table: Table, form: Form, means: Mapping[str, str], always: Mapping[str, str], by: Person | None
) -> tuple[LoadReport, list[str]]:
    """Load the rows under the columns' meanings; rows are named by their place in the file that was read.

    `always` fills a column that the list does not have. Gives the report and what was repaired.

    Raises ListRefused when a column that every row needs has no meaning, and CannotLoad as every load does.
    """
    columns = [column.name for column in form.columns]
    wrong = [name for name in (*means.values(), *always) if name not in columns]
    if wrong:
        raise ListRefused(f"cannot mean {', '.join(wrong)}: {form.file} has {', '.join(columns)}")
    lacks = [c.name for c in form.columns if c.needed and c.name not in means.values() and c.name not in always]
    if lacks:
        raise ListRefused(f"has no column for {', '.join(lacks)}. Say which heading it is, or what it always is")
    at = {name: table.headings.index(heading) for heading, name in means.items()}
    tags = at.get("tag")
    repaired: list[str] = []
    padded = _padded([row[tags] for row in table.rows]) if tags is not None else {}
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(columns)
    # The loader counts lines, so every row goes onto the line that it had.
    line = 1
    for row, own in zip(table.rows, table.lines, strict=True):
        cells = {name: row[where] for name, where in at.items()}
        whole = padded.get(cells.get("tag", ""))
        if whole:
            repaired.append(
                f"Row {own}: tag {cells['tag']} is on record as {whole}; the spreadsheet dropped the noughts."
            )
            cells["tag"] = whole
        out.write("\r\n" * (own - line - 1) if own - line > 1 else "")
        writer.writerow([cells.get(name) or always.get(name, "") for name in columns])
        line = own
    with tempfile.TemporaryDirectory(prefix="witnessmark-list-") as folder:
        (Path(folder) / form.file).write_text(out.getvalue(), "utf-8", newline="")
        return load(Path(folder), by), repaired


def _padded(typed: Sequence[str]) -> dict[str, str]:
    """Tags that are on record with noughts before them, where what was typed is on none."""
    bare = {tag for tag in typed if tag.isascii() and tag.isdigit()}
    longer = {tag.zfill(width): tag for tag in bare for width in range(len(tag) + 1, 6)}
    known = set(Piece.objects.filter(tag__in=[*bare, *longer]).values_list("tag", flat=True))
    found: dict[str, str] = {}
    for whole in sorted(longer.keys() & known, reverse=True):
        if longer[whole] not in known:
            found[longer[whole]] = whole
    return found


def form_called(name: str) -> Form:
    """Give the form of a list. Raises ListRefused with the names there are."""
    if name not in FORM:
        raise ListRefused(f"cannot be read as {name}. There are: {', '.join(FORM)}")
    return FORM[name]
