"""Mixed bags: are they told apart, is doubt said where it is, is the warning before they leave worth heeding."""

import resource
import subprocess
import sys
import time
from collections import Counter
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise

from witnessmark.bench.drawn_returns import DrawnPiece, DrawnReturn, draw, nearest_bag, read_again
from witnessmark.bench.figures import SEED, figure
from witnessmark.calc.bags.astray import astray
from witnessmark.calc.bags.confusion import confusion
from witnessmark.calc.bags.features import Coat, Group, MeasuredPiece, Reading, feature_of, pooled
from witnessmark.calc.bags.remedy import BASKET, Remedy, remedy
from witnessmark.calc.bags.return_match import DOUBTFUL, ReturnMatch, match_return

NOISES_MM = (0.05, 0.10)
BASKETS = 2
_COAT = Coat(8.0, 2.0)
_FEATURES = ("diameter_mm", "length_mm")
MOST_TURNS = 8
_BINS = (0.0, 0.5, 0.7, 0.9, 0.99, 1.0001)


@dataclass(frozen=True)
class Run:
    """One drawn return, matched with everything in one bucket, and with the warnings heeded.

    `travelled` is before anything was read again, `heeded` after the doubtful ones were, `asked` how often.
    """

    drawn: DrawnReturn
    plain: ReturnMatch
    travelled: ReturnMatch
    heeded: ReturnMatch
    asked: int
    remedy: Remedy
    tagged: frozenset[str]
    greedy: float

    def right(self, match: ReturnMatch) -> list[bool]:
        return [(p.bag or "") == self.drawn.back[int(p.piece)].home for p in match.pieces]


def _groups(drawn: DrawnReturn, noise_mm: float) -> list[Group]:
    made = []
    for bag in drawn.bags:
        read = {
            name: feature_of([each[k] for each in bag.before], noise_mm, 0.01).feature
            for k, name in enumerate(_FEATURES)
        }
        made.append(Group(bag.name, bag.name, len(bag.before), read))
    return made


def _pieces(drawn: DrawnReturn, noise_mm: float) -> list[MeasuredPiece]:
    return [
        MeasuredPiece(
            str(n), {"diameter_mm": Reading(p.diameter_mm, noise_mm), "length_mm": Reading(p.length_mm, noise_mm)}
        )
        for n, p in enumerate(drawn.back)
    ]


def _kept_apart(plan: Remedy) -> dict[str, str]:
    """What each bag travels in when the warning is heeded: its basket, or by itself."""
    inside = {bag: f"basket {n}" for n, bags in enumerate(plan.baskets) for bag in bags}
    return {**{step.bag: f"{step.do} {step.bag}" for step in plan.steps if step.do != BASKET}, **inside}


def _lies_in(piece: DrawnPiece, inside: dict[str, str], tagged: frozenset[str]) -> str:
    """Where a piece is found: under its own wired tag, else in the basket it came back in."""
    return f"tag {piece.home}" if piece.home in tagged else inside[piece.lay_with]


@cache
def _run(seed: int, noise_mm: float) -> Run:
    drawn = draw(seed, noise_mm)
    groups, pieces = _groups(drawn, noise_mm), _pieces(drawn, noise_mm)
    seen = confusion(groups, _COAT)
    plan = remedy(groups, seen, BASKETS, _COAT)
    tagged = frozenset(step.bag for step in astray(groups, seen, plan).tags)
    inside = _kept_apart(plan)
    apart = [replace(g, basket=f"tag {g.bag}" if g.bag in tagged else inside[g.bag]) for g in groups]
    lay = [replace(p, basket=_lies_in(drawn.back[int(p.key)], inside, tagged)) for p in pieces]
    travelled = match_return(apart, lay, _COAT)
    heeded, asked = _read_as_asked(drawn, apart, lay, travelled, noise_mm)
    return Run(drawn, match_return(groups, pieces, _COAT), travelled, heeded, asked, plan, tagged, nearest_bag(drawn))


def _read_as_asked(
    drawn: DrawnReturn, groups: list[Group], pieces: list[MeasuredPiece], match: ReturnMatch, noise_mm: float
) -> tuple[ReturnMatch, int]:
    """Do what the sorting page says: read the named feature of the named pieces, as long as it names one."""
    asked = 0
    read = {p.key: {what: [r] for what, r in p.readings.items()} for p in pieces}
    for turn in range(MOST_TURNS):
        if match.next is None:
            break
        what = match.next.feature
        for key in match.next.pieces:
            value = read_again(drawn, int(key), _FEATURES.index(what), noise_mm, turn)
            read[key].setdefault(what, []).append(Reading(value, noise_mm))
        asked += len(match.next.pieces)
        pieces = [replace(p, readings={k: pooled(rows) for k, rows in read[p.key].items()}) for p in pieces]
        match = match_return(groups, pieces, _COAT)
    return match, asked


def _runs(full: bool) -> list[Run]:
    return [_run(SEED + n, noise) for noise in NOISES_MM for n in range(20 if full else 6)]


def _share(flags: list[bool]) -> float:
    return sum(flags) / len(flags)


@figure("outwork.right_when_warning_heeded", unit="share", goal=0.995, sense=">=", baseline=0.907)
def right_when_warning_heeded(full: bool) -> tuple[float, str]:
    """Share of pieces that go to their own bag when bags travel as the remedy says and the doubtful are read as asked."""
    runs = _runs(full)
    heeded = _share([ok for run in runs for ok in run.right(run.heeded)])
    plain = _share([ok for run in runs for ok in run.right(run.plain)])
    greedy = sum(run.greedy for run in runs) / len(runs)
    once = _share([ok for run in runs for ok in run.right(run.travelled)])
    worst = min(_share(run.right(run.heeded)) for run in runs)
    tags = sum(len(run.tagged) for run in runs) / len(runs)
    again = sum(run.asked for run in runs) / sum(len(run.heeded.pieces) for run in runs)
    return heeded, (
        f"{len(runs)} returns, the worst {worst:.4f}; {tags:.1f} of 60 bags tagged; read once {once:.4f}, {again:.0%} of the pieces read again; "
        f"in one bucket {plain:.4f}; nearest bag {greedy:.4f}"
    )


@figure("outwork.unmarked_errors", unit="share", goal=0.001)
def unmarked_errors(full: bool) -> tuple[float, str]:
    """Share of pieces that go wrong without being called doubtful: the worse of one bucket and warning heeded."""
    told = []
    for name in ("plain", "heeded"):
        flags = [
            not ok and p.state != DOUBTFUL
            for run in _runs(full)
            for ok, p in zip(run.right(getattr(run, name)), getattr(run, name).pieces, strict=True)
        ]
        told.append(_share(flags))
    return max(told), f"one bucket {told[0]:.5f}, heeded {told[1]:.5f}"


@figure("outwork.calibration_error", unit="share", goal=0.02)
def calibration_error(full: bool) -> tuple[float, str]:
    """Chance said against share right, by how sure it was, weighed by pieces; all in one bucket."""
    both = [(p.sure, ok) for run in _runs(full) for ok, p in zip(run.right(run.plain), run.plain.pieces, strict=True)]
    error, said = 0.0, []
    for low, high in pairwise(_BINS):
        own = [(sure, ok) for sure, ok in both if low <= sure < high]
        if own:
            mean, right = sum(s for s, _ in own) / len(own), _share([ok for _, ok in own])
            error += abs(mean - right) * len(own) / len(both)
            said.append(f"{mean:.3f}/{right:.3f} ({len(own)})")
    return error, f"said/right: {', '.join(said)}"


@figure("outwork.distinct_bags_touched_by_remedy", unit="share", goal=0.15)
def distinct_bags_touched(full: bool) -> tuple[float, str]:
    """Share of the bags without a near twin that the remedy handles in another way than the rest."""
    touched = [
        bag.name in {*run.remedy.touched, *run.tagged} for run in _runs(full) for bag in run.drawn.bags if not bag.twin
    ]
    return _share(touched), f"{sum(touched)} of {len(touched)} bags; the vendor runs {BASKETS} baskets"


@figure("outwork.short_and_foreign_named", unit="share", goal=0.95, sense=">=")
def short_and_foreign_named(full: bool) -> tuple[float, str]:
    """Share of lost pieces whose bag is named short, and of foreign ones that are called foreign; warning heeded."""
    named = missed = called = 0
    for run in _runs(full):
        lost = Counter(run.drawn.lost)
        said = Counter({s.bag: s.count for s in run.heeded.short})
        found = sum((lost & said).values())
        strangers = [p for p in run.heeded.pieces if not run.drawn.back[int(p.piece)].home]
        found += sum(p.bag is None for p in strangers)
        named += found
        missed += sum(lost.values()) + len(strangers) - found
        called += sum(said.values()) + sum(p.bag is None for p in run.heeded.pieces) - found
    return named / (named + missed), f"{missed} missed, {called} named in vain"


@figure("outwork.match_400_cpu_s", unit="s", goal=1)
def match_400(full: bool) -> tuple[float, str]:
    """CPU time to tell 400 pieces of 60 bags apart with their chances, the least of five."""
    drawn = draw(SEED, 0.1)
    groups, pieces = _groups(drawn, 0.1), _pieces(drawn, 0.1)
    match_return(groups, pieces, _COAT)
    least = float("inf")
    for _ in range(5):
        before = time.process_time()
        match_return(groups, pieces, _COAT)
        least = min(least, time.process_time() - before)
    return least, "the least of five"


@cache
def _large() -> tuple[float, float]:
    """CPU seconds and peak memory in GB of the large match, in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-m", "witnessmark.bench.outwork"], capture_output=True, text=True, check=True
    )
    cpu_s, peak_gb = done.stdout.split()
    return float(cpu_s), float(peak_gb)


@figure("outwork.match_10000_cpu_s", unit="s", goal=20)
def match_10000(full: bool) -> float:
    """CPU time to tell 10,000 pieces of 1,000 bags apart with their chances."""
    return _large()[0]


@figure("outwork.match_10000_peak_gb", unit="GB", goal=2)
def match_10000_peak(full: bool) -> float:
    """Peak memory of that, the program included."""
    return _large()[1]


def _measure_large() -> None:
    drawn = draw(SEED, 0.05, pieces=10_000, bags=1_000, twins=250)
    groups, pieces = _groups(drawn, 0.05), _pieces(drawn, 0.05)
    before = time.process_time()
    match_return(groups, pieces, _COAT)
    print(time.process_time() - before, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2)


if __name__ == "__main__":
    _measure_large()
