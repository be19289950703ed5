"""Order or send now: the latest days at the risk that is chosen, what goes together, what speed wins."""

import uuid
from decimal import Decimal, InvalidOperation

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path, reverse
from django.views.decorators.http import require_http_methods

from witnessmark.calc.plan.send_by import RISKS, TRIED_FUTURES, USUAL_RISK
from witnessmark.records.actions.plan_by_hand import say_speed_price
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.lookups.plan import make_plan
from witnessmark.records.lookups.sending import order_or_send
from witnessmark.records.models import Aircraft, Vendor
from witnessmark.web import asked
from witnessmark.web.first_hour import nothing_yet

RISK_WORDS = {0.5: "one in two", 0.2: "one in five", 0.1: "one in ten", 0.05: "one in twenty"}
SHOWN, RUNS_SHOWN = 12, 5


@login_required
@require_http_methods(["GET", "POST"])
def order_or_send_screen(request: HttpRequest) -> HttpResponse:
    """?risk= is the chance to be late that is taken; a post writes down what a vendor asks for speed."""
    aircraft = the_aircraft()
    if aircraft is None:
        return nothing_yet(request, "There are no jobs on record, so nothing has to leave.")
    if request.method == "POST":
        try:
            _say_price(request, aircraft)
        except Refused as why:
            return asked.refusal(request, why, reverse("order_or_send"))
        return redirect("order_or_send")
    text = request.GET.get("risk", "")
    risk = next((r for r in RISKS if text == str(r)), USUAL_RISK)
    every = "all" in request.GET
    plan = make_plan(aircraft)
    found = order_or_send(plan, aircraft, risk) if plan.proved else None
    return render(
        request,
        "order_or_send.html",
        {
            "found": found,
            "risk": risk,
            "risk_words": RISK_WORDS[risk],
            "risks": [(each, RISK_WORDS[each]) for each in RISKS],
            "shown": found.leaving[: None if every else SHOWN] if found else (),
            "more": max(0, len(found.leaving) - SHOWN) if found and not every else 0,
            "runs": found.together[:RUNS_SHOWN] if found else (),
            "later_runs": found.together[RUNS_SHOWN:] if found else (),
            "now": found.leaving[0] if found and found.leaving and found.leaving[0].by <= found.today else None,
            "vendors": Vendor.objects.order_by("name"),
            "futures": TRIED_FUTURES,
            "act_id": uuid.uuid4(),
        },
    )


def _say_price(request: HttpRequest, aircraft: Aircraft) -> None:
    vendor = Vendor.objects.filter(pk=asked.whole(request, "vendor", "The vendor")).first()
    if vendor is None:
        raise Refused("No vendor was chosen. Nothing was changed. Choose one.")
    figures = []
    for name, what in (("days", "Working days"), ("price", "The price")):
        text = request.POST.get(name, "").strip().replace(",", ".")
        try:
            value = Decimal(text if text.isascii() and len(text) <= 20 else "")
        except InvalidOperation:
            raise Refused(f"{what}: '{text[:20]}' is no number. Nothing was changed.") from None
        if not value.is_finite():
            raise Refused(f"{what}: '{text[:20]}' is no number. Nothing was changed.")
        figures.append(value)
    say_speed_price(
        by=asked.me(request), act_id=asked.act_id(request), aircraft=aircraft, vendor=vendor, days=float(figures[0]),
        price=figures[1], currency=request.POST.get("currency", ""),
    )  # fmt: skip


urls: list[URLPattern] = [path("order-or-send/", order_or_send_screen, name="order_or_send")]
