"""Switching gears: what else to open when a job is stuck; and what the booked hours have taught."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import URLPattern, path
from django.views.decorators.http import require_safe

from witnessmark.records.lookups.day import the_aircraft, today
from witnessmark.records.lookups.learned import booked_hours, earned, finished_jobs, learned_from, promises
from witnessmark.records.lookups.other_work import USUAL_STUCK_DAYS, other
from witnessmark.web.first_hour import nothing_yet


@login_required
@require_safe
def other_work_screen(request: HttpRequest) -> HttpResponse:
    """?stuck= names the job, ?days= for how many working days it is taken to stay stuck."""
    aircraft = the_aircraft()
    if aircraft is None:
        return nothing_yet(request, "There are no jobs on record, so none is stuck.")
    text = request.GET.get("days", "")
    days = int(text) if text.isascii() and text.isdigit() and len(text) < 3 else USUAL_STUCK_DAYS
    found = other(aircraft, request.GET.get("stuck", ""), max(1, min(60, days)))
    choices = [
        (choice, [found.what[key] for key in choice.jobs[:6]], max(0, len(choice.jobs) - 6)) for choice in found.choices
    ]
    return render(
        request, "other_work.html", {"found": found, "choices": choices, "stuck": request.GET.get("stuck", "")}
    )


@login_required
@require_safe
def learned_screen(request: HttpRequest) -> HttpResponse:
    """Say what the hours have taught, what is earned, and what became of promises."""
    aircraft = the_aircraft()
    if aircraft is None:
        return nothing_yet(request, "No hours are on record, so they teach nothing yet.")
    outcomes = finished_jobs(aircraft, booked_hours(aircraft))
    learned = learned_from(outcomes)
    return render(
        request,
        "learned.html",
        {
            "outcomes": outcomes,
            "learned": learned,
            "working": learned.overall.working.to_dict(),
            "earned": earned(aircraft),
            "promises": promises(today(aircraft)),
        },
    )


urls: list[URLPattern] = [
    path("other-work/", other_work_screen, name="other_work"),
    path("learned/", learned_screen, name="learned"),
]
