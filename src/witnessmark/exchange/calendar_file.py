"""The plan as a calendar that phones and desks read (iCalendar, RFC 5545): jobs, deliveries, steps the owner knows.

Every entry has the same UID each time, so that a calendar that reads the link again moves it and makes no second one.
"""

from datetime import date, datetime, time, timedelta

from icalendar import Calendar, Event
from icalendar.prop import vDate

from witnessmark import __version__
from witnessmark.calc.plan.calendars import DAY
from witnessmark.calc.working import CAUTION_LINE
from witnessmark.records.lookups.day import now
from witnessmark.records.lookups.forecast import milestone_dates
from witnessmark.records.lookups.plan import COUNTED, Plan, make_plan
from witnessmark.records.models import Aircraft

# What is planned further ahead will have moved before the day comes.
JOBS_AHEAD_DAYS = 14


def calendar(aircraft: Aircraft, person: str = "") -> bytes:
    """Write the plan as one calendar: everybody's, or one person's jobs with all deliveries and steps."""
    plan = make_plan(aircraft)
    made = Calendar()
    made.add("prodid", f"-//witnessmark//{__version__}//EN")
    made.add("version", "2.0")
    made.add("method", "PUBLISH")
    made.add("x-wr-calname", f"{aircraft.name}{f', {person}' if person else ''}")
    if plan.proved:
        stamp = now(aircraft)
        for event in (*_jobs(plan, person), *_arrivals(plan), *_steps(plan, aircraft)):
            event.add("dtstamp", stamp)
            made.add_component(event)
    return bytes(made.to_ical())


def _event(key: str, aircraft_id: int, what: str, first: date, last: date, words: str) -> Event:
    event = Event()
    event.add("uid", f"{key.replace(' ', '_')}@{aircraft_id}.witnessmark")
    event.add("summary", what)
    event["dtstart"] = vDate(first)
    event["dtend"] = vDate(last + timedelta(days=1))  # the day after: the end does not belong to it
    event["dtstart"].params["VALUE"] = event["dtend"].params["VALUE"] = "DATE"
    event.add("transp", "TRANSPARENT")
    event.add("description", f"{words} {CAUTION_LINE}".strip())
    return event


def _jobs(plan: Plan, person: str) -> list[Event]:
    """Jobs of people in the days ahead, at their hours."""
    until = plan.shop.today + timedelta(days=JOBS_AHEAD_DAYS)
    pk = plan.gathered.aircraft_id
    made = []
    for entry in plan.schedule.entries:
        if not entry.person or person not in ("", entry.person) or entry.start_date > until:
            continue
        job = plan.network.by_key[entry.key]
        event = Event()
        event.add("uid", f"{entry.key.replace(' ', '_')}@{pk}.witnessmark")
        event.add("summary", job.what.rstrip(".") + ("" if person else f" ({entry.person})"))
        event.add("dtstart", _moment(plan.shop.today, entry.start))
        event.add("dtend", _moment(plan.shop.today, entry.finish))
        if job.bench:
            event.add("location", job.bench)
        event.add("description", " ".join(filter(None, (job.caution, CAUTION_LINE))))
        made.append(event)
    return made


def _moment(today: date, quarter: int) -> datetime:
    """Floating time, as a clock on the shop's wall says it."""
    days, within = divmod(quarter, DAY)
    return datetime.combine(today + timedelta(days=days), time()) + timedelta(minutes=15 * within)


def _arrivals(plan: Plan) -> list[Event]:
    made = []
    for entry in plan.schedule.entries:
        job = plan.network.by_key[entry.key]
        if job.is_outside and job.away:
            what = job.what.rstrip(".").replace("Wait for ", "Counted on: ")
            made.append(
                _event(
                    entry.key,
                    plan.gathered.aircraft_id,
                    what,
                    entry.finish_date,
                    entry.finish_date,
                    "The likely day, not a promise.",
                )
            )
    return made


def _steps(plan: Plan, aircraft: Aircraft) -> list[Event]:
    """Steps the owner knows: from half the chance to four in five where there is a forecast."""
    dates = milestone_dates(aircraft)
    made = []
    for entry in plan.schedule.entries:
        job = plan.network.by_key[entry.key]
        if not (job.is_mark and entry.key.startswith("hand:")):
            continue
        half, four = dates.get(entry.key, (None, None))
        what = job.what.rstrip(".")
        if half is not None and four is not None:
            words = f"Half the chance by {half:%-d %B %Y}, four in five by {four:%-d %B %Y}."
            made.append(_event(entry.key, aircraft.pk, what, half, four, words))
        else:
            words = f"One plan, with {COUNTED}: too hopeful, for it leaves no room for lateness."
            made.append(_event(entry.key, aircraft.pk, what, entry.finish_date, entry.finish_date, words))
    return made
