"""How much survey is enough: the row is the unit, not the rivet; what was not looked at is never taken to be alike."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from witnessmark.calc.working import Answer, working

Reach = Literal["looked at", "not looked at", "under paint", "cannot reach"]
LEAST_ROWS = 3  # rows of a structure to look at before anything is claimed of the others
ODDER = 3.0  # a row left for later counts as so many rows: the easy ones were looked at first
HEADS_A_ROW = 3
_RATES = 60
_FIRMNESS = (1.0, 3.0, 10.0, 30.0)


@dataclass(frozen=True)
class SurveyRow:
    """One row of the aircraft; `kind` is what was found in it (size and head), empty where nobody looked."""

    name: str
    structure: str
    holes: int
    reach: Reach
    kind: str = ""

    @property
    def looked_at(self) -> bool:
        return self.reach == "looked at"


@dataclass(frozen=True)
class StructureRisk:
    """What can be said of one structure; `chance` is None where nothing is claimed."""

    structure: str
    rows: int
    looked_at: int
    to_look_at: tuple[str, ...]
    no_claim: tuple[str, ...]
    kinds: tuple[str, ...]
    seen_once: int
    chance: float | None
    sentence: str


@dataclass(frozen=True)
class SurveyRisk(Answer):
    """The chance that a size or head nobody has seen is still out there, and which rows to look at next."""

    chance: float | None
    limit: float
    enough: bool
    structures: tuple[StructureRisk, ...]
    next_rows: tuple[str, ...]
    rows_to_enough: int | None
    no_claim: tuple[str, ...]
    single_head: float | None
    sentence: str
    single_head_sentence: str


def _log_none(a: Any, b: Any, rows: Any) -> Any:
    from scipy.special import betaln

    return betaln(a, b + rows) - betaln(a, b)


def unseen_chance(looked: Sequence[int], surprises: Sequence[int], left: Sequence[float]) -> tuple[list[float], float]:
    """Return the chance that at least one of the rows left shows something new, by structure and for all.

    Each structure has its own rate of surprises; the rates are drawn from one law for the whole aircraft, which is
    learned from all of it. Where few rows were looked at, a structure leans on the others.

    Parameters
    ----------
    looked : sequence of int
        Rows looked at, by structure. [-]
    surprises : sequence of int
        Of these, rows whose kind was met in no other row. [-]
    left : sequence of float
        Rows left, each counted as often as it deserves. [-]

    Returns
    -------
    tuple
        Chance by structure, and for all structures together.

    Raises
    ------
    ValueError
        Negative counts, or more surprises than rows looked at.

    Notes
    -----
    Beta-binomial within a structure; over the mean rate (Beta(0.5, 4.5) beforehand) and the firmness of the law, by
    sums over a grid.

    Examples
    --------
    >>> [round(chance, 2) for chance in unseen_chance([20, 20], [0, 3], [5, 5])[0]]
    [0.1, 0.47]

    References
    ----------
    hypergeometric
    row-survey-habits
    """
    import numpy as np
    from scipy.special import betaln

    n, k, m = (np.asarray(each, dtype=float) for each in (looked, surprises, left))
    if not len(n) == len(k) == len(m) or (n < 0).any() or (k < 0).any() or (m < 0).any() or (k > n).any():
        raise ValueError("rows, surprises and rows left are counts, one of each a structure")
    rate = ((np.arange(_RATES) + 0.5) / _RATES) ** 2
    firm = np.array(_FIRMNESS)
    a, b = (rate[:, None] * firm).reshape(-1), ((1 - rate)[:, None] * firm).reshape(-1)
    width = 2 * np.sqrt(rate) / _RATES
    before = np.log(width) + (0.5 - 1) * np.log(rate) + (4.5 - 1) * np.log1p(-rate)
    weight = np.repeat(before, len(firm))
    for seen, odd in zip(n, k, strict=True):
        weight = weight + betaln(a + odd, b + seen - odd) - betaln(a, b)
    weight = np.exp(weight - weight.max())
    weight /= weight.sum()
    none = np.array([np.exp(_log_none(a + odd, b + seen - odd, rows)) for seen, odd, rows in zip(n, k, m, strict=True)])
    if not len(none):
        return [], 0.0
    return [max(0.0, float(1 - each)) for each in none @ weight], max(0.0, float(1 - none.prod(axis=0) @ weight))


def single_head_chance(heads: int, looked_at: int, odd: int) -> float:
    """Return the chance that heads picked at random miss all odd ones: only if they were picked at random.

    Parameters
    ----------
    heads : int
        Heads in all. [-]
    looked_at : int
        Heads looked at. [-]
    odd : int
        Odd heads that may be among them. [-]

    Returns
    -------
    float
        Hypergeometric chance of no odd head among those looked at.

    Raises
    ------
    ValueError
        Counts that do not fit each other.

    Examples
    --------
    >>> round(single_head_chance(1000, 100, 20), 3)
    0.119

    References
    ----------
    hypergeometric
    """
    if not 0 <= looked_at <= heads or not 0 <= odd <= heads:
        raise ValueError(f"{looked_at} looked at and {odd} odd ones of {heads} heads do not fit")
    if looked_at + odd > heads:
        return 0.0
    return math.exp(
        math.lgamma(heads - odd + 1)
        - math.lgamma(heads - odd - looked_at + 1)
        - math.lgamma(heads + 1)
        + math.lgamma(heads - looked_at + 1)
    )


def heads_to_measure(names: Sequence[str], holes: int) -> int:
    """Return how many more heads of a row to measure: three, and on while they disagree.

    Parameters
    ----------
    names : sequence of str
        What each head measured so far turned out to be. [-]
    holes : int
        Holes of the row. [-]

    Returns
    -------
    int
        0 where it is enough. Where two kinds were met, three more after each head that disagrees with the most
        frequent one, up to the whole row.

    Raises
    ------
    ValueError
        A row without holes, or more heads than holes.

    Examples
    --------
    >>> [heads_to_measure(names, 40) for names in ([], ["a"] * 3, ["a", "a", "b"])]
    [3, 0, 3]

    References
    ----------
    row-survey-habits
    """
    if holes < 1 or len(names) > holes:
        raise ValueError(f"{len(names)} heads of a row of {holes} holes do not fit")
    wanted = HEADS_A_ROW
    if names:
        usual = Counter(names).most_common(1)[0][0]
        odd = sum(name != usual for name in names)
        wanted += HEADS_A_ROW * odd
    return max(0, min(wanted, holes) - len(names))


def _by_structure(rows: Sequence[SurveyRow]) -> dict[str, list[SurveyRow]]:
    found: dict[str, list[SurveyRow]] = {}
    for row in rows:
        found.setdefault(row.structure, []).append(row)
    return dict(sorted(found.items()))


def _surprises(rows: Sequence[SurveyRow]) -> dict[str, int]:
    """Rows by structure whose kind was met in no other row; a row looked at without a kind counts as one."""
    met = Counter(row.kind for row in rows if row.looked_at)
    odd: dict[str, int] = {}
    for row in rows:
        if row.looked_at and (not row.kind or met[row.kind] == 1):
            odd[row.structure] = odd.get(row.structure, 0) + 1
    return odd


def survey_risk(rows: Sequence[SurveyRow], limit: float = 0.10, wanted: int = 6) -> SurveyRisk:
    """Say what the survey leaves open, by structure, and which rows to look at next.

    Parameters
    ----------
    rows : sequence of SurveyRow
        Every row of the aircraft. [-]
    limit : float
        Chance of a size not seen yet that the user will accept. [-]
    wanted : int
        Rows to name next. [-]

    Returns
    -------
    SurveyRisk
        Chance over the rows that can still be looked at, by structure; rows under paint or out of reach are named
        and nothing is claimed of them, nor of a structure of which fewer than three rows were looked at.

    Raises
    ------
    ValueError
        A limit outside 0 to 1, or two rows of one name.

    Notes
    -----
    A row that was left for later counts as three that were looked at: easy rows come first, and odd sizes sit where
    it is hard to reach. With all rows looked at the chance is nought.

    Examples
    --------
    >>> rows = [SurveyRow(f"S{i}", "skin", 40, "looked at", "3.0") for i in range(30)]
    >>> survey_risk([*rows, SurveyRow("S30", "skin", 40, "not looked at")]).chance < 0.1
    True

    References
    ----------
    hypergeometric
    row-survey-habits
    """
    if not 0 < limit < 1:
        raise ValueError(f"a chance to accept lies between 0 and 1, not {limit}")
    if len({row.name for row in rows}) < len(rows):
        raise ValueError("two rows have one name")
    groups, odd = _by_structure(rows), _surprises(rows)
    looked = {name: sum(row.looked_at for row in each) for name, each in groups.items()}
    left = {name: [row for row in each if row.reach == "not looked at"] for name, each in groups.items()}
    claimed = [name for name in groups if looked[name] >= LEAST_ROWS]

    counts = {name: len(left[name]) for name in groups}
    each, together = unseen_chance(
        [looked[name] for name in claimed],
        [odd.get(name, 0) for name in claimed],
        [ODDER * counts[name] for name in claimed],
    )
    by_name = dict(zip(claimed, each, strict=True))
    unclaimed = [name for name in groups if name not in by_name and left[name]]
    chance = None if unclaimed else together
    shut = tuple(row.name for row in rows if row.reach in ("under paint", "cannot reach"))
    told = tuple(
        _structure(name, groups[name], looked[name], left[name], odd.get(name, 0), by_name.get(name)) for name in groups
    )
    order = _order(left, looked, unclaimed, by_name, wanted)
    enough = chance is not None and chance <= limit
    return SurveyRisk(
        working=working(
            "chance = 1 − Π over structures of the chance that none of its rows left is new (beta-binomial)",
            [
                (f"{one.structure}: looked at, met once, left", f"{one.looked_at}, {one.seen_once}, {len(one.to_look_at)}", "rows", "record")
                for one in told
            ]
            + [("a row left counts as", ODDER, "rows", "common practice"), ("limit", limit, "-", "set by the user")],
            ("hypergeometric", "row-survey-habits"),
            (f"No claim for {_rows(len(shut))} under paint or out of reach.",) if shut else (),
            "Rows that can be looked at. Rows under paint or out of reach are never taken to be like the others.",
        ),
        chance=chance,
        limit=limit,
        enough=enough,
        structures=told,
        next_rows=order,
        rows_to_enough=0 if enough else _needed(looked, odd, counts, limit) if wanted else None,
        no_claim=shut,
        single_head=_single(rows),
        sentence=_sentence(chance, limit, sum(counts.values()), unclaimed, shut),
        single_head_sentence=_single_sentence(rows),
    )  # fmt: skip


def _structure(
    name: str, rows: list[SurveyRow], looked: int, left: list[SurveyRow], odd: int, chance: float | None
) -> StructureRisk:
    shut = tuple(row.name for row in rows if row.reach in ("under paint", "cannot reach"))
    if left and chance is None:
        said = f"No claim for the {name}: {looked} of {len(rows)} rows looked at, at least {LEAST_ROWS} are needed."
    elif left:
        said = f"{_in_ten(chance or 0.0)} that {_rows_left(len(left))} of the {name} {_hold(len(left))} something new."
    elif shut:
        said = f"No claim for {_rows(len(shut))} of the {name}: under paint or out of reach."
    else:
        said = f"Every row of the {name} was looked at."
    if left and shut:
        said += f" No claim for {len(shut)} more: under paint or out of reach."
    return StructureRisk(
        structure=name,
        rows=len(rows),
        looked_at=looked,
        to_look_at=tuple(row.name for row in left),
        no_claim=shut,
        kinds=tuple(sorted({row.kind for row in rows if row.looked_at and row.kind})),
        seen_once=odd,
        chance=chance if left else (None if shut or not looked else 0.0),
        sentence=said,
    )


def _order(
    left: dict[str, list[SurveyRow]],
    looked: dict[str, int],
    unclaimed: Sequence[str],
    chance: dict[str, float],
    wanted: int,
) -> tuple[str, ...]:
    """Rows to look at next: what nothing is claimed of first, then by turns where a row weighs most."""
    order: list[str] = []
    queue = {name: sorted(rows, key=lambda row: (-row.holes, row.name)) for name, rows in left.items() if rows}
    for name in sorted(unclaimed, key=lambda each: (looked[each], each)):
        for _ in range(min(LEAST_ROWS - looked[name], len(queue[name]))):
            order.append(queue[name].pop(0).name)
    taken = dict.fromkeys(queue, 0)
    while len(order) < wanted and any(queue.values()):
        # The chance of a structure goes down about as one over the rows looked at in it.
        best = max(
            (name for name in queue if queue[name]),
            key=lambda name: (chance.get(name, 1.0) / (looked[name] + taken[name] + 1), name),
        )
        order.append(queue[best].pop(0).name)
        taken[best] += 1
    return tuple(order[:wanted])


def _needed(looked: dict[str, int], odd: dict[str, int], left: dict[str, int], limit: float) -> int:
    """Rows still to look at until the chance is low enough, if each turns out like one that was seen before."""

    def low(share: float) -> bool:
        more = {name: math.ceil(share * left[name]) for name in left}
        if any(left[name] > more[name] and looked[name] + more[name] < LEAST_ROWS for name in left):
            return False
        names = list(left)
        _, together = unseen_chance(
            [looked[name] + more[name] for name in names],
            [odd.get(name, 0) for name in names],
            [ODDER * (left[name] - more[name]) for name in names],
        )
        return together <= limit

    lowest, highest = 0.0, 1.0
    for _ in range(9):
        middle = (lowest + highest) / 2
        lowest, highest = (lowest, middle) if low(middle) else (middle, highest)
    return sum(math.ceil(highest * count) for count in left.values())


def _single(rows: Sequence[SurveyRow]) -> float | None:
    seen = sum(row.holes for row in rows if row.looked_at)
    heads = sum(row.holes for row in rows)
    usual = sorted(row.holes for row in rows)
    return single_head_chance(heads, seen, usual[len(usual) // 2]) if usual else None


def _single_sentence(rows: Sequence[SurveyRow]) -> str:
    chance = _single(rows)
    if chance is None:
        return ""
    return (
        f"Only if the heads had been picked at random: {_percent(chance)} that as many odd heads as one usual row holds "
        "were all missed. They were picked by row, so this figure is too good."
    )


def _percent(chance: float) -> str:
    return "under 1\u00a0%" if 0 < chance < 0.01 else f"{100 * chance:.0f}\u00a0%"


def _in_ten(chance: float) -> str:
    if chance < 0.05:
        return f"Less than one chance in {20 if chance >= 0.02 else 50}"
    return f"{round(10 * chance) or 1} chance{'s' if round(10 * chance) > 1 else ''} in ten"


def _sentence(chance: float | None, limit: float, left: int, unclaimed: Sequence[str], shut: Sequence[str]) -> str:
    tail = f" No claim for {_rows(len(shut))} under paint or out of reach." if shut else ""
    if unclaimed:
        return f"No claim for the {' and the '.join(unclaimed)}: too few rows were looked at there.{tail}"
    if chance is None or left == 0:
        return f"Every row that can be reached was looked at.{tail}"
    word = "within" if chance <= limit else "above"
    return (
        f"{_beside(chance, limit)} that {_rows_left(left)} {_hold(left)} a size or head nobody has seen, {word} the "
        f"{_as_set(limit)} that you set.{tail}"
    )


def _beside(chance: float, limit: float) -> str:
    """The chance in tens; where tens would stand on the other side of the limit than it does, in figures that do not."""
    above = chance > limit
    if chance < 0.05 or (0.1 * (round(10 * chance) or 1) > limit + 1e-9) == above:
        return _in_ten(chance)
    figures = (f"{100 * chance:.{n}f}" for n in range(10))
    read = next((each for each in figures if (float(each) > 100 * limit + 1e-9) == above), f"{100 * chance:.9f}")
    return f"A chance of {read}\u00a0%"


def _as_set(limit: float) -> str:
    return f"{100 * limit:.6g}\u00a0%"


def _rows(count: int) -> str:
    return "one row" if count == 1 else f"{count} rows"


def _rows_left(count: int) -> str:
    return "the one row left" if count == 1 else f"the {count} rows left"


def _hold(count: int) -> str:
    return "holds" if count == 1 else "hold"
