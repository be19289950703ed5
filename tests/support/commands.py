"""A command run with --json, as the tests of the commands do."""

import json
from typing import Any

import pytest

from witnessmark.cli.main import main


def told(capsys: pytest.CaptureFixture[str], code: int, *words: str) -> dict[str, Any]:
    """Run it, hold it to its exit code, and read what it said."""
    got = main([*words, "--json"])
    out, err = capsys.readouterr()
    assert got == code, err
    return dict(json.loads(out))
