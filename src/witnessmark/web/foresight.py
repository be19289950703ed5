"""Forecast, why it waits, what if, and the timeline: what the plan says of days to come."""

import uuid
from datetime import date, timedelta
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.views.decorators.http import require_http_methods, require_safe

from witnessmark.calc.plan.what_if import Change
from witnessmark.records.actions.forecast import keep_what_if
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.by_hand import jobs_called
from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.lookups.forecast import causes, kept_what_ifs, known_forecast, what_if, why
from witnessmark.records.lookups.latest import outside_words
from witnessmark.records.lookups.plan import COUNTED, Plan, make_plan
from witnessmark.records.lookups.sending import order_or_send
from witnessmark.records.lookups.timeline import lanes
from witnessmark.records.models import Role
from witnessmark.records.work import enqueue
from witnessmark.web import asked
from witnessmark.web.foresight_drawing import curve, timeline

KINDS = {
    "vendor_late": "A vendor is later with everything",
    "person_away": "Somebody is away",
    "job_late": "A job or decision comes later",
    "bench_more": "One more bench or fixture",
}
# Spans of the timeline: two weeks can be read on a phone.
SPANS, MOST_WEEKS = (2, 8), 156
LEAVING_SHOWN = 12
NUMBER_OF_WEEKS = {2: "Two", 8: "Eight"}


def _plan() -> Plan | None:
    aircraft = the_aircraft()
    plan = make_plan(aircraft) if aircraft else None
    return plan if plan is not None and plan.proved else None


@login_required
@require_http_methods(["GET", "POST"])
def forecast_screen(request: HttpRequest) -> HttpResponse:
    """Show the forecast as it was last worked out; a post asks for a new one."""
    aircraft, plan = the_aircraft(), _plan()
    if request.method == "POST":
        if asked.me(request).role == Role.OWNER:
            return asked.refusal(request, Refused("You look on; the shop works the forecast out."), "/forecast/")
        if aircraft is not None:
            enqueue("foresee", str(aircraft.pk), {"aircraft": aircraft.pk})
        return redirect("forecast")
    known = known_forecast(aircraft, plan) if aircraft and plan and plan.schedule.entries else None
    told = known.outlook if known else None
    weeks = (
        {name: round((getattr(told.end, name) - told.today).days / 7) for name in ("half", "four_in_five")}
        if told
        else {}
    )
    return render(
        request,
        "forecast.html",
        {
            "told": told,
            "fresh": known.fresh if known else False,
            "weeks": weeks,
            "curve": curve(told) if told else None,
            "of_ten": round(told.met_by_plan * 10) if told else 0,
            "hangs_on": [(one, round(one.share * 10)) for one in told.hangs_on] if told else [],
            "planned": bool(plan and plan.schedule.entries),
            "leaving": order_or_send(plan, aircraft).leaving[:LEAVING_SHOWN] if told and plan and aircraft else (),
        },
    )


@login_required
@require_safe
def why_screen(request: HttpRequest) -> HttpResponse:
    """Say why a job waits, or the last of all."""
    plan = _plan()
    try:
        waits = why(plan, request.GET.get("job", "")) if plan else None
    except KeyError:
        raise Http404("There is no open job of that key.") from None
    entry = plan.schedule.by_key.get(waits.key) if plan and waits else None
    typed = request.GET.get("find", "")[:100]
    aircraft = the_aircraft()
    outside = outside_words(aircraft, plan, waits.key) if aircraft and plan and waits else ""
    return render(
        request,
        "why.html",
        {
            "waits": waits,
            "entry": entry,
            "causes": causes(plan, waits) if plan and waits else [],
            "outside": outside,
            "typed": typed,
            "found": jobs_called(plan, typed) if plan else (),
        },
    )


@login_required
@require_http_methods(["GET", "POST"])
def what_if_screen(request: HttpRequest) -> HttpResponse:
    """Show the plan with something changed beside the plan that is; a post keeps what was tried."""
    aircraft, plan = the_aircraft(), _plan()
    said = request.POST if request.method == "POST" else request.GET
    change, fault, told = None, "", None
    kind, which, days = said.get("kind", ""), said.get("which", "").strip(), said.get("days", "").strip() or "0"
    if kind:
        if kind not in KINDS or not days.isascii() or not days.isdigit() or len(days) > 4:
            fault = f"Days: '{days[:20]}' is no number of days." if kind in KINDS else "Choose what happens."
        else:
            change = Change(kind, which, int(days))  # type: ignore[arg-type]
    if request.method == "POST":
        try:
            if change is None or plan is None or aircraft is None:
                raise Refused(f"{fault or 'There is no plan.'} Nothing was kept.")
            keep_what_if(
                by=asked.me(request), act_id=asked.act_id(request), aircraft=aircraft, plan=plan, change=change
            )
        except Refused as refused:
            return asked.refusal(request, refused, "/what-if/")
        return redirect("what_if")
    if change is not None and plan is not None:
        try:
            told = what_if(plan, change)
        except ValueError as cannot:
            fault = f"{str(cannot)[:1].upper()}{str(cannot)[1:]}. Nothing was tried."
    return render(
        request,
        "what_if.html",
        {
            "told": told,
            "fault": fault,
            "kinds": KINDS,
            "kind": kind,
            "which": which,
            "days": days if kind else "20",
            "known": _known(plan),
            "kept": kept_what_ifs(aircraft) if aircraft else [],
            "act_id": uuid.uuid4(),
            "planned": plan is not None,
            "may_keep": asked.me(request).role != Role.OWNER,
        },
    )


def _known(plan: Plan | None) -> list[tuple[str, str]]:
    """Names that can be written, with what they are."""
    if plan is None:
        return []
    found: list[tuple[str, str]] = [
        (vendor, "vendor") for vendor in sorted({j.vendor for j in plan.network.jobs if j.vendor})
    ]
    found += [(person.name, "person") for person in plan.shop.people]
    found += [(bench, "bench") for bench in sorted({j.bench for j in plan.network.jobs if j.bench})]
    return found + [(job.key, job.what) for job in plan.network.jobs]


@login_required
@require_safe
def timeline_screen(request: HttpRequest) -> HttpResponse:
    """Draw people, benches and vendors as lanes, to scale: ?weeks= from ?from= on."""
    plan = _plan()
    shown: dict[str, Any] = {"drawn": None}
    if plan and plan.schedule.entries:
        whole = (plan.schedule.finish_date - plan.shop.today).days // 7 + 1
        text = request.GET.get("weeks", "")
        weeks = min(int(text), MOST_WEEKS) if text.isascii() and text.isdigit() and 0 < len(text) < 4 else SPANS[0]
        weeks = max(1, weeks)
        try:
            first = date.fromisoformat(request.GET.get("from", ""))
        except ValueError:
            first = plan.shop.today
        first = min(max(first, plan.shop.today), plan.schedule.finish_date)
        step = timedelta(weeks=weeks)
        shown = {
            "drawn": timeline(lanes(plan, first, weeks * 7)),
            "weeks": weeks,
            "spans": [(n, f"{NUMBER_OF_WEEKS[n]} weeks") for n in SPANS] + [(min(whole, MOST_WEEKS), "All of it")],
            "before": max(plan.shop.today, first - step) if first > plan.shop.today else None,
            "after": first + step if first + step <= plan.schedule.finish_date else None,
            "counted": COUNTED,
        }
    return render(request, "timeline.html", shown)


urls: list[URLPattern] = [
    path("forecast/", forecast_screen, name="forecast"),
    path("why/", why_screen, name="why"),
    path("what-if/", what_if_screen, name="what_if"),
    path("timeline/", timeline_screen, name="timeline"),
]
