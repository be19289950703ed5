"""`witnessmark forecast [--again] [--json]`: half the chance by, four in five by, what it hangs on, what must leave by when.

Exit codes: 0 said, 1 the record is empty or nothing is planned, 2 could not run.

With --json one object: fresh (bool), today, likely_end, end {half, four_in_five, nineteen_in_twenty}, one_path_half,
one_path_four_in_five, met_by_plan, curve [[date, share]], steps [{step, half, four_in_five, nineteen_in_twenty}],
hangs_on [{key, what, share, cruciality, weight}], send_by [{key, what, vendor, send_by, by_risk [[chance to be late, date]], slack_days, share}],
speeds [{key, what, vendor, things, days, asked, half_days, four_days}], futures
"""

import argparse
import sys


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("--again", action="store_true", help="work it out anew even where one is stored")


def run(args: argparse.Namespace) -> int:
    """Give the stored forecast where it still fits, else work it out."""
    from witnessmark.cli.main import NotSo, open_aircraft, print_json

    aircraft = open_aircraft()
    from witnessmark.records.actions.forecast import foresee
    from witnessmark.records.lookups.forecast import known_forecast, to_values
    from witnessmark.records.lookups.plan import make_plan

    plan = make_plan(aircraft)
    known = known_forecast(aircraft, plan)
    if known is None or not known.fresh or args.again:
        print("Working through two thousand futures ...", file=sys.stderr)
        if foresee(aircraft) is None:
            raise NotSo("Nothing is planned, so there is nothing to foresee.")
        known = known_forecast(aircraft, plan)
    assert known is not None
    told = known.outlook
    if args.json:
        print_json({"fresh": known.fresh, **to_values(told)})
        return 0
    weeks = (told.end.half - told.today).days / 7, (told.end.four_in_five - told.today).days / 7
    print(f"Half the chance by {told.end.half:%a %d %b %Y} ({weeks[0]:.0f} weeks),")
    print(f"four in five by {told.end.four_in_five:%a %d %b %Y} ({weeks[1]:.0f} weeks).")
    print(
        f"The plan, with likely hours in the shop and half the chance at each vendor, ends on {told.likely_end:%a %d %b %Y}: {told.met_by_plan:.0%} of the futures are done by then."
    )
    print(
        f"The longest road alone, by three times: half by {told.one_path_half:%a %d %b %Y}. It forgets the other roads and all waiting."
    )
    print("What it hangs on:")
    for one in told.hangs_on:
        print(f"  in {one.share * 10:.0f} futures of ten: {one.what}")
    print("Order or send, the latest day that leaves the end alone in four futures of five:")
    for thing in told.send_by:
        print(f"  {thing.send_by:%a %d %b %Y}  {thing.vendor}: {thing.what}")
    return 0
