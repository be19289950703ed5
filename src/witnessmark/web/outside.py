"""Craftsmen outside as the shop sees them; and the one page that a craftsman sees of the shop by his link."""

import uuid
from collections.abc import Callable
from datetime import timedelta

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from witnessmark.calc.plan.working_days import said_day
from witnessmark.records.actions import outside
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.craftsmen import Craftsman, craftsmen, shipments_at
from witnessmark.records.lookups.day import the_aircraft, today
from witnessmark.records.models import OutsideLink, Shipment, Vendor
from witnessmark.web import asked


@login_required
@require_http_methods(["GET", "POST"])
def outside_screen(request: HttpRequest) -> HttpResponse:
    """Show what each has and when he runs dry; a post makes a link or closes one."""
    told: dict[str, object] = {}
    if request.method == "POST":
        try:
            told = _say(request)
        except Refused as why:
            return asked.refusal(request, why, request.path)
        if not told:
            return redirect("outside")
    seen = craftsmen(today(the_aircraft()))
    return render(
        request,
        "outside.html",
        {
            "seen": [(each, uuid.uuid4(), [(link, uuid.uuid4()) for link in each.links]) for each in seen],
            "say": _sentence(seen),
            "may_link": asked.me(request).role == "lead",
            **told,
        },
    )


def _sentence(seen: list[Craftsman]) -> str:
    if not seen:
        return "No craftsman outside has anything, and nothing is ready for one."
    dry = [each for each in seen if not each.has]
    hungry = next((each for each in dry if any(ready.may_go for ready in each.ready)), None)
    if hungry is not None:
        return f"{hungry.vendor.name} has nothing of ours, and something is ready for him."
    first = next((each for each in seen if each.dry_on is not None), None)
    if first is not None and first.dry_on is not None:
        return (
            f"{first.vendor.name} runs dry first, about {first.dry_on:%A} {said_day(first.dry_on, first.has[0].today)}."
        )
    return "No craftsman outside has anything of ours."


def _say(request: HttpRequest) -> dict[str, object]:
    if request.POST.get("do") == "close":
        text = request.POST.get("link", "")
        link = OutsideLink.objects.filter(pk=int(text)).first() if text.isascii() and text.isdigit() else None
        if link is None:
            raise Refused("There is no such link. Nothing was changed.")
        outside.take_link_back(by=asked.me(request), act_id=asked.act_id(request), link=link)
        return {}
    vendor = Vendor.objects.filter(code=request.POST.get("vendor", "")).first()
    if vendor is None:
        raise Refused("No such vendor. No link was made. Choose one of the list.")
    days = asked.whole(request, "days", "Days")
    token, until = outside.make_outside_link(
        by=asked.me(request), act_id=asked.act_id(request), vendor=vendor, lasts=timedelta(days=days)
    )
    return {"link": request.build_absolute_uri(f"/o/{token}/"), "until": until, "for": vendor.name}


@never_cache
@require_http_methods(["GET", "POST"])
def craftsman_screen(request: HttpRequest, token: str) -> HttpResponse:
    """What a craftsman sees by his link: his own shipments, and two things that he may say of each."""
    link = outside.open_link(token)
    if link is None:
        raise Http404(
            "This link opens nothing: it has run out, was closed, or was never made. Ask the shop for a new one."
        )
    day = today(the_aircraft())
    if request.method == "POST":
        try:
            _his(request, link)
        except Refused as why:
            return asked.refusal(request, why, request.path)
        return redirect("craftsman", token=token)
    has = shipments_at([link.vendor], day).get(link.vendor_id, [])
    return render(
        request,
        "craftsman.html",
        {"link": link, "has": [(each, uuid.uuid4(), uuid.uuid4()) for each in has], "day": day, "me": None},
    )


def _his(request: HttpRequest, link: OutsideLink) -> None:
    shipment = Shipment.objects.filter(number=request.POST.get("shipment", ""), vendor=link.vendor).first()
    if shipment is None:
        raise Refused("That is not among your shipments. Nothing was changed.")
    say: Callable[[], object] | None = {
        "received": lambda: outside.confirm_receipt(
            link=link,
            act_id=asked.act_id(request),
            shipment=shipment,
            day=today(the_aircraft()),
            note=request.POST.get("note", ""),
        ),
        "promise": lambda: _promise(request, link, shipment),
    }.get(request.POST.get("do", ""))
    if say is None:
        raise Refused("The form says nothing that can be done here. Nothing was changed.")
    say()


def _promise(request: HttpRequest, link: OutsideLink, shipment: Shipment) -> None:
    day = asked.day(request, "day", "The day")
    if day is None:
        raise Refused("No day was given. Nothing was changed. Choose the day you promise.")
    outside.promise_day(
        link=link,
        act_id=asked.act_id(request),
        shipment=shipment,
        day=day,
        today=today(the_aircraft()),
        note=request.POST.get("note", ""),
    )


urls: list[URLPattern] = [
    path("outside/", outside_screen, name="outside"),
    path("o/<str:token>/", craftsman_screen, name="craftsman"),
]
