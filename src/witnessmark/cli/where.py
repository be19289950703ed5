"""`witnessmark where TAG`: where a piece is, where it goes, where it has been.

Exit codes: 0 it is on record, 1 no piece has that tag, 2 could not run.

With --json one object:
  tag, known (bool); unknown: near [tags]
  known: name, side, where: [{count, holder, kind, inside [str]}], goes: [{mark, side, name, zone, count}],
  been: [{day, what, by}]
"""

import argparse


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("tag", help="the tag of a part or bag")


def run(args: argparse.Namespace) -> int:
    """Look it up and print."""
    from witnessmark.cli.main import open_record, print_json

    open_record()
    from witnessmark.records.lookups.pieces import by_key, piece_seen
    from witnessmark.records.lookups.search import near_tags

    piece = by_key(args.tag)
    if piece is None:
        near = near_tags(args.tag)
        if args.json:
            print_json({"tag": args.tag, "known": False, "near": near})
        else:
            print(f"No piece has the tag {args.tag}.{' There is ' + ', '.join(near) + '.' if near else ''}")
        return 1
    seen = piece_seen(piece)
    if args.json:
        told = {
            "tag": piece.tag,
            "known": True,
            "name": piece.name,
            "side": piece.get_side_display(),
            "where": [
                {
                    "count": s.count,
                    "holder": s.holder.name,
                    "kind": s.holder.kind,
                    "inside": [above.name for above in s.chain],
                }
                for s in seen.where
            ],
            "goes": [
                {
                    "mark": b.place.mark,
                    "side": b.place.get_side_display(),
                    "name": b.place.name,
                    "zone": b.place.zone.name,
                    "count": b.count,
                }
                for b in seen.goes
            ],
            "been": [{"day": b.day.isoformat(), "what": b.words, "by": b.by} for b in seen.been],
        }
        print_json(told)
        return 0
    print(seen.sentence)
    for goes in seen.goes:
        print(
            f"It goes to {goes.place.mark} {goes.place.get_side_display()}, {goes.place.name}, {goes.place.zone.name}."
        )
    for been in seen.been:
        print(f"{been.day:%d %b %Y}  {been.words}. {been.by}")
    return 0
