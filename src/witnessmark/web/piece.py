"""One piece, photographs first; and all that can be said of it from a phone."""

import uuid
from collections.abc import Callable
from datetime import date

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.views.decorators.http import require_http_methods, require_safe

from witnessmark.records.actions import condition, custody
from witnessmark.records.actions.photographs import photograph
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.aircraft import holder_called, shelves
from witnessmark.records.lookups.day import today
from witnessmark.records.lookups.packing import quarantined
from witnessmark.records.lookups.pictures import sounds_of
from witnessmark.records.lookups.pieces import by_key, of_a_bag, piece_seen
from witnessmark.records.lookups.search import near_tags
from witnessmark.records.models import Act, DecisionKind, Holder, HolderKind, Piece, Place, Step, Untraced
from witnessmark.records.photo_store import NotAPicture
from witnessmark.web import asked

FORMS = ("take_off", "put_back", "lay_down", "finding", "decide", "step", "photograph", "undo")


def _take_off(request: HttpRequest, piece: Piece) -> None:
    chosen = request.POST.get("at", "")
    custody.take_off(
        by=asked.me(request),
        act_id=asked.act_id(request),
        piece=piece,
        to=_shelf(request),
        at=Holder.objects.filter(pk=int(chosen)).first() if chosen.isascii() and chosen.isdigit() else None,
    )


def _shelf(request: HttpRequest) -> Holder:
    """The shelf, box or person of this name; a new name is a new shelf."""
    if not asked.me(request).may_write:
        raise NotAllowed(f"{asked.me(request).name} may read this, not change it. Nothing was changed.")
    name = " ".join(request.POST.get("shelf", "").replace("\0", "").split())[:200]
    if not name:
        raise Refused("Say where it is laid. Nothing was changed. Write the name of a shelf or a box.")
    return holder_called(name) or custody.holder(HolderKind.SHELF, name)


def _put_back(request: HttpRequest, piece: Piece) -> None:
    chosen = request.POST.get("place", "")
    place = Place.objects.filter(pk=int(chosen)).first() if chosen.isascii() and chosen.isdigit() else None
    if place is None:
        raise Refused("Say which place it goes into. Nothing was changed.")
    put_in(request, piece, place)


def put_in(request: HttpRequest, piece: Piece, place: Place) -> None:
    """Put a part into a place, or of a bag what belongs there."""
    at, count = of_a_bag(piece, place)
    custody.put_back(by=asked.me(request), act_id=asked.act_id(request), piece=piece, place=place, at=at, count=count)


def _lay_down(request: HttpRequest, piece: Piece) -> None:
    to = custody.single(HolderKind.NOT_FOUND) if request.POST.get("lost") else _shelf(request)
    custody.lay_down(by=asked.me(request), act_id=asked.act_id(request), piece=piece, to=to)


def _finding(request: HttpRequest, piece: Piece) -> None:
    condition.add_finding(
        by=asked.me(request),
        act_id=asked.act_id(request),
        piece=piece,
        what=request.POST.get("what", ""),
        measured=request.POST.get("measured", ""),
        seen_on=_today(piece),
    )


def _today(piece: Piece) -> date:
    return today(piece.aircraft)


def _decide(request: HttpRequest, piece: Piece) -> None:
    condition.decide(
        by=asked.me(request),
        act_id=asked.act_id(request),
        piece=piece,
        kind=request.POST.get("kind", ""),
        reason=request.POST.get("reason", ""),
        scrap_twice=request.POST.get("scrap_twice") == "yes",
    )


def _step(request: HttpRequest, piece: Piece) -> None:
    number = asked.whole(request, "number", "The step")
    step = Step.objects.filter(piece=piece, number=number).first()
    if step is None:
        raise Refused("That step is not on this piece's route. Nothing was changed.")
    condition.finish_step(by=asked.me(request), act_id=asked.act_id(request), step=step)


def _photograph(request: HttpRequest, piece: Piece) -> None:
    picture = request.FILES.get("picture")
    if picture is None:
        raise Refused("No picture came with it. Nothing was changed. Choose one, or take one.")
    try:
        photograph(
            by=asked.me(request),
            act_id=asked.act_id(request),
            data=picture.read(),
            name=picture.name or "picture",
            piece=piece,
            what=request.POST.get("what", ""),
        )
    except NotAPicture as why:
        raise Refused(str(why)) from None


def _undo(request: HttpRequest, piece: Piece) -> None:
    act = piece_seen(piece).last_move
    if act is None or str(act.pk) != request.POST.get("act"):
        raise Refused("It has moved since. Nothing was changed. Look where it is now.")
    custody.undo(by=asked.me(request), act_id=asked.act_id(request), act=act)


SAY: dict[str, Callable[[HttpRequest, Piece], None]] = {
    "take_off": _take_off,
    "put_back": _put_back,
    "lay_down": _lay_down,
    "finding": _finding,
    "decide": _decide,
    "step": _step,
    "photograph": _photograph,
    "undo": _undo,
}


@login_required
@require_http_methods(["GET", "POST"])
def piece_screen(request: HttpRequest, key: str) -> HttpResponse:
    """Show the piece; a post says what was done with it."""
    piece = by_key(key)
    if piece is None:
        near = ", ".join(near_tags(key))
        raise Http404(f"No piece has the tag {key}.{f' There is {near}.' if near else ''}")
    if request.method == "POST":
        say = SAY.get(request.POST.get("do", ""))
        try:
            if say is None:
                raise Refused("The form says nothing that can be done. Nothing was changed.")
            say(request, piece)
        except Refused as why:
            return asked.refusal(request, why, request.path)
        return redirect("piece", piece.key)
    seen = piece_seen(piece)
    return render(
        request,
        "piece.html",
        {
            "seen": seen,
            "piece": piece,
            "shelves": shelves(),
            "decisions": DecisionKind.choices,
            "may_decide": asked.me(request).role == "lead",
            "ids": {form: uuid.uuid4() for form in FORMS},
            "sounds": sounds_of(piece),
            "held": quarantined([piece.pk]).get(piece.pk, ""),
            "untraced": Untraced.objects.filter(piece=piece, shown_act=None).exists(),
            "undo": seen.last_move if _mine(request, seen.last_move) else None,
        },
    )


def _mine(request: HttpRequest, act: Act | None) -> bool:
    return act is not None and act.person_id == asked.me(request).pk


@login_required
@require_safe
def tag_screen(request: HttpRequest, tag: str) -> HttpResponse:
    """What the code on a tag opens."""
    piece = by_key(tag)
    if piece is None:
        raise Http404(f"No piece has the tag {tag}.")
    return redirect("piece", piece.key)


urls: list[URLPattern] = [
    path("piece/<str:key>/", piece_screen, name="piece"),
    path("t/<str:tag>/", tag_screen, name="tag"),
]
