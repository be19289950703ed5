"""`witnessmark timeline [--from DAY] [--weeks N] [--json]`: who is at what when, by people, benches and vendors.

Exit codes: 0 said, 1 the record is empty, nothing is planned, or the plan did not pass its check, 2 wrongly called.
With --json one object: first, last, begin_later, ended_earlier,
  lanes: [{name, kind (step | person | bench | vendor), bars: [{what, keys, starts_on, ends_on, at_day, days, row, fixed}]}]
at_day and days count from the first day on, with nights and free days, as they are drawn.
"""

import argparse
from datetime import date


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("--from", dest="first", metavar="DAY", default="", help="the first day (else today)")
    parser.add_argument("--weeks", type=int, default=2, help="how many weeks, up to 156")


def run(args: argparse.Namespace) -> int:
    """Say who is at what when."""
    from witnessmark.cli.main import CannotRun, NotSo, open_aircraft, print_json

    aircraft = open_aircraft()
    from witnessmark.records.lookups.plan import make_plan
    from witnessmark.records.lookups.timeline import lanes

    if not 1 <= args.weeks <= 156:
        raise CannotRun(f"{args.weeks} weeks cannot be drawn: 1 to 156 can.")
    plan = make_plan(aircraft)
    if not plan.proved or not plan.schedule.entries:
        raise NotSo("Nothing is planned, or the plan did not pass its check.")
    try:
        first = date.fromisoformat(args.first) if args.first else plan.shop.today
    except ValueError:
        raise CannotRun(f"'{args.first}' is no day. Write it like 2026-05-12.") from None
    found = lanes(plan, first, args.weeks * 7)
    if args.json:
        print_json(
            {
                "first": found.first,
                "last": found.last,
                "begin_later": found.later,
                "ended_earlier": found.earlier,
                "lanes": [
                    {
                        "name": lane.name,
                        "kind": lane.kind,
                        "bars": [
                            {
                                "what": bar.what,
                                "keys": list(bar.keys),
                                "starts_on": bar.first_day,
                                "ends_on": bar.last_day,
                                "at_day": round(bar.at, 4),
                                "days": round(bar.long, 4),
                                "row": bar.row,
                                "fixed": bar.fixed,
                            }
                            for bar in lane.bars
                        ],
                    }
                    for lane in found.lanes
                ],
            }
        )
        return 0
    for lane in found.lanes:
        print(f"{lane.name}:")
        for bar in lane.bars:
            print(f"  {bar.said}")
    return 0
