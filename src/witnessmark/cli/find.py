"""`witnessmark find WORDS`: pieces, places and findings that hold every word.

Exit codes: 0 something was found, 1 nothing was, 2 could not run.

With --json one object:
  pieces: [{tag, name, side, where [str]}], places: [{mark, side, name, zone}], findings: [{finding, what, state}],
  more (bool: there is more than is shown)
"""

import argparse
from typing import Any


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("words", nargs="+", help="a tag, a place's mark, or words; case and accents do not matter")
    parser.add_argument("--limit", type=int, default=50, help="at most so many of each kind (default 50)")


def run(args: argparse.Namespace) -> int:
    """Find and print."""
    from witnessmark.cli.main import open_record, print_json

    open_record()
    from witnessmark.records.lookups.search import find
    from witnessmark.records.lookups.where import standings

    found = find(" ".join(args.words), limit=max(1, args.limit))
    where = standings(found.pieces)
    told: dict[str, Any] = {
        "pieces": [
            {"tag": p.tag, "name": p.name, "side": p.get_side_display(), "where": [s.words for s in where[p.pk]]}
            for p in found.pieces
        ],
        "places": [
            {"mark": p.mark, "side": p.get_side_display(), "name": p.name, "zone": p.zone.name} for p in found.places
        ],
        "findings": [{"finding": f.number, "what": f.what, "state": f.state} for f in found.findings],
        "more": found.more,
    }
    if args.json:
        print_json(told)
    else:
        for piece in told["pieces"]:
            print(f"{piece['tag'] or 'untagged':>8}  {piece['name']}, {piece['side']}: {'; '.join(piece['where'])}")
        for place in told["places"]:
            print(f"   place  {place['mark']} {place['side']}, {place['name']}, {place['zone']}")
        for finding in told["findings"]:
            print(f" finding  {finding['finding']}: {finding['what']} ({finding['state']})")
        if not found.count:
            print("Nothing holds that. Try one word less.")
        elif found.more:
            print("There is more than is shown. Add a word.")
    return 0 if found.count else 1
