"""`witnessmark load-list FILE --kind parts`: read a list made before, under its own headings, from CSV, XLSX or ODS.

Without `--yes` it writes nothing: it shows which heading was taken for what, and the first rows. With it, the meanings are
remembered for the next list of that kind. Exit codes: 0 shown, or all
taken or there already; 1 something was refused or differs; 2 could not be read.

With --json one object:
  headings [str], means {heading: column}, left_out [heading], missing [column], sheets [str], rows: count, first [{column: cell}],
  repaired [str], report (null before --yes; else as `load` gives it)
"""

import argparse
import uuid
from pathlib import Path


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("file", type=Path, help="the list: CSV, XLSX or ODS")
    parser.add_argument(
        "--kind", required=True, help="what it lists: parts, bags, places, vendors ... (as `new` writes them)"
    )
    parser.add_argument("--sheet", default="", help="which sheet (else the first)")
    parser.add_argument(
        "--column",
        action="append",
        default=[],
        metavar="HEADING=COLUMN",
        help="what a heading means; empty: leave it out",
    )
    parser.add_argument(
        "--always", action="append", default=[], metavar="COLUMN=WORDS", help="what a column is in every row"
    )
    parser.add_argument("--yes", action="store_true", help="take it in; without it nothing is written")
    parser.add_argument("--as", metavar="NAME", dest="as_name", default="", help="who loads (else the lead)")  # fmt: skip


def run(args: argparse.Namespace) -> int:
    """Show what the columns mean, or take the rows in."""
    from witnessmark.cli.load import say
    from witnessmark.cli.main import CannotRun, open_record, person_called, print_json

    open_record(make=True)
    from witnessmark.exchange.load import CannotLoad
    from witnessmark.exchange.old_list import form_called, load_old_list
    from witnessmark.exchange.old_list import missing as lacking
    from witnessmark.exchange.old_meanings import plain, proposed
    from witnessmark.exchange.old_table import read_table
    from witnessmark.exchange.reading import ListRefused
    from witnessmark.records.actions.old_lists import say_what_headings_mean
    from witnessmark.records.models import Person, Role

    by = person_called(args.as_name)
    try:
        form = form_called(args.kind)
        table = read_table(args.file, args.sheet)
        means = {each.heading: each.column for each in proposed(table, form) if each.column}
        for heading, column in _pairs(args.column):
            if heading not in table.headings:
                raise ListRefused(f"has no heading {heading}. It has: {', '.join(table.headings)}")
            means = {h: c for h, c in means.items() if h != heading and c != column}
            if column:
                means[heading] = column
        always = dict(_pairs(args.always))
        first = [{c: row[table.headings.index(h)] for h, c in means.items()} for row in table.rows[:3]]
        missing = lacking(form, means, always)
        told = {
            "headings": list(table.headings),
            "means": means,
            "left_out": [heading for heading in table.headings if heading not in means],
            "missing": missing,
            "sheets": list(table.sheets),
            "rows": len(table.rows),
            "first": first,
            "repaired": [],
            "report": None,
        }
        report, repaired = None, list[str]()
        if args.yes:
            report, repaired = load_old_list(table, form, means, always, by)
            told |= {"repaired": repaired, "report": report.to_dict()}
            who = by or Person.objects.filter(role=Role.LEAD, is_active=True).order_by("id").first()
            if who is not None:
                said = {plain(h): means.get(h, "") for h in table.headings if plain(h)}
                say_what_headings_mean(by=who, act_id=uuid.uuid4(), form=form.name, means=said)
    except OSError as why:
        raise CannotRun(f"{args.file}: {why.strerror}. Nothing was written.") from None
    except ListRefused as why:
        raise CannotRun(f"{args.file.name} {why}. Nothing was written.") from None
    except CannotLoad as why:
        raise CannotRun(str(why)) from None
    if args.json:
        print_json(told)
    else:
        for heading in table.headings:
            print(f"  {heading}: {means.get(heading, 'left out')}")
        if table.remark:
            print(table.remark)
        if report is None:
            for row in first:
                print("  " + "; ".join(f"{column} {cell}" for column, cell in row.items() if cell))
            lacks = f" Still to say: {', '.join(missing)}." if missing else ""
            print(f"{len(table.rows):,} rows. Nothing was written.{lacks} Take them in with --yes.")
        else:
            print("\n".join([*repaired, *say(report)]))
    return 1 if report is not None and not report.all_taken else 0


def _pairs(said: list[str]) -> list[tuple[str, str]]:
    from witnessmark.cli.main import CannotRun

    for each in said:
        if "=" not in each:
            raise CannotRun(f"'{each}' has no = in it: write it as heading=column. Nothing was written.")
    return [(left.strip(), right.strip()) for left, _, right in (each.rpartition("=") for each in said)]
