"""`witnessmark decorative`: the route of a part that is chromed for its looks: metal lost, plate gained, what is plugged.

Needs no record. Exit codes: 0 it may go this way, 1 it carries a load: the engineer is asked first, 2 wrongly called.

With --json: {lost_least_um, lost_most_um, gained_least_um, gained_most_um, asks_engineer, steps: [str], working}
"""

import argparse


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("--load", action="store_true", help="it carries a load: belt anchor, hinge pin, seat stop")
    parser.add_argument("--pair", action="store_true", help="it is one of a pair")
    parser.add_argument("--slots", action="store_true", help="it has slots or holes")


def run(args: argparse.Namespace) -> int:
    """Say the route."""
    from witnessmark.calc.surface.decorative import decorative_chrome
    from witnessmark.cli.main import print_json

    answer = decorative_chrome(args.load, args.pair, args.slots)
    if args.json:
        print_json(answer.to_dict())
    else:
        for number, step in enumerate(answer.steps, start=1):
            print(f"{number:>3}  {step}")
        print(
            f"Polishing takes {answer.lost_least_um:g} to {answer.lost_most_um:g} um, plate gives "
            f"{answer.gained_least_um:g} to {answer.gained_most_um:g} um, a side."
        )
        for caution in answer.cautions:
            print(f"  {caution}")
    return 1 if answer.asks_engineer else 0
