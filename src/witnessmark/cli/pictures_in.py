"""`witnessmark pictures-in FOLDER`: take the pictures of a folder in, with all that lies in it, unsorted, by their days.

It may be stopped and run again: what is in already is passed over. Exit codes: 0 all kept or there already, 1 something was
no picture that can be kept, 2 could not run.

With --json one object:
  kept, there_already, other_files: counts; days: [{day, pictures}];
  dated_by: {camera, satellites, name, file, nothing: counts}; doubtful: [{file, why}] (days that cannot be true);
  tagged: pictures filed by the tags they show; asks: [{file, why}];
  twins: [[file, file, ...]] (the same bytes); perhaps_twins: pairs that may be the same picture, found now;
  refused: [{file, why}]
"""

import argparse
import sys
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

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
    from witnessmark.records.actions.twins import find_twins

    by = who_acts(args.who or "")
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    pictures = [path for path in files if path.suffix.lower() in SUFFIXES]
    told: list[tuple[Path, dict[str, Any]]] = []
    refused = []
    for number, path in enumerate(pictures, 1):
        try:
            date = datetime.fromtimestamp(path.stat().st_mtime, UTC)
            told.append((path, old_picture_comes_in(by=by, data=path.read_bytes(), name=path.name, file_date=date)))
        except OSError as why:
            refused.append({"file": str(path), "why": f"{path}: {why.strerror}. It was passed over."})
        except Refused as why:
            refused.append({"file": str(path), "why": str(why)})
        if number % 100 == 0:
            print(f"  {number:,} of {len(pictures):,}", file=sys.stderr, flush=True)
    said = _said(told, refused, len(files) - len(pictures), find_twins())
    if args.json:
        print_json(said)
    else:
        _print(said)
    return 1 if refused else 0


def _said(
    told: list[tuple[Path, dict[str, Any]]], refused: list[dict[str, str]], others: int, perhaps: int
) -> dict[str, Any]:
    """Count what came of them; the keys stand at the head of this file."""
    fresh = [(path, one) for path, one in told if one["new"]]
    days = Counter(str(one["taken_at"])[:10] for _, one in fresh if one["taken_at"])
    same: dict[str, list[str]] = {}
    for path, one in told:
        same.setdefault(str(one["photo"]), []).append(str(path))
    return {
        "kept": len(fresh),
        "there_already": len(told) - len(fresh),
        "other_files": others,
        "days": [{"day": day, "pictures": count} for day, count in sorted(days.items())],
        "dated_by": dict(Counter(one["dated"] or "nothing" for _, one in fresh)),
        "doubtful": [{"file": str(path), "why": one["doubt"]} for path, one in fresh if one["doubt"]],
        "tagged": sum(bool(one["tags"]) for _, one in fresh),
        "asks": [{"file": str(path), "why": one["asks"]} for path, one in fresh if one["asks"]],
        "twins": [names for names in same.values() if len(names) > 1],
        "perhaps_twins": perhaps,
        "refused": refused,
    }


def _print(said: dict[str, Any]) -> None:
    refused = said["refused"]
    print(f"{said['kept']:,} pictures came in, {said['there_already']:,} were there already, {len(refused):,} could not be kept.")  # fmt: skip
    by = said["dated_by"]
    if by.get("name") or by.get("file"):
        print(f"The camera wrote no day into {by.get('name', 0) + by.get('file', 0):,}: the name's stands for {by.get('name', 0):,}, the file's for {by.get('file', 0):,}.")  # fmt: skip
    for each in (*said["doubtful"], *said["asks"]):
        print(f"{each['file']}: {each['why']}")
    if said["tagged"]:
        print(f"{said['tagged']:,} show a tag and are filed under it.")
    for names in said["twins"]:
        print(f"The same picture: {', '.join(names)}.")
    for each in refused:
        print(each["why"])
    if said["perhaps_twins"]:
        print(f"{said['perhaps_twins']:,} pairs may be the same picture: look at /pictures/twins/.")
    if said["kept"]:
        print("They wait by date under “Old pictures” (/pictures/unsorted/); nothing is shown to anyone outside.")
