"""What a page may load, its own files and nothing else; and how much may be sent to it."""

import re
from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string

from witnessmark.records.models import Person, Role
from witnessmark.web.errors import bad_request, not_allowed

POLICY = (
    "default-src 'none'; style-src 'self'; font-src 'self'; img-src 'self' data: blob:; media-src 'self' blob:; script-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
FORM_AROUND_A_PHOTO = 100_000
OPEN_TO_ALL = (
    "/begin/",
    "/waiting/",
    "/sw.js",
    "/certificate/",
    "/help/",
    "/sign-in/",
    "/sign-out/",
    "/in/",
    "/o/",
    "/copy/",
    "/static/",
)
# Pictures come in under the same beginning as the links that sign in; those are the shop's own.
NOT_A_LINK = re.compile(r"/in/($|(spoken|sound|said|sort|back|tags)/)")


class SecureCookies:
    """What came by TLS gets cookies that go back by TLS alone; this machine's own browser needs none."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer, and mark the cookies."""
        response = self.get_response(request)
        if request.is_secure():
            for cookie in response.cookies.values():
                cookie["secure"] = True
        return response


class ContentPolicy:
    """Set the strict content policy on every page; refuse a body that is too large before it is read."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer, with the policy."""
        most = int(settings.PHOTO_MAX_BYTES) + FORM_AROUND_A_PHOTO
        if _bytes_sent(request) > most:
            response = too_large()
        elif "\0" in request.path or "%00" in request.META.get("QUERY_STRING", ""):
            response = bad_request(request)  # no text in the record holds it, and one database breaks on it
        else:
            response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", POLICY)
        response.headers.setdefault("Permissions-Policy", "geolocation=(), microphone=(self), camera=(self)")
        if not request.path.startswith("/static/"):
            response.headers.setdefault("Cache-Control", "private, no-cache")
        return response


def too_large() -> HttpResponse:
    """Answer what is larger than a photograph may be."""
    return HttpResponse(render_to_string("413.html", {"most_mb": settings.PHOTO_MAX_BYTES // 1_000_000}), status=413)


def _bytes_sent(request: HttpRequest) -> int:
    text = str(request.META.get("CONTENT_LENGTH") or "0")
    return int(text) if text.isascii() and text.isdigit() else 0


def _open(path: str) -> bool:
    return path.startswith(OPEN_TO_ALL) and not NOT_A_LINK.match(path)


class InsideOnly:
    """An outside craftsman sees his own shipments by a signed link, and no screen of the shop."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Let the shop's own people and strangers through: a stranger is asked who he is."""
        user = request.user
        if isinstance(user, Person) and user.role == Role.CRAFTSMAN and not _open(request.path):
            return not_allowed(request)
        return self.get_response(request)
