"""`witnessmark rivet receive`: a box of rivets that came, by its sample; --write keeps it as the screen of the order does."""

import argparse
import uuid
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from witnessmark.records.models import Aircraft


def take_figures(parser: argparse.ArgumentParser, read: Callable[[str], float]) -> None:
    """Say what it takes."""
    parser.add_argument("--shank", type=read, nargs="+", required=True, metavar="LENGTH")
    parser.add_argument("--head", type=read, nargs="+", required=True, metavar="LENGTH")
    parser.add_argument("--length", type=read, required=True, metavar="LENGTH")
    parser.add_argument("--count", type=int, required=True)
    parser.add_argument("--write", action="store_true", help="keep it: its rows take from it, the others are barred")
    parser.add_argument("--box", metavar="NUMBER", default="", help="the number on the box, with --write")
    parser.add_argument(
        "--order", metavar="NUMBER", default="", help="it came with this order, which is here from today"
    )
    parser.add_argument("--as", dest="by", metavar="NAME", default="", help="who measured it (else the lead mechanic)")


def run(args: argparse.Namespace) -> int:
    """Match the box with the rows that wait; write it down where that is said."""
    from witnessmark.cli.main import CannotRun, open_aircraft, print_json

    aircraft = open_aircraft()
    if not args.write and (args.box or args.order or args.by):
        raise CannotRun("--box, --order and --as go with --write. Nothing was written.")
    if args.write:
        told = _written(args, aircraft)
    else:
        from witnessmark.records.lookups.receiving import match_box
        from witnessmark.records.lookups.seams import rows_seen

        found = match_box(aircraft, rows_seen(aircraft), args.shank, args.head, args.length, args.count)
        told = {**found.to_dict(), "written": False}
    if args.json:
        print_json(told)
    else:
        _say(told)
    return 0


def _written(args: argparse.Namespace, aircraft: "Aircraft") -> dict[str, Any]:
    """Keep the box, and that its order came, in one: where one of both is refused, neither is written."""
    from django.db import transaction

    from witnessmark.cli.main import CannotRun, who_acts
    from witnessmark.cli.writing import nothing_written
    from witnessmark.records.actions.buying import measure_box, order_came
    from witnessmark.records.lookups.day import today
    from witnessmark.records.models import AnswerReliedOn, Order

    name = args.box.strip() or args.order.strip()
    if not name:
        raise CannotRun("The box has no name. Nothing was written. Say the number on its label with --box.")
    act_id, came = uuid.uuid4(), ""
    with nothing_written(), transaction.atomic():
        by = who_acts(args.by)
        measure_box(
            by=by, act_id=act_id, aircraft=aircraft, name=name[:120], shanks_mm=args.shank, heads_mm=args.head,
            length_mm=args.length, count=args.count,
        )  # fmt: skip
        if args.order:
            lines = Order.objects.filter(number=args.order)
            if not lines or lines.filter(came_on=None).exists():
                order_came(by=by, act_id=uuid.uuid4(), number=args.order, came_on=today(aircraft))
                came = f"Order {args.order} is here."
            else:
                came = f"Order {args.order} was here already."
    kept = AnswerReliedOn.objects.select_related("answer").get(act_id=act_id).answer.result
    return {**kept, "written": True, "box": name, "order": args.order or None, "order_say": came, "by": by.name}


def _say(told: dict[str, Any]) -> None:
    print(told["sentence"])
    for row in told["rows"]:
        does = f"barred, {row['why']}" if row["barred"] else f"takes {row['takes']}" if row["takes"] else "nothing left"
        print(f"  {row['row']}, {row['holes']} holes: {does}")
    for head, number in told["to_make_heads"]:
        print(f"  To make: {number} with a head of {head:g} mm")
    for caution in told["working"]["cautions"]:
        print(f"  {caution}")
    if told["written"]:
        print(f"Box {told['box']} is written down by {told['by']}. {told['order_say']}".rstrip())
