"""Sign in by a link that works once; sign out."""

from django.contrib.auth import login, logout
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from witnessmark.records.actions.people import is_unbegun
from witnessmark.records.actions.saying import Refused
from witnessmark.records.actions.signing_in import use_link, whose


@require_safe
def sign_in(request: HttpRequest) -> HttpResponse:
    """Say how to come in."""
    return render(request, "sign_in.html", {"unbegun": is_unbegun()})


@require_http_methods(["GET", "HEAD", "POST"])
def signed_in(request: HttpRequest, token: str) -> HttpResponse:
    """Ask once, then use the link up: a phone that looks ahead at links must not burn it."""
    if request.method != "POST":
        person = whose(token)
        if person is None:
            return render(request, "sign_in.html", {"refused": "Nobody was signed in."}, status=403)
        return render(request, "sign_in.html", {"person": person})
    try:
        person = use_link(token)
    except Refused as why:
        return render(request, "sign_in.html", {"refused": str(why)}, status=403)
    login(request, person, backend="django.contrib.auth.backends.ModelBackend")
    return redirect("bench")


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """Sign out on this phone."""
    logout(request)
    return redirect("sign_in")


urls: list[URLPattern] = [
    path("sign-in/", sign_in, name="sign_in"),
    path("in/<str:token>/", signed_in, name="signed_in"),
    path("sign-out/", sign_out, name="sign_out"),
]
