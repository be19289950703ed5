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


DIMPLES = ["rivet", "dimples", "--shank", "3.5", "--sheet", "0.8", "--sheet", "1.0"]


def test_splice_dimples_and_a_countersunk_joint_say_json(tmp_path: Path) -> None:
    """AC 43.13-1B fig. 4-20: 3 a side; geometry: 7.83; BS 5950-1 as quoted: a countersink takes bearing, not shear."""
    done = json.loads(run(tmp_path, "rivet", "splice", "--rivet", "1/8", "--sheet", "0.032 in", "--width", "0.6 in", "--part", "frame").stdout)  # fmt: skip
    assert (done["rates"][0]["table"], done["rates"][0]["count_frame"]) == ("4-9", 3)
    bolt = json.loads(run(tmp_path, "rivet", "bolt", "--an", "an4", "--stack", "0.4 in").stdout)
    assert (bolt["dash"], bolt["washers"]) == (7, "one washer")
    nested = json.loads(run(tmp_path, *DIMPLES, "--head", "7.4", "--angle", "120").stdout)
    assert round(nested["dimples"][1]["mouth_mm"], 2) == 7.83
    joint = json.loads(run(tmp_path, *JOINT, "--sheet", "2", "--against", "3.5", "--against-head", "countersunk",
                           "--against-head-width", "7.4", "--against-head-angle", "120", "--against-alloy", "DD").stdout)  # fmt: skip
    assert joint["original"]["sunk_mm"] == 0
    assert joint["substitute"]["bearing_n"] < joint["substitute"]["uncut_bearing_n"]
    assert joint["substitute"]["governs"] == "bearing"


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
        ([*DIMPLES, "--head", "3.2", "--angle", "120"], "wider than its shank"),
        ([*DIMPLES, "--head", "7.4", "--angle", "181"], "below 180"),
        ([*DIMPLES, "--head", "7.4 in", "--angle", "120"], "look at its unit"),
        (["rivet", "splice", "--rivet", "3.5", "--sheet", "0.8", "--width", "50"], "The tables hold"),
        ([*JOINT, "--sheet", "2", "--against", "3.5", "--against-alloy", "X"], "is not known"),
        (["rivet", "bolt", "--an", "AN4"], "goes with"),
        (["rivet", "bolt", "--an", "AN9", "--stack", "12"], "not AN9"),
        (["rivet", "bolt", "--thread", "M8", "--grade", "8.9"], "rade is one of"),
        ([*JOINT, "--sheet", "2", "--against", "3.5", "--against-hole", "3"], "is smaller"),
    ],
)
def test_what_cannot_be_is_refused_by_name(tmp_path: Path, words: list[str], why: str) -> None:
    done = run(tmp_path, *words)
    assert done.returncode == 1
    assert why in json.loads(done.stdout)["refused"]
