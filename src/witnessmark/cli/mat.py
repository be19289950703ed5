"""`witnessmark mat print` and `witnessmark mat read PHOTO`: the mat on paper, and what lies on it.

Exit codes: 0 printed or read, 1 the picture cannot be measured, 2 could not run or wrongly called.
"""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from witnessmark.calc.mat.reading import MatReading


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    from witnessmark.calc.mat.sheet import COLOURS, LAYOUTS, PAPERS

    actions = parser.add_subparsers(dest="action", required=True, metavar="print|read")
    printing = actions.add_parser("print", help="write a mat as PDF, to be printed at full size")
    printing.add_argument("--out", metavar="FILE", default="mat.pdf", help="the PDF to write (else mat.pdf)")
    printing.add_argument("--paper", choices=list(PAPERS), default="A4")
    printing.add_argument("--layout", choices=LAYOUTS, default="plain", help="boxes: twelve, one a bag")
    printing.add_argument("--colour", choices=list(COLOURS), default="blue", help="green: for pieces painted blue")
    reading = actions.add_parser("read", help="measure, count and group what lies on a mat")
    reading.add_argument("photo", metavar="PHOTO", help="a picture of the mat: JPEG, HEIC, PNG")
    reading.add_argument(
        "--check",
        metavar="A,B",
        default="",
        help="the mat's two check lengths in mm, where the record does not hold them",
    )
    for sub in (printing, reading):
        sub.add_argument("--json", action="store_true", help="print JSON alone on stdout")


def run(args: argparse.Namespace) -> int:
    """Print or read."""
    return _print(args) if args.action == "print" else _read(args)


def _print(args: argparse.Namespace) -> int:
    import os

    import django

    from witnessmark.cli.main import print_json

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "witnessmark.settings")
    django.setup()
    from witnessmark.calc.mat.sheet import sheet
    from witnessmark.papers.mat import Mat, new_serial, pdf
    from witnessmark.papers.typesetting import Stamp, write_atomically
    from witnessmark.records.lookups.day import today

    mat = Mat(Stamp("", "", today(None), None), sheet(args.paper, args.layout, args.colour), new_serial())
    out = Path(args.out)
    write_atomically(out, pdf(mat))
    a, b = mat.sheet.check_mm
    if args.json:
        print_json({"file": str(out), "mat": mat.sheet.name, "serial": mat.serial, "check_mm": [a, b]})
    else:
        print(
            f"{out}: mat {mat.serial} ({mat.sheet.name}). Print it at 100 %, then measure lengths A and B with a ruler"
        )
        print(
            f"(drawn {a:.0f} and {b:.0f} mm) and write them down on the Mat screen, or give them to `mat read --check A,B`."
        )
    return 0


def _read(args: argparse.Namespace) -> int:
    from witnessmark.calc.mat.reading import read_mat
    from witnessmark.calc.mat.rectify import NotReadable
    from witnessmark.cli.main import CannotRun, print_json

    checks = _checks(args.check)
    try:
        data = Path(args.photo).read_bytes()
        found = read_mat(data, checks)
    except NotReadable as why:
        print_json({"refused": str(why)}) if args.json else print(why)
        return 1
    except IsADirectoryError as why:
        raise CannotRun(f"{args.photo} is a folder. Name a picture.") from why
    if args.json:
        print_json(found.to_dict())
    else:
        _say(found)
    return 0


def _checks(typed: str) -> dict[str, tuple[float, float]]:
    from witnessmark.cli.main import CannotRun

    if not typed:
        return _recorded()
    parts = typed.split(",")
    try:
        a, b = (float(part) for part in parts)
    except ValueError:
        raise CannotRun(f"--check takes two lengths in mm, such as 239.6,150.2, not '{typed}'.") from None
    if not (100 < a < 500 and 100 < b < 400):
        raise CannotRun("The check lengths lie between 100 and 500 mm. Measure the two printed lines A and B again.")
    return {"*": (a, b)}


def _recorded() -> dict[str, tuple[float, float]]:
    """The check lengths that the record holds; none where there is no record yet."""
    from witnessmark.cli.main import CannotRun, open_record

    try:
        open_record()
    except CannotRun:
        return {}
    from witnessmark.records.actions.mat import checks

    return checks()


def _say(found: "MatReading") -> None:
    print(found.sentence)
    for one in found.groups:
        figures = ", ".join(
            f"{name.replace('_', ' ')} {f.value:.2f} ± {f.uncertainty:.2f}" for name, f in one.figures_mm.items()
        )
        likely = "; ".join(f"{p.name} {p.probability:.0%}" for p in one.proposals)
        print(f"{one.count:4} x {one.name}" + (f", box {one.box}" if one.box else ""))
        if figures:
            print(f"       {figures} mm" + (f". Perhaps {likely}" if likely else ""))
    for caution in found.cautions:
        print(caution)
