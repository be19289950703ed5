"""`witnessmark by-hand [JOB] [--person NAME] [--on DAY] [--free] [--after JOB] [--not-after JOB] [--as NAME] [--json]`.

JOB is a key of `plan --json`, or what people call it: a row, a finding, tag:step, the name in jobs.csv. Without an option
it says how the job is laid out. `--write WORDS --craft CRAFT --hours LEAST LIKELY MOST` writes a job down (after JOB where
one is named), `--strike` strikes out one that was written so. `--gaps NAME yes|no` says of a person or vendor whether he is
kept in work without gaps.

Exit codes: 0 said or done, 1 refused, no such job, or the record is empty, 2 wrongly called.
With --json one object: {job, what, planned, fixed, not_kept, waits_for: [{key, what, by_hand}], frees: [{key, what, by_hand}]},
or what was done.
"""

import argparse
import uuid
from datetime import date
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from witnessmark.records.lookups.plan import Plan
    from witnessmark.records.models import Aircraft, Person


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("job", nargs="?", default="", help="a key of `plan --json`, or a row, a finding, tag:step")
    parser.add_argument("--person", metavar="NAME", default="", help="who does it")
    parser.add_argument("--on", metavar="DAY", default="", help="the day on which it begins, such as 2026-05-12")
    parser.add_argument("--free", action="store_true", help="take back who and which day")
    parser.add_argument("--after", metavar="JOB", default="", help="let it wait for this job too")
    parser.add_argument("--not-after", metavar="JOB", default="", help="take such a tie back")
    parser.add_argument("--write", metavar="WORDS", default="", help="write down a job; after JOB where one is named")
    parser.add_argument("--craft", default="", help="whose craft the written job is")
    parser.add_argument("--hours", nargs=3, type=float, metavar=("LEAST", "LIKELY", "MOST"), default=(0.0, 0.0, 0.0))
    parser.add_argument("--strike", action="store_true", help="strike out a job that was written down by hand")
    parser.add_argument("--gaps", nargs=2, metavar=("NAME", "YES-OR-NO"), help="kept in work without gaps: yes or no")
    parser.add_argument("--as", dest="acting", metavar="NAME", default="", help="who says it (else the lead mechanic)")


def run(args: argparse.Namespace) -> int:
    """Say how a job is laid out, or lay it out."""
    from witnessmark.cli.main import CannotRun, NotSo, open_aircraft, print_json, who_acts

    aircraft = open_aircraft()
    from witnessmark.records.lookups.plan import make_plan

    if args.gaps:
        said = _gaps(who_acts(args.acting), *args.gaps)
    elif not args.job and not args.write:
        raise CannotRun("Name a job, or write one down with --write. `witnessmark plan --json` lists them.")
    else:
        plan = make_plan(aircraft)
        key = _key(plan, args.job) if args.job else ""
        if args.job and not key:
            raise NotSo(f"There is no open job '{args.job}'.")
        done = _act(args, aircraft, plan, key)
        said = done if done is not None else _told(plan, aircraft, key)
    if args.json:
        print_json(said)
    else:
        for name, value in said.items():
            if isinstance(value, list):
                for each in value:
                    print(f"{name.replace('_', ' ')}: {each['what']}{' Tied by hand.' if each['by_hand'] else ''}")
            elif value not in ("", None):
                print(f"{name.replace('_', ' ')}: {value}")
    return 0


def _key(plan: "Plan", name: str) -> str:
    keys = plan.network.by_key
    return name if name in keys else next((key for key in plan.gathered.keys_of(name) if key in keys), "")


def _act(args: argparse.Namespace, aircraft: "Aircraft", plan: "Plan", key: str) -> dict[str, Any] | None:
    """Do the one thing that was asked; None where nothing was."""
    from witnessmark.cli.main import CannotRun, person_called, who_acts
    from witnessmark.records.actions import plan_by_hand as acts

    by = who_acts(args.acting)
    new: dict[str, Any] = {"by": by, "act_id": uuid.uuid4(), "aircraft": aircraft}
    if args.write:
        least, likely, most = args.hours
        job = acts.Written(args.write, args.craft, least, likely, most, after=[key] if key else [])
        return acts.write_job(**new, job=job)
    if args.strike:
        return acts.strike_job(**new, name=key.removeprefix("hand:").removesuffix(":do"))
    if args.free:
        return acts.fix_job(**new, key=key)
    if args.person or args.on:
        fixed = plan.fixed.get(key)
        try:
            day = date.fromisoformat(args.on) if args.on else fixed.day if fixed else None
        except ValueError:
            raise CannotRun(f"'{args.on}' is no day. Write it like 2026-05-12.") from None
        person = person_called(args.person) or (fixed.person if fixed else None)
        return acts.fix_job(**new, key=key, person=person, day=day)
    if args.after or args.not_after:
        name = args.after or args.not_after
        before = _key(plan, name)
        if not before:
            raise CannotRun(f"There is no open job '{name}'. Nothing was changed.")
        return acts.tie_jobs(**new, before=before, after=key, stands=bool(args.after))
    return None


def _gaps(by: "Person", name: str, word: str) -> dict[str, Any]:
    from witnessmark.cli.main import CannotRun
    from witnessmark.records.actions.plan_by_hand import say_continuous
    from witnessmark.records.models import Person, Vendor

    if word not in ("yes", "no"):
        raise CannotRun(f"Kept in work without gaps: yes or no, not '{word}'. Nothing was changed.")
    who = (
        Person.objects.filter(name__iexact=name, is_active=True).first()
        or Vendor.objects.filter(name__iexact=name).first()
        or Vendor.objects.filter(code__iexact=name).first()
    )
    if who is None:
        raise CannotRun(f"No person and no vendor is called {name}. Nothing was changed.")
    return say_continuous(by=by, act_id=uuid.uuid4(), who=who, continuous=word == "yes")


def _told(plan: "Plan", aircraft: "Aircraft", key: str) -> dict[str, Any]:
    from witnessmark.records.lookups.by_hand import by_hand

    at = by_hand(plan, aircraft, key)
    return {
        "job": key,
        "what": at.job.what,
        "planned": at.planned_sentence,
        "fixed": at.fixed_sentence,
        "not_kept": at.not_kept,
        "waits_for": [{"key": each.key, "what": each.what, "by_hand": each.by_hand} for each in at.before],
        "frees": [{"key": each.key, "what": each.what, "by_hand": each.by_hand} for each in at.after],
    }
