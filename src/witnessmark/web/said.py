"""What is said later: a few pieces at a time with their picture; pictures that show nothing yet, or ask something."""

import uuid

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.views.decorators.http import require_http_methods

from witnessmark.records.actions.custody import holder
from witnessmark.records.actions.said_later import answer_picture, say_of_piece, sort_picture
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.aircraft import holder_called
from witnessmark.records.lookups.pictures import asking, unsorted, waits
from witnessmark.records.lookups.pieces import by_key
from witnessmark.records.lookups.said_later import place_called, to_say
from witnessmark.records.models import Aircraft, Holder, HolderKind, Photo, PictureIn, Zone
from witnessmark.web import asked

UNSORTED_AT_A_TIME = 6


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def said_screen(request: HttpRequest) -> HttpResponse:
    """Show what is not said yet; a post says some of it."""
    page = request.GET.get("page", "1")
    number = int(page) if page.isascii() and page.isdigit() and len(page) < 6 else 1
    if request.method == "POST":
        try:
            _say(request)
        except Refused as why:
            return asked.refusal(request, why, request.get_full_path())
        return redirect(request.get_full_path())
    of_place = request.GET.get("of") == "place"
    seen = to_say(number, of_place=of_place)
    return render(
        request,
        "said.html",
        {
            "seen": seen,
            "of_place": of_place,
            "waits": waits(),
            "pieces": [(each, uuid.uuid4()) for each in seen.pieces],
            "asking": [
                (each, _owners(each), uuid.uuid4()) for each in asking().select_related("photo")[:UNSORTED_AT_A_TIME]
            ],
            "unsorted": [
                (photo, uuid.uuid4()) for photo in unsorted().order_by("taken_at", "sha256")[:UNSORTED_AT_A_TIME]
            ],
        },
    )


def _owners(picture: PictureIn) -> list[Aircraft]:
    return list(Aircraft.objects.filter(piece__tag__in=picture.tags_read).distinct().order_by("name"))


def _say(request: HttpRequest) -> None:
    if not asked.me(request).may_write:
        raise NotAllowed(f"{asked.me(request).name} may read this, not change it. Nothing was changed.")
    what = request.POST.get("do", "")
    if what == "piece":
        _piece(request)
    elif what in ("sort", "aside"):
        _sort(request, aside=what == "aside")
    elif what == "answer":
        _answer(request)
    else:
        raise Refused("The form says nothing that can be done. Nothing was changed.")


def _text(request: HttpRequest, name: str) -> str:
    return " ".join(request.POST.get(name, "").replace("\0", "").split())


def _piece(request: HttpRequest) -> None:
    piece = by_key(_text(request, "key"))
    if piece is None:
        raise Refused("That piece is not in the record. Nothing was changed. Open the page again.")
    aircraft = Aircraft.objects.filter(pk=_number(request, "aircraft")).first()
    words = _text(request, "place")
    place = place_called(words, piece.aircraft or aircraft) if words else None
    if words and place is None:
        raise Refused(f"There is no place {words[:60]}. Nothing was changed. Write its mark, and left or right.")
    say_of_piece(
        by=asked.me(request),
        act_id=asked.act_id(request),
        piece=piece,
        name=_text(request, "name"),
        count=asked.whole(request, "count", "The count") or None,
        lies_at=_shelf(_text(request, "shelf") or _text(request, "shelf_tap")),
        goes_to=place,
        still_there=request.POST.get("still_there") == "yes",
        zone=Zone.objects.filter(pk=_number(request, "zone")).first(),
        sat=_text(request, "sat"),
        aircraft=aircraft,
    )


def _shelf(name: str) -> Holder | None:
    """The shelf, box or person of this name; a new name is a new shelf."""
    return (holder_called(name[:200]) or holder(HolderKind.SHELF, name[:200])) if name else None


def _number(request: HttpRequest, name: str) -> int:
    key = request.POST.get(name, "")
    return int(key) if key.isascii() and key.isdigit() and len(key) < 19 else 0


def _sort(request: HttpRequest, *, aside: bool) -> None:
    photo = Photo.objects.filter(pk=_text(request, "photo")).first()
    if photo is None:
        raise Refused("There is no such picture. Nothing was changed. Open the page again.")
    sort_picture(
        by=asked.me(request), act_id=asked.act_id(request), photo=photo, tag="" if aside else _text(request, "tag"),
        aside=aside,
    )  # fmt: skip


def _answer(request: HttpRequest) -> None:
    try:
        picture = PictureIn.objects.get(pk=uuid.UUID(request.POST.get("picture", "")))
    except (ValueError, PictureIn.DoesNotExist):
        raise Refused("There is no such picture. Nothing was changed. Open the page again.") from None
    both = request.POST.get("aircraft") == "both"
    aircraft = None if both else Aircraft.objects.filter(pk=_number(request, "aircraft")).first()
    if aircraft is None and not both:
        raise Refused("Say whose it is. Nothing was changed.")
    answer_picture(by=asked.me(request), act_id=asked.act_id(request), picture=picture, aircraft=aircraft)


urls: list[URLPattern] = [path("in/said/", said_screen, name="said")]
