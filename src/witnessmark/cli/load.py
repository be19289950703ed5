"""`witnessmark load DIR [--as NAME]`: read a folder of lists into the record and say what came of every row.

Exit codes: 0 everything taken or there already, 1 something was refused or differs from the record, 2 could not run.

With --json one object:
  folder, by, counts {taken, changed, same, differs, refused}, files [{file, taken, changed, same, differs, refused}],
  lines [{file, row (null: the whole file), state (refused | differs | remark), say}], remarks [str]
"""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from witnessmark.exchange.load import LoadReport


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("folder", metavar="DIR", type=Path, help="the folder that holds the lists")
    parser.add_argument("--as", metavar="NAME", dest="as_name", default="", help="who loads (else the lead)")


def run(args: argparse.Namespace) -> int:
    """Load the lists and print the report."""
    from witnessmark.cli.main import CannotRun, open_record, person_called, print_json

    open_record(make=True)
    from witnessmark.exchange.load import CannotLoad, load

    by = person_called(args.as_name)
    try:
        report = load(args.folder, by)
    except CannotLoad as error:
        raise CannotRun(str(error)) from None
    if args.json:
        print_json(report.to_dict())
    else:
        print("\n".join(say(report)))
    return 0 if report.all_taken else 1


def say(report: "LoadReport") -> list[str]:
    """Write the report for people: every file in a line, then every row that needs a word."""
    lines = [f"Loaded {report.folder} as {report.by}."]
    for outcome in report.outcomes:
        told = ", ".join(f"{count} {state}" for state, count in outcome.counts.items() if count)
        lines.append(f"  {outcome.file:<15} {told or 'no rows'}")
    if report.lines or report.remarks:
        lines.append("")
    lines += [line.words for line in report.lines]
    lines += report.remarks
    lines.append("")
    counts = report.counts
    if counts["refused"] or any(line.state == "refused" for line in report.lines):
        lines.append("Mend the refused rows and load the folder again: what was taken stays and is not taken twice.")
    elif counts["differs"]:
        lines.append("Where a list and the record differ, the record stays.")
    elif counts["taken"] or counts["changed"]:
        lines.append("All rows are in the record.")
    else:
        lines.append("Everything was in the record already; nothing was changed.")
    return lines
