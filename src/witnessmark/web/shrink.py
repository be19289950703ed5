"""The shrink fit of one piece: its seat and its diameter after plating are typed in, the heat is reckoned or refused."""

import uuid

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.views.decorators.http import require_http_methods

from witnessmark.calc.fits import BEFORE_THE_OVEN, FOR_PUTTING_BACK
from witnessmark.calc.units import parse_length, parse_temperature
from witnessmark.records.actions.readings import read_pieces
from witnessmark.records.actions.saying import Refused
from witnessmark.records.actions.shrink import say_seat
from witnessmark.records.lookups.pieces import by_key
from witnessmark.records.lookups.shrink import DIAMETER, shrink_of
from witnessmark.records.models import Piece
from witnessmark.web import asked


def _mm(request: HttpRequest, name: str, what: str, needed: bool = True) -> float:
    text = request.POST.get(name, "").strip()
    if not text and not needed:
        return 0.0
    try:
        return parse_length(text).mm
    except ValueError as why:
        raise Refused(f"{what}: {why} Nothing was changed.") from None


def _seat(request: HttpRequest, piece: Piece) -> None:
    say_seat(
        by=asked.me(request),
        act_id=asked.act_id(request),
        piece=piece,
        inner=request.POST.get("inner", ""),
        outer=request.POST.get("outer", ""),
        seat_mm=_mm(request, "seat", "Bore of the outer part"),
        outside_mm=_mm(request, "outside", "Outside of the outer part"),
        length_mm=_mm(request, "length", "Length of the seat"),
        bore_mm=_mm(request, "bore", "Bore of the inner part", needed=False),
    )


def _diameter(request: HttpRequest, piece: Piece) -> None:
    typed = request.POST.get("diameter", "").strip()
    read_pieces(by=asked.me(request), act_id=asked.act_id(request), piece=piece, readings={"": {DIAMETER: typed}})


def _drawn(request: HttpRequest, piece: Piece) -> HttpResponse:
    clearance, service = request.GET.get("clearance", "").strip(), request.GET.get("service", "").strip()
    alone = request.GET.get("alone") == "yes"
    given: dict[str, object] = {"seen": None, "wrong": ""}
    try:
        given["seen"] = shrink_of(
            piece,
            parse_length(clearance).mm if clearance else 0.05,
            not alone,
            parse_temperature(service).celsius if service else 60.0,
        )
    except ValueError as why:
        given |= {"wrong": f"{str(why)[:1].upper()}{str(why)[1:]}", "seen": None}
    context = {
        "piece": piece, "seat_id": uuid.uuid4(), "diameter_id": uuid.uuid4(), "before": BEFORE_THE_OVEN,
        "back": FOR_PUTTING_BACK, "clearance": clearance, "service": service, "alone": alone, **given,
    }  # fmt: skip
    return render(request, "shrink.html", context, status=422 if given["wrong"] else 200)


@login_required
@require_http_methods(["GET", "POST"])
def shrink_screen(request: HttpRequest, key: str) -> HttpResponse:
    """Show the fit of a piece; a post writes down its seat or its diameter."""
    piece = by_key(key)
    if piece is None:
        raise Http404(f"No piece has the tag {key}.")
    if request.method == "POST":
        try:
            if request.POST.get("do") == "seat":
                _seat(request, piece)
            else:
                _diameter(request, piece)
        except Refused as why:
            return asked.refusal(request, why, request.path)
        return redirect("shrink", piece.key)
    return _drawn(request, piece)


urls: list[URLPattern] = [path("piece/<str:key>/shrink/", shrink_screen, name="shrink")]
