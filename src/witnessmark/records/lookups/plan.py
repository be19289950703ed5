"""The plan: who does what when, made from the record as it is now and checked by independent code."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from functools import cached_property, lru_cache
from types import MappingProxyType

from witnessmark.calc.plan.calendars import DAY, OPENING, Bench, Shop
from witnessmark.calc.plan.calendars import Person as Planned
from witnessmark.calc.plan.due_days import late_jobs
from witnessmark.calc.plan.feasible import breaches
from witnessmark.calc.plan.jobs import Network
from witnessmark.calc.plan.lead_times import LeadTime, Wait
from witnessmark.calc.plan.reasons import CanStart, ToLeave, bench_list, order_or_send_now
from witnessmark.calc.plan.solve import Entry, Schedule
from witnessmark.calc.plan.working_days import said_day
from witnessmark.calc.plan.yesterday import Course
from witnessmark.records import models
from witnessmark.records.lookups.about import About
from witnessmark.records.lookups.fixed import newest_fixed, not_kept, with_fixed
from witnessmark.records.lookups.network import (
    INSPECTION,
    LEAD,
    Gathered,
    gather,
    newest_said,
    with_said,
)
from witnessmark.records.lookups.network_faults import shop_faults
from witnessmark.records.lookups.plan_order import Stored, continuous, stored_plan
from witnessmark.records.lookups.vendor_times import HereBy, VendorTime, expected
from witnessmark.records.models import Aircraft, JobFixed, JobSaid, Person, Role

_WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
# What one plan counts on; the forecast draws from the whole spread instead.
COUNTED = "likely hours in the shop and half the chance at each vendor"
CAN_START_SHOWN = 4
CAN_START_RANKED = 40
NAMES = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


@dataclass(frozen=True)
class Plan:
    """One schedule with what it was made from. With breaches it is not to be shown as a plan."""

    gathered: Gathered
    network: Network
    shop: Shop
    people: tuple[Person, ...]
    solved: "Solved"
    said: dict[str, JobSaid]
    stored: Stored | None = None
    fixed: dict[str, JobFixed] = field(default_factory=dict)
    not_as_fixed: tuple[str, ...] = ()

    @property
    def schedule(self) -> Schedule:
        return self.solved.schedule

    @property
    def breaches(self) -> tuple[str, ...]:
        return self.solved.breaches

    @property
    def proved(self) -> bool:
        return not self.breaches

    @cached_property
    def faults(self) -> tuple[str, ...]:
        """What could not be planned as it stands in the record."""
        return (
            *self.gathered.faults, *self.not_as_fixed, *unread_days(self.people), *shop_faults(self.shop, self.network, self.schedule.cannot),
        )  # fmt: skip

    @property
    def vendors(self) -> list[VendorTime]:
        """Vendors that something is planned for, by name, with what is counted on for each."""
        names = {job.vendor for job in self.network.jobs if job.vendor}
        return sorted((t for t in self.gathered.times.values() if t.vendor.name in names), key=lambda t: t.vendor.name)

    def about(self, key: str) -> About:
        return self.gathered.about_job(key)

    @cached_property
    def of_person(self) -> dict[str, list[Entry]]:
        """Everybody's entries, by start."""
        found: dict[str, list[Entry]] = {}
        for entry in self.schedule.entries:
            if entry.person:
                found.setdefault(entry.person, []).append(entry)
        return found


def weekdays(text: str) -> frozenset[int]:
    """Read the days somebody works: `Mon-Fri`, `Tue,Thu`, `none`; what cannot be read is Monday to Friday."""
    if text.strip().lower() in ("none", "never"):
        return frozenset()
    return _days_in(text) or frozenset(range(5))


def _days_in(text: str) -> frozenset[int]:
    found: set[int] = set()
    for part in re.split(r"[,;/ ]+", re.sub(r"\s*[-–]\s*", "-", text.strip().lower())):
        ends = [_WEEKDAYS.index(word[:3]) for word in part.split("-") if word[:3] in _WEEKDAYS]
        if len(ends) == 2:
            found.update(day % 7 for day in range(ends[0], ends[1] + 1 + (7 if ends[1] < ends[0] else 0)))
        else:
            found.update(ends)
    return frozenset(found)


def unread_days(people: Iterable[Person]) -> tuple[str, ...]:
    """Name each whose days cannot be read as days of the week, and what is planned meanwhile."""
    return tuple(
        f"{person.name} works on '{person.days.strip()}': that names no day of the week, so Monday to Friday is planned. "
        "Write it like Mon-Fri or Tue,Thu in people.csv."
        for person in people
        if person.days.strip() and weekdays(person.days) and not _days_in(person.days)
    )


def crafts(person: Person) -> frozenset[str]:
    """What somebody can be given: his craft, and what goes with his role."""
    own = {word.strip().lower() for word in re.split(r"[,;/]| and ", person.craft) if word.strip()}
    if person.role == Role.LEAD:
        own.add(LEAD)
    if person.role == Role.INSPECTOR:
        own.add(INSPECTION)
    return frozenset(own)


def _shop(today: date) -> tuple[Shop, tuple[Person, ...]]:
    people = tuple(Person.objects.filter(is_active=True).exclude(role=Role.OWNER).order_by("id"))
    days_off = list(models.DayOff.objects.values_list("day", "person_id"))
    return (
        Shop(
            today=today,
            people=tuple(
                Planned(
                    person.name,
                    crafts(person),
                    min(16.0, max(0.0, float(person.hours_per_day))),
                    weekdays(person.days),
                    frozenset(day for day, who in days_off if who == person.pk),
                    person.continuous,
                )
                for person in people
            ),
            benches=tuple(Bench(b.name, b.capacity) for b in models.Bench.objects.filter(capacity__gte=1)),
            holidays=frozenset(day for day, who in days_off if who is None),
            continuous_vendors=frozenset(models.Vendor.objects.filter(continuous=True).values_list("name", flat=True)),
        ),
        people,
    )


def make_plan(aircraft: Aircraft, gathered: Gathered | None = None) -> Plan:
    """Gather (unless the caller has just done so), schedule and check; the number of queries is fixed."""
    gathered = gathered or gather(aircraft)
    said, fixed = newest_said(aircraft), newest_fixed(aircraft)
    shop, people = _shop(gathered.today)
    network, not_as_fixed = _network_now(gathered, said, fixed, shop)
    stored = stored_plan(aircraft, network, shop)
    course = stored.go_on(network, shop) if stored else Course()
    return Plan(gathered, network, shop, people, _solved(network, shop, course), said, stored, fixed, not_as_fixed)


def _network_now(
    gathered: Gathered, said: dict[str, JobSaid], fixed: dict[str, JobFixed], shop: Shop
) -> tuple[Network, tuple[str, ...]]:
    """The jobs as people last spoke of them and fixed them, and what cannot be kept of that."""
    here = {person.name for person in shop.people}
    return with_fixed(with_said(gathered, said), fixed, here, gathered.today)


@dataclass(frozen=True)
class Solved:
    """What is computed from a network, a shop and a course alone; `course`: how the plan that is shown was laid."""

    course: Course
    schedule: Schedule
    breaches: tuple[str, ...]
    can_start: dict[str, tuple[CanStart, ...]]
    to_leave: tuple[ToLeave, ...]


@lru_cache(maxsize=4)
def _solved(network: Network, shop: Shop, course: Course) -> Solved:
    """Lay the plan and check it; where what was stored does not pass or places less, the plain order is taken."""
    schedule = course.lay(network, shop)
    found = tuple(breaches(schedule, network, shop))
    if course != Course() and (found or schedule.cannot):
        plain = _solved(network, shop, Course())
        if found or len(plain.schedule.cannot) < len(schedule.cannot):
            return plain
    if found:
        return Solved(course, schedule, found, {}, ())
    listed = bench_list(schedule, network, shop, CAN_START_RANKED, waits=0)
    return Solved(
        course,
        schedule,
        found,
        {person.person: person.jobs for person in listed.people},
        tuple(order_or_send_now(schedule, network, shop)),
    )


def solved_without(plan: Plan, stuck: set[str]) -> Schedule | None:
    """The schedule as if nobody had said that these jobs are stuck; None where it did not pass its check."""
    said = {key: word for key, word in plan.said.items() if key not in stuck}
    course = plan.solved.course
    course = replace(course, held=tuple(each for each in course.held if each[0] not in stuck))
    network, _ = _network_now(plan.gathered, said, plan.fixed, plan.shop)
    free = _solved(network, plan.shop, course)
    return None if free.breaches else free.schedule


def here_by(time: LeadTime, leaves: date, holidays: Iterable[date] = ()) -> HereBy:
    """From what a vendor says and what his deliveries taught: by when something that leaves then is here."""
    return expected(Wait(time), leaves, holidays)


def spoken(day: date, now: date) -> str:
    """A day as it is said: today, tomorrow, on Thursday, on Thursday week, on 21 May."""
    ahead = (day - now).days
    if ahead == 0:
        return "today"
    if ahead == 1:
        return "tomorrow"
    if 1 < ahead < 7:
        return f"on {NAMES[day.weekday()]}"
    if 7 <= ahead < 14:
        return f"on {NAMES[day.weekday()]} week"
    return f"on {said_day(day, now)}"


def works_on(person: Planned, day: date, shop: Shop) -> bool:
    """Whether somebody is here on a day."""
    return person.ever_works and day.weekday() in person.weekdays and day not in person.absent | shop.holidays


def busy_quarters(entries: Iterable[Entry], person: Planned, shop: Shop, day: date) -> int:
    """Quarter-hours of a day on which somebody has planned work."""
    if not works_on(person, day, shop):
        return 0
    opens = (day - shop.today).days * DAY + OPENING
    closes = opens + person.quarters_per_day
    return sum(max(0, min(e.finish, closes) - max(e.start, opens)) for e in entries)


def runs_dry(entries: list[Entry], person: Planned, shop: Shop, within_days: int = 28) -> date | None:
    """The first day somebody is here without any planned work, looking so many days ahead."""
    for ahead in range(within_days):
        day = shop.today + timedelta(days=ahead)
        if works_on(person, day, shop) and not busy_quarters(entries, person, shop, day):
            return day
    return None


def finish_sentence(plan: Plan) -> str:
    """When the plan ends, said as what it is."""
    if not plan.schedule.entries:
        return "Nothing is planned: no job is open."
    end = plan.schedule.finish_date
    return (
        f"The plan ends on {NAMES[end.weekday()]} {end:%-d %B %Y}, with {COUNTED}. "
        "It is too hopeful: it leaves no room for lateness."
    )


def days_over_least(plan: Plan) -> int | None:
    """Days of the calendar by which the plan may be longer than the shortest; None while that is not worked out."""
    stored = plan.stored
    if stored is None or not stored.fresh or stored.course != plan.solved.course or not plan.schedule.entries:
        return None
    return max(0, (max(0, plan.schedule.finish - 1) // DAY) - (max(0, stored.least - 1) // DAY))


def bound_sentence(plan: Plan) -> str:
    """How far the plan may be from the best there is, in plain words."""
    if not plan.schedule.entries:
        return ""
    over = days_over_least(plan)
    if over is None:
        first = (
            "The record has changed since the last search: this is that plan, carried on."
            if plan.stored
            else "This is the first answer: the longest road first."
        )
        return f"{first} How near it is to the best is told when the next search is done, in a minute or so."
    if not over:
        return "No plan with these jobs, times, people and benches can end on an earlier day: that is proved."
    days = "a day" if over == 1 else f"{over} days"
    return f"At most {days} longer than any plan can be with these jobs, times, people and benches: that is proved."


def kept_words(plan: Plan) -> str:
    """Who is wanted in continuous work, where anybody is."""
    names = sorted(continuous(plan.shop))
    return f"{' and '.join(names)} {'is' if len(names) == 1 else 'are'} to have work without gaps." if names else ""


def due_sentences(plan: Plan) -> list[str]:
    """Days that the plan does not keep, those that no plan can keep together, and days fixed by hand in vain."""
    return [*(each.sentence for each in not_kept(plan.network, plan.schedule)), *_due_sentences(plan)]


def _due_sentences(plan: Plan) -> list[str]:
    jobs, at = plan.network.by_key, plan.schedule.by_key
    late = [
        f"{jobs[key].what.rstrip('.')}: due on {jobs[key].due:%-d %B %Y}, done on {at[key].finish_date:%-d %B %Y} in this plan."
        for key in late_jobs(plan.network, plan.schedule)
        if not (key.startswith("hand:") and (jobs[key].due or plan.shop.today) < plan.shop.today)  # named as a fault
    ]
    keys = plan.stored.cannot_be_kept if plan.stored and plan.stored.fresh else ()
    if not late or not keys:
        return late
    if len(keys) == 1:
        it = f"{jobs[keys[0]].what.rstrip('.')} cannot be done by its day"
    else:
        it = f"These cannot all be done by their days: {'; '.join(jobs[key].what.rstrip('.') for key in keys)}"
    return [*late, f"{it}, in whatever order: that is proved. Write a later day, or find a shorter way before it."]


@dataclass(frozen=True)
class PlanLine:
    """One job of the plan in a line: `waits` names the one thing that keeps it from starting earlier, `because` says it."""

    key: str
    what: str
    person: str
    vendor: str
    bench: str
    zone: str
    starts_on: date
    ends_on: date
    waits: str
    because: str
    held_by: str
    link: str
    status: str
    fixed: bool = False
    # Of what has to leave the shop: the last day on which it may.
    latest: date | None = None


def plan_lines(plan: Plan, latest: Mapping[str, date] = MappingProxyType({})) -> list[PlanLine]:
    """Every planned job by its start; `latest`: the last days of what has to leave."""
    lines = []
    for entry in plan.schedule.entries:
        job, bound = plan.network.by_key[entry.key], entry.bound_by
        other = plan.network.by_key.get(bound.which)
        said = other.what.rstrip(".") if other else bound.which
        waits = {
            "today": "",
            "predecessor": said,
            "person": f"{entry.person} is at: {said}",
            "bench": f"{entry.bench} is taken by: {said}",
            "release": f"not before {bound.which}",
            "kept": "its day in the last plan",
            "calendar": f"{bound.which} is not here before",
        }[bound.kind]
        because = {
            "today": "",
            "predecessor": f"Waits for: {said}.",
            "person": f"{entry.person} is at this until then: {said}.",
            "bench": f"{'B' + entry.bench[1:] if entry.bench[:5] == 'bench' else 'The ' + entry.bench} is taken until then by: {said}.",
            "release": f"It may not begin before {said_day(entry.start_date, plan.shop.today)}.",
            "kept": "",  # most jobs of the next days stay where the last plan had them
            "calendar": f"{bound.which} is not here before.",
        }[bound.kind]
        word = plan.said.get(entry.key)
        lines.append(
            PlanLine(
                key=entry.key,
                what=job.what,
                person=entry.person,
                vendor=job.vendor,
                bench=entry.bench,
                zone=job.zone,
                starts_on=entry.start_date,
                ends_on=entry.finish_date,
                waits=waits,
                because=because,
                held_by=bound.kind,
                link=plan.about(entry.key).link,
                status=word.status if word else "open",
                fixed=entry.key in plan.fixed,
                latest=latest.get(entry.key),
            )
        )
    return lines
