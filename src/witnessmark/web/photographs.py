"""Pictures as they are shown: upright, small enough, and without where they were taken."""

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import URLPattern, path
from django.views.decorators.http import require_safe

from witnessmark.records.models import Photo
from witnessmark.records.photo_store import WIDTHS, served_copy


@login_required
@require_safe
def photo(request: HttpRequest, sha256: str, width: int) -> HttpResponse:
    """Give a copy; a picture never changes, so the phone may keep it."""
    found = Photo.objects.filter(pk=sha256).first()
    if found is None or width not in WIDTHS:
        raise Http404("There is no such picture.")
    try:
        copy = served_copy(found, width)
    except FileNotFoundError:
        raise Http404("The picture itself is gone from the data folder. What is said of it is kept.") from None
    response = HttpResponse(copy, content_type="image/jpeg")
    response["Cache-Control"] = "private, max-age=31536000, immutable"
    return response


urls: list[URLPattern] = [path("photo/<str:sha256>/<int:width>/", photo, name="photo")]
