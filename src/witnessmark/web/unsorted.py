"""Old pictures by screen: they come in by the thousand, wait by date, and are given to what they show, a few at a time.

`POST /pictures/old/` is the door for a phone's own script, answered as `POST /in/` is (web/pictures_in.py): fields `picture`,
`act_id`, `taken_at` (the file's own time). The same bytes come in once, whatever the act's number.

`POST /pictures/unsorted/` with `Accept: application/json` answers {"told", "photos" [those that leave the page], "sentence",
"to" [what they were given to], "last" [the act to take back], "act_id" [for the next]} or {"refused"}, else with the page.
"""

from __future__ import annotations

import re
import uuid
from datetime import UTC, datetime
from typing import Any
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path, reverse
from django.views.decorators.http import require_http_methods

from witnessmark.records.actions.old_pictures import WHERE_FROM, old_picture_comes_in
from witnessmark.records.actions.picture_sorting import (
    give_pictures,
    put_off_pictures,
    set_pictures_aside,
    take_back_sorting,
)
from witnessmark.records.actions.saying import NotAllowed, Refused, Result
from witnessmark.records.actions.twins import say_twins, seek_twins
from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.lookups.old_pictures import (
    SORTING,
    Target,
    counted,
    last_sorting,
    months,
    next_few,
    recent_targets,
    target_called,
    target_of,
    zones_to_tap,
)
from witnessmark.records.lookups.twins import told_twins, twins_to_tell
from witnessmark.records.models import Act, Photo, Piece, Place, Twins, Zone
from witnessmark.web import asked

_MONTH = re.compile(r"(?:19|20)\d\d-(?:0[1-9]|1[0-2])|none")


@require_http_methods(["GET", "HEAD", "POST"])
def old_in(request: HttpRequest) -> HttpResponse:
    """Take old pictures in: one at a time from the script, several from the plain form; asked for, it leads to them."""
    if request.method != "POST":
        return redirect("unsorted")
    as_json = "application/json" in request.headers.get("Accept", "")
    if not request.user.is_authenticated:
        why = "You are signed out. Sign in, and choose the same pictures again: what is in already is passed over."
        return JsonResponse({"refused": why}, status=401) if as_json else redirect("sign_in")
    kept: list[Result] = []
    refused: list[dict[str, str]] = []
    status = 200
    sent = request.FILES.getlist("picture")
    if not sent:
        why = "No picture came along. Nothing was changed. Choose some, or a folder."
        status, refused = 422, [{"name": "", "why": why}]
    for each in sent:
        name = (each.name or "picture").replace("\0", "")
        try:
            kept.append(
                old_picture_comes_in(
                    by=asked.me(request), data=each.read(), name=name, file_date=_file_date(request, len(sent))
                )
            )
        except Refused as why_not:
            status = 403 if isinstance(why_not, NotAllowed) else 422
            refused.append({"name": name, "why": str(why_not)})
    if kept:
        seek_twins()
    if as_json:
        told = {"act_id": request.POST.get("act_id", ""), "kept": kept, "refused": refused}
        return JsonResponse(told, status=status)
    return _draw(request, {"kept": kept, "refused": refused}, status)


def _file_date(request: HttpRequest, together: int) -> datetime | None:
    """The time of the file, where one came alone and the phone told it."""
    try:
        read = datetime.fromisoformat(request.POST.get("taken_at", "")) if together == 1 else None
    except ValueError:
        return None
    return read if read is None or read.tzinfo else read.replace(tzinfo=UTC)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def unsorted_screen(request: HttpRequest) -> HttpResponse:
    """Show the next few; a post says what some of them show, or takes the last word back."""
    if request.method != "POST":
        return _draw(request, {})
    as_json = "application/json" in request.headers.get("Accept", "")
    back = _here(request)
    try:
        told, result, to = _say(request)
    except Refused as why:
        if as_json:
            return JsonResponse({"refused": str(why)}, status=403 if isinstance(why, NotAllowed) else 422)
        return asked.refusal(request, why, back)
    if as_json:
        last = last_sorting(asked.me(request))
        answer = {"told": told, "photos": result["photos"], "sentence": counted().sentence, "to": to, "last": str(last.pk) if last else "", "act_id": str(uuid.uuid4())}  # fmt: skip
        return JsonResponse(answer)
    return redirect(_here(request, to=to))


def _here(request: HttpRequest, **more: str) -> str:
    kept = {key: value for key, value in {"month": _month(request), **more}.items() if value}
    return f"{reverse('unsorted')}?{urlencode(kept)}" if kept else reverse("unsorted")


def _month(request: HttpRequest) -> str:
    month = request.GET.get("month", "")
    return month if _MONTH.fullmatch(month) else ""


def _say(request: HttpRequest) -> tuple[str, Result, str]:
    """Do what the form says; gives the words for it, the result, and what was chosen to be shown."""
    me, act_id = asked.me(request), asked.act_id(request)
    # A picture's own button names that picture; the buttons under all of them mean those that are picked.
    one = {do: request.POST[f"{do}_one"] for do in ("give", "later", "aside") if request.POST.get(f"{do}_one")}
    do = next(iter(one), request.POST.get("do", ""))
    to = request.POST.get("to", "")
    if do == "back":
        number = _uuid(request.POST.get("act", ""))
        mine = Act.objects.select_related("actresult", "person", "aircraft")
        act = mine.filter(pk=number, verb__in=SORTING).first() if number else None
        if act is None:
            raise Refused("There is nothing to take back. Nothing was changed.")
        result = take_back_sorting(by=me, act_id=act_id, act=act)
        return f"Taken back: {_pictures(result)} unsorted again.", result, to
    picked = list(one.values()) or request.POST.getlist("photo")
    photos = list(Photo.objects.filter(pk__in=picked))
    if do == "later":
        result = put_off_pictures(by=me, act_id=act_id, photos=photos)
        return f"Not now: {_pictures(result)} again after the others.", result, to
    if do == "aside":
        result = set_pictures_aside(by=me, act_id=act_id, photos=photos)
        return f"Set aside: {_pictures(result)} kept, and asked about no more.", result, to
    if do != "give":
        raise Refused("The form says nothing that can be done. Nothing was changed.")
    target = _target(request)
    thing = target.thing
    result = give_pictures(
        by=me,
        act_id=act_id,
        photos=photos,
        zone=thing if isinstance(thing, Zone) else None,
        place=thing if isinstance(thing, Place) else None,
        piece=thing if isinstance(thing, Piece) else None,
    )
    before = f" {result['before']} had been sorted already." if result["before"] else ""
    return f"{_pictures(result).capitalize()} given to {target.name}.{before}", result, target.key


def _pictures(result: Result) -> str:
    number = len(result["photos"])
    return "1 picture" if number == 1 else f"{number} pictures"


def _target(request: HttpRequest) -> Target:
    words = " ".join(request.POST.get("to_words", "").replace("\0", "").split())[:120]
    if words:
        found = target_called(words, the_aircraft())
        if found is None:
            raise Refused(
                f"There is no zone, place or piece called {words}. Nothing was changed. "
                "Write a tag, a zone, or a place's mark with left or right."
            )
        return found
    found = target_of(request.POST.get("to", ""))
    if found is None:
        raise Refused("Say first what they show. Nothing was changed. Tap a zone, or write a tag.")
    return found


def _uuid(text: str) -> uuid.UUID | None:
    try:
        return uuid.UUID(text if text.isascii() else "")
    except ValueError:
        return None


def _draw(request: HttpRequest, told: dict[str, Any], status: int = 200) -> HttpResponse:
    month, me = _month(request), asked.me(request)
    few = next_few(month)
    chosen = target_of(request.GET.get("to", ""))
    recent = recent_targets(me)
    zones = zones_to_tap(the_aircraft())
    first = [chosen] if chosen is not None else []
    keys = {each.key for each in first}
    targets = first + [each for each in (*recent, *zones) if not (each.key in keys or keys.add(each.key))]  # type: ignore[func-returns-value]
    last = last_sorting(me)
    shown = {
        **told,
        "count": counted(),
        "few": [
            (each, WHERE_FROM.get(each.dated_by, "taken here"), few.known and n < few.run)
            for n, each in enumerate(few.pictures)
        ],
        "run": few.run,
        "known": few.known,
        "first": few.pictures[0] if few.run else None,
        "latest": few.pictures[few.run - 1] if few.run else None,
        "months": months(),
        "month": month,
        "here": _here(request),
        "chosen": chosen,
        "targets": targets,
        "last": last,
        "last_words": _last_words(last) if last else "",
        "act_id": uuid.uuid4(),
        "back_id": uuid.uuid4(),
    }
    return render(request, "unsorted.html", shown, status=status)


def _last_words(act: Act) -> str:
    how = {"give_pictures": f"given to {act.actresult.result.get('shows', '')}", "put_off_pictures": "put off", "set_pictures_aside": "set aside"}  # fmt: skip
    return f"{_pictures(act.actresult.result).capitalize()} {how[act.verb]}."


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def twins_screen(request: HttpRequest) -> HttpResponse:
    """Show two pictures side by side that may be the same; a post says whether they are."""
    if request.method == "POST":
        try:
            number = request.POST.get("twins", "")
            twins = Twins.objects.filter(pk=int(number)).first() if number.isascii() and number.isdigit() and len(number) < 19 else None  # fmt: skip
            words = {"same": True, "other": False, "back": None}
            if twins is None or request.POST.get("do") not in words:
                raise Refused("There are no such two pictures. Nothing was changed. Open the page again.")
            say_twins(by=asked.me(request), act_id=asked.act_id(request), twins=twins, same=words[request.POST["do"]])
        except Refused as why:
            return asked.refusal(request, why, reverse("twins"))
        return redirect("twins")
    pairs = twins_to_tell()
    return render(
        request,
        "twins.html",
        {
            "count": counted().twins,
            "pairs": [(pair, uuid.uuid4()) for pair in pairs],
            "told": [(pair, uuid.uuid4()) for pair in told_twins()],
        },
    )


urls: list[URLPattern] = [
    path("pictures/old/", old_in, name="old_in"),
    path("pictures/unsorted/", unsorted_screen, name="unsorted"),
    path("pictures/twins/", twins_screen, name="twins"),
]
