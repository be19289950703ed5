"""What opens on a phone without a signal: the script that keeps the shell, and the shell, which holds nothing private."""

import hashlib
import json
from functools import lru_cache
from pathlib import Path

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import get_template
from django.templatetags.static import static
from django.urls import URLPattern, path
from django.views.decorators.csrf import ensure_csrf_cookie
from django.views.decorators.http import require_safe

HERE = Path(__file__).parent
SHELL = "/waiting/"
FILES = (
    "look.css",
    "screens.css",
    "in.css",
    "in.js",
    "sending.js",
    "queue.js",
    "waits.js",
    "waiting.js",
    "mark.svg",
    "fonts/archivo-latin-wdth-normal.woff2",
    "fonts/roboto-serif-latin-wdth-normal.woff2",
)
PAGES = ("base.html", "waiting.html", "_take.html")


@require_safe
@ensure_csrf_cookie
def waiting(request: HttpRequest) -> HttpResponse:
    """Show what waits on the phone that asks: the phone fills it in; the page is the same for everybody."""
    return render(request, "waiting.html", {"me": None, "aircraft": None, "today": None, "shell": True})


@lru_cache(maxsize=1)
def _version() -> str:
    """Name the shell by what it holds, so that a phone keeps one whole version and never parts of two."""
    whole = hashlib.sha256()
    for name in FILES:
        whole.update((HERE / "static" / name).read_bytes())
    for name in PAGES:
        whole.update(str(get_template(name).template.source).encode())  # type: ignore[attr-defined]
    return whole.hexdigest()[:16]


@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """Give the script that the browser keeps beside the pages; it is asked for anew on every visit."""
    kept = [SHELL, *(static(name) for name in FILES)]
    head = f'const VERSION = "{_version()}";\nconst SHELL = "{SHELL}";\nconst KEPT = {json.dumps(kept)};\n'
    script = (HERE / "static" / "worker.js").read_text(encoding="utf-8")
    response = HttpResponse(head + script, content_type="text/javascript; charset=utf-8")
    response["Cache-Control"] = "no-cache"
    return response


urls: list[URLPattern] = [
    path("waiting/", waiting, name="waiting"),
    path("sw.js", worker, name="service_worker"),
]
