"""`witnessmark processes [WORDS]`: what routes are checked against: order rules, bakes, oven caps, tags, each with its document.

Needs no record. WORDS keep the rows that hold them all. Exit codes: 0 said, 1 no row holds the words, 2 wrongly called.

With --json one object: rules, bakes, oven_caps, coat_caps, tags: [{column: value}], processes: [str]
"""

import argparse
from dataclasses import asdict
from typing import Any


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("words", nargs="*", help="only rows that hold these words")


def run(args: argparse.Namespace) -> int:
    """Look and print."""
    from witnessmark.calc.surface.bake import bake_rules
    from witnessmark.calc.surface.processes import process_names
    from witnessmark.calc.tables import load_table
    from witnessmark.cli.main import print_json

    words = [word.casefold() for word in args.words]

    def held(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
        return [row for row in rows if all(w in " ".join(map(str, row.values())).casefold() for w in words)]

    found = {
        "rules": held([dict(row) for row in load_table("order_rules").rows]),
        "bakes": held([asdict(rule) for rule in bake_rules()]),
        "oven_caps": held([dict(row) for row in load_table("heat_caps").rows]),
        "coat_caps": held([dict(row) for row in load_table("coat_caps").rows]),
        "tags": held([dict(row) for row in load_table("tag_media").rows]),
    }
    any_row = any(found.values())
    if args.json:
        print_json({**found, "processes": process_names()})
        return 0 if any_row else 1
    for heading, rows in found.items():
        if rows:
            print(heading.replace("_", " ").capitalize())
        for row in rows:
            print("  " + "; ".join(f"{name} {value}" for name, value in row.items() if value not in ("", None)))
    if not any_row:
        print(f"No row holds {' '.join(args.words)}.")
    return 0 if any_row else 1
