"""`witnessmark call-out TAG --step N`: by what a step is done, and what its vendor is told; with --spec or --bake-spec written.

A type or class is never carried over from another specification; unknown strength, a spring, case-hardened or
cold-straightened parts and a bake hotter than the part may see are refused.
Exit codes: 0 said or written, 1 no bath is released, and why, 2 refused, cannot be read, or could not run; then nothing
was written.

With --json one object: {piece, step, name, called_out: {spec, kind, code, bake_spec, section_mm, temper_c} or null,
tell: [str], ask_back: [str], withheld}
"""

import argparse
import re
import uuid
from dataclasses import asdict


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("tag", help="tag of the piece")
    parser.add_argument("--step", required=True, metavar="N", help="the number of the step in its route")
    parser.add_argument("--spec", default="", help="specification of the plating or film")
    parser.add_argument("--type", default="", help="type, as that specification numbers them")
    parser.add_argument("--class", dest="code", default="", help="class, as that specification numbers them")
    parser.add_argument("--bake-spec", default="", help="specification of the bake")
    parser.add_argument("--section", help="thickest section")
    parser.add_argument("--tempering", help="what the part may see without losing its temper, such as '400 F'")
    parser.add_argument("--as", dest="by", metavar="NAME", default="", help="who calls it out (else the lead mechanic)")


def run(args: argparse.Namespace) -> int:
    """Write what was called out, where something was, and print what the vendor is told."""
    from witnessmark.cli.main import CannotRun, open_record, print_json, who_acts
    from witnessmark.cli.writing import length_mm, nothing_written, piece_called, temperature_c, typed

    open_record()
    from witnessmark.calc.surface.instruction import CalledOutBy
    from witnessmark.records.actions.called_out import call_out
    from witnessmark.records.lookups.instructions import called_for, told_of
    from witnessmark.records.models import Step

    piece = piece_called(args.tag)
    number = int(args.step) if re.fullmatch(r"[0-9]{1,4}", args.step) else -1
    step = Step.objects.filter(piece=piece, number=number).select_related("piece__aircraft", "piece__size").first()
    if step is None:
        raise CannotRun(f"The route of {piece} has no step {args.step[:20]}. Nothing was written.")
    section = typed("--section", args.section, length_mm)
    temper = typed("--tempering", args.tempering, temperature_c)
    spec, kind, code, bake = (" ".join(text.split())[:60] for text in (args.spec, args.type, args.code, args.bake_spec))
    if spec or kind or code or bake or section is not None or temper is not None:
        with nothing_written():
            call_out(
                by=who_acts(args.by),
                act_id=uuid.uuid4(),
                step=step,
                called=CalledOutBy(spec, kind, code, bake, section, temper),
            )
    called = called_for([piece.pk]).get((piece.pk, step.number, step.name))
    told = told_of(piece, [step], called)
    if args.json:
        print_json(
            {
                "piece": piece.key,
                "step": step.number,
                "name": step.name,
                "called_out": asdict(called) if called else None,
                "tell": list(told.lines),
                "ask_back": list(told.asked),
                "withheld": told.withheld,
            }
        )
    else:
        print(f"{piece}, step {step.number}, {step.name}:")
        for line in (*told.lines, told.withheld):
            if line:
                print(f"  {line}")
        if told.asked:
            print(f"  Ask back: {', '.join(told.asked)}.")
    return 1 if told.withheld else 0
