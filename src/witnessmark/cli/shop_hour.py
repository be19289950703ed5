"""`witnessmark shop-hour [AMOUNT --since DAY]`: what an hour of the shop costs; decision sheets price hours by it.

The newest that holds on a day counts, what it cost before stays to be read.
Exit codes: 0 said or written, 1 nobody has said it, 2 refused, cannot be read, or could not run; then nothing was written.

With --json one object: {now: {amount, currency, since} or null, said: [{amount, currency, since, by, day}]}
"""

import argparse
import uuid


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("amount", nargs="?", help="what an hour costs, such as '62 EUR'")
    parser.add_argument("--since", metavar="DAY", help="the day from which it holds (else today), such as 2026-01-01")
    parser.add_argument("--as", dest="by", metavar="NAME", default="", help="who says it (else the lead mechanic)")


def run(args: argparse.Namespace) -> int:
    """Write what was given, and print what holds."""
    from witnessmark.cli.main import a_day, print_json, who_acts
    from witnessmark.cli.writing import aircraft_here, nothing_written, typed

    aircraft = aircraft_here()
    from witnessmark.records.actions.choices import say_shop_hour
    from witnessmark.records.lookups.choices import shop_hour_now
    from witnessmark.records.lookups.day import today
    from witnessmark.records.models import ShopHourSaid

    since = typed("--since", args.since, a_day) or today(aircraft)
    if args.amount is not None:
        with nothing_written():
            say_shop_hour(by=who_acts(args.by), act_id=uuid.uuid4(), aircraft=aircraft, typed=args.amount, since=since)
    now = shop_hour_now(aircraft)
    said = list(ShopHourSaid.objects.select_related("act__person").order_by("-id"))
    if args.json:
        print_json(
            {
                "now": {"amount": float(now.amount), "currency": now.currency, "since": now.since} if now else None,
                "said": [
                    {
                        "amount": float(row.amount),
                        "currency": row.currency,
                        "since": row.since,
                        "by": row.act.person.name,
                        "day": row.act.happened_at.date(),
                    }
                    for row in said
                ],
            }
        )
    elif now is None:
        print("Nobody has said what an hour of the shop costs: decision sheets say that it is unknown.")
    else:
        print(f"An hour of the shop costs {now.amount:,.2f} {now.currency} from {now.since} on.")
    return 0 if now or args.amount is not None else 1
