"""Who has what: lines typed one after the other, whom to ring today, and what they say in one press."""

import uuid
from datetime import date, timedelta

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path, reverse
from django.views.decorators.http import require_http_methods

from witnessmark.calc.plain_days import PlainDay, UnknownDay, plain_day
from witnessmark.records.actions import who_has_what as said
from witnessmark.records.actions.saying import Refused, Result
from witnessmark.records.lookups.day import the_aircraft, today
from witnessmark.records.lookups.who_has_what import Away, WhoHasWhat, pictures_of, who_has_what
from witnessmark.records.models import Act, Shipment, Vendor
from witnessmark.web import asked

# What they say most often, each one press; the word for the button and the day as it is said.
THEY_SAY = (
    ("It is ready", "today"),
    ("In a week", "in 1 week"),
    ("In 2 weeks", "in 2 weeks"),
    ("In 4 weeks", "in 4 weeks"),
    ("Nobody answered", ""),
)
LONGEST_WAIT = timedelta(days=60)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def who_has_what_screen(request: HttpRequest) -> HttpResponse:
    """Show who has what and whom to ring; a post says a line, a call, a number, a piece, or takes one back."""
    now = today(the_aircraft())
    if request.method == "POST":
        act = request.POST.get("act_id", "")
        try:
            _say(request, now)
        except Refused as why:
            return asked.refusal(request, why, request.path)
        return redirect(f"{reverse('who_has_what')}?said={act}")
    told = _told(request)
    seen = who_has_what(now)
    shown = {
        "seen": seen,
        "told": told,
        "typing": not seen.away or (told is not None and told["verb"] != "rang"),
        "calls": [
            (call, [(each, uuid.uuid4(), uuid.uuid4()) for each in call.about], uuid.uuid4()) for call in seen.calls
        ],
        "rows": _rows(seen),
        "they_say": THEY_SAY,
        "ids": {"line": uuid.uuid4(), "back": uuid.uuid4()},
    }
    return render(request, "who_has_what.html", shown)


def _rows(seen: WhoHasWhat) -> list[tuple[Vendor, list[tuple[Away, str, dict[str, uuid.UUID]]]]]:
    pictures = pictures_of(seen.away)
    ids = ("rang", "it_is", "back")
    return [
        (vendor, [(each, next((pictures[x.piece_id] for x in each.lines if x.piece_id in pictures), ""), {name: uuid.uuid4() for name in ids}) for each in rows])
        for vendor, rows in seen.by_vendor
    ]  # fmt: skip


def _told(request: HttpRequest) -> Result | None:
    """What was said last on this page, with what to take back."""
    try:
        key = uuid.UUID(request.GET.get("said", ""))
    except ValueError:
        return None
    act = Act.objects.filter(pk=key, person=asked.me(request)).select_related("actresult").first()
    if act is None or not hasattr(act, "actresult") or "line" not in act.actresult.result:
        return None
    back = act.verb in ("say_out", "rang", "say_it_is") and not Act.objects.filter(undoes=act).exists()
    return {**act.actresult.result, "verb": act.verb, "act": act.pk, "may_go_back": back}


def _text(request: HttpRequest, name: str) -> str:
    return " ".join(request.POST.get(name, "").replace("\0", "").split())


def _say(request: HttpRequest, now: date) -> None:
    what = request.POST.get("do", "")
    doing = {"line": _line, "rang": _rang, "phone": _phone, "it_is": _it_is, "back": _back}.get(what)
    if doing is None:
        raise Refused("The form says nothing that can be done here. Nothing was changed.")
    doing(request, now)


def _day(text: str, what: str, now: date, *, ahead: bool) -> PlainDay | None:
    if not text:
        return None
    try:
        return plain_day(text, now, ahead)
    except UnknownDay as why:
        raise Refused(f"{what}: {why}. Nothing was changed.") from None


def _typed_on(request: HttpRequest, now: date) -> date:
    """The day on which a line was typed that waited on a phone: its `today` is that one."""
    try:
        day = date.fromisoformat(request.POST.get("typed_on", ""))
    except ValueError:
        return now
    return day if now - LONGEST_WAIT <= day <= now else now


def _line(request: HttpRequest, now: date) -> None:
    then = _typed_on(request, now)
    since = _day(_text(request, "since") or "today", "Since when", then, ahead=False)
    promised = _day(_text(request, "promised"), "Promised for", then, ahead=True)
    assert since is not None
    sent = request.FILES.get("picture")
    said.say_out(
        by=asked.me(request),
        act_id=asked.act_id(request),
        what=_text(request, "what"),
        whom=_text(request, "whom"),
        since=since.day,
        promised=promised.day if promised else None,
        today=now,
        typed={name: _text(request, name)[:200] for name in ("what", "whom", "since", "promised")},
        picture=(sent.read(), sent.name or "picture") if sent is not None else None,
    )


def _shipment(request: HttpRequest) -> Shipment:
    found = Shipment.objects.filter(number=_text(request, "shipment")).select_related("vendor__holder").first()
    if found is None:
        raise Refused("That is not in the record any more. Nothing was changed. Open the page again.")
    return found


def _rang(request: HttpRequest, now: date) -> None:
    text = _text(request, "they_say") or _text(request, "day")
    day = _day(text, "They say", now, ahead=True)
    said.rang(
        by=asked.me(request),
        act_id=asked.act_id(request),
        shipment=_shipment(request),
        today=now,
        promised=day.day if day else None,
        note=_text(request, "note"),
    )


def _phone(request: HttpRequest, now: date) -> None:
    vendor = Vendor.objects.filter(code=_text(request, "vendor")).first()
    if vendor is None:
        raise Refused("There is no such vendor. Nothing was changed. Open the page again.")
    said.say_phone(by=asked.me(request), act_id=asked.act_id(request), vendor=vendor, phone=_text(request, "phone"))


def _it_is(request: HttpRequest, now: date) -> None:
    said.say_it_is(
        by=asked.me(request), act_id=asked.act_id(request), shipment=_shipment(request), tag=_text(request, "tag")
    )


def _back(request: HttpRequest, now: date) -> None:
    try:
        act = Act.objects.get(pk=uuid.UUID(_text(request, "act")))
    except (ValueError, Act.DoesNotExist):
        raise Refused("There is nothing of that to take back. Nothing was changed.") from None
    said.take_word_back(by=asked.me(request), act_id=asked.act_id(request), act=act)


urls: list[URLPattern] = [path("who-has-what/", who_has_what_screen, name="who_has_what")]
