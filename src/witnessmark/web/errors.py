"""Pages for what went wrong: what it was, what was kept, what to do."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def _page(request: HttpRequest, status: int, said: str, do: str) -> HttpResponse:
    return render(request, "error.html", {"said": said, "do": do}, status=status)


def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Answer what could not be read."""
    if type(exception).__name__ == "RequestDataTooBig":
        return _page(request, 413, "That is too much to send at once.", "Nothing was changed. Send less.")
    return _page(request, 400, "That could not be read.", "Nothing was changed. Go back and try once more.")


def not_allowed(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Answer what this person may not do."""
    return _page(request, 403, "That is not yours to do.", "Nothing was changed. Ask the lead mechanic.")


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Answer what is not there; the reason is said where the page knows it."""
    why = str(exception.args[0]) if exception and exception.args and isinstance(exception.args[0], str) else ""
    return _page(request, 404, why or "There is no such page.", "Look for it by its tag, its place or a word.")


def broken(request: HttpRequest) -> HttpResponse:
    """Answer a fault of the program."""
    text = (
        "<!doctype html><html lang=en><meta charset=utf-8><title>It broke</title><link rel=stylesheet href=/static/look.css>"
        "<div class=page><main><h1>The program broke here.</h1><p>What was recorded before stands; this last thing was not. "
        "Go back and try once more; if it breaks again, tell the lead mechanic what you pressed.</p></main></div></html>"
    )
    return HttpResponse(text, status=500)
