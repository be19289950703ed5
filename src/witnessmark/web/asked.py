"""What a posted form says, and how a refusal is answered: nothing was changed, and why."""

import uuid
from collections.abc import Sequence
from datetime import date
from typing import cast
from urllib.parse import urlsplit

from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import resolve

from witnessmark.records.actions.custody import holder
from witnessmark.records.actions.saying import NotAllowed, Refused, SaidOtherwise
from witnessmark.records.lookups.aircraft import holder_called
from witnessmark.records.models import Holder, HolderKind, Person, Piece
from witnessmark.web.again import as_typed, words_of


def me(request: HttpRequest) -> Person:
    """The person who is signed in."""
    return cast("Person", request.user)


def act_id(request: HttpRequest) -> uuid.UUID:
    """The act's own number, made when the page was drawn, so that a form sent twice is done once."""
    try:
        text = request.POST.get("act_id", "")
        return uuid.UUID(text if text.isascii() else "")
    except ValueError:
        raise Refused("The form has no number of its own. Nothing was changed. Open the page again.") from None


def whole(request: HttpRequest, name: str, what: str) -> int:
    """A whole number that was typed; nothing typed is nought."""
    text = request.POST.get(name, "").strip()
    if not text:
        return 0
    if not text.isascii() or not text.isdigit() or len(text) > 9:
        raise Refused(f"{what}: '{text[:20]}' is no whole number. Nothing was changed. Count again.")
    return int(text)


def day(request: HttpRequest, name: str, what: str) -> date | None:
    """A day that was typed or picked; nothing typed is no day."""
    return a_day(request.POST.get(name, "").strip(), what)


def a_day(text: str, what: str) -> date | None:
    """A day as it stands in a form or an address; nothing is no day."""
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise Refused(f"{what}: '{text[:20]}' is no day. Nothing was changed. Write it like 2026-05-12.") from None


def pieces(ids: Sequence[int]) -> list[Piece]:
    """The pieces of these numbers, every one of them."""
    found = list(Piece.objects.filter(pk__in=ids).select_related("size").order_by("pk"))
    if len(found) != len(set(ids)):
        raise Refused("One of these pieces is not in the record. Nothing was sent. Open the page again.")
    return found


def shipment_number(request: HttpRequest) -> str:
    """The number of a shipment, such as a label and an address can carry."""
    number = request.POST.get("number", "").strip()
    if not number or len(number) > 40 or not all(c.isalnum() or c in "-._" for c in number):
        raise Refused("A shipment needs a number of letters, digits and hyphens. Nothing was sent.")
    return number


def refusal(request: HttpRequest, why: Refused, back: str) -> HttpResponse:
    """Answer a refused act in plain words on the screen at `back`, with all that was typed standing in its form.

    Who may not say it finds no such form there: he gets a page of its own with what he typed.
    """
    status = 403 if isinstance(why, NotAllowed) else 409 if isinstance(why, SaidOtherwise) else 422
    typed = dict(request.POST.lists())
    page = None if status == 403 else _drawn_again(request, back)
    if page is None:
        shown = {"why": str(why), "back": back, "typed": words_of(typed)}
        return render(request, "refused.html", shown, status=status)
    page.content = as_typed(page.content.decode(), typed, str(why)).encode()
    page.status_code = status
    return page


def _drawn_again(request: HttpRequest, back: str) -> HttpResponse | None:
    """The screen at this address as it would stand had nothing been posted; none where it is gone."""
    address = urlsplit(back)
    request.method, request.GET = "GET", QueryDict(address.query)
    request.path = request.path_info = address.path
    request.META["QUERY_STRING"] = address.query
    try:
        screen = resolve(address.path)
        page = screen.func(request, *screen.args, **screen.kwargs)
    except Http404:
        return None
    return page if page.status_code == 200 else None


def shelf(request: HttpRequest, what: str, name: str = "to") -> Holder:
    """The shelf, box or person that was named; a shelf that is new needs no announcement."""
    text = " ".join(request.POST.get(name, "").split())
    if not text or len(text) > 200:
        raise Refused(f"{what} somewhere. Nothing was changed. Say on which shelf.")
    if not me(request).may_write:
        raise NotAllowed(f"{me(request).name} may read this, not change it. Nothing was changed.")
    return holder_called(text) or holder(HolderKind.SHELF, text)
