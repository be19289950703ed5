"""`witnessmark why [KEY] [--json]`: why a job waits, or the end, and what would shorten it.

Exit codes: 0 said, 1 the record is empty, nothing is planned or no such job, 2 could not run.

With --json one object: key, what, outside (of a job outside: when it leaves, by when it has to, when it is here; else
empty), steps [{key, kind, because, sentence}], shorter [{said, days}]
"""

import argparse


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("key", nargs="?", default="", help="key of the job, as `witnessmark plan --json` gives it")


def run(args: argparse.Namespace) -> int:
    """Walk back along what binds, and plan again without each cause."""
    from witnessmark.cli.main import NotSo, open_aircraft, print_json

    aircraft = open_aircraft()
    from witnessmark.records.lookups.forecast import why
    from witnessmark.records.lookups.latest import outside_words
    from witnessmark.records.lookups.plan import make_plan

    plan = make_plan(aircraft)
    try:
        told = why(plan, args.key)
    except KeyError:
        raise NotSo(f"There is no open job '{args.key}'. `witnessmark plan --json` names them all.") from None
    if told is None:
        raise NotSo("Nothing is planned.")
    if args.json:
        print_json(
            {
                "key": told.key,
                "what": told.what,
                "outside": outside_words(aircraft, plan, told.key),
                "steps": [vars(step) for step in told.steps],
                "shorter": [vars(one) for one in told.shorter],
            }
        )
        return 0
    print(told.what)
    if outside := outside_words(aircraft, plan, told.key):
        print(f"  {outside}")
    for step in told.steps:
        print(f"  {step.sentence}")
    if not told.shorter:
        print("None of its causes, taken away by itself, ends it earlier: others are as long.")
    for one in told.shorter:
        print(f"  {one.days} days earlier: {one.said}.")
    return 0
