"""The shop's certificate, for phones to take: open to all, for a phone cannot sign in before it trusts the way."""

import ssl
from pathlib import Path

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import URLPattern, path
from django.views.decorators.http import require_safe

NOT_MADE = "There is no shop's certificate here: it is made by `witnessmark serve --shop`."


@require_safe
def certificate(request: HttpRequest) -> HttpResponse:
    """Give the steps, the fingerprint, and what does not work without."""
    shown = {
        "fingerprint": settings.SHOP_FINGERPRINT,
        "groups": settings.SHOP_FINGERPRINT.split(":"),
        "address": settings.SHOP_ADDRESS,
        "shell": True,
        "secure": request.is_secure(),
    }
    return render(request, "certificate.html", shown)


@require_safe
def authority(request: HttpRequest) -> HttpResponse:
    """Give the authority's certificate, without its key, in the form that phones open by themselves."""
    if not settings.SHOP_AUTHORITY:
        raise Http404(NOT_MADE)
    der = ssl.PEM_cert_to_DER_cert(Path(settings.SHOP_AUTHORITY).read_text(encoding="ascii"))
    response = HttpResponse(der, content_type="application/x-x509-ca-cert")
    response["Content-Disposition"] = 'attachment; filename="shop.crt"'
    return response


urls: list[URLPattern] = [
    path("certificate/", certificate, name="certificate"),
    path("certificate/shop.crt", authority, name="authority"),
]
