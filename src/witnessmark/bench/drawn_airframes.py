"""Airframes whose odd sizes come in whole rows, and a survey that takes the easy rows first.

Drawn by its own rules; it shares no code and no constants with what judges how much survey is enough.
"""

import random
from dataclasses import dataclass

PARTS = {"skin": (18, 46), "rib": (10, 30), "spar": (4, 14), "repair": (3, 8)}
COMMON = ("3.0 flush", "3.5 flush", "4.0 round", "2.6 flush", "3.0 round")


@dataclass(frozen=True)
class DrawnRow:
    """One row as it truly is; `ease` runs from 0, shut away, to 1, at the hatch."""

    name: str
    part: str
    heads: int
    kind: str
    ease: float
    shut: bool


def draw_airframe(chance: random.Random) -> list[DrawnRow]:
    """Draw one airframe: each part has one or two usual kinds; odd kinds sit in one to four rows, more where it is hard."""
    rows: list[DrawnRow] = []
    for part, (few, many) in PARTS.items():
        usual = chance.sample(COMMON, chance.choice((1, 1, 2)))
        for number in range(chance.randint(few, many)):
            ease = chance.betavariate(2, 2)
            rows.append(
                DrawnRow(f"{part} {number}", part, chance.randint(12, 90), chance.choice(usual), ease, ease < 0.15)
            )
    weights = [(3.0 if row.part == "repair" else 1.0) * (2.0 - 1.5 * row.ease) for row in rows]
    for odd in range(chance.choice((0, 0, 1, 1, 2, 3, 5))):
        first = chance.choices(range(len(rows)), weights)[0]
        beside = [i for i, row in enumerate(rows) if row.part == rows[first].part]
        taken = {first, *chance.choices(beside, [weights[i] for i in beside], k=chance.choice((0, 0, 1, 3)))}
        for i in taken:
            row = rows[i]
            rows[i] = DrawnRow(row.name, row.part, row.heads, f"odd {odd}", row.ease, row.shut)
    return rows


def easy_first(rows: list[DrawnRow], chance: random.Random) -> list[DrawnRow]:
    """Put the rows that can be reached in the order people take them: the easy ones first, with some whim."""
    return sorted((row for row in rows if not row.shut), key=lambda row: -row.ease + chance.gauss(0, 0.1))
