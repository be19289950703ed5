"""`witnessmark mat print`, `mat boxes TAG...`, `mat bind NUMBER BOX=TAG...`, `mat measure NUMBER A,B`, `mat read PHOTO`.

The mat on paper, boxes for chosen bags, its true size, what lies on it.

Exit codes: 0 printed or read, 1 the picture cannot be measured, 2 could not run or wrongly called.
"""

import argparse
import uuid
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from witnessmark.calc.mat.reading import MatReading
    from witnessmark.records.models import Person


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    from witnessmark.calc.mat.sheet import COLOURS, LAYOUTS, PAPERS

    actions = parser.add_subparsers(dest="action", required=True, metavar="print|boxes|bind|measure|read")
    printing = actions.add_parser("print", help="write a mat as PDF, to be printed at full size")
    printing.add_argument("--out", metavar="FILE", default="mat.pdf", help="the PDF to write (else mat.pdf)")
    printing.add_argument("--paper", choices=list(PAPERS), default="A4")
    printing.add_argument("--layout", choices=LAYOUTS, default="plain", help="boxes: twelve, one a bag")
    printing.add_argument("--colour", choices=list(COLOURS), default="blue", help="green: for pieces painted blue")
    boxing = actions.add_parser("boxes", help="write a mat whose twelve boxes each have a bag's tag printed in")
    boxing.add_argument("tags", metavar="TAG", nargs="*", help="the bags, in the order of the boxes")
    boxing.add_argument(
        "--new", type=int, default=0, metavar="N", help="so many boxes with numbers that are on nothing"
    )
    boxing.add_argument("--out", metavar="FILE", default="boxes.pdf", help="the PDF to write (else boxes.pdf)")
    boxing.add_argument("--paper", choices=list(PAPERS), default="A4")
    boxing.add_argument("--colour", choices=list(COLOURS), default="blue", help="green: for pieces painted blue")
    binding = actions.add_parser("bind", help="say whose the boxes of a printed mat are from now on")
    binding.add_argument("serial", metavar="NUMBER", help="the mat's number, at its upper left corner")
    binding.add_argument("boxes", metavar="BOX=TAG", nargs="+", help="such as 3=0231; 3= is nobody's")
    measuring = actions.add_parser("measure", help="keep the two lengths that a ruler reads on a printed mat")
    measuring.add_argument("serial", metavar="NUMBER", help="the mat's number, at its upper left corner")
    measuring.add_argument("lengths", metavar="A,B", help="both check lengths in mm, such as 239.6,150.2")
    for sub in (printing, boxing, binding, measuring):
        sub.add_argument("--as", dest="who", metavar="NAME", default="", help="who says so (else the lead mechanic)")
    reading = actions.add_parser("read", help="measure, count and group what lies on a mat")
    reading.add_argument("photo", metavar="PHOTO", help="a picture of the mat: JPEG, HEIC, PNG")
    reading.add_argument(
        "--check",
        metavar="A,B",
        default="",
        help="the mat's two check lengths in mm, where the record does not hold them",
    )


def run(args: argparse.Namespace) -> int:
    """Print, bind, measure or read."""
    from witnessmark.cli.mat_boxes import bind, boxes

    return {"print": _print, "boxes": boxes, "bind": bind, "measure": _measure, "read": _read}[args.action](args)


def person(who: str) -> "Person | None":
    """Who says so; nobody where the record has no lead yet."""
    from witnessmark.cli.main import person_called
    from witnessmark.records.models import Person, Role

    lead = Person.objects.filter(role=Role.LEAD, is_active=True).order_by("pk")
    return person_called(who) or lead.first()


def _print(args: argparse.Namespace) -> int:
    from witnessmark.cli.main import open_record, print_json

    open_record(make=True)
    from witnessmark.calc.mat.sheet import sheet
    from witnessmark.papers.mat import Mat, new_serial, pdf
    from witnessmark.papers.typesetting import Stamp, write_atomically
    from witnessmark.records.actions.mat import print_mat
    from witnessmark.records.lookups.day import today

    by, said = person(args.who), uuid.uuid4()
    mat = Mat(Stamp("", "", today(None), None), sheet(args.paper, args.layout, args.colour), new_serial(said))
    out = Path(args.out)
    write_atomically(out, pdf(mat))
    if by is not None:
        print_mat(by=by, act_id=said, serial=mat.serial, kind=mat.sheet.name)
    a, b = mat.sheet.check_mm
    if args.json:
        told = {"file": str(out), "mat": mat.sheet.name, "serial": mat.serial, "check_mm": [a, b]}
        print_json(told | {"recorded": by is not None})
        return 0
    print(f"{out}: mat {mat.serial} ({mat.sheet.name}). Print it at 100 %, then measure lengths A and B with a ruler,")
    print(f"drawn {a:.0f} and {b:.0f} mm.")
    if by is not None:
        print(f"Keep them, once: witnessmark mat measure {mat.serial} {a:.1f},{b:.1f} (with what the ruler reads).")
    else:
        print("Nobody is in the record yet, so its number was not kept: give both to `mat read --check A,B`.")
    return 0


def _measure(args: argparse.Namespace) -> int:
    from witnessmark.cli.main import CannotRun, open_record, print_json

    lengths = _checks(args.lengths)["*"]
    open_record()
    from witnessmark.records.actions.mat import measure_mat
    from witnessmark.records.actions.saying import Refused

    by = person(args.who)
    if by is None:
        raise CannotRun("There is no lead mechanic in the record. Say who with --as. Nothing was written.")
    serial = args.serial.strip().upper()
    try:
        measure_mat(by=by, act_id=uuid.uuid4(), serial=serial, check_a_mm=lengths[0], check_b_mm=lengths[1])
    except Refused as why:
        raise CannotRun(str(why)) from None
    if args.json:
        print_json({"serial": serial, "check_mm": list(lengths)})
    else:
        print(
            f"Mat {serial}: A {lengths[0]:g} mm, B {lengths[1]:g} mm. Pictures of it are read to that scale from now on."
        )
    return 0


def _read(args: argparse.Namespace) -> int:
    from witnessmark.calc.mat.reading import read_mat
    from witnessmark.calc.mat.rectify import NotReadable
    from witnessmark.cli.main import CannotRun, print_json

    checks, bound = _checks(args.check), _bound()
    try:
        data = Path(args.photo).read_bytes()
        found = read_mat(data, checks, bound=bound)
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
    try:
        a, b = (float(part) for part in typed.split(","))
    except ValueError:
        raise CannotRun(f"Give both check lengths in mm, such as 239.6,150.2, not '{typed}'.") from None
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


def _bound() -> dict[str, dict[str, str]]:
    """The tags that the record binds to boxes now; none where there is no record yet."""
    from django.utils import timezone

    from witnessmark.cli.main import CannotRun, open_record

    try:
        open_record()
    except CannotRun:
        return {}
    from witnessmark.records.lookups.mat_boxes import bound_before

    return bound_before(timezone.now())


def _say(found: "MatReading") -> None:
    print(found.sentence)
    for box in found.boxes:
        print(box.sentence)
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
