"""Rivets that came: a sample measured, which rows can take them, which are barred, how many remain to be made."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from witnessmark.calc.fasteners.length import stock_words
from witnessmark.calc.working import Answer, working

SHANK_MM = 0.05
HEAD_MM = 0.15
NEAR_MM = 0.4  # a box within half a size of a row was likely made for it: the row says why it takes none


@dataclass(frozen=True)
class Wanting:
    """One row that waits for a shank in a length and a head; `head_mm` is None where nobody has measured its seat."""

    row: str
    shank_mm: float
    length_mm: float
    head_mm: float | None
    holes: int


@dataclass(frozen=True)
class Taking:
    """What one row can do with the box."""

    row: str
    holes: int
    takes: int
    barred: bool
    why: str


@dataclass(frozen=True)
class Received(Answer):
    """The whole of it: rows that take the box, rows it is barred from, what remains to be made and what lies over."""

    shank_mm: float
    head_mm: float
    rows: tuple[Taking, ...]
    taken: int
    to_make: int
    to_make_heads: tuple[tuple[float, int], ...]
    left_over: int
    mixed: bool
    sentence: str


def receive(
    shanks_mm: Sequence[float], heads_mm: Sequence[float], length_mm: float, count: int, wanting: Sequence[Wanting]
) -> Received:
    """Match a box, known by its sample, with the rows that wait.

    Parameters
    ----------
    shanks_mm : sequence of float
        Shank of each rivet of the sample. [mm], shape (n,)
    heads_mm : sequence of float
        Head of each rivet of the sample, in the same order. [mm], shape (n,)
    length_mm : float
        Length of the rivets. [mm]
    count : int
        Rivets in the box. [-]
    wanting : sequence of Wanting
        Rows that wait for rivets; earlier rows are served first. [-]

    Returns
    -------
    Received
        Row by row, with sums and one sentence.

    Raises
    ------
    ValueError
        No sample, samples of different count, more measured than are there, a head no wider than its shank, or a
        figure that is absurd.

    Notes
    -----
    A row takes a rivet whose shank is within 0.05 mm, head within 0.15 mm and length is its own. A row with the right
    shank and another head or length is barred, and says by how much. Where no row has the shank, those within 0.4 mm of
    it say so too. A row whose head nobody measured takes none: it is named. A sample that spreads
    wider than that is a mixed box, and no row takes it.

    Examples
    --------
    >>> rows = [Wanting("K-1", 3.5, 8, 7.4, 70), Wanting("F-2", 3.5, 8, 6.3, 40)]
    >>> found = receive([3.5] * 5, [6.3] * 5, 8, 100, rows)
    >>> found.taken, found.to_make, found.left_over
    (40, 70, 60)

    References
    ----------
    receiving-practice
    """
    if not shanks_mm or len(shanks_mm) != len(heads_mm):
        raise ValueError("measure shank and head of the same rivets, one at the least")
    if not len(shanks_mm) <= count <= 1_000_000:
        raise ValueError(f"a box of {count} does not hold a sample of {len(shanks_mm)}")
    for shank, head in zip(shanks_mm, heads_mm, strict=True):
        if not (math.isfinite(shank + head) and 1 <= shank <= 12 and head <= 40):
            raise ValueError(f"a shank of {shank:g} with a head of {head:g} mm is no rivet: look at the unit")
        if head <= shank:
            raise ValueError(f"a head of {head:g} mm is no wider than its shank of {shank:g} mm")
    if not 1 <= length_mm <= 200:
        raise ValueError(f"a length of {length_mm:g} mm is no rivet's: look at the unit")
    shank, head = fmean(shanks_mm), fmean(heads_mm)
    mixed = max(shanks_mm) - min(shanks_mm) > 2 * SHANK_MM or max(heads_mm) - min(heads_mm) > 2 * HEAD_MM
    left, rows = count, []
    unmade: dict[float, int] = {}
    alike = [w for w in wanting if abs(w.shank_mm - shank) <= SHANK_MM + 1e-9 and w.holes]
    for want in alike:
        why = _why_not(want, shank, head, length_mm, mixed)
        takes = 0 if why else min(left, want.holes)
        left -= takes
        rows.append(Taking(want.row, want.holes, takes, bool(why), why))
        if want.head_mm is not None and takes < want.holes:
            unmade[want.head_mm] = unmade.get(want.head_mm, 0) + want.holes - takes
    taken, to_make = count - left, sum(row.holes - row.takes for row in rows)
    if not alike and not mixed:
        near = [w for w in wanting if abs(w.shank_mm - shank) <= NEAR_MM and w.holes]
        rows += [Taking(w.row, w.holes, 0, True, _why_not(w, shank, head, length_mm, mixed)) for w in near]
    return Received(
        working=working(
            "a row takes the box where shank, head and length agree",
            [
                ("shank", round(shank, 3), "mm", f"mean of {len(shanks_mm)}"),
                ("head", round(head, 3), "mm", f"mean of {len(heads_mm)}"),
                ("box", count, "-", "counted"),
                ("taken", taken, "-", "rows that fit"),
                ("to make", to_make, "-", "holes of this shank that stay without"),
            ],
            ("receiving-practice",),
            ("The sample is of two kinds: sort the box and measure again.",) if mixed else (),
            f"Shank within {SHANK_MM:g}, head within {HEAD_MM:g} mm; spares are not counted here.",
        ),
        shank_mm=shank,
        head_mm=head,
        rows=tuple(rows),
        taken=taken,
        to_make=to_make,
        to_make_heads=tuple(sorted(unmade.items())),
        left_over=left,
        mixed=mixed,
        sentence=_sentence(rows, shank, head, taken, unmade, left, mixed),
    )


def _why_not(want: Wanting, shank_mm: float, head_mm: float, length_mm: float, mixed: bool) -> str:
    """Every reason at once, so that the maker is told once."""
    if mixed:
        return "the box is mixed"
    why = []
    if abs(want.shank_mm - shank_mm) > SHANK_MM + 1e-9:
        off = round(shank_mm - want.shank_mm, 2)
        why.append(
            f"its shank is {abs(off):g} mm {'over' if off > 0 else 'under'} the {want.shank_mm:g} mm that it wants"
        )
    if want.head_mm is None:
        why.append("nobody has measured the head that sits here")
    elif abs(want.head_mm - head_mm) > HEAD_MM + 1e-9:
        why.append(f"wants a head of {want.head_mm:g} mm, not {head_mm:.2g}")
    if abs(want.length_mm - length_mm) > 0.26:
        off = round(length_mm - want.length_mm, 2)
        wants = f"wants {stock_words(want.length_mm)}, not {stock_words(length_mm)}"
        why.append(f"it is {abs(off):g} mm too {'long' if off > 0 else 'short'}: {wants}")
    return "; ".join(why)


def _sentence(
    rows: Sequence[Taking], shank: float, head: float, taken: int, unmade: dict[float, int], left: int, mixed: bool
) -> str:
    if mixed:
        return "The box is mixed: sort it before any row takes from it."
    fit = [f"{row.row} {row.takes}" for row in rows if row.takes]
    barred: dict[str, list[str]] = {}
    for row in rows:
        if row.barred:
            barred.setdefault(row.why, []).append(row.row)
    said = f"Shank {shank:.2f}, head {head:.2f} mm: "
    said += f"{taken} go into {', '.join(fit)}." if fit else "no row takes them."
    if barred:
        said += f" Barred from {', '.join(row.row for row in rows if row.barred)}."
    for why, names in barred.items():
        said += f" {', '.join(names)}: {why}."
    for size, number in sorted(unmade.items()):
        said += f" {number} with a head of {size:g} mm remain to be made."
    return said + (f" {left} lie over." if left else "")
