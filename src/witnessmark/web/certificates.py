"""Certificates: what each shipment must bring back, what waits for it, and papers filed by photograph."""

import re
import uuid
from collections.abc import Callable
from datetime import datetime

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from witnessmark.calc.surface.bake import specifications
from witnessmark.calc.units import parse_length, parse_temperature
from witnessmark.records.actions import certificates
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.certificate_times import bakes_called
from witnessmark.records.lookups.certificates import papers, usual_papers
from witnessmark.records.lookups.day import the_aircraft, today
from witnessmark.records.models import Certificate, CertificateKind, Piece, Quarantine, Shipment
from witnessmark.records.photo_store import NotAPicture
from witnessmark.web import asked


@login_required
@require_http_methods(["GET", "POST"])
def certificates_screen(request: HttpRequest) -> HttpResponse:
    """Show what is missing; a post files a paper, asks for one more, or lets something out."""
    if request.method == "POST":
        say = SAY.get(request.POST.get("do", ""))
        try:
            if say is None:
                raise Refused("The form says nothing that can be done. Nothing was changed.")
            say(request)
        except Refused as why:
            return asked.refusal(request, why, request.path)
        return redirect("certificates")
    seen = papers()
    called = bakes_called([each.shipment.pk for each in seen.open])
    return render(
        request,
        "certificates.html",
        {
            "seen": seen,
            "say": seen.sentence,
            "open": [
                (
                    each,
                    [(paper, uuid.uuid4(), called.get(each.shipment.pk, "")) for paper in each.papers],
                    [(row, uuid.uuid4()) for row in each.held],
                )
                for each in seen.open
            ],
            "other": [(row, uuid.uuid4()) for row in seen.other_held],
            "untraced": [(row, uuid.uuid4()) for row in seen.untraced],
            "shipments": Shipment.objects.select_related("vendor").order_by("-number")[:200],
            "not_asked": [(each, uuid.uuid4()) for each in seen.not_asked],
            "kinds": CertificateKind.choices,
            "specs": specifications(),
            "act_id": uuid.uuid4(),
            "may_lift": asked.me(request).role in ("lead", "inspector"),
        },
    )


def _row(request: HttpRequest, name: str) -> int:
    text = request.POST.get(name, "")
    if not (text.isascii() and text.isdigit() and len(text) < 19):
        raise Refused("The form does not say which one. Nothing was changed. Open the page again.")
    return int(text)


def _came(request: HttpRequest) -> None:
    paper = Certificate.objects.filter(pk=_row(request, "certificate")).first()
    if paper is None:
        raise Refused("No such paper is asked for. Nothing was changed. Open the page again.")
    picture = request.FILES.get("picture")
    try:
        certificates.certificate_came(
            by=asked.me(request),
            act_id=asked.act_id(request),
            certificate=paper,
            came_on=asked.day(request, "came_on", "It came on") or today(the_aircraft()),
            number=request.POST.get("number", ""),
            picture=picture.read() if picture else None,
            picture_name=(picture.name or "paper") if picture else "",
            times=_times(request) if paper.kind == CertificateKind.BAKE else None,
        )
    except NotAPicture as why:
        raise Refused(str(why)) from None


def _moment(request: HttpRequest, name: str, what: str) -> datetime | None:
    text = request.POST.get(name, "").strip()
    if not text:
        return None
    try:
        typed = datetime.fromisoformat(text)
    except ValueError:
        raise Refused(
            f"{what}: '{text[:20]}' is no day and time. Nothing was changed. Write 2026-05-12 09:00."
        ) from None
    return typed if typed.tzinfo else timezone.make_aware(typed)


def _hours(text: str) -> float | None:
    if not text:
        return None
    if not re.fullmatch(r"[0-9]{1,4}(?:[.,][0-9]{1,3})?", text):
        raise Refused(
            f"Hours in the oven: '{text[:20]}' is no number of hours. Nothing was changed. "
            "Read the certificate again and write it like 8 or 8.5."
        )
    return float(text.replace(",", "."))


def _times(request: HttpRequest) -> certificates.BakeTimes:
    """The times as they stand on the certificate; what is left empty is what it does not say."""
    hours, oven, section = (request.POST.get(name, "").strip() for name in ("hours", "oven", "section"))
    try:
        return certificates.BakeTimes(
            spec=request.POST.get("spec", "").strip()[:60],
            out_of_bath=_moment(request, "out_of_bath", "Out of the bath"),
            into_oven=_moment(request, "into_oven", "Into the oven"),
            hours=_hours(hours),
            oven_c=parse_temperature(oven).celsius if oven else None,
            section_mm=parse_length(section).mm if section else None,
        )
    except ValueError as why:
        raise Refused(f"{str(why).rstrip('.')}. Nothing was changed. Read the certificate again.") from None


def _expect(request: HttpRequest) -> None:
    shipment = Shipment.objects.filter(number=request.POST.get("shipment", "")).first()
    if shipment is None:
        raise Refused("There is no such shipment. Nothing was changed.")
    certificates.expect_certificate(
        by=asked.me(request),
        act_id=asked.act_id(request),
        shipment=shipment,
        kind=request.POST.get("kind", ""),
        why=request.POST.get("why", ""),
    )


def _usual(request: HttpRequest) -> None:
    """Ask for every paper that the process usually brings; each is an act of its own, done once."""
    shipment = Shipment.objects.filter(number=request.POST.get("shipment", "")).first()
    if shipment is None:
        raise Refused("There is no such shipment. Nothing was changed.")
    act_id = asked.act_id(request)
    for paper in usual_papers(shipment):
        certificates.expect_certificate(
            by=asked.me(request),
            act_id=uuid.uuid5(act_id, paper.kind),
            shipment=shipment,
            kind=paper.kind,
            why=paper.why,
        )


def _lift(request: HttpRequest) -> None:
    row = Quarantine.objects.filter(pk=_row(request, "quarantine")).select_related("piece").first()
    if row is None:
        raise Refused("That is not in quarantine. Nothing was changed.")
    certificates.lift_quarantine(
        by=asked.me(request), act_id=asked.act_id(request), quarantine=row, why=request.POST.get("why", "")
    )


def _trace(request: HttpRequest) -> None:
    piece = Piece.objects.filter(pk=_row(request, "piece")).first()
    if piece is None:
        raise Refused("That piece is not in the record. Nothing was changed.")
    certificates.show_trace(
        by=asked.me(request), act_id=asked.act_id(request), piece=piece, papers=request.POST.get("papers", "")
    )


SAY: dict[str, Callable[[HttpRequest], None]] = {
    "came": _came,
    "expect": _expect,
    "usual": _usual,
    "lift": _lift,
    "trace": _trace,
}

urls: list[URLPattern] = [path("certificates/", certificates_screen, name="certificates")]
