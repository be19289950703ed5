"""Outwork: what is out, since when; what came back short; what is ready to leave."""

import uuid
from collections.abc import Iterable
from datetime import date

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.views.decorators.http import require_http_methods

from witnessmark.records.actions.custody import receive_back, send_out
from witnessmark.records.actions.mixing import mix_at_vendor
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.aircraft import shelves
from witnessmark.records.lookups.day import the_aircraft, today
from witnessmark.records.lookups.mixing import bucket_at_vendor, shipment_apart
from witnessmark.records.lookups.outwork import Out, Outwork, came_from, outwork, shipments, still_there, took_in
from witnessmark.records.lookups.promises import claims
from witnessmark.records.models import Act, Shipment, Vendor
from witnessmark.web import asked
from witnessmark.web.orders import next_number


@login_required
@require_http_methods(["GET", "POST"])
def outwork_screen(request: HttpRequest) -> HttpResponse:
    """Show shipments and what could leave; a post sends out."""
    now = today(the_aircraft())
    if request.method == "POST":
        try:
            number = _send(request, now)
        except Refused as why:
            return asked.refusal(request, why, "/outwork/")
        return redirect("shipment", number=number)
    seen = outwork(now)
    return render(
        request,
        "outwork.html",
        {"seen": seen, "say": _first_sentence(seen), "do_now": _do_now(seen), "next_number": next_number("S-", [each.shipment.number for each in (*seen.out, *seen.back)]),
         "groups": [(group, uuid.uuid4()) for group in seen.ready],
         "now": now},
    )  # fmt: skip


def _first_sentence(seen: Outwork) -> str:
    if seen.mixed:
        return _bucket_words(seen.mixed[0])
    if seen.short:
        out = seen.short[0]
        return f"{out.count_back} of {out.count_out} came back from {out.shipment.vendor.name}. {_short_words(out)}"
    if seen.late:
        out = max(seen.late, key=lambda each: each.late_days)
        days = "a day" if out.late_days == 1 else f"{out.late_days} days"
        return f"{out.shipment.vendor.name} is {days} late with shipment {out.shipment.number}."
    going = sum(1 for group in seen.ready if group.to_send)
    if seen.out:
        many = "One shipment is" if len(seen.out) == 1 else f"{len(seen.out)} shipments are"
        return f"{many} out and none is late."
    return "Nothing is out." + (" Something is ready to leave." if going else "")


def _bucket_words(out: Out) -> str:
    """The bucket in counts: what of it is here, and that nobody knows yet whose the missing ones are."""
    vendor = out.shipment.vendor.name
    first = f"{out.count_back} of {out.count_out} came back from {vendor}, {out.in_bucket} of them in one bucket."
    lack = out.short_unknown
    if not lack:
        return first
    return f"{first} {'One is' if lack == 1 else f'{lack} are'} short: sorting says whose."


def _short_words(out: Out) -> str:
    if len(out.short) == 1:
        line = out.short[0]
        many = "One is" if out.short_count == 1 else f"{out.short_count} are"
        return f"{many} short: {line.piece.tag or line.piece.name}."
    return f"{out.short_count} are short, in {len(out.short)} bags."


def _do_now(seen: Outwork) -> dict[str, str] | None:
    """The one thing to do: ask for what is short, ring who is late, or send what is ready."""
    for out in seen.mixed:
        return {"say": f"Sort the bucket of {out.shipment.number}.", "link": f"/outwork/{out.shipment.number}/sort/"}
    for out in seen.short:
        if not out.is_back:
            return {"say": f"Ask {out.shipment.vendor.name} for the {out.short_count} that did not come.",
                    "link": f"/outwork/{out.shipment.number}/"}  # fmt: skip
    if seen.late:
        out = max(seen.late, key=lambda each: each.late_days)
        due = out.count_out - out.count_back
        return {"say": f"Ring {out.shipment.vendor.name}: {'one piece was' if due == 1 else f'{due} pieces were'} promised for "
                f"{out.shipment.promised_on:%A} {out.shipment.promised_on:%-d %B}.",
                "link": f"/outwork/{out.shipment.number}/"}  # fmt: skip
    for group in seen.ready:
        if group.totals is not None and not group.totals.under_minimum:
            many = "one piece" if len(group.to_send) == 1 else f"{len(group.to_send)} pieces"
            return {"say": f"Send {many} to {group.vendor.name}: {group.process.lower()}.",
                    "link": f"#{group.vendor.code}-{group.pieces[0].step.pk}"}  # fmt: skip
    return None


def _send(request: HttpRequest, now: date) -> str:
    vendor = Vendor.objects.filter(code=request.POST.get("vendor", "")).select_related("holder").first()
    if vendor is None:
        raise Refused("No such vendor. Nothing was sent. Choose one of the list.")
    pieces = asked.pieces(_ids(request.POST.getlist("piece")))
    number = asked.shipment_number(request)
    send_out(
        by=asked.me(request),
        act_id=asked.act_id(request),
        vendor=vendor,
        process=request.POST.get("process", "").strip()[:120],
        pieces=pieces,
        number=number,
        sent_on=now,
        promised_on=asked.day(request, "promised_on", "Promised for"),
    )
    return number


def _ids(texts: Iterable[str]) -> list[int]:
    try:
        return [int(text) for text in texts]
    except ValueError:
        raise Refused("One of these pieces is not in the record. Nothing was changed. Open the page again.") from None


@login_required
@require_http_methods(["GET", "POST"])
def shipment_screen(request: HttpRequest, number: str) -> HttpResponse:
    """Show one shipment line by line; a post says what came back."""
    now = today(the_aircraft())
    found = shipments(now, number)
    if not found:
        raise Http404(f"There is no shipment {number}.")
    (out,) = found
    if request.method == "POST":
        try:
            if request.POST.get("do") == "mixed":
                _mixed(request, out.shipment)
            else:
                _receive(request, out.shipment, now)
        except Refused as why:
            return asked.refusal(request, why, request.path)
        return redirect("shipment", number=number)
    return render(
        request,
        "shipment.html",
        {"out": out, "say": _shipment_sentence(out), "claims": claims([number]), "short_words": _short_words(out) if out.short else "",
         "apart": None if out.is_back or out.count_back else shipment_apart(out.shipment),
         "act_id": uuid.uuid4(), "mix_act_id": uuid.uuid4(), "working": out.totals.working.to_dict(), "now": now,
         "mix": bucket_at_vendor(out.shipment),
         "still_out": sum(still_there(out.shipment).values()), "came_from": came_from(out.shipment), "shelves": shelves(),
         "lines": [(line, line.count_out - (line.count_back or 0), out.mixes(line)) for line in out.lines]},
    )  # fmt: skip


def _shipment_sentence(out: Out) -> str:
    vendor = out.shipment.vendor.name
    if out.in_bucket:
        return _bucket_words(out)
    if out.short:
        return f"{out.count_back} of {out.count_out} came back from {vendor}. {_short_words(out)}"
    if out.is_back:
        return f"All {out.count_out} came back from {vendor}." if out.count_out > 1 else f"It came back from {vendor}."
    one = out.count_out == 1
    is_at = ("has been" if one else "have been") if out.days_out else "is" if one else "are"
    since = "" if out.days_out is None else " since today"
    if out.days_out:
        since = " for a day" if out.days_out == 1 else f" for {out.days_out} days"
    late = f" {vendor} is {out.late_days} days late." if out.late_days > 1 else ""
    return f"{'One piece' if one else f'{out.count_out} pieces'} {is_at} at {vendor}{since}.{late}"


def _mixed(request: HttpRequest, shipment: Shipment) -> None:
    chosen = set(_ids(request.POST.getlist("piece")))
    pieces = [line.piece for line in shipment.lines.select_related("piece") if line.piece_id in chosen]
    if len(pieces) != len(chosen):
        raise Refused(f"One of these did not leave with shipment {shipment.number}. Nothing was changed.")
    mix_at_vendor(by=asked.me(request), act_id=asked.act_id(request), shipment=shipment, pieces=pieces)


def _receive(request: HttpRequest, shipment: Shipment, now: date) -> None:
    if request.POST.get("do") == "all":
        counts = still_there(shipment)
    else:
        counts = {
            line.piece_id: asked.whole(request, f"back-{line.piece_id}", str(line.piece))
            for line in shipment.lines.select_related("piece")
        }
    if not any(counts.values()):
        if Act.objects.filter(pk=asked.act_id(request)).exists():
            return  # the same form, sent again
        if shipment.back_on is not None:
            who = took_in(shipment)
            raise Refused(f"{who} Nothing of {shipment.number} is out any more. Nothing was counted.".strip())
        raise Refused("Nothing was counted. Nothing was changed. Say how many of each came back.")
    receive_back(
        by=asked.me(request),
        act_id=asked.act_id(request),
        shipment=shipment,
        counts=counts,
        to=asked.shelf(request, "What came back lies"),
        back_on=now,
        undone=_ids(request.POST.getlist("undone")),
    )


urls: list[URLPattern] = [
    path("outwork/", outwork_screen, name="outwork"),
    path("outwork/<str:number>/", shipment_screen, name="shipment"),
]
