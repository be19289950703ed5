"""On the bench: what each mechanic can do now and why, what waits and for what, what to order or send."""

import uuid
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.views.decorators.http import require_http_methods

from witnessmark.records.actions.jobs import say_of_job
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.bench import BenchToday, Mechanic, bench_today
from witnessmark.records.lookups.day import the_aircraft
from witnessmark.web import asked

TO_SEND_SHOWN = 8
SOON_WORKING_DAYS = 20


@login_required
@require_http_methods(["GET", "POST"])
def bench_screen(request: HttpRequest) -> HttpResponse:
    """Speak of the day; a post says how a job stands."""
    aircraft = the_aircraft()
    if aircraft is None:
        return render(request, "bench.html", {"empty": True})
    if request.method == "POST":
        key = request.POST.get("key", "")
        try:
            say_of_job(
                by=asked.me(request),
                act_id=asked.act_id(request),
                aircraft=aircraft,
                key=key,
                status=request.POST.get("status", ""),
                note=request.POST.get("note", ""),
            )
        except Refused as why:
            return asked.refusal(request, why, "/")
        return redirect("bench")
    bench = bench_today(aircraft)
    return render(request, "bench.html", {"bench": bench, **_laid_out(bench, asked.me(request).pk)})


def _laid_out(bench: BenchToday, me: int) -> dict[str, Any]:
    """The one who is signed in stands first; on a phone the others are folded under their names."""
    here = [m for m in bench.mechanics if m.here_today and (m.jobs or m.person.craft)]
    soon = [send for send in bench.to_send if send.slack_days <= SOON_WORKING_DAYS or send.held][:TO_SEND_SHOWN]
    here.sort(key=lambda m: m.person.pk != me)
    return {
        "people": [(m, m.person.pk == me or not any(x.person.pk == me for x in here), _numbered(m, me)) for m in here],
        "away": [m for m in bench.mechanics if not m.here_today and m.jobs],
        "to_send": soon,
        "more_to_send": len(bench.to_send) - len(soon),
        "today": bench.plan.shop.today,
    }


def _numbered(mechanic: Mechanic, me: int) -> list[dict[str, Any]]:
    """Two jobs for each, and all that are known for the one who is signed in."""
    jobs = mechanic.jobs if mechanic.person.pk == me else mechanic.jobs[:2]
    return [
        {"n": n, "job": job, "started_id": uuid.uuid4(), "stuck_id": uuid.uuid4(), "done_id": uuid.uuid4()}
        for n, job in enumerate(jobs, 1)
    ]


urls: list[URLPattern] = [path("", bench_screen, name="bench")]
