"""`witnessmark finding see|measure|picture|ring|ask|answer`: write a finding down: seen, then measured, then sent to engineering.

`see --on TAG`, `--place MARK` or `--zone NUMBER`; the others take the number, such as `measure F-31 --figure pit_depth_mm=0.3`.
Exit codes: 0 written, 2 refused, cannot be read, or could not run; then nothing was written.

With --json the finding whole, as `witnessmark findings NUMBER --json` prints it.
"""

import argparse
import uuid
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from witnessmark.records.actions.findings import Ring
    from witnessmark.records.models import Aircraft, Finding, Person, Photo

WAYS = ("see", "measure", "picture", "ring", "ask", "answer")


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("way", choices=WAYS, help="what is said of it")
    parser.add_argument("number", nargs="?", default="", help="the finding, such as F-31; not for see")
    parser.add_argument("--on", metavar="TAG", help="see: the piece it is on")
    parser.add_argument(
        "--place", metavar="MARK", help="see: the place it is at, with left or right where there are two"
    )
    parser.add_argument("--zone", metavar="NUMBER", help="see: the zone it lies in")
    parser.add_argument(
        "--kind", default="", help="pitting, crack, hole, temper, glue, ...; measure: where nobody said it yet"
    )
    parser.add_argument("--words", default="", help="a few words; for ask and answer: what is asked, what was answered")
    parser.add_argument("--opened", choices=("yes", "no"), help="see: whether it came to light by opening")
    parser.add_argument(
        "--figure",
        metavar="NAME=FIGURE",
        action="append",
        default=[],
        help="measure: such as pit_depth_mm='0.30 +/- 0.05 mm'",
    )
    parser.add_argument("--picture", metavar="FILE", help="see, picture, ring: a picture of it")
    parser.add_argument(
        "--ring", metavar="ACROSS,DOWN,HALF_WIDE,HALF_HIGH", help="the ring, in hundredths of the upright picture"
    )
    parser.add_argument("--where", default="", help="where on the picture, in words")
    parser.add_argument("--whom", default="", help="ask: whom; answer: who answered")
    parser.add_argument("--as", dest="by", metavar="NAME", default="", help="who says it (else the lead mechanic)")


def run(args: argparse.Namespace) -> int:
    """Write it down and print the finding."""
    from witnessmark.cli.findings import print_finding
    from witnessmark.cli.main import CannotRun, who_acts
    from witnessmark.cli.writing import aircraft_here, nothing_written

    aircraft = aircraft_here()
    from witnessmark.records.lookups.findings import finding_called

    by = who_acts(args.by)
    with nothing_written():
        if args.way == "see":
            number = _see(args, aircraft, by)
        else:
            found = finding_called(aircraft, args.number)
            if found is None:
                raise CannotRun(f"There is no finding {args.number or 'without a number'}. Nothing was written.")
            number = found.finding.number
            _say(args, found.finding, by)
    seen = finding_called(aircraft, number)
    if seen is not None:
        print_finding(seen, as_json=args.json)
    return 0


def _see(args: argparse.Namespace, aircraft: "Aircraft", by: "Person") -> str:
    from witnessmark.cli.main import CannotRun
    from witnessmark.cli.writing import piece_called
    from witnessmark.records.actions.findings import see_finding
    from witnessmark.records.lookups.day import today
    from witnessmark.records.lookups.said_later import place_called
    from witnessmark.records.models import Zone

    if args.number or sum(map(bool, (args.on, args.place, args.zone))) != 1:
        raise CannotRun("Say what it is on: one of --on TAG, --place MARK, --zone NUMBER. Nothing was written.")
    piece = piece_called(args.on) if args.on else None
    place = place_called(args.place, aircraft) if args.place else None
    zone = Zone.objects.filter(aircraft=aircraft, number__iexact=args.zone).first() if args.zone else None
    if piece is None and place is None and zone is None:
        which = f"place {args.place}" if args.place else f"zone {args.zone}"
        raise CannotRun(f"There is no {which}, or two of it. Nothing was written.")
    ring = _ring(args.ring)
    told = see_finding(
        by=by,
        act_id=uuid.uuid4(),
        seen_on=today(aircraft),
        kind=args.kind,
        what=args.words,
        piece=piece,
        place=place,
        zone=zone,
        photo=_kept(args.picture, by) if args.picture else None,
        ring=ring,
        where_words=args.where,
        opened={"yes": True, "no": False}.get(args.opened),
    )
    return str(told["finding"])


def _say(args: argparse.Namespace, finding: "Finding", by: "Person") -> None:
    from witnessmark.cli.main import CannotRun
    from witnessmark.records.actions.findings import ask_engineering, draw_ring, engineering_answers, measure_finding
    from witnessmark.records.actions.photographs import photograph

    act_id = uuid.uuid4()
    if args.way == "measure":
        measure_finding(by=by, act_id=act_id, finding=finding, typed=_figures(args.figure), kind=args.kind)
    elif args.way == "ask":
        ask_engineering(by=by, act_id=act_id, finding=finding, question=args.words, whom=args.whom)
    elif args.way == "answer":
        engineering_answers(by=by, act_id=act_id, finding=finding, answer=args.words, from_whom=args.whom)
    elif not args.picture:
        raise CannotRun("Name the picture with --picture FILE. Nothing was written.")
    elif args.way == "ring":
        ring, photo = _ring(args.ring), _kept(args.picture, by)
        draw_ring(by=by, act_id=act_id, finding=finding, photo=photo, ring=ring, where_words=args.where)
    else:
        path = Path(args.picture)
        what = args.words or finding.what
        photograph(by=by, act_id=act_id, data=path.read_bytes(), name=path.name, finding=finding, what=what[:300])


def _kept(name: str, by: "Person") -> "Photo":
    """Keep the picture before anything is said of it; bytes that nobody speaks of are harmless."""
    from witnessmark.records.actions.saying import NotAllowed
    from witnessmark.records.photo_store import keep_bytes

    if not by.may_write:
        raise NotAllowed(f"{by.name} may look, not add. Nothing was changed.")
    return keep_bytes(Path(name).read_bytes(), Path(name).name)


def _figures(given: list[str]) -> dict[str, str]:
    from witnessmark.calc.surface.finding_kinds import FIGURES
    from witnessmark.cli.main import CannotRun

    typed: dict[str, str] = {}
    for each in given:
        name, equals, text = each.partition("=")
        if not equals or name not in FIGURES or name in typed or not text.strip():
            held = ", ".join(FIGURES)
            raise CannotRun(f"'{each[:60]}': write NAME=FIGURE, each name once, of {held}. Nothing was written.")
        typed[name] = text
    return typed


def _ring(text: str | None) -> "Ring | None":
    import re

    from witnessmark.cli.main import CannotRun
    from witnessmark.records.actions.findings import Ring

    if text is None:
        return None
    parts = [part.strip() for part in text.split(",")]
    if len(parts) != 4 or not all(re.fullmatch(r"\d{1,3}(?:\.\d{1,6})?", part) for part in parts):
        raise CannotRun(f"The ring: '{text[:40]}' is not four numbers between 0 and 100. Nothing was written.")
    return Ring(*(float(part) / 100 for part in parts))
