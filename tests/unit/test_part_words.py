"""What a part is, in words of the bench alone: nothing of a name that is none of them, however it is typed."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.calc.part_words import JOINING, THINGS, WHICH, part_words


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("Wing rib 6 L, spruce/ply", "wing rib"),
        ("Main spar cap lower L", "main spar cap"),
        ("Frame 6 lower half (main spar frame)", "frame"),
        ("ENGINE MOUNT RING", "engine mount ring"),
        ("Push-rod, aileron", "push rod"),
        ("Brake shoes", "brake shoes"),
        ("Mooring bollard, bow", "mooring bollard"),
        ("front", ""),
        ("", ""),
        ("SE-QXZ", ""),
        ("Zebulon’s wing rib", "wing rib"),
        ("Zebulon Quark rib", "rib"),
        ("rib of Zebulon", "rib"),
        ("0118 bracket 4711.50 EUR", "bracket"),
        ("rib's end", ""),
        ("pylon and mount bolts, mixed M8x1", "pylon and mount bolts"),
        ("bracket of and with Zebulon", "bracket"),
        ("and of to", ""),
        ("Flügelrippe", ""),
    ],
)
def test_what_is_said_of_a_name(name: str, says: str) -> None:
    assert part_words(name) == says


@given(
    st.lists(
        st.sampled_from([*sorted(THINGS | WHICH), "and", "of", "Zebulon", "SE-QXZ", "6", "L", ","])
        | st.text(max_size=8),
        max_size=9,
    )
)
def test_no_word_is_ever_said_that_is_none_of_ours(words: list[str]) -> None:
    said = part_words(" ".join(words))
    ours = THINGS | WHICH | JOINING | {f"{word}s" for word in THINGS} | {f"{word}es" for word in THINGS}
    assert set(said.split()) <= ours
    assert not said or re.fullmatch(r"[a-z]+( [a-z]+)*", said)


def test_a_thing_never_names_a_side_or_a_number() -> None:
    assert not (THINGS | WHICH) & {"left", "right", "l", "r", "one", "two"}
