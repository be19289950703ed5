"""`witnessmark confusion SHIPMENT [--baskets N] [--json]`: which bags could not be told apart if they came back mixed.

SHIPMENT is a shipment's number, or a vendor's code for what is ready to leave for him.
Exit codes: 0 said, 1 no such shipment, 2 could not run.

With --json one object:
  shipment, vendor, process, bags (those that may mix), figures_read, coat_um, baskets, sentence
  pairs: [{a, b, apart (deviations), swap, any_wrong (chances), features, not_measured (bool), same_size (bool)}]
  remedy: {sentence, minutes, shipments, exact (bool), baskets: [[bag, ...]],
           steps: [{bag, do, minutes, basket (or null), shipment, feature}]}
  astray: {pieces (expected in the wrong basket unnoticed), left (with the tags), sentence, tags: [{bag, minutes}]}
  working
"""

import argparse
import sys
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from witnessmark.records.lookups.mixing import Apart


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("shipment", metavar="SHIPMENT", help="a shipment's number, or a vendor's code: what is ready")
    parser.add_argument("--baskets", type=int, metavar="N", help="separate baskets the vendor runs (else as recorded)")


def run(args: argparse.Namespace) -> int:
    """Compare the bags and say."""
    from witnessmark.cli.main import CannotRun, open_record, print_json

    open_record()
    from witnessmark.records.lookups.mixing import apart
    from witnessmark.records.lookups.outwork import ready_to_send
    from witnessmark.records.models import Shipment

    if args.baskets is not None and args.baskets < 1:
        raise CannotRun(f"A vendor runs one basket at least, not {args.baskets}.")
    shipment = Shipment.objects.filter(number=args.shipment).select_related("vendor").first()
    if shipment is not None:
        pieces = [(line.piece, line.count_out) for line in shipment.lines.select_related("piece__size").order_by("id")]
        vendor, process = shipment.vendor, shipment.process
    else:
        group = next((g for g in ready_to_send() if g.vendor.code == args.shipment), None)
        if group is None:
            print(
                f"There is no shipment {args.shipment}, and nothing is ready for a vendor of that code.",
                file=sys.stderr,
            )
            if args.json:
                print_json({"refused": f"no shipment {args.shipment}"})
            return 1
        pieces, vendor, process = [(r.piece, r.standing.count) for r in group.to_send], group.vendor, group.process
    if args.baskets is not None:
        vendor.baskets = args.baskets  # for this answer alone: nothing is saved
    seen = apart(pieces, vendor, process)
    if args.json:
        print_json(to_dict(args.shipment, vendor.name, process, seen))
        return 0
    if seen is None:
        print("Fewer than two bags: nothing can be mixed up.")
        return 0
    print(seen.seen.sentence)
    for alike in seen.alike:
        print(f"  {alike.sentence}")
    print(f"{seen.remedy.sentence}" + (f" ({_minutes(seen.remedy.minutes)})" if seen.remedy.minutes else ""))
    if seen.astray.sentence:
        print(seen.astray.sentence)
    return 0


def _minutes(minutes: float) -> str:
    return "a minute" if round(minutes) <= 1 else f"{minutes:.0f} minutes"


def to_dict(shipment: str, vendor: str, process: str, seen: "Apart | None") -> dict[str, Any]:
    """Write the answer as plain values; the keys are documented above."""
    head: dict[str, Any] = {"shipment": shipment, "vendor": vendor, "process": process}
    if seen is None:
        return {**head, "bags": 0, "figures_read": 0, "sentence": "Fewer than two bags.", "pairs": [], "remedy": None}
    same = {(x.pair.bag_a, x.pair.bag_b): x.same_size for x in seen.alike}
    plan = seen.remedy
    return {
        **head,
        "bags": seen.bags,
        "figures_read": seen.read,
        "coat_um": seen.coat.thickness_um,
        "baskets": seen.baskets,
        "sentence": seen.seen.sentence,
        "pairs": [
            {
                "a": p.bag_a,
                "b": p.bag_b,
                "apart": round(p.apart, 3),
                "swap": p.swap,
                "any_wrong": p.any_wrong,
                "features": p.features,
                "not_measured": p.not_measured,
                "same_size": same[(p.bag_a, p.bag_b)],
            }
            for p in seen.seen.pairs
        ],
        "remedy": {
            "sentence": plan.sentence,
            "minutes": plan.minutes,
            "shipments": plan.shipments,
            "exact": plan.exact,
            "baskets": plan.baskets,
            "steps": [asdict(step) for step in plan.steps],
        },
        "astray": {
            "pieces": round(seen.astray.pieces, 4),
            "left": round(seen.astray.left, 4),
            "sentence": seen.astray.sentence,
            "tags": [{"bag": step.bag, "minutes": step.minutes} for step in seen.astray.tags],
        },
        "working": seen.seen.working.to_dict(),
    }
