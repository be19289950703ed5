"""A PostgreSQL server for as long as the tests need one, on a free loopback port, gone afterwards.

As a command: `python -m tests.support.postgres COMMAND...` runs COMMAND with WITNESSMARK_DATABASE set.
"""

import os
import shutil
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


def server_folder() -> Path | None:
    """Find the folder of the server's own programs; Debian keeps them off the path."""
    for root in sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda p: -float(p.parent.name)):
        if (root / "initdb").exists():
            return root
    found = shutil.which("initdb")
    return Path(found).resolve().parent if found else None


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def running() -> Iterator[str]:
    """Yield the URL of a fresh server; root starts it as postgres, for PostgreSQL refuses root."""
    programs = server_folder()
    if programs is None:
        raise FileNotFoundError("no PostgreSQL server here (initdb not found)")
    as_server = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
    # /tmp by name: the tests' own temporary folder may lie below one that postgres cannot enter.
    folder = Path(tempfile.mkdtemp(prefix="witnessmark-pg-", dir="/tmp"))
    if as_server:
        shutil.chown(folder, "postgres")
    folder.chmod(0o700)

    def call(*command: str) -> None:
        done = subprocess.run(
            [*as_server, *command], cwd="/", capture_output=True, text=True, stdin=subprocess.DEVNULL, check=False
        )
        if done.returncode != 0:
            log = folder / "log"
            told = log.read_text(errors="replace")[-2000:] if log.exists() else ""
            raise RuntimeError(f"{command[0]} failed: {done.stdout}{done.stderr}{told}")

    data, port = folder / "data", _free_port()
    try:
        call(str(programs / "initdb"), "-D", str(data), "-U", "witnessmark", "-A", "trust", "-E", "UTF8", "--locale=C")
        # fsync off: these tables need not outlive the run. No nested loops: tables filled inside a test's transaction
        # have no statistics, and the planner would take thousands of rows for one.
        settings = ("fsync=off", "enable_nestloop=off", "listen_addresses=127.0.0.1", f"port={port}")
        options = " ".join(f"-c {each}" for each in (*settings, f"unix_socket_directories={folder}"))
        start = ["-D", str(data), "-l", str(folder / "log"), "-o", options, "-w", "-t", "60", "start"]
        call(str(programs / "pg_ctl"), *start)
        try:
            yield f"postgresql://witnessmark@127.0.0.1:{port}/postgres"
        finally:
            call(str(programs / "pg_ctl"), "-D", str(data), "-m", "immediate", "-w", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def main(command: list[str]) -> int:
    """Run a command beside the server and hand back its exit code."""
    if not command:
        print(__doc__, file=sys.stderr)
        return 2
    with running() as url:
        return subprocess.run(command, env={**os.environ, "WITNESSMARK_DATABASE": url}, check=False).returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
