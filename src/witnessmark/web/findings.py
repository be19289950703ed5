"""Findings on the phone: seen with a picture and a ring, measured when clean; all of them by zone."""

import re
import uuid
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path, reverse
from django.views.decorators.http import require_http_methods, require_safe

from witnessmark.calc.surface.finding_kinds import KINDS, figures_of
from witnessmark.records.actions.findings import (
    Ring,
    ask_engineering,
    draw_ring,
    engineering_answers,
    measure_finding,
    see_finding,
)
from witnessmark.records.actions.photographs import photograph
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.day import the_aircraft, today
from witnessmark.records.lookups.findings import FindingSeen, finding_called, findings_seen
from witnessmark.records.lookups.hidden_damage import reserve_of
from witnessmark.records.lookups.pieces import by_key
from witnessmark.records.models import Finding, Photo, Piece, Place, Zone
from witnessmark.records.photo_store import keep_bytes
from witnessmark.web import asked

RING = ("ring_across", "ring_down", "ring_half_wide", "ring_half_high")
TYPED = ("kind", "what", "where_words", "opened", *RING)


def ring_of(request: HttpRequest) -> Ring | None:
    """Read the ring's four figures, in hundredths of the picture; all empty is no ring."""
    texts = [request.POST.get(name, "").strip().replace(",", ".") for name in RING]
    if not any(texts):
        return None
    if not all(re.fullmatch(r"-?\d{1,3}(\.\d{1,6})?", text) for text in texts):
        bad = next((text for text in texts if not re.fullmatch(r"-?\d{1,3}(\.\d{1,6})?", text)), "")
        raise Refused(f"The ring: '{bad[:20]}' is no number between 0 and 100. Nothing was changed. Draw it again.")
    return Ring(*(float(text) / 100 for text in texts))


def _picture(request: HttpRequest) -> Photo | None:
    """The picture that came with the form, kept at once; or the one kept when the form came before."""
    if not asked.me(request).may_write:
        raise NotAllowed(f"{asked.me(request).name} may look, not add. Nothing was changed.")
    sent = request.FILES.get("picture")
    if sent is not None:
        return keep_bytes(sent.read(), sent.name or "picture")
    return Photo.objects.filter(pk=request.POST.get("kept", "")[:64]).first()


def _subject(on: str, key: str) -> tuple[Piece | None, Place | None, Zone | None, str]:
    piece = by_key(key) if on == "piece" else None
    place = (
        Place.objects.filter(pk=int(key)).select_related("aircraft").first() if on == "place" and _number(key) else None
    )
    zone = Zone.objects.filter(aircraft=the_aircraft(), number=key).first() if on == "zone" else None
    named = next((thing for thing in (piece, place, zone) if thing is not None), None)
    if named is None:
        raise Http404(f"There is no {on} {key} to find something on.")
    return piece, place, zone, str(named)


def _number(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) < 10


@login_required
@require_http_methods(["GET", "POST"])
def see_screen(request: HttpRequest, on: str, key: str) -> HttpResponse:
    """Take the picture, draw the ring, tap the kind, say it in a few words: one page, one word to press."""
    piece, place, zone, name = _subject(on, key)
    typed, why, photo, status = {}, "", None, 200
    if request.method == "POST":
        typed = {each: request.POST.get(each, "").strip()[:500] for each in TYPED}
        try:
            photo = _picture(request)
            told = see_finding(
                by=asked.me(request),
                act_id=asked.act_id(request),
                seen_on=today(the_aircraft()),
                kind=typed["kind"],
                what=typed["what"],
                piece=piece,
                place=place,
                zone=zone,
                photo=photo,
                ring=ring_of(request),
                where_words=typed["where_words"],
                opened={"yes": True, "no": False}.get(typed["opened"]),
            )
            return redirect("finding", told["finding"])
        except NotAllowed as refused:
            return asked.refusal(request, refused, request.path)
        except Refused as refused:
            why, status = str(refused), 422
    context = {
        "name": name,
        "why": why,
        "typed": typed,
        "kept": photo,
        "kinds": KINDS.values(),
        "may_write": asked.me(request).may_write,
        "act_id": uuid.uuid4(),
    }
    return render(request, "see_finding.html", context, status=status)


@login_required
@require_http_methods(["GET", "POST"])
def finding_screen(request: HttpRequest, number: str) -> HttpResponse:
    """One finding: its pictures with their rings, what was measured, what it says, whom to ask."""
    seen = finding_called(the_aircraft(), number)
    if seen is None:
        raise Http404(f"There is no finding {number}.")
    typed: dict[str, str] = {}
    why, status = "", 200
    if request.method == "POST":
        typed = {name: text.strip()[:500] for name, text in request.POST.items() if isinstance(text, str)}
        try:
            _say(request, seen.finding, typed)
            return redirect("finding", seen.finding.number)
        except NotAllowed as refused:
            return asked.refusal(request, refused, request.path)
        except Refused as refused:
            why, status = str(refused), 422
    return render(request, "finding.html", _page(request, seen, typed, why), status=status)


def _page(request: HttpRequest, seen: FindingSeen, typed: dict[str, str], why: str) -> dict[str, Any]:
    kind = typed.get("kind") or request.GET.get("kind", "") or seen.finding.kind
    kind = kind if kind in KINDS else ""
    return {
        "seen": seen,
        "finding": seen.finding,
        "why": why,
        "typed": typed,
        "kind": KINDS.get(kind),
        "kinds": KINDS.values(),
        "fields": [(figure, typed.get(figure.name, "")) for figure in figures_of(kind)] if kind else [],
        "assessment": seen.assessment if seen.measured else None,
        "working": seen.assessment.working.to_dict() if seen.measured else None,
        "ring_on": next((one for one in seen.pictures if one.use.photo_id == request.GET.get("ring")), None),
        "may_write": asked.me(request).may_write,
        "do_now": _do_now(seen) if asked.me(request).may_write else None,
        "ids": {name: uuid.uuid4() for name in ("measure", "ring", "photograph", "ask", "answer")},
    }


def _do_now(seen: FindingSeen) -> tuple[str, str, str] | None:
    """The one thing that comes next: measure, ask, wait, decide; where, what, why."""
    finding = seen.finding
    if finding.state != "open":
        return None
    if finding.kind in KINDS and figures_of(finding.kind)[1:] and not seen.measured:
        return (
            "#measure",
            "Clean it, then measure it.",
            "What is said of it rests on figures; none is written down yet.",
        )
    if seen.measured and seen.assessment.to_engineering and not seen.engineering:
        return "#engineering", "Send it to engineering.", "No limit is published that was read."
    if seen.with_engineering:
        return None
    if finding.piece is not None:
        where = reverse("decision", args=[finding.piece.key])
        return where, "Decide what is done.", "The five choices stand side by side on the sheet of its piece."
    return None


def _say(request: HttpRequest, finding: Finding, typed: dict[str, str]) -> None:
    by, act_id, do = asked.me(request), asked.act_id(request), request.POST.get("do", "")
    if do == "measure":
        asked_for = {figure.name for figure in figures_of(typed.get("kind") or finding.kind)}
        figures = {name: text for name, text in typed.items() if name in asked_for}
        measure_finding(by=by, act_id=act_id, finding=finding, typed=figures, kind=typed.get("kind", ""))
    elif do == "photograph":
        sent = request.FILES.get("picture")
        if sent is None:
            raise Refused("No picture came with it. Nothing was changed. Choose one, or take one.")
        photograph(
            by=by,
            act_id=act_id,
            data=sent.read(),
            name=sent.name or "picture",
            finding=finding,
            what=finding.what[:300],
        )
    elif do == "ring":
        photo = Photo.objects.filter(pk=typed.get("photo", "")).first()
        if photo is None:
            raise Refused("The form names no picture. Nothing was changed. Open the page again.")
        words = typed.get("where_words", "")
        draw_ring(by=by, act_id=act_id, finding=finding, photo=photo, ring=ring_of(request), where_words=words)
    elif do == "ask":
        ask_engineering(
            by=by, act_id=act_id, finding=finding, question=typed.get("said", ""), whom=typed.get("whom", "")
        )
    elif do == "answer":
        engineering_answers(
            by=by, act_id=act_id, finding=finding, answer=typed.get("said", ""), from_whom=typed.get("whom", "")
        )
    else:
        raise Refused("The form says nothing that can be done. Nothing was changed.")


@login_required
@require_safe
def findings_screen(request: HttpRequest) -> HttpResponse:
    """Every finding by zone: how many, decided or not, the worst; what waits for engineering."""
    aircraft = the_aircraft()
    seen = findings_seen(aircraft)
    held = reserve_of(aircraft, list(seen.every)) if aircraft is not None and seen.total else None
    return render(
        request,
        "findings.html",
        {"seen": seen, "reserve": held, "working": held.working.to_dict() if held else None},
    )


urls: list[URLPattern] = [
    path("findings/", findings_screen, name="findings"),
    path("finding/<str:number>/", finding_screen, name="finding"),
    path("see/<str:on>/<str:key>/", see_screen, name="see_finding"),
]
