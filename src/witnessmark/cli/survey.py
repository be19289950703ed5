"""`witnessmark survey`: what the survey of the rows leaves open, by structure, and which rows to look at next.

Exit codes: 0 within the limit or every row looked at, 1 above it, no claim, or an empty record, 2 could not run.

With --json one object:
  chance (null: no claim), limit, enough (bool), sentence, structures: [...], next_rows [str], rows_to_enough, no_claim [str],
  single_head, single_head_sentence, held (bool), accepted: {by, reason, stands} or null, working
"""

import argparse


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes: nothing."""


def run(args: argparse.Namespace) -> int:
    """Work it out and say."""
    from witnessmark.cli.main import open_rows, print_json

    aircraft = open_rows()
    from witnessmark.records.lookups.survey import survey

    seen = survey(aircraft)
    accepted = seen.accepted
    if args.json:
        told = {"by": accepted.by, "reason": accepted.reason, "stands": accepted.stands} if accepted else None
        print_json({**seen.risk.to_dict(), "held": seen.holds, "accepted": told})
        return 0 if seen.risk.enough else 1
    print(seen.risk.sentence)
    for one in seen.risk.structures:
        print(f"  {one.structure.capitalize()}: {one.looked_at} of {one.rows} looked at. {one.sentence}")
    if seen.risk.next_rows:
        print(f"Look at next: {', '.join(seen.risk.next_rows)}.")
    if seen.stripes:
        print(f"Strip a stripe along: {', '.join(row.name for row in seen.stripes)}.")
    print(seen.risk.single_head_sentence)
    if accepted is not None and accepted.stands:
        print(f"{accepted.by} accepted what is open: {accepted.reason}")
    elif seen.holds:
        print("The order is held until the lead or the inspector accepts this.")
    return 0 if seen.risk.enough else 1
