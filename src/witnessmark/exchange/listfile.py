"""One list on its way into the record: what each of its rows came to, and what is to be written."""

import hashlib
import uuid
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime, time
from functools import cache
from typing import Any, TypeVar

from django.db.models import CharField, Model

from witnessmark.exchange import cells
from witnessmark.exchange.cells import Wrong
from witnessmark.exchange.reading import Row
from witnessmark.records.models import Act, Aircraft, Person

M = TypeVar("M", bound=Model)
LOADS = uuid.UUID("6d1d7d39-8c1b-5b52-9f0b-2f1d0b6f3a55")
# How a row came out; a later word outweighs an earlier one.
STATES = ("same", "changed", "taken", "differs", "refused")


@dataclass(frozen=True)
class Line:
    """What is to be said about one row (line 0: about the whole file)."""

    file: str
    line: int
    state: str
    say: str

    def __post_init__(self) -> None:
        # A cell that is quoted back may hold line breaks; what is said of a row stays one line.
        object.__setattr__(self, "say", " ".join(self.say.split()))

    @property
    def words(self) -> str:
        where = f"{self.file}, row {self.line}" if self.line else self.file
        return f"{where}: {self.say}"


@dataclass(frozen=True)
class Outcome:
    """How a file came out: rows by state, and every line worth saying."""

    file: str
    counts: dict[str, int]
    lines: tuple[Line, ...]
    act_id: uuid.UUID | None = None
    states: Mapping[int, str] = field(default_factory=dict)


@cache
def _limits(model: type[Model]) -> dict[str, int]:
    return {
        f.name: f.max_length
        for f in model._meta.get_fields()
        if isinstance(f, CharField) and f.max_length is not None and not f.choices
    }


@dataclass
class ListFile:
    """The rows of one file with the record they meet; readers of lists say here what is new."""

    name: str
    rows: Sequence[Row]
    by: Person
    aircraft: Aircraft | None
    photo: Callable[[str], bytes] | None = None
    newcomer: Person | None = None  # who loads into an empty record: there before the list, and new all the same
    lines: list[Line] = field(default_factory=list)
    states: dict[int, str] = field(default_factory=dict)
    said: list[Any] = field(default_factory=list)
    _seen: dict[tuple[str, ...], int] = field(default_factory=dict)
    _row: Row | None = None
    _news: list[Any] = field(default_factory=list)

    @property
    def file(self) -> str:
        return f"{self.name}.csv"

    @property
    def machine(self) -> Aircraft:
        """The aircraft these rows speak of."""
        assert self.aircraft is not None
        return self.aircraft

    @contextmanager
    def row(self, row: Row) -> Iterator[dict[str, str]]:
        """Read one row; what is wrong with it is reported and the others go on."""
        self._row, self._news = row, []
        self.states.setdefault(row.line, "same")
        try:
            yield row.cells
        except Wrong as wrong:
            self.refuse(row.line, str(wrong))
        else:
            self.said += self._news
        finally:
            self._row = None

    def refuse(self, line: int, why: str) -> None:
        """Report a row that is not taken."""
        self.states[line] = "refused"
        self.lines = [one for one in self.lines if (one.line, one.state) != (line, "remark")]
        self.lines.append(Line(self.file, line, "refused", f"{why}. This row was not taken; the others were kept."))

    def state(self, state: str) -> None:
        """Say how the row at hand came out."""
        assert self._row is not None
        line = self._row.line
        self.states[line] = max(self.states[line], state, key=STATES.index)

    def differs(self, what: str, here: object, there: object, mend: str) -> None:
        """Report that the record says otherwise; the record stays."""
        assert self._row is not None
        self.state("differs")
        say = f"{what} is {here} in this list and {there} in the record. The record stays. {mend}"
        self.lines.append(Line(self.file, self._row.line, "differs", say))

    def remark(self, say: str) -> None:
        """Say something about a row that is taken all the same."""
        assert self._row is not None
        self.lines.append(Line(self.file, self._row.line, "remark", f"{say}."))

    def once(self, *key: str, what: str, mend: str = "Delete one of the two rows") -> None:
        """Refuse what an earlier row of this file has said already."""
        assert self._row is not None
        first = self._seen.setdefault(key, self._row.line)
        if first != self._row.line:
            raise Wrong(f"{what} is in row {first} already. {mend}")

    def day(self, column: str) -> date | None:
        """Read a day of the row at hand, remarking where it could be read in two ways."""
        assert self._row is not None
        text = self._row.cells[column]
        if not text:
            return None
        found, remark = cells.day(text, column)
        if remark:
            self.remark(remark)
        return found

    def fit(self, model: type[Model], values: dict[str, Any]) -> None:
        """Refuse texts that the record has no room for, on every database alike."""
        limits = _limits(model)
        for name, value in values.items():
            most = limits.get(name)
            if most is not None and isinstance(value, str) and len(value) > most:
                raise Wrong(f"'{value[:30]}...' has {len(value)} letters; there is room for {most}. Shorten it")

    def new(self, model: type[M], **values: Any) -> M:
        """Make what the record does not have; None leaves a column to its default."""
        self.fit(model, values)
        self.state("taken")
        self._news.append([model.__name__, {k: str(v) for k, v in values.items()}])
        return model(**{name: value for name, value in values.items() if value is not None})

    def update(self, one: Model, **values: Any) -> bool:
        """Change what the row describes otherwise. An empty cell says nothing and changes nothing."""
        changes = {n: v for n, v in values.items() if v not in (None, "") and getattr(one, n) != v}
        if not changes:
            return False
        self.fit(type(one), changes)
        was = {name: getattr(one, name) for name in changes}
        for name, value in changes.items():
            setattr(one, name, value)
        self._news.append([type(one).__name__, str(one.pk), str(was), str(changes)])
        self.state("changed")
        return True

    def news(self, *what: Any) -> None:
        """Note something else that this row adds."""
        self.state("taken")
        self._news.append([str(part) for part in what])

    def outcome(self, act_id: uuid.UUID | None = None) -> Outcome:
        """Sum up."""
        counts = dict.fromkeys(("taken", "changed", "same", "differs", "refused"), 0)
        for state in self.states.values():
            counts[state] += 1
        return Outcome(self.file, counts, tuple(sorted(self.lines, key=lambda one: one.line)), act_id, self.states)

    def act_id(self, loads_before: int) -> tuple[uuid.UUID, str]:
        """Give the id that this news always has at this point of the record, and its digest."""
        digest = hashlib.sha256(repr(self.said).encode("utf-8", "replace")).hexdigest()
        return uuid.uuid5(LOADS, f"{self.file} {loads_before} {digest}"), digest


@dataclass
class Kept:
    """Rows of one table that are to be written: new ones and changed ones."""

    new: list[Any] = field(default_factory=list)
    changed: dict[int | str, Any] = field(default_factory=dict)

    def write(self, model: type[Model], fields: Sequence[str] = ()) -> None:
        """Write them in bulk."""
        manager = model._default_manager
        if self.new:
            manager.bulk_create(self.new, batch_size=1000)
        if self.changed and fields:
            manager.bulk_update(list(self.changed.values()), list(fields), batch_size=200)


Writer = Callable[[Act], None]


def noon(day: date | None) -> datetime | None:
    """Give a moment of a day, in the shop's zone."""
    from django.utils import timezone

    if day is None:
        return None
    return timezone.make_aware(datetime.combine(day, time(12)))
