"""`witnessmark choices TAG`: reuse, repair, remake, substitute, scrap side by side, and what was decided.

Exit codes: 0 said, 1 no such piece or the record is empty, 2 could not run.

With --json one object:
  piece, findings: [...], choices: {choice: {aspect: {words, known, value (or null), from}}}, faying_surfaces,
  substitution (or null), working, decisions: [{kind, by, reason, day, relied_on (or null)}]
"""

import argparse


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("tag", help="tag of the piece, or id-N")


def run(args: argparse.Namespace) -> int:
    """Look and say."""
    from witnessmark.cli.main import NotSo, open_aircraft, print_json

    open_aircraft()
    from witnessmark.records.lookups.choices import decision_sheet, relied_on
    from witnessmark.records.lookups.pieces import by_key

    piece = by_key(args.tag)
    if piece is None:
        raise NotSo(f"No piece has the tag {args.tag}.")
    sheet = decision_sheet(piece)
    if args.json:
        print_json(
            {
                **sheet.values(),
                "decisions": [
                    {
                        "kind": d.kind,
                        "by": d.by.name,
                        "reason": d.reason,
                        "day": d.act.happened_at.date().isoformat(),
                        "relied_on": relied_on(d),
                    }
                    for d in sheet.decisions
                ],
            }
        )
        return 0
    print(f"{piece}. {f'Decided: {sheet.decision.kind}.' if sheet.decision else 'No decision yet.'}")
    for finding in sheet.findings:
        print(f"  {finding.finding.number}: {finding.finding.what} ({finding.state_words}, {finding.stage})")
    for heading, cells in sheet.choices.rows():
        print(f"{heading}:")
        for choice, cell in cells:
            print(f"  {choice}: {cell.words}{f' ({cell.come_from})' if cell.come_from else ''}")
    for caution in sheet.choices.cautions:
        print(f"  {caution}")
    return 0
