"""`witnessmark families [WORDS]`: the families of fasteners with their sizes; `--add CODE` adds one from measurement.

Without a record the built-in families are listed. Adding needs a record and `--as NAME`.
Exit codes: 0 listed or added, 1 nothing of that name, or the size was refused, 2 could not run or wrongly called.

With --json: [{family, own (bool), sizes: [{code, form, shank_mm, head_mm, head_deg, head_height_mm, pitch_mm,
thread_deg, across_flats_mm, source, status}]}], or the result of adding.
"""

import argparse
import sys
import uuid
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from witnessmark.calc.fasteners.catalogue import Shape

FIGURES = {"shank": "shank_mm", "head": "head_mm", "angle": "head_deg", "height": "head_height_mm", "pitch": "pitch_mm", "flats": "across_flats_mm"}  # fmt: skip
SHOWN = (
    "code",
    "form",
    "shank_mm",
    "head_mm",
    "head_deg",
    "head_height_mm",
    "pitch_mm",
    "thread_deg",
    "across_flats_mm",
    "source",
    "status",
)


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("words", nargs="*", help="only families whose name holds these words")
    parser.add_argument("--add", metavar="CODE", help="add a size of this name from measurement")
    parser.add_argument("--family", metavar="NAME", default="", help="the family it is of")
    parser.add_argument("--form", default="", help="flush, domed, round, universal, thread")
    for name in FIGURES:
        parser.add_argument(f"--{name}", metavar="FIGURE", default="", help=f"{name} as measured")
    parser.add_argument("--measured-on", metavar="WORDS", default="", help="on what it was measured")
    parser.add_argument("--as", dest="by", metavar="NAME", default="", help="who adds it")


def run(args: argparse.Namespace) -> int:
    """List, or add."""
    from witnessmark.cli.main import CannotRun, open_record, print_json

    if args.add:
        return _add(args)
    try:
        open_record()
    except CannotRun as error:
        print(f"{error} Only the built-in families are listed.", file=sys.stderr)
        found = _built_in()
    else:
        from witnessmark.records.lookups.catalogue import families

        found = [(family.name, family.own, family.sizes) for family in families()]
    wanted = " ".join(args.words).casefold()
    found = [each for each in found if wanted in each[0].casefold()]
    if args.json:
        print_json(
            [
                {"family": name, "own": own, "sizes": [{key: getattr(size, key) for key in SHOWN} for size in sizes]}
                for name, own, sizes in found
            ]
        )
    for name, own, sizes in [] if args.json else found:
        status = ", ".join(sorted({size.status for size in sizes}))
        print(f"{name}{', added here' if own else ''} ({status})")
        print(f"  {', '.join(size.code for size in sizes)}")
    if not found:
        print(f"No family holds '{wanted}'.", file=sys.stderr)
    return 0 if found else 1


def _built_in() -> "list[tuple[str, bool, tuple[Shape, ...]]]":
    from witnessmark.calc.fasteners.catalogue import built_in

    by_name: dict[str, list[Shape]] = {}
    for shape in built_in():
        by_name.setdefault(shape.family, []).append(shape)
    return [(name, False, tuple(sizes)) for name, sizes in by_name.items()]


def _add(args: argparse.Namespace) -> int:
    from witnessmark.cli.main import CannotRun, open_record, print_json

    open_record()
    from witnessmark.records.actions.survey import add_size
    from witnessmark.records.models import Person

    person = Person.objects.filter(name=args.by).first()
    if person is None:
        raise CannotRun(f"Nobody is called '{args.by}'. Say who adds it with --as NAME.")
    told = add_size(
        by=person,
        act_id=uuid.uuid4(),
        code=args.add,
        family=args.family,
        form=args.form,
        typed={what: getattr(args, name) for name, what in FIGURES.items() if getattr(args, name)},
        measured_on=args.measured_on,
    )
    if args.json:
        print_json(told)
    else:
        print(f"{told['code']} is added to {told['family']}.")
    return 0
