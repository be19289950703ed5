"""What a posted form says, and how a refusal is answered: nothing was changed, and why."""

import uuid
from collections.abc import Sequence
from datetime import date
from typing import cast

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from witnessmark.records.actions.saying import NotAllowed, Refused, SaidOtherwise
from witnessmark.records.models import Person, Piece


def me(request: HttpRequest) -> Person:
    """The person who is signed in."""
    return cast("Person", request.user)


def act_id(request: HttpRequest) -> uuid.UUID:
    """The act's own number, made when the page was drawn, so that a form sent twice is done once."""
    try:
        return uuid.UUID(request.POST.get("act_id", ""))
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
    text = request.POST.get(name, "").strip()
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
    """Answer a refused act in plain words, with the way back."""
    status = 403 if isinstance(why, NotAllowed) else 409 if isinstance(why, SaidOtherwise) else 422
    return render(request, "refused.html", {"why": str(why), "back": back}, status=status)
