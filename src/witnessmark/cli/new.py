"""`witnessmark new DIR`: write empty, self-explaining lists. Files that are there stay as they are.

Exit codes: 0 all written, 1 some were there and were kept, 2 could not run. With --json: {folder, written, kept}.
"""

import argparse
import sys
from pathlib import Path


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("folder", metavar="DIR", type=Path, help="where the empty lists go")


def run(args: argparse.Namespace) -> int:
    """Write the lists."""
    from witnessmark.cli.main import print_json
    from witnessmark.exchange.templates import write_templates

    written, kept = write_templates(args.folder)
    if args.json:
        print_json({"folder": str(args.folder), "written": written, "kept": kept})
    elif written:
        print(f"{len(written)} empty lists are in {args.folder}. Each explains its columns. Fill in what you have,")
        print(f"delete what you do not need, then: witnessmark load {args.folder}")
    if kept:
        print(f"There already, kept as they are: {', '.join(kept)}.", file=sys.stderr)
    return 1 if kept else 0
