"""A list somebody made before, loaded under the meanings that its columns were given.

What is read goes through the same door as every list: nothing is decided here but which column is which, and what is the
same in every row.
"""

import csv
import io
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from witnessmark.exchange.listfile import Outcome
from witnessmark.exchange.load import WITHOUT_AIRCRAFT, LoadReport, load
from witnessmark.exchange.old_table import Table
from witnessmark.exchange.reading import ListRefused
from witnessmark.exchange.templates import FORM, Form
from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.models import Person, Piece, Zone

# What is taken where every row needs it and the list does not say it: an answer that can be mended later.
STANDS_FOR = {"side": "C", "zone": "not said", "where": "shelf not said", "least_days": "0", "likely_days": "0", "most_days": "0"}  # fmt: skip

# What an empty cell of "where" is taken for: the record's own word for a place that nobody has said.
PLACE_NOT_KNOWN = "not said yet"


@dataclass(frozen=True)
class Beside:
    """What has to be there before a list is taken: an aircraft, zones that the record does not know."""

    aircraft: str = ""
    zones: tuple[str, ...] = ()


def check_meanings(form: Form, means: Mapping[str, str], always: Mapping[str, str]) -> None:
    """Refuse meanings that the list cannot have, or that lack what every row needs.

    Raises ListRefused with what to say.
    """
    columns = [column.name for column in form.columns]
    wrong = [name for name in (*means.values(), *always) if name not in columns]
    if wrong:
        raise ListRefused(f"cannot mean {', '.join(wrong)}: {form.file} has {', '.join(columns)}")
    twice = sorted({name for name in means.values() if list(means.values()).count(name) > 1})
    if twice:
        which = "; ".join(f"{name} is {' and '.join(h for h, c in means.items() if c == name)}" for name in twice)
        raise ListRefused(f"has two columns that mean the same ({which}). Leave one out")
    lacks = missing(form, means, always)
    if lacks:
        raise ListRefused(f"has no column for {', '.join(lacks)}. Say which heading it is, or what it always is")


def missing(form: Form, means: Mapping[str, str], always: Mapping[str, str]) -> list[str]:
    """Columns that every row needs and nothing says."""
    said = {*means.values(), *(name for name, value in always.items() if value)}
    return [column.name for column in form.columns if column.needed and column.name not in said]


def needs_aircraft(form: Form) -> bool:
    """Say whether this list speaks of an aircraft and none is in the record."""
    return form.name not in WITHOUT_AIRCRAFT and the_aircraft() is None


def rows_without_place(table: Table, form: Form, means: Mapping[str, str]) -> int:
    """Count the rows whose place the list has a column for and does not say."""
    heading = next((h for h, column in means.items() if column == "where"), None)
    if heading is None or not any(column.name == "where" and column.needed for column in form.columns):
        return 0
    at = table.headings.index(heading)
    return sum(not row[at] and any(row) for row in table.rows)


def unknown_zones(table: Table, form: Form, means: Mapping[str, str], always: Mapping[str, str]) -> list[str]:
    """Zones that the list names and the record does not have."""
    if all(column.name != "zone" for column in form.columns) or form.name == "zones":
        return []
    heading = next((h for h, c in means.items() if c == "zone"), None)
    at = table.headings.index(heading) if heading is not None else None
    named = [row[at] for row in table.rows if row[at]] if at is not None else []
    named += [always["zone"]] if always.get("zone") else []
    each = dict.fromkeys(part.strip() for text in named for part in text.split("/") if part.strip())
    known = set(Zone.objects.filter(aircraft=the_aircraft()).values_list("number", flat=True))
    return [zone for zone in each if zone not in known and len(zone) <= 20]


def load_old_list(
    table: Table,
    form: Form,
    means: Mapping[str, str],
    always: Mapping[str, str],
    by: Person | None,
    beside: Beside | None = None,
) -> tuple[LoadReport, list[str]]:
    """Load the rows under the columns' meanings; rows are named by their place in the file that was read.

    `always` fills a column that the list does not have. Gives the report and what was repaired.

    Raises ListRefused when a column that every row needs has no meaning, and CannotLoad as every load does.
    """
    strange = [heading for heading in means if heading not in table.headings]
    if strange:
        raise ListRefused(f"has no heading {strange[0][:60]}. Open the list again")
    check_meanings(form, means, always)
    columns = [column.name for column in form.columns]
    at = {name: table.headings.index(heading) for heading, name in means.items()}
    tags = at.get("tag")
    repaired: list[str] = []
    padded = _padded([row[tags] for row in table.rows]) if tags is not None else {}
    out = io.StringIO(newline="")
    writer = csv.writer(out, quoting=csv.QUOTE_ALL)  # a cell that begins with # is no comment
    writer.writerow(columns)
    # The loader counts lines, so every row goes onto the line that it had; the headings take the first one.
    line = 1
    for row, own in zip(table.rows, table.lines, strict=True):
        cells = {name: row[where] for name, where in at.items()}
        whole = padded.get(cells.get("tag", ""))
        if whole:
            repaired.append(
                f"Row {own}: tag {cells['tag']} is on record as {whole}; the spreadsheet dropped the noughts."
            )
            cells["tag"] = whole
        out.write("\r\n" * (own - line - 1))
        writer.writerow([cells.get(name) or always.get(name, "") for name in columns])
        line = own
    with tempfile.TemporaryDirectory(prefix="witnessmark-list-") as folder:
        (Path(folder) / form.file).write_text(out.getvalue(), "utf-8", newline="")
        _write_beside(Path(folder), beside or Beside())
        return load(Path(folder), by), repaired


def _write_beside(folder: Path, beside: Beside) -> None:
    if beside.aircraft and not (folder / "aircraft.csv").exists():
        with (folder / "aircraft.csv").open("w", encoding="utf-8", newline="") as out:
            csv.writer(out, quoting=csv.QUOTE_ALL).writerows([["aircraft"], [beside.aircraft]])
    if beside.zones and not (folder / "zones.csv").exists():  # the list itself names the zones
        with (folder / "zones.csv").open("w", encoding="utf-8", newline="") as out:
            csv.writer(out, quoting=csv.QUOTE_ALL).writerows([["zone", "name"], *([z, z] for z in beside.zones)])


def outcome_of(report: LoadReport, form: Form) -> Outcome:
    """How the list itself came out, apart from what was made beside it."""
    return next(outcome for outcome in report.outcomes if outcome.file == form.file)


def _padded(typed: Sequence[str]) -> dict[str, str]:
    """Tags that are on record with noughts before them, where what was typed is on none."""
    bare = {tag for tag in typed if tag.isascii() and tag.isdigit()}
    longer = {tag.zfill(width): tag for tag in bare for width in range(len(tag) + 1, 6)}
    known: set[str] = set()
    wanted = [*bare, *longer]
    for start in range(0, len(wanted), 10_000):  # a database takes so many words in one question
        known.update(tag for tag in Piece.objects.filter(tag__in=wanted[start : start + 10_000]).values_list("tag", flat=True) if tag)  # fmt: skip
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
