"""`witnessmark bench-list [--person NAME] [--json]`: what each person can do now, what waits and for what.

Exit codes: 0 said, 1 no such person or the plan did not pass its check, 2 could not run.

With --json one object:
  today, sentence, proved (bool), breaches [str], faults [str]
  do_now: null or {say, why [str], who}
  people: [{name, craft, here_today, all_day, runs_dry_on (date or null), none,
            ask_again: [{hunt, what, whom, since}],
            jobs: [{key, what, why, caution, status (open | started | stuck), note, hours_likely, bench, lies_at,
                    tag, starts_on, slack_working_days, frees_jobs, needs: [{kind, what, where, here}]}]}]
  waits: [{what, because [str], so}]
  stuck: [{key, what, because, by, costs}]
  order_or_send: [{leave_by, what, to, held, risk, half_the_chance_by, four_in_five_by, slack_working_days, keys [str]}]
"""

import argparse
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from witnessmark.records.lookups.bench import BenchToday, Mechanic


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("--person", metavar="NAME", default="", help="only this person's jobs")


def run(args: argparse.Namespace) -> int:
    """Say what can be done now."""
    from witnessmark.cli.main import NotSo, open_aircraft, print_json

    aircraft = open_aircraft()
    from witnessmark.records.lookups.bench import bench_today

    bench = bench_today(aircraft)
    wanted = args.person.casefold()
    people = [m for m in bench.mechanics if wanted in ("", m.person.name.casefold())]
    if wanted and bench.plan.proved and not people:
        raise NotSo(f"Nobody called {args.person} works here.")
    if args.json:
        print_json(to_dict(bench, people))
    else:
        _say(bench, people)
    return 0 if bench.plan.proved else 1


def to_dict(bench: "BenchToday", people: "list[Mechanic]") -> dict[str, Any]:
    """Write the bench list as plain values; the keys are documented above."""
    return {
        "today": bench.plan.shop.today,
        "sentence": bench.sentence,
        "proved": bench.plan.proved,
        "breaches": list(bench.plan.breaches),
        "faults": list(bench.plan.faults),
        "do_now": {
            "say": bench.do_now.say,
            "why": list(bench.do_now.why),
            "who": bench.do_now.whose.name if bench.do_now.whose else "",
        }
        if bench.do_now
        else None,
        "people": [
            {
                "name": m.person.name,
                "craft": m.person.craft,
                "here_today": m.here_today,
                "all_day": m.all_day,
                "runs_dry_on": m.dry_on,
                "none": m.none,
                "ask_again": [
                    {"hunt": row.hunt.number, "what": row.hunt.what, "whom": row.whom, "since": row.ask_again_on}
                    for row in bench.asks_of(m.person)
                ],
                "jobs": [
                    {
                        "key": job.key,
                        "what": job.what,
                        "why": job.why,
                        "caution": job.caution,
                        "status": job.status,
                        "note": job.note,
                        "hours_likely": round(job.hours_likely, 2),
                        "bench": job.bench,
                        "lies_at": job.lies_at,
                        "tag": job.tag,
                        "starts_on": job.starts_on,
                        "slack_working_days": job.slack_days,
                        "frees_jobs": job.frees,
                        "needs": [
                            {"kind": n.kind, "what": n.what, "where": n.where, "here": n.here} for n in job.needs
                        ],
                    }
                    for job in m.jobs
                ],
            }
            for m in people
        ],
        "waits": [
            {"what": chain.head, "because": list(chain.because), "so": chain.so}
            for chain in ((bench.chain,) if bench.chain else ()) + bench.waits
        ],
        "stuck": [
            {"key": s.key, "what": s.what, "because": s.because, "by": s.by, "costs": s.costs} for s in bench.stuck
        ],
        "order_or_send": [
            {
                "leave_by": send.leave_by,
                "what": send.what,
                "to": send.to,
                "held": send.held,
                "risk": send.risk,
                "half_the_chance_by": send.half_by,
                "four_in_five_by": send.four_in_five_by,
                "slack_working_days": send.slack_days,
                "keys": list(send.keys),
            }
            for send in bench.to_send
        ],
    }


def _say(bench: "BenchToday", people: "list[Mechanic]") -> None:
    print(bench.sentence)
    for breach in bench.plan.breaches:
        print(f"  {breach}")
    if bench.do_now:
        whose = f", {bench.do_now.whose.name}" if bench.do_now.whose else ""
        print(f"\nDo this now{whose}: {bench.do_now.say}")
        print("\n".join(f"  {why}" for why in bench.do_now.why))
    for m in people:
        print(f"\n{m.person.name}, {m.person.craft or m.person.get_role_display().lower()}"
              + ("" if m.here_today else ", not here today"))  # fmt: skip
        for number, job in enumerate(m.jobs, 1):
            print(f"  {number}  {job.what}\n     {job.why} {job.hours_words}")
            if job.caution:
                print(f"     Caution: {job.caution}")
            for need in job.needs:
                print(f"     {need.kind}: {need.what}, {need.where}{'' if need.here else ' Not here.'}")
        if not m.jobs:
            print(f"  {m.none}")
        for row in bench.asks_of(m.person):
            print(f"  Ask {row.whom} again about {row.hunt.what}, hunt {row.hunt.number}: due {row.ask_again_on}.")
    for chain in ((bench.chain,) if bench.chain else ()) + bench.waits:
        print(
            f"\n{chain.head}, because " + ", because ".join(chain.because) + (f", so {chain.so}" if chain.so else ".")
        )
    if bench.to_send:
        print("\nOrder or send now")
    for send in bench.to_send:
        print(f"  by {send.leave_by:%a %d %b}  {send.what} {send.to}".rstrip() + f" {send.held}".rstrip())
        print(
            f"     half the chance by {send.half_by:%d %b}, four in five by {send.four_in_five_by:%d %b}. {send.risk}"
        )
