"""`witnessmark where TAG [--json]`: where a piece is, where it goes and where it has been.

Exit codes: 0 said, 1 there is no such tag (tags like it are named), 2 could not run.

With --json one object:
  tag, name
  where: [{count, holder, kind, chain [str]}]      chain: what the holder lies in, innermost first
  goes: [{mark, side, place, zone, count, evidence}]
  been: [{at, what, who, count, from, to}]         oldest first; at is when it happened
"""

import argparse
import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from witnessmark.records.models import Piece


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("tag", help="the tag of a piece or bag")


def run(args: argparse.Namespace) -> int:
    """Look the tag up and say where it is."""
    from witnessmark.cli.main import open_record, print_json

    open_record()
    from witnessmark.records.lookups.search import near_tags
    from witnessmark.records.models import Piece

    tag = args.tag.strip()
    piece = Piece.objects.filter(tag=tag).first() or Piece.objects.filter(tag__iexact=tag).first()
    if piece is None:
        near = near_tags(tag)
        hint = f" Near it: {', '.join(near)}." if near else ""
        print(f"There is no tag {tag}.{hint} Look for words with `witnessmark find`.", file=sys.stderr)
        if args.json:
            print_json({"tag": tag, "found": False, "near": near})
        return 1
    told = to_dict(piece)
    if args.json:
        print_json(told)
        return 0
    print(f"{piece.tag} {piece.name}, {piece.get_side_display()}")
    for here in told["where"] or [{"count": 0, "holder": "nowhere: it was never taken in", "chain": []}]:
        print(f"  is:   {here['count']} at {', in '.join([here['holder'], *here['chain']])}")
    for goes in told["goes"]:
        print(f"  goes: {goes['count']} to {goes['mark']} {goes['side']}, {goes['zone']}")
    for been in told["been"]:
        print(f"  been: {been['at']:%Y-%m-%d} {been['who']} {been['what']}: {been['count']} to {been['to']}")
    return 0


def to_dict(piece: "Piece") -> dict[str, Any]:
    """Write where a piece is, goes and has been as plain values; the keys are documented above."""
    from witnessmark.records.actions.saying import VERBS
    from witnessmark.records.lookups.where import has_been, standings

    return {
        "tag": piece.tag,
        "name": piece.name,
        "where": [
            {
                "count": here.count,
                "holder": here.holder.name,
                "kind": here.holder.kind,
                "chain": [holder.name for holder in here.chain],
            }
            for here in standings([piece])[piece.pk]
        ],
        "goes": [
            {
                "mark": b.place.mark,
                "side": b.place.get_side_display(),
                "place": b.place.name,
                "zone": b.place.zone.name,
                "count": b.count,
                "evidence": b.evidence,
            }
            for b in piece.belongs.select_related("place__zone").order_by("pk")
        ],
        "been": [
            {
                "at": move.act.happened_at,
                "what": VERBS[move.act.verb],
                "who": move.act.person.name,
                "count": move.count,
                "from": move.from_holder.name,
                "to": move.to_holder.name,
            }
            for move in has_been(piece)
        ],
    }
