"""The don't-know tray: what was found and nobody can place, what it could be, and who looked."""

import uuid
from collections.abc import Sequence
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path, reverse
from django.views.decorators.http import require_http_methods

from witnessmark.calc.tray import Could, tray_working
from witnessmark.calc.units import UnknownSize, parse_length
from witnessmark.records.actions.saying import Refused
from witnessmark.records.actions.tray import Size, lay_in_tray, look_in_tray
from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.lookups.tray import SHOWN, tray_seen
from witnessmark.records.models import FastenerSize, TrayFind
from witnessmark.web import asked

WORTH_SHOWING = 0.01


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def tray_screen(request: HttpRequest) -> HttpResponse:
    """Show the finds; a post lays one in, or says what somebody saw."""
    if request.method == "POST":
        try:
            _say(request)
        except Refused as why:
            return asked.refusal(request, why, reverse("tray"))
        return redirect("tray")
    seen = tray_seen()
    return render(
        request,
        "tray.html",
        {
            "finds": [(each, _shown(each.candidates), uuid.uuid4()) for each in seen],
            "working": tray_working(seen[0].candidates[:SHOWN]).to_dict() if seen and seen[0].candidates else None,
            "sizes": list(FastenerSize.objects.values_list("code", flat=True)[:1000]),
            "filled": _filled(request),
            "act_id": uuid.uuid4(),
        },
    )


def _filled(request: HttpRequest) -> dict[str, str]:
    """What another screen measured, filled into the form: a length, two figures, a name, a size that is on record."""
    filled = {name: request.GET.get(name, "").strip()[:60] for name in ("name", "length", "width", "diameter")}
    size = FastenerSize.objects.filter(code__in=request.GET.getlist("size")[:10]).first()
    back = {"shank_mm": filled["diameter"], "head_mm": filled["width"]}
    query = urlencode({what: typed for what, typed in back.items() if typed})
    return {**filled, "size": size.code if size else "", "back": query}


def _shown(candidates: Sequence[Could]) -> list[Could]:
    """The likeliest few; what is all but excluded is not worth carrying over to it."""
    return [each for each in candidates[:SHOWN] if each.chance >= WORTH_SHOWING]


def _say(request: HttpRequest) -> None:
    what = request.POST.get("do", "")
    if what == "lay":
        _lay(request)
    elif what in ("is", "is_not"):
        keys = request.POST.getlist("find")
        finds = list(TrayFind.objects.filter(pk__in=[int(key) for key in keys if key.isascii() and key.isdigit()]))
        look_in_tray(
            by=asked.me(request),
            act_id=asked.act_id(request),
            missing=request.POST.get("missing", "").replace("\0", ""),
            finds=finds,
            is_it=what == "is",
            answer=request.POST.get("answer", "").replace("\0", ""),
        )
    else:
        raise Refused("The form says nothing that can be done. Nothing was changed.")


def _lay(request: HttpRequest) -> None:
    sent = request.FILES.get("picture")
    if sent is None:
        raise Refused("A find has its picture. Nothing was changed. Take one.")
    code = request.POST.get("size", "").strip()
    size = FastenerSize.objects.filter(code__iexact=code.replace("\0", "")).first() if code else None
    if code and size is None:
        raise Refused(
            f"There is no size {code[:40]}. Nothing was changed. Ask what this fastener is, or leave it empty."
        )
    lay_in_tray(
        by=asked.me(request),
        act_id=asked.act_id(request),
        data=sent.read(),
        picture_name=sent.name or "picture",
        name=request.POST.get("name", "").replace("\0", ""),
        material=request.POST.get("material", "").replace("\0", ""),
        magnet=request.POST.get("magnet", ""),
        side=request.POST.get("side") or "C",
        size=size,
        measured=Size(
            *(_mm(request, name) for name in ("length", "width", "thickness", "diameter")),
        ),
        count=asked.whole(request, "count", "The count") or 1,
        found_where=request.POST.get("found_where", "").replace("\0", ""),
        aircraft=the_aircraft(),
    )


def _mm(request: HttpRequest, name: str) -> float | None:
    text = request.POST.get(name, "").strip()
    if not text:
        return None
    try:
        return parse_length(text).mm
    except UnknownSize as why:
        raise Refused(f"{why} Nothing was changed.") from None


urls: list[URLPattern] = [path("tray/", tray_screen, name="tray")]
