"""`witnessmark certificates [SHIPMENT]`: which papers have not come, what waits in quarantine and why, what is untraced.

Exit codes: 0 nothing is awaited or held, 1 a paper has not come, a piece is held or untraced, or no such shipment,
2 could not run.

With --json one object:
  say
  shipments: [{shipment, process, vendor, say, papers: [{paper, why, came_on (null: awaited), number}],
               quarantine: [{tag, name, why}]}]
  also_held: [{tag, name, why}]
  untraced: [{tag, name}]
"""

import argparse
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from witnessmark.records.lookups.certificates import AllPapers, Papers
    from witnessmark.records.models import Quarantine


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("shipment", nargs="?", help="the papers of one shipment")


def run(args: argparse.Namespace) -> int:
    """Look and print."""
    from witnessmark.cli.main import open_record, print_json

    open_record()
    from witnessmark.records.actions.saying import Refused
    from witnessmark.records.lookups.certificates import papers
    from witnessmark.records.models import Shipment

    if args.shipment and not Shipment.objects.filter(number=args.shipment).exists():
        raise Refused(f"There is no shipment {args.shipment}.")
    seen = papers(args.shipment)
    told = to_dict(seen, whole=args.shipment is None)
    if args.json:
        print_json(told)
    else:
        _say(told)
    return 1 if seen.open or seen.quarantined or told["untraced"] else 0


def to_dict(seen: "AllPapers", *, whole: bool) -> dict[str, Any]:
    """Write the papers as plain values; `whole` tells of the whole record, not of one shipment."""
    return {
        "say": seen.sentence,
        "shipments": [_shipment(each) for each in (*seen.open, *seen.whole)],
        "also_held": [_held(row) for row in seen.other_held],
        "untraced": [{"tag": row.piece.tag, "name": row.piece.name} for row in seen.untraced] if whole else [],
    }


def _held(row: "Quarantine") -> dict[str, Any]:
    return {"tag": row.piece.tag, "name": row.piece.name, "why": row.why}


def _shipment(each: "Papers") -> dict[str, Any]:
    return {
        "shipment": each.shipment.number,
        "process": each.shipment.process,
        "vendor": each.shipment.vendor.name,
        "say": each.sentence,
        "papers": [
            {"paper": paper.get_kind_display(), "why": paper.why, "came_on": paper.came_on, "number": paper.number}
            for paper in each.papers
        ],
        "quarantine": [_held(row) for row in each.held],
    }


def _say(told: dict[str, Any]) -> None:
    print(told["say"])
    for each in told["shipments"]:
        print(f"\n{each['shipment']}, {each['process']}, {each['vendor']}: {each['say']}")
        for paper in each["papers"]:
            why = f": {paper['why']}" if paper["why"] else ""
            came = f"came on {paper['came_on']}" if paper["came_on"] else f"awaited{why}"
            print(f"  {paper['paper']} {paper['number']}".rstrip() + f", {came}")
        for row in each["quarantine"]:
            print(f"  in quarantine: {row['tag'] or 'untagged'} {row['name']}: {row['why']}")
    for row in told["also_held"]:
        print(f"\nIn quarantine: {row['tag'] or 'untagged'} {row['name']}: {row['why']}")
    for row in told["untraced"]:
        print(f"\nUntraced: {row['tag'] or 'untagged'} {row['name']}")
