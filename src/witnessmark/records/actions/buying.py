"""Orders leave, and what was ordered comes in."""

import uuid
from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from witnessmark.records.actions.answers import keep_answer, rely_on
from witnessmark.records.actions.saying import Refused, Result, say
from witnessmark.records.actions.survey import freeze_survey
from witnessmark.records.actions.tray import refuse_unlooked_sizes
from witnessmark.records.lookups.day import today
from witnessmark.records.lookups.orders import ToOrder, rivet_order
from witnessmark.records.lookups.receiving import KIND as RECEIVED
from witnessmark.records.lookups.receiving import boxes, match_box
from witnessmark.records.lookups.seams import rows_seen
from witnessmark.records.lookups.survey import SurveySeen, survey
from witnessmark.records.models import Act, Aircraft, Hunt, Order, Person, Role, Vendor


def _line(each: ToOrder) -> dict[str, Any]:
    return {
        "size": each.size.code,
        "stock_length": each.line.stock_label,
        "holes": each.line.holes,
        "spares": each.line.spares,
        "count": each.line.count,
        "rows": list(each.line.rows),
    }


def order_leaves(
    *,
    by: Person,
    act_id: uuid.UUID,
    aircraft: Aircraft,
    vendor: Vendor,
    number: str,
    ordered_on: date,
    promised_on: date | None = None,
    risk_accepted: str = "",
    unnamed: bool = False,
) -> Result:
    """Let the rivet order for one vendor leave; the roll-up it rests on is frozen with the act.

    `unnamed` orders from the vendor what the catalogue names nobody for.

    While rows are not looked at, the order is held until the risk is accepted: by `accept_survey_risk`, or here in
    the lead's own words. Either way what the survey said is frozen with the act.
    """
    if promised_on is not None and promised_on < ordered_on:
        raise Refused(
            f"{promised_on} is promised and {ordered_on} is ordered: it cannot come before. Nothing was changed."
        )

    def do(act: Act) -> Result:
        order = rivet_order(aircraft)
        lines = next((group.lines for group in order.vendors if group.vendor == (None if unnamed else vendor)), ())
        if not lines:
            raise Refused(f"No row wants a rivet that {vendor.name} makes. Nothing was ordered.")
        if Order.objects.filter(number=number).exists():
            raise Refused(f"Order {number} is in the record already. Nothing was ordered. Take the next number.")
        refuse_unlooked_sizes([each.size.code for each in lines])
        seen = survey(aircraft)
        _held(seen, risk_accepted)
        if risk_accepted.strip() and seen.holds:
            freeze_survey(act, aircraft, seen)
        for each in lines:
            Order.objects.create(
                number=number,
                vendor=vendor,
                what=f"{each.size.code} × {each.line.stock_label}",
                size=each.size,
                count=each.line.count,
                ordered_on=ordered_on,
                promised_on=promised_on,
                note=risk_accepted,
                act=act,
            )
        told = [_line(each) for each in lines]
        inputs = {"lines": told, "not_looked_at": [row.name for row in order.not_looked_at]}
        answer = keep_answer(
            "rivet order",
            vendor.code,
            inputs=inputs,
            result={"lines": told},
            working={"lines": [each.line.working.to_dict() for each in lines]},
        )
        rely_on(act, answer)
        return {"order": number, "lines": len(told), "count": sum(line["count"] for line in told)}

    said = {
        "vendor": vendor.code,
        "number": number,
        "ordered_on": ordered_on,
        "promised_on": promised_on,
        "risk_accepted": risk_accepted,
        **({"unnamed": True} if unnamed else {}),
    }
    return say("order_leaves", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft, roles=(Role.LEAD,))


def _held(seen: SurveySeen, risk_accepted: str) -> None:
    """Hold the order while a size nobody has seen may be out there and no person has accepted that by name."""
    if seen.holds and not risk_accepted.strip():
        open_rows = [row.name for row in seen.rows if not row.looked_at]
        raise Refused(
            f"The order is held: {len(open_rows)} rows are not looked at ({', '.join(open_rows[:6])}). "
            f"{seen.risk.sentence} Nothing was ordered. Look at them, or let the lead or the inspector accept the risk with a reason."
        )


def set_order_risks(
    *, by: Person, act_id: uuid.UUID, aircraft: Aircraft, short_at_most: float, late_at_most: float
) -> Result:
    """Set what chance of running short, and of coming too late, the lead accepts for the rivet order."""
    for what, chance in (("running short", short_at_most), ("coming too late", late_at_most)):
        if not 0.001 <= chance <= 0.5:
            raise Refused(
                f"A chance of {what} of {chance * 100:g} % cannot be used: write 0.1 to 50 %. Nothing was changed."
            )
    said = {"short_at_most": short_at_most, "late_at_most": late_at_most}

    def do(act: Act) -> Result:
        return dict(said)

    return say("set_order_risks", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft, roles=(Role.LEAD,))


def say_wanted_by(*, by: Person, act_id: uuid.UUID, aircraft: Aircraft, wanted_by: date | None) -> Result:
    """Say on which day the rivets are wanted, or take it back with None; screen, command and paper reckon with it."""
    if wanted_by is not None and not today(aircraft) <= wanted_by <= today(aircraft) + timedelta(days=3660):
        raise Refused(
            f"{wanted_by} cannot be: the rivets are wanted between today and ten years from now. Nothing was changed."
        )
    said = {"wanted_by": wanted_by.isoformat() if wanted_by else None}

    def do(act: Act) -> Result:
        return dict(said)

    return say("say_wanted_by", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft)


def order_came(*, by: Person, act_id: uuid.UUID, number: str, came_on: date) -> Result:
    """Say that an order came in; its lines count as here from that day."""

    def do(act: Act) -> Result:
        lines = Order.objects.filter(number=number)
        if not lines:
            raise Refused(f"There is no order {number}. Nothing was changed.")
        if lines.filter(ordered_on=None).exists():
            raise Refused(f"Order {number} has not left yet. Nothing was changed.")
        hunt = Hunt.objects.filter(bought_act__in=lines.values("act"), state="open").first()
        if hunt is not None:
            raise Refused(
                f"Order {number} brings what hunt {hunt.number} looks for. Nothing was changed. "
                "Take it in at the hunt: there it gets its tag, its shelf and its picture, and is untraced until shown."
            )
        came = lines.filter(came_on=None).update(came_on=came_on)
        if not came:
            raise Refused(f"Order {number} came already. Nothing was changed.")
        return {"order": number, "lines": came}

    return say("order_came", by=by, act_id=act_id, said={"number": number, "came_on": came_on}, do=do)


def measure_box(
    *,
    by: Person,
    act_id: uuid.UUID,
    aircraft: Aircraft,
    name: str,
    shanks_mm: Sequence[float],
    heads_mm: Sequence[float],
    length_mm: float,
    count: int,
) -> Result:
    """Write down what a sample of a box measures; which rows may take from it is frozen with the act."""
    if not name.strip():
        raise Refused("The box has no name. Nothing was stored. Write the number on its label.")

    def do(act: Act) -> Result:
        if any(box.name == name.strip() for box in boxes(aircraft)):
            raise Refused(f"Box {name.strip()} was measured already. Nothing was stored. Give the box its own number.")
        try:
            found = match_box(aircraft, rows_seen(aircraft), shanks_mm, heads_mm, length_mm, count)
        except ValueError as error:
            words = str(error).rstrip(".")
            raise Refused(f"{words[:1].upper()}{words[1:]}. Nothing was stored.") from None
        told = found.to_dict()
        inputs = {
            "shanks_mm": list(shanks_mm),
            "heads_mm": list(heads_mm),
            "length_mm": length_mm,
            "count": count,
            "act": str(act.pk),
        }
        answer = keep_answer(RECEIVED, name.strip()[:120], inputs=inputs, result=told, working=told["working"])
        rely_on(act, answer)
        return {"box": name.strip(), "taken": found.taken, "to_make": found.to_make}

    said = {
        "box": name.strip(),
        "shanks_mm": list(shanks_mm),
        "heads_mm": list(heads_mm),
        "length_mm": length_mm,
        "count": count,
    }
    return say("measure_box", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft)
