"""`witnessmark take PHOTO ... --as NAME`: take pictures in, read their tags, file them; as if a phone had sent them.

The same file taken in again is filed once. Exit codes: 0 all kept, 1 something was refused, 2 could not run.

With --json one object:
  kept: [{file, photo, line, unsorted, asks, tags [{tag, piece, name, new, pictures}], taken_at, clock_off_seconds}],
  refused: [{file, why}], waits: {unsorted, asks, not_said}
"""

import argparse
import uuid
from pathlib import Path


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("photo", nargs="+", help="a picture: JPEG, PNG, WebP, TIFF or HEIC")
    parser.add_argument("--as", dest="who", metavar="NAME", help="who took them (else the lead mechanic)")
    parser.add_argument("--sound", metavar="FILE", help="a spoken note that goes with the first picture")


def run(args: argparse.Namespace) -> int:
    """Take them in, one act each."""
    from witnessmark.cli.main import open_record, print_json, who_acts

    open_record(make=True)
    from witnessmark.records.actions.pictures import picture_comes_in
    from witnessmark.records.actions.saying import Refused
    from witnessmark.records.lookups.pictures import waits

    by = who_acts(args.who or "")
    sound = Path(args.sound).read_bytes() if args.sound else None
    kept, refused = [], []
    for number, name in enumerate(args.photo):
        path = Path(name)
        try:
            data = path.read_bytes()
            told = picture_comes_in(
                by=by,
                act_id=uuid.uuid4(),
                data=data,
                name=path.name,
                sound=sound if number == 0 else None,
            )
        except OSError as why:
            refused.append({"file": name, "why": f"{name}: {why.strerror}. Check the name."})
        except Refused as why:
            refused.append({"file": name, "why": str(why)})
        else:
            kept.append({"file": name, **told})
        if not args.json:
            print(f"{name}: {refused[-1]['why'] if refused and refused[-1]['file'] == name else kept[-1]['line']}")
    waiting = waits()
    if args.json:
        counts = {"unsorted": waiting.unsorted, "asks": waiting.asks, "not_said": waiting.not_said}
        print_json({"kept": kept, "refused": refused, "waits": counts})
    elif waiting.sentence:
        print(waiting.sentence)
    return 1 if refused else 0
