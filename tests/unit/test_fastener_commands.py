"""`identify` and `families` answer without a record."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from witnessmark.cli.main import main


def run(data: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "witnessmark", *arguments, "--json"],
        capture_output=True,
        text=True,
        env={**os.environ, "WITNESSMARK_DATA": str(data), "DJANGO_SETTINGS_MODULE": "witnessmark.settings"},
    )


def test_identify_names_a_bolt_and_asks_where_it_is_not_sure(tmp_path: Path) -> None:
    done = run(tmp_path, "identify", "--shank", "7.92", "--pitch", "10.58 over 10")
    told = json.loads(done.stdout)
    assert (done.returncode, told["word"], told["answered"], told["next_measurement"]) == (0, "5/16-24 UNF", True, None)
    asked = json.loads(run(tmp_path, "identify", "--hole", "3.3", "--form", "flush").stdout)
    assert asked["next_measurement"]["what"] == "head_deg"
    other = json.loads(run(tmp_path, "identify", "--hole", "3.3", "--form", "flush", "--cannot", "angle").stdout)
    assert other["next_measurement"]["what"] != "head_deg"


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (("--head", "3.2 in"), 1, "was it read in mm"),
        (("--hole", "0"), 1, "above zero"),
        (("--angle", "200"), 1, "between 40 and 180"),
        ((), 2, "at least one figure"),
    ],
)
def test_identify_refuses_by_name(tmp_path: Path, arguments: tuple[str, ...], code: int, says: str) -> None:
    done = run(tmp_path, "identify", *arguments)
    assert done.returncode == code
    assert says in done.stderr and says in json.loads(done.stdout)["refused"]


def test_families_are_listed_with_their_sources(tmp_path: Path) -> None:
    done = run(tmp_path, "families", "din", "661")
    family = json.loads(done.stdout)[0]
    assert (done.returncode, family["family"], family["own"], len(family["sizes"])) == (0, "DIN 661", False, 13)
    assert all(size["source"] and size["status"] == "quoted" for size in family["sizes"])
    assert run(tmp_path, "families", "nobody").returncode == 1


def test_adding_needs_a_record(tmp_path: Path) -> None:
    done = run(tmp_path, "families", "--add", "Y-1", "--as", "Nobody")
    assert done.returncode == 2 and "There is no record" in done.stderr


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ("spares --holes 0", "0 holes want no rivet"),
        ("spares --holes 100 --driven 10 --spoiled 20", "20 spoiled among 10 driven cannot be"),
        ("dimples --head 7.4 --angle 120 --shank 3.5 --sheet 80", "sheet 1 of 80 mm is past 25 mm"),
        ("bolt --an AN3 --stack 0.1", "thinner than any two sheets"),
    ],
)
def test_a_figure_of_a_rivet_that_cannot_be_is_named(capsys: pytest.CaptureFixture[str], words: str, why: str) -> None:
    assert main(["rivet", *words.split()]) == 1
    assert why in " ".join(capsys.readouterr().err.lower().split())


def test_the_spoiled_are_counted_among_the_driven(capsys: pytest.CaptureFixture[str]) -> None:
    """By hand: 2 + 20 spoiled of 50 + 100 is a rate of 0.1467."""
    assert main(["rivet", "spares", "--holes", "100", "--driven", "100", "--spoiled", "20", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["spoilage"] == pytest.approx(22 / 150)
