"""What has to leave the shop: one line of the timetable for each vendor and process, and what a day late costs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from witnessmark.calc.plan.reasons import ToLeave
from witnessmark.records.lookups.latest import Latest
from witnessmark.records.lookups.plan import Plan


@dataclass(frozen=True)
class ToSend:
    """One line of the timetable of what has to leave."""

    leave_by: date
    what: str
    to: str
    risk: str
    half_by: date
    four_in_five_by: date
    held: str
    link: str
    slack_days: int
    keys: tuple[str, ...]


def risk_words(slack: int) -> str:
    """What it costs when it leaves later."""
    if slack == 0:
        return "A day late moves the finish by a day."
    return f"It can leave {'a working day' if slack == 1 else f'{slack} working days'} later without moving the finish."


def and_list(names: list[str]) -> str:
    """Several names in a sentence."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def costs_of(leave: ToLeave, last: Latest) -> str:
    """What waiting costs: by the futures where they are known, else by the plan and by what four in five allow."""
    return last.room if last.foreseen else f"{risk_words(leave.slack_days)} {leave.risk}"


def to_send(plan: Plan, leaving: Sequence[ToLeave], latest: Mapping[str, Latest]) -> tuple[ToSend, ...]:
    """What could leave now, or is held by something said beside it; pieces for one vendor and process in one line."""
    groups: dict[tuple[str, str], list[ToLeave]] = {}
    for leave in leaving:
        about = plan.about(leave.key)
        if leave.held_by and not about.held_by:
            continue
        groups.setdefault((leave.vendor, about.process or leave.key), []).append(leave)
    made = []
    for (vendor, process), group in groups.items():
        first = min(group, key=lambda x: (latest[x.key].by, x.leaves_on, x.key))
        last = latest[first.key]
        about = plan.about(first.key)
        if about.source == "vendor step" and len(group) > 1:
            what, to = f"{len(group)} pieces", f"to {vendor}: {process}."
        else:
            what, to = first.what.rstrip("."), ""
        rows = about.held_by
        held = ""
        if rows:
            held = f"Held until {'row' if len(rows) == 1 else 'rows'} {and_list(list(rows[:4]))} {'is' if len(rows) == 1 else 'are'} looked at."
            held = held if len(rows) <= 4 else f"Held until {len(rows)} rows are looked at."
        made.append(
            ToSend(
                leave_by=last.by,
                what=what,
                to=to,
                risk=costs_of(first, last),
                half_by=first.half_by,
                four_in_five_by=first.four_in_five_by,
                held=held,
                link="/outwork/" if about.source == "vendor step" else about.link,
                slack_days=last.room_days,
                keys=tuple(x.key for x in group),
            )
        )
    return tuple(sorted(made, key=lambda x: (x.leave_by, x.what)))
