"""`witnessmark find WORDS [--json]`: pieces, places and findings that hold every one of these words.

Exit codes: 0 something was found, 1 nothing was, 2 could not run.

With --json one object:
  words, more (bool: there is more than is shown)
  pieces: [{tag, name, side, part_no}]
  places: [{mark, side, name, zone}]
  findings: [{finding, what, state}]
"""

import argparse
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from witnessmark.records.lookups.search import Found


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("words", nargs="+", help="a tag, a place, a name or words; case and accents do not matter")


def run(args: argparse.Namespace) -> int:
    """Search and say."""
    from witnessmark.cli.main import open_record, print_json

    open_record()
    from witnessmark.records.lookups.search import find

    found = find(" ".join(args.words))
    if args.json:
        print_json(to_dict(found))
        return 0 if found.count else 1
    for piece in found.pieces:
        print(
            f"Piece {piece.tag or f'id-{piece.pk}'}: {piece.name}, {piece.get_side_display()} {piece.part_no}".rstrip()
        )
    for place in found.places:
        print(f"Place {place}: {place.name}, {place.zone}")
    for finding in found.findings:
        print(f"Finding {finding.number}: {finding.what} ({finding.state})")
    if found.more:
        print("There is more: add a word.")
    if not found.count:
        print("Nothing was found. Try fewer words, or a part of one.")
    return 0 if found.count else 1


def to_dict(found: "Found") -> dict[str, Any]:
    """Write what was found as plain values; the keys are documented above."""
    return {
        "words": found.words,
        "more": found.more,
        "pieces": [
            {"tag": p.tag, "name": p.name, "side": p.get_side_display(), "part_no": p.part_no} for p in found.pieces
        ],
        "places": [
            {"mark": p.mark, "side": p.get_side_display(), "name": p.name, "zone": p.zone.name} for p in found.places
        ],
        "findings": [{"finding": f.number, "what": f.what, "state": f.state} for f in found.findings],
    }
