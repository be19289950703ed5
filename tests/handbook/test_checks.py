"""Every handbook check, by the same runner as `witnessmark proof`; each names its document in calc/data/checks."""

from collections.abc import Mapping
from typing import Any

import pytest

from witnessmark.calc.proof import BadCheck, Check, load_checks, read_check, run_checks

CHECKS = load_checks()


@pytest.mark.parametrize("check", CHECKS, ids=[check.id for check in CHECKS])
def test_handbook(check: Check) -> None:
    (result,) = run_checks([check])
    assert result.passed, result.printed()


def test_there_are_enough_of_them_and_their_names_are_their_own() -> None:
    assert len(CHECKS) >= 35
    assert len({check.id for check in CHECKS}) == len(CHECKS)


GOOD: Mapping[str, Any] = {
    "id": "X",
    "subject": "a 60 degree thread under 5 um",
    "function": "witnessmark.calc.surface.plating.thread_growth",
    "given": {"coat_um": 5.0},
    "expect": {"pitch_um": 20},
    "source": next(check.source for check in CHECKS if check.id == "W15-5um"),
    "page": "annex",
    "kind": "printed",
    "status": "read",
}


def test_a_wrong_figure_fails() -> None:
    assert run_checks([read_check(GOOD)])[0].passed
    assert not run_checks([read_check({**GOOD, "expect": {"pitch_um": 21}})])[0].passed


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"source": "spares-practice"}, "rests on memory"),
        ({"status": "memory"}, "rests on memory"),
        ({"source": "nowhere"}, "nowhere"),
        ({"kind": "own output"}, "kind"),
        ({"expect": {}}, "expects nothing"),
        ({"colour": "blue"}, "unknown keys"),
    ],
)
def test_a_claim_without_its_source_is_refused(change: dict[str, Any], words: str) -> None:
    with pytest.raises(BadCheck, match=words):
        read_check({**GOOD, **change})
