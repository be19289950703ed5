"""The launcher says in one line what stands in the way, and the mend."""

import ast
import os
import re
import shutil
import subprocess
import sys
from importlib.machinery import SourceFileLoader
from importlib.util import module_from_spec, spec_from_loader
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[2]


def launcher_module() -> ModuleType:
    loader = SourceFileLoader("launcher", str(ROOT / "witnessmark"))
    spec = spec_from_loader("launcher", loader)
    assert spec is not None
    launcher = module_from_spec(spec)
    loader.exec_module(launcher)
    return launcher


def checkout(into: Path) -> Path:
    """Copy what the launcher needs, without an environment."""
    shutil.copy(ROOT / "witnessmark", into / "witnessmark")
    shutil.copytree(ROOT / "requirements", into / "requirements")
    return into / "witnessmark"


def start(python: str, launcher: Path, *words: str, **env: str) -> subprocess.CompletedProcess[str]:
    surroundings = {**os.environ, **env}
    return subprocess.run(
        [python, str(launcher), *words], env=surroundings, capture_output=True, text=True, check=False, timeout=300
    )


def test_an_old_python_is_one_line_with_the_mend() -> None:
    told = launcher_module().too_old((3, 8, 18), ["demo"])
    assert told.startswith("Python 3.11 or newer is needed; this is 3.8.18. ")
    assert "start with" in told or "Install Python 3.11" in told
    assert "\n" not in told


def test_the_launcher_reads_on_old_pythons() -> None:
    """So that they can say what is wrong: no syntax younger than Python 3.6."""
    source = (ROOT / "witnessmark").read_text()
    ast.parse(source, feature_version=(3, 6))
    assert not re.search(r"""\bf["']""", source)


def test_no_network_is_one_line_after_the_progress_and_is_made_anew(tmp_path: Path) -> None:
    launcher = checkout(tmp_path)
    nowhere = {
        "PIP_INDEX_URL": "http://127.0.0.1:9/simple",
        "PIP_EXTRA_INDEX_URL": "",
        "PIP_CONFIG_FILE": os.devnull,
        "PIP_FIND_LINKS": "",
        "PIP_NO_CACHE_DIR": "1",
        "PIP_RETRIES": "0",
    }
    told = start(sys.executable, launcher, "demo", **nowhere)
    assert told.returncode == 2
    assert told.stdout == ""
    assert "Connect this machine and start again" in told.stderr.splitlines()[-1]
    assert not list((tmp_path / ".venv").glob("*stamp*"))
    again = start(sys.executable, launcher, "demo", **nowhere)
    assert "making it anew" in again.stderr


def test_a_python_without_the_venv_module_names_the_package(tmp_path: Path) -> None:
    launcher = checkout(tmp_path)
    hidden = tmp_path / "hidden"
    hidden.mkdir()
    (hidden / "ensurepip.py").write_text("raise ImportError('ensurepip is not here')\n")
    told = start(sys.executable, launcher, "demo", PYTHONPATH=str(hidden))
    assert told.returncode == 2
    assert "python3-venv" in told.stderr
    assert told.stderr.count("\n") == 1


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    launcher = checkout(tmp_path)
    tmp_path.chmod(0o555)
    told = start(sys.executable, launcher, "demo")
    tmp_path.chmod(0o755)
    assert told.returncode == 2
    assert "cannot be written" in told.stderr


@pytest.mark.parametrize(
    ("output", "words"),
    [
        ("ERROR: Could not install packages due to an OSError: [Errno 28] No space left on device", "disk is full"),
        ("THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE", "recorded hash"),
        ("ERROR: No matching distribution found for numpy==2.4.6", "no build of numpy==2.4.6"),
        ("NewConnectionError: Failed to establish a new connection", "no network"),
        ("something nobody has seen", ""),
    ],
)
def test_what_pip_says_becomes_one_sentence(output: str, words: str) -> None:
    told = launcher_module().explain(output)
    assert (told is None) if not words else words in told
