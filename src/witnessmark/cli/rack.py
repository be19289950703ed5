"""`witnessmark rack PICTURE --process prime`: finish a step of every piece whose tag a picture of the rack shows.

`--hanging TAG` names what should hang there: one of them that cannot be read is named and stays undone.
Exit codes: 0 all of it is done, 1 some is named as unreadable or refused, 2 nothing was written, and why.

With --json one object: {process, done: [tag], unreadable: [tag], picked_out: [tag], refused: [{tag, why}]}
"""

import argparse
import uuid
from pathlib import Path


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("picture", help="one picture of the whole rack")
    parser.add_argument("--process", required=True, help="what was done: prime, paint, conversion coat, bake, ...")
    parser.add_argument(
        "--hanging", metavar="TAG", action="append", default=[], help="a tag that should hang there; repeat it"
    )
    parser.add_argument(
        "--pick-out",
        metavar="TAG",
        action="append",
        default=[],
        help="a tag that hangs there and was not done; repeat it",
    )
    parser.add_argument("--as", dest="by", metavar="NAME", default="", help="who did it (else the lead mechanic)")


def run(args: argparse.Namespace) -> int:
    """Read the picture and finish the steps."""
    from witnessmark.cli.main import open_record, print_json, who_acts
    from witnessmark.cli.writing import nothing_written

    open_record()
    from witnessmark.records.actions.racks import finish_rack

    path = Path(args.picture)
    data = path.read_bytes()
    with nothing_written():
        told = finish_rack(
            by=who_acts(args.by),
            act_id=uuid.uuid4(),
            process=args.process,
            picture=data,
            picture_name=path.name,
            hanging=args.hanging[:500],
            picked_out=args.pick_out[:500],
        )
    if args.json:
        print_json(told)
    else:
        print(f"{args.process.capitalize()}: {len(told['done'])} done, {', '.join(told['done'])}.")
        for tag in told["picked_out"]:
            print(f"  {tag} is picked out and stays as it is.")
        for tag in told["unreadable"]:
            print(f"  {tag} could not be read and stays undone.")
        for each in told["refused"]:
            print(f"  {each['tag']} refused: {each['why']}")
    return 1 if told["unreadable"] or told["refused"] else 0
