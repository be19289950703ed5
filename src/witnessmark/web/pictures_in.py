"""Pictures come in: one control, nothing typed, the next at once. The same door for people and for a phone's queue.

`POST /in/` as multipart: `picture` (one or several files), `act_id` (a UUID made on the phone, so that a picture sent twice
is kept once), `taken_at` and `sent_at` (ISO 8601, by the phone's own clock; `sent_at` is when it sends), `device`, `sound`,
`person` (whose phone took it; another who is signed in there does not send it as his own), `csrfmiddlewaretoken` (or the
header X-CSRFToken). With `Accept: application/json` the answer is JSON, else the page:

    200 {"act_id": the one that came, "kept": [what records/actions/pictures.py gives, ...], "refused": [], "waits": {"unsorted", "asks", "not_said"}}
    401 {"refused": why}      signed out: sign in, then send again; nothing is lost that the phone keeps
    403, 409, 422 {"kept": [...], "refused": [{"name", "why"}]}   this picture is refused, now and again: tell the person

Anything else (no answer, 5xx) is worth another try with the same `act_id`.
"""

from __future__ import annotations

import re
import uuid
from datetime import datetime
from typing import Any

from django.contrib.auth.decorators import login_required
from django.contrib.auth.views import redirect_to_login
from django.core.files.uploadedfile import UploadedFile
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import URLPattern, path
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from witnessmark.records.actions.pictures import picture_comes_in, say_over
from witnessmark.records.actions.saying import NotAllowed, Refused, SaidOtherwise
from witnessmark.records.lookups.pictures import last_in, waits
from witnessmark.records.models import Photo, SoundNote
from witnessmark.records.sound_store import MOST_BYTES, sound_path
from witnessmark.web import asked

_RANGE = re.compile(r"bytes=(\d*)-(\d*)")


@require_http_methods(["GET", "HEAD", "POST"])
def pictures_in(request: HttpRequest) -> HttpResponse:
    """Show the one control; a post brings pictures."""
    as_json = "application/json" in request.headers.get("Accept", "")
    if not request.user.is_authenticated:
        if as_json:
            return JsonResponse(
                {"refused": "You are signed out. Sign in; what waits on the phone is kept."}, status=401
            )
        return redirect_to_login(request.path, "/sign-in/")
    if request.method != "POST":
        return _page(request, {})
    if request.POST.get("person", "") not in ("", str(asked.me(request).pk)) and as_json:
        why = "These pictures were taken by somebody else, who has to sign in on this phone. They are kept on it."
        return JsonResponse({"refused": why}, status=401)
    kept: list[dict[str, Any]] = []
    refused: list[dict[str, str]] = []
    status = 200
    try:
        first = asked.act_id(request)
        sent = request.FILES.getlist("picture")
        if not sent:
            raise Refused("No picture came along. Nothing was changed. Take one, or choose some.")
    except Refused as why:
        return _answer(request, as_json, [], [{"name": "", "why": str(why)}], 422)
    for number, each in enumerate(sent):
        try:
            kept.append(_one(request, each, first if number == 0 else uuid.uuid5(first, str(number)), number == 0))
        except Refused as why:
            status = 403 if isinstance(why, NotAllowed) else 409 if isinstance(why, SaidOtherwise) else 422
            refused.append({"name": each.name or "picture", "why": str(why)})
    return _answer(request, as_json, kept, refused, status)


def _one(request: HttpRequest, sent: UploadedFile[bytes], act_id: uuid.UUID, first: bool) -> dict[str, Any]:
    sound = request.FILES.get("sound") if first else None
    if sound is not None and (sound.size or 0) > MOST_BYTES:
        note: bytes | None = bytes(MOST_BYTES + 1)  # named by its size; nobody reads more of it
    else:
        note = sound.read() if sound is not None else None
    return picture_comes_in(
        by=asked.me(request),
        act_id=act_id,
        data=sent.read(),
        name=sent.name or "picture",
        taken_at=_moment(request, "taken_at"),
        sent_at=_moment(request, "sent_at"),
        device=request.POST.get("device", "").replace("\0", ""),
        sound=note,
    )


def _moment(request: HttpRequest, name: str) -> datetime | None:
    """A moment by the phone's clock; what cannot be read is none, and the shop's time counts."""
    try:
        read = datetime.fromisoformat(request.POST.get(name, ""))
        return read if read.tzinfo else timezone.make_aware(read)
    except (ValueError, OverflowError):
        return None


def _answer(
    request: HttpRequest, as_json: bool, kept: list[dict[str, Any]], refused: list[dict[str, str]], status: int
) -> HttpResponse:
    if as_json:
        waiting = waits()
        counts = {"unsorted": waiting.unsorted, "asks": waiting.asks, "not_said": waiting.not_said}
        told = {"act_id": request.POST.get("act_id", ""), "kept": kept, "refused": refused, "waits": counts}
        return JsonResponse(told, status=status)
    return _page(request, {"kept": kept, "refused": refused}, status)


def _page(request: HttpRequest, told: dict[str, Any], status: int = 200) -> HttpResponse:
    shown = {**told, "last": last_in(asked.me(request)), "waits": waits(), "act_id": uuid.uuid4()}
    return render(request, "in.html", shown, status=status)


@login_required
@require_POST
def spoken(request: HttpRequest, sha256: str) -> HttpResponse:
    """Take a note that was spoken after the picture was taken."""
    as_json = "application/json" in request.headers.get("Accept", "")
    photo = Photo.objects.filter(pk=sha256).first()
    if photo is None:
        raise Http404("There is no such picture.")
    try:
        sent = request.FILES.get("sound")
        if sent is None:
            raise Refused("No sound came along. Nothing was changed. Say it again.")
        data = sent.read(MOST_BYTES + 1)
        told = say_over(
            by=asked.me(request), act_id=asked.act_id(request), photo=photo, data=data, name=sent.name or "note"
        )
    except Refused as why:
        if as_json:
            return JsonResponse({"refused": str(why)}, status=403 if isinstance(why, NotAllowed) else 422)
        return asked.refusal(request, why, "/in/")
    return JsonResponse(told) if as_json else _page(request, {"noted": True})


@login_required
@require_safe
def sound(request: HttpRequest, number: int) -> HttpResponse:
    """Give a spoken note to be played; a browser asks for it in parts."""
    note = SoundNote.objects.filter(pk=number).first()
    try:
        data = sound_path(note.sha256).read_bytes() if note is not None else None
    except FileNotFoundError:
        data = None
    if note is None or data is None:
        raise Http404("There is no such spoken note.")
    response = HttpResponse(data, content_type=note.type)
    asked_for = _RANGE.fullmatch(request.headers.get("Range", ""))
    if asked_for and data and any(asked_for.groups()):
        start, end = asked_for.groups()
        begin = int(start) if start else max(0, len(data) - int(end))
        stop = min(int(end) if start and end else len(data) - 1, len(data) - 1)
        if begin > stop:
            return HttpResponse(status=416, headers={"Content-Range": f"bytes */{len(data)}"})
        response = HttpResponse(data[begin : stop + 1], content_type=note.type, status=206)
        response["Content-Range"] = f"bytes {begin}-{stop}/{len(data)}"
    response["Accept-Ranges"] = "bytes"
    response["Cache-Control"] = "private, max-age=31536000, immutable"
    return response


urls: list[URLPattern] = [
    path("in/", pictures_in, name="pictures_in"),
    path("in/spoken/<str:sha256>/", spoken, name="spoken"),
    path("in/sound/<int:number>/", sound, name="sound"),
]
