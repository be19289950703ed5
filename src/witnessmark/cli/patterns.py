"""`witnessmark patterns`: the originals that no longer fly and are kept as patterns; `--handed-over DAY` lets them go.

To keep an original as pattern, decide to remake, substitute or scrap it: `witnessmark decide`. Nothing moves it to scrap
before the hand-over. Exit codes: 0 said or written, 1 none is kept, 2 refused, cannot be read, or could not run.

With --json one object: {handed_over_on (or null), patterns: [{tag, name, decided, by, reason, day, where: [str]}]}
"""

import argparse
import uuid


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("--handed-over", metavar="DAY", help="the day of the hand-over, such as 2027-05-01")
    parser.add_argument("--as", dest="by", metavar="NAME", default="", help="who says it (else the lead mechanic)")


def run(args: argparse.Namespace) -> int:
    """List, or write the hand-over."""
    from witnessmark.cli.main import a_day, print_json, who_acts
    from witnessmark.cli.writing import aircraft_here, nothing_written, typed

    aircraft = aircraft_here()
    from witnessmark.records.actions.choices import hand_over
    from witnessmark.records.lookups.patterns import patterns

    day = typed("--handed-over", args.handed_over, a_day)
    if day is not None:
        with nothing_written():
            hand_over(by=who_acts(args.by), act_id=uuid.uuid4(), aircraft=aircraft, day=day)
        aircraft.refresh_from_db()
    kept = patterns(aircraft)
    if args.json:
        print_json(
            {
                "handed_over_on": aircraft.handed_over_on,
                "patterns": [
                    {
                        "tag": each.piece.tag,
                        "name": each.piece.name,
                        "decided": each.decision.kind,
                        "by": each.decision.by.name,
                        "reason": each.decision.reason,
                        "day": each.decision.act.happened_at.date(),
                        "where": [standing.words for standing in each.where],
                    }
                    for each in kept
                ],
            }
        )
    else:
        print(
            f"Handed over on {aircraft.handed_over_on}: these originals may go."
            if aircraft.handed_over_on
            else "Not handed over yet: these originals stay."
        )
        for each in kept:
            where = "; ".join(standing.words for standing in each.where)
            print(f"  {each.piece}: {each.decision.kind}, {each.decision.by.name}. {where}")
    return 0 if kept or day else 1
