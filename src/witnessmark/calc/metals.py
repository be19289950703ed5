"""Metals as fits and substitutions see them: density, expansion with its spread, stiffness."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from witnessmark.calc.sources import Status
from witnessmark.calc.tables import load_table


class UnknownMetal(ValueError):
    """A metal that the table does not hold; the message names those that it does."""


@dataclass(frozen=True)
class Metal:
    """One metal: expansion in 1e-6 per degree with its lowest and highest printed figure."""

    name: str
    density_kg_m3: float
    cte: float
    cte_low: float
    cte_high: float
    e_gpa: float
    poisson: float
    source: str
    status: Status
    note: str = ""

    @property
    def cautions(self) -> tuple[str, ...]:
        """What to say beside its figures."""
        return (f"{self.name}: {self.note}.",) if self.note else ()


def _words(text: str) -> str:
    return re.sub(r"\s+", " ", text.lower().strip())


@cache
def _table() -> tuple[tuple[re.Pattern[str], Metal], ...]:
    found = []
    for row in load_table("metals").rows:
        made = Metal(
            row["metal"],
            float(row["density_kg_m3"]),
            float(row["cte_1e-6_per_C"]),
            float(row["cte_low_1e-6_per_C"]),
            float(row["cte_high_1e-6_per_C"]),
            float(row["e_GPa"]),
            float(row["poisson"]),
            row["source"],
            row["status"],  # type: ignore[arg-type]  # load_table refuses other words
            row["note"],
        )
        found += [(word, made) for word in {*row["words"].split(";"), _words(row["metal"])}]
    # The longest word first: "mg casting" before "steel casting" never reads as "steel".
    found.sort(key=lambda pair: (-len(pair[0]), pair[0]))
    return tuple((re.compile(rf"(?<![\w-]){re.escape(word)}(?![\w-])"), made) for word, made in found)


def metal(text: str) -> Metal:
    """Return the metal that the words name.

    Parameters
    ----------
    text : str
        Material as written: `4130`, `Mg casting`, `clad dural`. [-]

    Returns
    -------
    Metal
        With its printed figures and their spread.

    Raises
    ------
    UnknownMetal
        No word of it is in the table.

    Examples
    --------
    >>> metal("Mg casting, inch bearings").name, metal("forged steel").name
    ('AZ91C', '4340')

    References
    ----------
    metal-figures
    """
    plain = _words(text)
    for pattern, made in _table():
        if pattern.search(plain):
            return made
    known = ", ".join(dict.fromkeys(made.name for _, made in sorted(_table(), key=lambda pair: pair[1].name)))
    raise UnknownMetal(f"No figures are held for '{text}'. Name one of: {known}; or ask for its data sheet.")
