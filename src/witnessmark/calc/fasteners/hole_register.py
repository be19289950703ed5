"""The register of a row's holes: what was measured, whether the next size may go in and why not, and the row's verdict."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.calc.fasteners.holes import MIN_RATIO, MIN_RATIO_FLUSH
from witnessmark.calc.working import Answer, working

LOOSE_MM = 0.10
ROUND_MM = 0.10
MIN_PITCH = 3.0
OVERSIZE_SHARE, OVERSIZE_MOST = 0.20, 10


@dataclass(frozen=True)
class HoleFigures:
    """One hole as measured: diameters across one another, the edge, and how often it was enlarged already."""

    number: int
    diameters_mm: tuple[float, ...]
    edge_mm: float | None
    times_oversized: int


@dataclass(frozen=True)
class HoleJudged:
    """One hole beside its row's rivet: worn is None where it was not measured; the edge is that of its worst side."""

    number: int
    widest_mm: float | None
    out_of_round_mm: float | None
    edge_ratio: float | None
    worn: bool | None
    next_allowed: bool
    why: tuple[str, ...]


@dataclass(frozen=True)
class RowVerdict(Answer):
    """Every hole, the counts, and whether the sheet can serve again."""

    holes: tuple[HoleJudged, ...]
    unmeasured: int
    worn: int
    refused: int
    oversized_then: int
    verdict: str
    sentence: str


def judge_row(
    holes: Sequence[HoleFigures],
    diameter_mm: float,
    hole_mm: float,
    next_mm: float | None,
    pitch_mm: float | None,
    flush: bool = False,
) -> RowVerdict:
    """Judge each hole of a row for its own rivet and for the next size, and the row by the count.

    Parameters
    ----------
    holes : sequence of HoleFigures
        Every hole of the row, measured or not. [-]
    diameter_mm : float
        Rivet of the row. [mm]
    hole_mm : float
        Nominal hole for it. [mm]
    next_mm : float or None
        Next size that can be had; None for none. [mm]
    pitch_mm : float or None
        From hole to hole; None where nobody measured it. [mm]
    flush : bool
        True for a countersunk or dimpled rivet. [-]

    Returns
    -------
    RowVerdict
        *reuse*, *reuse with oversize*, *remake or ask* or *measure first*.

    Raises
    ------
    ValueError
        No hole, a figure not above zero, a hole in another unit, a negative count.

    Notes
    -----
    Worn: more than 0.10 mm over the nominal hole or out of round (from memory). Next size: edge 2 D, flush 2.5 D,
    pitch 3 D, not enlarged before. The widest way counts; a hole more than 0.10 mm out of round is taken to be drawn towards
    the edge, so that half of it comes off the edge distance. Row: at most 20 % or 10 holes oversize, whichever is less, is quoted.

    Examples
    --------
    >>> worn = HoleFigures(43, (3.4,), 7.2, 0)
    >>> judge_row([worn], 3.0, 3.1, 4.0, 20.0).holes[0].why
    ('edge 1.80 D is below 2 D',)

    References
    ----------
    edge-distance-2d
    edge-distance-flush
    pitch-3d
    ac43.13-1b-4-57b
    mil-r-47196-summary
    hole-wear-practice
    oval-hole-practice
    """
    if not holes:
        raise ValueError("a row needs at least one hole")
    for what, value in (("rivet", diameter_mm), ("nominal hole", hole_mm), ("next size", next_mm), ("pitch", pitch_mm)):
        if value is not None and (not math.isfinite(value) or value <= 0):
            raise ValueError(f"the {what} must be above zero, not {value}")
    if next_mm is not None and next_mm <= diameter_mm:
        raise ValueError(f"the next size of {next_mm:g} mm is not larger than {diameter_mm:g} mm")
    judged = tuple(_judge(each, diameter_mm, hole_mm, next_mm, pitch_mm, flush) for each in holes)
    worn = [each for each in judged if each.worn]
    refused = [each for each in worn if not each.next_allowed]
    unmeasured = sum(1 for each in judged if each.worn is None)
    oversized = sum(1 for each in holes if each.times_oversized) + len(worn) - len(refused)
    most = min(math.floor(OVERSIZE_SHARE * len(holes) + 1e-9), OVERSIZE_MOST)
    if refused or oversized > most:
        verdict = "remake or ask"
    elif unmeasured:
        verdict = "measure first"
    else:
        verdict = "reuse with oversize" if oversized else "reuse"
    sentence = _sentence(verdict, refused, oversized, most, unmeasured)
    return RowVerdict(
        working=working(
            "each hole: widest - nominal, out of round, e/D and p/D of the next size; row: oversize count",
            [
                ("D", diameter_mm, "mm", "size"),
                ("nominal hole", hole_mm, "mm", "size"),
                ("next D", next_mm if next_mm is not None else "none", "mm", "catalogue"),
                ("holes measured", len(holes) - unmeasured, "-", f"of {len(holes)}"),
                ("worn", len(worn), "-", "computed"),
                ("worn that no next size may go into", len(refused), "-", "computed"),
                ("oversize then", oversized, "-", f"at most {most}"),
            ],
            (
                "edge-distance-flush" if flush else "edge-distance-2d",
                "pitch-3d",
                "ac43.13-1b-4-57b",
                "mil-r-47196-summary",
                "hole-wear-practice",
                *(("oval-hole-practice",) if any(each.out_of_round_mm for each in judged) else ()),
            ),
            (f"{unmeasured} holes are not measured: nothing is claimed of them.",) if unmeasured else (),
            "Solid rivets in sheet; whoever signs decides.",
        ),
        holes=judged,
        unmeasured=unmeasured,
        worn=len(worn),
        refused=len(refused),
        oversized_then=oversized,
        verdict=verdict,
        sentence=sentence,
    )


def sound_figures(holes: Sequence[HoleFigures], diameter_mm: float) -> tuple[list[HoleFigures], list[str]]:
    """Part the figures that can be a hole for this rivet from those that cannot, each of which is named.

    Parameters
    ----------
    holes : sequence of HoleFigures
        Every hole of the row. [-]
    diameter_mm : float
        Rivet of the row. [mm]

    Returns
    -------
    tuple of list
        The holes with the figures that can be, and a sentence for each figure left out.

    Notes
    -----
    A hole lies between half and three times its rivet, as `judge_row` has it; an edge is above zero.

    Examples
    --------
    >>> sound_figures([HoleFigures(3, (3.1, 31.0), 9.0, 0)], 3.0)[1]
    ['Hole 3: 31 mm is no hole for a rivet of 3 mm, look at its unit']

    References
    ----------
    none: a sifting.
    """
    kept, refused = [], []
    for hole in holes:
        sound = []
        for value in hole.diameters_mm:
            if math.isfinite(value) and 0.5 * diameter_mm <= value <= 3 * diameter_mm:
                sound.append(value)
            else:
                refused.append(
                    f"Hole {hole.number}: {value:g} mm is no hole for a rivet of {diameter_mm:g} mm, look at its unit"
                )
        edge = hole.edge_mm
        if edge is not None and not (math.isfinite(edge) and edge > 0):
            refused.append(f"Hole {hole.number}: an edge distance of {edge:g} mm cannot be, measure it again")
            edge = None
        kept.append(HoleFigures(hole.number, tuple(sound), edge, hole.times_oversized))
    return kept, refused


def times_oversized(states: Sequence[str]) -> int:
    """Count how often a hole was enlarged, from what stood in it one after the other.

    Parameters
    ----------
    states : sequence of str
        What stood in the hole, oldest first, without what was taken back. [-]

    Returns
    -------
    int
        Times that an oversize fastener came in; the same word said twice running is one.

    Examples
    --------
    >>> times_oversized(["riveted", "oversize", "oversize", "empty", "oversize"])
    2

    References
    ----------
    none: a count.
    """
    return sum(1 for before, now in zip(("", *states), states, strict=False) if now == "oversize" != before)


def is_oval(oval_mm: float) -> bool:
    """Return whether a hole is out of round by more than counts as round.

    Parameters
    ----------
    oval_mm : float
        The widest way across less the narrowest. [mm]

    Returns
    -------
    bool
        True from a hair above ROUND_MM on, so that figures of a hundredth do not fall either way by their last bit.

    Examples
    --------
    >>> is_oval(3.4 - 3.3), is_oval(0.12)
    (False, True)

    References
    ----------
    oval-hole-practice
    """
    return oval_mm > ROUND_MM + 1e-9


def worst_edge(edge_mm: float, diameters_mm: Sequence[float]) -> float:
    """Return the edge distance of a hole's worst side: an oval one is taken to be drawn towards the edge.

    Parameters
    ----------
    edge_mm : float
        From the edge to the middle of the hole as it was drilled. [mm]
    diameters_mm : sequence of float
        The hole as measured, one way or more. [mm]

    Returns
    -------
    float
        Less by half of what it is out of round, where that is more than readings differ by: there the next size finds its
        middle. [mm]

    Raises
    ------
    none

    Examples
    --------
    >>> round(worst_edge(8.0, (3.3, 3.7)), 3), worst_edge(8.0, (3.3,))
    (7.8, 8.0)

    References
    ----------
    oval-hole-practice
    """
    oval_mm = max(diameters_mm, default=0.0) - min(diameters_mm, default=0.0)
    return edge_mm - oval_mm / 2 if is_oval(oval_mm) else edge_mm


def _judge(
    hole: HoleFigures, diameter_mm: float, hole_mm: float, next_mm: float | None, pitch_mm: float | None, flush: bool
) -> HoleJudged:
    if hole.times_oversized < 0:
        raise ValueError(f"hole {hole.number} was not enlarged {hole.times_oversized} times")
    for value in hole.diameters_mm:
        if not math.isfinite(value) or not 0.5 * diameter_mm <= value <= 3 * diameter_mm:
            raise ValueError(f"hole {hole.number} of {value:g} mm is no hole for {diameter_mm:g} mm: look at its unit")
    widest = max(hole.diameters_mm, default=None)
    oval = max(hole.diameters_mm) - min(hole.diameters_mm) if len(hole.diameters_mm) > 1 else None
    # An enlarged hole holds the next size already: it is worn only beside that one.
    nominal = hole_mm + (next_mm - diameter_mm if hole.times_oversized and next_mm is not None else 0)
    worn = None if widest is None else widest > nominal + LOOSE_MM + 1e-9 or is_oval(oval or 0.0)
    why = []
    least = MIN_RATIO_FLUSH if flush else MIN_RATIO
    ratio = None
    if next_mm is None:
        why.append("no next size is in the catalogue")
    else:
        if hole.edge_mm is None:
            why.append("its edge distance is not measured")
        else:
            at_worst = worst_edge(hole.edge_mm, hole.diameters_mm)
            ratio = round(at_worst / next_mm, 9)
            if ratio < least:
                side = " on its worst side" if at_worst < hole.edge_mm else ""
                why.append(f"edge {ratio:.2f} D{side} is below {least:g} D")
        if pitch_mm is not None and pitch_mm / next_mm < MIN_PITCH - 1e-9:
            why.append(f"pitch {pitch_mm / next_mm:.2f} D is below 3 D")
        if widest is not None and widest > next_mm + LOOSE_MM:
            why.append(f"{widest:g} mm is past the next size too")
    if hole.times_oversized:
        why.append("it was enlarged before" + (f", {hole.times_oversized} times" if hole.times_oversized > 1 else ""))
    own = worst_edge(hole.edge_mm, hole.diameters_mm) / diameter_mm if hole.edge_mm is not None else None
    return HoleJudged(hole.number, widest, oval, own, worn, not why, tuple(why))


def _sentence(verdict: str, refused: Sequence[HoleJudged], oversized: int, most: int, unmeasured: int) -> str:
    if verdict == "remake or ask":
        if refused:
            which = ", ".join(str(each.number) for each in refused[:6])
            return f"Remake the sheet or ask engineering: no next size may go into worn hole {which}."
        return f"Remake the sheet or ask engineering: {oversized} holes would be oversize, at most {most} is quoted."
    if verdict == "measure first":
        return f"No verdict on the sheet: {unmeasured} of its holes here are not measured."
    return (
        f"The sheet can serve again here: {oversized} holes take the next size."
        if oversized
        else "The holes can serve again."
    )
