"""The page behind a copy's link: as it was sent, for whoever holds the link, until it runs out or is ended."""

from collections.abc import Callable
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import URLPattern, path, reverse
from django.views.decorators.http import require_safe

from witnessmark.papers.since_copy import days_of
from witnessmark.records.actions.copies import count_opening
from witnessmark.records.bare_pictures import bare_copy
from witnessmark.records.lookups.copies import Content, copy_behind
from witnessmark.records.models import Photo, SentCopy


def drawn(made: Content, address: Callable[[int, str], str]) -> dict[str, Any]:
    """A copy as the templates draw it; `address` says where its pictures are, by their number or by what they are."""
    pairs: dict[int, list[dict[str, Any]]] = {}
    for number, each in enumerate(made["pictures"]):
        pairs.setdefault(each["pair"], []).append({**each, "src": address(number, each["photo"])})
    return {"made": made, "days_said": days_of(made), "pairs": list(pairs.values())}


def paper_answer(copy: SentCopy, form: str) -> HttpResponse:
    """The copy as PDF, or its pictures with their captions."""
    from witnessmark.papers import since_copy

    name = since_copy.file_word(copy.content)
    if form == "pdf":
        response = HttpResponse(since_copy.pdf(copy.content), content_type="application/pdf")
        response["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    else:
        response = HttpResponse(since_copy.zipped(copy.content), content_type="application/zip")
        response["Content-Disposition"] = f'attachment; filename="{name}.zip"'
    response["Cache-Control"] = "no-store"
    return response


def _unseen(response: HttpResponse) -> HttpResponse:
    """No search engine keeps it, no cache holds it longer than it lasts, and no other site learns its address."""
    response["X-Robots-Tag"] = "noindex, nofollow, noarchive"
    response["Referrer-Policy"] = "no-referrer"
    response["Cache-Control"] = "no-store"
    return response


def _over(request: HttpRequest) -> HttpResponse:
    """Say that a link opens nothing; nothing in the answer tells whether it ever did."""
    return _unseen(render(request, "copy_over.html", status=404))


@require_safe
def copy_screen(request: HttpRequest, token: str) -> HttpResponse:
    """Show the copy. A stranger's opening is counted, the shop's own is not."""
    copy = copy_behind(token)
    if copy is None:
        return _over(request)
    if request.method == "GET" and not request.user.is_authenticated:
        count_opening(copy)
    shown = drawn(copy.content, lambda number, _: reverse("copy_picture", args=[token, number]))
    # The page is the same whoever looks: nothing of who is signed in goes into it.
    return _unseen(render(request, "copy.html", {"copy": copy, "token": token, **shown, "me": None, "aircraft": None}))


@require_safe
def copy_picture(request: HttpRequest, token: str, number: int) -> HttpResponse:
    """Give one of the copy's own pictures, and no other."""
    copy = copy_behind(token)
    shown = copy.content["pictures"] if copy is not None else []
    photo = Photo.objects.filter(pk=shown[number]["photo"]).first() if number < len(shown) else None
    if photo is None:
        return _over(request)
    try:
        return _unseen(HttpResponse(bare_copy(photo), content_type="image/jpeg"))
    except FileNotFoundError:
        raise Http404("The picture itself is gone from the shop's folder.") from None


@require_safe
def copy_paper(request: HttpRequest, token: str, form: str) -> HttpResponse:
    """Give the copy as PDF, or its pictures with their captions."""
    copy = copy_behind(token)
    return _over(request) if copy is None else _unseen(paper_answer(copy, form))


urls: list[URLPattern] = [
    path("copy/<str:token>/", copy_screen, name="copy"),
    path("copy/<str:token>/picture/<int:number>/", copy_picture, name="copy_picture"),
    path("copy/<str:token>/pdf/", copy_paper, {"form": "pdf"}, name="copy_pdf"),
    path("copy/<str:token>/pictures/", copy_paper, {"form": "zip"}, name="copy_pictures"),
]
