"""The plan as a plain table: every job with its start, its end, who does it and what it waits for."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import URLPattern, path
from django.views.decorators.http import require_safe

from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.lookups.latest import latest_now
from witnessmark.records.lookups.plan import (
    bound_sentence,
    due_sentences,
    finish_sentence,
    kept_words,
    make_plan,
    plan_lines,
)

SHOWN = 200


@login_required
@require_safe
def plan_screen(request: HttpRequest) -> HttpResponse:
    """Show the plan, or say why there is none to show."""
    aircraft = the_aircraft()
    plan = make_plan(aircraft) if aircraft else None
    lines = []
    if aircraft and plan and plan.proved:
        latest = latest_now(aircraft, plan)
        lines = plan_lines(plan, {key: last.by for key, last in latest.items()})
    shown = lines if "all" in request.GET else lines[:SHOWN]
    return render(
        request,
        "plan.html",
        {
            "plan": plan,
            "say": finish_sentence(plan) if plan and plan.proved else "There is no plan to show.",
            "bound": bound_sentence(plan) if plan and plan.proved else "",
            "kept": kept_words(plan) if plan else "",
            "due": due_sentences(plan) if plan and plan.proved else [],
            "lines": shown,
            "count": len(lines),
            "more": len(lines) - len(shown),
            "cannot": [(plan.network.by_key[key].what, why) for key, why in plan.schedule.cannot] if plan else [],
        },
    )


urls: list[URLPattern] = [path("plan/", plan_screen, name="plan")]
