"""`witnessmark open-jobs [--json]`: jobs left open in the shop, the longest left first.

Exit codes: 0 said, 1 the record is empty, 2 could not run. With --json a list:
  {key, what, left_on, by, next, next_hole, bare, prime_by, bags [str], borrowed [str], lies_at}
"""

import argparse


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes: nothing more."""


def run(args: argparse.Namespace) -> int:
    """Say what stands open."""
    from witnessmark.cli.main import open_aircraft, print_json

    aircraft = open_aircraft()
    from witnessmark.records.lookups.open_jobs import open_jobs

    jobs = open_jobs(aircraft)
    if args.json:
        print_json(
            [
                {
                    "key": job.left.key,
                    "what": job.left.what,
                    "left_on": job.left.left_at.date(),
                    "by": job.left.by.name,
                    "next": job.left.next_words,
                    "next_hole": job.left.next_hole,
                    "bare": job.bare_sentence,
                    "prime_by": job.prime_by,
                    "bags": [bag.thing.piece.tag for bag in job.bags if bag.thing.piece],
                    "borrowed": list(job.borrowed),
                    "lies_at": job.left.lies_at,
                }
                for job in jobs
            ]
        )
        return 0
    print("No job stands open." if not jobs else f"{len(jobs)} stand{'s' if len(jobs) == 1 else ''} open in the shop.")
    for job in jobs:
        print(
            f"  {job.left.what} {job.left.by.name} left it {job.since_words}. Next: {job.left.next_words} {job.bare_sentence}".rstrip()
        )
    return 0
