"""The forecast is worked out and stored; a what-if is kept."""

import uuid
from itertools import islice
from typing import Any

from witnessmark.calc.plan.due_days import cannot_be_kept
from witnessmark.calc.plan.send_by import RISKS
from witnessmark.calc.plan.yesterday import Wishes
from witnessmark.records.actions.answers import keep_answer, rely_on
from witnessmark.records.actions.saying import Refused, say
from witnessmark.records.lookups import plan_order
from witnessmark.records.lookups.forecast import (
    KIND,
    WHAT_IF_KIND,
    forecast_inputs,
    plan_inputs,
    speeds_asked,
    to_values,
    what_if,
)
from witnessmark.records.lookups.hidden_damage import hidden_chances
from witnessmark.records.lookups.plan import Plan, make_plan
from witnessmark.records.lookups.plan_order import continuous
from witnessmark.records.models import Act, Aircraft, Answer, Person
from witnessmark.records.work import Leased

TURNS = 60


def foresee(aircraft: Aircraft, work: Leased | None = None) -> Answer | None:
    """Search a better order, then forecast; both are stored under what they were made from. None where nothing is planned."""
    from witnessmark.calc.plan.outlook import outlook

    plan = make_plan(aircraft)
    if not plan.schedule.entries or plan.breaches:
        return None
    _search(aircraft, plan, work)
    plan = make_plan(aircraft)  # as it is shown from now on
    if work is not None:
        work.progress("two thousand futures")
    hidden = hidden_chances(aircraft, plan)
    faster = {each.vendor.name: each.days for each in speeds_asked()}
    told = outlook(plan.network, plan.shop, plan.schedule, hidden=hidden, faster=faster)
    inputs = forecast_inputs(plan, hidden)
    return keep_answer(KIND, str(aircraft.pk), inputs=inputs, result=to_values(told), working={"risks": list(RISKS)})


def _search(aircraft: Aircraft, plan: Plan, work: Leased | None) -> None:
    """Search a better plan with few changes from the last one, and store it."""
    from witnessmark.calc.plan.shop_project import better_plans

    wishes = plan.stored.wishes(plan.shop) if plan.stored else Wishes(continuous=continuous(plan.shop))
    best = None
    for turn, best in enumerate(islice(better_plans(plan.network, plan.shop, wishes), TURNS)):
        if work is not None and turn % 10 == 0:
            work.progress(f"{turn} of {TURNS} looks for a better plan; ends on {best.schedule.finish_date}")
    assert best is not None
    entries = best.schedule.entries
    too_much = cannot_be_kept(plan.network, plan.shop, best.schedule)
    keep_answer(
        plan_order.KIND,
        str(aircraft.pk),
        inputs=plan_inputs(plan),
        result={
            "order": best.course.order,
            "held": best.course.held,
            "given": best.course.given,
            "starts": {entry.key: entry.start for entry in entries},
            "people": {entry.key: entry.person for entry in entries if entry.person},
            "ends_on": best.schedule.finish_date.isoformat(),
            "least": int(best.least),
            "cannot_be_kept": too_much,
        },
    )


def keep_what_if(*, by: Person, act_id: uuid.UUID, aircraft: Aircraft, plan: Plan, change: Any) -> dict[str, Any]:
    """Keep a what-if with its two ends; it changes no job."""
    try:
        told = what_if(plan, change)
    except ValueError as cannot:
        raise Refused(f"{str(cannot).capitalize()}. Nothing was kept.") from None
    result = {"said": told.said, "before": told.before.isoformat(), "after": told.after.isoformat(), "days": told.days}
    if told.ends:
        now, then = told.ends
        result |= {"half_before": now.half.isoformat(), "half_after": then.half.isoformat()}
        result |= {"four_before": now.four_in_five.isoformat(), "four_after": then.four_in_five.isoformat()}

    def do(act: Act) -> dict[str, Any]:
        answer = keep_answer(
            WHAT_IF_KIND, str(aircraft.pk), inputs={**plan_inputs(plan), **vars(change)}, result=result
        )
        rely_on(act, answer)
        return result

    return say("keep_what_if", by=by, act_id=act_id, aircraft=aircraft, said=vars(change), do=do)
