"""`witnessmark ship VENDOR PROCESS [TAG ...]`: what may leave for a vendor, what must not, on which terms.

Exit codes: 0 all of it may leave (terms are listed), 1 something must not go or there is nothing, 2 could not run.
It only looks; the packing page sends.

With --json one object:
  vendor, process, say, count, mass_g, price (or null), price_say, asks,
  pieces: [{tag, name, count, must_not [{rule, why, source, status}], terms [{rule, why, term, source, status}],
  cautions [{text, hand_over, status}], cannot, check, mass_by_size_g, surface_dm2}], papers: [{kind, why, status}], not_found [tag]
"""

import argparse
from typing import Any


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("vendor", help="the vendor's code")
    parser.add_argument("process", help="what he is to do, as the step of the route is called")
    parser.add_argument("tag", nargs="*", help="what would go; without any, all that is ready for it")


def run(args: argparse.Namespace) -> int:
    """Look and print."""
    from witnessmark.cli.main import CannotRun, open_record, print_json

    open_record()
    from witnessmark.records.lookups.packing import pack
    from witnessmark.records.models import Vendor

    process = " ".join(args.process.split())
    if not process:
        raise CannotRun("It does not say what he is to do. Name the step, such as `ship QB plate`.")
    vendor = Vendor.objects.filter(code__iexact=args.vendor).select_related("holder").first()
    if vendor is None:
        codes = ", ".join(Vendor.objects.values_list("code", flat=True))
        raise CannotRun(f"No vendor has the code '{args.vendor}'. There are: {codes or 'none'}.")
    seen = pack(vendor, process, [] if args.tag else None, args.tag)
    pieces: list[dict[str, Any]] = [
        {
            "tag": line.piece.key,
            "name": line.piece.name,
            "count": line.count,
            "must_not": [{"rule": b.rule, "why": b.why, "source": b.source, "status": b.status} for b in line.must_not],
            "terms": [
                {"rule": b.rule, "why": b.why, "term": b.term, "source": b.source, "status": b.status}
                for b in line.terms
            ],
            "cautions": [{"text": c.text, "hand_over": c.hand_over, "status": c.status} for c in line.known.cautions],
            "cannot": line.cannot,
            "check": line.known.reading.sentence if line.known.reading else "",
            "mass_by_size_g": line.mass_by_size_g,
            "surface_dm2": line.surface_dm2,
        }
        for line in seen.lines
    ]
    told = {
        "vendor": vendor.code,
        "process": seen.process,
        "say": seen.sentence,
        "count": seen.totals.count if seen.totals else 0,
        "mass_g": seen.totals.mass_g if seen.totals else None,
        "price": seen.price.price if seen.price else None,
        "price_say": seen.price.sentence if seen.price else "",
        "asks": seen.asks.words if seen.asks else "",
        "pieces": pieces,
        "papers": [{"kind": p.kind, "why": p.why, "status": p.status} for p in seen.judged.papers],
        "not_found": [tag for tag, _ in seen.not_found],
    }
    if args.json:
        print_json(told)
    else:
        _print(told, vendor.name)
    return 1 if seen.stays or seen.not_found or not pieces else 0


def _print(told: dict[str, Any], vendor: str) -> None:
    print(f"{told['process']}, {vendor}. {told['say'] or 'Nothing is ready for it.'}")
    for piece in told["pieces"]:
        print(f"{piece['tag']:>8}  {piece['name']}, {piece['count']}")
        if piece["cannot"]:
            print(f"          stays: {piece['cannot']}")
        for bar in piece["must_not"]:
            print(f"          must not go: {bar['why']} ({bar['source']}, {bar['status']})")
        for bar in piece["terms"]:
            print(f"          only so: {bar['term']}. {bar['why']} ({bar['source']}, {bar['status']})")
        for caution in piece["cautions"]:
            print(f"          caution: {caution['text']} Hand over to: {caution['hand_over']}.")
        if piece["check"]:
            print(f"          {piece['check']}")
    for tag in told["not_found"]:
        print(f"No piece has the tag {tag}.")
    for paper in told["papers"]:
        print(f"Comes back with it: {paper['kind']}, {paper['why']}.")
    if told["price_say"]:
        print(told["price_say"])
