"""Serving and the demo's start, as a person runs them: each in a process of its own."""

import contextlib
import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

SRC = Path(__file__).parents[2] / "src"


def environment(data: Path) -> dict[str, str]:
    return {
        **os.environ,
        "PYTHONPATH": str(SRC),
        "PYTHONUNBUFFERED": "1",
        "WITNESSMARK_DATA": str(data),
        "WITNESSMARK_DATABASE": "",
        "DJANGO_SETTINGS_MODULE": "witnessmark.settings",
    }


def witnessmark(data: Path, *words: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "witnessmark", *words]
    return subprocess.run(command, env=environment(data), capture_output=True, text=True, timeout=400, check=False)


@contextlib.contextmanager
def started(data: Path, *words: str) -> Iterator[subprocess.Popen[str]]:
    command = [sys.executable, "-m", "witnessmark", *words]
    process = subprocess.Popen(
        command, env=environment(data), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    try:
        yield process
    finally:
        if process.poll() is None:
            process.kill()
        process.communicate()


def children(pid: int) -> list[int]:
    """List the processes that any of its threads started."""
    with contextlib.suppress(FileNotFoundError):
        return [int(word) for file in Path(f"/proc/{pid}/task").glob("*/children") for word in file.read_text().split()]
    return []


def wait_for(what, seconds: float = 60) -> bool:
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if what():
            return True
        time.sleep(0.05)
    return False


@pytest.fixture
def taken() -> Iterator[int]:
    with socket.socket() as holding:
        holding.bind(("127.0.0.1", 0))
        holding.listen()
        yield holding.getsockname()[1]


@pytest.mark.parametrize("command", ["serve", "demo"])
def test_a_taken_port_is_one_line_with_the_mend(tmp_path, taken, command) -> None:
    told = witnessmark(tmp_path / "data", command, "--port", str(taken))
    assert told.returncode == 2
    assert told.stdout == ""
    assert told.stderr.startswith(f"Port {taken} is taken;")
    assert f"--port {taken + 1}" in told.stderr
    assert told.stderr.count("\n") == 1
    assert not (tmp_path / "data").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--port", "70000"], "There is no port 70000."),
        (["--host", "256.1.1.1"], "is no address of this machine"),
        (["--host", "192.0.2.1", "--port", "0"], "is no address of this machine"),
    ],
)
def test_a_wrong_address_is_one_line(tmp_path, words, said) -> None:
    told = witnessmark(tmp_path, "serve", *words)
    assert told.returncode == 2
    assert said in told.stderr
    assert told.stderr.count("\n") == 1


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT])
def test_it_answers_on_a_free_port_and_ends_with_its_worker(tmp_path, how) -> None:
    with started(tmp_path / "data", "serve", "--port", "0") as server:
        assert server.stdout is not None
        address = server.stdout.readline().strip()
        assert re.fullmatch(r"http://127\.0\.0\.1:\d+/", address)
        with urllib.request.urlopen(address, timeout=60) as answer:
            assert answer.status == 200
            assert "sign-in" in answer.url
        assert wait_for(lambda: children(server.pid))
        worker = children(server.pid)[0]
        # Between fork and exec the child still carries its parent's words.
        assert wait_for(lambda: b"worker" in Path(f"/proc/{worker}/cmdline").read_bytes())
        server.send_signal(how)
        assert server.wait(60) == 0
        assert not Path(f"/proc/{worker}").exists()
        assert server.stderr is not None
        assert server.stderr.read() == ""


def test_an_empty_record_prints_the_link_that_begins_it(tmp_path) -> None:
    with started(tmp_path / "data", "serve", "--port", "0", "--json") as server:
        assert server.stdout is not None
        told = json.loads("".join(server.stdout.readline() for _ in range(4)))
        assert re.fullmatch(re.escape(told["address"]) + r"begin/[0-9a-f]{32}/", told["begin"])
        with urllib.request.urlopen(told["begin"], timeout=60) as answer:
            assert "Your name" in answer.read().decode()


def test_a_killed_server_leaves_no_worker_behind(tmp_path) -> None:
    with started(tmp_path / "data", "serve", "--port", "0") as server:
        assert wait_for(lambda: children(server.pid))
        worker = Path(f"/proc/{children(server.pid)[0]}")
        server.kill()
        server.wait()
        assert wait_for(lambda: not worker.exists() or "\nState:\tZ" in (worker / "status").read_text())


def test_a_worker_alone_does_what_waits_and_ends(tmp_path) -> None:
    assert witnessmark(tmp_path, "worker", "--once").returncode == 2  # there is no record yet
    with started(tmp_path, "serve", "--port", "0") as server:
        assert server.stdout is not None
        server.stdout.readline()
    told = witnessmark(tmp_path, "worker", "--once", "--json")
    assert (told.returncode, json.loads(told.stdout)) == (0, {"done": 0})


def contents(folder: Path) -> dict[str, bytes]:
    return {str(each): each.read_bytes() for each in folder.rglob("*") if each.is_file()}


@pytest.mark.parametrize("name", ["letter.txt", "photos/ab/cd", "record.sqlite3"])
def test_the_demo_touches_no_folder_that_holds_something_else(tmp_path, name) -> None:
    file = tmp_path / name
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(b"somebody's own")
    before = contents(tmp_path)
    told = witnessmark(tmp_path, "demo", "--no-serve")
    assert told.returncode == 2
    assert "nothing in it was touched" in told.stderr
    assert told.stderr.count("\n") == 1
    assert contents(tmp_path) == before


def test_the_demo_touches_no_record_of_a_shop(tmp_path) -> None:
    lists, data = tmp_path / "lists", tmp_path / "data"
    lists.mkdir()
    (lists / "aircraft.csv").write_text("aircraft,works_number,arrived_on\nOwn bird,1,2026-01-05\n")
    (lists / "people.csv").write_text("name,role,craft\nLead,lead,\n")
    loaded = witnessmark(data, "load", str(lists))
    assert loaded.returncode == 0, loaded.stderr
    before = contents(data)
    told = witnessmark(data, "demo", "--port", "0")
    assert told.returncode == 2
    assert "nothing in it was touched" in told.stderr
    assert contents(data) == before


def test_the_demo_names_a_file_in_the_way(tmp_path) -> None:
    file = tmp_path / "file"
    file.write_text("x")
    assert "is a file" in witnessmark(file, "demo", "--no-serve").stderr
    told = witnessmark(tmp_path / "data", "demo", "--no-serve", "--out", str(file))
    assert told.returncode == 2
    assert "is a file" in told.stderr
    assert not (tmp_path / "data").exists()


def test_a_demo_that_was_killed_is_completed_by_the_next_start(tmp_path) -> None:
    data = tmp_path / "data"
    with started(data, "demo", "--no-serve") as killed:
        assert killed.stderr is not None
        for line in killed.stderr:
            if "seams.csv" in line:
                killed.kill()
                break
        killed.wait()
    assert (data / "demo.loading").exists()
    assert not (data / "demo.stamp").exists()
    again = witnessmark(data, "demo", "--no-serve", "--json", "--out", str(tmp_path / "papers"))
    assert again.returncode == 0, again.stderr
    told = json.loads(again.stdout)
    assert told["ledger"]["balanced"]
    assert told["places"] >= 400
    assert told["parts"] + told["bags"] >= 250
    assert told["rows"] >= 60
    assert told["findings"] >= 40
    assert told["can_work"]
    assert all(Path(paper).read_bytes().startswith(b"%PDF") for paper in told["papers"])
    assert len(told["papers"]) >= 5
    assert "refused" not in again.stderr
    left = {each.name for each in data.iterdir()}
    assert left == {"cache", "demo.stamp", "photos", "record.sqlite3", "secret-key"}
    _starts_again_and_signs_in(data)


def _starts_again_and_signs_in(data: Path) -> None:
    with started(data, "demo", "--port", "0") as server:
        assert server.stdout is not None
        address = server.stdout.readline().strip()
        with urllib.request.urlopen(address, timeout=60) as answer:
            assert answer.status == 200
        link = server.stdout.readline().strip()
        assert re.fullmatch(rf"Sign in once with: {address}in/[\w-]{{43}}/", link)
        assert any(line.startswith("The ledger balances") for line in server.stdout)
        server.terminate()
        assert server.wait(60) == 0
