"""What a page may load: its own files and nothing else."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

POLICY = (
    "default-src 'none'; style-src 'self'; font-src 'self'; img-src 'self' data: blob:; script-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)


class ContentPolicy:
    """Set the strict content policy on every page."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer, with the policy."""
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", POLICY)
        response.headers.setdefault("Permissions-Policy", "geolocation=(), microphone=(self), camera=(self)")
        if not request.path.startswith("/static/"):
            response.headers.setdefault("Cache-Control", "private, no-cache")
        return response
