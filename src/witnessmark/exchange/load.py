"""Load a folder of lists: every file is one act or none, every row is taken, the same, or refused with why."""

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, time
from pathlib import Path
from typing import Any

from django.db import connection, transaction
from django.utils import timezone

from witnessmark.exchange.cells import Wrong
from witnessmark.exchange.listfile import Line, ListFile, Outcome, Writer
from witnessmark.exchange.lists import (
    buckets,
    choices,
    custody,
    finishing,
    hours,
    measured,
    photographs,
    seams,
    shop,
    trips,
    work,
)
from witnessmark.exchange.lists import readings as read_lists
from witnessmark.exchange.reading import ListRead, ListRefused, read_list
from witnessmark.exchange.templates import FORM, FORMS
from witnessmark.records.actions.saying import Refused, Result, say
from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.models import Act, Aircraft, Person, Role
from witnessmark.records.work import enqueue

Reader = Callable[[ListFile], Writer]
# In the order of loading: what a list names must be there before it. Places may be part of a part's seat.
READERS: dict[str, Reader] = {
    "people": shop.people,
    "aircraft": shop.aircraft,
    "zones": shop.zones,
    "vendors": shop.vendors,
    "benches": shop.benches,
    "fasteners": shop.fasteners,
    "measured_sizes": measured.measured_sizes,
    "routes": shop.routes,
    "parts": custody.parts,
    "places": custody.places,
    "bags": custody.bags,
    "seams": seams.seams,
    "stacks": seams.stacks,
    "holes": seams.holes,
    "findings": work.findings,
    "choices": choices.choices,
    "jobs": work.jobs,
    "left_open": work.left_open,
    "hours": hours.hours,
    "shipments": work.shipments,
    "orders": work.orders,
    "certificates": trips.certificates,
    "buckets": buckets.buckets,  # after the papers: what came back without them waits in quarantine
    "hunts": trips.hunts,
    "trips": trips.trips,
    "readings": read_lists.readings,
    "seats": finishing.seats,
    "called_out": finishing.called_out,
    "photos": photographs.photos,
}
# These speak of the shop, not of one aircraft.
WITHOUT_AIRCRAFT = ("people", "aircraft", "vendors", "benches", "fasteners", "measured_sizes", "routes")


class CannotLoad(Exception):
    """Nothing can be loaded: one sentence with the mend."""


@dataclass(frozen=True)
class LoadReport:
    """What came of a folder, file by file."""

    folder: str
    by: str
    outcomes: tuple[Outcome, ...]
    remarks: tuple[str, ...]

    @property
    def lines(self) -> list[Line]:
        return [line for outcome in self.outcomes for line in outcome.lines]

    @property
    def counts(self) -> dict[str, int]:
        states = ("taken", "changed", "same", "differs", "refused")
        return {state: sum(outcome.counts[state] for outcome in self.outcomes) for state in states}

    @property
    def all_taken(self) -> bool:
        """Say whether nothing was refused and nothing differed from the record."""
        return not any(line.state in ("refused", "differs") for line in self.lines)

    def to_dict(self) -> dict[str, Any]:
        return {
            "folder": self.folder,
            "by": self.by,
            "counts": self.counts,
            "files": [{"file": one.file, **one.counts} for one in self.outcomes],
            "lines": [{"file": x.file, "row": x.line or None, "state": x.state, "say": x.say} for x in self.lines],
            "remarks": list(self.remarks),
        }


def load(folder: Path, by: Person | None = None, progress: Callable[[str], None] | None = None) -> LoadReport:
    """Load the lists of a folder.

    In an empty record the lead of people.csv is the one who loads. Loading the same folder again changes nothing.

    Raises CannotLoad when there is nothing to load or nobody who may; then nothing was written.
    """
    if not folder.is_dir():
        raise CannotLoad(f"{folder} is no folder. Name the folder that holds the lists.")
    files = {path.name.casefold(): path for path in sorted(folder.iterdir()) if path.is_file()}
    found = {name: files[f"{name}.csv"] for name in READERS if f"{name}.csv" in files}
    if not found:
        raise CannotLoad(f"{folder} holds no list that is known here. `witnessmark new {folder}` writes empty ones.")
    outcomes: list[Outcome] = []
    read: dict[str, ListRead | Outcome] = {name: _read(name, path) for name, path in found.items()}
    loader = _Loader(folder, by, outcomes)
    for name in found:
        if progress is not None:
            progress(_about(name, read[name]))
        loader.take(name, read[name])
    if loader.aircraft is not None and any(outcome.act_id for outcome in outcomes):
        enqueue("derive_jobs", str(loader.aircraft.pk), {"aircraft": loader.aircraft.pk})
        _count_anew()
    order = {form.file: number for number, form in enumerate(FORMS)}
    outcomes.sort(key=lambda outcome: order[outcome.file])
    known = {f"{name}.csv" for name in READERS}
    strange = [name for name in files if name.endswith(".csv") and name not in known]
    remarks = (f"Files not known here, not read: {', '.join(strange)}.",) if strange else ()
    return LoadReport(str(folder), loader.by.name if loader.by else "", tuple(outcomes), remarks)


_NONE = "None of it was taken; the other files were kept."


def _count_anew() -> None:
    """Let PostgreSQL count its tables: without, it takes them for empty and searches them end to end."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")


def _whole(name: str, why: str) -> Outcome:
    say = f"The file {why}. {_NONE}"
    counts = {"taken": 0, "changed": 0, "same": 0, "differs": 0, "refused": 0}
    return Outcome(f"{name}.csv", counts, (Line(f"{name}.csv", 0, "refused", say),))


def _read(name: str, path: Path) -> ListRead | Outcome:
    try:
        return read_list(path.read_bytes(), FORM[name])
    except ListRefused as refused:
        return _whole(name, str(refused))
    except OSError as error:
        return _whole(name, f"cannot be read: {error.strerror}")


def _about(name: str, read: ListRead | Outcome) -> str:
    return f"{name}.csv: {len(read.rows)} rows" if isinstance(read, ListRead) else f"{name}.csv: not read"


class _Loader:
    """Takes one list after the other; knows who loads and which aircraft is meant."""

    def __init__(self, folder: Path, by: Person | None, outcomes: list[Outcome]) -> None:
        self.folder, self.by, self.outcomes = folder, by, outcomes
        self.aircraft: Aircraft | None = None
        self.names_aircraft = False
        self.lead_line = 0
        if self.by is None:
            self.by = Person.objects.filter(role=Role.LEAD, is_active=True).order_by("id").first()
        if self.by is not None and not self.by.may_write:
            raise CannotLoad(f"{self.by.name} may read, not change the record. Load as somebody who may: --as NAME.")

    def take(self, name: str, read: ListRead | Outcome) -> None:
        """Take one list, or say why not."""
        # Lists of an aircraft that was refused are not taken for another one's.
        self.names_aircraft |= name == "aircraft"
        if isinstance(read, Outcome):
            if self.by is None:
                why = read.lines[0].words.removesuffix(_NONE)
                raise CannotLoad(f"{why}Without people.csv nobody is there who may load. Nothing was written.")
            self.outcomes.append(read)
            return
        if self.by is None:
            with transaction.atomic():
                lead = self.by = self._first_lead(name, read)
                outcome = self._take(name, read, lead)
                wrong = [one.words for one in outcome.lines if one.state == "refused" and one.line == self.lead_line]
                if wrong:
                    raise CannotLoad(f"{wrong[0]} It names the lead, and nobody else may load. Nothing was written.")
                self.outcomes.append(outcome)
            return
        if name not in WITHOUT_AIRCRAFT and self.aircraft is None:
            self.aircraft = None if self.names_aircraft else the_aircraft()
            if self.aircraft is None:
                self.outcomes.append(_whole(name, "speaks of an aircraft, and none is there. Mend aircraft.csv first"))
                return
        self.outcomes.append(self._take(name, read))

    def _first_lead(self, name: str, read: ListRead) -> Person:
        """In an empty record the first lead of people.csv is the one who loads."""
        leads = [row for row in read.rows if row.cells["role"].strip().lower() == Role.LEAD] if name == "people" else []
        if not leads:
            raise CannotLoad(
                "The record is empty and people.csv names no lead. Nothing was written. "
                "Add one row to people.csv with the role lead: that is the one who loads."
            )
        self.lead_line = leads[0].line
        person = Person(name=leads[0].cells["name"][:120], role=Role.LEAD)
        person.set_unusable_password()
        person.save()
        return person

    def _take(self, name: str, read: ListRead, newcomer: Person | None = None) -> Outcome:
        assert self.by is not None
        f = ListFile(name, read.rows, self.by, self.aircraft, photo=self._photo, newcomer=newcomer)
        for remark in read.remarks:
            f.lines.append(Line(f.file, 0, "remark", remark))
        for line, why in read.bad:
            f.refuse(line, f"The row {why}")
        with transaction.atomic():
            write = READERS[name](f)
            if f.said:
                act_id, digest = f.act_id(Act.objects.filter(verb="load_lists", said__file=f.file).count())
                said = {"file": f.file, "news": len(f.said), "sha256": digest}
                try:
                    with transaction.atomic():
                        say(
                            "load_lists",
                            by=self.by,
                            act_id=act_id,
                            said=said,
                            do=lambda act: _do(write, act, f),
                            aircraft=f.aircraft if f.aircraft is not None and f.aircraft.pk else None,
                            happened_at=self._moment(),
                        )
                except Refused as refused:
                    return _whole(name, f"was refused by the record: {str(refused).rstrip('.')}")
                outcome = f.outcome(act_id)
            else:
                outcome = f.outcome()
        if name == "aircraft" and f.aircraft is not None and f.aircraft.pk:
            self.aircraft = f.aircraft
        if name == "people":
            self.by = Person.objects.get(pk=self.by.pk)
        return outcome

    def _moment(self) -> datetime | None:
        """A demonstration that plays on a fixed day was loaded on the morning of that day."""
        today = self.aircraft.today if self.aircraft is not None else None
        return timezone.make_aware(datetime.combine(today, time(6))) if today else None

    def _photo(self, file: str) -> bytes:
        """Read a picture from the folder photos beside the lists; no other folder is reached."""
        plain = unicodedata.normalize("NFC", file)
        if plain in ("", ".", "..") or re.search(r"[/\\\x00]", plain):
            raise Wrong(f"file is '{file}'. Write the name alone: the file lies in the folder photos")
        path = self.folder / "photos" / plain
        try:
            if path.is_symlink() or not path.is_file():
                raise Wrong(f"There is no file '{file}' in the folder photos. Put it there, or correct the name")
            return path.read_bytes()
        except OSError as error:
            raise Wrong(f"The file '{file}' cannot be read: {error.strerror}. Copy it again") from None


def _do(write: Writer, act: Act, f: ListFile) -> Result:
    write(act)
    if connection.vendor == "postgresql":  # deferred keys are checked now, so that a fault is this file's
        with connection.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
    return {"file": f.file, "news": len(f.said)}
