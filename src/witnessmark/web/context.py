"""What the top line and the foot of every page say."""

from typing import Any

from django.http import HttpRequest
from django.utils import timezone

from witnessmark import __version__
from witnessmark.records.lookups.day import day_number, the_aircraft, today


def where_and_when(request: HttpRequest) -> dict[str, Any]:
    """Name the aircraft, the day and who is signed in."""
    user = getattr(request, "user", None)
    me = user if user is not None and user.is_authenticated else None
    if me is None:
        return {"me": None, "version": __version__}
    aircraft = the_aircraft()
    return {
        "me": me,
        "aircraft": aircraft,
        "today": today(aircraft) if aircraft is not None else timezone.localdate(),
        "day_number": day_number(aircraft),
        "version": __version__,
    }
