"""The decision sheet: five choices side by side, and the lead's decision with the figures he had before him."""

import uuid
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.views.decorators.http import require_http_methods

from witnessmark.calc.choices import CHOICES
from witnessmark.records.actions.choices import asked_of, hand_over, reckon_choice, say_shop_hour
from witnessmark.records.actions.condition import decide
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.choices import DecisionSheet, decision_sheet, relied_on, shop_hour_now
from witnessmark.records.lookups.day import the_aircraft, today
from witnessmark.records.lookups.patterns import patterns
from witnessmark.records.lookups.pieces import by_key
from witnessmark.records.models import Act, Piece, Role
from witnessmark.web import asked


@login_required
@require_http_methods(["GET", "POST"])
def decision_screen(request: HttpRequest, key: str) -> HttpResponse:
    """Show the sheet; a post writes down what a choice takes, or decides."""
    piece = by_key(key)
    if piece is None:
        raise Http404(f"No piece has the tag {key}.")
    sheet = decision_sheet(piece)
    typed = {name: text.strip()[:2000] for name, text in request.POST.items() if isinstance(text, str)}
    why, ask_twice, status = "", False, 200
    if request.method == "POST":
        try:
            if typed.get("do") == "reckon":
                kind = typed.get("kind", "")
                given = {what: typed[what] for what in asked_of(kind) if typed.get(what)}
                reckon_choice(by=asked.me(request), act_id=asked.act_id(request), piece=piece, kind=kind, typed=given)
                return redirect("decision", piece.key)
            if typed.get("do") == "hour":
                _shop_hour(request, piece, typed)
                return redirect("decision", piece.key)
            if typed.get("do") != "decide":
                raise Refused("The form says nothing that can be done. Nothing was changed.")
            if typed.get("kind") == "scrap" and typed.get("reason") and typed.get("scrap_twice") != "yes":
                ask_twice = asked.me(request).role == Role.LEAD
            if not ask_twice:
                _decide(request, piece, sheet, typed)
                return redirect("decision", piece.key)
            status = 422
        except NotAllowed as refused:
            return asked.refusal(request, refused, request.path)
        except Refused as refused:
            why, status = str(refused), 422
    return render(request, "decision.html", _page(request, sheet, typed, why, ask_twice=ask_twice), status=status)


def _shop_hour(request: HttpRequest, piece: Piece, typed: dict[str, str]) -> None:
    since = asked.day(request, "since", "The day")
    if since is None:
        raise Refused("The day is missing. Nothing was changed. Say from which day that holds.")
    say_shop_hour(
        by=asked.me(request),
        act_id=asked.act_id(request),
        aircraft=piece.aircraft,
        typed=typed.get("hour", ""),
        since=since,
    )


def _decide(request: HttpRequest, piece: Piece, sheet: DecisionSheet, typed: dict[str, str]) -> None:
    act_id = asked.act_id(request)
    seen_now = typed.get("sheet") == sheet.sha256 or Act.objects.filter(pk=act_id).exists()
    if asked.me(request).role == Role.LEAD and not seen_now:
        raise Refused(
            "A figure has changed since you saw the sheet. Nothing was changed. Look at it again, then decide."
        )
    decide(
        by=asked.me(request),
        act_id=act_id,
        piece=piece,
        kind=typed.get("kind", ""),
        reason=typed.get("reason", ""),
        scrap_twice=typed.get("scrap_twice") == "yes",
        sheet=sheet.values(),
        before_engineering=typed.get("before_engineering") == "yes",
    )


def _page(
    request: HttpRequest, sheet: DecisionSheet, typed: dict[str, str], why: str, *, ask_twice: bool
) -> dict[str, Any]:
    forms = []
    for kind in CHOICES:
        fields = []
        for what, (words, _) in asked_of(kind).items():
            figure = sheet.figures.get((kind, what))
            again = typed.get(what, "") if typed.get("do") == "reckon" and typed.get("kind") == kind else ""
            fields.append((what, words, again or (figure.typed if figure else "")))
        if fields:
            forms.append(
                (kind, fields, bool(why) and typed.get("do") == "reckon" and typed.get("kind") == kind, uuid.uuid4())
            )
    newest = sheet.decision
    return {
        "sheet": sheet,
        "piece": sheet.piece,
        "rows": sheet.choices.rows(),
        "choices": CHOICES,
        "forms": forms,
        "typed": typed,
        "why": why,
        "ask_twice": ask_twice,
        "frozen": relied_on(newest) if newest else None,
        "working": sheet.choices.working.to_dict(),
        "hour": shop_hour_now(sheet.piece.aircraft),
        "hour_id": uuid.uuid4(),
        "day": today(sheet.piece.aircraft),
        "may_decide": asked.me(request).role == Role.LEAD,
        "may_write": asked.me(request).may_write,
        "act_id": uuid.uuid4(),
    }


@login_required
@require_http_methods(["GET", "POST"])
def patterns_screen(request: HttpRequest) -> HttpResponse:
    """The originals kept as patterns; the lead says when the aircraft is handed over."""
    aircraft = the_aircraft()
    if request.method == "POST":
        try:
            if aircraft is None:
                raise Refused("There is no aircraft in the record. Nothing was changed.")
            day = asked.day(request, "day", "The day")
            if day is None:
                raise Refused("The day is missing. Nothing was changed. Say when it was handed over.")
            hand_over(by=asked.me(request), act_id=asked.act_id(request), aircraft=aircraft, day=day)
        except Refused as refused:
            return asked.refusal(request, refused, request.path)
        return redirect("patterns")
    context = {
        "kept": patterns(aircraft),
        "machine": aircraft,
        "day": today(aircraft),
        "may_decide": asked.me(request).role == Role.LEAD,
        "act_id": uuid.uuid4(),
    }
    return render(request, "patterns.html", context)


urls: list[URLPattern] = [
    path("decide/<str:key>/", decision_screen, name="decision"),
    path("patterns/", patterns_screen, name="patterns"),
]
