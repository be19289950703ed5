"""`witnessmark routes TAG`: a piece's route with its clocks and the order rules it breaks; or a route proposed.

`routes TAG --finish F --work W` proposes the route of that piece from the record, `--write` writes it; `--say "bushes=no"`
answers what a route hangs on; `--sign RULE --step N --reason WHY` signs why it goes on; `--step N --ended "2026-05-12
14:30"` says when a step ended that a list alone says is done: its window runs from then. `--material M` needs no record,
and asks the same by `--say`: plating is not released while nobody has said spring, closed tube or case-hardened.
Exit codes: 0 no hard rule is broken, 1 one is, or no piece has that tag, 2 could not run, cannot be read, or what was to
be written was refused; then nothing was written.

With --json one object:
  steps: [str], breaches: [{rule, hard, sentence, steps, source, status}],
  clocks: [{rule, from_step, to_step, opens_h, closes_h, elapsed_h, state, sentence, source, status}]
  for a piece too: tag, here (or null), standing: [{rule, hard, sentence, source, step, may_be_signed, reason, signed_by}],
  ended: [{step, name, ended (null where nobody wrote it down)}] of the steps that are done
  and for a proposed route: masking, tag_medium, asked, withheld, facts, working; of a piece also done, may_be_used, written
"""

import argparse
from dataclasses import asdict
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime


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
    parser.add_argument(
        "--write", action="store_true", help="write the proposed route to the piece; what is done stays"
    )
    parser.add_argument(
        "--say", metavar="FACT=yes|no|unknown", action="append", default=[], help="answer what a route hangs on"
    )
    parser.add_argument("--sign", metavar="RULE", help="sign a reason for a rule that the route breaks")
    parser.add_argument("--step", metavar="N", help="the number of the step that --sign or --ended speaks of")
    parser.add_argument("--ended", metavar="WHEN", help='when that step ended, such as "2026-05-12 14:30"')
    parser.add_argument("--reason", default="", help="why the route goes on")
    parser.add_argument(
        "--as", dest="by", metavar="NAME", default="", help="who writes or signs (else the lead mechanic)"
    )


def run(args: argparse.Namespace) -> int:
    """Look it up or propose, check, and print."""
    from witnessmark.cli.main import CannotRun

    if bool(args.tag) == bool(args.material):
        raise CannotRun("Name either the tag of a part, or --material for a route to be proposed.")
    if not args.tag:
        if args.write or args.sign is not None or args.ended is not None:
            raise CannotRun("Only the route of a piece can be written. Nothing was written. Name its tag.")
        return _proposed(args)
    if args.strength or args.threads or args.bushes or args.control_surface:
        raise CannotRun("Of a piece the record says its strength and nature: answer with --say. Nothing was written.")
    if args.say or args.sign is not None or args.ended is not None or args.write or args.finish != "none" or args.work:
        from witnessmark.cli.route_of_piece import run_acts

        done = run_acts(args)
        if done is not None:
            return done
    return _of_a_piece(args)


def _of_a_piece(args: argparse.Namespace) -> int:
    from witnessmark.cli.main import open_record, print_json

    open_record()
    from witnessmark.records.lookups.pieces import by_key
    from witnessmark.records.lookups.route_gate import standing_of
    from witnessmark.records.lookups.routes import ended_at, route_seen

    piece = by_key(args.tag)
    if piece is None:
        if args.json:
            print_json({"tag": args.tag, "known": False})
        else:
            print(f"No piece has the tag {args.tag}.")
        return 1
    seen = route_seen(piece)
    ends = {step.number: ended_at(step) for step in seen.steps if step.done_act_id}
    if args.json:
        print_json(
            {
                "tag": piece.tag,
                "steps": [step.name for step in seen.steps],
                "breaches": [asdict(breach) for breach in seen.breaches],
                "clocks": [asdict(clock) for clock in seen.clocks],
                "ended": [
                    {"step": step.number, "name": step.name, "ended": _local(ends[step.number])}
                    for step in seen.steps
                    if step.number in ends
                ],
                "here": seen.here.number if seen.here else None,
                "standing": [
                    {
                        "rule": each.breach.rule,
                        "hard": each.breach.hard,
                        "sentence": each.breach.sentence,
                        "source": each.breach.source,
                        "step": each.first.number,
                        "may_be_signed": each.may_be_signed,
                        "reason": each.reason.reason if each.reason else "",
                        "signed_by": each.reason.by.name if each.reason else "",
                    }
                    for each in standing_of(seen)
                ],
            }
        )
    else:
        for step in seen.steps:
            ended = _local(ends.get(step.number))
            when = f" {ended[:16].replace('T', ' ')}" if ended else "; when it ended nobody wrote down"
            print(f"{step.number:>3}  {step.name}{f', done{when}' if step.number in ends else ''}")
        for clock in seen.clocks:
            print(f"  Clock {clock.from_step} to {clock.to_step}: {clock.state}. {clock.sentence}")
        for breach in seen.breaches:
            print(
                f"  {breach.rule} {'stops it' if breach.hard else 'asks a reason'}: {breach.sentence} {breach.source}"
            )
    return 1 if any(breach.hard for breach in seen.breaches) else 0


def _local(moment: "datetime | None") -> str | None:
    from django.utils import timezone

    return timezone.localtime(moment).isoformat(timespec="minutes") if moment else None


def _proposed(args: argparse.Namespace) -> int:
    from witnessmark.calc.surface.proposal import propose_route
    from witnessmark.calc.surface.route_asks import facts_said, part_with, withheld_by_nature
    from witnessmark.calc.units import parse_length, parse_stress
    from witnessmark.cli.main import CannotRun, print_json
    from witnessmark.cli.route_of_piece import facts_read

    said = facts_read(args.say)
    for name, ticked in (
        ("threads", args.threads), ("bushes", args.bushes), ("control surface", args.control_surface)
    ):  # fmt: skip
        if ticked and said.setdefault(name, True) is not True:
            raise CannotRun(f"{name}: --say says otherwise than the option. Nothing was written. Say it once.")
    facts = facts_said(args.material, said)
    try:
        proposal = propose_route(
            part_with(
                args.material,
                parse_stress(args.strength).mpa if args.strength else None,
                args.finish,
                tuple(filter(None, (word.strip() for word in args.work.split(",")))),
                parse_length(args.thickness).mm if args.thickness else None,
                facts,
            )
        )
    except ValueError as why:
        raise CannotRun(str(why)) from None
    withheld = proposal.withheld or withheld_by_nature(args.finish, facts)
    if args.json:
        print_json({**proposal.to_dict(), "facts": [asdict(fact) for fact in facts], "withheld": withheld})
    else:
        for number, step in enumerate(proposal.steps, start=1):
            print(f"{number:>3}  {step}")
        print(f"Tag: {proposal.tag_medium}. Mask: {', '.join(proposal.masking) or 'nothing named'}.")
        for fact in facts:
            if fact.holds is None:
                print(f"  {fact.unknown_words}")
        for words in filter(None, (withheld, *(f"Asked: {asked}" for asked in proposal.asked))):
            print(f"  {words}")
        for breach in proposal.breaches:
            print(
                f"  {breach.rule} {'stops it' if breach.hard else 'asks a reason'}: {breach.sentence} {breach.source}"
            )
    return 0 if proposal.released and not withheld else 1
