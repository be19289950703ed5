"""The plan by hand: who does a job and when, what it waits for, jobs written down, who is kept in work without gaps."""

import uuid

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path, reverse
from django.views.decorators.http import require_http_methods

from witnessmark.records.actions import plan_by_hand as acts
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.by_hand import by_hand, jobs_called
from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.lookups.fixed import newest_fixed
from witnessmark.records.lookups.latest import outside_words
from witnessmark.records.lookups.plan import make_plan
from witnessmark.records.models import Aircraft, Bench, Person, Role, Vendor, Zone
from witnessmark.web import asked
from witnessmark.web.first_hour import nothing_yet


@login_required
@require_http_methods(["GET", "POST"])
def by_hand_screen(request: HttpRequest, key: str) -> HttpResponse:
    """Show one job as it is laid out; a post fixes, ties, strikes out or takes back."""
    aircraft = the_aircraft()
    if aircraft is None:
        raise Http404("There is no aircraft in the record.")
    if request.method == "POST":
        try:
            gone = _say(request, aircraft, key)
        except Refused as why:
            return asked.refusal(request, why, request.path)
        return redirect("plan") if gone else redirect(request.path)
    plan = make_plan(aircraft)
    if key not in plan.network.by_key:
        raise Http404("There is no such job: it is done, or something changed. Open the plan.")
    typed = request.GET.get("find", "")[:100]
    shown = by_hand(plan, aircraft, key)
    tied = {each.key for each in shown.before}
    found = [each for each in jobs_called(plan, typed, key) if each.key not in tied]
    return render(
        request,
        "by_hand.html",
        {
            "key": key,
            "at": shown,
            "outside": outside_words(aircraft, plan, key),
            "typed": typed,
            "found": found,
            "act_id": uuid.uuid4(),
        },
    )


def _say(request: HttpRequest, aircraft: Aircraft, key: str) -> bool:
    """Do what the form says; True where the job is gone by it."""
    by, act_id, said = asked.me(request), asked.act_id(request), request.POST
    what = said.get("do", "")
    fixed = newest_fixed(aircraft).get(key)
    person, day = (fixed.person, fixed.day) if fixed else (None, None)
    if what == "give":
        person = Person.objects.filter(pk=asked.whole(request, "person", "The person")).first()
        if person is None:
            raise Refused("Nobody was chosen. Nothing was changed. Open the page again.")
        acts.fix_job(by=by, act_id=act_id, aircraft=aircraft, key=key, person=person, day=day)
    elif what == "day":
        day = asked.day(request, "day", "The day")
        if day is None:
            raise Refused("No day was chosen. Nothing was changed. Choose one.")
        acts.fix_job(by=by, act_id=act_id, aircraft=aircraft, key=key, person=person, day=day)
    elif what == "free":
        acts.fix_job(by=by, act_id=act_id, aircraft=aircraft, key=key)
    elif what in ("tie", "untie"):
        acts.tie_jobs(
            by=by, act_id=act_id, aircraft=aircraft, before=said.get("before", ""), after=key, stands=what == "tie",
            because=said.get("because", ""),
        )  # fmt: skip
    elif what == "strike":
        name = key.removeprefix("hand:").removesuffix(":do")
        acts.strike_job(by=by, act_id=act_id, aircraft=aircraft, name=name)
        return True
    else:
        raise Refused("The form does not say what to do. Nothing was changed. Open the page again.")
    return False


@login_required
@require_http_methods(["GET", "POST"])
def write_job_screen(request: HttpRequest) -> HttpResponse:
    """Write down a job that no part, row or finding says by itself; ?after= names the job it comes after."""
    aircraft = the_aircraft()
    if aircraft is None:
        return nothing_yet(request, "There is no aircraft on record, so there is no plan to write a job into.")
    if request.method == "POST":
        try:
            told = acts.write_job(
                by=asked.me(request), act_id=asked.act_id(request), aircraft=aircraft, job=_written(request)
            )
        except Refused as why:
            return asked.refusal(request, why, request.get_full_path())
        return redirect("by_hand", told["job"])
    plan = make_plan(aircraft)
    after = plan.network.by_key.get(request.GET.get("after", ""))
    return render(
        request,
        "write_job.html",
        {
            "after": after,
            "crafts": sorted({craft for person in plan.shop.people for craft in person.crafts}),
            "benches": Bench.objects.order_by("name"),
            "zones": Zone.objects.filter(aircraft=aircraft).order_by("number"),
            "act_id": uuid.uuid4(),
        },
    )


def _written(request: HttpRequest) -> acts.Written:
    said = request.POST
    likely = _hours(request, "likely", "The hours")
    least = _hours(request, "least", "At least")
    most = _hours(request, "most", "At most")
    return acts.Written(
        what=said.get("what", ""),
        craft=said.get("craft", ""),
        hours_likely=likely or 0.0,
        # What is not said stands at half and at twice the likely hours; the screen says so.
        hours_least=least if least is not None else (likely or 0.0) / 2,
        hours_most=most if most is not None else (likely or 0.0) * 2,
        bench=said.get("bench", ""),
        zone=said.get("zone", ""),
        after=[said["after"]] if said.get("after") else [],
        not_before=asked.day(request, "not_before", "Not before"),
        due=asked.day(request, "due", "Due"),
        needs=[each.strip() for each in said.get("needs", "").split(";") if each.strip()],
        note=said.get("note", ""),
    )


def _hours(request: HttpRequest, name: str, what: str) -> float | None:
    text = request.POST.get(name, "").strip().replace(",", ".")
    if not text:
        return None
    try:
        return float(text)
    except ValueError:
        raise Refused(f"{what}: '{text[:20]}' is no number of hours. Nothing was changed.") from None


@login_required
@require_http_methods(["GET", "POST"])
def without_gaps_screen(request: HttpRequest) -> HttpResponse:
    """Say who is kept in work without gaps: people of the shop and craftsmen outside."""
    if request.method == "POST":
        kind, _, number = request.POST.get("who", "").partition(":")
        model: type[Person] | type[Vendor] = Vendor if kind == "vendor" else Person
        try:
            who = model.objects.filter(pk=int(number) if number.isascii() and number.isdigit() else 0).first()
            if who is None:
                raise Refused("Nobody was chosen. Nothing was changed. Open the page again.")
            acts.say_continuous(
                by=asked.me(request), act_id=asked.act_id(request), who=who,
                continuous=request.POST.get("continuous") == "yes",
            )  # fmt: skip
        except Refused as why:
            return asked.refusal(request, why, reverse("without_gaps"))
        return redirect("without_gaps")
    people = Person.objects.filter(is_active=True).exclude(role__in=(Role.OWNER, Role.CRAFTSMAN)).order_by("name")
    return render(
        request,
        "without_gaps.html",
        {"people": people, "vendors": Vendor.objects.order_by("name"), "act_id": uuid.uuid4()},
    )


urls: list[URLPattern] = [
    path("by-hand/<path:key>/", by_hand_screen, name="by_hand"),
    path("write-job/", write_job_screen, name="write_job"),
    path("without-gaps/", without_gaps_screen, name="without_gaps"),
]
