"""`witnessmark other-work [--stuck KEY] [--days N] [--json]`: what else to open while a job is stuck.

Exit codes: 0 said, 1 the record is empty or no job has that key, 2 could not run. With --json one object:
  stuck, days, sentence, open_already [str], free_hours {name: hours}
  choices: [{opens [str], filled_hours, opening_hours, worth_hours, hours_of {name: hours}, jobs [{key, what}]}]
"""

import argparse


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument(
        "--stuck", metavar="KEY", default="", help="the key of the stuck job, as bench-list --json gives it"
    )
    parser.add_argument("--days", type=int, default=5, help="working days that it stays stuck (5)")


def run(args: argparse.Namespace) -> int:
    """Weigh and say."""
    from witnessmark.cli.main import CannotRun, NotSo, open_aircraft, print_json

    if not 1 <= args.days <= 60:
        raise CannotRun("--days lies between 1 and 60 working days.")
    aircraft = open_aircraft()
    from witnessmark.records.lookups.other_work import other

    found = other(aircraft, args.stuck, args.days)
    if args.stuck and not found.stuck:
        raise NotSo(f"There is no job '{args.stuck}'. `witnessmark bench-list --json` gives the keys.")
    if args.json:
        print_json(
            {
                "stuck": found.stuck,
                "days": found.days,
                "sentence": found.sentence,
                "open_already": list(found.open_already),
                "free_hours": found.free_hours,
                "choices": [
                    {
                        "opens": list(each.opens),
                        "filled_hours": each.filled_hours,
                        "opening_hours": each.opening_hours,
                        "worth_hours": each.worth_hours,
                        "hours_of": dict(each.hours_of),
                        "jobs": [{"key": key, "what": found.what[key]} for key in each.jobs],
                    }
                    for each in found.choices
                ],
            }
        )
        return 0
    print(found.sentence)
    for each in found.choices:
        print(
            f"  {' and '.join(each.opens) or 'nothing new'}: {each.filled_hours:g} hours of work, {each.worth_hours:g} gained"
        )
        for key in each.jobs[:5]:
            print(f"    {found.what[key]}")
    return 0
