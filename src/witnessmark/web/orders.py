"""Orders: the rivets still wanted by size and length, what holds them, and what is on its way."""

import uuid
from collections.abc import Sequence
from datetime import date

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.views.decorators.http import require_http_methods, require_safe

from witnessmark.calc.units import UnknownSize, parse_length
from witnessmark.records.actions.buying import measure_box, order_came, order_leaves, say_wanted_by, set_order_risks
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.day import the_aircraft, today
from witnessmark.records.lookups.hunts import hunts_of
from witnessmark.records.lookups.orders import RivetOrder, rivet_order
from witnessmark.records.lookups.plan import here_by
from witnessmark.records.lookups.rivet_drawings import rivets_to_make
from witnessmark.records.lookups.seams import rows_seen
from witnessmark.records.lookups.spares import holidays, leave_by
from witnessmark.records.lookups.survey import survey
from witnessmark.records.lookups.tooling import tools_wanted
from witnessmark.records.lookups.vendor_times import vendor_times
from witnessmark.records.models import Aircraft, Vendor
from witnessmark.web import asked


@login_required
@require_http_methods(["GET", "POST"])
def orders_screen(request: HttpRequest) -> HttpResponse:
    """Show the order as it would leave today; a post says that it left, or that one came."""
    aircraft = the_aircraft()
    now = today(aircraft)
    if request.method == "POST":
        try:
            _say(request, aircraft, now)
        except Refused as why:
            return asked.refusal(request, why, "/orders/")
        return redirect("orders")
    try:
        asked_for = _wanted_by(request.GET.get("wanted_by", ""))
    except Refused as why:
        return asked.refusal(request, why, "/orders/")
    rows = rows_seen(aircraft) if aircraft else []
    order = rivet_order(aircraft, rows=rows) if aircraft else None
    wanted_by = asked_for or (order.risks.wanted_by if order else None)
    closed = holidays()
    times = vendor_times(now)
    groups = (
        [
            {
                "vendor": group.vendor,
                "act_id": uuid.uuid4(),
                "here": here_by(times[group.vendor.pk].time, now, closed) if group.vendor else None,
                "leave": leave_by(
                    group.vendor, order.risks.late_at_most, wanted_by, now, closed, times[group.vendor.pk].time
                )
                if group.vendor
                else None,
                "combined": group.combined,
                "least_mass": group.least_mass,
                "lines": [(each, each.line.working.to_dict()) for each in group.lines],
            }
            for group in order.vendors
        ]
        if order
        else []
    )
    waiting = [o for o in order.placed if o.ordered_on and not o.came_on] if order else []
    hunted = hunts_of(waiting)
    return render(
        request,
        "orders.html",
        {
            "order": order,
            "say": _sentence(order),
            "survey": survey(aircraft, rows) if aircraft and rows else None,
            "groups": groups,
            "to_make": rivets_to_make(aircraft, order) if aircraft and order else [],
            "wanted_by": wanted_by,
            "closed": len([day for day in closed if day >= now]),
            "act_id_wanted": uuid.uuid4(),
            "act_id_risks": uuid.uuid4(),
            "all_vendors": Vendor.objects.order_by("name"),
            "act_id_box": uuid.uuid4(),
            "next_number": next_number("O-", [o.number for o in order.placed if not o.number.startswith("H-")])
            if order
            else "",
            "waiting": [
                (o, (now - o.promised_on).days if o.promised_on else 0, uuid.uuid4(), hunted.get(o.pk)) for o in waiting
            ],
            "came": [o for o in order.placed if o.came_on] if order else [],
        },
    )


def _wanted_by(typed: str) -> date | None:
    """The day on which the rivets are wanted, where one was typed."""
    text = typed.strip()
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise Refused(f"Wanted by: {text[:20]} is no day. Write one like 2026-09-30. Nothing was changed.") from None


def _chance(request: HttpRequest, name: str, what: str) -> float:
    """A chance as it was typed, in per cent."""
    text = request.POST.get(name, "").strip().removesuffix("%").strip().replace(",", ".")
    try:
        return round(float(text) / 100, 6)
    except ValueError:
        raise Refused(f"{what}: {text[:20] or 'nothing'} is no figure in per cent. Nothing was changed.") from None


def next_number(first: str, taken: Sequence[str]) -> str:
    """The number after the last that was given, written alike."""
    last = max(taken, key=lambda n: int("".join(c for c in n if c.isdigit()) or 0), default=f"{first}00")
    digits = "".join(c for c in last if c.isdigit()) or "0"
    return f"{last.rstrip('0123456789') or first}{int(digits) + 1:0{len(digits)}d}"


def _say(request: HttpRequest, aircraft: Aircraft | None, now: date) -> None:
    by, act_id = asked.me(request), asked.act_id(request)
    if aircraft is not None and request.POST.get("what") == "box":
        measure_box(
            by=by,
            act_id=act_id,
            aircraft=aircraft,
            name=request.POST.get("name", "")[:120],
            shanks_mm=_figures(request, "shanks", "Shanks"),
            heads_mm=_figures(request, "heads", "Heads"),
            length_mm=_figures(request, "length", "Length")[0],
            count=asked.whole(request, "count", "Count"),
        )
        return
    if aircraft is not None and request.POST.get("what") == "wanted":
        say_wanted_by(by=by, act_id=act_id, aircraft=aircraft, wanted_by=_wanted_by(request.POST.get("wanted_by", "")))
        return
    if aircraft is not None and request.POST.get("what") == "risks":
        set_order_risks(
            by=by,
            act_id=act_id,
            aircraft=aircraft,
            short_at_most=_chance(request, "short", "Running short"),
            late_at_most=_chance(request, "late", "Coming too late"),
        )
        return
    number, what = request.POST.get("number", "").strip()[:40], request.POST.get("what", "")
    if aircraft is None or not number or what not in ("leaves", "came"):
        raise Refused("The form does not say which order. Nothing was changed. Open the page again.")
    if what == "came":
        order_came(by=by, act_id=act_id, number=number, came_on=now)
        return
    vendor = Vendor.objects.filter(code=request.POST.get("vendor", "")).first()
    if vendor is None:
        raise Refused("No such vendor. Nothing was ordered. Choose one of the list.")
    order_leaves(
        by=by,
        act_id=act_id,
        aircraft=aircraft,
        vendor=vendor,
        number=number,
        ordered_on=now,
        promised_on=asked.day(request, "promised_on", "Promised for"),
        unnamed=request.POST.get("unnamed") == "yes",
        risk_accepted=request.POST.get("risk_accepted", "").strip()[:300],
    )


def _figures(request: HttpRequest, name: str, what: str) -> list[float]:
    """Figures as they were typed, apart by spaces or semicolons: `3.5 3.49 3.51`."""
    words = request.POST.get(name, "").replace(";", " ").split()
    if not words or len(words) > 50:
        raise Refused(f"{what}: write 1 to 50 figures, apart by spaces. Nothing was stored.")
    try:
        return [parse_length(word).mm for word in words]
    except UnknownSize as error:
        raise Refused(f"{what}: {str(error).rstrip('.')}. Nothing was stored.") from None


@login_required
@require_safe
def tooling_screen(request: HttpRequest) -> HttpResponse:
    """List the tools for every rivet that is still to be driven."""
    aircraft = the_aircraft()
    tools = tools_wanted(aircraft) if aircraft else None
    return render(request, "tooling.html", {"tools": tools, "working": tools.working.to_dict() if tools else None})


def _sentence(order: RivetOrder | None) -> str:
    if order is None or (not order.vendors and not order.not_looked_at):
        return "No hole waits for a rivet that has to be ordered."
    lines = sum(len(group.lines) for group in order.vendors)
    what = f"{order.count:,} rivets to order, in {'one line' if lines == 1 else f'{lines} lines'}, for {order.holes:,} holes."
    if order.held:
        rows = len(order.not_looked_at)
        return f"{what} Hold it: {'one row is' if rows == 1 else f'{rows} rows are'} not looked at."
    if order.accepted is not None and order.not_looked_at:
        rows = len(order.not_looked_at)
        blind = "one row is" if rows == 1 else f"{rows} rows are"
        return f"{what} It may leave: {order.accepted.by} accepted that {blind} not looked at."
    return what


urls: list[URLPattern] = [
    path("orders/", orders_screen, name="orders"),
    path("orders/tools/", tooling_screen, name="tooling"),
]
