"""`witnessmark trip [NUMBER]`: the next drive: its stops in order, what waits, what goes into the van first.

Exit codes: 0 said, 1 no trip is planned or no such trip, 2 could not run.

With --json one object:
  trip, day, driver, say, proposed (bool: another order is asked for), order [vendor code], moved [str],
  waits [{what, off, left_at, costs_days (null: not known), say}], conditional [{what, tested_at, goes_to}],
  not_on_way [str], stops: [{vendor, name, say, signed_by, could [str], lines [{kind, tag, name, count, process, box, state, must_not
  [str], terms [str]}]}], tonight [{say, who}], loading [{box, stop}]
"""

import argparse
from typing import Any


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("number", nargs="?", help="the trip; without one, the next that is not over")


def run(args: argparse.Namespace) -> int:
    """Look and print."""
    from witnessmark.cli.main import NotSo, open_record, print_json

    open_record()
    from witnessmark.records.lookups.day import now, the_aircraft
    from witnessmark.records.lookups.trips import LineSeen, trip_seen, trips

    every = trips()
    trip = next((t for t in every if (t.number == args.number if args.number else t.ended_act_id is None)), None)
    if trip is None:
        raise NotSo(f"There is no trip {args.number}." if args.number else "No trip is planned.")
    seen = trip_seen(trip, now(the_aircraft()))

    def state(line: LineSeen) -> str:
        if line.line.off_why:
            return f"off the sheet: {line.line.off_why}"
        if line.line.refused_why:
            return f"refused: {line.line.refused_why}"
        return "open" if line.open else "done"

    told: dict[str, Any] = {
        "trip": trip.number,
        "day": trip.day,
        "driver": trip.driver.name,
        "say": seen.sentence,
        "proposed": seen.proposed,
        "order": list(seen.order.order),
        "moved": list(seen.order.moved),
        "waits": [
            {"what": w.what, "off": w.off, "left_at": w.left_at, "costs_days": w.costs_days, "say": w.sentence}
            for w in seen.order.waits
        ],
        "conditional": [
            {"what": c.what, "tested_at": c.tested_at, "goes_to": c.goes_to} for c in seen.order.conditional
        ],
        "not_on_way": [each.sentence for each in seen.not_on_way],
        "stops": [
            {
                "vendor": stop.stop.vendor.code,
                "name": stop.stop.vendor.name,
                "say": stop.sentence,
                "signed_by": stop.stop.signed_by,
                "could": list(stop.could),
                "lines": [
                    {
                        "kind": line.line.kind,
                        "tag": line.line.piece.key,
                        "name": line.line.piece.name,
                        "count": line.count,
                        "process": line.line.process,
                        "box": line.line.box,
                        "state": state(line),
                        "must_not": list(line.bars),
                        "terms": [term for _, term, _ in line.terms],
                    }
                    for line in stop.lines
                ],
            }
            for stop in seen.stops
        ],
        "tonight": [{"say": each.sentence, "who": each.who} for each in seen.tonight],
        "loading": [{"box": box, "stop": name} for box, name in seen.loading],
    }
    if args.json:
        print_json(told)
    else:
        _print(told)
    return 0


def _print(told: dict[str, Any]) -> None:
    print(told["say"])
    for wait in told["waits"]:
        print(wait["say"])
    for sentence in told["not_on_way"]:
        print(sentence)
    for number, stop in enumerate(told["stops"], 1):
        print(f"{number}. {stop['name']}: {stop['say']}")
        for words in stop["could"]:
            print(f"   on no sheet, and could be: {words}")
        for line in stop["lines"]:
            print(
                f"   {line['kind']} {line['tag']} {line['name']}, {line['count']}: {line['process']} ({line['state']})"
            )
            for why in line["must_not"]:
                print(f"      must not go: {why}")
            for term in line["terms"]:
                print(f"      only so: {term}")
    for each in told["tonight"]:
        print(each["say"])
    if told["loading"]:
        print("Into the van, in this order: " + ", ".join(f"{x['box']} ({x['stop']})" for x in told["loading"]) + ".")
