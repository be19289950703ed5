"""One job: where it was left, hours, and leaving it open; and the list of all that stand open in the shop."""

import uuid
from datetime import datetime

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from witnessmark.records.actions import open_jobs as acts
from witnessmark.records.actions.jobs import book_hours, say_of_job, take_back_hours
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.day import now, the_aircraft, today
from witnessmark.records.lookups.hours import booked_on
from witnessmark.records.lookups.latest import outside_words
from witnessmark.records.lookups.needs import needs_of
from witnessmark.records.lookups.network import gather
from witnessmark.records.lookups.open_jobs import left_page, open_jobs
from witnessmark.records.lookups.plan import make_plan
from witnessmark.records.lookups.seams import seam_drawn
from witnessmark.records.models import Aircraft, HoursBooked, JobLeft, Place
from witnessmark.web import asked

FORMS = ("leave", "primed", "take_up", "hours", "hours_back", "started", "stuck", "done")


@login_required
@require_safe
def open_jobs_screen(request: HttpRequest) -> HttpResponse:
    """Say how many jobs stand open, the longest left first."""
    aircraft = the_aircraft()
    jobs = open_jobs(aircraft) if aircraft else []
    bare = [job for job in jobs if job.prime_by is not None]
    return render(request, "open_jobs.html", {"jobs": jobs, "bare": bare})


@login_required
@require_http_methods(["GET", "POST"])
def job_screen(request: HttpRequest, key: str) -> HttpResponse:
    """Open on where it was left; a post says what is done with the job."""
    aircraft = the_aircraft()
    if aircraft is None:
        raise Http404("There is no aircraft in the record.")
    if request.method == "POST":
        try:
            _say(request, aircraft, key)
        except Refused as why:
            return asked.refusal(request, why, request.path)
        return redirect(request.path)
    gathered = gather(aircraft)
    job = gathered.network.by_key.get(key)
    page = left_page(aircraft, key)
    if job is None and page is None:
        raise Http404("There is no such job: it is done, or something changed. Open the bench list.")
    about = gathered.about_job(key)
    row = Place.objects.filter(pk=about.row_id).first() if about.row_id else None
    drawn = seam_drawn(aircraft, row.mark, row.side) if row is not None else None
    needs = needs_of(gathered, [key]).get(key, ())
    return render(
        request,
        "job.html",
        {
            "key": key,
            "job": job,
            "about": about,
            "outside": outside_words(aircraft, make_plan(aircraft, gathered), key) if job and job.is_outside else "",
            "page": page,
            "left": page.job if page and page.taken_up is None else None,
            "what": job.what if job else page.job.left.what if page else "",
            "next_hole": drawn.next_hole if drawn else None,
            "row": row,
            "needs": needs,
            "loose": [need.what.partition(",")[0] for need in needs if need.kind == "Bag"],
            "hours": booked_on(aircraft, key),
            "within": acts.PRIME_WITHIN_HOURS,
            "today": today(aircraft),
            "clock": now(aircraft),
            "many_open": len(open_jobs(aircraft)),
            "ids": {form: uuid.uuid4() for form in FORMS},
        },
    )


def _say(request: HttpRequest, aircraft: Aircraft, key: str) -> None:
    by, act_id, what = asked.me(request), asked.act_id(request), request.POST.get("do", "")
    if what in ("started", "stuck", "done"):
        note = request.POST.get("note", "")
        say_of_job(by=by, act_id=act_id, aircraft=aircraft, key=key, status=what, note=note)
    elif what == "hours":
        book_hours(
            by=by, act_id=act_id, aircraft=aircraft, key=key, hours=_figure(request, "hours", "The hours") or 0.0,
            day=asked.day(request, "day", "The day") or today(aircraft), again=request.POST.get("again") == "yes",
        )  # fmt: skip
    elif what == "hours_back":
        last = HoursBooked.objects.filter(
            act__aircraft=aircraft, key=key, pk=asked.whole(request, "booked", "The hours")
        )
        booked = last.select_related("act", "person").first()
        if booked is None:
            raise Refused("These hours are not booked on this job. Nothing was changed. Open the page again.")
        take_back_hours(by=by, act_id=act_id, aircraft=aircraft, booked=booked)
    elif what in ("primed", "take_up"):
        left = JobLeft.objects.filter(act__aircraft=aircraft, key=key).select_related("act").order_by("-id").first()
        if left is None:
            raise Refused("This job was never left open. Nothing was changed.")
        (acts.say_primed if what == "primed" else acts.take_up)(by=by, act_id=act_id, left=left)
    elif what == "leave":
        picture = request.FILES.get("picture")
        acts.leave_open(
            by=by, act_id=act_id, aircraft=aircraft, key=key, leaving=_leaving(request, aircraft),
            picture=(picture.read(), picture.name or "picture") if picture is not None else None,
        )  # fmt: skip
    else:
        raise Refused("The form does not say what happened. Nothing was changed. Open the page again.")


def _leaving(request: HttpRequest, aircraft: Aircraft) -> acts.Leaving:
    said = request.POST
    hole = asked.whole(request, "next_hole", "The next hole")
    return acts.Leaving(
        next_words=said.get("next_words", ""),
        next_hole=hole or None,
        bare_where=said.get("bare_where", ""),
        bare_since=_bare_since(request, aircraft),
        prime_within_hours=_figure(request, "within", "Prime within"),
        primed=said.get("primed") == "yes",
        bare_because=said.get("bare_because", ""),
        bags=[*said.getlist("bag"), *said.get("bags", "").replace(",", ";").split(";")],
        borrowed=said.get("borrowed", "").split(";"),
        lies_at=said.get("lies_at", ""),
        note=said.get("note", ""),
    )


def _bare_since(request: HttpRequest, aircraft: Aircraft) -> datetime | None:
    """A time of this day; nothing typed is now."""
    text = request.POST.get("bare_since", "").strip()
    if not text:
        return None
    try:
        clock = datetime.strptime(text, "%H:%M").time()  # noqa: DTZ007  the shop's own clock, made aware below
    except ValueError:
        raise Refused(f"Bare since: '{text[:20]}' is no time. Nothing was changed. Write it like 14:30.") from None
    since = timezone.make_aware(datetime.combine(today(aircraft), clock))
    if since > now(aircraft):
        raise Refused(f"Bare since {text}: that is still to come. Nothing was changed. Look at the clock.")
    return since


def _figure(request: HttpRequest, name: str, what: str) -> float | None:
    text = request.POST.get(name, "").strip().replace(",", ".")
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        raise Refused(f"{what}: '{text[:20]}' is no number. Nothing was changed.") from None
    if not 0 < value < 10_000:
        raise Refused(f"{what}: {text[:20]} is no such figure. Nothing was changed.")
    return value


urls: list[URLPattern] = [
    path("open/", open_jobs_screen, name="open_jobs"),
    path("job/<path:key>/", job_screen, name="job"),
]
