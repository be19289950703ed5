"""The route of one piece: what it hangs on is answered, it is proposed and written, and reasons are signed."""

import argparse
import re
import uuid
from dataclasses import asdict
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from witnessmark.records.lookups.route_facts import Proposed
    from witnessmark.records.models import Person, Piece

ANSWERS = {"yes": True, "no": False, "unknown": None}


def run_acts(args: argparse.Namespace) -> int | None:
    """Answer, sign, say when a step ended, propose, write. Gives None where the route itself is still to be shown."""
    from witnessmark.cli.main import CannotRun, open_record, who_acts
    from witnessmark.cli.writing import nothing_written, piece_called

    open_record()
    piece = piece_called(args.tag)
    by = who_acts(args.by)
    proposes = args.write or args.finish != "none" or bool(args.work)
    ends = args.ended is not None
    if sum((bool(args.say), args.sign is not None, ends, proposes)) > 1:
        raise CannotRun("Say one thing at a time: --say, --sign, --ended, or a route. Nothing was written.")
    with nothing_written():
        if args.say:
            _say(args, piece, by)
            return None
        if args.sign is not None:
            _sign(args, piece, by)
            return None
        if ends:
            _ended(args, piece, by)
            return None
        return _propose(args, piece, by)


def facts_read(says: list[str]) -> dict[str, bool | None]:
    """Read the answers of --say, each fact once."""
    from witnessmark.calc.surface.route_asks import FACTS
    from witnessmark.cli.main import CannotRun

    facts: dict[str, bool | None] = {}
    for each in says:
        name, _, word = each.partition("=")
        if name not in FACTS or word not in ANSWERS or name in facts:
            held = ", ".join(FACTS)
            raise CannotRun(f"'{each[:60]}': write FACT=yes, no or unknown, each once, of {held}. Nothing was written.")
        facts[name] = ANSWERS[word]
    return facts


def _say(args: argparse.Namespace, piece: "Piece", by: "Person") -> None:
    from witnessmark.records.actions.route_written import say_route_facts

    say_route_facts(by=by, act_id=uuid.uuid4(), piece=piece, facts=facts_read(args.say))


def _step_number(args: argparse.Namespace) -> int:
    from witnessmark.cli.main import CannotRun

    if not re.fullmatch(r"[0-9]{1,4}", args.step or ""):
        raise CannotRun(
            f"--step: '{(args.step or '')[:20]}' is no step's number. Nothing was written. Write it like 4."
        )
    return int(args.step)


def _sign(args: argparse.Namespace, piece: "Piece", by: "Person") -> None:
    from witnessmark.records.actions.route_reasons import sign_reason

    number = _step_number(args)
    sign_reason(by=by, act_id=uuid.uuid4(), piece=piece, rule=args.sign, step_number=number, reason=args.reason)


def _ended(args: argparse.Namespace, piece: "Piece", by: "Person") -> None:
    from witnessmark.cli.main import CannotRun
    from witnessmark.records.actions.route_reasons import moment_typed, say_when
    from witnessmark.records.models import Step

    number = _step_number(args)
    step = Step.objects.filter(piece=piece, number=number).select_related("piece__aircraft").first()
    if step is None:
        raise CannotRun(
            f"The route of {piece} has no step {number}. Nothing was written. `routes {args.tag}` shows it."
        )
    say_when(by=by, act_id=uuid.uuid4(), step=step, ended=moment_typed(args.ended))


def _propose(args: argparse.Namespace, piece: "Piece", by: "Person") -> int:
    from witnessmark.cli.writing import length_mm, typed
    from witnessmark.records.actions.route_written import write_route
    from witnessmark.records.lookups.route_facts import proposed_for

    work = [word.strip() for word in args.work.split(",") if word.strip()]
    thickness = typed("--thickness", args.thickness, length_mm)
    proposed = proposed_for(piece, args.finish, work, thickness)
    if args.write:
        steps = [step.name for step in proposed.new]
        write_route(
            by=by, act_id=uuid.uuid4(), piece=piece, finish=args.finish, work=work, steps=steps, thickness_mm=thickness
        )
    _print(args, piece, proposed)
    return 0 if args.write or proposed.may_be_used else 1


def _print(args: argparse.Namespace, piece: "Piece", proposed: "Proposed") -> None:
    from witnessmark.cli.main import print_json

    if args.json:
        print_json(
            {
                **proposed.proposal.to_dict(),
                "tag": piece.tag,
                "steps": [step.name for step in proposed.new],
                "breaches": [asdict(breach) for breach in proposed.breaches],
                "done": [step.name for step in proposed.done],
                "facts": [asdict(fact) for fact in proposed.facts],
                "withheld": proposed.withheld,
                "may_be_used": proposed.may_be_used,
                "written": args.write,
            }
        )
        return
    for step in proposed.done:
        print(f"     {step.name}, done")
    for number, step in enumerate(proposed.new, start=1):
        print(f"{number:>3}  {step.name}{f', {step.who}' if step.who else ''}")
    for fact in proposed.facts:
        if fact.holds is None:
            print(f"  {fact.unknown_words}")
    for breach in proposed.breaches:
        print(f"  {breach.rule} {'stops it' if breach.hard else 'asks a reason'}: {breach.sentence} {breach.source}")
    if proposed.withheld:
        print(f"  {proposed.withheld}")
    if args.write:
        print(f"Written to {piece}.")
