"""`witnessmark match SHIPMENT [READINGS] [--json]`: whose the pieces are that came back mixed. It reads and never writes.

READINGS is a CSV (item and one column a feature, or item, what, value, uncertainty) or the JSON of a measured photograph;
what is on record counts as well. The screen /outwork/SHIPMENT/sort/ confirms.
Exit codes: 0 said, 1 no such shipment or nothing of it came back mixed, 2 a file that cannot be read.

With --json one object:
  shipment, sentence, count_out, count_back, measured, not_measured, cost
  balance: {short, over, missing_mass_g (or null), explained_by, disagree (bool), sentence}
  pieces: [{piece, group, bag (null for a stranger), place, sure, bag_sure, state (told, doubtful or foreign),
            others: [[group, chance]]}]
  short: [{group, bag, place, count, chance}], short_maybe: the same, for what else it could be
  foreign: [piece]
  next: {feature, pieces, settles, again (bool), sentence} or null
  shares: {lost, foreign, sentence}: what is taken of this vendor, by his earlier returns
  working
"""

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from witnessmark.calc.bags.return_match import ReturnMatch
    from witnessmark.calc.bags.shares import Shares


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("shipment", metavar="SHIPMENT", help="a shipment's number")
    parser.add_argument("readings", metavar="READINGS", nargs="?", type=Path, help="a CSV or JSON of measured pieces")


def run(args: argparse.Namespace) -> int:
    """Match and say."""
    from witnessmark.cli.main import CannotRun, open_record, print_json

    open_record()
    from witnessmark.exchange.readings import BadReadings, read_readings
    from witnessmark.records.lookups.mixing import sorting
    from witnessmark.records.models import Shipment

    shipment = Shipment.objects.filter(number=args.shipment).select_related("vendor").first()
    try:
        more = read_readings(args.readings.read_bytes(), args.readings.name) if args.readings else []
    except BadReadings as why:
        raise CannotRun(str(why)) from None
    seen = sorting(shipment, more) if shipment is not None else None
    if seen is None or seen.match is None:
        refused = (
            f"There is no shipment {args.shipment}."
            if shipment is None
            else f"Nothing of shipment {args.shipment} lies mixed here. Receive it in one bucket first, "
            f"on the page /outwork/{args.shipment}/sort/."
        )
        print(refused, file=sys.stderr)
        if args.json:
            print_json({"refused": refused})
        return 1
    if args.json:
        print_json(to_dict(args.shipment, seen.match, seen.shares))
        return 0
    print(seen.match.sentence)
    for each in seen.match.pieces:
        where = f"{each.bag}{f', {each.place}' if each.place else ''}" if each.bag else "not ours"
        print(f"  {each.piece:>6}  {each.state:<9} {where}  {each.sure:.3f}")
    if seen.match.next:
        print(seen.match.next.sentence)
    print(seen.shares.sentence)
    return 0


def to_dict(shipment: str, match: "ReturnMatch", shares: "Shares") -> dict[str, Any]:
    """Write the match as plain values; the keys are documented above."""
    told = match.to_dict()
    seen = told["balance"]
    return {
        "shipment": shipment,
        "sentence": match.sentence,
        "count_out": match.balance.count_out,
        "count_back": match.balance.count_back,
        "measured": len(match.pieces),
        "not_measured": match.not_measured,
        "cost": match.cost,
        "balance": {
            key: seen[key] for key in ("short", "over", "missing_mass_g", "explained_by", "disagree", "sentence")
        },
        "shares": {
            "lost": round(shares.lost.share, 5),
            "foreign": round(shares.foreign.share, 5),
            "sentence": shares.sentence,
        },
        **{key: told[key] for key in ("pieces", "short", "short_maybe", "foreign", "next", "working")},
    }
