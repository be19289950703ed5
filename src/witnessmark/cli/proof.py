"""`witnessmark proof [WORDS]`: run the handbook checks and print each with its source and result.

Exit codes: 0 all hold, 1 one does not, 2 could not run.
"""

import argparse


def configure(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("words", nargs="*", help="only checks whose id, subject or source holds all of these words")


def run(args: argparse.Namespace) -> int:
    """Run them; exit 0 all hold, 1 one does not, 2 none is meant by the words."""
    from witnessmark.calc.proof import load_checks, run_checks
    from witnessmark.calc.sources import source
    from witnessmark.cli.main import CannotRun, print_json

    words = [word.lower() for word in args.words]
    checks = [
        check
        for check in load_checks()
        if all(word in f"{check.id} {check.subject} {source(check.source).title}".lower() for word in words)
    ]
    if not checks:
        raise CannotRun(
            f"No handbook check speaks of '{' '.join(args.words)}'. `witnessmark proof` alone runs them all."
        )
    results = run_checks(checks)
    failed = sum(1 for result in results if not result.passed)
    if args.json:
        print_json(
            {
                "passed": len(results) - failed,
                "failed": failed,
                "checks": [
                    {
                        "id": result.check.id,
                        "subject": result.check.subject,
                        "function": result.check.function,
                        "given": dict(result.check.given),
                        "expect": dict(result.check.expect),
                        "got": dict(result.got),
                        "source": source(result.check.source).title,
                        "page": result.check.page,
                        "kind": result.check.kind,
                        "status": result.check.status,
                        "passed": result.passed,
                        "message": result.message,
                    }
                    for result in results
                ],
            }
        )
    else:
        for result in results:
            print(result.printed())
        print(f"\n{len(results) - failed} handbook checks hold, {failed} do not")
    return 1 if failed else 0
