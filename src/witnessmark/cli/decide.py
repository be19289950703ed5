"""`witnessmark decide TAG --kind K --reason WHY --as NAME`: decide what is done with a piece, on its sheet as it stands.

A decision that stands is only gone back on by naming it: `--instead-of remake`; both stay to be read. Scrapping is asked
twice: `--scrap-twice`; the original stays as pattern until the hand-over. `--reckon hours=14` writes what --kind takes.
Exit codes: 0 written, 2 refused, cannot be read, or could not run; then nothing was written.

With --json one object: {piece, kind, by, reason, findings_settled (or null), instead_of (or null), kept_as_pattern,
choices: {aspect: {words, known, value, from}} of the choice that was made}; with --reckon {piece, kind, figures}.
"""

import argparse
import uuid
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from witnessmark.records.models import Person, Piece

KINDS = "reuse, repair, remake, substitute or scrap"


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("tag", help="tag of the piece, or id-N")
    parser.add_argument("--kind", default="", help=KINDS)
    parser.add_argument("--reason", default="", help="why; it is kept")
    parser.add_argument("--instead-of", metavar="KIND", default="", help="the decision that stands and is gone back on")
    parser.add_argument("--scrap-twice", action="store_true", help="say again that this original is to be scrapped")
    parser.add_argument(
        "--before-engineering", action="store_true", help="decide although engineering has not answered"
    )
    parser.add_argument(
        "--reckon",
        metavar="WHAT=FIGURE",
        action="append",
        default=[],
        help="no decision: what the choice takes, such as hours=14",
    )
    parser.add_argument(
        "--as", dest="by", metavar="NAME", default="", help="who decides: a decision has a name under it"
    )


def run(args: argparse.Namespace) -> int:
    """Decide, or write down what a choice takes."""
    from witnessmark.cli.main import CannotRun, open_record, who_acts
    from witnessmark.cli.writing import nothing_written, piece_called

    open_record()
    piece = piece_called(args.tag)
    if not args.by and not args.reckon:
        raise CannotRun("A decision has a name under it. Nothing was written. Say who decides with --as NAME.")
    with nothing_written():
        by = who_acts(args.by)
        return _reckon(args, piece, by) if args.reckon else _decide(args, piece, by)


def _decide(args: argparse.Namespace, piece: "Piece", by: "Person") -> int:
    from witnessmark.calc.choices import CHOICES
    from witnessmark.cli.main import CannotRun, print_json
    from witnessmark.records.actions.condition import decide
    from witnessmark.records.lookups.choices import decision_sheet
    from witnessmark.records.lookups.patterns import GIVES_WAY

    sheet = decision_sheet(piece)
    if args.kind not in CHOICES:
        what = f"'{args.kind[:20]}' is no decision." if args.kind else "What is decided was not said."
        raise CannotRun(f"{what} Nothing was written. It is one of {KINDS}: say which with --kind.")
    if not args.reason.strip():
        raise CannotRun("A decision has a reason. Nothing was written. Say why with --reason.")
    stands = sheet.decision
    if stands is not None and args.instead_of != stands.kind:
        day = f"{stands.act.happened_at:%Y-%m-%d}"
        raise CannotRun(
            f"It is decided: {stands.kind}, {stands.by.name}, {day}. Nothing was written. To go back on that, say "
            f"--instead-of {stands.kind}."
        )
    if stands is None and args.instead_of:
        raise CannotRun(f"No decision stands to be gone back on ({args.instead_of[:20]}). Nothing was written.")
    values = sheet.values()
    told = decide(
        by=by,
        act_id=uuid.uuid4(),
        piece=piece,
        kind=args.kind,
        reason=args.reason,
        scrap_twice=args.scrap_twice,
        sheet=values,
        before_engineering=args.before_engineering,
    )
    pattern = args.kind in GIVES_WAY
    if args.json:
        print_json(
            {
                "piece": piece.key,
                "kind": told["decision"],
                "by": by.name,
                "reason": args.reason.strip(),
                "findings_settled": told["findings"],
                "instead_of": stands.kind if stands else None,
                "kept_as_pattern": pattern,
                "choices": values["choices"][args.kind],
            }
        )
    else:
        print(f"{piece}: {told['decision']}, decided by {by.name}. {told['findings']} findings are settled by it.")
        for aspect, cell in values["choices"][args.kind].items():
            print(f"  {aspect}: {cell['words']}")
        if pattern:
            print("  The original is kept as pattern until the hand-over.")
    return 0


def _reckon(args: argparse.Namespace, piece: "Piece", by: "Person") -> int:
    from witnessmark.cli.main import CannotRun, print_json
    from witnessmark.records.actions.choices import reckon_choice

    typed: dict[str, str] = {}
    for each in args.reckon:
        what, equals, text = each.partition("=")
        if not equals or not text.strip() or what in typed:
            raise CannotRun(f"'{each[:60]}': write WHAT=FIGURE, each once, such as hours=14. Nothing was written.")
        typed[what] = text
    told = reckon_choice(by=by, act_id=uuid.uuid4(), piece=piece, kind=args.kind, typed=typed)
    if args.json:
        print_json({"piece": piece.key, "kind": args.kind, "figures": told["figures"]})
    else:
        print(f"{piece}, {args.kind}: {', '.join(f'{what} {text}' for what, text in typed.items())}.")
    return 0
