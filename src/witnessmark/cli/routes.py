"""`witnessmark routes TAG`: a piece's route with its clocks and the order rules it breaks; or a route proposed.

Exit codes: 0 no hard rule is broken, 1 one is, or no piece has that tag, 2 could not run or cannot be read.

With --json one object:
  steps: [str], breaches: [{rule, hard, sentence, steps, source, status}],
  clocks: [{rule, from_step, to_step, opens_h, closes_h, elapsed_h, state, sentence, source, status}]
  and for a proposed route: masking, tag_medium, asked, withheld, working
"""

import argparse
from dataclasses import asdict


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("tag", nargs="?", help="the tag of a part; without it a route is proposed")
    parser.add_argument("--material", help="material of the part to propose a route for")
    parser.add_argument("--strength", help="tensile strength, such as '1100 MPa' or '180 ksi'; none: not known")
    parser.add_argument("--finish", default="none", help="finish wanted")
    parser.add_argument("--work", default="", help="work wanted, separated by commas: blend,blast,grind,...")
    parser.add_argument("--thickness", help="thickness of sheet")
    parser.add_argument("--threads", action="store_true", help="it has threads or blind holes")
    parser.add_argument("--bushes", action="store_true", help="it has bushes")
    parser.add_argument("--control-surface", action="store_true", help="it is a control surface")


def run(args: argparse.Namespace) -> int:
    """Look it up or propose, check, and print."""
    from witnessmark.cli.main import CannotRun

    if bool(args.tag) == bool(args.material):
        raise CannotRun("Name either the tag of a part, or --material for a route to be proposed.")
    return _of_a_piece(args) if args.tag else _proposed(args)


def _of_a_piece(args: argparse.Namespace) -> int:
    from witnessmark.cli.main import open_record, print_json

    open_record()
    from witnessmark.records.lookups.pieces import by_key
    from witnessmark.records.lookups.routes import route_seen

    piece = by_key(args.tag)
    if piece is None:
        if args.json:
            print_json({"tag": args.tag, "known": False})
        else:
            print(f"No piece has the tag {args.tag}.")
        return 1
    seen = route_seen(piece)
    if args.json:
        print_json(
            {
                "tag": piece.tag,
                "steps": [step.name for step in seen.steps],
                "breaches": [asdict(breach) for breach in seen.breaches],
                "clocks": [asdict(clock) for clock in seen.clocks],
            }
        )
    else:
        for step in seen.steps:
            print(f"{step.number:>3}  {step.name}{', done' if step.done_act_id else ''}")
        for clock in seen.clocks:
            print(f"  Clock {clock.from_step} to {clock.to_step}: {clock.state}. {clock.sentence}")
        for breach in seen.breaches:
            print(
                f"  {breach.rule} {'stops it' if breach.hard else 'asks a reason'}: {breach.sentence} {breach.source}"
            )
    return 1 if any(breach.hard for breach in seen.breaches) else 0


def _proposed(args: argparse.Namespace) -> int:
    from witnessmark.calc.surface.proposal import PartToRoute, propose_route
    from witnessmark.calc.units import parse_length, parse_stress
    from witnessmark.cli.main import CannotRun, print_json

    try:
        proposal = propose_route(
            PartToRoute(
                args.material,
                parse_stress(args.strength).mpa if args.strength else None,
                args.finish,
                tuple(filter(None, (word.strip() for word in args.work.split(",")))),
                thickness_mm=parse_length(args.thickness).mm if args.thickness else None,
                threads=args.threads,
                bushes=args.bushes,
                control_surface=args.control_surface,
            )
        )
    except ValueError as why:
        raise CannotRun(str(why)) from None
    if args.json:
        print_json(proposal.to_dict())
    else:
        for number, step in enumerate(proposal.steps, start=1):
            print(f"{number:>3}  {step}")
        print(f"Tag: {proposal.tag_medium}. Mask: {', '.join(proposal.masking) or 'nothing named'}.")
        for words in filter(None, (proposal.withheld, *(f"Asked: {asked}" for asked in proposal.asked))):
            print(f"  {words}")
        for breach in proposal.breaches:
            print(
                f"  {breach.rule} {'stops it' if breach.hard else 'asks a reason'}: {breach.sentence} {breach.source}"
            )
    return 0 if proposal.released else 1
