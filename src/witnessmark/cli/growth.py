"""`witnessmark growth --spec S --class C`: what a coat does to a thread, a shaft and a bore, and which class lets the nut run.

Needs no record. Exit codes: 0 computed, 2 nothing is held of it, or a figure cannot be read.

With --json one object:
  coat: {spec, code, least_um, source, status} or null, classes: [coat], thread: {pitch_um, major_um} or null,
  nut: {deviation_um, thickest_um, runs, jams, working} or null, shaft, bore: {before_mm, after_least_mm, after_most_mm, working} or null
"""

import argparse
import re
from dataclasses import asdict


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("--spec", required=True, help="specification of the coat")
    parser.add_argument("--class", dest="code", default="", help="class that was called out")
    parser.add_argument("--pitch", help="pitch of the thread, such as '1.25 mm'")
    parser.add_argument("--position", default="g", help="tolerance position before plating: e, f, g or h")
    parser.add_argument("--angle", default="60", help="angle of the thread in degrees (else 60)")
    parser.add_argument("--size", help="diameter of a shaft or bore before plating")
    parser.add_argument("--most", help="thickest coat that may come (else the least of the class)")


def _angle(text: str) -> float:
    if not re.fullmatch(r"[0-9]{1,3}(?:\.[0-9]{1,3})?", text):
        raise ValueError(f"'{text[:20]}' is no angle of a thread: write 60, 55 or 47.5")
    return float(text)


def run(args: argparse.Namespace) -> int:
    """Compute and print."""
    from witnessmark.calc.surface.plating import coats_of, nut_runs, plated_size, thread_growth
    from witnessmark.calc.units import parse_length
    from witnessmark.cli.main import CannotRun, print_json

    try:
        classes = coats_of(args.spec)
        coat = next((each for each in classes if each.code == args.code), None)
        if args.code and coat is None:
            held = ", ".join(each.code for each in classes)
            raise ValueError(f"{args.spec} holds no class '{args.code[:20]}'; it has {held}")
        if coat is None and (args.size or args.most):
            raise ValueError("a size grows by a class: write the class that was called out")
        angle = _angle(args.angle)
        thread = thread_growth(coat.least_um, angle) if coat else None
        nut = nut_runs(args.spec, parse_length(args.pitch).mm, args.position, angle) if args.pitch else None
        sizes = {}
        if coat is not None and args.size:
            most = parse_length(args.most).mm * 1000 if args.most else coat.least_um
            size = parse_length(args.size).mm
            sizes = {kind: plated_size(size, coat.least_um, most, kind) for kind in ("shaft", "bore")}
    except ValueError as why:
        raise CannotRun(str(why)) from None
    if args.json:
        print_json(
            {
                "coat": asdict(coat) if coat else None,
                "classes": [asdict(each) for each in classes],
                "thread": asdict(thread) if thread else None,
                "nut": nut.to_dict() if nut else None,
                "shaft": sizes["shaft"].to_dict() if sizes else None,
                "bore": sizes["bore"].to_dict() if sizes else None,
            }
        )
        return 0
    for each in classes if coat is None else (coat,):
        print(f"{each.spec} class {each.code}: {each.least_um:g} um at least ({each.source}, {each.status})")
    if thread is not None:
        print(f"  Thread: {thread.pitch_um:.1f} um on the pitch diameter, {thread.major_um:.1f} um on the outside.")
    for kind, grown in sizes.items():
        print(
            f"  {kind.capitalize()} {grown.before_mm:.3f} mm: {grown.after_least_mm:.3f} to {grown.after_most_mm:.3f} mm."
        )
    if nut is not None:
        print(
            f"  The nut runs to {nut.thickest_um:.1f} um: {', '.join(c.code for c in nut.runs) or 'no class'}; "
            f"it jams with {', '.join(c.code for c in nut.jams) or 'none'}."
        )
        for caution in nut.cautions:
            print(f"  {caution}")
    return 0
