"""Whatever is typed for a figure of the commands for fits, plating, substitution and routes: an answer, or one plain line."""

import contextlib
import io
import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.records.shop import make_part, make_shop
from witnessmark.cli.main import main
from witnessmark.records.models import Act, FindingFigure, Piece, PieceReading, ShrinkSeat

FIGURE = st.one_of(
    st.text(max_size=12),
    st.floats(allow_nan=True, allow_infinity=True).map(str),
    st.builds("{}{}".format, st.floats(-10, 500).map(lambda x: round(x, 3)), st.sampled_from(["", " mm", " in", "\"", " C", " ksi", " g"])),
    st.sampled_from(["0", "-1", "1e9", "1e-9", "½", "٣ mm", "0.5.5", "1/0", "1/32", "No. 30", "--", "nan", "inf", "\x00", "−3 mm"]),
)  # fmt: skip
COMMANDS = {
    "fits": (
        {"inner": "steel", "outer": "AZ63A casting"},
        ("diameter", "outside", "interference", "length"),
        ("bore", "plate", "clearance", "service"),
    ),
    "plating": ({"bake-spec": "MIL-STD-1501F"}, (), ("strength", "section", "tempering", "out", "oven", "hours", "oven-at", "pitch")),
    "growth": ({"spec": "QQ-P-416F"}, (), ("class", "pitch", "angle", "size", "most")),
    "substitution": ({"old": "AZ31B", "new": "2024-T3"}, ("thickness",), ("new-thickness", "old-strength", "new-strength")),
    "routes": ({"material": "forged steel", "finish": "cadmium plate"}, (), ("strength", "thickness")),
}  # fmt: skip
GIVEN = {"diameter": "250 mm", "outside": "290 mm", "interference": "0.3 mm", "length": "60 mm", "thickness": "1 mm"}


def told(words: list[str]) -> tuple[int, object]:
    """Run a command; its exit code and the one JSON value it printed, none where argparse refused the words."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = None
        try:
            code = main([*words, "--json"])
        except SystemExit as error:
            stopped = error.code
    if code is None:
        assert stopped == 2 and err.getvalue()
        return 2, None
    return code, json.loads(out.getvalue(), parse_constant=_no_number)


def _no_number(word: str) -> float:
    raise AssertionError(f"{word} is no answer")


def finite(value: object) -> bool:
    if isinstance(value, dict):
        return all(map(finite, value.values()))
    if isinstance(value, list):
        return all(map(finite, value))
    return not isinstance(value, float) or math.isfinite(value)


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_a_command_answers_or_refuses_in_one_line(data: st.DataObject) -> None:
    name = data.draw(st.sampled_from(sorted(COMMANDS)))
    fixed, needed, free = COMMANDS[name]
    typed = {option: GIVEN[option] for option in needed}
    odd = data.draw(st.lists(st.sampled_from([*needed, *free]), min_size=1, max_size=3, unique=True))
    typed |= {option: data.draw(FIGURE) for option in odd}
    code, answer = told([name, *(f"--{option}={text}" for option, text in {**fixed, **typed}.items())])
    assert code in (0, 1, 2)
    if code == 2 and answer is not None:
        assert list(answer) == ["refused"] and answer["refused"]  # type: ignore[call-overload]
        assert "\n" not in answer["refused"].strip()  # type: ignore[call-overload]
    assert finite(answer)


@pytest.mark.django_db(transaction=False)
def test_a_command_that_writes_writes_a_sound_figure_or_nothing() -> None:
    shop = make_shop()
    make_part(shop, "0004", shop.shelf)
    Piece.objects.update(material="clad dural 1.2")
    assert told(["finding", "see", "--on", "0004", "--kind", "pitting"])[0] == 0

    @settings(max_examples=80, deadline=None)
    @given(st.sampled_from(["pit", "seat", "diameter", "hours", "thickness"]), FIGURE)
    def holds(what: str, text: str) -> None:
        acts = Act.objects.count()
        words = {
            "pit": ["finding", "measure", "F-1", f"--figure=pit_depth_mm={text}"],
            "seat": [
                "shrink", "0004", f"--seat={text}", "--outside", "290 mm", "--length", "60 mm", "--inner", "steel",
                "--outer", "AZ63A casting",
            ],
            "diameter": ["shrink", "0004", f"--diameter={text}"],
            "hours": ["decide", "0004", "--kind", "repair", f"--reckon=hours={text}"],
            "thickness": ["routes", "0004", "--finish", "prime", f"--thickness={text}", "--write"],
        }[what]  # fmt: skip
        code, answer = told(words)
        assert code in (0, 1, 2) and finite(answer)
        if code == 2:
            assert Act.objects.count() == acts
            assert answer is None or "Nothing was" in answer["refused"]  # type: ignore[index]
        elif what != "diameter" or text:
            assert Act.objects.count() == acts + 1

    holds()
    assert all(0 < row.value < 1e5 for row in FindingFigure.objects.all())
    assert all(0.01 <= row.value <= 3000 for row in PieceReading.objects.all())
    assert all(0 < row.seat_mm < row.outside_mm for row in ShrinkSeat.objects.all())
