"""A whole rack in one act; fits, substitutions and bakes worked out at the bench."""

import uuid
from collections.abc import Callable
from dataclasses import dataclass

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import URLPattern, path
from django.views.decorators.http import require_http_methods, require_safe

from witnessmark.calc.fits import Joint, press_fit, shrink_fit
from witnessmark.calc.metals import metal
from witnessmark.calc.slide_home import heat_headline, way_home
from witnessmark.calc.substitution import stock, substitute
from witnessmark.calc.surface.bake import bake_for, specifications
from witnessmark.calc.surface.oven_caps import coats_on, oven_cap
from witnessmark.calc.surface.processes import process_names
from witnessmark.calc.units import parse_length, parse_stress, parse_temperature
from witnessmark.records.actions.racks import finish_rack
from witnessmark.records.actions.saying import Refused
from witnessmark.records.photo_store import NotAPicture
from witnessmark.web import asked


@dataclass(frozen=True)
class Asked:
    """One field of a worked page: its name, its words, what stands in it."""

    name: str
    label: str
    value: str
    needed: bool = True


@login_required
@require_http_methods(["GET", "POST"])
def rack_screen(request: HttpRequest) -> HttpResponse:
    """One picture of a rack finishes a step of every piece whose tag it shows."""
    told = None
    if request.method == "POST":
        picture = request.FILES.get("picture")
        try:
            if picture is None:
                raise Refused("No picture came with it. Nothing was changed. Take one of the whole rack.")
            told = finish_rack(
                by=asked.me(request),
                act_id=asked.act_id(request),
                process=request.POST.get("process", ""),
                picture=picture.read(),
                picture_name=picture.name or "rack",
                hanging=_tags(request, "hanging"),
                picked_out=_tags(request, "picked_out"),
            )
        except NotAPicture as why:
            return asked.refusal(request, Refused(str(why)), request.path)
        except Refused as why:
            return asked.refusal(request, why, request.path)
    processes = [name for name in process_names() if name in RACKED]
    return render(request, "rack.html", {"told": told, "processes": processes, "act_id": uuid.uuid4()})


def _tags(request: HttpRequest, name: str) -> list[str]:
    return request.POST.get(name, "").replace(",", " ").replace("\0", "").split()[:500]


RACKED = ("clean", "blast", "conversion coat", "anodise", "prime", "paint", "bake", "measure", "mask", "demagnetise")


def _length(request: HttpRequest, name: str) -> float | None:
    text = request.GET.get(name, "").strip()
    return parse_length(text).mm if text else None


def _fit(request: HttpRequest) -> dict[str, object]:
    plate = _length(request, "plate") or 0.0
    joint = Joint(
        metal(request.GET.get("inner", "")),
        metal(request.GET.get("outer", "")),
        parse_length(request.GET.get("diameter", "")).mm,
        parse_length(request.GET.get("outside", "")).mm,
        parse_length(request.GET.get("interference", "")).mm + 2 * plate,
        parse_length(request.GET.get("length", "")).mm,
        _length(request, "bore") or 0.0,
    )
    clearance = _length(request, "clearance") or 0.0
    cap = oven_cap(request.GET.get("outer", ""), coats_on(request.GET.get("outer", ""))).lowest
    both, home = request.GET.get("both") == "yes", way_home(joint, clearance, cap)
    heat = shrink_fit(
        joint,
        clearance,
        cap,
        both,
        parse_temperature(request.GET.get("service") or "60 °C").celsius,
    )
    return {"holds": press_fit(joint), "answer": heat, "home": home, "headline": heat_headline(heat, both, home)}


def _substitution(request: HttpRequest) -> dict[str, object]:
    def strength(name: str) -> float | None:
        text = request.GET.get(name, "").strip()
        return parse_stress(text).mpa if text else None

    answer = substitute(
        stock(request.GET.get("old", ""), strength("old_strength")),
        parse_length(request.GET.get("thickness", "")).mm,
        stock(request.GET.get("new", ""), strength("new_strength")),
        _length(request, "new_thickness"),
        [touched.strip() for touched in request.GET.get("touches", "").split(",") if touched.strip()][:12],
        request.GET.get("inspection", ""),
    )
    return {"answer": answer}


def _bake(request: HttpRequest) -> dict[str, object]:
    text = request.GET.get("strength", "").strip()
    limit = request.GET.get("tempering", "").strip()
    answer = bake_for(
        request.GET.get("spec", ""),
        parse_stress(text).mpa if text else None,
        _length(request, "section"),
        parse_temperature(limit).celsius if limit else None,
        request.GET.get("kind", ""),
    )
    return {"answer": answer}


FIELDS = {
    "fit": (
        ("inner", "Metal of the inner part", "steel", True),
        ("outer", "Alloy and temper of the outer part", "", True),
        ("diameter", "Diameter of the seat", "", True),
        ("outside", "Outside of the outer part", "", True),
        ("bore", "Bore of the inner part, if hollow", "", False),
        ("length", "Length of the seat", "", True),
        ("interference", "Interference on the diameter", "", True),
        ("plate", "Plate on the inner part, one side", "", False),
        ("clearance", "Gap wanted while moving", "0.05 mm", False),
        ("service", "Warmest in service", "60 °C", False),
    ),
    "substitution": (
        ("old", "Original: alloy and temper, casting, wood", "", True),
        ("thickness", "Its thickness", "", True),
        ("new", "New: alloy and temper, casting, wood", "", True),
        ("new_thickness", "Thickness chosen, if any", "", False),
        ("old_strength", "Strength of the original, if known", "", False),
        ("new_strength", "Strength of the new, by certificate", "", False),
        ("touches", "What it touches, with commas between", "", False),
        ("inspection", "How each new casting is looked at: visual, penetrant, radiographic", "", False),
    ),
    "bake": (
        ("spec", "Specification called out", "", True),
        ("strength", "Tensile strength, empty if not recorded", "", False),
        ("section", "Thickest section", "", False),
        ("tempering", "Heat it may see, such as 400 F", "", False),
        ("kind", "case-hardened, cold-straightened, spring, or empty", "", False),
    ),
}
WORKED: dict[str, Callable[[HttpRequest], dict[str, object]]] = {
    "fit": _fit,
    "substitution": _substitution,
    "bake": _bake,
}


@login_required
@require_safe
def worked_screen(request: HttpRequest, what: str) -> HttpResponse:
    """Work out a fit, a substitution or a bake from what is typed; nothing is written."""
    if what not in WORKED:
        raise Http404("There is no such page.")
    given: dict[str, object] = {"answer": None, "wrong": ""}
    if request.GET:
        try:
            given |= WORKED[what](request)
        except ValueError as why:
            given["wrong"] = str(why)
    fields = [
        Asked(name, label, request.GET.get(name, value if not request.GET else "")[:120], needed)
        for name, label, value, needed in FIELDS[what]
    ]
    context = {"what": what, "fields": fields, "both": request.GET.get("both"), "specs": specifications(), **given}
    return render(request, f"worked_{what}.html", context, status=422 if given["wrong"] else 200)


urls: list[URLPattern] = [
    path("rack/", rack_screen, name="rack"),
    path("work-out/<str:what>/", worked_screen, name="work_out"),
]
