"""`witnessmark identify --hole 3.15 --head 6.3 ...`: which fastener it is, how sure, what to measure next.

Works without a record; with one, the sizes that the shop added are candidates too.
Exit codes: 0 a name is given, or the next measurement; 1 a figure cannot be; 2 could not run or wrongly called.

With --json one object:
  word, figure, probability, answered (bool), sentence,
  candidates: [{name, names [str], families [str], figure, probability, source, status}],
  next_measurement: {what, label, tool, order, how, expected_bits, open_bits} or null, alloys: [...], oval_mm (or null; what an oval hole means stands in working.cautions),
  blind (bool: a hollow stem was seen), working
"""

import argparse
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from witnessmark.calc.fasteners.catalogue import Shape

OPTIONS = {
    "form": "kind of head: flush, domed, round, universal, thread, shaved",
    "hole": "hole, as `3.1`, `1/8`, `No. 30`; an oval one both ways, `3.3x3.5`",
    "hole-wide": "the hole's wide way, where it is oval",
    "shank": "shank never driven, or outside of a thread",
    "driven-shank": "shank of a rivet knocked out",
    "head": "head diameter",
    "angle": "head angle in degrees",
    "height": "head height",
    "pitch": "pitch, as `1.06`, `10.6 over 10`, `24 tpi`",
    "thread-angle": "angle between the flanks in degrees",
    "flats": "width across flats",
    "length": "length of one never driven",
    "magnet": "does a magnet hold it: yes, no",
    "core": "core of the stem: solid, hollow (a blind fastener is hollow)",
    "mark": "mark on the head: plain, dimple, teat, double dash, cross, dots, number, other",
}
WHAT = {
    "form": "form",
    "hole": "hole_mm",
    "hole-wide": "hole_wide_mm",
    "shank": "shank_mm",
    "driven-shank": "driven_shank_mm",
    "head": "head_mm",
    "angle": "head_deg",
    "height": "head_height_mm",
    "pitch": "pitch_mm",
    "thread-angle": "thread_deg",
    "flats": "across_flats_mm",
    "length": "length_mm",
    "magnet": "magnet",
    "core": "core",
    "mark": "head_mark",
}


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes: any of the figures."""
    for name, words in OPTIONS.items():
        parser.add_argument(f"--{name}", metavar="FIGURE", help=words)
    parser.add_argument("--painted", action="store_true", help="the head was measured over paint")
    parser.add_argument(
        "--cannot",
        action="append",
        default=[],
        choices=list(WHAT),
        help="what cannot be measured here; may be repeated",
    )


def run(args: argparse.Namespace) -> int:
    """Identify and say."""
    from dataclasses import replace

    from witnessmark.calc.fasteners.identify import identify
    from witnessmark.calc.fasteners.readings import BadReading, parse_readings
    from witnessmark.cli.main import CannotRun, print_json

    typed = {what: getattr(args, name.replace("-", "_")) for name, what in WHAT.items()}
    try:
        figures = parse_readings({what: text for what, text in typed.items() if text is not None})
        if not figures:
            raise CannotRun("Nothing was measured. Give at least one figure, such as --hole 3.15 --head 6.3.")
        if args.painted and "head_mm" in figures:
            figures["head_mm"] = replace(figures["head_mm"], painted=True)
        found = identify(figures, families=_own(), cannot=frozenset(WHAT[name] for name in args.cannot))
    except BadReading as error:
        print(error, file=sys.stderr)
        if args.json:
            print_json({"refused": str(error), "what": error.what})
        return 1
    if args.json:
        told = found.to_dict()
        for each in told["candidates"]:
            del each["shape"]
        print_json(told)
        return 0
    print(f"{found.word}: {found.figure}, {_in_hundred(found.probability)} chances in a hundred. {found.sentence}")
    for each in found.candidates:
        if each.names != found.names:
            print(f"  else {' = '.join(each.names)}: {_in_hundred(each.probability)} in a hundred")
    if found.next_measurement is not None:
        print(f"  {found.next_measurement.how}")
    for alloy in found.alloys:
        print(f"  By its mark: {alloy.alloy}. {alloy.drive_condition}")
    for caution in found.cautions:
        print(f"  {caution}")
    return 0


def _in_hundred(probability: float) -> str:
    """A chance, rounded alike wherever it stands, so that two equal ones are equal to the eye."""
    return "under 1" if 0 < probability < 0.005 else f"{100 * probability:.0f}"


def _own() -> "tuple[Shape, ...]":
    """The sizes the shop added; none where there is no record yet."""
    from witnessmark.cli.main import CannotRun, open_record

    try:
        open_record()
    except CannotRun:
        return ()
    from witnessmark.records.lookups.catalogue import own_shapes

    return own_shapes()
