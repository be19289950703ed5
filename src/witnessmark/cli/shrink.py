"""`witnessmark shrink TAG`: the shrink fit of a piece from what was measured on it, and the heat that opens it.

`--seat --outside --length --inner --outer` write the seat it sits in, `--diameter` its outside after plating.
Exit codes: 0 the heat is allowed, or it was written and nothing can be reckoned yet, 1 the heat is refused, or nothing
holds it, 2 refused, cannot be read, or could not run; then nothing was written.

With --json one object:
  piece, sentence, pair, interference_mm (or null), cap_c (or null), no_cap_for: [str],
  seat: {inner, outer, seat_mm, outside_mm, length_mm, bore_mm} or null,
  diameters: [{value_mm, typed, by, day}], holds (or null), heat (or null) as `witnessmark fits --json` prints them,
  home: {outer_c, inner_c, gap_mm, least_s, most_s, in_air_least_s, in_air_most_s, ...} or null: the seconds to slide it home
"""

import argparse
import uuid
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from witnessmark.records.lookups.shrink import ShrinkSeen
    from witnessmark.records.models import Person, Piece


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("tag", help="tag of the inner part")
    parser.add_argument("--seat", help="write: bore of the outer part")
    parser.add_argument("--outside", help="write: outside diameter of the outer part")
    parser.add_argument("--length", help="write: length of the seat")
    parser.add_argument("--bore", help="write: bore of the inner part; none where it is solid")
    parser.add_argument("--inner", default="", help="write: metal of the inner part")
    parser.add_argument(
        "--outer", default="", help="write: alloy and temper of the outer part, 'magnesium casting' if unknown"
    )
    parser.add_argument("--diameter", help="write: outside diameter of the inner part, measured after plating")
    parser.add_argument("--clearance", default="0.05 mm", help="gap on the diameter while moving (else 0.05 mm)")
    parser.add_argument("--service", default="60 °C", help="warmest temperature in service (else 60 °C)")
    parser.add_argument("--alone", action="store_true", help="only the outer part is heated")
    parser.add_argument("--as", dest="by", metavar="NAME", default="", help="who measured (else the lead mechanic)")


def run(args: argparse.Namespace) -> int:
    """Write what was given, reckon, and print."""
    from witnessmark.cli.main import open_record, who_acts
    from witnessmark.cli.writing import length_mm, nothing_written, piece_called, temperature_c, typed

    open_record()
    from witnessmark.records.lookups.shrink import shrink_of

    piece = piece_called(args.tag)
    clearance = typed("--clearance", args.clearance, length_mm)
    service = typed("--service", args.service, temperature_c)
    with nothing_written():
        if args.seat or args.outside or args.length or args.bore or args.inner or args.outer or args.diameter:
            _write(args, piece, who_acts(args.by))
        seen = shrink_of(piece, clearance or 0.0, not args.alone, 60.0 if service is None else service)
    _print(args, seen)
    loose = seen.interference_mm is not None and seen.interference_mm <= 0
    return 1 if loose or (seen.heat is not None and not seen.heat.allowed) else 0


def _write(args: argparse.Namespace, piece: "Piece", by: "Person") -> None:
    """Everything is read before the first word is written; the two acts stand or fall together."""
    from django.db import transaction

    from witnessmark.cli.main import CannotRun
    from witnessmark.cli.writing import length_mm, typed
    from witnessmark.records.actions.readings import read_pieces
    from witnessmark.records.actions.shrink import say_seat
    from witnessmark.records.lookups.shrink import DIAMETER

    seat, outside, length, bore = (
        typed(f"--{name}", getattr(args, name), length_mm) for name in ("seat", "outside", "length", "bore")
    )
    diameter = typed("--diameter", args.diameter, length_mm)
    of_seat = any(x is not None for x in (seat, outside, length, bore)) or args.inner or args.outer
    with transaction.atomic():
        if of_seat:
            if seat is None or outside is None or length is None or not args.inner or not args.outer:
                raise CannotRun("A seat is --seat, --outside, --length, --inner and --outer. Nothing was written.")
            say_seat(
                by=by, act_id=uuid.uuid4(), piece=piece, inner=args.inner, outer=args.outer, seat_mm=seat,
                outside_mm=outside, length_mm=length, bore_mm=bore or 0.0,
            )  # fmt: skip
        if diameter is not None:
            read_pieces(by=by, act_id=uuid.uuid4(), piece=piece, readings={"": {DIAMETER: args.diameter}})


def _print(args: argparse.Namespace, seen: "ShrinkSeen") -> None:
    from witnessmark.cli.main import print_json

    seat = seen.seat
    if args.json:
        print_json(
            {
                "piece": seen.piece.key,
                "sentence": seen.sentence,
                "pair": seen.pair,
                "interference_mm": seen.interference_mm,
                "cap_c": seen.oven.lowest.max_c if seen.oven and seen.oven.lowest else None,
                "no_cap_for": list(seen.oven.unknown) if seen.oven else [],
                "seat": {
                    name: getattr(seat, name)
                    for name in ("inner", "outer", "seat_mm", "outside_mm", "length_mm", "bore_mm")
                }
                if seat
                else None,
                "diameters": [
                    {
                        "value_mm": row.value,
                        "typed": row.typed,
                        "by": row.act.person.name,
                        "day": row.act.happened_at.date(),
                    }
                    for row in seen.diameters
                ],
                "holds": seen.holds.to_dict() if seen.holds else None,
                "heat": seen.heat.to_dict() if seen.heat else None,
                "home": seen.home.to_dict() if seen.home else None,
            }
        )
        return
    print(f"{seen.piece}: {seen.sentence}")
    if seen.heat is not None and seen.holds is not None:
        print(
            f"  It holds {seen.holds.pressure_mpa:.1f} MPa; by the spread of the figures {seen.heat.least_c:.0f} to {seen.heat.most_c:.0f} °C open it."
        )
        for words in (
            seen.heat.refusal,
            *(f"Instead: {way.sentence}" for way in seen.heat.instead),
            *seen.heat.cautions,
        ):
            if words:
                print(f"  {words}")
    if seen.home is not None:
        print(f"  The outer part alone at {seen.home.outer_c:.0f} °C, the inner one at {seen.home.inner_c:.0f} °C.")
        print(f"  {seen.home.sentence}")
    if seen.pair:
        print(f"  {seen.pair}")
