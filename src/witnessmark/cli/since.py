"""`witnessmark since`: what happened since a day, for the owner or for the public; as words, PDF, or a folder of pictures.

Of the public copy it writes what is safe without anybody's look: sentences without names, prices, marks, numbers and
places, and no picture. A copy that was ticked and made on the screen is written with --copy N, as it was made.

Exit codes: 0 said or written, 1 nothing happened since that day, the record is empty, or a day ahead, 2 could not run.

With --json one object:
  for, aircraft, since, until, sentence, nothing (true: nothing happened), sections [{name, head, lines [{says, link (owner)}]}],
  pictures [{photo, pair, which (before, after, now), width, height, caption, ring}], written [file]
"""

import argparse
import sys
from datetime import date
from pathlib import Path
from typing import Any


def configure(parser: argparse.ArgumentParser) -> None:
    """Take the day, the readers and the files."""
    parser.add_argument("--from", dest="since", metavar="DATE", default="", help="first day, such as 2026-04-14")
    parser.add_argument("--for", dest="for_whom", choices=("owner", "public"), default="owner", help="who reads it")
    parser.add_argument("--copy", type=int, metavar="N", help="a copy that was made, as it was made")
    parser.add_argument("--pdf", metavar="FILE", help="write it as PDF")
    parser.add_argument(
        "--folder", metavar="DIR", help="write its pictures and captions; a name in .zip makes one file"
    )


def run(args: argparse.Namespace) -> int:
    """Gather, write, and say."""
    from witnessmark.cli.main import CannotRun, NotSo, open_aircraft, print_json

    try:
        since = date.fromisoformat(args.since) if args.since else None
    except ValueError:
        raise CannotRun(f"'{args.since}' is no day. Nothing was written. Write it like 2026-04-14.") from None
    aircraft = open_aircraft()
    from witnessmark.records.actions.copies import gathered
    from witnessmark.records.lookups.copies import content
    from witnessmark.records.models import SentCopy

    nothing = False
    if args.copy is not None:
        copy = SentCopy.objects.filter(pk=args.copy, aircraft=aircraft).first()
        if copy is None:
            raise NotSo(f"There is no copy {args.copy}. Nothing was written. /since/ lists them.")
        made = copy.content
    else:
        told = gathered(aircraft, args.for_whom, since)
        made, nothing = content(told, told.first_ticks()), told.nothing
    written = _write(args, made)
    if args.json:
        print_json({**made, "nothing": nothing, "written": [str(file) for file in written]})
    else:
        _say(made, written)
    return 1 if nothing else 0


def _write(args: argparse.Namespace, made: dict[str, Any]) -> list[Path]:
    from witnessmark.cli.main import CannotRun
    from witnessmark.papers.since_copy import folder, pdf, zipped
    from witnessmark.papers.typesetting import write_atomically

    written = []
    if args.pdf:
        write_atomically(Path(args.pdf), pdf(made))
        written.append(Path(args.pdf))
    if args.folder:
        if not made["pictures"]:
            why = (
                "tick pictures on /since/, make the copy there, and name it with --copy"
                if made["for"] == "public"
                else "none was taken in these days"
            )
            print(f"No picture is in it, so no folder was written: {why}.", file=sys.stderr)
            return written
        target = Path(args.folder)
        if target.suffix == ".zip":
            write_atomically(target, zipped(made))
            return [*written, target]
        if target.exists() and (not target.is_dir() or any(target.iterdir())):
            raise CannotRun(f"{target} holds something already; nothing in it was touched. Name a new folder.")
        target.mkdir(parents=True, exist_ok=True)
        for name, data in folder(made):
            write_atomically(target / name, data)
            written.append(target / name)
    return written


def _say(made: dict[str, Any], written: list[Path]) -> None:
    print(made["sentence"])
    for section in made["sections"]:
        print(f"\n{section['head']}")
        for line in section["lines"]:
            print(f"  {line['says']}")
    if made["pictures"]:
        print("\nPictures")
        for each in made["pictures"]:
            print(f"  {each['caption']}")
    elif made["for"] == "public":
        print("\nNo picture goes to the public unless somebody ticks it on /since/.")
    for file in written:
        print(f"Written: {file}")
