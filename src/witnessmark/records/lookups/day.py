"""Which aircraft, and which day it is there."""

from datetime import date

from django.utils import timezone

from witnessmark.records.models import Aircraft


def the_aircraft() -> Aircraft | None:
    """Give the aircraft the screens open on: the one that arrived last, or none in an empty record."""
    return Aircraft.objects.order_by("-arrived_on", "-id").first()


def today(aircraft: Aircraft | None) -> date:
    """Give today, or the fixed day that a demonstration plays on."""
    if aircraft is not None and aircraft.today is not None:
        return aircraft.today
    return timezone.localdate()


def day_number(aircraft: Aircraft | None) -> int | None:
    """Count the days since the aircraft arrived."""
    if aircraft is None or aircraft.arrived_on is None:
        return None
    return (today(aircraft) - aircraft.arrived_on).days
