"""`witnessmark hunt [NUMBER]`: what is missing, wrong or wanted better, and what is to be done for it now.

`--begin "Pitot head"` begins one from words alone; --picture, --measurements, --place and the rest may go with it.
Exit codes: 0 said, 1 nothing is hunted or no such hunt, 2 could not run; then nothing was begun.

With --json one object:
  hunts: [{hunt, what, why, state, say, place, arm_mm, mass_kg (null: unknown), measurements, also_do, may_wait_until,
  stores_searched, asked [{whom, on, said, price, currency, papers, ask_again_on}], waits [{what, for}],
  could_be [{tag, name, where, why}], working (or null)}]
"""

import argparse
import uuid
from datetime import date
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from witnessmark.records.lookups.hunts import AtHome
    from witnessmark.records.models import Aircraft


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("number", nargs="?", help="one hunt, such as H-1 or 1, with what at home could be it")
    parser.add_argument("--begin", metavar="WHAT", default="", help="begin a hunt for this; words are enough")
    parser.add_argument("--why", default="missing", help="missing, wrong or better")
    parser.add_argument("--picture", metavar="FILE", default="", help="a picture of it, or of one like it")
    parser.add_argument("--measurements", default="", help="such as 'tube 12 mm, four screws on 38 mm'")
    parser.add_argument("--also", default="", help="what would also do")
    parser.add_argument("--until", metavar="DAY", default="", help="until when it may wait, such as 2027-03-01")
    parser.add_argument("--place", metavar="MARK", default="", help="the mark of its place, if it is known")
    parser.add_argument("--on", metavar="TAG", default="", help="the piece that is there now, if one is")
    parser.add_argument("--as", dest="by", metavar="NAME", default="", help="who says it (else the lead mechanic)")


def run(args: argparse.Namespace) -> int:
    """Look and print; with --begin, begin a hunt first."""
    from witnessmark.cli.main import CannotRun, open_record, print_json

    open_record()
    from witnessmark.calc.balance import arm_of
    from witnessmark.records.lookups.day import the_aircraft, today
    from witnessmark.records.lookups.hunts import at_home, hunts

    aircraft = the_aircraft()
    if args.begin and args.number:
        raise CannotRun("A hunt that is begun gets its number by itself. Nothing was written. Leave the number out.")
    if args.begin:
        args.number = _begin(args, aircraft)
    number = f"H-{args.number}" if args.number and args.number.isdecimal() else args.number
    seen = hunts(aircraft, today(aircraft), number)
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


def _begin(args: argparse.Namespace, aircraft: "Aircraft | None") -> str:
    from pathlib import Path

    from witnessmark.cli.main import CannotRun, who_acts
    from witnessmark.cli.writing import nothing_written, piece_called, typed
    from witnessmark.records.actions.hunting import start_hunt
    from witnessmark.records.lookups.said_later import place_called

    place = place_called(args.place, aircraft) if args.place and aircraft is not None else None
    if args.place and place is None:
        raise CannotRun(f"There is no place {args.place[:40]}, or two of it. Nothing was written. Leave --place out.")
    try:
        picture = Path(args.picture).read_bytes() if args.picture else None
    except OSError as why:
        raise CannotRun(f"--picture: {args.picture} cannot be read ({why.strerror}). Nothing was written.") from None
    until = typed("--until", args.until or None, date.fromisoformat)
    with nothing_written():
        told = start_hunt(
            by=who_acts(args.by),
            act_id=uuid.uuid4(),
            aircraft=aircraft,
            what=args.begin,
            why=args.why,
            piece=piece_called(args.on) if args.on else None,
            place=place,
            measurements=args.measurements,
            also_do=args.also,
            may_wait_until=until,
            picture=picture,
            picture_name=Path(args.picture).name,
        )
    return str(told["hunt"])


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
