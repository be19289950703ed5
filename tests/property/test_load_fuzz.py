"""Whatever bytes lie in a folder of lists: loading ends with a report, never with a crash, and the ledger balances."""

import contextlib
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from tests.records.small_lists import LISTS, write_lists
from witnessmark.exchange import cells
from witnessmark.exchange.cells import Wrong
from witnessmark.exchange.load import CannotLoad, LoadReport, load
from witnessmark.exchange.reading import ListRefused, read_list
from witnessmark.exchange.templates import FORM
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.models import Move, Piece

NAMES = sorted(LISTS)
# What is likely to break a cell: figures out of range, other alphabets, separators, quotation marks, references.
NASTY = st.sampled_from(
    [
        "",
        " ",
        "0",
        "-1",
        "1.5",
        "1,5",
        "1e9",
        "99999999999999999999",
        "nan",
        "inf",
        "5/0",
        "1/3",
        "LR",
        "L",
        "C",
        "X",
        "missing",
        "in place",
        "PL",
        "Bo",
        "scrap",
        "not found",
        "0001",
        "0001/0002",
        "0003/0003",
        "1-01",
        "2-01 L:4",
        "2-01 L:0",
        "1-01:1",
        ":",
        ";",
        "/",
        '"',
        "'",
        "#",
        "zone 100",
        "zone",
        "S-01:3",
        "S-01:0",
        "1-3, 2",
        "3-1",
        "F-1",
        "fitting",
        "R-3",
        "31/02/2026",
        "0000-00-00",
        "12 Foo 2026",
        "2026-05-12",
        "ÄÖ\u0301",
        "\u202e",
        "\U0001f600",
        "x" * 300,
        "²",
        "١٢",
        "=1+1",
        "milestone",
        "look",
        "\ufeff",
    ]
)
FEW = settings(max_examples=40, suppress_health_check=list(HealthCheck))


def loaded(folder: Path) -> LoadReport | None:
    try:
        return load(folder)
    except CannotLoad:
        return None


def holds_together(report: LoadReport | None) -> None:
    """The ledger balances, every piece lies somewhere, and every word of the report is one plain line."""
    ledger = check_ledger()
    assert ledger.balanced, ledger.faults
    assert Move.objects.values("from_piece").distinct().count() == Piece.objects.count()
    for line in report.lines if report else ():
        assert line.say.endswith(".")
        assert "\n" not in line.words
        assert "Traceback" not in line.say


class AnyFolder(TestCase):
    """Each example starts from an empty record."""

    @FEW
    @given(name=st.sampled_from(NAMES), data=st.binary(max_size=400))
    def test_random_bytes_in_one_list(self, name: str, data: bytes) -> None:
        with tempfile.TemporaryDirectory() as temporary:
            folder = write_lists(Path(temporary) / "lists")
            (folder / f"{name}.csv").write_bytes(data)
            holds_together(loaded(folder))

    @FEW
    @given(data=st.data())
    def test_lists_with_changed_cells(self, data: st.DataObject) -> None:
        changed = {}
        for name in data.draw(st.lists(st.sampled_from(NAMES), min_size=1, max_size=4, unique=True)):
            lines = LISTS[name].rstrip("\n").split("\n")
            for _ in range(data.draw(st.integers(1, 3))):
                at = data.draw(st.integers(1, len(lines) - 1))
                cells_ = lines[at].split(",")
                cells_[data.draw(st.integers(0, len(cells_) - 1))] = data.draw(NASTY)
                lines[at] = ",".join(cells_)
            if data.draw(st.booleans()):
                lines.append(lines[-1])
            changed[name] = "\n".join(lines)
        with tempfile.TemporaryDirectory() as temporary:
            folder = write_lists(Path(temporary) / "lists", **changed)
            first = loaded(folder)
            holds_together(first)
            moves = Move.objects.count()
            again = loaded(folder)
            holds_together(again)
            assert Move.objects.count() == moves  # what was refused is refused again; nothing is taken twice
            if first is not None and again is not None:
                assert again.counts["taken"] == 0
                assert again.counts["refused"] == first.counts["refused"]

    @FEW
    @given(cuts=st.dictionaries(st.sampled_from(NAMES), st.integers(0, 2000), min_size=1, max_size=3))
    def test_lists_cut_off_anywhere(self, cuts: dict[str, int]) -> None:
        with tempfile.TemporaryDirectory() as temporary:
            folder = write_lists(Path(temporary) / "lists")
            for name, at in cuts.items():
                (folder / f"{name}.csv").write_bytes(LISTS[name].encode()[:at])
            holds_together(loaded(folder))
            write_lists(folder)
            holds_together(loaded(folder))  # the whole lists afterwards complete the record or say why not


@given(data=st.binary(max_size=2000), name=st.sampled_from(NAMES))
def test_any_bytes_are_read_or_refused(data: bytes, name: str) -> None:
    try:
        read = read_list(data, FORM[name])
    except ListRefused:
        return
    columns = {column.name for column in FORM[name].columns}
    assert all(set(row.cells) == columns for row in read.rows)


@given(text=st.text(max_size=400), name=st.sampled_from(NAMES), separator=st.sampled_from(",;\t"))
def test_any_text_under_a_right_header(text: str, name: str, separator: str) -> None:
    header = separator.join(column.name for column in FORM[name].columns)
    data = f"{header}\n{text}".encode("utf-8", "surrogatepass")
    try:
        read = read_list(data, FORM[name])
    except ListRefused:
        return
    needed = [column.name for column in FORM[name].columns if column.needed]
    assert all(row.cells[one] for row in read.rows for one in needed)


@pytest.mark.parametrize("reader", ["whole", "number", "day", "sides", "length", "mass_g", "strength_mpa"])
@given(text=st.one_of(st.text(max_size=40), NASTY))
def test_a_cell_is_read_or_wrong(reader: str, text: str) -> None:
    read = getattr(cells, reader)
    with contextlib.suppress(Wrong):
        assert read(text, "cell") if reader in ("day", "length") else True
        assert read(text, "cell") >= 0 if reader in ("whole", "number") else True
        assert read(text) if reader in ("sides", "mass_g", "strength_mpa") else True
