"""On the bench: what each mechanic can do now and why, what waits and for what, what to order or send."""

import uuid
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path, reverse
from django.views.decorators.http import require_http_methods

from witnessmark.records.actions.jobs import say_of_job, take_back_word
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.bench import BenchToday, DoNow, Mechanic, bench_today
from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.lookups.open_jobs import OpenJob, last_word, open_jobs
from witnessmark.records.models import Aircraft, Job, Person, Role
from witnessmark.web import asked
from witnessmark.web.first_hour import first_page, first_steps

TO_SEND_SHOWN = 8
SOON_WORKING_DAYS = 20


@login_required
@require_http_methods(["GET", "POST"])
def bench_screen(request: HttpRequest) -> HttpResponse:
    """Speak of the day; a post says how a job stands."""
    aircraft = the_aircraft()
    if aircraft is None:
        return first_page(request)
    if request.method == "POST":
        key = request.POST.get("key", "")
        try:
            if "take_back" in request.POST:
                _take_back(request, aircraft)
                return redirect("bench")
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
    me = asked.me(request)
    left = open_jobs(aircraft)
    word = last_word(aircraft, me)
    return render(
        request,
        "bench.html",
        {
            "bench": bench,
            "asks": bench.asks_of(me),
            "left": left,
            "left_keys": {job.left.key for job in left},
            "bare": [job for job in left if job.prime_by is not None],
            "word": word,
            "word_what": _what(aircraft, word.key) if word else "",
            "word_id": uuid.uuid4(),
            **_laid_out(bench, me.pk),
            "do_now": _bare_first(bench, left, me) or _do_now(bench, me.pk),
            **(first_steps() if not (left or bench.to_send or any(m.jobs for m in bench.mechanics)) else {}),
        },
    )


def _what(aircraft: Aircraft, key: str) -> str:
    """The job in words, also when it is done and gone from the plan."""
    job = Job.objects.filter(aircraft=aircraft, key=key).first()
    return job.what.rstrip(".") if job else "the job"


def _take_back(request: HttpRequest, aircraft: Aircraft) -> None:
    word = last_word(aircraft, asked.me(request))
    if word is None or str(word.pk) != request.POST["take_back"]:
        raise Refused("Something was said since. Nothing was changed. Open the bench list again.")
    take_back_word(by=asked.me(request), act_id=asked.act_id(request), aircraft=aircraft, word=word)


def _do_now(bench: BenchToday, me: int) -> DoNow | None:
    """His own best job first for whoever is at the bench; the shop's best, with its name, for all others."""
    mine = next((m for m in bench.mechanics if m.person.pk == me and m.here_today and m.person.role != Role.LEAD), None)
    if bench.do_now is None or mine is None or (bench.do_now.whose is not None and bench.do_now.whose.pk == me):
        return bench.do_now
    job = next((j for j in mine.jobs if j.status != "stuck" and j.starts_on == bench.plan.shop.today), None)
    if job is None:
        return bench.do_now
    others = bench.do_now.whose.name if bench.do_now.whose else "whoever sends it"
    shop = f"For the shop most hangs on this, for {others}: {bench.do_now.say}"
    return DoNow(job.what, (f"{job.why} {job.hours_words}", shop), f"#person-{me}", mine.person)


def _bare_first(bench: BenchToday, left: list[OpenJob], me: Person) -> DoNow | None:
    """Bare metal with less than a day to run goes before all planned work, for the lead and all who can do that job."""
    pressing = [job for job in left if job.prime_now and _may_do(bench, job, me)]
    if not pressing:
        return None
    first = min(pressing, key=lambda job: job.prime_by or job.moment)
    after = _do_now(bench, me.pk)
    then: tuple[str, ...] = ()
    if after is not None:
        whose = f", for {after.whose.name}" if after.whose and after.whose.pk != me.pk else ""
        then = (f"After that{whose}: {after.say}",)
    link = reverse("job", args=[first.left.key])
    return DoNow(first.prime_now, (f"{first.left.what.rstrip('.')}. {first.bare_sentence}", *then), link)


def _may_do(bench: BenchToday, job: OpenJob, me: Person) -> bool:
    if not me.may_write:
        return False
    if me.role == Role.LEAD or job.left.by_id == me.pk:
        return True
    planned = bench.plan.network.by_key.get(job.left.key)
    crafts = next((person.crafts for person in bench.plan.shop.people if person.name == me.name), frozenset())
    return planned is not None and planned.craft.casefold() in {"", *(craft.casefold() for craft in crafts)}


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
