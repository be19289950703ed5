"""Hours booked to jobs."""

from dataclasses import dataclass

from witnessmark.records.models import Aircraft, HoursBooked


@dataclass(frozen=True)
class Booked:
    """What is booked on one job."""

    lines: tuple[HoursBooked, ...]

    @property
    def total_hours(self) -> float:
        return sum(line.hours for line in self.lines)


def booked_on(aircraft: Aircraft, key: str) -> Booked:
    """Hours booked on one job, the newest first."""
    lines = HoursBooked.objects.filter(act__aircraft=aircraft, key=key).select_related("person").order_by("-day", "-id")
    return Booked(tuple(lines))
