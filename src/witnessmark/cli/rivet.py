"""`witnessmark rivet length|flush|dimples|joint|splice|bolt|spares|receive|tools|drawing`: reckon with one rivet, row or box.

All but receive, tools and drawing work without a record. Lengths are read as typed: `3.5`, `1/8 in`, `0.040 in`.
`receive ... --write --box NUMBER` keeps the box as the order's screen does: rows take from it or are barred from it, and
`--order O` says with it that order O is here. Of both, or of neither, anything is written.
Exit codes: 0 said, 1 a figure cannot be, or the record is empty; 2 could not run, wrongly called, or what was to be written
was refused.

With --json one object, the answer with its fields and its working; `joint --against` gives original, substitute and
their ratio; `receive` also written (bool), box, order (or null), order_say and by, where it was written.
"""

import argparse
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING

from witnessmark.cli import rivet_joint, rivet_receive

if TYPE_CHECKING:
    from witnessmark.calc.working import Answer

WAYS = ("shear", "bearing", "net section", "edge")


def _mm(text: str) -> float:
    from witnessmark.calc.units import UnknownSize, parse_length

    try:
        return parse_length(text).mm
    except UnknownSize as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what each way of reckoning takes."""
    ways = parser.add_subparsers(dest="way", required=True, metavar="WAY")
    length = ways.add_parser("length", help="length by rule and by volume, and the shop head of each stock length")
    _lengths(length, "grip diameter", "hole head-height")
    length.add_argument("--flush", action="store_true")
    length.add_argument("--inch", action="store_true")
    length.add_argument("--half-steps", action="store_true")
    flush = ways.add_parser("flush", help="a flush head in a dimple, countersink, or a die or cutter made for another")
    _lengths(flush, "head mouth hole shank", "dome")
    flush.add_argument("--angle", type=float, required=True, metavar="DEG")
    flush.add_argument("--seat-angle", type=float, required=True, metavar="DEG")
    flush.add_argument("--shaved", action="store_true", help="and what stays of it when it is shaved level")
    joint = ways.add_parser("joint", help="what one rivet of a row carries, which way to fail governs")
    rivet_joint.take_figures(joint, _mm)
    dimples = ways.add_parser("dimples", help="what dimple each of the sheets wants that are dimpled together")
    _lengths(dimples, "head shank", "")
    dimples.add_argument("--angle", type=float, required=True, metavar="DEG")
    _sheets(dimples)
    splice = ways.add_parser("splice", help="rivets an inch and a side of a cut, in both printed orders of rounding")
    splice.add_argument("--rivet", required=True, metavar="SIZE", help="3/32, 1/8, 5/32, 3/16 or 1/4")
    _lengths(splice, "sheet width", "")
    splice.add_argument("--part", choices=("joint", "stringer", "lap", "frame"), default="joint")
    bolt = ways.add_parser("bolt", help="the AN bolt and washers for a stack, or what a metric bolt of a grade holds")
    bolt.add_argument("--an", metavar="BOLT", help="AN3, AN4, AN5 or AN6, with --stack")
    _lengths(bolt, "", "stack")
    bolt.add_argument("--thread", metavar="SIZE", help="M3 to M27, with --grade")
    bolt.add_argument("--grade", metavar="GRADE", help="4.6 to 12.9, as marked on the head")
    spares = ways.add_parser("spares", help="spares by the chance of running short")
    spares.add_argument("--holes", type=int, required=True)
    spares.add_argument("--driven", type=int, default=0, help="driven before, spoiled ones among them")
    spares.add_argument("--spoiled", type=int, default=0, help="spoiled among those driven")
    spares.add_argument("--short-at-most", type=float, default=0.05)
    box = ways.add_parser(
        "receive", help="a box by its sample: which rows take it, which are barred, what is to be made"
    )
    rivet_receive.take_figures(box, _mm)
    ways.add_parser("tools", help="drills, cutters, dies, sets and room for what is still to be driven")
    drawing = ways.add_parser("drawing", help="the drawing of a rivet that has to be made, as figures and DXF")
    drawing.add_argument("code", metavar="CODE")
    _lengths(drawing, "", "length")
    drawing.add_argument("--dxf", metavar="FILE", help="write it there, in mm at full size")


def _lengths(parser: argparse.ArgumentParser, needed: str, more: str) -> None:
    for name in needed.split():
        parser.add_argument(f"--{name}", type=_mm, required=True, metavar="LENGTH")
    for name in more.split():
        parser.add_argument(f"--{name}", type=_mm, metavar="LENGTH")


def _sheets(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--sheet", type=_mm, action="append", required=True, metavar="LENGTH", help="again for each, outermost first"
    )


def run(args: argparse.Namespace) -> int:
    """Reckon and say."""
    from witnessmark.cli.main import print_json

    ways: dict[str, Callable[[argparse.Namespace], dict[str, Answer]]] = {
        "length": _length,
        "flush": _flush,
        "dimples": _dimples,
        "joint": rivet_joint.answer,
        "splice": _splice,
        "bolt": _bolt,
        "spares": _spares,
        "tools": _tools,
        "drawing": _drawing,
    }
    try:
        if args.way == "receive":
            return rivet_receive.run(args)
        found = ways[args.way](args)
    except ValueError as error:
        said = f"{str(error)[:1].upper()}{str(error)[1:].rstrip('.')}. Nothing was reckoned."
        print(said, file=sys.stderr)
        if args.json:
            print_json({"refused": said})
        return 1
    if args.json:
        plain = {name: answer.to_dict() for name, answer in found.items()}
        print_json(plain if len(plain) > 1 else next(iter(plain.values())))
        return 0
    for name, answer in found.items():
        if len(found) > 1:
            print(f"{name}:")
        _say(answer)
    return 0


def _say(answer: "Answer") -> None:
    sentence = getattr(answer, "sentence", "")
    if sentence:
        print(sentence)
    from witnessmark.calc.fasteners.length import stock_words

    for head in getattr(answer, "heads", ()):
        print(
            f"  {stock_words(head.stock_mm)}: head {head.width_mm:.1f} mm wide at 0.5 D high. {head.flag or 'within the limits'}"
        )
    for rate in getattr(answer, "rates", ()):
        print(
            f"  table {rate.table}: {rate.taken_per_in:.2f} an inch; {rate.count_frame} a side rounded up before the "
            f"percentage, {rate.count_sheet} with the percentage first"
        )
    for name in ("original", "substitute"):
        if strength := getattr(answer, name, None):
            ways = [(w, getattr(strength, w.replace(" ", "_") + "_n")) for w in WAYS]
            print(f"  {name}: {', '.join(f'{way} {load:,.0f} N' for way, load in ways)}; {strength.governs} governs")
            if strength.sunk_mm:
                print(f"    bearing without its countersink {strength.uncut_bearing_n:,.0f} N")
    for tool in getattr(answer, "tools", ()):
        print(f"  {tool.what}, {tool.size}: {', '.join(tool.for_codes)}; {tool.holes} holes")
    if not sentence:
        for row in answer.working.rows:
            print(f"  {row.what}: {row.value} {row.unit if row.unit != '-' else ''}".rstrip())
        if hasattr(answer, "governs"):
            print(f"  {answer.governs} governs.")
    for printed in getattr(answer, "printed_limits", ()):
        print(f"  In print: {printed}")
    for caution in answer.cautions:
        if caution != sentence:
            print(f"  {caution}")


def _length(args: argparse.Namespace) -> "dict[str, Answer]":
    from witnessmark.calc.fasteners.driven import length_choice

    return {
        "length": length_choice(
            args.grip,
            args.diameter,
            args.hole,
            "flush" if args.flush else "protruding",
            args.head_height or 0.0,
            "inch" if args.inch else "metric",
            args.half_steps,
        )
    }


def _flush(args: argparse.Namespace) -> "dict[str, Answer]":
    from witnessmark.calc.fasteners.flush import seating, shaved

    made = seating(args.head, args.angle, args.mouth, args.seat_angle, args.hole, args.shank, args.dome or 0.0)
    if not args.shaved:
        return {"flush": made}
    return {"flush": made, "shaved": shaved(args.head, args.angle, args.shank, made.rim_mm, args.dome or 0.0)}


def _dimples(args: argparse.Namespace) -> "dict[str, Answer]":
    from witnessmark.calc.fasteners.dimples import nested_dimples

    return {"dimples": nested_dimples(args.head, args.angle, args.shank, args.sheet)}


def _splice(args: argparse.Namespace) -> "dict[str, Answer]":
    from witnessmark.calc.fasteners.splices import splice

    return {"splice": splice(args.rivet.strip().removesuffix("in").strip(), args.sheet, args.width, args.part)}


def _bolt(args: argparse.Namespace) -> "dict[str, Answer]":
    from witnessmark.calc.fasteners.bolts import an_bolt_for, bolt_load

    if (args.an is None) != (args.stack is None) or (args.thread is None) != (args.grade is None):
        raise ValueError("--an goes with --stack, --thread with --grade: one of both is missing")
    found: dict[str, Answer] = {}
    if args.an is not None:
        found["bolt"] = an_bolt_for(args.an.upper(), args.stack)
    if args.thread is not None:
        found["load"] = bolt_load(args.thread, args.grade)
    if not found:
        raise ValueError("give --an with --stack, or --thread with --grade")
    return found


def _spares(args: argparse.Namespace) -> "dict[str, Answer]":
    from witnessmark.calc.fasteners.order import SparesRule
    from witnessmark.calc.fasteners.spares import Used, service_spares

    if args.holes == 0:
        raise ValueError("0 holes want no rivet: give one at least")
    if args.spoiled > args.driven:
        raise ValueError(
            f"{args.spoiled} spoiled among {args.driven} driven cannot be: --driven counts the spoiled ones too"
        )
    used = [Used(args.driven - args.spoiled, args.spoiled)] if args.driven or args.spoiled else []
    rule = SparesRule().spares(max(0, args.holes))
    return {"spares": service_spares(args.holes, used, args.short_at_most, rule)}


def _tools(args: argparse.Namespace) -> "dict[str, Answer]":
    from witnessmark.cli.main import open_rows

    aircraft = open_rows()
    from witnessmark.records.lookups.tooling import tools_wanted

    return {"tools": tools_wanted(aircraft)}


def _drawing(args: argparse.Namespace) -> "dict[str, Answer]":
    from pathlib import Path

    from witnessmark.cli.main import CannotRun, open_aircraft

    aircraft = open_aircraft()
    from witnessmark.calc.fasteners.length import stock_words
    from witnessmark.exchange.rivet_dxf import rivet_dxf
    from witnessmark.papers.typesetting import write_atomically
    from witnessmark.records.lookups.rivet_drawings import NoLength, drawings_of

    try:
        drawings, notes = drawings_of(aircraft, args.code, args.length)
    except NoLength as why:
        raise ValueError(f"{why}: give one with --length") from None
    if args.dxf:
        try:
            write_atomically(Path(args.dxf), rivet_dxf(drawings, notes).encode())
        except OSError as error:
            raise CannotRun(f"{args.dxf} cannot be written: {error.strerror}.") from None
    return {f"{each.code} × {stock_words(each.length_mm)}": each for each in drawings}
