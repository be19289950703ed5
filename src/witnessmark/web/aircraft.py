"""The aircraft by zones; one zone; one place."""

import uuid

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.views.decorators.http import require_http_methods, require_safe

from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.aircraft import aircraft_seen, places_seen, zone_seen
from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.lookups.pictures import waits
from witnessmark.records.lookups.pieces import by_key, place_photos
from witnessmark.records.models import Hunt, HuntWaiting, Place, Zone
from witnessmark.web import asked
from witnessmark.web.piece import put_in


@login_required
@require_safe
def aircraft_screen(request: HttpRequest) -> HttpResponse:
    """Every zone with what is on, off, missing and left over."""
    aircraft = the_aircraft()
    seen = aircraft_seen(aircraft) if aircraft else None
    return render(request, "aircraft.html", {"seen": seen, "came_in": waits()})


@login_required
@require_safe
def zone_screen(request: HttpRequest, number: str) -> HttpResponse:
    """One zone's places, and what is left over there."""
    zone = Zone.objects.filter(aircraft=the_aircraft(), number=number).first()
    if zone is None:
        raise Http404(f"There is no zone {number}.")
    page = request.GET.get("page", "1")
    seen = zone_seen(zone, int(page) if page.isascii() and page.isdigit() and len(page) < 7 else 1)
    return render(request, "zone.html", {"seen": seen, "zone": zone})


@login_required
@require_http_methods(["GET", "POST"])
def place_screen(request: HttpRequest, pk: int) -> HttpResponse:
    """One place: what is in it, what belongs in it and where that is; put it back from here."""
    place = Place.objects.filter(pk=pk).select_related("zone", "holder", "wants_size", "parent_place").first()
    if place is None:
        raise Http404("There is no such place.")
    if request.method == "POST":
        piece = by_key(request.POST.get("piece", ""))
        try:
            if piece is None:
                raise Refused("No piece has that tag. Nothing was changed. Read the tag once more.")
            put_in(request, piece, place)
        except Refused as why:
            return asked.refusal(request, why, request.path)
        return redirect("piece", piece.key)
    if hasattr(place, "row"):
        return redirect("seam", place.mark, place.side)
    (seen,) = places_seen([place])
    return render(
        request,
        "place.html",
        {
            "seen": seen,
            "place": place,
            "photos": place_photos(place),
            "act_id": uuid.uuid4(),
            "hunts": Hunt.objects.filter(place=place, state="open"),
            "waits": HuntWaiting.objects.filter(place=place, hunt__state="open").select_related("hunt"),
        },
    )


urls: list[URLPattern] = [
    path("aircraft/", aircraft_screen, name="aircraft"),
    path("zone/<str:number>/", zone_screen, name="zone"),
    path("place/<int:pk>/", place_screen, name="place"),
]
