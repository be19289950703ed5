"""Choose the command, run it, and turn what stops it into one line.

Exit codes of every command: 0 done, 1 refused, not found or found wrong, 2 could not run or wrongly called.
With --json, stdout holds one JSON value and nothing else; what people need to know goes to stderr.
"""

import argparse
import errno
import importlib
import json
import math
import os
import sys
from collections.abc import Callable, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any, NoReturn

if TYPE_CHECKING:
    from witnessmark.records.models import Aircraft, Person

# Command, and what it does in one line. The module is cli/<command, with _ for ->.py, imported when chosen.
COMMANDS = {
    "demo": "load the demo restoration, compute everything and serve it",
    "serve": "serve the screens and do the waiting work",
    "worker": "do the waiting work (serve starts one by itself)",
    "sign-in": "make a one-time link that signs a person in",
    "new": "write empty, self-explaining lists into a folder",
    "load": "read a folder of lists into the record",
    "load-list": "read one old list under its own headings: CSV, XLSX or ODS",
    "tags": "give blank tag numbers out and print them",
    "take": "take pictures in: their tags are read, nothing is typed",
    "pictures-in": "take a folder of old pictures in, unsorted",
    "tray": "untagged finds, and what each could be",
    "bench-list": "what each person can do now, what waits and for what",
    "where": "where a piece is and where it belongs",
    "find": "search by tag, name, place or words",
    "identify": "which fastener it is, how sure, and what to measure next",
    "families": "the families of fasteners; --add one from measurement",
    "findings": "findings by zone, what waits for engineering, what is held back for hidden damage",
    "finding": "write a finding down: seen, then measured, then sent to engineering",
    "choices": "reuse, repair, remake, substitute, scrap of a piece side by side",
    "decide": "decide what is done with a piece, go back on it, or say what a choice takes",
    "shop-hour": "what an hour of the shop costs, from which day on",
    "patterns": "the originals kept as patterns until the hand-over",
    "survey": "what the survey of the rows leaves open, and which to look at next",
    "routes": "a part's route with its clocks and the rules it breaks; one proposed, written, a reason signed",
    "call-out": "by what a step is done: specification, type, class, bake; and what its vendor is told",
    "processes": "order rules, bakes, oven caps and tags, each with its document",
    "rack": "finish a step of every piece whose tag a picture of the rack shows",
    "fits": "what a press or shrink fit holds, and the heat that opens it",
    "shrink": "the shrink fit of a piece from what was measured on it",
    "growth": "what a coat does to a thread, a shaft and a bore",
    "decorative": "the route of a part that is chromed for its looks",
    "plating": "the bake called out, the strictest beside it, the certificate read, the thread that still runs",
    "substitution": "sheet, casting or wood beside the original: strength, stiffness, mass, couples, bends",
    "rivet": "length, flush head, joint, spares, tools and a box that came, reckoned with their working",
    "order": "the rivets and bolts to order, with spares",
    "plan": "the jobs in their order, with days",
    "by-hand": "a job given to somebody or a day, tied to another, written down; who is kept in work without gaps",
    "timeline": "who is at what when, by people, benches and vendors",
    "forecast": "half the chance by, four in five by, and what it hangs on",
    "order-or-send": "the latest days at the risk you choose, what goes together, what speed wins",
    "why": "why a job waits, and what would shorten it",
    "what-if": "the end before and after something happens",
    "open-jobs": "jobs left open in the shop, the longest left first",
    "other-work": "what else to open while a job is stuck",
    "learned": "what booked hours say of the estimates, progress, promises kept",
    "calendar": "the plan as a calendar file",
    "ship": "what may leave for a vendor, what must not, on which terms",
    "certificates": "which papers have not come, what waits in quarantine and why, what is untraced",
    "who-has-what": "what is out, with whom, since when, promised for when, and whom to ring today",
    "outside": "what each craftsman outside has, when he runs dry, what could feed him",
    "hunt": "what is missing, wrong or wanted better, and what to do for it now",
    "trip": "the next drive: its stops in order, what waits, the van",
    "confusion": "which bags of a shipment could not be told apart if they came back mixed",
    "match": "whose the pieces are that came back mixed",
    "since": "what happened since a day, for the owner or for the public",
    "papers": "write the printed papers as PDF",
    "mat": "print the mat, or measure, count and group what a picture of it shows",
    "ledger": "check that every piece is accounted for",
    "proof": "run every handbook check and print its source and result",
    "bench": "measure the program's own figures against their goals",
}
# The launcher's own, listed so that one help names all.
OF_THE_CHECKOUT = {
    "check": "the fast check before a commit (from a checkout)",
    "test": "run every test; --install first brings what they need (from a checkout)",
}


class CannotRun(Exception):
    """The command could not run: one sentence with the mend; exit code 2."""


class NotSo(Exception):
    """What was asked for is not there, or cannot be: one sentence; exit code 1, and refused in JSON."""


def open_record(*, make: bool = False) -> None:
    """Set Django up; the record's tables must stand, or are made when `make`.

    Raises CannotRun when there is no record here, or one that another version left.
    """
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "witnessmark.settings")
    django.setup()
    from django.conf import settings
    from django.core.management import call_command
    from django.db import connection
    from django.db.migrations.executor import MigrationExecutor

    executor = MigrationExecutor(connection)
    waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    if not waiting:
        return
    if make:
        call_command("migrate", verbosity=0, interactive=False)
    elif not executor.loader.applied_migrations:
        raise CannotRun(
            f"There is no record in {settings.DATA} yet. "
            "Fill one with `witnessmark load DIR`, or look at the demo with `witnessmark demo`."
        )
    else:
        raise CannotRun(
            f"The record in {settings.DATA} was made by an older version. "
            "Keep a copy of that folder, then bring it up with `witnessmark serve`."
        )


def open_aircraft() -> "Aircraft":
    """Open the record and give the aircraft the screens open on. Raises NotSo where the record holds none."""
    open_record()
    return _the_aircraft()


def _the_aircraft() -> "Aircraft":
    from witnessmark.records.lookups.day import the_aircraft
    from witnessmark.records.models import Act

    aircraft = the_aircraft()
    if aircraft is None:
        missing = "No aircraft is in the record yet" if Act.objects.exists() else "The record is empty"
        raise NotSo(f"{missing}: load a folder of lists first.")
    return aircraft


def open_rows() -> "Aircraft":
    """Open the aircraft for what is read off its rows of rivets. Raises NotSo where none is written down."""
    open_record()
    from witnessmark.records.models import Act, Row

    if Act.objects.exists() and not Row.objects.exists():
        raise NotSo("No row of rivets is in the record yet: load seams.csv first.")
    return _the_aircraft()


def person_called(name: str) -> "Person | None":
    """Give the active person of a name; None where no name is given. Raises CannotRun where nobody is so called."""
    from witnessmark.records.models import Person

    if not name:
        return None
    person = Person.objects.filter(name__iexact=name, is_active=True).order_by("pk").first()
    if person is None:
        raise CannotRun(f"Nobody called {name} is in the record. Nothing was written.")
    return person


def who_acts(name: str) -> "Person":
    """Give the person of a name, or the lead mechanic where no name is given. Raises CannotRun where there is none."""
    from witnessmark.records.models import Person, Role

    lead = Person.objects.filter(role=Role.LEAD, is_active=True).order_by("pk")
    person = person_called(name) or lead.first()
    if person is None:
        raise CannotRun("There is no lead mechanic in the record. Nothing was written. Say who with --as.")
    return person


def print_json(value: Any) -> None:
    """Print the command's one JSON value on stdout; a bound that is open has no number in JSON and is null."""
    print(json.dumps(_plain(value), ensure_ascii=False, indent=2, default=str, allow_nan=False))


def _plain(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {key: _plain(each) for key, each in value.items()}
    return [_plain(each) for each in value] if isinstance(value, list | tuple) else value


def a_day(text: str) -> date:
    """Read a day as lists and commands write it."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"'{text[:40]}' is no day: write it like 2026-05-12") from None


def _whole(text: str) -> int:
    try:
        return int(text)
    except ValueError:
        raise ValueError(f"'{text[:40]}' is no whole number: write it like 5") from None


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise ValueError(f"'{text[:40]}' is no number: write it like 2.5") from None


def _in_words(read: Callable[[str], Any]) -> Callable[[str], Any]:
    """Let argparse, which hides the words of a ValueError, say them."""

    def said(text: str) -> Any:
        try:
            return read(text)
        except ValueError as why:
            raise argparse.ArgumentTypeError(str(why)) from None

    return said


class WronglyCalled(Exception):
    """The words of the command cannot be read: what was wrong, below how it is called; exit code 2."""


class _Parser(argparse.ArgumentParser):
    """Says of a badly typed option what was to be typed; parsers below it take what every command takes."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for kind, read in ((int, _whole), (float, _number), (date.fromisoformat, a_day)):
            self.register("type", kind, _in_words(read))

    def add_subparsers(self, **kwargs: Any) -> Any:
        """Give parsers of the ways of one command."""
        return super().add_subparsers(**{"parser_class": _Way, **kwargs})

    def error(self, message: str) -> NoReturn:
        """Stop at words that cannot be read."""
        raise WronglyCalled(message, f"{self.format_usage()}{self.prog}: error: {message}")


class _Way(_Parser):
    """One way of a command that has several: what every command takes may stand behind it too."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _for_every_command(self)


def _for_every_command(parser: argparse.ArgumentParser) -> None:
    # Where it was not said it stays unsaid, so that a way does not wipe out what stood before it.
    parser.add_argument(
        "--data",
        metavar="DIR",
        default=argparse.SUPPRESS,
        help="the folder that holds everything (else WITNESSMARK_DATA, else ./data)",
    )
    parser.add_argument("--json", action="store_true", default=argparse.SUPPRESS, help="print JSON alone on stdout")


def _overview() -> str:
    lines = ["usage: witnessmark [--data DIR] COMMAND ...", ""]
    width = max(map(len, COMMANDS))
    lines += [f"  {name:<{width}}  {what}" for name, what in {**COMMANDS, **OF_THE_CHECKOUT}.items()]
    lines += [
        "",
        "`witnessmark COMMAND --help` tells more. Exit codes: 0 done, 1 refused or found wrong, 2 could not run.",
    ]
    return "\n".join(lines)


def _parser(name: str, data: str | None) -> argparse.ArgumentParser:
    parser = _Parser(prog=f"witnessmark {name}", description=f"{COMMANDS[name].capitalize()}.")
    _for_every_command(parser)
    parser.set_defaults(data=data, json=False)
    return parser


def _split(arguments: list[str]) -> tuple[str | None, str, list[str]]:
    """Take --data before the command, and the command, off the front."""
    data, rest = None, list(arguments)
    while rest and rest[0].startswith("-"):
        if rest[0] == "--data" and len(rest) > 1:
            data, rest = rest[1], rest[2:]
        elif rest[0].startswith("--data="):
            data, rest = rest[0].removeprefix("--data="), rest[1:]
        else:
            break
    return data, (rest[0] if rest else ""), rest[1:]


def _sentence(error: BaseException) -> tuple[int, str] | None:
    """Give the exit code and the line for what stopped a command; None for a fault of the program's own."""
    if isinstance(error, CannotRun):
        return 2, str(error)
    if isinstance(error, NotSo):
        return 1, str(error)
    if isinstance(error, KeyboardInterrupt):
        return 130, "Stopped."
    if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT):
        return 2, "The disk is full. What was acknowledged is kept; free some space and say the rest again."
    if isinstance(error, PermissionError) and error.filename:
        return (
            2,
            f"{error.filename} cannot be read or written. Start as the person who owns it, or choose another folder.",
        )
    if isinstance(error, FileNotFoundError | NotADirectoryError | IsADirectoryError) and error.filename:
        return 2, f"{error.filename}: {error.strerror}. Check the name."
    if "django.db" in sys.modules:
        from django.db import OperationalError

        if isinstance(error, OperationalError):
            text = str(error).strip().splitlines()[0]
            if "full" in text:
                return 2, "The disk is full. What was acknowledged is kept; free some space and say the rest again."
            return 2, f"The database did not answer: {text}. Check WITNESSMARK_DATABASE and the data folder."
    if "witnessmark.records.actions.saying" in sys.modules:
        from witnessmark.records.actions.saying import Refused

        if isinstance(error, Refused):
            return 1, str(error)
    return None


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    data, name, rest = _split(list(sys.argv[1:] if arguments is None else arguments))
    if name in ("", "-h", "--help", "help"):
        print(_overview())
        return 0 if name else 2
    if name == "--version":
        from witnessmark import __version__

        print(f"witnessmark {__version__}")
        return 0
    if name not in COMMANDS:
        print(f"There is no command '{name}'.\n\n{_overview()}", file=sys.stderr)
        return 2
    module = importlib.import_module(f"witnessmark.cli.{name.replace('-', '_')}")
    parser = _parser(name, data)
    module.configure(parser)
    # argparse takes a lone -- away after the =, and leaves a list where a word belongs.
    empty = next((word for word in rest if word.startswith("--") and word.endswith("=--")), None)
    try:
        if empty:
            parser.error(f"{empty} gives no value")
        args = parser.parse_args(rest)
    except WronglyCalled as wrong:
        message, told_below = wrong.args
        print(told_below, file=sys.stderr)
        if "--json" in rest:
            print_json({"refused": message})
        raise SystemExit(2) from None
    if args.data:
        os.environ["WITNESSMARK_DATA"] = args.data
    run: Callable[[argparse.Namespace], int] = module.run
    try:
        return run(args)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # the reader left: nothing more to say
        return 1
    except (Exception, KeyboardInterrupt) as error:
        told = _sentence(error)
        if told is None:
            raise
        line = " ".join(told[1].split())  # what was typed may hold a line's end
        print(line, file=sys.stderr)
        if args.json:
            print_json({"refused": line})
        return told[0]
