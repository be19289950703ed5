"""The commands for fits, plating, substitution and routes: one JSON value, plain refusals, exit codes."""

import json

import pytest

from witnessmark.cli.main import main

FIT = [
    "fits", "--inner", "steel", "--outer", "AZ63A casting", "--diameter", "250 mm", "--outside", "290 mm", "--bore", "235 mm",
    "--length", "60 mm", "--interference", "0.3 mm", "--both",
]  # fmt: skip


def told(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, dict]:
    code = main([*words, "--json"])
    return code, json.loads(capsys.readouterr().out)


def test_a_fit_is_allowed_and_its_plated_drum_refused(capsys: pytest.CaptureFixture[str]) -> None:
    """AZ63A: at most 300 F (T.O. 1-1A-9 para 4-46, read)."""
    code, answer = told(capsys, *FIT)
    assert code == 0 and answer["heat"]["allowed"] and answer["heat"]["needed_c"] < 149
    code, answer = told(capsys, *FIT, "--plate", "0.06 mm")
    assert code == 1 and {way["what"] for way in answer["heat"]["instead"]} == {"chill", "grind"}


def test_a_certificate_a_minute_late_means_quarantine(capsys: pytest.CaptureFixture[str]) -> None:
    """MIL-STD-1501F 5.2.6 (read)."""
    words = ["plating", "--bake-spec", "MIL-STD-1501F", "--strength", "200 ksi", "--hours", "23", "--oven-at", "375 F"]
    code, answer = told(capsys, *words, "--out", "09:00", "--oven", "12:59")
    assert code == 0 and not answer["certificate"]["quarantine"]
    code, answer = told(capsys, *words, "--out", "09:00", "--oven", "13:01")
    assert code == 1 and answer["certificate"]["quarantine"]
    code, answer = told(capsys, "plating", "--bake-spec", "MIL-STD-1501F")
    assert code == 1 and answer["bake"]["next_step"] == "hardness check"


def test_a_route_is_proposed_and_a_sheet_substituted(capsys: pytest.CaptureFixture[str]) -> None:
    code, answer = told(capsys, "routes", "--material", "forged steel", "--finish", "cadmium plate")
    assert code == 1 and answer["withheld"] and "hardness check" in answer["steps"]
    code, answer = told(
        capsys, "substitution", "--old", "AZ31B", "--thickness", "1 mm", "--new", "2024-T3", "--touches", "steel"
    )
    assert code == 0 and len(answer["couples"]) == 1 and answer["chosen_mm"] == pytest.approx(1.016)


@pytest.mark.parametrize(
    "words",
    [
        [*FIT[:2], "unobtainium", *FIT[3:]],
        ["plating", "--bake-spec", "habit"],
        ["plating", "--bake-spec", "MIL-STD-1501F", "--strength", "200 ksi", "--out", "nine"],
        ["substitution", "--old", "tin", "--thickness", "1 mm", "--new", "2024-T3"],
        ["routes"],
        ["routes", "--material", "steel", "--finish", "gold"],
    ],
)
def test_what_cannot_be_read_is_said_in_one_line(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    code, answer = told(capsys, *words)
    assert code == 2 and answer["refused"]
