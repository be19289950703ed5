"""The month plan: a page a person for the four weeks ahead, day by day, and one for what leaves, comes and is reached."""

import re
from dataclasses import dataclass
from datetime import date, timedelta

from witnessmark.calc.plan.jobs import Job
from witnessmark.papers.typesetting import Stamp, stamp_for, typeset
from witnessmark.records.lookups.plan import COUNTED, Plan, make_plan, works_on
from witnessmark.records.models import Aircraft

WEEKS = 4
# What one line of a day can hold: so many jobs by name, each of so many letters; the others are counted.
SHOWN, LETTERS = 3, 90
OUTSIDE_LINES = 36


@dataclass(frozen=True)
class Page:
    """One person's four weeks, or what happens outside: a heading, a sentence, and lines of day and words."""

    title: str
    lead: str
    weeks: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]


@dataclass(frozen=True)
class MonthPlan:
    """All pages; `sentence` says why there are none."""

    stamp: Stamp
    pages: tuple[Page, ...]
    sentence: str = ""


def gather(aircraft: Aircraft | None) -> MonthPlan:
    """Collect the four weeks ahead, from today to the fourth Sunday."""
    stamp = stamp_for(aircraft)
    if aircraft is None:
        return MonthPlan(stamp, (), "There is no aircraft in the record, so there is no plan.")
    plan = make_plan(aircraft)
    if not plan.proved:
        return MonthPlan(stamp, (), "The plan did not pass its own check, so it is not printed.")
    pages = [_of_person(plan, person.name) for person in plan.shop.people if plan.of_person.get(person.name)]
    pages.append(_outside(plan))
    kept = tuple(page for page in pages if page.weeks)
    return MonthPlan(stamp, kept, "" if kept else "Nothing is planned for the four weeks ahead.")


def _days(plan: Plan) -> list[date]:
    today = plan.shop.today
    last = today + timedelta(days=7 * WEEKS - 1 - today.weekday())
    return [today + timedelta(days=n) for n in range((last - today).days + 1)]


def _named(whats: list[str]) -> str:
    """The first by name, the others counted."""
    told = []
    for what in whats[:SHOWN]:
        told.append(what if len(what) <= LETTERS else f"{what[:LETTERS].rsplit(' ', 1)[0]} …")
    more = len(whats) - SHOWN
    return " ".join(told) + (f" And {more} more." if more > 0 else "")


def _weeks(lines: list[tuple[date, str]]) -> tuple[tuple[str, tuple[tuple[str, str], ...]], ...]:
    by_week: dict[date, list[tuple[str, str]]] = {}
    for day, said in lines:
        by_week.setdefault(day - timedelta(days=day.weekday()), []).append((f"{day:%a} {day.day} {day:%b}", said))
    return tuple((f"Week from {monday:%A} {monday.day} {monday:%B}", tuple(those)) for monday, those in by_week.items())


def _of_person(plan: Plan, name: str) -> Page:
    """Each of his days: what he begins, or what he goes on with."""
    person = next(p for p in plan.shop.people if p.name == name)
    entries = plan.of_person[name]
    jobs = plan.network.by_key
    lines = []
    for day in _days(plan):
        if not works_on(person, day, plan.shop):
            continue
        begins = [jobs[e.key].what for e in entries if e.start_date == day]
        goes_on = [jobs[e.key].what for e in entries if e.start_date < day <= e.finish_date]
        said = "Goes on: " + _named(goes_on) if goes_on and not begins else _named(goes_on + begins)
        lines.append((day, said or "Nothing is planned."))
    idle = sum(said == "Nothing is planned." for _, said in lines)
    days = "one day" if idle == 1 else f"{idle} days"
    lead = f"On {days} nothing is planned." if idle else "There is work for every day."
    return Page(f"{name}: four weeks.", lead, _weeks(lines))


def _outside(plan: Plan) -> Page:
    """What leaves for a vendor, what is counted on from one, and what is reached."""
    days = _days(plan)
    by: dict[tuple[date, str], list[str]] = {}
    for entry in plan.schedule.entries:
        job = plan.network.by_key[entry.key]
        if job.is_outside:
            if not job.away:
                by.setdefault((entry.start_date, f"To {job.vendor}: "), []).append(_thing(job))
            by.setdefault((entry.finish_date, f"Counted on from {job.vendor}: "), []).append(_thing(job))
        elif job.is_mark and entry.key.startswith("hand:"):
            by.setdefault((entry.start_date, "Reached: "), []).append(job.what)
    lines = [(day, words + _counted(whats)) for (day, words), whats in sorted(by.items()) if days[0] <= day <= days[-1]]
    left = len(lines) - OUTSIDE_LINES
    lead = f"The first {OUTSIDE_LINES} of {len(lines)}; the timeline shows all." if left > 0 else ""
    return Page("What leaves, what comes, what is reached.", lead, _weeks(lines[:OUTSIDE_LINES]))


def _thing(job: Job) -> str:
    """What it is that goes there or comes back, without the words for going."""
    what = re.sub(r"^(Send|Order|Wait for) ", "", job.what)
    for words in (f", to {job.vendor}", f" to {job.vendor}", f", from {job.vendor}", f" from {job.vendor}"):
        what = what.replace(words, "")
    return what


def _counted(whats: list[str]) -> str:
    first = whats[0] if len(whats[0]) <= LETTERS else f"{whats[0][:LETTERS].rsplit(' ', 1)[0]} …"
    return first if len(whats) == 1 else f"{first.rstrip('.')}, and {len(whats) - 1} more."


def pdf(data: MonthPlan) -> bytes:
    """Set the plan, a page a person."""
    pages = [
        {
            "title": page.title,
            "lead": page.lead,
            "weeks": [{"title": title, "lines": [list(line) for line in lines]} for title, lines in page.weeks],
        }
        for page in data.pages
    ]
    counted = f"With {COUNTED}; what is further off will move."
    return typeset("month_plan.typ", {"empty": data.sentence, "counted": counted, "pages": pages}, data.stamp)
