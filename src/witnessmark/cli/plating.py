"""`witnessmark plating`: the bake of the specification called out, the strictest beside it, and which class lets a nut run.

Exit codes: 0 released, 1 refused (with the next step), 2 cannot be read or nothing is held of it.

With --json one object:
  bake: {called_out (or null), refusal, next_step, longest, soonest, asks_on_the_instruction, working}
  certificate: {quarantine, reasons, hand_over} or null    nut: {deviation_um, thickest_um, runs, jams, working} or null
"""

import argparse
from dataclasses import asdict


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("--bake-spec", required=True, help="specification called out for the bake")
    parser.add_argument("--strength", help="tensile strength, such as '180 ksi'; none: not recorded")
    parser.add_argument("--section", help="thickest section")
    parser.add_argument("--tempering", help="what the part may see without losing its temper, such as '400 F'")
    parser.add_argument("--kind", default="", help="case-hardened, cold-straightened or spring")
    parser.add_argument("--out", help="time out of the bath on the certificate, such as 09:00 ('-' where it is silent)")
    parser.add_argument("--oven", help="time into the oven on the certificate")
    parser.add_argument("--hours", type=float, help="hours in the oven")
    parser.add_argument("--oven-at", help="temperature of the oven, such as '190 C'")
    parser.add_argument("--coat-spec", help="specification of the coat, for the thread")
    parser.add_argument("--pitch", help="pitch of the thread")
    parser.add_argument("--position", default="g", help="tolerance position before plating: e, f, g or h")


def _hour(text: str | None) -> float | None:
    if text in (None, "", "-"):
        return None
    hours, colon, minutes = str(text).partition(":")
    if not (colon and f"{hours}{minutes}".isascii() and hours.isdigit() and minutes.isdigit() and int(minutes) < 60):
        raise ValueError(f"'{text}' is no time: write it like 09:00; after midnight go on counting, 25:30")
    return int(hours) + int(minutes) / 60


def run(args: argparse.Namespace) -> int:
    """Choose, read the certificate where one is given, and print."""
    from witnessmark.calc.surface.bake import bake_for, read_certificate
    from witnessmark.calc.surface.plating import nut_runs
    from witnessmark.calc.units import parse_length, parse_stress, parse_temperature
    from witnessmark.cli.main import CannotRun, print_json

    try:
        bake = bake_for(
            args.bake_spec,
            parse_stress(args.strength).mpa if args.strength else None,
            parse_length(args.section).mm if args.section else None,
            parse_temperature(args.tempering).celsius if args.tempering else None,
            args.kind,
        )
        verdict = None
        if bake.called_out is not None and (args.out or args.oven or args.hours or args.oven_at):
            at = parse_temperature(args.oven_at).celsius if args.oven_at else None
            verdict = read_certificate(bake.called_out, _hour(args.out), _hour(args.oven), args.hours, at)
        nut = (
            nut_runs(args.coat_spec, parse_length(args.pitch).mm, args.position)
            if args.coat_spec and args.pitch
            else None
        )
    except ValueError as why:
        raise CannotRun(str(why)) from None
    refused = bool(bake.refusal) or (verdict is not None and verdict.quarantine)
    if args.json:
        print_json(
            {
                "bake": bake.to_dict(),
                "certificate": asdict(verdict) if verdict else None,
                "nut": nut.to_dict() if nut else None,
            }
        )
        return 1 if refused else 0
    if bake.refusal:
        print(f"Refused. {bake.refusal} Next: {bake.next_step}.")
    for row in bake.working.rows:
        print(f"  {row.what}: {row.value} {row.unit if row.unit != '-' else ''} ({row.come_from})")
    if not bake.refusal:
        print(
            "No bake is asked."
            if bake.called_out is None
            else f"Ask on the instruction: {', '.join(bake.asks_on_the_instruction)}."
        )
    if verdict is not None:
        print(
            "Quarantine, and the engineer."
            if verdict.quarantine
            else "The certificate agrees with what was called out."
        )
        for reason in verdict.reasons:
            print(f"  {reason}")
    if nut is not None:
        print(
            f"The nut runs to {nut.thickest_um:.1f} um: {', '.join(c.code for c in nut.runs) or 'no class'}; "
            f"it jams with {', '.join(c.code for c in nut.jams) or 'none'}."
        )
    for caution in bake.cautions:
        print(f"  {caution}")
    return 1 if refused else 0
