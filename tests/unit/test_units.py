"""Sizes as people write them. Conversions: 1 in is 25.4 mm exactly (international inch, 1959)."""

import pytest

from witnessmark.calc.units import UnknownSize, parse_length, parse_mass, parse_stress, parse_temperature, show_length


@pytest.mark.parametrize(
    ("typed", "mm"),
    [
        ("5/32", 25.4 * 5 / 32),
        ("5/32 in", 25.4 * 5 / 32),
        ('5/32"', 25.4 * 5 / 32),
        ("1 1/4", 31.75),
        ("0.032 in", 0.8128),
        (".032 in", 0.8128),
        ("3.5 mm", 3.5),
        ("3,5 mm", 3.5),
        ("1.2", 1.2),
        # Number and letter drills: standard table, ASME B94.11M, the same as calc/data/drills.csv.
        ("No. 30", 0.1285 * 25.4),
        ("no 30", 0.1285 * 25.4),
        ("#40", 0.098 * 25.4),
        ("letter F", 0.257 * 25.4),
    ],
)
def test_lengths(typed: str, mm: float) -> None:
    read = parse_length(typed)
    assert read.mm == pytest.approx(mm, abs=1e-4)
    assert read.as_typed == typed


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("18 gauge", "gauge numbers mean different thicknesses"),
        (".032", "needs its unit"),
        ("-3", "above zero"),
        ("0", "above zero"),
        ("nan", "not a size"),
        ("inf", "not a size"),
        ("1/0", "lower figure above zero"),
        ("", "nothing was typed"),
        ("three", "not a size"),
        ("No. 999", "No. 999"),
    ],
)
def test_what_is_no_length_says_why_and_what_is_read(typed: str, why: str) -> None:
    with pytest.raises(UnknownSize, match=why) as told:
        parse_length(typed)
    assert "5/32" in str(told.value)


def test_other_quantities_as_people_write_them() -> None:
    assert parse_mass("8 kg").g == 8000
    assert parse_mass("1 lb").g == pytest.approx(453.59237)  # exact by the definition of the pound
    assert parse_stress("160 ksi").mpa == pytest.approx(160 * 6.894757, rel=1e-6)
    assert parse_temperature("375 F").celsius == pytest.approx((375 - 32) / 1.8)


def test_a_length_is_shown_with_its_twin() -> None:
    assert show_length(3.5) == "3.5 mm (0.1378 in)"
    assert show_length(3.5, "in") == "0.1378 in (3.5 mm)"
