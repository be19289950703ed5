"""Sentences whose withheld parts are left out, pictures before and after, and names found however they are typed.

No outside source but Unicode (NFKC/NFKD and case folding, UAX 15 and chapter 3.13, from memory) for how names are folded.
"""

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.calc.leaks import Known, leaks, watch
from witnessmark.calc.since import PLAIN, TYPED, WITHHELD, Part, Shot, before_and_after, said

KINDS = [PLAIN, TYPED, *WITHHELD]
START = datetime(2026, 4, 14, 10, tzinfo=UTC)


@given(
    st.lists(st.tuples(st.integers(0, 10**6), st.sampled_from(KINDS)), max_size=8),
    st.sets(st.sampled_from([*WITHHELD, TYPED])),
)
def test_a_part_is_said_if_and_only_if_its_kind_may_be(parts: list[tuple[int, str]], shown: set[str]) -> None:
    sentence = said([Part(f" <{n}:{kind}>", kind) for n, kind in parts], shown)
    for n, kind in parts:
        assert (f"<{n}:{kind}>" in sentence) == (kind == PLAIN or kind in shown)


def test_a_kind_that_nobody_thought_of_is_withheld() -> None:
    assert said((Part("It came"), Part(" from X", "vendors"), Part(".")), WITHHELD) == "It came."


def shot(photo: str, subject: str, days: float, size: tuple[int, int] = (1200, 900)) -> Shot:
    return Shot(photo, subject, START + timedelta(days=days), *size)


def test_the_earliest_and_the_newest_make_the_pair() -> None:
    shots = [shot("b", "piece:1", -20), shot("d", "piece:1", 8), shot("a", "piece:1", -40), shot("c", "piece:1", 3)]
    (pair,) = before_and_after(shots, START.date(), date(2026, 5, 12), {})
    assert pair.before is not None
    assert (pair.before.photo, pair.after.photo, pair.days) == ("a", "d", 48)


def test_the_rule_of_the_order_is_the_one_that_is_said() -> None:
    shots = [
        shot("n1", "alone", 10), shot("x1", "far", -90), shot("x2", "far", 1), shot("y1", "busy", -2),
        shot("y2", "busy", 1), shot("z1", "small", -90, (320, 240)), shot("z2", "small", 1),
        shot("v1", "near", -30), shot("v2", "near", 1),
    ]  # fmt: skip
    order = [pair.subject for pair in before_and_after(shots, START.date(), date(2026, 5, 12), {"busy": 2, "alone": 9})]
    assert order == ["busy", "far", "small", "near", "alone"]


def test_what_lies_outside_the_days_is_no_after_and_nothing_is_shown_twice() -> None:
    old = [shot("a", "old", -40), shot("b", "old", -30)]
    later = [shot("c", "later", 60)]
    same = [shot("s", "one", 1), shot("s", "two", 1)]
    twin = [shot("t", "twin", -1), shot("t", "twin", 1)]
    found = before_and_after([*old, *later, *same, *twin], START.date(), date(2026, 5, 12), {})
    assert sorted(pair.after.photo for pair in found) == ["s", "t"]
    assert all(pair.before is None for pair in found)


@given(
    st.lists(
        st.builds(shot, st.sampled_from("abcdefgh"), st.sampled_from(["p", "q", "r"]), st.integers(-50, 50)),
        max_size=20,
    )
)
def test_before_is_before_after_and_after_is_in_the_days(shots: list[Shot]) -> None:
    seen: list[str] = []
    for pair in before_and_after(shots, START.date(), date(2026, 5, 12), {}):
        assert START.date() <= pair.after.taken.date() <= date(2026, 5, 12)
        seen.append(pair.after.photo)
        if pair.before is not None:
            assert pair.before.taken < pair.after.taken
            assert pair.before.subject == pair.after.subject
            seen.append(pair.before.photo)
    assert len(seen) == len(set(seen))


NAMES = watch(
    [
        Known("Jórun Åsdotter", "people"), Known("Bo", "people"), Known("Smed & Søn", "shops"),
        Known("Quillbrae Plating Works", "shops"), Known("SE-ABC", "mark"), Known("7", "serial"),
        Known("VF6-41-003", "serial"), Known("Shelf C2", "where"), Known("Malk (outside)", "people"),
    ]
)  # fmt: skip


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("with JORUN at the bench", "people"),
        ("J\u00f3run", "people"),
        ("Jo\u0301run", "people"),
        ("Ｊórun", "people"),
        ("Jorun's own", "people"),
        ("Jorun’s own", "people"),
        ("asdotter says so", "people"),
        ("Jo\u00adrun", "people"),
        ("Jo\u200brun", "people"),
        ("made by Bo.", "people"),
        ("Malk has answered", "people"),
        ("write to shop@example.org", "people"),
        ("ring +46 8 123 456 78", "people"),
        ("from SMED & SON", "shops"),
        ("quillbrae did it", "shops"),
        ("Quillbrae  Plating\nWorks", "shops"),
        ("SE-ABC", "mark"),
        ("seabc on the side", "mark"),
        ("SE ABC", "mark"),
        ("SE\u2011ABC", "mark"),
        ("works number 7", "serial"),
        ("W/N: 7", "serial"),
        ("VF6 41 003", "serial"),
        ("on shelf C2", "where"),
        ("59.3293, 18.0686", "where"),
        ("59° 19' N", "where"),
        ("for 450 EUR", "money"),
        ("€1,200.50", "money"),
        ("cost 3k euros", "money"),
        ("£ 40", "money"),
        ("1 200 kr", "money"),
    ],
)
def test_it_is_found_however_it_is_typed(text: str, kind: str) -> None:
    assert kind in {leak.kind for leak in leaks(text, NAMES, ())}
    assert kind not in {leak.kind for leak in leaks(text, NAMES, (kind,))}


@pytest.mark.parametrize(
    "text",
    [
        "cleaned, on the bench", "a bolt and a boss", "7 rivets", "hole 3.4 mm, 1.80 D", "12 May 2026", "seabed coating",
        "crack 4 mm at the upper lug", "shelf life 24 months", "M8x1 / 5/16-24", "60 krypton", "",
    ],
)  # fmt: skip
def test_ordinary_words_of_the_bench_are_no_leak(text: str) -> None:
    assert leaks(text, NAMES, ()) == []


@given(st.text(alphabet="abcdefghijklmnopqrstuvwxyzåäöéø", min_size=3, max_size=12), st.sampled_from(list(WITHHELD)))
def test_any_name_is_found_in_the_middle_of_a_sentence_in_capitals_or_not(name: str, kind: str) -> None:
    names = watch([Known(name, kind)])
    for text in (f"we gave it to {name}, then on", name.upper(), f"({name})"):
        assert kind in {leak.kind for leak in leaks(text, names, ())}
