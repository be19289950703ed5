"""`witnessmark pictures-in FOLDER`: take the pictures of a folder in, with all that lies in it, unsorted, dated by their camera.

It may be stopped and run again: what is in already is passed over. Exit codes: 0 all kept or there already, 1 something was
no picture that can be kept, 2 could not run.

With --json one object:
  kept, there_already, other_files: counts; days: [{day, pictures}]; dated_by_file: count;
  twins: [[file, file, ...]]; refused: [{file, why}]
"""

import argparse
import sys
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

SUFFIXES = {".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".heic", ".heif"}


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("folder", help="the folder, such as a copy of a phone's")
    parser.add_argument("--as", dest="who", metavar="NAME", help="who brings them (else the lead mechanic)")


def run(args: argparse.Namespace) -> int:
    """Take them in, one act each; progress goes to stderr."""
    from witnessmark.cli.main import CannotRun, open_record, print_json, who_acts

    folder = Path(args.folder)
    if not folder.is_dir():
        raise CannotRun(f"{folder} is no folder that can be read. Nothing was taken in.")
    open_record(make=True)
    from witnessmark.records.actions.old_pictures import old_picture_comes_in
    from witnessmark.records.actions.saying import Refused

    by = who_acts(args.who or "")
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    pictures = [path for path in files if path.suffix.lower() in SUFFIXES]
    kept = there = by_file = 0
    days: Counter[str] = Counter()
    same: dict[str, list[str]] = {}
    refused = []
    for number, path in enumerate(pictures, 1):
        try:
            date = datetime.fromtimestamp(path.stat().st_mtime, UTC)
            told = old_picture_comes_in(by=by, data=path.read_bytes(), name=path.name, file_date=date)
        except OSError as why:
            refused.append({"file": str(path), "why": f"{path}: {why.strerror}. It was passed over."})
            continue
        except Refused as why:
            refused.append({"file": str(path), "why": str(why)})
            continue
        same.setdefault(str(told["photo"]), []).append(str(path))
        kept, there = kept + bool(told["new"]), there + (not told["new"])
        by_file += told["dated"] == "file"
        if told["taken_at"]:
            days[str(told["taken_at"])[:10]] += 1
        if number % 100 == 0:
            print(f"  {number:,} of {len(pictures):,}", file=sys.stderr, flush=True)
    twins = [names for names in same.values() if len(names) > 1]
    if args.json:
        print_json({
            "kept": kept,
            "there_already": there,
            "other_files": len(files) - len(pictures),
            "days": [{"day": day, "pictures": count} for day, count in sorted(days.items())],
            "dated_by_file": by_file,
            "twins": twins,
            "refused": refused,
        })  # fmt: skip
    else:
        print(f"{kept:,} pictures came in, {there:,} were there already, {len(refused):,} could not be kept.")
        if by_file:
            print(f"{by_file:,} hold no day of their own: the file's date stands for it.")
        for names in twins:
            print(f"The same picture: {', '.join(names)}.")
        for each in refused:
            print(each["why"])
        if kept:
            print("They wait unsorted under “Say what they are”; nothing is shown to anyone outside.")
    return 1 if refused else 0
