"""The whole road: loading lists, screens and search at 10,000 pieces, the ledger under random acts, a second start.

Each figure works on a data folder of its own, made by the program's own commands and thrown away afterwards.
"""

import contextlib
import json
import os
import re
import resource
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from witnessmark.bench.figures import SEED, figure

SMALL, LARGE = 100, 10_000
ACTS_SAMPLE, ACTS_FULL = 20_000, 100_000


def _environment(data: Path) -> dict[str, str]:
    return {**os.environ, "WITNESSMARK_DATA": str(data), "WITNESSMARK_DATABASE": ""}


def _witnessmark(data: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "witnessmark", "--data", str(data), *words],
        env=_environment(data),
        capture_output=True,
        text=True,
        check=False,
    )


def _inside(data: Path, task: str, *words: str) -> Any:
    done = subprocess.run(
        [sys.executable, "-m", "witnessmark.bench.inside", task, *words],
        env=_environment(data),
        stdout=subprocess.PIPE,
        text=True,
        check=True,
    )
    return json.loads(done.stdout)


def write_lists(folder: Path, parts: int) -> None:
    """Write lists of an invented aircraft with so many parts, each with a place of its own."""
    folder.mkdir(parents=True)
    (folder / "aircraft.csv").write_text("aircraft,works_number,arrived_on\nMeasuring bird,1,2026-01-05\n")
    zones = "".join(f"{n}00,zone {n}\n" for n in range(1, 9))
    (folder / "zones.csv").write_text(f"zone,name\n{zones}")
    (folder / "people.csv").write_text("name,role,craft\nMeasurer,lead,\n")
    names = ("fitting", "bracket", "rib", "skin", "hinge", "bellcrank", "clip", "angle")
    rows = [
        f"{n // 1000}-{n:05d},{names[n % 8]} {n},{n % 8 + 1}00,{n},dural sheet 1.0,1,C,{n:05d},{10 + n % 90},"
        + ("in place" if n % 3 else f"shelf {n % 40}")
        for n in range(parts)
    ]
    head = "part_no,name,zone,station,material,qty,side,tag,mass_g,where\n"
    (folder / "parts.csv").write_text(head + "\n".join(rows) + "\n")


@contextlib.contextmanager
def _shop(parts: int) -> Iterator[Path]:
    with tempfile.TemporaryDirectory(prefix="witnessmark-bench-") as temporary:
        data, lists = Path(temporary) / "data", Path(temporary) / "lists"
        write_lists(lists, parts)
        loaded = _witnessmark(data, "load", str(lists))
        if loaded.returncode != 0:
            raise RuntimeError(f"the lists did not load: {loaded.stdout[-500:]}{loaded.stderr[-2000:]}")
        yield data


@figure("road.load_10000_rows_cpu_s", unit="s", goal=20)
def load_10000_rows(full: bool) -> tuple[float, str]:
    """CPU time of `witnessmark load` with 10,000 rows into an empty record, start of the program included."""
    least = float("inf")
    times = 5 if full else 3
    for _ in range(times):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        with _shop(LARGE):
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
        least = min(least, after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime)
    return least, f"the least of {times}"


@figure("road.screen_queries_grow", unit="queries", goal=0)
def screen_queries_grow(full: bool) -> tuple[float, str]:
    """Queries of each screen with 10,000 pieces less those with 100; the worst screen."""
    counted = []
    for parts in (SMALL, LARGE):
        with _shop(parts) as data:
            counted.append(_inside(data, "queries"))
    grown = {screen: counted[1][screen] - counted[0][screen] for screen in counted[0]}
    worst = max(grown, key=lambda screen: grown[screen])
    return grown[worst], f"worst of {len(grown)} screens: {worst}, {counted[1][worst]} queries"


@figure("road.search_10000_cpu_ms", unit="ms", goal=50)
def search_10000(full: bool) -> tuple[float, str]:
    """CPU time of one search among 10,000 pieces and 10,000 places; the slowest of several words, least of five."""
    with _shop(LARGE) as data:
        told = _inside(data, "search")
    slowest = max(told, key=lambda words: told[words])
    return told[slowest], f"slowest of {len(told)} searches: '{slowest}'"


@figure("road.ledger_machine_violations", unit="violations", goal=0)
def ledger_machine(full: bool) -> tuple[float, str]:
    """Broken laws of the ledger over random acts, right and wrong ones (20,000; 100,000 in full), in two processes with a seed each."""
    each = (ACTS_FULL if full else ACTS_SAMPLE) // 2
    seeds = (SEED, SEED + 1)
    with tempfile.TemporaryDirectory(prefix="witnessmark-bench-") as temporary, ThreadPoolExecutor(2) as pool:
        told = list(pool.map(lambda seed: _inside(Path(temporary) / str(seed), "machine", str(each), str(seed)), seeds))
    acts, refused, violations = (sum(one[key] for one in told) for key in ("acts", "refused", "violations"))
    return violations, f"{acts} acts, of which {refused} were refused; seeds {seeds[0]} and {seeds[1]}"


@figure("road.second_start_s", unit="s", goal=3)
def second_start(full: bool) -> tuple[float, str]:
    """Seconds from the command to the first answered page, with the demo loaded before; the least of some starts."""
    times = 5 if full else 3
    with tempfile.TemporaryDirectory(prefix="witnessmark-bench-") as temporary:
        data = Path(temporary) / "data"
        first = _witnessmark(data, "demo", "--no-serve")
        if first.returncode != 0:
            raise RuntimeError(f"the demo did not load: {first.stderr[-2000:]}")
        return min(_start_once(data) for _ in range(times)), f"the least of {times} starts, wall clock"


def _start_once(data: Path) -> float:
    began = time.monotonic()
    server = subprocess.Popen(
        [sys.executable, "-m", "witnessmark", "--data", str(data), "demo", "--port", "0"],
        env={**_environment(data), "PYTHONUNBUFFERED": "1"},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    try:
        assert server.stdout is not None
        address = next(found[0] for line in server.stdout if (found := re.search(r"http://127\.0\.0\.1:\d+/", line)))
        while time.monotonic() - began < 60:
            with contextlib.suppress(OSError), urllib.request.urlopen(address, timeout=5):  # noqa: S310  our own server
                return time.monotonic() - began
            time.sleep(0.01)
        raise RuntimeError("the demo did not answer within a minute")
    finally:
        server.terminate()
        server.wait()
