"""The month plan: what is planned for the four weeks ahead, day by day, and what is counted on from outside."""

from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby

from witnessmark.papers.typesetting import Stamp, stamp_for, typeset
from witnessmark.records.lookups.plan import make_plan, plan_lines
from witnessmark.records.models import Aircraft

AHEAD_DAYS = 28
SHOWN = 3


@dataclass(frozen=True)
class MonthPlan:
    """Weeks with their lines: when, who or where, what; `sentence` says why there is none."""

    stamp: Stamp
    weeks: tuple[tuple[str, tuple[tuple[str, str, str], ...]], ...]
    sentence: str = ""


def gather(aircraft: Aircraft | None) -> MonthPlan:
    """Collect what begins, or comes back, in the four weeks ahead."""
    stamp = stamp_for(aircraft)
    if aircraft is None:
        return MonthPlan(stamp, (), "There is no aircraft in the record, so there is no plan.")
    plan = make_plan(aircraft)
    if not plan.proved:
        return MonthPlan(stamp, (), "The plan did not pass its own check, so it is not printed.")
    now = plan.shop.today
    last = now + timedelta(days=AHEAD_DAYS)
    lines = []
    for line in plan_lines(plan):
        job = plan.network.by_key[line.key]
        day = line.ends_on if job.is_outside and job.away else line.starts_on
        if now <= day <= last:
            who = line.person or line.vendor or ("step" if job.is_mark else "")
            lines.append((day, who, line.what))
    lines = _told(lines)
    weeks = tuple(
        (
            f"Week from {monday:%A} {monday.day} {monday:%B}",
            tuple((f"{d:%a} {d.day} {d:%b}", who, what) for d, who, what in group),
        )
        for monday, group in groupby(lines, key=lambda each: each[0] - timedelta(days=each[0].weekday()))
    )
    return MonthPlan(stamp, weeks, "" if weeks else "Nothing is planned for the four weeks ahead.")


def _told(lines: list[tuple[date, str, str]]) -> list[tuple[date, str, str]]:
    """One line for each day and person: the first things by name, the others counted."""
    by: dict[tuple[date, str], list[str]] = {}
    for day, who, what in lines:
        by.setdefault((day, who), []).append(what)
    told = []
    for (day, who), whats in sorted(by.items()):
        more = f" And {len(whats) - SHOWN} more." if len(whats) > SHOWN else ""
        told.append((day, who, " ".join(whats[:SHOWN]) + more))
    return told


def pdf(data: MonthPlan) -> bytes:
    """Set the plan, week by week."""
    weeks = [{"title": title, "lines": [list(line) for line in lines]} for title, lines in data.weeks]
    return typeset("month_plan.typ", {"empty": data.sentence, "weeks": weeks}, data.stamp)
