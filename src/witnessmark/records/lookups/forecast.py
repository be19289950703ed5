"""The forecast as it was last worked out, whether it still fits the record, and what if."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache
from itertools import groupby
from typing import Any

from django.db.models import Max, Q

from witnessmark.calc.plan.calendars import Shop
from witnessmark.calc.plan.jobs import Network
from witnessmark.calc.plan.outlook import Beside, By, HangsOn, Outlook, beside
from witnessmark.calc.plan.reasons import WaitStep, spoken_day
from witnessmark.calc.plan.send_by import SendBy, Speed
from witnessmark.calc.plan.solve import Schedule, solve
from witnessmark.calc.plan.what_if import Change, Waits, changed, last_job, why_and_what_helps
from witnessmark.records.lookups.hidden_damage import hidden_chances
from witnessmark.records.lookups.plan import Plan
from witnessmark.records.lookups.plan_order import inputs_of, newest_for
from witnessmark.records.models import Aircraft, Answer, SpeedAsked, Vendor

KIND, WHAT_IF_KIND = "forecast", "what if"


def plan_inputs(plan: Plan) -> dict[str, Any]:
    """What a forecast rests on."""
    return inputs_of(plan.network, plan.shop)


def forecast_inputs(plan: Plan, hidden: Mapping[str, float]) -> dict[str, Any]:
    """What the futures rest on besides: by job the chance that its zone shows more once it is opened."""
    inputs = plan_inputs(plan)
    learned = [(key, round(chance, 6)) for key, chance in sorted(hidden.items())]
    offered = [(each.vendor.name, each.days) for each in speeds_asked()]
    return {
        **inputs,
        "plan_sha256": inputs["sha256"],
        "sha256": hashlib.sha256(repr((inputs["sha256"], learned, offered)).encode()).hexdigest(),
    }


def speeds_asked() -> list[SpeedAsked]:
    """What each vendor last asked for doing it faster."""
    newest = SpeedAsked.objects.order_by().values("vendor").annotate(last=Max("id")).values("last")
    return list(SpeedAsked.objects.filter(pk__in=newest).select_related("vendor").order_by("vendor__name"))


@dataclass(frozen=True)
class Known:
    """The newest forecast, and whether the record is still the one it was made from."""

    outlook: Outlook
    fresh: bool


def known_forecast(aircraft: Aircraft, plan: Plan) -> Known | None:
    """Give the newest stored forecast; None where none was worked out yet."""
    now = forecast_inputs(plan, hidden_chances(aircraft, plan))
    answer = newest_for(KIND, aircraft, sha256=now["sha256"], plan_sha256=now["plan_sha256"])
    told = _outlook(answer)
    return Known(told, answer.inputs.get("sha256") == now["sha256"]) if answer and told else None


def told_for(aircraft: Aircraft, plan: Plan) -> Outlook | None:
    """The forecast that `known_forecast` gives, without asking whether findings or offers have changed since: quick."""
    return _outlook(_stored_for(aircraft, plan))


def _stored_for(aircraft: Aircraft, plan: Plan) -> Answer | None:
    return newest_for(KIND, aircraft, plan_sha256=plan_inputs(plan)["sha256"])


def _outlook(answer: Answer | None) -> Outlook | None:
    """Read a stored forecast; one that an older version stored is worked out anew."""
    return outlook_of(answer.result) if answer is not None and "speeds" in answer.result else None


def to_values(told: Outlook) -> dict[str, Any]:
    """Write a forecast as plain values."""

    def by(dates: By) -> dict[str, str]:
        return {name: getattr(dates, name).isoformat() for name in ("half", "four_in_five", "nineteen_in_twenty")}

    return {
        "today": told.today.isoformat(),
        "likely_end": told.likely_end.isoformat(),
        "end": by(told.end),
        "one_path_half": told.one_path_half.isoformat(),
        "one_path_four_in_five": told.one_path_four_in_five.isoformat(),
        "met_by_plan": told.met_by_plan,
        "curve": [[day.isoformat(), share] for day, share in told.curve],
        "steps": [{"step": name, **by(dates)} for name, dates in told.steps],
        "hangs_on": [vars(one) for one in told.hangs_on],
        "send_by": [
            {
                **vars(one),
                "send_by": one.send_by.isoformat(),
                "by_risk": [[risk, day.isoformat()] for risk, day in one.by_risk],
            }
            for one in told.send_by
        ],
        "speeds": [vars(one) for one in told.speeds],
        "futures": told.futures,
        "criticality": dict(told.shares),
        "milestones": {key: by(dates) for key, dates in told.marks},
    }


def outlook_of(values: dict[str, Any]) -> Outlook:
    """Read it back."""

    def by(row: dict[str, str]) -> By:
        return By(*(date.fromisoformat(row[name]) for name in ("half", "four_in_five", "nineteen_in_twenty")))

    return Outlook(
        date.fromisoformat(values["today"]),
        date.fromisoformat(values["likely_end"]),
        by(values["end"]),
        date.fromisoformat(values["one_path_half"]),
        date.fromisoformat(values["one_path_four_in_five"]),
        values["met_by_plan"],
        tuple((date.fromisoformat(day), share) for day, share in values["curve"]),
        tuple((row["step"], by(row)) for row in values["steps"]),
        tuple(HangsOn(**row) for row in values["hangs_on"]),
        tuple(_send_by(row) for row in values["send_by"]),
        values["futures"],
        tuple(values.get("criticality", {}).items()),
        tuple((key, by(row)) for key, row in values.get("milestones", {}).items()),
        tuple(Speed(**row) for row in values["speeds"]),
    )


def _send_by(row: dict[str, Any]) -> SendBy:
    days = tuple((risk, date.fromisoformat(day)) for risk, day in row["by_risk"])
    return SendBy(row["key"], row["what"], row["vendor"], row["slack_days"], row["share"], days)


def _newest(aircraft: Aircraft) -> Answer | None:
    return Answer.objects.filter(kind=KIND, subject=str(aircraft.pk)).order_by("-id").first()


def criticality(aircraft: Aircraft, plan: Plan) -> dict[str, float]:
    """By job, the share of futures in which the finish waits for it; empty without a forecast."""
    answer = _stored_for(aircraft, plan)
    return dict(answer.result.get("criticality", {})) if answer else {}


def milestone_dates(aircraft: Aircraft) -> dict[str, tuple[date, date]]:
    """By job that takes no hours, the days by which it is reached in half the futures and in four of five."""
    answer = _newest(aircraft)
    return {
        key: (date.fromisoformat(each["half"]), date.fromisoformat(each["four_in_five"]))
        for key, each in (answer.result.get("milestones", {}) if answer else {}).items()
    }


def why(plan: Plan, key: str = "") -> Waits | None:
    """Why a job waits, or the last of all; None where nothing is planned. Raises KeyError for a job that is not there."""
    key = key or last_job(plan.schedule)
    return why_and_what_helps(plan.schedule, plan.network, plan.shop, key) if key else None


@dataclass(frozen=True)
class Cause:
    """One cause as it is told; `same`: the jobs one after another of which it is the last, where it is several."""

    step: WaitStep
    sentence: str
    same: tuple[WaitStep, ...] = ()


SEVERAL = 3


def causes(plan: Plan, waits: Waits) -> list[Cause]:
    """The chain as it is told: what one person has to do one after another is said once, and listed behind it."""
    at = plan.schedule.by_key

    def who(step: WaitStep) -> str:
        return at[step.key].person if step.kind == "person" else step.key

    found = []
    for name, several in groupby(waits.steps, key=who):
        run = tuple(several)
        if len(run) < SEVERAL:
            found += [Cause(step, step.sentence) for step in run]
        else:
            until = spoken_day(at[run[0].because].finish_date, plan.shop.today)
            said = f"{name} has {len(run)} jobs to do before it, one after another, until {until}."
            found.append(Cause(run[-1], said, run))
    return found


@dataclass(frozen=True)
class WhatIf:
    """The plan as it is and as it would be, side by side."""

    change: Change
    said: str
    before: date
    after: date
    moved: tuple[tuple[str, date, date], ...]
    cannot: tuple[str, ...]
    # The two ends in the same futures: half the chance by, and four in five by.
    ends: tuple[Beside, Beside] | None = None

    @property
    def days(self) -> int:
        """Days of the calendar by which the end moves."""
        return (self.after - self.before).days

    @property
    def sentence(self) -> str:
        """What it does to the plan, and to half the chance, in days of the calendar."""
        plan = f"the plan ends {_moved(self.days) or 'on the same day'}"
        if self.ends is None:
            return f"If {self.said}, {plan}."
        half = _moved((self.ends[1].half - self.ends[0].half).days)
        return f"If {self.said}, {plan}, and half the chance {f'comes {half}' if half else 'stays where it is'}."


def _moved(days: int) -> str:
    """So many days later or earlier; nothing where it stays."""
    said = "a day" if abs(days) == 1 else f"{abs(days)} days"
    return "" if not days else f"{said} {'later' if days > 0 else 'earlier'}"


@lru_cache(maxsize=8)
def _in_futures(network: Network, shop: Shop, schedule: Schedule, hidden: tuple[tuple[str, float], ...]) -> Beside:
    """The plan's end in the futures that all what-ifs share; that of the plan as it is is worked out once."""
    return beside([(network, shop, schedule)], hidden=dict(hidden))[0]


def what_if(plan: Plan, change: Change) -> WhatIf:
    """Plan again with a change, keeping the order; raises ValueError where it cannot happen."""
    change = _by_whole_name(plan, change)
    network, shop = changed(plan.network, plan.shop, change)
    # The same course, but whom a job of the next days was given to is open again: he may be the one who is away.
    course = replace(plan.solved.course, given=())
    tried: tuple[Schedule, ...] = (course.lay(network, shop), solve(network, shop))
    again = min(tried, key=lambda s: (len(s.cannot), s.finish))
    jobs = plan.network.by_key
    both = [
        (jobs[e.key].what, e.finish_date, again.by_key[e.key].finish_date)
        for e in plan.schedule.entries
        if e.key in again.by_key
    ]
    moved = sorted((row for row in both if row[1] != row[2]), key=lambda row: -abs((row[2] - row[1]).days))
    known = dict(plan.schedule.cannot)
    cannot = tuple(jobs[key].what for key, _ in again.cannot if key not in known)
    ends = None
    if plan.schedule.entries and again.entries:
        aircraft = Aircraft.objects.get(pk=plan.gathered.aircraft_id)
        hidden = tuple(hidden_chances(aircraft, plan).items())
        as_it_is = _in_futures(plan.network, plan.shop, plan.schedule, hidden)
        ends = _beside_forecast(told_for(aircraft, plan), as_it_is, _in_futures(network, shop, again, hidden))
    before, after = plan.schedule.finish_date, again.finish_date
    return WhatIf(change, spoken(plan, change), before, after, tuple(moved[:8]), cannot, ends)


def _beside_forecast(told: Outlook | None, as_it_is: Beside, then: Beside) -> tuple[Beside, Beside]:
    """The end that the forecast names, and that end moved as far as the few futures of a what-if move it."""
    if told is None:
        return as_it_is, then
    half, four = told.end.half - as_it_is.half, told.end.four_in_five - as_it_is.four_in_five
    return Beside(told.end.half, told.end.four_in_five), Beside(then.half + half, then.four_in_five + four)


def _by_whole_name(plan: Plan, change: Change) -> Change:
    """A vendor said by his code or by the beginning of his name; raises ValueError where that fits two."""
    held = {job.vendor for job in plan.network.jobs if job.vendor}
    said = change.which.strip().casefold()
    if change.kind != "vendor_late" or not said or change.which in held:
        return change
    called = Vendor.objects.filter(Q(code__iexact=said) | Q(name__iexact=said)).values_list("name", flat=True)
    fits = sorted(set(called)) or sorted(name for name in held if name.casefold().startswith(said))
    if len(fits) > 1:
        raise ValueError(f"{change.which} could be {' or '.join(fits)}: say which")
    return replace(change, which=fits[0]) if fits else change


def spoken(plan: Plan, change: Change) -> str:
    """The change in words."""
    job = plan.network.by_key.get(change.which)
    return {
        "vendor_late": f"{change.which} is {change.days} working days later with everything",
        "person_away": f"{change.which} is away for {change.days} days from today",
        "job_late": f"{job.what.rstrip('.') if job else change.which}: not before {change.days} days from today",
        "bench_more": f"one more place at {change.which}",
    }[change.kind]


def kept_what_ifs(aircraft: Aircraft) -> list[dict[str, Any]]:
    """What was tried and kept, the newest first."""
    return [
        dict(answer.result)
        for answer in Answer.objects.filter(kind=WHAT_IF_KIND, subject=str(aircraft.pk)).order_by("-id")[:20]
    ]
