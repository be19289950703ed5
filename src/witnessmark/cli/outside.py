"""`witnessmark outside [VENDOR]`: what each craftsman outside has, when he runs dry, what could feed him.

Exit codes: 0 said, 1 nobody has or could get anything, or no such vendor, 2 could not run.

With --json one object:
  craftsmen: [{code, vendor, say, runs_dry_on (null: has nothing),
               has: [{shipment, process, count, since, likely_done, four_in_five_by, promised_on (null), because,
                     confirmed_on}],
               ready: [{tag, name, process, where, waits (null, or the finding without a decision)}],
               one_step_short: [{tag, name, needs, then, where}]}]
"""

import argparse
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from witnessmark.records.lookups.craftsmen import Craftsman


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("vendor", nargs="?", help="one vendor, by his code")


def run(args: argparse.Namespace) -> int:
    """Look and print."""
    from witnessmark.cli.main import open_record, print_json

    open_record()
    from witnessmark.records.actions.saying import Refused
    from witnessmark.records.lookups.craftsmen import craftsmen
    from witnessmark.records.lookups.day import the_aircraft, today
    from witnessmark.records.models import Vendor

    wanted = (args.vendor or "").casefold()
    if wanted and not Vendor.objects.filter(code__iexact=wanted).exists():
        raise Refused(f"There is no vendor {args.vendor}. Vendors are written in vendors.csv, by their codes.")
    told = [to_dict(each) for each in craftsmen(today(the_aircraft())) if wanted in ("", each.vendor.code.casefold())]
    if args.json:
        print_json({"craftsmen": told})
    else:
        for each in told:
            _say(each)
        if not told:
            print("Nobody outside has anything, and nothing is ready or nearly ready to go there.")
    return 0 if told else 1


def to_dict(each: "Craftsman") -> dict[str, Any]:
    """Write one craftsman as plain values; the keys are documented above."""
    return {
        "code": each.vendor.code,
        "vendor": each.vendor.name,
        "say": each.sentence,
        "runs_dry_on": each.dry_on,
        "has": [
            {
                "shipment": at.shipment.number,
                "process": at.shipment.process,
                "count": at.count,
                "since": at.shipment.sent_on,
                "likely_done": at.likely_done,
                "four_in_five_by": at.four_in_five_by,
                "promised_on": at.shipment.promised_on,
                "because": at.because,
                "confirmed_on": at.received.day if at.received else None,
            }
            for at in each.has
        ],
        "ready": [
            {
                "tag": ready.piece.tag,
                "name": ready.piece.name,
                "process": ready.step.name,
                "where": ready.standing.words,
                "waits": None if ready.may_go else ", ".join(finding.number for finding in ready.undecided),
            }
            for ready in each.ready
        ],
        "one_step_short": [
            {
                "tag": near.piece.tag,
                "name": near.piece.name,
                "needs": near.step.name,
                "then": near.then.name,
                "where": near.standing.words,
            }
            for near in each.nearly
        ],
    }


def _say(one: dict[str, Any]) -> None:
    print(f"{one['code']:>4}  {one['say']}")
    for at in one["has"]:
        confirmed = f"confirmed on {at['confirmed_on']}" if at["confirmed_on"] else "not confirmed"
        print(
            f"      has {at['shipment']}, {at['process']}: {at['count']} since {at['since']}, "
            f"back by {at['likely_done']}, {at['because']}; four in five by {at['four_in_five_by']}; {confirmed}"
        )
    for ready in one["ready"]:
        waits = f"; waits for a decision on {ready['waits']}" if ready["waits"] else ""
        print(f"      ready: {ready['tag'] or 'untagged'} {ready['name']}, {ready['process']}, {ready['where']}{waits}")
    for near in one["one_step_short"]:
        print(
            f"      one step short: {near['tag'] or 'untagged'} {near['name']} needs {near['needs']}, {near['where']}"
        )
