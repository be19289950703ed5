"""The plan as a list: the next two weeks by person, then by month; every job with its days and what it waits for."""

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
from witnessmark.records.lookups.plan_pages import Month, Pages, pages_of
from witnessmark.web import asked

# Months as they are, until so many jobs are on the page; later ones are a press away.
MONTHS_INSIDE = 240


@login_required
@require_safe
def plan_screen(request: HttpRequest) -> HttpResponse:
    """Show the plan, or say why there is none to show; ?month= opens one, ?all= every one."""
    aircraft = the_aircraft()
    plan = make_plan(aircraft) if aircraft else None
    pages = None
    if aircraft and plan and plan.proved:
        latest = latest_now(aircraft, plan)
        lines = plan_lines(plan, {key: last.by for key, last in latest.items()})
        pages = pages_of(plan, lines, asked.me(request)) if lines else None
    every = "all" in request.GET
    return render(
        request,
        "plan.html",
        {
            "plan": plan,
            "say": finish_sentence(plan) if plan and plan.proved else "There is no plan to show.",
            "bound": bound_sentence(plan) if plan and plan.proved else "",
            "kept": kept_words(plan) if plan else "",
            "due": due_sentences(plan) if plan and plan.proved else [],
            "pages": pages,
            "months": _months(pages, request.GET.get("month", ""), every) if pages else [],
            "every": every,
            "count": len(plan.schedule.entries) if plan else 0,
            "cannot": [(plan.network.by_key[key].what, why) for key, why in plan.schedule.cannot] if plan else [],
        },
    )


def _months(pages: Pages, wanted: str, every: bool) -> list[tuple[Month, bool, bool]]:
    """Each month, whether its jobs are on the page, and whether they stand open."""
    told, jobs = [], 0
    for month in pages.months:
        jobs += len(month.lines)
        asked_for = every or month.key == wanted
        told.append((month, asked_for or jobs <= MONTHS_INSIDE, asked_for))
    return told


urls: list[URLPattern] = [path("plan/", plan_screen, name="plan")]
