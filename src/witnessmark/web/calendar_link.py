"""The calendar by a signed link, so that a phone's calendar can read it without a sign-in.

The link names a person and ends with him: it opens nothing when he works here no longer. Its signature is made with
the installation's own key; no list of links is kept.
"""

from django.contrib.auth.decorators import login_required
from django.core import signing
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import URLPattern, path, reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from witnessmark.records.lookups.day import the_aircraft
from witnessmark.records.models import Person
from witnessmark.web import asked

SALT = "witnessmark.calendar"


def link_for(person: Person, *, everybody: bool) -> str:
    """The path that opens this person's calendar, or everybody's for him."""
    token = signing.dumps([person.pk, everybody], salt=SALT, compress=True)
    return reverse("calendar", args=[token])


@login_required
@require_safe
def calendar_screen(request: HttpRequest) -> HttpResponse:
    """Give the links to put into a calendar."""
    me = asked.me(request)
    links = [request.build_absolute_uri(link_for(me, everybody=each)) for each in (False, True)]
    return render(request, "calendar.html", {"mine": links[0], "all": links[1]})


@never_cache
@require_safe
def calendar_by_link(request: HttpRequest, token: str) -> HttpResponse:
    """Answer with the calendar; a link that was changed, or whose person left, opens nothing."""
    from witnessmark.exchange.calendar_file import calendar  # its library is not loaded with the screens

    try:
        pk, everybody = signing.loads(token, salt=SALT)
    except (signing.BadSignature, ValueError, TypeError):
        raise Http404("This link opens no calendar.") from None
    person = Person.objects.filter(pk=pk, is_active=True).first()
    aircraft = the_aircraft()
    if person is None or aircraft is None:
        raise Http404("This link opens no calendar any more.")
    answer = HttpResponse(
        calendar(aircraft, "" if everybody else person.name), content_type="text/calendar; charset=utf-8"
    )
    answer["Content-Disposition"] = 'inline; filename="witnessmark.ics"'
    return answer


urls: list[URLPattern] = [
    path("calendar/", calendar_screen, name="calendar_links"),
    path("cal/<str:token>.ics", calendar_by_link, name="calendar"),
]
