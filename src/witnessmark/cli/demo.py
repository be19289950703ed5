"""`witnessmark demo [--port 8040] [--no-serve] [--out DIR]`: the demo restoration, loaded once, computed and served.

Exit codes: 0 ended when told to, 2 could not run (the folder holds another record, the port is taken, the disk is full).

With --json one object; `address` and `sign_in` are null with --no-serve, `papers` is there with --out:
  address, sign_in, papers [str],
  aircraft, today, places, parts, bags, rows, holes, findings, jobs,
  can_work: [{name, jobs, first}], cannot_work: [{name, why}], order_or_send: [{leave_by, what, to}],
  ledger: {balanced, moves}, sentence
"""

import argparse
import contextlib
import json
import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from witnessmark.cli.serve import add_address, listen, serve

if TYPE_CHECKING:
    from witnessmark.records.models import Aircraft

# Written last, when the demo is whole; LOADING is there from before the first row until then.
STAMP, LOADING, DRAWING = "demo.stamp", "demo.loading", "demo.being-drawn"
RECORD = "record.sqlite3"
# What any command leaves in a folder that it only looked into.
HARMLESS = {"secret-key", RECORD, f"{RECORD}-wal", f"{RECORD}-shm", "cache"}


def configure(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    add_address(parser)
    parser.add_argument("--no-serve", action="store_true", help="load and compute, then end")
    parser.add_argument("--out", metavar="DIR", help="write the papers into this folder, too")


def tell(text: str) -> None:
    """Say how far it is, on stderr."""
    print(text, file=sys.stderr, flush=True)


def run(args: argparse.Namespace) -> int:
    """Load the demo where it is not loaded, and serve it."""
    data = Path(os.environ.get("WITNESSMARK_DATA") or "data").resolve()
    _refuse_others(data)
    _refuse_file(args.out)
    if args.no_serve:
        with _whole_or_again(data):
            _show(args, address=None, sign_in=None)
        return 0
    listening, address = listen(args.host, args.port)
    with listening:
        known = (data / STAMP).exists()
        with _whole_or_again(data):
            sign_in = _sign_in(address)
            if args.json or args.out or not known:
                _show(args, address, sign_in)
        if not args.json:
            print(address)
            print(f"Sign in once with: {sign_in}", flush=True)
        # A second start answers first and computes beside it, which warms the first page as well.
        serve(listening, afterwards=_say_summary if known and not args.json and not args.out else None)
    return 0


def _refuse_others(data: Path) -> None:
    """Touch nothing in a folder that holds anything but this demo."""
    from witnessmark.cli.main import CannotRun

    if data.exists() and not data.is_dir():
        raise CannotRun(f"{data} is a file. Name a folder for the demo: witnessmark --data DIR demo.")
    if not data.exists() or (data / STAMP).exists() or (data / LOADING).exists():
        return
    names = {each.name for each in data.iterdir()}
    if names <= HARMLESS and not (RECORD in names and _is_begun(data / RECORD)):
        return
    raise CannotRun(
        f"{data} holds something other than the demo; nothing in it was touched. "
        "Give the demo a folder of its own: witnessmark --data demo-data demo."
    )


def _refuse_file(out: str | None) -> None:
    from witnessmark.cli.main import CannotRun

    if out and Path(out).exists() and not Path(out).is_dir():
        raise CannotRun(f"{out} is a file. Name a folder for the papers.")


def _is_begun(record: Path) -> bool:
    """Look without writing whether somebody, or an aircraft, is in this record; one that cannot be read counts as begun."""
    from urllib.parse import quote

    import pysqlite3

    # Where nobody has it open, not even the two files that reading makes beside it are left behind.
    how = "mode=ro" if record.with_name(f"{RECORD}-wal").exists() else "immutable=1"
    try:
        with contextlib.closing(pysqlite3.connect(f"file:{quote(str(record))}?{how}", uri=True)) as looked:
            if not looked.execute("SELECT 1 FROM sqlite_master WHERE name = 'records_aircraft'").fetchone():
                return False
            asked = "SELECT 1 FROM records_aircraft UNION ALL SELECT 1 FROM records_person"
            return looked.execute(asked).fetchone() is not None
    except pysqlite3.Error:
        return record.stat().st_size > 0


@contextlib.contextmanager
def _whole_or_again(data: Path) -> Iterator[None]:
    """Have the whole demo in the folder: loaded now, or once more when a first start did not get to its end.

    Loading the same lists again changes nothing that is there already, so a half-loaded demo is only completed.
    """
    from witnessmark.cli.main import open_record

    if (data / STAMP).exists():
        open_record(make=True)
        yield
        return
    import fcntl

    data.mkdir(parents=True, exist_ok=True)
    with (data / LOADING).open("w") as turn:
        try:
            fcntl.flock(turn, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            tell("Another start is loading the demo into this folder: waiting for it.")
            fcntl.flock(turn, fcntl.LOCK_EX)
        open_record(make=True)
        if not (data / STAMP).exists():
            _refuse_other_database(data)
            _load(data)
            _write_stamp(data)
        (data / LOADING).unlink(missing_ok=True)
    yield


def _refuse_other_database(data: Path) -> None:
    """On PostgreSQL the folder says nothing of what the database holds."""
    from django.db import connection

    from witnessmark.cli.main import CannotRun
    from witnessmark.records.models import Aircraft

    demo = {row["aircraft"] for row in _list("aircraft.csv")}
    if connection.vendor != "sqlite" and Aircraft.objects.exclude(name__in=demo).exists():
        (data / LOADING).unlink(missing_ok=True)
        raise CannotRun(
            "The database holds another record than the demo; nothing in it was touched. "
            "Name an empty one in WITNESSMARK_DATABASE, or none at all for SQLite in the data folder."
        )


def _lists() -> Path:
    import witnessmark.demo

    return Path(witnessmark.demo.__file__).parent / "lists"


def _list(name: str) -> list[dict[str, str]]:
    import csv

    lines = (_lists() / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def _load(data: Path) -> None:
    """Draw the pictures, load the lists through the door everybody's come in by, and derive the jobs."""
    from witnessmark.demo.photographs import draw_all
    from witnessmark.exchange.load import load
    from witnessmark.records.actions.jobs import derive_jobs
    from witnessmark.records.models import Aircraft
    from witnessmark.records.work import enqueue

    tell("First start: drawing the demo's photographs and loading its lists (less than a minute, once).")
    folder = data / DRAWING
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(_lists(), folder)

    def drawn(number: int, total: int) -> None:
        if number % 25 == 0 or number == total:
            tell(f"  drawn: {number} of {total} photographs")

    draw_all(folder, folder / "photos", drawn)
    report = load(folder, by=None, progress=lambda words: tell(f"  loading {words}"))
    for line in report.lines:
        if line.state in ("refused", "differs"):
            tell(f"  {line.words}")
    names = {row["aircraft"] for row in _list("aircraft.csv")}
    Aircraft.objects.filter(name__in=names).update(is_demo=True)
    for aircraft in Aircraft.objects.filter(name__in=names):
        tell("  deriving the jobs")
        derive_jobs(aircraft)
    _lay_on_the_mat()
    _begin_day_one()
    enqueue("make_copies", "all")
    shutil.rmtree(folder, ignore_errors=True)


def _lay_on_the_mat() -> None:
    """Print and measure a mat and take its picture in; it is read in the background, after the first page stands."""
    import uuid

    import witnessmark.demo
    from witnessmark.records.actions.mat import ask_for_reading, measure_mat, print_mat
    from witnessmark.records.models import Person, Role

    lead = Person.objects.filter(role=Role.LEAD, is_active=True).first()
    if lead is None:
        return
    first, second, third = (uuid.uuid5(uuid.NAMESPACE_OID, f"witnessmark demo mat {n}") for n in range(3))
    print_mat(by=lead, act_id=first, serial="BENCH", kind="A4-plain-blue")
    measure_mat(by=lead, act_id=second, serial="BENCH", check_a_mm=240.0, check_b_mm=150.0)
    picture = Path(witnessmark.demo.__file__).parent / "mat.jpg"
    ask_for_reading(by=lead, act_id=third, data=picture.read_bytes(), name=picture.name)


def _begin_day_one() -> None:
    """Let some pictures come in by their tags, old ones unsorted, and finds into the don't-know tray."""
    from witnessmark.cli.demo_day_one import bring
    from witnessmark.records.lookups.day import now
    from witnessmark.records.models import Person, Role

    lead = Person.objects.filter(role=Role.LEAD, is_active=True).first()
    if lead is not None:
        tell("  bringing the first days' pictures in")
        bring(lead, now(_demo_aircraft()))


def _write_stamp(data: Path) -> None:
    """Say that the demo is whole, last of all and at once."""
    from witnessmark import __version__

    half = data / f"{STAMP}.half"
    with half.open("w", encoding="utf-8") as out:
        out.write(json.dumps({"witnessmark": __version__}) + "\n")
        out.flush()
        os.fsync(out.fileno())
    half.replace(data / STAMP)


def _demo_aircraft() -> "Aircraft | None":
    from witnessmark.records.models import Aircraft

    return Aircraft.objects.filter(is_demo=True).order_by("-arrived_on", "-id").first()


def _sign_in(address: str) -> str:
    """Make the lead's one-time link: nobody has a password unless one is set on purpose."""
    from witnessmark.cli.main import CannotRun
    from witnessmark.records.actions.signing_in import make_link
    from witnessmark.records.models import Person, Role

    lead = Person.objects.filter(role=Role.LEAD, is_active=True).first()
    if lead is None:
        raise CannotRun("The demo has lost its lead. Remove its data folder and start it again.")
    return f"{address}in/{make_link(lead)}/"


def _show(args: argparse.Namespace, address: str | None, sign_in: str | None) -> None:
    """Compute, write the papers if they are asked for, and say all of it."""
    from witnessmark.cli.main import CannotRun, print_json

    aircraft = _demo_aircraft()
    if aircraft is None:
        raise CannotRun("The demo has lost its aircraft. Remove its data folder and start it again.")
    from witnessmark.cli.demo_summary import summarise, words

    tell("  planning the work")
    told: dict[str, Any] = {"address": address, "sign_in": sign_in}
    told |= summarise(aircraft)
    if args.out:
        from witnessmark.papers import write_all

        tell("  writing the papers")
        told["papers"] = [str(file) for file in write_all(Path(args.out))]
    if args.json:
        print_json(told)
    else:
        print("\n".join(words(told)))
    sys.stdout.flush()


def _say_summary() -> None:
    """Say the summary beside the server, from the record as it is now."""
    from django.db import close_old_connections

    try:
        aircraft = _demo_aircraft()
        if aircraft is not None:
            from witnessmark.cli.demo_summary import summarise, words

            print("\n".join(words(summarise(aircraft))), flush=True)
    finally:
        close_old_connections()
