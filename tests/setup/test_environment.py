"""The launcher makes real environments: slow, so apart from the fast check."""

import fcntl
import subprocess
import sys

from tests.support.checkout import checkout, empty_locks, start

__all__ = ["checkout"]


def test_no_network_is_one_line_and_the_next_start_makes_it_anew(checkout):
    done = start(checkout, "demo")
    assert done.returncode == 2
    assert done.stdout == ""
    last = done.stderr.splitlines()[-1]
    assert last.startswith("The packages could not be fetched: no network")
    assert "Traceback" not in done.stderr

    empty_locks(checkout)
    done = start(checkout, "demo", "--port", "0")
    assert (done.returncode, done.stdout) == (0, "called with demo --port 0\n")
    assert "is not complete: making it anew." in done.stderr

    done = start(checkout, "demo")
    assert (done.stdout, done.stderr) == ("called with demo\n", "")  # the second start only hands over


def test_two_starts_at_once_take_turns(checkout):
    empty_locks(checkout)
    with (checkout / ".venv.lock").open("w") as turn:
        fcntl.flock(turn, fcntl.LOCK_EX)
        second = subprocess.Popen(
            [sys.executable, str(checkout / "witnessmark"), "where"],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        assert second.stderr is not None
        assert "waiting for it" in second.stderr.readline()
        assert not (checkout / ".venv").exists()
    out, told = second.communicate(timeout=300)
    assert out == "called with where\n", told
