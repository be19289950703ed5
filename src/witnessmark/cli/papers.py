"""`witnessmark papers --out DIR [--only NAME]`: write the printed papers as PDF.

Exit codes: 0 written, 2 could not be written or wrongly called. With --json a list of the files.
"""

import argparse
from pathlib import Path


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    from witnessmark.papers import PAPERS

    parser.add_argument("--out", metavar="DIR", required=True, help="the folder to write into; made if it is not there")
    parser.add_argument("--only", metavar="NAME", default="", choices=list(PAPERS), help=f"one of: {', '.join(PAPERS)}")


def run(args: argparse.Namespace) -> int:
    """Write them and say which."""
    from witnessmark.cli.main import CannotRun, open_record, print_json

    out = Path(args.out)
    if out.exists() and not out.is_dir():
        raise CannotRun(f"{out} is a file. Name a folder for the papers.")
    open_record()
    from witnessmark.papers import write_all

    files = write_all(out, args.only)
    if args.json:
        print_json([str(file) for file in files])
    elif files:
        print("\n".join(str(file) for file in files))
    else:
        print("Nothing is out and nothing is ready to leave, so there is no plater's sheet to write.")
    return 0
