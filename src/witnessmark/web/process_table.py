"""The process table: every order rule with its document, tags, oven caps; and plating worked out: growth, threads, looks."""

import re

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import URLPattern, path
from django.views.decorators.http import require_safe

from witnessmark.calc.surface.bake import bake_rules
from witnessmark.calc.surface.decorative import decorative_chrome
from witnessmark.calc.surface.plating import (
    coats_of,
    nut_runs,
    plated_size,
    specifications,
    thread_growth,
)
from witnessmark.calc.surface.processes import process_names
from witnessmark.calc.tables import load_table
from witnessmark.calc.units import parse_length


@login_required
@require_safe
def process_table(request: HttpRequest) -> HttpResponse:
    """Show what the routes are checked against, row by row, each with its document."""
    return render(
        request,
        "process_table.html",
        {
            "rules": load_table("order_rules").rows,
            "media": [
                {**row, "dies_in_words": row["dies_in"].replace(";", ", ")} for row in load_table("tag_media").rows
            ],
            "caps": load_table("heat_caps").rows,
            "coat_caps": load_table("coat_caps").rows,
            "bakes": [rule for rule in bake_rules() if rule.when.startswith("after plating")],
            "processes": process_names(),
        },
    )


def _growth(request: HttpRequest) -> dict[str, object]:
    """Pitch diameter, shaft and bore under one class; and which classes let the nut run."""
    spec, code = request.GET.get("spec", ""), request.GET.get("class", "").strip()
    coats = coats_of(spec)
    coat = next((each for each in coats if each.code == code), None)
    if code and coat is None:
        raise ValueError(f"{spec} holds no class '{code}'; it has {', '.join(c.code for c in coats) or 'none'}")
    pitch, size = request.GET.get("pitch", "").strip(), request.GET.get("size", "").strip()
    angle = request.GET.get("angle", "60").strip() or "60"
    if not re.fullmatch(r"[0-9]{1,3}(?:\.[0-9]{1,3})?", angle):
        raise ValueError(f"'{angle[:20]}' is no angle of a thread: write 60, 55 or 47.5")
    most = request.GET.get("most", "").strip()
    most_um = parse_length(most).mm * 1000 if most else (coat.least_um if coat else 0.0)
    if coat is None and (size or most):
        raise ValueError("a size grows by a class: write the class that was called out")
    return {
        "coat": coat,
        "thread": thread_growth(coat.least_um, float(angle)) if coat else None,
        "nut": nut_runs(spec, parse_length(pitch).mm, request.GET.get("position") or "g", float(angle))
        if pitch
        else None,
        "sizes": [
            (kind, plated_size(parse_length(size).mm, coat.least_um, most_um, kind)) for kind in ("shaft", "bore")
        ]
        if size and coat
        else [],
    }


@login_required
@require_safe
def growth_screen(request: HttpRequest) -> HttpResponse:
    """Work out what a coat does to a thread, a shaft and a bore; nothing is written."""
    given: dict[str, object] = {"wrong": "", "asked": bool(request.GET)}
    if request.GET:
        try:
            given |= _growth(request)
        except ValueError as why:
            given["wrong"] = str(why)
    typed = {
        name: request.GET.get(name, first)[:120]
        for name, first in (("spec", ""), ("class", ""), ("pitch", ""), ("position", "g"), ("angle", "60"), ("size", ""), ("most", ""))
    }  # fmt: skip
    context = {"typed": typed, "klass": typed["class"], "specs": specifications(), **given}
    return render(request, "growth.html", context, status=422 if given["wrong"] else 200)


@login_required
@require_safe
def decorative_screen(request: HttpRequest) -> HttpResponse:
    """Show the route of a part that is chromed for its looks, with what it loses and gains."""
    ticked = {name: request.GET.get(name) == "yes" for name in ("load", "pair", "slots")}
    answer = decorative_chrome(ticked["load"], ticked["pair"], ticked["slots"])
    return render(request, "decorative.html", {"answer": answer, **ticked})


urls: list[URLPattern] = [
    path("processes/", process_table, name="processes"),
    path("work-out/growth/", growth_screen, name="growth"),
    path("work-out/decorative/", decorative_screen, name="decorative"),
]
