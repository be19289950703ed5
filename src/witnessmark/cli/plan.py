"""`witnessmark plan [--json]`: the jobs in their order, with days, checked by independent code.

Exit codes: 0 said, 1 the record is empty or the plan did not pass its check, 2 could not run.

With --json one object:
  today, sentence, proved (bool), breaches [str], faults [str], finish_on (date or null)
  bound, at_most_days_longer (than any plan can be; null until the search is done), continuous [name]
  days_not_kept [str]
  jobs: [{key, what, person, vendor, bench, zone, starts_on, ends_on, waits, status, fixed (bool), after [key]}]
  cannot: [{key, what, why}]
  vendors: [{vendor, says_likely_days, deliveries, half_of_them_took_days (or null), counted_on_days, sentence}]
"""

import argparse
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from witnessmark.records.lookups.plan import Plan


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes: nothing."""


def run(args: argparse.Namespace) -> int:
    """Plan, check and say."""
    from witnessmark.cli.main import open_aircraft, print_json

    aircraft = open_aircraft()
    from witnessmark.records.lookups.plan import (
        bound_sentence,
        due_sentences,
        finish_sentence,
        kept_words,
        make_plan,
        plan_lines,
    )

    plan = make_plan(aircraft)
    if args.json:
        print_json(to_dict(plan))
        return 0 if plan.proved else 1
    if not plan.proved:
        print("The plan did not pass its check, so it is not shown:")
        print("\n".join(plan.breaches))
        return 1
    print(finish_sentence(plan))
    print(" ".join(filter(None, (bound_sentence(plan), kept_words(plan)))))
    for sentence in (*due_sentences(plan), *plan.faults):
        print(sentence)
    for line in plan_lines(plan):
        who = line.person or line.vendor
        waits = f"  (waits for: {line.waits})" if line.waits else ""
        print(f"  {line.starts_on:%a %d %b %Y} to {line.ends_on:%a %d %b %Y}  {who}: {line.what}{waits}")
    for key, why in plan.schedule.cannot:
        print(f"  Not planned: {plan.network.by_key[key].what} {why}")
    for vendor in plan.vendors:
        print(f"  {vendor.counted_on}")
    return 0


def to_dict(plan: "Plan") -> dict[str, Any]:
    """Write the plan as plain values; the keys are documented above. An unproved plan shows no jobs."""
    from statistics import median

    from witnessmark.records.lookups.plan import (
        bound_sentence,
        days_over_least,
        due_sentences,
        finish_sentence,
        plan_lines,
    )
    from witnessmark.records.lookups.plan_order import continuous

    lines = plan_lines(plan) if plan.proved else []
    return {
        "today": plan.shop.today,
        "sentence": finish_sentence(plan) if plan.proved else "The plan did not pass its check.",
        "proved": plan.proved,
        "breaches": list(plan.breaches),
        "faults": list(plan.faults),
        "bound": bound_sentence(plan) if plan.proved else "",
        "at_most_days_longer": days_over_least(plan),
        "continuous": sorted(continuous(plan.shop)),
        "days_not_kept": due_sentences(plan) if plan.proved else [],
        "finish_on": plan.schedule.finish_date if lines else None,
        "jobs": [
            {
                "key": line.key,
                "what": line.what,
                "person": line.person,
                "vendor": line.vendor,
                "bench": line.bench,
                "zone": line.zone,
                "starts_on": line.starts_on,
                "ends_on": line.ends_on,
                "waits": line.waits,
                "status": line.status,
                "fixed": line.fixed,
                "after": [link.before for link in plan.network.links_in.get(line.key, ())],
            }
            for line in lines
        ],
        "cannot": [
            {"key": key, "what": plan.network.by_key[key].what, "why": why} for key, why in plan.schedule.cannot
        ],
        "vendors": [
            {
                "vendor": each.vendor.name,
                "says_likely_days": each.vendor.likely_days if each.vendor.most_days else None,
                "deliveries": len(each.delivered),
                "half_of_them_took_days": median(each.delivered) if each.delivered else None,
                "counted_on_days": each.days_counted_on,
                "sentence": each.counted_on,
            }
            for each in plan.vendors
        ],
    }
