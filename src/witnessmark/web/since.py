"""Since the last time: what happened, ticked line by line, looked at as it would read, and sent as a copy with a link."""

import contextlib
import uuid
from datetime import timedelta
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path, reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from witnessmark.calc.since import RULE, TYPED, WITHHELD, said
from witnessmark.records.actions.copies import USUAL_DAYS, end_copy, gathered, make_copy
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.copies import Report, Ticks, content, given, warnings
from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.lookups.since import SECTIONS
from witnessmark.records.models import Aircraft, Role, SentCopy
from witnessmark.web import asked
from witnessmark.web.copy_page import drawn, paper_answer
from witnessmark.web.first_hour import nothing_yet

TICKED = ("lines", "words", "pictures", "captions", "shown")


@login_required
@require_http_methods(["GET", "POST"])
def since_screen(request: HttpRequest) -> HttpResponse:
    """Show what could be told; a post looks at the copy, goes back to the ticks, makes it, or ends a link."""
    aircraft = the_aircraft()
    if aircraft is None:
        return nothing_yet(request, "Nothing is on record yet, so there is nothing to tell of.")
    if request.method == "POST":
        do = {"look": _look, "change": _change, "make": _make, "end": _end}.get(request.POST.get("do", ""))
        back = f"{reverse('since')}?for={request.POST.get('for', 'owner')}&from={request.POST.get('from', '')}"
        try:
            if do is None:
                raise Refused("The form says nothing that can be done here. Nothing was changed.")
            return do(request, aircraft)
        except Refused as why:
            if request.POST.get("do") == "make" and type(why) is Refused:
                with contextlib.suppress(Refused):  # the ticks stay: only what was wrong is said anew
                    return _look(request, aircraft, refused=str(why))
            return asked.refusal(request, why, back)
    said_day, refused = request.GET.get("from", "").strip(), ""
    for_whom = request.GET.get("for", "owner")
    try:
        told = gathered(aircraft, for_whom, asked.a_day(said_day, "From which day"))
    except Refused as why:
        refused, for_whom = str(why), for_whom if for_whom in ("owner", "public") else "owner"
        told = gathered(aircraft, for_whom, None)
    return _ticking(request, told, told.first_ticks(), refused=refused)


def _ticking(request: HttpRequest, told: Report, ticks: Ticks, refused: str = "") -> HttpResponse:
    """Draw the lines and pictures with their ticks."""
    shown = ticks.shown if told.public else {TYPED, *WITHHELD}
    sections = [
        (
            head,
            [
                (line, said(line.parts, shown), line.key in ticks.lines, line.key in ticks.words)
                for line in told.lines
                if line.section == name
            ],
        )
        for name, head in SECTIONS.items()
    ]
    pairs = [
        (
            pair,
            [
                (
                    one,
                    said(told.caption(one, ticks), shown | ({TYPED} if one.photo in ticks.captions else set())),
                    one.photo in ticks.pictures,
                    one.photo in ticks.captions,
                )
                for one in pair.pictures
            ],
        )
        for pair in told.pictures.pairs
    ]
    return render(
        request,
        "since.html",
        {
            "told": told,
            "refused": refused,
            "sections": [(head, lines) for head, lines in sections if lines],
            "pairs": pairs,
            "rule": RULE,
            "withheld": [(kind, words, kind in ticks.shown) for kind, words in WITHHELD.items()],
            "given": [(each, uuid.uuid4()) for each in given(told.aircraft)],
            "may_send": asked.me(request).role == Role.LEAD,
        },
        status=422 if refused else 200,
    )


def _read(request: HttpRequest, aircraft: Aircraft) -> tuple[Report, Ticks]:
    """Read the readers, the day and the ticks of a form."""
    day = asked.day(request, "from", "From which day")
    told = gathered(aircraft, request.POST.get("for", ""), day)
    ticks = Ticks(**{name: frozenset(request.POST.getlist(name)) for name in TICKED})
    return told, ticks


def _change(request: HttpRequest, aircraft: Aircraft) -> HttpResponse:
    told, ticks = _read(request, aircraft)
    return _ticking(request, told, ticks)


def _look(request: HttpRequest, aircraft: Aircraft, refused: str = "") -> HttpResponse:
    """Show the copy as its readers would see it, and what in it is withheld."""
    told, ticks = _read(request, aircraft)
    made = content(told, ticks)
    return render(
        request,
        "since_look.html",
        {
            "told": told,
            "refused": refused,
            **drawn(made, lambda _, sha256: reverse("photo", args=[sha256, 800])),
            "empty": not made["sections"] and not made["pictures"],
            "warned": warnings(told, ticks),
            "ticks": [(name, value) for name in TICKED for value in sorted(getattr(ticks, name))],
            "act_id": uuid.uuid4(),
            "usual_days": USUAL_DAYS,
            "may_send": asked.me(request).role == Role.LEAD,
        },
        status=422 if refused else 200,
    )


def _make(request: HttpRequest, aircraft: Aircraft) -> HttpResponse:
    told, ticks = _read(request, aircraft)
    token, copy = make_copy(
        by=asked.me(request),
        act_id=asked.act_id(request),
        aircraft=aircraft,
        for_whom=told.for_whom,
        since=told.days.since,
        ticks=ticks,
        lasts=timedelta(days=asked.whole(request, "days", "Days")),
        knowing=request.POST.get("knowing") == "yes",
    )
    link = request.build_absolute_uri(reverse("copy", args=[token]))
    return render(request, "since_made.html", {"copy": copy, "link": link})


def _end(request: HttpRequest, aircraft: Aircraft) -> HttpResponse:
    end_copy(by=asked.me(request), act_id=asked.act_id(request), copy=_copy(request.POST.get("copy", "")))
    return redirect(f"{reverse('since')}#given")


def _copy(number: str) -> SentCopy:
    found = (
        SentCopy.objects.filter(pk=int(number)).first()
        if number.isascii() and number.isdigit() and len(number) < 10
        else None
    )
    if found is None:
        raise Refused("There is no such copy. Nothing was changed.")
    return found


@login_required
@never_cache
@require_safe
def kept_copy(request: HttpRequest, number: int, form: str = "") -> HttpResponse:
    """Show a copy as it was sent, on the screen, as PDF or as a folder."""
    found = SentCopy.objects.filter(pk=number).select_related("act__person").first()
    if found is None:
        raise Http404("There is no such copy.")
    if form:
        return paper_answer(found, form)
    shown: dict[str, Any] = drawn(found.content, lambda _, sha256: reverse("photo", args=[sha256, 800]))
    return render(request, "since_kept.html", {"copy": found, **shown})


urls: list[URLPattern] = [
    path("since/", since_screen, name="since"),
    path("since/copy/<int:number>/", kept_copy, name="kept_copy"),
    path("since/copy/<int:number>/pdf/", kept_copy, {"form": "pdf"}, name="kept_copy_pdf"),
    path("since/copy/<int:number>/pictures/", kept_copy, {"form": "zip"}, name="kept_copy_pictures"),
]
