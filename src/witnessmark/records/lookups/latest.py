"""The last day on which something may leave the shop: one answer for every screen, paper and command that names it."""

from dataclasses import dataclass
from datetime import date

from witnessmark.calc.plan.outlook import Outlook
from witnessmark.calc.plan.send_by import USUAL_RISK
from witnessmark.calc.plan.working_days import said_day, working_days
from witnessmark.records.lookups.forecast import told_for
from witnessmark.records.lookups.plan import NAMES, Plan, spoken
from witnessmark.records.lookups.vendor_times import expected
from witnessmark.records.models import Aircraft


@dataclass(frozen=True)
class Latest:
    """The last day for one thing, and the day on which the plan lets it leave. `foreseen`: by the futures, at a risk.

    Without a forecast it is the last day that does not move the end of the plan itself.
    """

    by: date
    planned: date
    room_days: int
    foreseen: bool
    today: date

    @property
    def late(self) -> bool:
        """It cannot be ready by its last day."""
        return self.planned > self.by

    @property
    def room(self) -> str:
        """How long it can wait after the plan lets it leave."""
        if self.late:
            return f"It cannot be ready by then: the plan has it ready {spoken(self.planned, self.today)}."
        if not self.room_days:
            return "There is no day to spare."
        return f"{'One working day' if self.room_days == 1 else f'{self.room_days} working days'} to spare."

    @property
    def last_day(self) -> str:
        """The last day as it is said."""
        return "today" if self.by == self.today else f"{NAMES[self.by.weekday()]} {said_day(self.by, self.today)}"


def latest_days(plan: Plan, told: Outlook | None, risk: float = USUAL_RISK) -> dict[str, Latest]:
    """By job that has to leave; a thing that the forecast does not know yet has the last day of the plan."""
    at_risk = {one.key: one.at_risk(risk) for one in told.send_by} if told else {}
    found = {}
    for each in plan.solved.to_leave:
        # A forecast of some days ago may name a day that is past: then it has to leave today.
        by = max(at_risk.get(each.key, each.leave_by), plan.shop.today)
        room = working_days(each.leaves_on, by, plan.shop.holidays)
        found[each.key] = Latest(by, each.leaves_on, room, each.key in at_risk, plan.shop.today)
    return found


def latest_now(aircraft: Aircraft, plan: Plan) -> dict[str, Latest]:
    """The same at the usual risk, by the newest forecast."""
    return latest_days(plan, told_for(aircraft, plan))


def outside_words(aircraft: Aircraft, plan: Plan, key: str) -> str:
    """Of a job outside: when it leaves, by when it has to, and when it is here; nothing of a job done here."""
    job, now = plan.network.by_key.get(key), plan.shop.today
    if job is None or not job.is_outside or not plan.proved:
        return ""
    if job.away:
        here = expected(job.wait, now, plan.shop.holidays) if job.wait else None
        promised = plan.about(key).promised_on
        word = f"; promised for {said_day(promised, now)}" if promised else "; no day was promised"
        return f"{_here(here.half, here.four_in_five, now, 'Half')}{word}." if here else ""
    leaves = next((each for each in plan.solved.to_leave if each.key == key), None)
    last = latest_now(aircraft, plan).get(key)
    if leaves is None or last is None:
        return ""
    when = f"The plan has it leave {spoken(last.planned, now)}; {last.last_day} at the latest. {last.room}"
    return f"{when} {_here(leaves.half_by, leaves.four_in_five_by, now, 'As planned, half')}."


def _here(half: date, four_in_five: date, now: date, begin: str) -> str:
    return f"{begin} the chance it is here by {said_day(half, now)}, four in five by {said_day(four_in_five, now)}"
