"""The owner's dates: the steps he knows by name, with half the chance by and four in five by, and what holds them."""

from dataclasses import dataclass

from witnessmark.calc.plan.reasons import why_it_waits
from witnessmark.papers.typesetting import Stamp, stamp_for, typeset
from witnessmark.records.lookups.forecast import milestone_dates
from witnessmark.records.lookups.plan import make_plan
from witnessmark.records.models import Aircraft


@dataclass(frozen=True)
class StepDate:
    """One step by its name, its dates in words, and what it hangs on."""

    what: str
    half_by: str
    four_in_five_by: str
    hangs_on: str


@dataclass(frozen=True)
class OwnersDates:
    """All steps; `from_forecast` tells whether the dates come from many futures or from the plan alone."""

    stamp: Stamp
    steps: tuple[StepDate, ...]
    from_forecast: bool
    sentence: str = ""


def gather(aircraft: Aircraft | None) -> OwnersDates:
    """Collect the steps that take no hours: moments the owner waits for."""
    stamp = stamp_for(aircraft)
    if aircraft is None:
        return OwnersDates(stamp, (), False, "There is no aircraft in the record, so there are no dates.")
    plan = make_plan(aircraft)
    if not plan.proved:
        return OwnersDates(stamp, (), False, "The plan did not pass its own check, so no dates are given.")
    dates = milestone_dates(aircraft)
    steps = []
    for entry in plan.schedule.entries:
        job = plan.network.by_key[entry.key]
        if not (job.is_mark and entry.key.startswith("hand:")):
            continue
        half, four = dates.get(entry.key, (None, None))
        root = plan.network.by_key[why_it_waits(plan.schedule, plan.network, entry.key)[-1].key]
        steps.append(
            StepDate(
                job.what.rstrip("."),
                f"{half.day} {half:%B %Y}" if half else f"not before {entry.finish_date.day} {entry.finish_date:%B %Y}",
                f"{four.day} {four:%B %Y}" if four else "no forecast yet",
                root.what,
            )
        )
    return OwnersDates(stamp, tuple(steps), bool(dates), "" if steps else "No step is written down yet.")


def pdf(data: OwnersDates) -> bytes:
    """Set the dates on one page."""
    steps = [[each.what, each.half_by, each.four_in_five_by, each.hangs_on] for each in data.steps]
    return typeset(
        "owners_dates.typ", {"empty": data.sentence, "steps": steps, "forecast": data.from_forecast}, data.stamp
    )
