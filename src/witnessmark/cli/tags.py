"""`witnessmark tags --count N`: give blank tag numbers out and write them as PDF.

Exit codes: 0 written, 1 refused, 2 could not be written.

With --json one object: {batch, medium, count, first, last, tags [str], file}.
"""

import argparse
import uuid
from pathlib import Path


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("--count", type=int, default=30, metavar="N", help="how many (else 30)")
    parser.add_argument(
        "--from", dest="start", type=int, metavar="NUMBER", help="the first number (else the next free one)"
    )
    parser.add_argument(
        "--on", default="sheet", metavar="MEDIUM", help="label, sheet, laminated or stamping (else sheet)"
    )
    parser.add_argument("--out", metavar="FILE", help="the PDF to write (else tags-FIRST-LAST.pdf here)")
    parser.add_argument("--as", dest="who", metavar="NAME", help="who has them printed (else the lead mechanic)")


def run(args: argparse.Namespace) -> int:
    """Give them out, then write them: numbers whose paper could not be written are lost, which is harmless."""
    from witnessmark.cli.main import open_record, print_json, who_acts

    open_record(make=True)
    from witnessmark.papers.blank_tags import gather, pdf
    from witnessmark.records.actions.blank_tags import print_tags
    from witnessmark.records.lookups.day import the_aircraft

    by = who_acts(args.who or "")
    told = print_tags(by=by, act_id=uuid.uuid4(), count=args.count, medium=args.on, start=args.start)
    path = Path(args.out or f"tags-{told['first']}-{told['last']}.pdf")
    path.write_bytes(pdf(gather(the_aircraft(), told["tags"], told["medium"])))
    if args.json:
        print_json({**told, "file": str(path)})
    else:
        print(f"{told['count']} tags, {told['first']} to {told['last']}: {path}")
    return 0
