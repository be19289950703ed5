"""A bucket on the bench, one figure at a time: the piece that lies next, and what was typed wrong struck out again."""

import uuid
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.views.decorators.http import require_http_methods

from witnessmark.calc.bags.features import FEATURES
from witnessmark.calc.bags.next_reading import feature_words
from witnessmark.records.actions.bucket import measure_in_bucket, strike_piece
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.bucket import numbers
from witnessmark.records.lookups.mixing import Sorting, sorting
from witnessmark.records.models import Shipment
from witnessmark.web import asked

USUAL = ("diameter_mm", "length_mm", "head_width_mm", "ten_pitches_mm")
_UNITS = {"mm": "mm", "deg": "°", "g": "g"}


def shipment_of(number: str) -> Shipment:
    """The shipment of this number, with its vendor."""
    found = Shipment.objects.filter(number=number).select_related("vendor__holder").first()
    if found is None:
        raise Http404(f"There is no shipment {number}.")
    return found


def unit_of(feature: str) -> str:
    """The unit of a figure, as it is written."""
    return _UNITS[feature.rsplit("_", 1)[-1]]


def features_of(seen: Sorting | None) -> list[str]:
    """The figures that were read on any of it, then the usual ones."""
    return list(dict.fromkeys([*(seen.features if seen else ()), *USUAL]))


@login_required
@require_http_methods(["GET", "POST"])
def measure_screen(request: HttpRequest, number: str) -> HttpResponse:
    """One figure at a time: the piece that lies next, a field that a calliper can type into, Enter goes on."""
    shipment = shipment_of(number)
    seen = sorting(shipment)
    if seen is None or seen.match is None:
        return redirect("sort", number=number)
    what = request.POST.get("what") or request.GET.get("what") or _first_feature(seen)
    if what not in FEATURES:
        raise Http404(f"{what} is not measured here.")
    if request.method == "POST":
        item = request.POST.get("item", "").strip()
        try:
            if request.POST.get("do") == "strike":
                strike_piece(by=asked.me(request), act_id=asked.act_id(request), shipment=shipment, item=item)
                return redirect(f"{request.path}?{urlencode({'what': what})}")
            measure_in_bucket(
                by=asked.me(request), act_id=asked.act_id(request), shipment=shipment, item=item, what=what,
                typed=request.POST.get("value", ""),
            )  # fmt: skip
        except Refused as why:
            back = f"{request.path}?{urlencode({'what': what, 'item': item})}"
            return asked.refusal(request, why, back)
        return redirect(f"{request.path}?{urlencode({'what': what, 'after': item})}")
    item = request.GET.get("item", "") or _next_item(seen, what, request.GET.get("after", ""))
    before = seen.items.get(request.GET.get("after", ""), {}).get(what)
    done = sum(what in row for row in seen.items.values())
    return render(
        request,
        "measure.html",
        {
            "shipment": shipment,
            "what": what,
            "words": feature_words(what),
            "unit": unit_of(what),
            "item": item,
            "done": done,
            "of": (seen.mix.count_back or 0) - len(seen.told),
            "before": before,
            "features": [(name, feature_words(name)) for name in features_of(seen)],
            "act_id": uuid.uuid4(),
            "strike_id": uuid.uuid4(),
        },
    )


def _first_feature(seen: Sorting) -> str:
    if seen.match and seen.match.next and not seen.to_measure:
        return seen.match.next.feature
    return features_of(seen)[0]


def _next_item(seen: Sorting, what: str, after: str) -> str:
    """The doubtful ones that this figure settles, then the next number that lies there without it."""
    match = seen.match
    if match and match.next and match.next.feature == what:
        left = [item for item in match.next.pieces if match.next.again or what not in seen.items.get(item, {})]
        if left and not (match.next.again and match.not_measured):
            return left[(left.index(after) + 1) % len(left)] if after in left else left[0]
    order = numbers(seen).to_measure
    open_ones = [n for n in order if what not in seen.items.get(n, {})]
    later = [n for n in open_ones if after in order and order.index(n) > order.index(after)]
    return (later or open_ones or [""])[0]


urls: list[URLPattern] = [
    path("outwork/<str:number>/measure/", measure_screen, name="measure"),
]
