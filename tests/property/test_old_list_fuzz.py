"""Any list under any meanings: every row is accounted for, nothing is half written, trying writes nothing, the ledger balances."""

import csv
import io
import uuid

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.records.shop import Shop, make_bag, make_shop
from witnessmark.exchange.list_taking import ReadAs, begin_taking, spans, table_of, try_it
from witnessmark.exchange.load import CannotLoad
from witnessmark.exchange.old_list import missing
from witnessmark.exchange.reading import ListRefused
from witnessmark.exchange.templates import FORM
from witnessmark.records.actions.old_lists import list_comes_in
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.models import ListIn, Move, Piece

pytestmark = pytest.mark.django_db
CELL = st.one_of(
    st.sampled_from(
        ["", "9-1-001", "9-1-002", "0042", "42", "#7", "L", "left", "LR", "100", "hull top", "shelf A1", "in place", "missing",
         "PL", "1", "2", "many", "-3", "1e9", "12 g", "12.05.2026", "31.2.2026", "=1+1", "scrap", "0001/0002", "a" * 300, "\u202e", "Zürich"]
    ),
    st.text(alphabet=st.characters(codec="utf-8", exclude_categories=["Cs"]), max_size=12),
)  # fmt: skip
FORMS = st.sampled_from(["parts", "bags", "vendors", "findings", "shipments", "fasteners", "places", "people", "zones"])


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    make_bag(shop, "0042", shop.shelf, 8)
    return shop


@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(data=st.data(), name=FORMS, rows=st.lists(st.lists(CELL, min_size=5, max_size=5), min_size=1, max_size=6))
def test_every_row_is_accounted_for(shop: Shop, data: st.DataObject, name: str, rows: list[list[str]]) -> None:
    form = FORM[name]
    columns = data.draw(st.permutations([column.name for column in form.columns]))[:5]
    means = {f"heading {chr(97 + at)}": column for at, column in enumerate(columns)}
    always = {column: data.draw(CELL).replace("\0", "").strip() or "x" for column in missing(form, means, {})}
    out = io.StringIO(newline="")
    csv.writer(out).writerows([list(means), *rows])
    with transaction.atomic():
        brought = list_comes_in(by=shop.lead, act_id=uuid.uuid4(), data=out.getvalue().encode(), name="any.csv")
        came = ListIn.objects.get(pk=brought["list"])
        read_as = ReadAs(name, means, always, zones=("hull top",))
        before = (Piece.objects.count(), Move.objects.count())
        try:
            table = table_of(came)
            tried = try_it(by=shop.lead, came=came, read_as=read_as)
            assert (Piece.objects.count(), Move.objects.count()) == before  # nothing of it stayed
            begin_taking(by=shop.lead, act_id=uuid.uuid4(), came=came, read_as=read_as)
        except (ListRefused, CannotLoad):
            assert (Piece.objects.count(), Move.objects.count()) == before
        else:
            came.refresh_from_db()
            assert came.report is not None
            assert came.report["counts"] == tried["counts"]
            whole = [line for line in came.report["lines"] if line[0] == 0 and line[1] == "refused"]
            counted = sum(came.report["counts"].values())
            silent = _rows(came.report["by_state"]["empty"])
            assert whole or counted + silent == len(table.rows), came.report
            assert set(came.report["refused"]) <= {str(line) for line in table.lines}
        assert check_ledger().balanced
        transaction.set_rollback(True)


def _rows(said: str) -> int:
    """How many rows `2 to 4, 9` names."""
    ends = [part.split(" to ") for part in said.split(", ") if part]
    return sum(int(end[-1]) - int(end[0]) + 1 for end in ends)


@given(lines=st.sets(st.integers(2, 60)))
def test_rows_are_named_one_by_one_or_from_to(lines: set[int]) -> None:
    named = {
        line
        for part in spans(lines).split(", ")
        if part
        for line in range(int(part.split(" to ")[0]), int(part.split(" to ")[-1]) + 1)
    }
    assert named == lines
    assert _rows(spans(lines)) == len(lines)
