"""The launcher: each thing that stops a start is one clear line with the mend; a half-made environment is made anew."""

import errno
import importlib.machinery
import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.support.checkout import checkout, empty_locks, start

__all__ = ["checkout"]

ROOT = Path(__file__).resolve().parent.parent.parent
OLD = ("2.7", "3.6", "3.7", "3.8", "3.9", "3.10")


def load_launcher():
    loader = importlib.machinery.SourceFileLoader("launcher", str(ROOT / "witnessmark"))
    spec = importlib.util.spec_from_loader("launcher", loader)
    assert spec is not None
    module = importlib.util.module_from_spec(spec)
    keeps, sys.dont_write_bytecode = sys.dont_write_bytecode, True
    try:
        loader.exec_module(module)
    finally:
        sys.dont_write_bytecode = keeps
    return module


@pytest.fixture
def launcher():
    return load_launcher()


def old_pythons():
    for version in OLD:
        found = sorted(Path("/root/.pyenv/versions").glob(f"{version}.*/bin/python")) if os.geteuid() == 0 else []
        path = str(found[0]) if found else shutil.which(f"python{version}")
        if path and subprocess.run([path, "-c", ""], capture_output=True).returncode == 0:
            yield pytest.param(path, version, id=version)


@pytest.mark.parametrize(("python", "version"), list(old_pythons()))
def test_an_old_python_says_so_in_one_line(checkout, python, version):
    done = start(checkout, "demo", python=python)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith(f"Python 3.11 or newer is needed; this is {version}.")
    assert done.stderr.count("\n") == 1
    assert not (checkout / ".venv").exists()


def test_an_old_python_names_a_newer_one_that_is_here_or_how_to_get_one(launcher, monkeypatch):
    monkeypatch.setattr(launcher, "runs", lambda name: name == "python3.12")
    monkeypatch.setattr(sys, "argv", ["./witnessmark"])
    assert launcher.too_old((3, 8, 18), ["demo", "--no-serve"]) == (
        "Python 3.11 or newer is needed; this is 3.8.18. "
        "One is here: start with `python3.12 ./witnessmark demo --no-serve`."
    )
    monkeypatch.setattr(launcher, "runs", lambda name: False)
    assert "Install Python 3.11" in launcher.too_old((2, 7, 18), [])


@pytest.mark.parametrize("module", ["venv", "ensurepip"])
def test_no_venv_module_is_one_line(checkout, tmp_path_factory, module):
    hidden = tmp_path_factory.mktemp("hidden")
    (hidden / f"{module}.py").write_text(f"raise ImportError('No module named {module}')\n")
    done = start(checkout, "demo", PYTHONPATH=str(hidden))
    assert done.returncode == 2
    assert done.stderr.startswith(f"This Python has no {module} module")
    assert "apt-get install python3-venv" in done.stderr
    assert done.stderr.count("\n") == 1


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can start it as somebody who owns nothing")
def test_a_folder_of_somebody_elses_is_one_line():
    import tempfile

    # /tmp by name: nobody may not enter pytest's own folders.
    with tempfile.TemporaryDirectory(dir="/tmp") as folder:
        place = Path(folder)
        place.chmod(0o755)
        shutil.copy(ROOT / "witnessmark", place / "witnessmark")
        shutil.copytree(ROOT / "requirements", place / "requirements")
        # The system's own Python: the one that runs these tests may lie where nobody cannot reach it.
        python = shutil.which("python3", path="/usr/local/bin:/usr/bin")
        if python is None:
            pytest.skip("no python3 in the system's own folders")
        done = start(place, "demo", python=python, user="nobody")
    assert done.returncode == 2
    assert "cannot be written" in done.stderr
    assert done.stderr.count("\n") == 1


def test_a_file_in_the_way_is_one_line(checkout):
    (checkout / ".venv").write_text("")
    done = start(checkout, "demo")
    assert done.returncode == 2
    assert "cannot be written (Not a directory)" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("printed", "words"),
    [
        ("ERROR: Could not install packages due to an OSError: [Errno 28] No space left on device", "The disk is full"),
        ("OSError: [Errno 122] Disk quota exceeded", "The disk is full"),
        ("ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE.", "does not match its recorded hash"),
        ("Temporary failure in name resolution\nERROR: No matching distribution found for numpy==2", "no network"),
        ("ERROR: No matching distribution found for numpy==2.4.6 (from -r x)", "no build of numpy==2.4.6 for this machine"),
        ("The virtual environment was not created successfully because ensurepip is not available.", "no ensurepip module"),
        ("error: [Errno 30] Read-only file system: '/x'", "cannot be written (read only)"),
    ],
)  # fmt: skip
def test_what_pip_prints_becomes_one_line_with_the_mend(launcher, printed, words):
    told = launcher.explain(printed)
    assert words in told
    assert "\n" not in told


def test_a_full_disk_of_this_machines_own_is_the_same_line(launcher):
    assert launcher.explain_error(OSError(errno.ENOSPC, "")) == launcher.explain("Errno 28")
    assert launcher.explain_error(OSError(errno.EIO, "")) is None
    assert launcher.explain("something new") is None


def test_a_changed_lock_is_noticed(launcher, checkout, monkeypatch):
    empty_locks(checkout)
    monkeypatch.setattr(launcher, "VENV", str(checkout / ".venv"))
    monkeypatch.setattr(launcher, "PYTHON", sys.executable)
    monkeypatch.setattr(launcher, "LOCKS", str(checkout / "requirements"))
    (checkout / ".venv").mkdir()
    assert not launcher.is_made("run")
    launcher.write_stamp("run")
    assert launcher.is_made("run")
    assert not launcher.is_made("dev")
    (checkout / "requirements" / "run.lock").write_text("# another\n")
    assert not launcher.is_made("run")


def test_the_launcher_reads_on_old_pythons_and_stays_short():
    text = (ROOT / "witnessmark").read_text(encoding="ascii")
    assert text.count("\n") < 500
    assert "print_function" in text
    assert os.access(ROOT / "witnessmark", os.X_OK)
