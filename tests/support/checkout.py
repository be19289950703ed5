"""A small checkout to try the launcher in: the real launcher, its own locks, a program that says how it was called."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent


@pytest.fixture
def checkout(tmp_path: Path) -> Path:
    """A checkout with one small package to fetch and a program that says what it was called with."""
    shutil.copy(ROOT / "witnessmark", tmp_path / "witnessmark")
    (tmp_path / "requirements").mkdir()
    for kind in ("run", "dev"):
        (tmp_path / "requirements" / f"{kind}.lock").write_text(f"no-such-package==1.0 --hash=sha256:{'0' * 64}\n")
    package = tmp_path / "src" / "witnessmark"
    package.mkdir(parents=True)
    (package / "__init__.py").touch()
    (package / "__main__.py").write_text("import sys; print('called with', *sys.argv[1:])\n")
    return tmp_path


def start(
    checkout: Path, *arguments: str, python: str = sys.executable, user: str | None = None, **variables: str
) -> subprocess.CompletedProcess[str]:
    """Start with no settings of this machine's pip, no cache, and a closed port where the index would be."""
    surroundings = {key: value for key, value in os.environ.items() if not key.startswith(("PIP_", "PYTHON"))}
    surroundings |= {
        "PIP_CONFIG_FILE": os.devnull,
        "PIP_NO_CACHE_DIR": "1",
        "PIP_INDEX_URL": "http://127.0.0.1:9/simple",
        **variables,
    }
    return subprocess.run(
        [python, str(checkout / "witnessmark"), *arguments],
        env=surroundings, capture_output=True, text=True, stdin=subprocess.DEVNULL, user=user, cwd="/", check=False,
    )  # fmt: skip


def empty_locks(checkout: Path) -> None:
    """Let there be nothing to fetch."""
    for kind in ("run", "dev"):
        (checkout / "requirements" / f"{kind}.lock").write_text("# nothing to fetch\n")
