"""`rivet` reckons without a record and refuses figures that cannot be."""

import json
from pathlib import Path

import pytest

from tests.unit.test_fastener_commands import run

FLUSH = ["rivet", "flush", "--head", "6", "--angle", "120", "--mouth", "5.6", "--seat-angle", "120", "--hole", "3.1"]
JOINT = [
    "rivet", "joint", "--diameter", "1/8 in", "--hole", "0.1285 in", "--pitch", "20", "--edge", "9", "--sheet", "1.2",
    "--rivet-shear-mpa", "207", "--tensile-mpa", "400", "--bearing-mpa", "640", "--sheet-shear-mpa", "240",
]  # fmt: skip


def test_each_way_answers_with_its_working(tmp_path: Path) -> None:
    """Lecture notes ch. 6: 8.4 mm; the die made for a 5.6 head leaves a 6.0 head 0.2 / tan 60 proud."""
    length = json.loads(run(tmp_path, "rivet", "length", "--grip", "2.4", "--diameter", "4").stdout)
    assert length["rule_mm"] == pytest.approx(8.4)
    flush = json.loads(run(tmp_path, *FLUSH, "--shank", "3").stdout)
    assert (flush["accepted"], round(flush["rim_mm"], 3)) == (False, 0.115)
    joint = json.loads(run(tmp_path, *JOINT, "--sheet", "2", "--against", "3.5").stdout)
    assert joint["substitute"]["shear_n"] > joint["original"]["shear_n"]
    assert joint["original"]["working"]["sources"]
    spares = json.loads(run(tmp_path, "rivet", "spares", "--holes", "421").stdout)
    assert spares["chance_short"] <= 0.05


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (["rivet", "length", "--grip", "2.4", "--diameter", "0.125"], "look at its unit"),
        ([*FLUSH, "--shank", "6.5"], "wider than its shank"),
        (JOINT, "a layer is missing"),
        (["rivet", "spares", "--holes=-4"], "not negative"),
    ],
)
def test_what_cannot_be_is_refused_by_name(tmp_path: Path, words: list[str], why: str) -> None:
    done = run(tmp_path, *words)
    assert done.returncode == 1
    assert why in json.loads(done.stdout)["refused"]
