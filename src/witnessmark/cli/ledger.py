"""`witnessmark ledger check`: recompute the custody ledger from its moves.

Exit codes: 0 it balances, 1 it does not, 2 it could not be read.
With --json one object: {balanced (bool), moves, pieces, holdings, faults [str]}.
"""

import argparse


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("what", choices=["check"], help="recompute every holding from the moves")


def run(args: argparse.Namespace) -> int:
    """Check and report."""
    from witnessmark.cli.main import open_record, print_json

    open_record()
    from witnessmark.records.lookups.ledger import check_ledger

    found = check_ledger()
    if args.json:
        print_json(found.to_dict())
    elif found.balanced:
        print(f"The ledger balances: {found.moves} moves, {found.pieces} pieces, {found.holdings} holdings.")
    else:
        print(f"The ledger does not balance: {len(found.faults)} faults in {found.moves} moves.")
        print("\n".join(found.faults))
    return 0 if found.balanced else 1
