"""The idle worker looks whether the record went on, and asks for a new plan and forecast once it is quiet."""

from datetime import date, datetime, timedelta

from django.db.models import Max
from django.utils import timezone

from witnessmark.records.lookups.day import today
from witnessmark.records.lookups.plan import make_plan
from witnessmark.records.models import Act, Aircraft
from witnessmark.records.work import enqueue

# Somebody who is typing is not overtaken: the search begins when nothing was said for so long.
QUIET = timedelta(seconds=20)


class Watch:
    """What was looked at already, so that a record that stands still costs one small query."""

    def __init__(self) -> None:
        self.seen: dict[int, tuple[date, datetime | None]] = {}

    def look(self, quiet: timedelta = QUIET) -> int:
        """Ask for a plan of each aircraft whose record has left its stored plan behind; say of how many."""
        last = Act.objects.aggregate(last=Max("recorded_at"))["last"]
        if last is not None and timezone.now() - last < quiet:
            return 0
        asked = 0
        for aircraft in Aircraft.objects.all():
            at = today(aircraft), last
            if self.seen.get(aircraft.pk) == at:
                continue
            self.seen[aircraft.pk] = at
            plan = make_plan(aircraft)
            if plan.proved and plan.schedule.entries and not (plan.stored and plan.stored.fresh):
                enqueue("foresee", str(aircraft.pk), {"aircraft": aircraft.pk})
                asked += 1
        return asked
