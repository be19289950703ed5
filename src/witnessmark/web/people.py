"""The first name in an empty record, and letting others in: a link and its code, to be read off this screen."""

import uuid
from urllib.parse import urlsplit

from django.conf import settings
from django.contrib.auth import login
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_http_methods

from witnessmark.records.actions.people import MAY_COME_IN, begin, is_unbegun, let_in, opens_beginning, people
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.actions.signing_in import make_link
from witnessmark.records.models import Person, Role
from witnessmark.web import asked
from witnessmark.web.errors import not_allowed

THIS_MACHINE = ("127.0.0.1", "localhost", "::1")
# What each may do, as the screen says it beside the choice.
ROLES = {
    Role.MECHANIC: "mechanic: takes pictures, takes off, puts back",
    Role.INSPECTOR: "inspector: the same, and signs inspections",
    Role.OWNER: "owner: reads everything, changes nothing",
    Role.LEAD: "lead: all of it, and lets people in",
}


@require_http_methods(["GET", "HEAD", "POST"])
def beginning(request: HttpRequest, token: str) -> HttpResponse:
    """Ask a name, and nothing else, of the first one in an empty record."""
    if not opens_beginning(token):
        raise Http404("This link begins nothing here. Look again in the window where it was started.")
    if not is_unbegun():
        return redirect("bench" if request.user.is_authenticated else "sign_in")
    if request.method != "POST":
        return render(request, "begin.html")
    typed = request.POST.get("name", "")
    try:
        lead = begin(name=typed)
    except Refused as why:
        return render(request, "begin.html", {"refused": str(why), "typed": typed[:200]}, status=422)
    login(request, lead, backend="django.contrib.auth.backends.ModelBackend")
    return redirect("bench")


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def people_screen(request: HttpRequest) -> HttpResponse:
    """Name who can come in; the lead lets somebody in, or makes a new link for one who is."""
    me = asked.me(request)
    if me.role != Role.LEAD:
        return not_allowed(request)
    if request.method != "POST":
        return _page(request, {})
    try:
        told = let_in(
            by=me, act_id=asked.act_id(request), name=request.POST.get("name", ""), role=request.POST.get("role", "")
        )
        person = Person.objects.get(pk=told["person"])
        address = request.build_absolute_uri(f"/in/{make_link(person)}/")
    except NotAllowed:
        return not_allowed(request)
    except Refused as why:
        return asked.refusal(request, why, request.path)
    if settings.SHOP_ADDRESS and urlsplit(address).hostname in THIS_MACHINE:
        address = settings.SHOP_ADDRESS.rstrip("/") + urlsplit(address).path
    shown = {
        "person": person,
        "address": address,
        "code": _code(address),
        "here_only": urlsplit(address).hostname in THIS_MACHINE,
    }
    return _page(request, shown)


def _code(address: str) -> str:
    """Draw the code without a size of its own: the page chooses it."""
    import segno

    drawn = segno.make_qr(address, error="m").svg_inline(omitsize=True, svgclass=None, lineclass=None, light="#fff")
    return mark_safe(drawn)  # noqa: S308  drawn by ourselves from the address


def _page(request: HttpRequest, told: dict[str, object]) -> HttpResponse:
    shown = {**told, "people": people(), "roles": [(role, ROLES[role]) for role in ROLES if role in MAY_COME_IN]}
    return render(request, "people.html", {**shown, "act_id": uuid.uuid4()})


urls: list[URLPattern] = [
    path("begin/<str:token>/", beginning, name="begin"),
    path("people/", people_screen, name="people"),
]
