"""Which aircraft, and which day it is there."""

from datetime import date, datetime

from django.utils import timezone

from witnessmark.records.models import Aircraft


def the_aircraft() -> Aircraft | None:
    """Give the aircraft the screens open on: the one that arrived last, or none in an empty record."""
    return Aircraft.objects.order_by("-arrived_on", "-id").first()


def today(aircraft: Aircraft | None) -> date:
    """Give today, or the fixed day that a demonstration plays on; what is of no aircraft is of the day the shop is on."""
    aircraft = aircraft or the_aircraft()
    if aircraft is not None and aircraft.today is not None:
        return aircraft.today
    return timezone.localdate()


def now(aircraft: Aircraft | None) -> datetime:
    """Give this moment; on the fixed day of a demonstration, the same time of that day."""
    moment = timezone.localtime()
    day = today(aircraft)
    return moment if day == moment.date() else moment.replace(year=day.year, month=day.month, day=day.day)


def day_number(aircraft: Aircraft | None) -> int | None:
    """Count the days since the aircraft arrived."""
    if aircraft is None or aircraft.arrived_on is None:
        return None
    return (today(aircraft) - aircraft.arrived_on).days
