"""`witnessmark mat boxes TAG...` and `mat bind NUMBER BOX=TAG...`: boxes that know their bags before the picture.

With --json one object: {file, mat, serial, check_mm [A, B], boxes {box: tag}}, or {serial, boxes} for `bind`.
"""

import argparse
import uuid
from pathlib import Path


def boxes(args: argparse.Namespace) -> int:
    """Print a mat with the tags of these bags in its boxes, and bind them."""
    from witnessmark.cli.main import CannotRun, open_record, print_json
    from witnessmark.cli.mat import person

    open_record(make=True)
    from witnessmark.calc.mat.sheet import sheet
    from witnessmark.papers.mat import new_serial, pdf, with_boxes
    from witnessmark.papers.typesetting import write_atomically
    from witnessmark.records.actions.mat import print_mat
    from witnessmark.records.actions.saying import Refused
    from witnessmark.records.models import PrintedMat

    by, said = person(args.who), uuid.uuid4()
    if by is None:
        raise CannotRun("There is no lead mechanic in the record. Say who with --as. Nothing was written.")
    if not args.tags and not args.new:
        raise CannotRun("Name the bags, such as `mat boxes 0231 0232`, or give --new 12. Nothing was written.")
    kind = sheet(args.paper, "boxes", args.colour)
    try:
        told = print_mat(by=by, act_id=said, serial=new_serial(said), kind=kind.name, tags=args.tags, new=args.new)
    except Refused as why:
        raise CannotRun(str(why)) from None
    out = Path(args.out)
    write_atomically(out, pdf(with_boxes(PrintedMat.objects.get(pk=told["serial"]))))
    a, b = kind.check_mm
    if args.json:
        print_json(
            {"file": str(out), "mat": kind.name, "serial": told["serial"], "check_mm": [a, b], "boxes": told["boxes"]}
        )
        return 0
    print(
        f"{out}: mat {told['serial']} ({kind.name}). Print it at 100 % and measure lengths A and B, drawn {a:.0f} and {b:.0f} mm:"
    )
    print(f"witnessmark mat measure {told['serial']} {a:.1f},{b:.1f} (with what the ruler reads).")
    for box, tag in told["boxes"].items():
        print(f"Box {box}: {tag}")
    return 0


def bind(args: argparse.Namespace) -> int:
    """Say whose the boxes of a printed mat are from now on."""
    from witnessmark.cli.main import CannotRun, open_record, print_json
    from witnessmark.cli.mat import person

    tags: dict[str, str] = {}
    for each in args.boxes:
        box, between, tag = each.partition("=")
        if not between or not box.strip():
            raise CannotRun(f"'{each}' is no box and tag. Write 3=0231. Nothing was written.")
        if box.strip() in tags:
            raise CannotRun(f"Box {box.strip()} is named twice. Nothing was written.")
        tags[box.strip()] = tag.strip()
    open_record()
    from witnessmark.records.actions.mat_boxes import bind_boxes
    from witnessmark.records.actions.saying import Refused

    by = person(args.who)
    if by is None:
        raise CannotRun("There is no lead mechanic in the record. Say who with --as. Nothing was written.")
    try:
        told = bind_boxes(by=by, act_id=uuid.uuid4(), serial=args.serial.strip().upper(), tags=tags)
    except Refused as why:
        raise CannotRun(str(why)) from None
    if args.json:
        print_json(told)
        return 0
    for box, tag in told["boxes"].items():
        if tag:
            print(f"Box {box}: {tag}")
    return 0
