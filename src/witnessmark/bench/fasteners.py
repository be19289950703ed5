"""Fasteners: how often the name is right, how far the chances can be believed, how many measurements it takes."""

import random
from dataclasses import dataclass, replace
from functools import lru_cache

from witnessmark.bench.drawn_airframes import DrawnRow, draw_airframe, easy_first
from witnessmark.bench.drawn_fasteners import Piece, Printed, draw, printed_sizes
from witnessmark.bench.figures import SEED, figure
from witnessmark.calc.fasteners.catalogue import alike, built_in
from witnessmark.calc.fasteners.identify import Identification, identify_many
from witnessmark.calc.fasteners.readings import BadReading, Reading, read_measurements
from witnessmark.calc.fasteners.sampling import SurveyRow, survey_risk

MOST_MORE = 5


@dataclass(frozen=True)
class Told:
    """What was said of one piece: at two figures, at the end, and every chance shown on the way with whether it was so."""

    first: Identification
    last: Identification
    shown: tuple[tuple[float, bool], ...]
    more: int
    first_right: bool
    right: bool
    nearest_right: bool


def _right(said: Identification, truth: str | None) -> bool:
    return said.is_none if truth is None else truth in said.names


@lru_cache(maxsize=2)
def _run(count: int) -> tuple[list[Told], int]:
    pieces = draw(count, SEED)
    figures: list[dict[str, Reading]] = []
    kept: list[Piece] = []
    refused = 0
    for piece in pieces:
        read = {}
        for what in piece.first:
            value = piece.measure(what)
            assert value is not None
            read[what] = Reading(value, painted=piece.painted and what == "head_mm")
        try:
            read_measurements(read)
        except BadReading:
            refused += 1
            continue
        kept.append(piece)
        figures.append(read)
    firsts = identify_many(figures)
    last, more = list(firsts), [0] * len(kept)
    cannot: list[frozenset[str]] = [frozenset()] * len(kept)
    nearest = [_nearest(read) for read in figures]
    shown = [[(said.probability, _right(said, piece.truth))] for said, piece in zip(firsts, kept, strict=True)]
    for _ in range(2 * MOST_MORE):
        waiting: dict[frozenset[str], list[int]] = {}
        for i, said in enumerate(last):
            if not said.answered and said.next_measurement is not None and more[i] < MOST_MORE:
                value = kept[i].measure(said.next_measurement.what)
                if value is None:
                    cannot[i] |= {said.next_measurement.what}
                else:
                    if said.next_measurement.what == "head_mm":
                        kept[i] = replace(kept[i], painted=False)  # stripped before it is measured again
                        value = kept[i].measure("head_mm")
                        assert value is not None
                    figures[i] = {**figures[i], said.next_measurement.what: Reading(value)}
                    more[i] += 1
                waiting.setdefault(cannot[i], []).append(i)
        for blocked, which in waiting.items():
            for i, said in zip(which, identify_many([figures[i] for i in which], cannot=blocked), strict=True):
                last[i] = said
                if len(shown[i]) <= more[i]:
                    shown[i].append((said.probability, _right(said, kept[i].truth)))
    told = [
        Told(
            first,
            end,
            tuple(way),
            extra,
            _right(first, piece.truth),
            _right(end, piece.truth),
            _same(near, piece.truth),
        )
        for piece, first, end, way, extra, near in zip(kept, firsts, last, shown, more, nearest, strict=True)
    ]
    return told, refused


_PRINTED = {
    "shank_mm": "shank",
    "hole_mm": "shank",
    "driven_shank_mm": "shank",
    "head_mm": "over",
    "across_flats_mm": "flats",
    "pitch_mm": "pitch",
}


def _nearest(read: dict[str, Reading]) -> str:
    """The plain way: the size whose printed figures lie nearest to the two that were measured."""

    def off(size: Printed) -> float:
        total = 0.0
        for what, each in read.items():
            printed = getattr(size, _PRINTED[what])
            total += 99.0 if printed is None else abs(printed - float(each.value))
        return total

    return min(_sizes(), key=off).code


@lru_cache(maxsize=1)
def _sizes() -> tuple[Printed, ...]:
    return tuple(printed_sizes())


def _same(near: str, truth: str | None) -> bool:
    """The plain way is given the same grace: two names of one thing are one."""
    by_code = {shape.code: shape for shape in built_in()}
    return truth is not None and (near == truth or alike(by_code[near], by_code[truth]))


def _count(full: bool) -> int:
    return 20_000 if full else 10_000


def _calibration(pairs: list[tuple[float, bool]]) -> float:
    """Mean distance between what was said and what was so, over ten bins of equal count."""
    ranked = sorted(pairs)
    bins = [ranked[len(ranked) * k // 10 : len(ranked) * (k + 1) // 10] for k in range(10)]
    off = [abs(sum(p for p, _ in each) / len(each) - sum(r for _, r in each) / len(each)) for each in bins]
    return sum(off) / len(off)


@figure("fasteners.right_when_answered", unit="share", goal=0.99, sense=">=")
def right_when_answered(full: bool) -> tuple[float, str]:
    """Share of names given that were right."""
    told, refused = _run(_count(full))
    said = [each for each in told if each.last.answered]
    plain = sum(each.nearest_right for each in told) / len(told)
    return (
        sum(each.right for each in said) / len(said),
        f"{len(told)} fasteners, {refused} whose two figures were refused; nearest printed size on the same two figures: {plain:.3f} right",
    )


@figure("fasteners.answered", unit="share", goal=0.90, sense=">=")
def answered(full: bool) -> tuple[float, str]:
    """Share of fasteners that were given a name."""
    told, _ = _run(_count(full))
    at_once = sum(each.first.answered for each in told) / len(told)
    return sum(each.last.answered for each in told) / len(told), f"on the first two figures alone: {at_once:.3f}"


@figure("fasteners.calibration_error", unit="share", goal=0.02, sense="<=")
def calibration_error(full: bool) -> tuple[float, str]:
    """How far chances and shares lie apart, over every chance that was shown from two figures to the end."""
    told, _ = _run(_count(full))
    first = _calibration([(each.first.probability, each.first_right) for each in told])
    last = _calibration([(each.last.probability, each.right) for each in told])
    sure = sum(each.nearest_right for each in told) / len(told)
    return (
        _calibration([each for one in told for each in one.shown]),
        f"at two figures alone {first:.4f}, at the end alone {last:.4f}; the nearest size, always taken as sure: {1 - sure:.4f}",
    )


@figure("fasteners.extra_measurements", unit="count", goal=2, sense="<=")
def extra_measurements(full: bool) -> tuple[float, str]:
    """Measurements beyond the first two, on average."""
    told, _ = _run(_count(full))
    most = max(each.more for each in told)
    return sum(each.more for each in told) / len(told), f"at most {most} for one fastener"


@dataclass(frozen=True)
class Survey:
    """How one survey ended: whether rows were left, whether one of them held a size nobody had seen."""

    left_rows: bool
    missed: bool
    looked_share: float


def _missed(rows: list[DrawnRow], looked: set[str]) -> bool:
    seen = {row.kind for row in rows if row.name in looked}
    return any(row.kind not in seen for row in rows if row.name not in looked and not row.shut)


def _ended(rows: list[DrawnRow], looked: set[str]) -> Survey:
    within = [row for row in rows if not row.shut]
    return Survey(len(looked) < len(within), _missed(rows, looked), len(looked) / len(within))


def _by_row(rows: list[DrawnRow], order: list[DrawnRow], limit: float) -> Survey:
    looked: set[str] = set()
    for row in order:
        looked.add(row.name)
        if len(looked) % 3 and len(looked) < len(order):
            continue
        said = survey_risk(
            [
                SurveyRow(
                    each.name,
                    each.part,
                    each.heads,
                    "looked at" if each.name in looked else "cannot reach" if each.shut else "not looked at",
                    each.kind if each.name in looked else "",
                )
                for each in rows
            ],
            limit,
            wanted=0,
        )
        if said.enough:
            break
    return _ended(rows, looked)


def _by_single_head(rows: list[DrawnRow], order: list[DrawnRow], limit: float) -> Survey:
    """The plain way: heads as if picked at random, an odd kind as large as one usual row."""
    within = [row for row in rows if not row.shut]
    heads = sum(row.heads for row in within)
    odd = sorted(row.heads for row in within)[len(within) // 2]
    looked: set[str] = set()
    counted = 0
    for row in order:
        looked.add(row.name)
        counted += row.heads
        if hypergeom_none(heads, odd, counted) <= limit:
            break
    return _ended(rows, looked)


def hypergeom_none(heads: int, odd: int, picked: int) -> float:
    """Chance that none of the odd heads is among those picked, by a general library."""
    from scipy.stats import hypergeom

    return float(hypergeom.pmf(0, heads, odd, picked))


@figure("fasteners.survey_miss_over_accepted", unit="ratio", goal=1, sense="<=")
def survey_miss_over_accepted(full: bool) -> tuple[float, str]:
    """Share of surveys ended early that missed a size, over the risk accepted: the worse of 5 and 10 in a hundred."""
    worst, notes = 0.0, []
    for limit in (0.05, 0.10):
        chance = random.Random(SEED + round(100 * limit))  # noqa: S311 - must come out the same each time
        mine, plain = [], []
        for _ in range(5_000 if full else 1_000):
            rows = draw_airframe(chance)
            order = easy_first(rows, chance)
            mine.append(_by_row(rows, order, limit))
            plain.append(_by_single_head(rows, order, limit))
        ratio, looked, early = _ratio(mine, limit)
        plain_ratio, plain_looked, _ = _ratio(plain, limit)
        worst = max(worst, ratio)
        notes.append(
            f"at {limit:.2f}: {ratio:.2f} over {early} of {len(mine)} surveys that ended early, {looked:.0%} of the rows "
            f"looked at; single heads as if at random {plain_ratio:.2f}, {plain_looked:.0%}"
        )
    return worst, "; ".join(notes)


def _ratio(ended: list[Survey], limit: float) -> tuple[float, float, int]:
    early = [each for each in ended if each.left_rows]
    missed = sum(each.missed for each in early) / max(1, len(early))
    return missed / limit, sum(each.looked_share for each in ended) / len(ended), len(early)
