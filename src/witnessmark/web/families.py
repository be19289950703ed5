"""Families: every size with its source, and a form that adds one from measurement in a minute."""

import uuid
from dataclasses import replace

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.views.decorators.http import require_http_methods

from witnessmark.calc.fasteners.alloys import known_alloys
from witnessmark.calc.fasteners.readings import WAYS, Way
from witnessmark.records.actions.saying import Refused
from witnessmark.records.actions.survey import add_size
from witnessmark.records.lookups.catalogue import families
from witnessmark.web import asked
from witnessmark.web.fastener import Field

OF_A_SIZE = ("form", "shank_mm", "head_mm", "head_deg", "head_height_mm", "pitch_mm", "across_flats_mm")


@login_required
@require_http_methods(["GET", "POST"])
def families_screen(request: HttpRequest) -> HttpResponse:
    """List the families; a post adds a size."""
    if request.method == "POST":
        typed = {what: request.POST.get(what, "").strip()[:40] for what in OF_A_SIZE}
        named = {name: request.POST.get(name, "").strip()[:200] for name in ("code", "family", "measured_on")}
        try:
            add_size(
                by=asked.me(request),
                act_id=asked.act_id(request),
                code=named["code"],
                family=named["family"],
                form=typed["form"],
                typed={what: text for what, text in typed.items() if what != "form" and text},
                measured_on=named["measured_on"],
            )
            return redirect("families")
        except Refused as why:
            return asked.refusal(request, why, request.path)
    found = families()
    return render(
        request,
        "families.html",
        {
            "families": found,
            "count": sum(len(family.sizes) for family in found),
            "fields": [Field(_way(what), "", False) for what in OF_A_SIZE],
            "alloys": known_alloys(),
            "act_id": uuid.uuid4(),
        },
    )


def _way(what: str) -> Way:
    """How a figure of a size is measured; a size is measured on a whole rivet, never on a shaved one."""
    way = WAYS[what]
    return replace(way, choices=tuple(word for word in way.choices if word != "shaved"))


urls: list[URLPattern] = [path("fastener/families/", families_screen, name="families")]
