"""Count and mass of what came back against what left: the first look, before anything is measured."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.calc.bags.features import Group
from witnessmark.calc.working import Answer, working


@dataclass(frozen=True)
class Balance(Answer):
    """`missing_mass_g` is None where something was not weighed; `explained_by` names what a short mass would fit."""

    count_out: int
    count_back: int
    short: int
    over: int
    mass_out_g: float | None
    mass_back_g: float | None
    missing_mass_g: float | None
    explained_by: tuple[str, ...]
    disagree: bool
    sentence: str


def balance(
    groups: Sequence[Group],
    count_back: int,
    mass_back_g: float | None = None,
    coat_mass_g: float = 0.0,
    scale_sigma_g: float = 1.0,
) -> Balance:
    """Compare count and mass of what came back with what left.

    Parameters
    ----------
    groups : sequence of Group
        What left, each with its mass where it was weighed. [-]
    count_back : int
        How many were counted back. [-]
    mass_back_g : float or None
        What they weigh together. [g]
    coat_mass_g : float
        What the coat adds to all of them; 0 where nobody knows it. [g]
    scale_sigma_g : float
        Uncertainty of one weighing. [g]

    Returns
    -------
    Balance
        What is short or over, which groups' pieces have the mass that is missing, and whether count and mass disagree.

    Raises
    ------
    ValueError
        No group, a negative count, or a mass or uncertainty that is not above zero.

    Notes
    -----
    Up to three short pieces are looked for in the masses; more fit too many ways to say anything. A mass agrees within
    two uncertainties: of two weighings, of a twentieth of a piece, and of a quarter of the coat.

    Examples
    --------
    >>> sent = [Group("L-1", "L-1", 46, mass_g=1412.0), Group("L-2", "L-2", 24, mass_g=398.0)]
    >>> told = balance(sent, 69, 1786.0, coat_mass_g=7.0, scale_sigma_g=0.5)
    >>> told.short, told.explained_by, round(told.missing_mass_g, 1)
    (1, ('L-1',), 31.0)

    References
    ----------
    none: sums.
    """
    if not groups or count_back < 0:
        raise ValueError("nothing left, or a count below nought came back: name what left, and count again")
    if mass_back_g is not None and not (math.isfinite(mass_back_g) and mass_back_g > 0):
        raise ValueError(f"the mass of what came back must be above zero, not {mass_back_g}")
    if not (math.isfinite(coat_mass_g) and coat_mass_g >= 0 and math.isfinite(scale_sigma_g) and scale_sigma_g > 0):
        raise ValueError("a coat's mass is not negative, and a weighing has an uncertainty above zero")
    count_out = sum(g.count for g in groups)
    weighed = all(g.mass_g is not None and g.mass_g > 0 for g in groups)
    mass_out = math.fsum(g.mass_g or 0.0 for g in groups) if weighed else None
    missing = None if mass_out is None or mass_back_g is None else mass_out + coat_mass_g - mass_back_g
    short, over = max(0, count_out - count_back), max(0, count_back - count_out)
    each = {g.key: (g.mass_g or 0.0) / g.count for g in groups}
    explained: tuple[str, ...] = ()
    disagree = False
    if missing is not None:
        within = 2 * math.hypot(math.sqrt(2) * scale_sigma_g, coat_mass_g / 4, 0.05 * max(each.values()))
        explained = _explained(each, short, missing, within)
        light, heavy = min(each.values()), max(each.values())
        disagree = not short * light - over * heavy - within <= missing <= short * heavy - over * light + within
    return Balance(
        working=working(
            "short = count out - count back; missing mass = mass out + coat - mass back",
            [
                ("count out", count_out, "pieces", "shipment"),
                ("count back", count_back, "pieces", "counted"),
                ("mass out", "not weighed" if mass_out is None else mass_out, "g", "weighed"),
                ("coat", coat_mass_g, "g", "said"),
                ("mass back", "not weighed" if mass_back_g is None else mass_back_g, "g", "weighed"),
                ("missing", "not known" if missing is None else round(missing, 3), "g", "difference"),
            ],
        ),
        count_out=count_out,
        count_back=count_back,
        short=short,
        over=over,
        mass_out_g=mass_out,
        mass_back_g=mass_back_g,
        missing_mass_g=missing,
        explained_by=explained,
        disagree=disagree,
        sentence=_sentence(count_out, count_back, missing, explained, disagree),
    )


def count_words(out: int, back: int, foreign: int = 0, other: bool = False) -> str:
    """Say in a sentence how many came, how many of them are not ours, and how many of ours are short.

    Parameters
    ----------
    out : int
        How many left. [-]
    back : int
        How many came. [-]
    foreign : int
        How many of these are not ours. [-]
    other : bool
        Whether others are home already. [-]

    Returns
    -------
    str
        Short by what is ours: 69 of 70 back with 2 strangers among them are 3 short.

    Examples
    --------
    >>> count_words(70, 69), count_words(70, 69, 2)
    ('69 of 70 came back: 1 is short.', '69 came back, 2 of them not ours: 3 of 70 are short.')

    References
    ----------
    none: sums.
    """
    of = f"the other {out}" if other else f"{out}"
    short = out - (back - foreign)
    are = f"{short} {'is' if short == 1 else 'are'} short"
    if foreign and short > 0:
        return f"{back} came back, {foreign} of them not ours: {short} of {of} {'is' if short == 1 else 'are'} short."
    if back < out:
        return f"{back} of {of} came back: {are}."
    if back > out:
        return f"{back} came back and {out} {'was' if out == 1 else 'were'} out: {back - out} {'is' if back - out == 1 else 'are'} not ours."
    return f"All {out} came back by count."


def _explained(each: dict[str, float], short: int, missing: float, within: float) -> tuple[str, ...]:
    from itertools import combinations_with_replacement

    if not 1 <= short <= 3 or len(each) > 60:
        return ()
    ways = [c for c in combinations_with_replacement(each, short) if abs(sum(each[k] for k in c) - missing) <= within]
    return tuple(sorted({key for way in ways for key in way})) if ways else ()


def _sentence(out: int, back: int, missing: float | None, explained: tuple[str, ...], disagree: bool) -> str:
    said = count_words(out, back)
    if disagree and missing is not None:
        way = f"{missing:.3g} g are missing" if missing > 0 else f"{-missing:.3g} g are too many"
        return f"{said} But {way}, which no such count explains. Count and weigh again before anything is sorted."
    if explained and len(explained) < 4:
        names = " or ".join(explained)
        return f"{said} The {missing:.3g} g that are missing fit {names}."
    return said
