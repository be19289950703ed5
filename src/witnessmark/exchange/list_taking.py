"""A list that came in is taken in: at once where it is short, by the worker where it is long; the report is kept by row."""

import uuid
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from django.db import transaction

from witnessmark.exchange.load import CannotLoad
from witnessmark.exchange.old_list import Beside, check_meanings, form_called, load_old_list, outcome_of
from witnessmark.exchange.old_meanings import plain
from witnessmark.exchange.old_table import Table, read_bytes, rows_with_why
from witnessmark.exchange.reading import ListRefused
from witnessmark.records.actions.old_lists import say_what_headings_mean, take_list
from witnessmark.records.actions.saying import Refused
from witnessmark.records.list_store import list_path
from witnessmark.records.models import Act, ListIn, Person, Work
from witnessmark.records.work import Leased, enqueue, handles

AT_ONCE = 1_000  # rows; more are taken in by the worker
AT_A_TIME = 4_000  # rows in one act
KEPT_LINES = 5_000


@dataclass(frozen=True)
class ReadAs:
    """How a list is read: as what, from which sheet and row, what each heading means, what stands in every row."""

    form: str
    means: Mapping[str, str]
    always: Mapping[str, str] = field(default_factory=dict)
    sheet: str = ""
    heading_row: int = 0
    aircraft: str = ""
    zones: tuple[str, ...] = ()


def table_of(came: ListIn, sheet: str = "", heading_row: int = 0) -> Table:
    """Read the file of a list that came in. Raises ListRefused with why it cannot be read."""
    try:
        data = list_path(came.sha256).read_bytes()
    except OSError as why:
        raise ListRefused(f"is gone from the data folder ({why.strerror}). Choose the file again") from None
    return read_bytes(data, came.name, sheet, heading_row)


def begin_taking(*, by: Person, act_id: uuid.UUID, came: ListIn, read_as: ReadAs) -> bool:
    """Take a list in, or have the worker do it; True where it is done. What cannot be taken is refused beforehand."""
    if Act.objects.filter(pk=act_id, verb="take_list").exists():
        return True
    form = form_called(read_as.form)
    table = table_of(came, read_as.sheet, read_as.heading_row)
    strange = [heading for heading in read_as.means if heading not in table.headings]
    if strange:
        raise ListRefused(f"has no heading {strange[0][:60]}. Open the list again")
    check_meanings(form, {h: c for h, c in read_as.means.items() if c}, read_as.always)
    say_what_headings_mean(
        by=by,
        act_id=uuid.uuid5(act_id, "headings"),
        form=form.name,
        means={plain(heading): column for heading, column in read_as.means.items() if plain(heading)},
    )
    if len(table.rows) > AT_ONCE:
        args = {"list": str(came.pk), "act": str(act_id), "by": by.pk, "read_as": {**asdict(read_as), "zones": list(read_as.zones)}}  # fmt: skip
        enqueue("take_list", str(came.pk), args)
        return False
    _take(by, act_id, came, table, read_as)
    return True


def try_it(*, by: Person, came: ListIn, read_as: ReadAs) -> dict[str, Any]:
    """Say how every row would come out; nothing of it stays in the record."""
    table = table_of(came, read_as.sheet, read_as.heading_row)
    if len(table.rows) > AT_ONCE:
        raise ListRefused(f"has {len(table.rows):,} rows; up to {AT_ONCE:,} are tried. Take it in: refused rows change nothing")  # fmt: skip
    with transaction.atomic():
        report = _loaded(by, table, read_as)
        transaction.set_rollback(True)
    return report


def _take(
    by: Person,
    act_id: uuid.UUID,
    came: ListIn,
    table: Table,
    read_as: ReadAs,
    progress: Callable[[str], None] = lambda said: None,
) -> None:
    report = _loaded(by, table, read_as, progress)
    said = {"form": read_as.form, "sheet": read_as.sheet, "means": read_as.means, "always": read_as.always}
    take_list(by=by, act_id=act_id, came=came, read_as=said, report={**report, "heading_row": table.heading_row})


def _loaded(
    by: Person, table: Table, read_as: ReadAs, progress: Callable[[str], None] = lambda said: None
) -> dict[str, Any]:
    """Load a table some thousand rows at a time, so that nobody else waits long to write; sum up how the rows came out."""
    form = form_called(read_as.form)
    means = {heading: column for heading, column in read_as.means.items() if column}
    counts: Counter[str] = Counter()
    states: dict[int, str] = {}
    lines: list[list[Any]] = []
    refused: dict[int, str] = {}
    repaired: list[str] = []
    beside_said: list[str] = []
    beside = Beside(read_as.aircraft, tuple(read_as.zones))
    for start in range(0, max(1, len(table.rows)), AT_A_TIME):
        some = replace(table, rows=table.rows[start : start + AT_A_TIME], lines=table.lines[start : start + AT_A_TIME])
        report, mended = load_old_list(some, form, means, read_as.always, by, beside if start == 0 else None)
        outcome = outcome_of(report, form)
        counts.update(outcome.counts)
        states |= outcome.states
        lines += [[x.line, x.state, x.say] for x in outcome.lines]
        refused |= {x.line: x.say for x in outcome.lines if x.state in ("refused", "differs") and x.line}
        repaired += mended
        others = [one for other in report.outcomes if other is not outcome for one in other.lines]
        beside_said += [one.words for one in others if one.state == "refused"]
        progress(f"{min(start + AT_A_TIME, len(table.rows)):,} of {len(table.rows):,} rows")
        if any(x.state == "refused" and not x.line for x in outcome.lines):
            break  # the whole list was refused: the rest of it would be, too
    silent = [line for line in table.lines if line not in states] if any(counts.values()) else []
    by_state = {state: spans(line for line, s in states.items() if s == state and line) for state in counts}
    return {
        "counts": dict(counts),
        "rows": len(table.rows),
        "by_state": by_state | {"empty": spans(silent)},
        "lines": lines[:KEPT_LINES],
        "more_lines": max(0, len(lines) - KEPT_LINES),
        "refused": {str(line): why for line, why in refused.items()},
        "repaired": repaired[:KEPT_LINES],
        "beside": beside_said,
        "remark": table.remark,
    }


def refused_rows(came: ListIn) -> bytes:
    """The rows that were not taken, as CSV under their own headings, with the reason in a last column."""
    report = came.report or {}
    table = table_of(came, came.sheet, report.get("heading_row", 0))
    return rows_with_why(table, {int(line): why for line, why in report.get("refused", {}).items()})


def spans(lines: Iterable[int]) -> str:
    """Write rows as they are said: `2 to 40, 43`."""
    said: list[str] = []
    ordered: Sequence[int] = sorted(lines)
    start = 0
    for at, line in enumerate(ordered):
        if at + 1 == len(ordered) or ordered[at + 1] != line + 1:
            said.append(str(line) if start == at else f"{ordered[start]} to {line}")
            start = at + 1
    return ", ".join(said)


def under_way(came: ListIn) -> Work | None:
    """The work of taking this list in, while it waits or runs, or where it failed last."""
    last = Work.objects.filter(kind="take_list", key=str(came.pk)).order_by("-pk").first()
    return last if last is not None and last.state in ("waiting", "leased", "failed") else None


@handles("take_list")
def _taken_by_worker(work: Leased) -> None:
    came = ListIn.objects.filter(pk=work.args["list"]).first()
    by = Person.objects.filter(pk=work.args["by"]).first()
    act_id = uuid.UUID(work.args["act"])
    if came is None or by is None or Act.objects.filter(pk=act_id).exists():
        return
    said = work.args["read_as"]
    read_as = ReadAs(**{**said, "zones": tuple(said["zones"])})
    work.progress(f"reading {came.name}")
    table = table_of(came, read_as.sheet, read_as.heading_row)
    work.progress(f"taking {len(table.rows):,} rows in")
    try:
        _take(by, act_id, came, table, read_as, work.progress)
    except (CannotLoad, ListRefused) as why:
        raise Refused(f"{came.name}: {why}") from None
