"""`witnessmark who-has-what`: what is out, with whom, since when, promised for when; and whom to ring today.

Exit codes: 0 said, 1 nothing is out, 2 could not run.

With --json one object:
  say, ring: [{vendor, code, phone, about: [{shipment, what, why}]}],
  out: [{shipment, what, count, tags, vendor, code, since, promised_on, late_working_days, heard_on, said (null, or the promise or note)}]
"""

import argparse


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""


def run(args: argparse.Namespace) -> int:
    """Look and print."""
    from witnessmark.cli.main import open_record, print_json

    open_record()
    from witnessmark.records.lookups.day import the_aircraft, today
    from witnessmark.records.lookups.who_has_what import who_has_what

    seen = who_has_what(today(the_aircraft()))
    if args.json:
        print_json(
            {
                "say": seen.sentence,
                "ring": [
                    {
                        "vendor": call.vendor.name,
                        "code": call.vendor.code,
                        "phone": call.vendor.phone,
                        "about": [{"shipment": x.shipment.number, "what": x.what, "why": x.why} for x in call.about],
                    }
                    for call in seen.calls
                ],
                "out": [
                    {
                        "shipment": each.shipment.number,
                        "what": each.what,
                        "count": each.count,
                        "tags": each.tags,
                        "vendor": each.vendor.name,
                        "code": each.vendor.code,
                        "since": each.since,
                        "promised_on": each.shipment.promised_on,
                        "late_working_days": each.late_days,
                        "heard_on": each.heard_on,
                        "said": each.heard.note or f"{each.heard.what} {each.heard.day}" if each.heard else None,
                    }
                    for each in seen.away
                ],
            }
        )
        return 0 if seen.away else 1
    print(seen.sentence)
    for call in seen.calls:
        print(f"Ring {call.vendor.name}{f', {call.vendor.phone}' if call.vendor.phone else ''}:")
        for each in call.about:
            print(f"  {each.what}: {each.why}.")
    for vendor, lines in seen.by_vendor:
        print(f"{vendor.name}:")
        for each in lines:
            promise = f"promised for {each.shipment.promised_on}" if each.shipment.promised_on else "no promise"
            print(f"  {each.what}, since {each.since}, {promise} ({each.shipment.number})")
    return 0 if seen.away else 1
