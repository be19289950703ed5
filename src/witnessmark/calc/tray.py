"""Whose is an untagged find: what is missing elsewhere, ranked by what speaks for it and against it."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from witnessmark.calc.metals import UnknownMetal, metal
from witnessmark.calc.working import Working, working

SOURCE = "tray-judgement"
# Chance beforehand that a find is none of what the record misses.
STRANGER = 0.5
# Worn or bent pieces and a rule read at arm's length: the greater of both is one standard deviation.
_SPREAD_MM, _SPREAD_SHARE = 0.3, 0.03
_SLIP = 0.01  # the share of figures misread, or of another piece than was meant
_LEAST_MM, _MOST_MM = 1.0, 1000.0  # finds of any size: even on a logarithmic rule
_SAME_METAL, _OTHER_METAL = 3.0, 0.15
_SAME_SIZE, _OTHER_SIZE = 25.0, 0.05
_SHARED_WORD, _MOST_WORDS, _NO_SHARED_WORD = 4.0, 3, 0.5
_OTHER_SIDE = 0.1
_STEEL_KG_M3 = (7400.0, 8100.0)
_ANY_MM = re.compile(r"(?<![\w.,])(\d+(?:[.,]\d+)?)\s*mm\b")


@dataclass(frozen=True)
class Find:
    """What is known of a find: each may be empty."""

    words: tuple[str, ...] = ()
    material: str = ""
    magnet: str = ""
    side: str = "C"
    size_code: str = ""
    figures_mm: tuple[float, ...] = ()


@dataclass(frozen=True)
class Missing:
    """Something that the record misses: each may be empty but its key and name."""

    key: str
    name: str
    words: tuple[str, ...] = ()
    material: str = ""
    side: str = "C"
    size_code: str = ""
    figures_mm: tuple[float, ...] = ()


@dataclass(frozen=True)
class Could:
    """One missing thing that a find could be. `weight` above 1 speaks for it, below 1 against it."""

    key: str
    name: str
    chance: float
    weight: float
    speaks_for: tuple[str, ...]
    speaks_against: tuple[str, ...]

    @property
    def plausible(self) -> bool:
        """Nothing speaks against it on the whole: worth holding beside it."""
        return self.weight >= 1.0


def figures_in(text: str) -> tuple[float, ...]:
    """Pick the lengths out of what was written of a thing.

    Parameters
    ----------
    text : str
        Such as `tube 12 mm, flange of four screws on 38 mm`. [-]

    Returns
    -------
    tuple of float
        Every figure followed by mm. [mm]

    Examples
    --------
    >>> figures_in("tube 12 mm, flange of four screws on 38,5 mm, 17 teeth")
    (12.0, 38.5)

    References
    ----------
    tray-judgement
    """
    return tuple(float(figure.replace(",", ".")) for figure in _ANY_MM.findall(text))


def sticks(material: str) -> bool | None:
    """Say whether a magnet sticks to a material.

    Parameters
    ----------
    material : str
        As written. [-]

    Returns
    -------
    bool or None
        None where the material is not known, or is stainless, which may go either way. [-]

    References
    ----------
    metal-figures

    Examples
    --------
    >>> sticks("forged steel"), sticks("clad dural"), sticks("stainless steel"), sticks("")
    (True, False, None, None)
    """
    plain = material.lower()
    if not plain.strip() or "stainless" in plain or "corrosion resist" in plain:
        return None
    try:
        dense = metal(plain).density_kg_m3
    except UnknownMetal:
        return "steel" in plain or "iron" in plain or None
    return _STEEL_KG_M3[0] <= dense <= _STEEL_KG_M3[1]


def could_be(find: Find, missing: Sequence[Missing], stranger: float = STRANGER) -> tuple[Could, ...]:
    """Rank what a find could be; nothing is decided by it.

    Parameters
    ----------
    find : Find
        What is known of it. [-]
    missing : sequence of Missing
        All that the record misses. [-]
    stranger : float
        Chance beforehand that it is none of them. [-]

    Returns
    -------
    tuple of Could
        The likeliest first; the chances add up to less than 1, the rest is *none of these*. [-]

    Raises
    ------
    ValueError
        The chance beforehand is not between 0 and 1.

    Notes
    -----
    Bayes' rule with every missing thing alike beforehand. Each sign that is known on both sides multiplies: how often it
    would be seen on the missing thing over how often on any find. The weights are judgement and were never measured, so
    the order means more than the figure.

    References
    ----------
    tray-judgement

    Examples
    --------
    >>> clip = Missing("piece:1", "clip", figures_mm=(40.0,))
    >>> found = could_be(Find(figures_mm=(40.2,)), [clip, Missing("piece:2", "rod", figures_mm=(300.0,))])
    >>> [each.name for each in found], found[0].chance > 0.9
    (['clip', 'rod'], True)
    """
    if not 0 < stranger < 1:
        raise ValueError(f"a chance beforehand lies between 0 and 1, not at {stranger}")
    weighed = [(each, *_weigh(find, each)) for each in missing]
    share = (1 - stranger) / len(weighed) if weighed else 0.0
    whole = stranger + share * sum(weight for _, weight, _, _ in weighed)
    found = [
        Could(each.key, each.name, share * weight / whole, weight, tuple(good), tuple(bad))
        for each, weight, good, bad in weighed
    ]
    return tuple(sorted(found, key=lambda c: (-c.chance, c.name, c.key)))


def _weigh(find: Find, thing: Missing) -> tuple[float, list[str], list[str]]:
    signs: list[tuple[float, str]] = []
    if find.size_code and thing.size_code:
        same = find.size_code == thing.size_code
        word = f"both are {find.size_code}" if same else f"it is {find.size_code}, missing is {thing.size_code}"
        signs.append((_SAME_SIZE if same else _OTHER_SIZE, word))
    if thing.figures_mm:
        signs += [_figure(seen, thing.figures_mm) for seen in find.figures_mm]
    signs += _materials(find, thing)
    if find.side != "C" and thing.side != "C" and find.side != thing.side:
        signs.append((_OTHER_SIDE, "it is of the other side"))
    if find.words and thing.words:
        shared = sorted(set(find.words) & set(thing.words))[:_MOST_WORDS]
        signs.append(
            (_SHARED_WORD ** len(shared), f"both are called {', '.join(shared)}")
            if shared
            else (_NO_SHARED_WORD, "they are called otherwise")
        )
    weight = math.prod(sign for sign, _ in signs)
    return weight, [why for sign, why in signs if sign > 1], [why for sign, why in signs if sign < 1]


def _figure(seen_mm: float, wanted_mm: Sequence[float]) -> tuple[float, str]:
    """Hold one figure against those on record; which of them it is was not said, and others may be unwritten."""
    nearest = min(wanted_mm, key=lambda mm: abs(mm - seen_mm))
    spread = max(_SPREAD_MM, _SPREAD_SHARE * nearest)
    bell = math.exp(-(((seen_mm - nearest) / spread) ** 2) / 2) / (spread * math.sqrt(2 * math.pi))
    even = 1 / (min(max(seen_mm, _LEAST_MM), _MOST_MM) * math.log(_MOST_MM / _LEAST_MM))
    unwritten = 0.3 if len(wanted_mm) < 3 else 0.1
    ratio = (1 - unwritten) * ((1 - _SLIP) * bell / even + _SLIP) / len(wanted_mm) + unwritten
    said = f"{seen_mm:g} mm beside {nearest:g} mm"
    return ratio, said if ratio > 1 else f"{said} on record"


def _materials(find: Find, thing: Missing) -> list[tuple[float, str]]:
    signs: list[tuple[float, str]] = []
    if find.material and thing.material:
        try:
            same = metal(find.material).name == metal(thing.material).name
        except UnknownMetal:
            same = bool(set(find.material.lower().split()) & set(thing.material.lower().split()))
        word = f"both are {thing.material}" if same else f"it is {find.material}, missing is {thing.material}"
        signs.append((_SAME_METAL if same else _OTHER_METAL, word))
    elif find.magnet in _MAGNET and (drawn := sticks(thing.material)) is not None:
        ratio, word = _MAGNET[find.magnet][drawn]
        signs.append((ratio, f"{word}, missing is {thing.material}"))
    return signs


_MAGNET: Mapping[str, Mapping[bool, tuple[float, str]]] = {
    "sticks": {True: (2.0, "a magnet sticks"), False: (0.02, "a magnet sticks")},
    "does not": {True: (0.03, "a magnet does not stick"), False: (1.6, "a magnet does not stick")},
}


def tray_working(found: Sequence[Could]) -> Working:
    """Write down how the chances came about.

    Parameters
    ----------
    found : sequence of Could
        As `could_be` gave them. [-]

    Returns
    -------
    Working
        One row a candidate.

    Examples
    --------
    >>> tray_working(could_be(Find(), [Missing("piece:1", "clip")])).rows[0].what
    'clip'

    References
    ----------
    tray-judgement
    """
    return working(
        "chance = share beforehand x weight / (chance of none of them + sum of all shares x weights)",
        [
            (
                each.name,
                round(each.weight, 3),
                "weight",
                "; ".join((*each.speaks_for, *each.speaks_against)) or "no sign",
            )
            for each in found
        ],
        sources=(SOURCE,),
        cautions=("The weights are judgement: the order means more than the figure. Nothing is moved by it.",),
        valid_range="finds and missing things of which at least one sign is known on both sides",
    )
