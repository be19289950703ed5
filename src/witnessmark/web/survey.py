"""The survey: what may still be out there, by structure; which row comes next; one row measured head by head."""

import uuid
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path, reverse
from django.views.decorators.http import require_http_methods

from witnessmark.calc.fasteners.readings import WAYS
from witnessmark.records.actions.row_size import settle_row_size
from witnessmark.records.actions.rows import look_at_row
from witnessmark.records.actions.saying import Refused
from witnessmark.records.actions.survey import (
    accept_survey_risk,
    measure_head,
    say_row_size,
    say_structure,
    set_unseen_limit,
)
from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.lookups.row_size import RowSize, size_of_row, who_settled
from witnessmark.records.lookups.survey import STRUCTURES, RowHeads, row_heads, structure_of, survey
from witnessmark.records.models import Aircraft, FastenerSize, LookedAt, Role, Row
from witnessmark.web import asked
from witnessmark.web.fastener import Field

AT_A_HEAD = ("form", "driven_shank_mm", "hole_mm", "hole_wide_mm", "head_mm", "head_deg", "head_height_mm", "head_mark", "magnet", "core")  # fmt: skip
AT_HAND = ("form", "hole_mm", "head_mm", "driven_shank_mm", "head_deg")


@login_required
@require_http_methods(["GET", "POST"])
def survey_screen(request: HttpRequest) -> HttpResponse:
    """Say what the survey leaves open; a post sets the limit or accepts the risk."""
    aircraft = the_aircraft()
    if request.method == "POST":
        try:
            _say(request, aircraft)
        except Refused as why:
            return asked.refusal(request, why, "/survey/")
        return redirect(asked_next(request))
    seen = survey(aircraft) if aircraft else None
    return render(
        request,
        "survey.html",
        {
            "seen": seen,
            "next": [(row, seen.structure_of[row.name]) for row in seen.next_rows] if seen else [],
            "working": seen.risk.working.to_dict() if seen else None,
            "may_accept": asked.me(request).role in (Role.LEAD, Role.INSPECTOR),
            "limit": f"{100 * aircraft.unseen_limit:g}" if aircraft else "",
            "act_id": uuid.uuid4(),
            "act_id_limit": uuid.uuid4(),
        },
    )


def asked_next(request: HttpRequest) -> str:
    """Where the form came from: the order's page or this one."""
    return "orders" if request.POST.get("back") == "orders" else "survey"


def _say(request: HttpRequest, aircraft: Aircraft | None) -> None:
    by, act_id, what = asked.me(request), asked.act_id(request), request.POST.get("what", "")
    if aircraft is None:
        raise Refused("There is no aircraft in the record yet. Nothing was changed.")
    if what == "accept":
        accept_survey_risk(by=by, act_id=act_id, aircraft=aircraft, reason=request.POST.get("reason", "")[:300])
    elif what == "limit":
        text = request.POST.get("limit", "").strip().replace(",", ".").removesuffix("%").strip()
        try:
            limit = float(text) / 100
        except ValueError:
            raise Refused(f"'{text[:20]}' is no number. Nothing was changed. Type 10 for ten in a hundred.") from None
        set_unseen_limit(by=by, act_id=act_id, aircraft=aircraft, limit=limit)
    else:
        raise Refused("The form does not say what to do. Nothing was changed. Open the page again.")


@login_required
@require_http_methods(["GET", "POST"])
def row_survey_screen(request: HttpRequest, mark: str, side: str) -> HttpResponse:
    """Measure one row head by head; after each the page stands at the next hole of the same row."""
    aircraft = the_aircraft()
    row = (
        Row.objects.filter(place__aircraft=aircraft, place__mark=mark, place__side=side)
        .select_related("place__zone", "place__wants_size", "place__aircraft")
        .first()
    )
    if row is None:
        raise Http404(f"There is no row {mark} on that side.")
    if request.method == "POST":
        try:
            return redirect(_say_of_row(request, row))
        except Refused as why:
            return asked.refusal(request, why, request.path)
    return render(request, "row_survey.html", _row_page(row, row_heads(row)))


def _say_of_row(request: HttpRequest, row: Row) -> str:
    by, act_id, what = asked.me(request), asked.act_id(request), request.POST.get("what", "head")
    here = reverse("row_survey", args=[row.place.mark, row.place.side])
    if what == "head":
        hole = request.POST.get("hole", "").strip()[:6]
        if not hole.isascii() or not hole.isdigit():
            raise Refused(f"'{hole}' is no hole. Nothing was stored. Type its number.")
        given = {name: text[:40] for name in AT_A_HEAD if (text := request.POST.get(name, "").strip())}
        measure_head(by=by, act_id=act_id, row=row, hole=int(hole), typed=given, painted="painted" in request.POST)
        return here
    if what == "settle":
        reason = request.POST.get("reason", "")
        settle_row_size(by=by, act_id=act_id, row=row, code=request.POST.get("code", "")[:60], reason=reason)
        return reverse("survey") if request.POST.get("code") else here
    if what == "look":
        looked = request.POST.get("looked_at", "")
        look_at_row(by=by, act_id=act_id, row=row, looked_at=looked)
        return reverse("survey")
    if what == "structure":
        say_structure(by=by, act_id=act_id, row=row, structure=request.POST.get("structure", ""))
        return here
    if what == "size":
        say_row_size(by=by, act_id=act_id, row=row, code=request.POST.get("size", ""))
        return here
    raise Refused("The form does not say what to do. Nothing was changed. Open the page again.")


def _row_page(row: Row, heads: RowHeads) -> dict[str, Any]:
    last = {reading.what: reading for head in heads.heads[-1:] for reading in head.readings}
    form = last["form"].word if "form" in last else ""
    sizes = list(FastenerSize.objects.all())
    seen = size_of_row(row, heads, sizes)
    ask_hole, ask_way = seen.ask or (None, None)
    asked_way = ask_way.what if ask_way is not None and not seen.more else ""
    return {
        "row": row,
        "place": row.place,
        "heads": heads,
        "seen": seen,
        "settled": who_settled(row),
        "say": _row_sentence(row, heads, seen),
        "hole": heads.next_hole or ask_hole or "",
        "ask_hole": ask_hole,
        "ask_way": ask_way,
        "fields": [Field(WAYS[w], form if w == "form" else "", w == asked_way) for w in AT_HAND],
        "more": [Field(WAYS[w], "", w == asked_way) for w in AT_A_HEAD if w not in AT_HAND],
        "more_open": asked_way not in AT_HAND and asked_way,
        "fits": [size.code for met in seen.met for size in met.sizes],
        "sizes": sizes,
        "structures": STRUCTURES,
        "structure": structure_of(row),
        "looks": [(value, word) for value, word in LookedAt.choices if value not in ("yes", "disputed")],
        "under_paint": row.looked_at == LookedAt.UNDER_PAINT,
        "act_id": uuid.uuid4(),
        "act_id_look": uuid.uuid4(),
        "act_id_settle": uuid.uuid4(),
        "act_id_size": uuid.uuid4(),
        "act_id_structure": uuid.uuid4(),
    }


def _row_sentence(row: Row, heads: RowHeads, seen: RowSize) -> str:
    name = f"Row {row.place.mark}"
    if not heads.heads:
        return f"{name}: measure three heads."
    measured = f"{len(heads.heads)} head{'s' if len(heads.heads) > 1 else ''} measured"
    if seen.differing and not (heads.more and not heads.agree):
        says = f"the list says {seen.says}" if seen.says else "no size is written down"
        tail = f"Measure {heads.more} more." if heads.more else "Which is it?"
        return f"{name}: measured says {' and '.join(each.codes[0] for each in seen.differing)}, {says}. {tail}"
    if seen.unnamed and not heads.more:
        count = len(seen.unnamed)
        return f"{name}: {measured}, {count} of them without a name. It stays not looked at."
    if not heads.agree and (heads.more or seen.differing):
        tail = f"measure {heads.more} more" if heads.more else "write down which is which"
        return f"{name}: the heads disagree, {' and '.join(heads.names)}; {tail}."
    named = f", {' and '.join(heads.names)}" if heads.names else ", no name yet"
    if not heads.names and seen.fitting and not seen.unnamed:
        named = f", they fit {seen.says}"
    return f"{name}: {measured}{named}. {f'{heads.more} more.' if heads.more else 'That is enough.'}"


urls: list[URLPattern] = [
    path("survey/", survey_screen, name="survey"),
    path("survey/<str:mark>/<str:side>/", row_survey_screen, name="row_survey"),
]
