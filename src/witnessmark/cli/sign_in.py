"""`witnessmark sign-in NAME [--port PORT]`: make a one-time link that signs a person in, good for a day.

Exit codes: 0 made, 1 nobody of that name (names near it are told) or no longer here, 2 could not run.
With --json one object: {name, address}; not found: {name, found: false, near [str]}.
"""

import argparse
import sys

PORT = 8040


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("name", help="the person's name as the record has it")
    parser.add_argument("--host", default="127.0.0.1", help="the name or address the screens answer under")
    parser.add_argument("--port", type=int, default=PORT, help=f"the port the screens answer on (else {PORT})")


def run(args: argparse.Namespace) -> int:
    """Make the link and print it; it is told here and nowhere else."""
    from witnessmark.cli.main import open_record, print_json

    open_record()
    from witnessmark.records.actions.signing_in import make_link
    from witnessmark.records.models import Person

    name = " ".join(args.name.split())
    person = Person.objects.filter(name=name).first() or Person.objects.filter(name__iexact=name).first()
    if person is None:
        near = _near(name, list(Person.objects.filter(is_active=True).values_list("name", flat=True)))
        hint = f" Near it: {', '.join(near)}." if near else " People come in with people.csv: `witnessmark load DIR`."
        print(f"Nobody called {name} is in the record.{hint}", file=sys.stderr)
        if args.json:
            print_json({"name": name, "found": False, "near": near})
        return 1
    address = f"http://{args.host}:{args.port}/in/{make_link(person)}/"
    if args.json:
        print_json({"name": person.name, "address": address})
        return 0
    print(address)
    print(
        f"Signs {person.name} in once, within 24 hours. It goes by port {args.port}: where the screens were started "
        "with another, say it with --port.",
        file=sys.stderr,
    )
    return 0


def _near(name: str, names: list[str]) -> list[str]:
    """Give names that hold the words or look like them; all of a small shop when none does."""
    from difflib import get_close_matches

    low = name.casefold()
    near = [each for each in names if low in each.casefold() or any(w in low for w in each.casefold().split())]
    near += [each for each in get_close_matches(name, names, n=5, cutoff=0.5) if each not in near]
    return near or (names if len(names) <= 12 else [])
