"""`witnessmark match SHIPMENT [READINGS] [--json]`: whose the pieces are that came back mixed.

READINGS is a CSV (item and one column a feature, or item, what, value, uncertainty) or the JSON of a measured photograph;
what is on record counts as well. The screen /outwork/SHIPMENT/sort/ confirms: this command moves nothing.
`--say 3=L-014 --why "another head form" --as NAME` writes that piece 3 is of that bag whatever the readings say (`3=foreign`:
not ours); `--take-back 3` lets the readings decide again. Then all is solved anew with what was said as fixed.
Exit codes: 0 said, 1 no such shipment or nothing of it came back mixed, 2 a file that cannot be read, or a word that was
refused (no such piece, a bag that is full or of another shipment): then nothing was written.

With --json one object:
  shipment, sentence, count_out, count_back, measured, not_measured, cost
  balance: {short, over, missing_mass_g (or null), explained_by, disagree (bool), sentence}
  pieces: [{piece, group, bag (null for a stranger), place, sure, bag_sure, state (told, doubtful, foreign or said),
            others: [[group, chance]]}]
  said: [{piece, says (a bag or foreign), why, by, at, readings_said: {bag, state, sure}, in_force (false: its bag is full)}]
  passed: [{piece, before, now}]: the pieces that are not as they were before it was said
  short: [{group, bag, place, count, chance}], short_maybe: the same, for what else it could be
  foreign: [piece]
  next: {feature, pieces, settles, again (bool), sentence} or null
  shares: {lost, foreign, sentence}: what is taken of this vendor, by his earlier returns
  working
"""

import argparse
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from witnessmark.calc.bags.return_match import STRANGER

if TYPE_CHECKING:
    from witnessmark.records.lookups.mixing import Sorting
    from witnessmark.records.models import Shipment, WhoseWord


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("shipment", metavar="SHIPMENT", help="a shipment's number")
    parser.add_argument("readings", metavar="READINGS", nargs="?", type=Path, help="a CSV or JSON of measured pieces")
    parser.add_argument(
        "--say", metavar="PIECE=BAG", help="write whose a piece is, whatever the readings say; or =foreign"
    )
    parser.add_argument("--why", default="", help="what is seen of it; it is kept")
    parser.add_argument("--take-back", metavar="PIECE", help="take back what was said of a piece")
    parser.add_argument("--as", dest="by", metavar="NAME", default="", help="who says it (else the lead mechanic)")


def run(args: argparse.Namespace) -> int:
    """Match and say."""
    from witnessmark.cli.main import CannotRun, open_record, print_json

    open_record()
    from witnessmark.exchange.readings import BadReadings, read_readings
    from witnessmark.records.lookups.mixing import sorting
    from witnessmark.records.models import Shipment

    shipment = Shipment.objects.filter(number=args.shipment).select_related("vendor").first()
    try:
        more = read_readings(args.readings.read_bytes(), args.readings.name) if args.readings else []
    except BadReadings as why:
        raise CannotRun(str(why)) from None
    if shipment is not None:
        _write(args, shipment)
    seen = sorting(shipment, more) if shipment is not None else None
    if seen is None or seen.match is None:
        refused = (
            f"There is no shipment {args.shipment}."
            if shipment is None
            else f"Nothing of shipment {args.shipment} lies mixed here. Receive it in one bucket first, "
            f"on the page /outwork/{args.shipment}/sort/."
        )
        print(refused, file=sys.stderr)
        if args.json:
            print_json({"refused": refused})
        return 1
    if args.json:
        print_json(to_dict(args.shipment, seen))
        return 0
    print(seen.match.sentence)
    for each in seen.match.pieces:
        where = f"{each.bag}{f', {each.place}' if each.place_known else ''}" if each.bag else "not ours"
        word = seen.words.get(each.piece)
        by = f"  {word.act.person.name}: {word.why}; {word.against}" if word else f"  {each.sure:.3f}"
        print(f"  {each.piece:>6}  {each.state:<9} {where}{by}")
    for lost in seen.match.short:
        print(f"  short  {lost.count} of {lost.group}  {lost.chance:.3f}")
    for word in seen.unfit:
        print(f"Piece {word.item} is of {word.says}, says {word.act.person.name}, and {word.says} has no room left.")
    for passed in seen.passed:
        print(f"For what was said, {passed.piece} is {passed.now} (was {passed.before}).")
    if seen.match.next:
        print(seen.match.next.sentence)
    print(seen.shares.sentence)
    return 0


def _write(args: argparse.Namespace, shipment: "Shipment") -> None:
    """Write what is said of one piece, or take it back."""
    import uuid

    from witnessmark.cli.main import CannotRun, who_acts
    from witnessmark.cli.writing import nothing_written
    from witnessmark.records.actions.whose import say_whose
    from witnessmark.records.lookups.pieces import by_key

    if args.say is None and args.take_back is None:
        if args.why or args.by:
            raise CannotRun("--why and --as go with --say or --take-back. Nothing was written.")
        return
    if args.say is not None and args.take_back is not None:
        raise CannotRun("Say something of a piece or take it back, one at a time. Nothing was written.")
    item, equals, whose = (args.say or "").partition("=")
    bag = None
    if args.say is not None:
        item, whose = item.strip(), whose.strip()
        if not equals or not item or not whose:
            raise CannotRun(f"'{args.say[:60]}': write PIECE=BAG, such as 3=L-014, or 3=foreign. Nothing was written.")
        bag = None if whose == STRANGER else by_key(whose)
        if bag is None and whose != STRANGER:
            raise CannotRun(f"There is no bag {whose[:40]}. Nothing was written. Name one that left with the shipment.")
    with nothing_written():
        say_whose(
            by=who_acts(args.by),
            act_id=uuid.uuid4(),
            shipment=shipment,
            item=item if args.say is not None else args.take_back,
            bag=bag,
            foreign=args.say is not None and whose == STRANGER,
            why=args.why if args.say is not None else "",
        )


def to_dict(shipment: str, seen: "Sorting") -> dict[str, Any]:
    """Write the match as plain values; the keys are documented above."""
    match, shares = seen.match, seen.shares
    if match is None:
        raise ValueError(f"nothing of shipment {shipment} lies mixed")
    told = match.to_dict()
    balance = told["balance"] | {"sentence": match.counted}
    return {
        "shipment": shipment,
        "sentence": match.sentence,
        "count_out": match.balance.count_out,
        "count_back": match.balance.count_back,
        "measured": len(match.pieces),
        "not_measured": match.not_measured,
        "cost": match.cost,
        "balance": {
            key: balance[key] for key in ("short", "over", "missing_mass_g", "explained_by", "disagree", "sentence")
        },
        "shares": {
            "lost": round(shares.lost.share, 5),
            "foreign": round(shares.foreign.share, 5),
            "sentence": shares.sentence,
        },
        "said": [_word(word, True) for word in seen.words.values()] + [_word(word, False) for word in seen.unfit],
        "passed": [asdict(each) for each in seen.passed],
        **{key: told[key] for key in ("pieces", "short", "short_maybe", "foreign", "next", "working")},
    }


def _word(word: "WhoseWord", in_force: bool) -> dict[str, Any]:
    read = (word.read_bag.tag or word.read_bag.key) if word.read_bag else None
    return {
        "piece": word.item,
        "says": STRANGER if word.foreign else word.says,
        "why": word.why,
        "by": word.act.person.name,
        "at": word.act.happened_at.isoformat(),
        "readings_said": {"bag": read, "state": word.read_state, "sure": word.read_sure},
        "in_force": in_force,
    }
