"""Old lists come in by screen: choose a file, say what its columns mean, try it, take it, fetch what was refused."""

import uuid
from dataclasses import dataclass
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_http_methods, require_safe

from witnessmark.exchange.list_taking import (
    ReadAs,
    begin_taking,
    refused_rows,
    spans,
    table_of,
    try_it,
    under_way,
)
from witnessmark.exchange.load import CannotLoad
from witnessmark.exchange.old_list import (
    PLACE_NOT_KNOWN,
    STANDS_FOR,
    missing,
    needs_aircraft,
    rows_without_place,
    unknown_zones,
)
from witnessmark.exchange.old_meanings import Proposed, likeliest_form, proposed
from witnessmark.exchange.old_table import Table
from witnessmark.exchange.reading import ListRefused
from witnessmark.exchange.templates import FORM, FORMS, Form
from witnessmark.records.actions.old_lists import list_comes_in
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.list_store import MOST_BYTES, list_path
from witnessmark.records.models import ListIn
from witnessmark.web import asked

SHOWN_ROWS, SHOWN_LINES, SHOWN_LISTS = 5, 60, 20
STATES = (
    ("taken", "taken"),
    ("changed", "changed in the record"),
    ("same", "the same as already there"),
    ("differs", "otherwise in the record, which stays"),
    ("refused", "refused"),
    ("empty", "empty in every column that is read"),
)


@dataclass(frozen=True)
class Asked:
    """How the person wants the list read, as the page's form says it."""

    form: Form
    table: Table
    columns: list[tuple[int, Proposed]]
    always: dict[str, str]
    lacking: list[str]
    zones: list[str]
    nowhere: int
    read_as: ReadAs


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def lists_in(request: HttpRequest) -> HttpResponse:
    """Ask for a file and show those that came; a post brings one."""
    if request.method == "POST":
        try:
            key = _bring(request)
        except Refused as why:
            return asked.refusal(request, why, request.path)
        return redirect("list_in", key=key)
    came = ListIn.objects.select_related("act__person").order_by("-act__recorded_at")[:SHOWN_LISTS]
    return render(request, "lists_in.html", {"came": came, "act_id": uuid.uuid4()})


def _bring(request: HttpRequest) -> str:
    sent = request.FILES.get("list")
    if not asked.me(request).may_write:
        raise NotAllowed(f"{asked.me(request).name} may look, not add. Nothing was kept.")
    if sent is None:
        raise Refused("No file came along, or an empty one. Nothing was kept. Choose a list: CSV, XLSX or ODS.")
    if (sent.size or 0) > MOST_BYTES:
        raise Refused(f"{sent.name} has {(sent.size or 0) / 1e6:.0f} MB; at most {MOST_BYTES // 1_000_000} MB are read. Nothing was kept. Split it.")  # fmt: skip
    told = list_comes_in(by=asked.me(request), act_id=asked.act_id(request), data=sent.read(), name=sent.name or "list")
    return str(told["list"])


def _came(key: uuid.UUID) -> ListIn:
    found = ListIn.objects.filter(pk=key).select_related("act__person").first()
    if found is None:
        raise Http404("There is no such list.")
    return found


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def list_in(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    """Show how a list would be read; a post tries it or takes it in."""
    came = _came(key)
    says = request.POST if request.method == "POST" else request.GET
    shown: dict[str, Any] = {"came": came, "act_id": uuid.uuid4(), "forms": FORMS, "work": under_way(came)}
    try:
        want = _asked(came, says)
    except ListRefused as why:
        return render(request, "list_in.html", {**shown, "why": _sentence(came, why)})
    status = 200
    if request.method == "POST":
        try:
            if _done(request, came, want, shown):
                return redirect("list_in", key=key)
        except (ListRefused, CannotLoad) as why:
            shown["why"], status = _sentence(came, why), 422
        except Refused as why:
            return asked.refusal(request, why, request.path)
    elif came.report and not says:
        shown["report"] = _report(came.report)
    return render(request, "list_in.html", {**shown, **_drawn(want)}, status=status)


def _sentence(came: ListIn, why: Exception) -> str:
    text = f"{came.name} {why}" if isinstance(why, ListRefused) else str(why)
    return f"{text.rstrip('.')}. Nothing was written; the file is kept as it came."


def _done(request: HttpRequest, came: ListIn, want: Asked, shown: dict[str, Any]) -> bool:
    """Take it in, or try it; True where the page is to be opened anew."""
    me, what = asked.me(request), request.POST.get("do", "")
    if what == "look":
        return False
    if what not in ("try", "take"):
        raise Refused("The form says nothing that can be done here. Nothing was changed.")
    if not me.may_write:
        raise NotAllowed(f"{me.name} may read this, not change it. Nothing was changed.")
    if needs_aircraft(want.form) and not want.read_as.aircraft:
        raise ListRefused("speaks of an aircraft, and none is in the record yet. Write its name in the shop")
    if what == "try":
        shown |= {"report": _report(try_it(by=me, came=came, read_as=want.read_as)), "tried": True}
        return False
    begin_taking(by=me, act_id=asked.act_id(request), came=came, read_as=want.read_as)
    return True


def _asked(came: ListIn, says: QueryDict) -> Asked:
    """Read the file and the form: what is not said is proposed, what was said of a taken list stands."""
    again = bool(came.report) and not says
    row = says.get("row", "")
    heading_row = int(row) if row.isascii() and row.isdigit() and len(row) < 3 else 0
    if again:
        heading_row = int((came.report or {}).get("heading_row", 0))
    sheet = came.sheet if again else says.get("sheet", "").replace("\0", "")[:200]
    table = table_of(came, sheet, heading_row)
    name = came.form if again else says.get("form", "")
    form = FORM[name] if name in FORM else likeliest_form(table)
    columns = {column.name for column in form.columns}
    kept: list[tuple[int, Proposed]] = []
    for at, each in enumerate(proposed(table, form)):
        said = came.means.get(each.heading) if again else says.get(f"c{at}")
        if said is not None and (said in columns or not said) and said != each.column:
            kept.append(
                (at, Proposed(each.heading, said, "as you said" if not again else "as it was taken", each.examples))
            )
        else:
            kept.append((at, each))
    means = {each.heading: each.column for _, each in kept}
    read = {heading: column for heading, column in means.items() if column}
    lacking = missing(form, read, {})
    always = {
        column: " ".join(
            says.get(f"a-{column}", came.always.get(column, STANDS_FOR.get(column, ""))).replace("\0", "").split()
        )
        for column in lacking
    }
    always = {column: words for column, words in always.items() if words}
    zones = unknown_zones(table, form, read, always)
    nowhere = rows_without_place(table, form, read)
    take_them = nowhere > 0 and says.get("nowhere", "yes") == "yes"
    read_as = ReadAs(
        form=form.name,
        means=means,
        always={**always, "where": PLACE_NOT_KNOWN} if take_them else always,
        sheet=sheet,
        heading_row=heading_row,
        aircraft=" ".join(says.get("aircraft", "").replace("\0", "").split())[:120] if needs_aircraft(form) else "",
        zones=tuple(zones) if says.get("zones", "yes") == "yes" else (),
    )
    return Asked(form, table, kept, always, lacking, zones, nowhere, read_as)


def _drawn(want: Asked) -> dict[str, Any]:
    """What the page shows of it: columns with examples, and the first rows as they would be read."""
    table, form = want.table, want.form
    at = [(c, table.headings.index(h)) for h, c in want.read_as.means.items() if c]
    order = [column.name for column in form.columns]
    at.sort(key=lambda pair: order.index(pair[0]))
    fixed = [column for column in order if column in want.always]
    names = [name for name, _ in at] + fixed
    rows = [
        (line, [(name, row[where]) for name, where in at] + [(name, want.always[name]) for name in fixed])
        for line, row in list(zip(table.lines, table.rows, strict=True))[:SHOWN_ROWS]
    ]
    said = {*want.read_as.means.values()}
    return {
        "want": want,
        "table": table,
        "form": form,
        "names": names,
        "preview": rows,
        "still": [column for column in want.lacking if column not in want.always],
        "always": [(column, want.always.get(column.name, "")) for column in form.columns if column.name in want.lacking],
        "needs_aircraft": needs_aircraft(form),
        "aircraft_name": want.read_as.aircraft,
        "place_not_known": want.read_as.always.get("where") == PLACE_NOT_KNOWN,
        "make_zones": bool(want.read_as.zones) or not want.zones,
        "above": [(number, "; ".join(cell for cell in row if cell)[:90]) for number, row in enumerate(table.above, 1) if any(row)],
        "left_out": sum(1 for _, each in want.columns if not each.column),
        "rows_words": spans(table.lines),
        "said": said,
    }  # fmt: skip


def _report(report: dict[str, Any]) -> dict[str, Any]:
    counts = report["counts"]
    by_state = report["by_state"]
    wrong = [line for line in report["lines"] if line[1] in ("refused", "differs")]
    remarks = [line for line in report["lines"] if line[1] not in ("refused", "differs")]
    said = [f"{counts.get('taken', 0):,} taken"]
    said += [f"{counts[state]:,} {word}" for state, word in STATES[1:5] if counts.get(state)]
    return {
        **report,
        "sentence": f"{', '.join(said)}.",
        "states": [(word, by_state.get(state, "")) for state, word in STATES if by_state.get(state)],
        "wrong": wrong[:SHOWN_LINES],
        "more_wrong": max(0, len(wrong) - SHOWN_LINES),
        "remarks": remarks[:SHOWN_LINES],
        "has_refused": bool(report["refused"]),
    }


@login_required
@require_safe
def refused_csv(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    """Give the rows that were not taken, with the reason beside each."""
    came = _came(key)
    if not (came.report or {}).get("refused"):
        raise Http404("No row of this list was refused.")
    try:
        data = refused_rows(came)
    except ListRefused as why:
        raise Http404(_sentence(came, why)) from None
    return _file(data, f"refused-{_stem(came)}.csv", "text/csv; charset=utf-8")


@login_required
@require_safe
def as_it_came(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    """Give the file back as it came."""
    came = _came(key)
    try:
        data = list_path(came.sha256).read_bytes()
    except OSError:
        raise Http404("The file itself is gone from the data folder. What was read of it is kept.") from None
    return _file(data, came.name, "application/octet-stream")


def _stem(came: ListIn) -> str:
    return came.name.rpartition(".")[0] or came.name


def _file(data: bytes, name: str, kind: str) -> HttpResponse:
    response = HttpResponse(data, content_type=kind)
    response["Content-Disposition"] = content_disposition_header(True, name) or "attachment"
    return response


urls: list[URLPattern] = [
    path("lists/in/", lists_in, name="lists_in"),
    path("lists/in/<uuid:key>/", list_in, name="list_in"),
    path("lists/in/<uuid:key>/refused.csv", refused_csv, name="refused_csv"),
    path("lists/in/<uuid:key>/file/", as_it_came, name="list_as_it_came"),
]
