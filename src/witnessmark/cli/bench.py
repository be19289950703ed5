"""`witnessmark bench [NAME] [--full]`: measure the program's own figures against their goals.

Exit codes: 0 measured (a missed goal is said, and is no error), 2 no such figure or it could not be measured.
"""

import argparse
import sys


def configure(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("name", nargs="?", help="one part (road) or one figure (road.second_start_s); without it, all")
    parser.add_argument("--full", action="store_true", help="everything instead of the fixed sample (may take long)")


def run(args: argparse.Namespace) -> int:
    """Measure and print; exit 0 measured, 2 no such figure."""
    from witnessmark.bench.figures import SEED, chosen, discover, measure
    from witnessmark.cli.main import CannotRun, print_json

    figures = chosen(args.name)
    if args.name and not figures:
        known = ", ".join(discover()) or "none yet"
        raise CannotRun(f"There is no figure or part '{args.name}'. The figures are: {known}.")
    print(f"sample: {'everything' if args.full else 'fixed'}, seed {SEED}", file=sys.stderr)
    measured = [measure(figure, full=args.full) for figure in figures]
    if args.json:
        print_json([figure.to_dict() for figure in measured])
        return 0
    width = max((len(figure.name) for figure in measured), default=0)
    for figure in measured:
        before = "" if figure.baseline is None else f", before {figure.baseline:g}"
        goal = f"{figure.sense} {figure.goal:g} {figure.unit}"
        if figure.value is None:
            print(f"{figure.name:<{width}}  {figure.note}  goal {goal}")
            continue
        mark = "met" if figure.met else "MISSED"
        note = f"  {figure.note}" if figure.note else ""
        print(f"{figure.name:<{width}}  {figure.value:g} {figure.unit}  goal {goal}  {mark}{before}{note}")
    return 0
