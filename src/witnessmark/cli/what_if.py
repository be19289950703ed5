"""`witnessmark what-if KIND WHICH [DAYS] [--json]`: the end before and after, side by side. Nothing is changed.

KIND: vendor-late, person-away, job-late, bench-more. WHICH: vendor's code or the beginning of his name, name, key of a job, bench.
Exit codes: 0 said, 1 the record is empty or that cannot happen, 2 could not run.

With --json one object: said, before, after, days, moved [{what, before, after}], cannot [str],
half_before, half_after, four_in_five_before, four_in_five_after (in the same futures; null where nothing is planned)
"""

import argparse


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("kind", choices=["vendor-late", "person-away", "job-late", "bench-more"])
    parser.add_argument(
        "which", help="the vendor's code or the beginning of his name, a name, the key of a job, a bench"
    )
    parser.add_argument("days", nargs="?", type=int, default=0)


def run(args: argparse.Namespace) -> int:
    """Plan with the change beside the plan that is."""
    from witnessmark.cli.main import NotSo, open_aircraft, print_json

    aircraft = open_aircraft()
    from witnessmark.calc.plan.what_if import Change
    from witnessmark.records.lookups.forecast import what_if
    from witnessmark.records.lookups.plan import make_plan

    try:
        told = what_if(make_plan(aircraft), Change(args.kind.replace("-", "_"), args.which, args.days))
    except ValueError as cannot:
        raise NotSo(f"That cannot be tried: {cannot}.") from None
    if args.json:
        moved = [{"what": what, "before": before, "after": after} for what, before, after in told.moved]
        print_json(
            {
                "said": told.said,
                "before": told.before,
                "after": told.after,
                "days": told.days,
                "moved": moved,
                "cannot": list(told.cannot),
                "half_before": told.ends[0].half if told.ends else None,
                "half_after": told.ends[1].half if told.ends else None,
                "four_in_five_before": told.ends[0].four_in_five if told.ends else None,
                "four_in_five_after": told.ends[1].four_in_five if told.ends else None,
            }
        )
        return 0
    print(f"If {told.said}:")
    print(f"  ends {told.before:%a %d %b %Y} as it is, {told.after:%a %d %b %Y} then: {told.days:+d} days.")
    if told.ends:
        now, then = told.ends
        print(f"  half the chance by {now.half:%a %d %b %Y} as it is, {then.half:%a %d %b %Y} then;")
        print(f"  four in five by {now.four_in_five:%a %d %b %Y} as it is, {then.four_in_five:%a %d %b %Y} then.")
    for what, before, after in told.moved:
        print(f"  {before:%d %b} -> {after:%d %b}  {what}")
    for what in told.cannot:
        print(f"  Could not be planned any more: {what}")
    return 0
