"""`witnessmark hunt [NUMBER]`: what is missing, wrong or wanted better, and what is to be done for it now.

Exit codes: 0 said, 1 nothing is hunted or no such hunt, 2 could not run.

With --json one object:
  hunts: [{hunt, what, why, state, say, place, arm_mm, mass_kg (null: unknown), measurements, also_do, may_wait_until,
  stores_searched, asked [{whom, on, said, price, currency, papers, ask_again_on}], waits [{what, for}],
  could_be [{tag, name, where, why}], working (or null)}]
"""

import argparse
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from witnessmark.records.lookups.hunts import AtHome


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("number", nargs="?", help="one hunt, such as H-1 or 1, with what at home could be it")


def run(args: argparse.Namespace) -> int:
    """Look and print."""
    from witnessmark.cli.main import open_record, print_json

    open_record()
    from witnessmark.calc.balance import arm_of
    from witnessmark.records.lookups.day import the_aircraft, today
    from witnessmark.records.lookups.hunts import at_home, hunts

    aircraft = the_aircraft()
    number = f"H-{args.number}" if args.number and args.number.isdecimal() else args.number
    seen = hunts(aircraft, today(aircraft), number) if aircraft is not None else []
    told: list[dict[str, Any]] = [
        {
            "hunt": each.hunt.number,
            "what": each.hunt.what,
            "why": each.hunt.why,
            "state": each.hunt.state,
            "say": each.sentence,
            "place": str(each.hunt.place) if each.hunt.place else None,
            "arm_mm": arm_of(each.hunt.place.station) if each.hunt.place else None,
            "mass_kg": _mass(each.hunt),
            "measurements": each.hunt.measurements,
            "also_do": each.hunt.also_do,
            "may_wait_until": each.hunt.may_wait_until,
            "stores_searched": each.hunt.stores_act_id is not None,
            "asked": [
                {
                    "whom": row.whom,
                    "on": row.asked_on,
                    "said": row.said,
                    "price": float(row.price) if row.price is not None else None,
                    "currency": row.currency,
                    "papers": row.papers,
                    "ask_again_on": row.ask_again_on,
                }
                for row in each.asked
            ],
            "waits": [{"what": str(wait.place or wait.piece), "for": wait.for_what} for wait in each.waiting],
            **_at_home(at_home(each.hunt) if args.number and each.hunt.state == "open" else None),
        }
        for each in seen
    ]
    if args.json:
        print_json({"hunts": told})
    else:
        for one in told:
            _print(one)
        if not told:
            print(f"There is no hunt {args.number}." if args.number else "Nothing is hunted.")
    return 0 if told else 1


def _at_home(seen: "AtHome | None") -> dict[str, Any]:
    return {
        "could_be": [
            {"tag": c.piece.tag, "name": c.piece.name, "where": [s.words for s in c.where], "why": c.why}
            for c in (seen.could_be if seen else ())
        ],
        "working": seen.working.to_dict() if seen else None,
    }


def _mass(hunt: Any) -> float | None:
    """The found piece's own mass; what is not weighed stays unknown."""
    found = hunt.found_piece
    return found.mass_g / 1000 if found is not None and found.mass_g else None


def _print(one: dict[str, Any]) -> None:
    print(f"{one['hunt']:>6}  {one['say']}")
    if one["arm_mm"] is not None:
        print(f"        arm {one['arm_mm']:,.0f} mm, mass {'unknown' if one['mass_kg'] is None else one['mass_kg']}")
    for wait in one["waits"]:
        print(f"        {wait['what']} waits: {wait['for']}")
    for row in one["asked"]:
        price = f", {row['price']:.2f} {row['currency']}" if row["price"] is not None else ""
        print(f"        {row['whom']}, {row['on']}: {row['said'] or 'no answer yet'}{price}")
    for each in one["could_be"]:
        print(f"        could be {each['tag'] or 'untagged'} {each['name']}, {'; '.join(each['where'])}: {each['why']}")
