"""`witnessmark order-or-send [--risk R] [--speed VENDOR DAYS PRICE CURRENCY] [--as NAME] [--json]`.

The latest day of everything that has to be ordered or sent, at the chance to be late that is taken (0.5, 0.2, 0.1 or 0.05);
what goes together to one vendor; how many days of the end speed would win, and for how much. --speed writes down what a
vendor asks on top, each order or shipment, for being done in so many working days.

Exit codes: 0 said, 1 the record is empty, refused, or the plan did not pass its check, 2 wrongly called.
With --json one object: risk, fresh (of the forecast; null: none yet), sentence,
  leaving: [{key, what, vendor, by, planned_for, half_the_chance_by, four_in_five_by, cannot_be_ready (bool), held, share}]
  together: [{vendor, all_ready_on, by, what [str], mass_kg, not_weighed, why}]
  speed: [{key, what, vendor, things, working_days, offered (bool), half_the_chance_earlier_days, four_in_five_earlier_days,
           costs (null: not asked), currency, days_for_100 (null)}]
"""

import argparse
import uuid
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from witnessmark.records.lookups.sending import OrderOrSend
    from witnessmark.records.models import Aircraft


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("--risk", type=float, default=0.2, choices=(0.5, 0.2, 0.1, 0.05), help="chance to be too late")
    parser.add_argument(
        "--speed", nargs=4, metavar=("VENDOR", "DAYS", "PRICE", "CURRENCY"), help="what he asks for speed"
    )
    parser.add_argument("--as", dest="acting", metavar="NAME", default="", help="who says it (else the lead mechanic)")


def run(args: argparse.Namespace) -> int:
    """Say what has to leave by when."""
    from witnessmark.cli.main import NotSo, open_aircraft, print_json

    aircraft = open_aircraft()
    from witnessmark.records.lookups.plan import make_plan
    from witnessmark.records.lookups.sending import order_or_send

    if args.speed:
        _speed(aircraft, args.acting, *args.speed)
    plan = make_plan(aircraft)
    if not plan.proved:
        raise NotSo("The plan did not pass its check, so nothing is said from it.")
    found = order_or_send(plan, aircraft, args.risk)
    if args.json:
        print_json(to_dict(found))
    else:
        _say(found)
    return 0


def _speed(aircraft: "Aircraft", acting: str, code: str, days: str, price: str, currency: str) -> None:
    from witnessmark.cli.main import CannotRun, who_acts
    from witnessmark.records.actions.plan_by_hand import say_speed_price
    from witnessmark.records.models import Vendor

    vendor = Vendor.objects.filter(code__iexact=code).first() or Vendor.objects.filter(name__iexact=code).first()
    if vendor is None:
        raise CannotRun(f"No vendor is called {code}. Nothing was written.")
    try:
        figures = float(days), Decimal(price)
    except (ValueError, InvalidOperation):
        raise CannotRun(f"'{days}' and '{price}' are not both numbers. Nothing was written.") from None
    say_speed_price(
        by=who_acts(acting), act_id=uuid.uuid4(), aircraft=aircraft, vendor=vendor, days=figures[0], price=figures[1],
        currency=currency,
    )  # fmt: skip


def to_dict(found: "OrderOrSend") -> dict[str, Any]:
    """Write it as plain values; the keys are documented above."""
    return {
        "risk": found.risk,
        "fresh": found.fresh,
        "sentence": found.sentence,
        "leaving": [
            {
                "key": each.key,
                "what": each.what,
                "vendor": each.vendor,
                "by": each.by,
                "planned_for": each.ready,
                "half_the_chance_by": each.half_by,
                "four_in_five_by": each.four_in_five_by,
                "cannot_be_ready": each.late,
                "held": each.held,
                "share": round(each.share, 4),
            }
            for each in found.leaving
        ],
        "together": [
            {
                "vendor": each.run.vendor,
                "all_ready_on": each.run.ready,
                "by": each.run.by,
                "what": list(each.what),
                "mass_kg": round(each.mass_kg, 3),
                "not_weighed": each.not_weighed,
                "why": each.sentence,
            }
            for each in found.together
        ],
        "speed": [
            {
                "key": each.speed.key,
                "what": each.speed.what,
                "vendor": each.speed.vendor,
                "things": each.speed.things,
                "working_days": each.speed.days,
                "offered": each.speed.asked,
                "half_the_chance_earlier_days": each.speed.half_days,
                "four_in_five_earlier_days": each.speed.four_days,
                "costs": float(each.cost) if each.cost is not None else None,
                "currency": each.currency,
                "days_for_100": round(each.days_for_100, 2) if each.days_for_100 is not None else None,
            }
            for each in found.bought
        ],
    }


def _say(found: "OrderOrSend") -> None:
    print(found.sentence)
    if found.fresh is None:
        print(
            "There is no forecast yet: these are the last days of the plan itself. `witnessmark forecast` works it out."
        )
    elif not found.fresh:
        print("The record has changed since the forecast.")
    for each in found.leaving:
        late = " It cannot be ready by then." if each.late else ""
        print(f"  by {each.by:%a %d %b %Y}  {each.what} Planned for {each.ready:%d %b}.{late} {each.held}".rstrip())
    for run in found.together:
        print(
            f"Together to {run.run.vendor}, ready {run.run.ready:%d %b}, by {run.run.by:%d %b %Y}: {' '.join(run.what)}"
        )
        if run.sentence:
            print(f"  {run.sentence}")
    for won in found.bought:
        speed = won.speed
        what = speed.what if speed.key else f"All {speed.things} things at {speed.vendor} or for him."
        costs = f", for {won.cost} {won.currency}" if won.cost is not None else ""
        print(
            f"{what} In {speed.days:g} working days{costs}: half the chance {speed.half_days} days earlier, "
            f"four in five {speed.four_days} days earlier."
        )
