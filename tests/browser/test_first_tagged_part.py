"""From the link that `serve` prints on an empty folder to the first part under its tag, in the browser."""

import json
import os
import subprocess
import sys
from pathlib import Path

import witnessmark


def test_the_first_tagged_part_takes_at_most_eight_steps() -> None:
    """Count in a process of its own: the browser of the other stories has this one's loop."""
    source = str(Path(witnessmark.__file__).parents[1])
    done = subprocess.run(
        [sys.executable, "-m", "witnessmark", "bench", "day.first_tagged_part_steps", "--json"],
        env={**os.environ, "DJANGO_SETTINGS_MODULE": "witnessmark.settings", "PYTHONPATH": source},
        capture_output=True,
        text=True,
        check=True,
    )
    (steps,) = json.loads(done.stdout)
    assert steps["met"], steps
