"""`./witnessmark check` and `./witnessmark test [--install]`: run the checks and the tests, and count them.

Exit codes: 0 all passed, 1 something failed, 2 something could not run (and nothing failed).
"""

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
import xml.etree.ElementTree as ET
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

from tests.support import postgres

IMPORTS = "from importlinter.cli import lint_imports_command as c; c()"
CHECKS = {
    "style": ["-m", "ruff", "check", "."],
    "format": ["-m", "ruff", "format", "--check", "--quiet", "."],
    "types": ["-m", "mypy"],
    "imports": ["-c", IMPORTS, "--no-cache"],
}
FEW = 4  # more failures than these are no race
# What the tests need from the system: a word for people, the Debian package, how to tell that it is here.
PACKAGES: dict[str, Callable[[], object]] = {
    "chromium": lambda: shutil.which("chromium") or shutil.which("chromium-browser"),
    "postgresql": postgres.server_folder,
    "poppler-utils": lambda: shutil.which("pdftoppm"),
}


@dataclass
class Tally:
    """What passed, failed and could not run, over every step."""

    passed: int = 0
    failed: int = 0
    skipped: int = 0
    second_time: int = 0
    not_run: list[str] = field(default_factory=list)
    failures: list[str] = field(default_factory=list)

    def check(self, name: str) -> None:
        """Run one of CHECKS."""
        _headline(name)
        if _python(CHECKS[name]) == 0:
            self.passed += 1
        else:
            self.failed += 1
            self.failures.append(name)

    def tests(self, name: str, *arguments: str) -> None:
        """Run pytest once and count from its report."""
        _headline(name)
        self._take(name, *_pytest(*arguments))

    def tests_on_both(self, name: str, other: str, url: str, *arguments: str) -> None:
        """Run pytest on SQLite, and what touches the database on a server beside it; the other's words come after."""
        _headline(f"{name}, and beside them {other}")
        with ThreadPoolExecutor() as beside, tempfile.TemporaryFile("w+") as words:
            on_server = beside.submit(_pytest, "-m", "uses_database", *arguments, database=url, words=words)
            self._take(name, *_pytest(*arguments))
            code, count = on_server.result()
            _headline(other)
            words.seek(0)
            print(words.read(), flush=True)
            self._take(other, code, count)

    def browser_tests(self, name: str, folder: str) -> None:
        """Run the browser's tests; a few that fail are told once more, alone, and each that then passes is named.

        A browser on a busy machine loses races that say nothing of the program; a fault fails both times.
        """
        _headline(name)
        code, count = _pytest(folder)
        bad = count["failures"] + count["errors"]
        if code == 1 and 0 < bad <= FEW:
            _headline(f"{name}: what failed, once more")
            code, again = _pytest("--last-failed", "--last-failed-no-failures=none", folder)
            left = again["failures"] + again["errors"]
            self.second_time += max(0, bad - left)
            count = {**count, "failures": left, "errors": 0, "tests": count["tests"] - bad + again["tests"]}
        self._take(name, code, count)

    def _take(self, name: str, code: int, count: dict[str, int]) -> None:
        bad = count["failures"] + count["errors"]
        self.passed += count["tests"] - bad - count["skipped"]
        self.failed += bad
        self.skipped += count["skipped"]
        if code not in (0, 5):  # 5: nothing was there to collect
            self.failures.append(name)
            if not bad:  # it fell over before it could count
                self.failed += 1

    def close(self) -> int:
        """Say what happened, the totals last, and choose the exit code."""
        print()
        for name in self.failures:
            print(f"Failed: {name}.")
        for name in self.not_run:
            print(f"Did not run: {name}.")
        if self.second_time:
            print(
                f"Of the tests in the browser, {self.second_time} failures did not come back when told once more: see above."
            )
        if self.skipped:
            print(f"{self.skipped} tests skipped themselves; pytest says why above.")
        print(f"{self.passed} passed, {self.failed} failed", flush=True)
        if self.failed:
            return 1
        return 2 if self.not_run else 0


def _headline(name: str) -> None:
    print(f"\n== {name} ({time.strftime('%H:%M:%S')})", flush=True)


def _python(arguments: list[str], words: IO[str] | None = None, **variables: str) -> int:
    surroundings = {**os.environ, **variables}
    errors = subprocess.STDOUT if words else None
    return subprocess.run(
        [sys.executable, *arguments], env=surroundings, stdout=words, stderr=errors, check=False
    ).returncode


def _pytest(*arguments: str, database: str = "", words: IO[str] | None = None) -> tuple[int, dict[str, int]]:
    """Run pytest; its exit code, and what its report counted."""
    counted = ("tests", "failures", "errors", "skipped")
    with tempfile.TemporaryDirectory(prefix="witnessmark-report-") as folder:
        report = Path(folder) / "report.xml"
        code = _python(["-m", "pytest", "-q", f"--junitxml={report}", *arguments], words, WITNESSMARK_DATABASE=database)
        suite = ET.parse(report).getroot().find("testsuite") if report.exists() else None
    return code, {key: int(suite.get(key, "0")) if suite is not None else 0 for key in counted}


def _there(*folders: str) -> list[str]:
    return [folder for folder in folders if Path(folder).exists()]


def install() -> str:
    """Bring what is missing with apt-get; return what stood in the way, or nothing."""
    missing = [name for name, here in PACKAGES.items() if not here()]
    if not missing:
        return ""
    by_hand = f"apt-get install {' '.join(missing)}"
    if os.geteuid() != 0:
        return f"Not root, so not installed: {', '.join(missing)}. As root: {by_hand}."
    if not shutil.which("apt-get"):
        return f"No apt-get here, so not installed: {', '.join(missing)}. Install them by this system's own means."
    surroundings = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for command in (["apt-get", "update"], ["apt-get", "install", "-y", "--no-install-recommends", *missing]):
        _headline(" ".join(command))
        done = subprocess.run(
            command, env=surroundings, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False
        )
        if done.returncode != 0:
            return f"apt-get failed: {done.stderr.strip()[-500:]} Try by hand: {by_hand}."
    return ""


def check() -> int:
    """The fast check before a commit: no database server, no browser."""
    tally = Tally()
    for name in CHECKS:
        tally.check(name)
    tally.tests("documents, units, handbook", *_there("tests/test_docs.py", "tests/unit", "tests/handbook"))
    return tally.close()


def test(*, wants_install: bool) -> int:
    """Everything: the checks, and every test; those that touch the database on both databases."""
    refused = install() if wants_install else ""
    if refused:
        print(refused, flush=True)
    tally = Tally()
    for name in CHECKS:
        tally.check(name)
    has_browser = PACKAGES["chromium"]() is not None
    every = ("tests", "--ignore=tests/browser")
    with ExitStack() as stack:
        try:
            url = stack.enter_context(postgres.running()) if postgres.server_folder() else ""
        except RuntimeError as error:
            print(f"PostgreSQL did not start: {error}", flush=True)
            url = ""
        if url:
            tally.tests_on_both("tests on SQLite", "tests on PostgreSQL", url, *every)
        else:
            tally.tests("tests on SQLite", *every)
            tally.not_run.append("every test on PostgreSQL, for there is no server (apt-get install postgresql)")
    if has_browser:
        for folder in _there("tests/browser"):
            tally.browser_tests("tests in the browser", folder)
    else:
        tally.not_run.append("the tests in the browser, for there is no Chromium (apt-get install chromium)")
    if not PACKAGES["poppler-utils"]():
        tally.not_run.append("the looks at printed pages, for there is no pdftoppm (apt-get install poppler-utils)")
    return tally.close()


def main(arguments: list[str]) -> int:
    """Read the command line."""
    parser = argparse.ArgumentParser(prog="./witnessmark", description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True)
    commands.add_parser("check", help="the fast check before a commit")
    tests = commands.add_parser("test", help="everything, on both databases and in the browser")
    tests.add_argument("--install", action="store_true", help="bring what the tests need from the system (as root)")
    args = parser.parse_args(arguments)
    return check() if args.command == "check" else test(wants_install=args.install)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
