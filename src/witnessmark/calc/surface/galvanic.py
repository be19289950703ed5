"""Galvanic couples: which of two metals that touch is eaten, by the order of MIL-STD-889B."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from witnessmark.calc.tables import OutsideTable, load_table
from witnessmark.calc.working import Answer, working

# Words of the shop for names of the list; the finish that is touched counts, not the metal under it.
_WORDS = (
    (r"cad(?:mium)?\b", "Cadmium (plated)"),
    (r"chrom(?:e|ium)\b(?!-moly)", "Chromium (plated)"),
    (r"zinc|galvanis", "Zinc (hot-dip, cast, plated)"),
    (r"nickel", "Nickel (plated)"),
    (r"tin plate|tinned", "Tin (plated)"),
    (r"az31b?", "Mg AZ-31B"),
    (r"magnesium|elektron|\bmg\b|az\d\d", "Magnesium"),
    (r"7075", "Al 7075-T6"),
    (r"6061-o\b", "Al 6061-O"),
    (r"6061", "Al 6061-T6"),
    (r"5052-o\b", "Al 5052-O"),
    (r"5052", "Al 5052-H32"),
    (r"2024|2017|24st|17st|dural", "Al 2024-T4"),
    (r"\b1100\b|pure aluminium", "Al 1100-O"),
    (r"\b316", "Stainless 316L (active)"),
    (r"\b304|18-8", "Stainless 304 (active)"),
    (r"cast iron|gr[ae]y iron|\biron\b", "Iron (cast)"),
    (r"4130|4140|4340|cr-mo|chrome-moly|steel", "Steel 1010"),
    (r"phosphor bronze", "Phosphor bronze 534"),
    (r"bronze", "Bronze 220"),
    (r"naval brass", "Naval brass 464"),
    (r"brass", "Yellow brass"),
    (r"copper", "Copper 110"),
    (r"monel", "Monel 400"),
    (r"\blead\b", "Lead"),
)


@dataclass(frozen=True)
class Couple(Answer):
    """Two metals on one faying surface: the anode corrodes."""

    anode: str
    cathode: str
    anode_rank: int
    cathode_rank: int
    one_group: bool | None
    sentence: str


@cache
def _series() -> dict[str, int]:
    return {row["metal"]: int(row["rank"]) for row in load_table("galvanic_series").rows}


def series() -> tuple[str, ...]:
    """Return the metals of the list, the most anodic first.

    Returns
    -------
    tuple of str
        Names as printed; the list names two stainless steels twice.

    Examples
    --------
    >>> series()[0], len(series())
    ('Magnesium', 64)

    References
    ----------
    mil-std-889b
    """
    return tuple(sorted(_series(), key=lambda name: _series()[name]))


def metal_touched(text: str) -> str:
    """Return the name in the list of what a surface shows: its plate where it has one, else its metal.

    Parameters
    ----------
    text : str
        Material or finish as written, or a name of the list. [-]

    Returns
    -------
    str
        Name of the list.

    Raises
    ------
    OutsideTable
        No word of it is known, or the list names it twice and the surface state is asked for.

    Examples
    --------
    >>> metal_touched("steel screw, cadmium plated"), metal_touched("clad dural")
    ('Cadmium (plated)', 'Al 2024-T4')

    References
    ----------
    mil-std-889b
    """
    if text in _series():
        return text
    plain = text.lower()
    if re.search(r"\b4[13]0\b", plain) and "stainless" in plain:
        raise OutsideTable(f"The list names '{text}' at two places: ask for its surface state.")
    for pattern, name in _WORDS:
        if re.search(pattern, plain):
            return name
    raise OutsideTable(f"The order of MIL-STD-889B, as far as it was read, does not hold '{text}'.")


def _group(name: str) -> str | None:
    words = (
        ("I", r"^Magnesium|^Mg "),
        ("II", r"^Al |^Zinc|^Cadmium"),
        ("III", r"^Steel|^Iron|^Lead|^Tin|^Stainless 4"),
        ("IV", r"^Stainless [23]|PH|^Nickel|^Monel|^Chromium|^Copper|brass|Brass|Bronze|bronze|^AM350"),
    )
    return next((group for group, pattern in words if re.search(pattern, name)), None)


def couple(one: str, other: str) -> Couple:
    """Say which of two metals that touch corrodes.

    Parameters
    ----------
    one : str
        Material or finish as written. [-]
    other : str
        Material or finish of the other surface. [-]

    Returns
    -------
    Couple
        The anode, which corrodes, and the cathode.

    Raises
    ------
    OutsideTable
        A metal that the list, as far as it was read, does not hold.

    Notes
    -----
    The list is an order, not volts: it says which corrodes, not how fast. Limits in volts stand in no text of
    MIL-STD-889 that was read. A clad skin shows its cladding until that is worn or drilled through.

    Examples
    --------
    >>> couple("2024-T4 skin", "cadmium plated steel screw").anode
    'Cadmium (plated)'
    >>> couple("2024-T4 skin", "chromium plated screw").anode
    'Al 2024-T4'

    References
    ----------
    mil-std-889b
    galvanic-groups
    """
    names = sorted((metal_touched(one), metal_touched(other)), key=lambda name: _series()[name])
    anode, cathode = names
    groups = _group(anode), _group(cathode)
    same = None if None in groups else groups[0] == groups[1]
    if anode == cathode:
        sentence = "Both surfaces show the same metal: no couple."
    elif same:
        sentence = f"{anode} is the anode of {cathode}, in one group of metals: seal the joint all the same."
    else:
        sentence = f"{anode} corrodes where it touches {cathode}: keep them apart with primer and sealant."
    return Couple(
        working=working(
            "the lower rank of the list is the anode",
            [
                (anode, _series()[anode], "rank", "MIL-STD-889B Table II"),
                (cathode, _series()[cathode], "rank", "MIL-STD-889B Table II"),
            ],
            ("mil-std-889b", "galvanic-groups"),
            ("An order, not volts: it says which corrodes, not how fast.",),
            "The first 64 names of the list.",
        ),
        anode=anode,
        cathode=cathode,
        anode_rank=_series()[anode],
        cathode_rank=_series()[cathode],
        one_group=same,
        sentence=sentence,
    )
