"""Putting back: the tag's picture or its number in, where it sat out. Nothing is recorded by looking."""

import uuid

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path, reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods

from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.back import back_seen
from witnessmark.records.lookups.packing import quarantined
from witnessmark.records.lookups.pieces import by_key
from witnessmark.records.lookups.search import near_tags
from witnessmark.records.models import Untraced
from witnessmark.records.photo_store import check_picture
from witnessmark.records.tag_reading import tags_in
from witnessmark.web import asked


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def back_screen(request: HttpRequest) -> HttpResponse:
    """Ask for the tag; with it, show where the piece sat."""
    if request.method == "POST":
        try:
            return redirect(f"{reverse('back')}?{urlencode({'tag': _read(request)}, doseq=True)}")
        except Refused as why:
            return asked.refusal(request, why, request.path)
    tags = [tag.strip() for tag in request.GET.getlist("tag") if tag.strip()]
    pieces = [piece for tag in tags if (piece := by_key(tag)) is not None]
    if tags and not pieces:
        near = ", ".join(near_tags(tags[0]))
        raise Http404(f"No piece has the tag {', '.join(tags)[:80]}.{f' There is {near}.' if near else ''}")
    one = pieces[0] if len(pieces) == 1 else None
    shown = {
        "seen": back_seen(one) if one else None,
        "held": quarantined([one.pk]).get(one.pk, "") if one else "",
        "untraced": one is not None and Untraced.objects.filter(piece=one, shown_act=None).exists(),
        "pieces": pieces,
        "act_id": uuid.uuid4(),
    }
    return render(request, "back.html", shown)


def _read(request: HttpRequest) -> list[str]:
    sent = request.FILES.get("picture")
    if sent is None:
        raise Refused("No picture came along. Nothing was looked up. Take one of its tag, or write its number.")
    data = sent.read()
    check_picture(data, sent.name or "picture")
    read = tags_in(data)
    if not read:
        raise Refused("No tag can be read in the picture. Take it closer, in better light, or write its number.")
    return list(read)


urls: list[URLPattern] = [path("in/back/", back_screen, name="back")]
