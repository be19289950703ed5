"""`witnessmark tray`: untagged finds, what each could be, and what speaks for it and against it.

Exit codes: 0 said, 1 the tray is empty, 2 could not run.

With --json one object:
  finds: [{find, name, count, figures_mm {length, width, thickness, diameter (null: not measured)}, material, magnet, size,
  laid_in_by, could_be [{what, missing, chance, weight, for [str], against [str]}], none_of_these,
  looked [{missing, what, is_it, by, said}]}]
"""

import argparse
from typing import Any


def configure(parser: argparse.ArgumentParser) -> None:
    """Take nothing more."""


def run(args: argparse.Namespace) -> int:
    """Look and print."""
    from witnessmark.cli.main import open_record, print_json

    open_record()
    from witnessmark.records.lookups.tray import SHOWN, FindSeen, tray_seen

    def told(seen: FindSeen) -> dict[str, Any]:
        find = seen.find
        return {
            "find": find.piece.key,
            "name": find.piece.name,
            "count": seen.count,
            "figures_mm": {
                "length": find.length_mm,
                "width": find.width_mm,
                "thickness": find.thickness_mm,
                "diameter": find.diameter_mm,
            },
            "material": find.piece.material,
            "magnet": find.magnet,
            "size": find.size.code if find.size else None,
            "laid_in_by": find.act.person.name,
            "could_be": [
                {
                    "what": each.name,
                    "missing": each.key,
                    "chance": round(each.chance, 4),
                    "weight": round(each.weight, 4),
                    "for": list(each.speaks_for),
                    "against": list(each.speaks_against),
                }
                for each in seen.candidates[:SHOWN]
            ],
            "none_of_these": round(seen.none_of_these, 4),
            "looked": [
                {
                    "missing": said.word.missing,
                    "what": said.name,
                    "is_it": said.word.is_it,
                    "by": said.word.act.person.name,
                    "said": said.word.said,
                }
                for said in seen.looked
            ],
        }

    finds = [told(seen) for seen in tray_seen()]
    if args.json:
        print_json({"finds": finds})
        return 0 if finds else 1
    for one in finds:
        figures = ", ".join(f"{what} {mm:g} mm" for what, mm in one["figures_mm"].items() if mm is not None)
        print(f"{one['find']}  {one['name'] or 'an untagged find'}{f', {figures}' if figures else ''}")
        for could in one["could_be"]:
            why = "; ".join([*could["for"], *(f"against: {each}" for each in could["against"])])
            print(f"    {could['chance']:.2f}  {could['what']}{f': {why}' if why else ''}")
        print(f"    {one['none_of_these']:.2f}  none of what is missing")
    if not finds:
        print("The don't-know tray is empty.")
    else:
        print("The chances are judgement, from memory, unverified: the order means more than the figure.")
    return 0 if finds else 1
