"""`witnessmark calendar [--out FILE] [--person NAME] [--json]`: the plan as a calendar file (iCalendar, RFC 5545).

Exit codes: 0 written, 1 the record is empty or nobody is called so, 2 could not be written.
Without --out the calendar goes to stdout. With --json one object: {file, entries}.
"""

import argparse
import sys
from pathlib import Path


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("--out", metavar="FILE", default="", help="the file to write, such as plan.ics")
    parser.add_argument("--person", metavar="NAME", default="", help="only this person's jobs")


def run(args: argparse.Namespace) -> int:
    """Write the calendar."""
    from witnessmark.cli.main import CannotRun, NotSo, open_aircraft, print_json

    aircraft = open_aircraft()
    from witnessmark.exchange.calendar_file import calendar
    from witnessmark.records.models import Person

    if args.person and not Person.objects.filter(name=args.person, is_active=True).exists():
        raise NotSo(f"Nobody called {args.person} works here.")
    if args.json and not args.out:
        raise CannotRun("With --json say where the calendar goes: --out plan.ics.")
    made = calendar(aircraft, args.person)
    if args.out:
        out = Path(args.out)
        if out.is_dir():
            raise CannotRun(f"{out} is a folder. Name a file, such as {out / 'plan.ics'}.")
        out.write_bytes(made)
    if args.json:
        print_json({"file": args.out, "entries": made.count(b"BEGIN:VEVENT")})
    elif not args.out:
        sys.stdout.write(made.decode())
    return 0
