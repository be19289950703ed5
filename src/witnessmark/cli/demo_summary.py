"""What the demo says of itself on the command line: what is in it, who can work today, what has to leave."""

from typing import Any

from witnessmark.records.models import Aircraft

# So many lines of what has to leave are said; the rest is counted.
LEAVING_SHOWN = 5


def summarise(aircraft: Aircraft) -> dict[str, Any]:
    """Count and compute from the record as it is now; the keys are documented in cli/demo.py."""
    from witnessmark.records.actions.forecast import foresee
    from witnessmark.records.lookups.bench import bench_today
    from witnessmark.records.lookups.forecast import known_forecast
    from witnessmark.records.lookups.ledger import check_ledger
    from witnessmark.records.lookups.plan import make_plan
    from witnessmark.records.models import Finding, Hole, Job, Piece, PieceKind, Place, Row

    known = known_forecast(aircraft, make_plan(aircraft))
    if known is None or not known.fresh:
        foresee(aircraft)  # the bench page is read off the searched plan and its futures: so is what is said here
    bench = bench_today(aircraft)
    ledger = check_ledger()
    pieces = Piece.objects.filter(aircraft=aircraft)
    return {
        "aircraft": aircraft.name,
        "today": bench.plan.shop.today,
        "places": Place.objects.filter(aircraft=aircraft).count(),
        "parts": pieces.filter(kind=PieceKind.PART).count(),
        "bags": pieces.exclude(kind=PieceKind.PART).count(),
        "rows": Row.objects.filter(place__aircraft=aircraft).count(),
        "holes": Hole.objects.filter(place__aircraft=aircraft).count(),
        "findings": Finding.objects.filter(aircraft=aircraft).count(),
        "jobs": Job.objects.filter(aircraft=aircraft, withdrawn=False).count(),
        "sentence": bench.sentence,
        "can_work": [
            {"name": each.person.name, "jobs": len(each.jobs), "first": each.jobs[0].what}
            for each in bench.mechanics
            if each.here_today and each.jobs
        ],
        "cannot_work": [
            {"name": each.person.name, "why": each.none if each.here_today else "Not here today."}
            for each in bench.mechanics
            if not (each.here_today and each.jobs)
        ],
        "order_or_send": [{"leave_by": each.leave_by, "what": each.what, "to": each.to} for each in bench.to_send],
        "ledger": {"balanced": ledger.balanced, "moves": ledger.moves},
    }


def words(told: dict[str, Any]) -> list[str]:
    """Say a summary in a few lines."""
    lines = [
        f"{told['aircraft']}, {told['today']:%d %b %Y}",
        f"{told['places']} places, {told['parts']} parts, {told['bags']} bags, {told['rows']} rows with "
        f"{told['holes']} holes, {told['findings']} findings, {told['jobs']} jobs.",
        told["sentence"],
    ]
    lines += [f"  {each['name']}: {each['first']}" for each in told["can_work"]]
    lines += [f"  {each['name']}: {each['why']}" for each in told["cannot_work"]]
    leaving = told["order_or_send"]
    if leaving:
        lines.append("Order or send:")
    lines += [
        f"  by {each['leave_by']:%a %d %b}: {each['what']} {each['to']}".rstrip() for each in leaving[:LEAVING_SHOWN]
    ]
    if len(leaving) > LEAVING_SHOWN:
        lines.append(f"  and {len(leaving) - LEAVING_SHOWN} more on the bench screen.")
    ledger = told["ledger"]
    balance = "balances" if ledger["balanced"] else "does NOT balance: `witnessmark ledger check` says where"
    lines.append(f"The ledger {balance} ({ledger['moves']} moves).")
    lines += [f"Paper: {file}" for file in told.get("papers", ())]
    return lines
