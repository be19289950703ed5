"""`witnessmark findings [NUMBER]`: findings by zone, what waits for engineering, what is held back; or one of them whole.

Exit codes: 0 said, 1 no such finding or the record is empty, 2 could not run.

With --json one object:
  sentence, zones: [{zone, open, unmeasured, decided, closed, worst (or null)}], engineering: [number], to_send: [number],
  reserve: {sentence, aircraft_rate, hours (or null), zones: [...], working}, findings: [finding]
With NUMBER one finding:
  {finding, kind, what, on, where, state, stage, seen_by, seen_on, opened, figures: {name: {value, plus_minus, typed}},
  says: [str], limit, to_engineering, rings: [{photo, across, down, half_wide, half_high, where}], engineering: [{kind,
  said, from_whom}], decision (or null)}
"""

import argparse
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from witnessmark.records.lookups.findings import FindingSeen


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("number", nargs="?", help="one finding, such as F-31")


def _values(seen: "FindingSeen") -> dict[str, Any]:
    finding, told = seen.finding, seen.assessment if seen.measured else None
    return {
        "finding": finding.number,
        "kind": finding.kind,
        "what": finding.what,
        "on": seen.on,
        "where": seen.where,
        "state": seen.state_words,
        "stage": seen.stage,
        "seen_by": finding.seen_by,
        "seen_on": finding.seen_on.isoformat() if finding.seen_on else None,
        "opened": finding.opened,
        "measured_words": finding.measured,
        "figures": {
            name: {"value": r.value, "plus_minus": r.plus_minus, "typed": r.typed} for name, r in seen.read.items()
        },
        "says": list(told.sentences) if told else [],
        "limit": told.limit_words if told else "",
        "to_engineering": told.to_engineering if told else False,
        "rings": [
            {
                "photo": one.use.photo_id,
                "across": one.ring.across,
                "down": one.ring.down,
                "half_wide": one.ring.half_wide,
                "half_high": one.ring.half_high,
                "where": one.ring.where_words,
            }
            for one in seen.pictures
            if one.ring is not None
        ],
        "engineering": [{"kind": w.kind, "said": w.said, "from_whom": w.from_whom} for w in seen.engineering],
        "decision": seen.decision.kind if seen.decision else None,
    }


def print_finding(seen: "FindingSeen", *, as_json: bool) -> None:
    """Print one finding whole."""
    from witnessmark.cli.main import print_json

    told = _values(seen)
    if as_json:
        print_json(told)
        return
    print(f"{told['finding']}: {told['what']}. {told['on']}. {told['state'].capitalize()}, {told['stage']}.")
    for words in (*told["says"], told["limit"], *(f"{w['kind']}: {w['said']}" for w in told["engineering"])):
        if words:
            print(f"  {words}")


def run(args: argparse.Namespace) -> int:
    """Look and say."""
    from witnessmark.cli.main import NotSo, open_aircraft, print_json

    aircraft = open_aircraft()
    from witnessmark.records.lookups.findings import finding_called, findings_seen
    from witnessmark.records.lookups.hidden_damage import reserve_of

    if args.number:
        one = finding_called(aircraft, args.number)
        if one is None:
            raise NotSo(f"There is no finding {args.number}.")
        print_finding(one, as_json=args.json)
        return 0
    seen = findings_seen(aircraft)
    held = reserve_of(aircraft, list(seen.every))
    if args.json:
        print_json(
            {
                "sentence": seen.sentence,
                "zones": [
                    {
                        "zone": row.zone.name if row.zone else None,
                        "open": row.open,
                        "unmeasured": row.unmeasured,
                        "decided": row.decided,
                        "closed": row.closed,
                        "worst": row.worst.finding.number if row.worst else None,
                    }
                    for row in seen.zones
                ],
                "engineering": [f.finding.number for f in seen.engineering],
                "to_send": [f.finding.number for f in seen.to_send],
                "reserve": held.to_dict(),
                "findings": [_values(f) for f in seen.every],
            }
        )
        return 0
    print(seen.sentence)
    for row in seen.zones:
        worst = f"; worst {row.worst.finding.number}, {row.worst.finding.what}" if row.worst else ""
        name = row.zone.name if row.zone else "in no zone"
        print(f"  {name}: {row.open} open, {row.unmeasured} of them not measured, {row.decided} decided{worst}")
    for words, those in (("With engineering", seen.engineering), ("No limit published, to be sent", seen.to_send)):
        if those:
            print(f"{words}: {', '.join(f.finding.number for f in those)}.")
    print(held.sentence)
    return 0
