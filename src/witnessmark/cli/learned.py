"""`witnessmark learned [--json]`: what booked hours say of the estimates, what is earned, promise against truth.

Exit codes: 0 said, 1 the record is empty, 2 could not run. With --json one object:
  overall, kinds: {kind, jobs, factor, four_in_five, raw_factor, working}
  earned: [{what, done, of, unit, percent}]
  promises: [{vendor, deliveries, in_time, mean_late_days, worst, worst_late_days}]
"""

import argparse
from dataclasses import asdict


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes: nothing more."""


def run(args: argparse.Namespace) -> int:
    """Say what was learned."""
    from witnessmark.cli.main import open_aircraft, print_json

    aircraft = open_aircraft()
    from witnessmark.records.lookups.day import today
    from witnessmark.records.lookups.learned import booked_hours, earned, finished_jobs, learned_from, promises

    learned = learned_from(finished_jobs(aircraft, booked_hours(aircraft)))
    progress, kept = earned(aircraft), promises(today(aircraft))
    if args.json:
        print_json(
            {
                "overall": learned.overall.to_dict(),
                "kinds": [each.to_dict() for each in learned.kinds.values()],
                "earned": [{**asdict(each), "percent": round(each.percent, 1)} for each in progress],
                "promises": [asdict(each) for each in kept],
            }
        )
        return 0
    for each in (learned.overall, *learned.kinds.values()):
        print(
            f"{each.kind}: {each.factor:.2f} times the estimate, four in five at most {each.four_in_five:.2f} times "
            f"({each.jobs} finished with hours)."
        )
    for done in progress:
        print(f"{done.what}: {done.done:,.0f} of {done.of:,.0f} {done.unit}, {done.percent:.0f} %.")
    for promise in kept:
        print(
            f"{promise.vendor}: {promise.in_time} of {promise.deliveries} promises kept, "
            f"{promise.mean_late_days:.1f} working days late in the mean."
        )
    return 0
