"""Find a tag, a place, a word."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.views.decorators.http import require_safe

from witnessmark.records.lookups.search import find, near_tags
from witnessmark.records.lookups.where import standings


@login_required
@require_safe
def find_screen(request: HttpRequest) -> HttpResponse:
    """Show what holds the words; a tag typed in full opens its piece at once."""
    words = request.GET.get("q", "").strip()
    found = find(words)
    if found.exact is not None and found.exact.tag and "list" not in request.GET:
        return redirect("piece", found.exact.tag)
    where = standings(found.pieces)
    pieces = [(piece, where[piece.pk]) for piece in found.pieces]
    near = near_tags(words) if words and not found.count else []
    return render(request, "find.html", {"words": words, "found": found, "pieces": pieces, "near": near})


urls: list[URLPattern] = [path("find/", find_screen, name="find")]
