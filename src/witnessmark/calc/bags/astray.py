"""What still goes astray between the vendor's baskets, unnoticed, and which bags a wired tag would make certain."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from witnessmark.calc.bags.confusion import Confusion
from witnessmark.calc.bags.features import Group
from witnessmark.calc.bags.remedy import TAG, USUAL_COSTS, Costs, Remedy, Step
from witnessmark.calc.bags.scores import STRAYED
from witnessmark.calc.working import Answer, working

# From this share of the pieces on, going astray unnoticed is worth the wire.
ACCEPTED = 0.0025


@dataclass(frozen=True)
class Astray(Answer):
    """Pieces expected to go astray unnoticed, the tags that would stop it, and what would be left with these."""

    pieces: float
    tags: tuple[Step, ...]
    left: float
    sentence: str


def unnoticed_chance(apart: float, strayed: float = STRAYED) -> float:
    """Return the chance that a piece that lies in the wrong basket is taken for that basket's own.

    Parameters
    ----------
    apart : float
        Distance of the two bags' means in deviations of one reading. [-]
    strayed : float
        Share of pieces that come back in another basket. [-]

    Returns
    -------
    float
        Phi((ln((1 - s) / s) - d^2 / 2) / d); 1 at d = 0. [-]

    Raises
    ------
    ValueError
        A negative distance or a share outside 0 to 0.5.

    Notes
    -----
    Normal readings of equal spread: the logarithm of the likelihood ratio of a strayed piece is normal with mean d^2 / 2
    and variance d^2, and it is noticed when that outweighs how seldom pieces stray.

    Examples
    --------
    >>> unnoticed_chance(0.0), round(unnoticed_chance(3.0), 2), round(unnoticed_chance(6.0), 3)
    (1.0, 0.42, 0.009)

    References
    ----------
    none: the likelihood ratio of two normal distributions.
    """
    if not apart >= 0 or not 0 < strayed < 0.5:
        raise ValueError("a distance is not negative, and a share lies above 0 and below 0.5")
    if apart == 0:
        return 1.0
    score = (math.log((1 - strayed) / strayed) - apart * apart / 2) / apart
    return 0.5 * math.erfc(-score / math.sqrt(2))


def astray(
    groups: Sequence[Group],
    seen: Confusion,
    plan: Remedy,
    strayed: float = STRAYED,
    accepted: float = ACCEPTED,
    costs: Costs = USUAL_COSTS,
) -> Astray:
    """Say what goes astray between baskets although the remedy is followed, and which tags make it certain.

    Parameters
    ----------
    groups : sequence of Group
        What is to leave together. [-]
    seen : Confusion
        The confusion among them. [-]
    plan : Remedy
        The remedy, with what goes into which basket. [-]
    strayed : float
        Share of pieces that come back in another basket. [-]
    accepted : float
        Share of the pieces that may go astray unnoticed. [-]
    costs : Costs
        Minutes for each remedy. [min]

    Returns
    -------
    Astray
        Pieces expected to end in the wrong bag unnoticed, and the tags that bring them under what is accepted.

    Raises
    ------
    ValueError
        A share outside 0 to 0.5.

    Notes
    -----
    A piece strays into another basket in proportion to what lies there. Tags are chosen one after the other, the one that
    saves most a minute first: a good guess, not proved least. A wired tag goes with its piece and does not stray; nothing
    strays from one shipment into another.

    Examples
    --------
    >>> from witnessmark.calc.bags.confusion import confusion
    >>> from witnessmark.calc.bags.features import Feature
    >>> from witnessmark.calc.bags.remedy import remedy
    >>> sent = [Group(k, k, 10, {"diameter_mm": Feature(8.0, 0.03, n=10)}) for k in "AB"]
    >>> graph = confusion(sent)
    >>> told = astray(sent, graph, remedy(sent, graph, baskets=2))
    >>> round(told.pieces, 2), [step.bag for step in told.tags], told.left
    (0.4, ['A'], 0.0)

    References
    ----------
    stray-practice remedy-minutes-practice
    """
    counts = dict.fromkeys((g.bag for g in groups), 0)
    for group in groups:
        counts[group.bag] += group.count
    expected = _expected(counts, groups, seen, plan, strayed)
    total = sum(counts.values())
    pieces = math.fsum(expected.values())
    tags: list[Step] = []
    left = dict(expected)
    while left and math.fsum(left.values()) > accepted * total:
        saved: dict[str, float] = {}
        for pair, many in left.items():
            for bag in pair:
                saved[bag] = saved.get(bag, 0.0) + many
        best = max(sorted(saved), key=lambda bag: saved[bag] / (costs.tag_each_minutes * counts[bag]))
        tags.append(Step(best, TAG, costs.tag_each_minutes * counts[best]))
        left = {pair: many for pair, many in left.items() if best not in pair}
    rest = math.fsum(left.values())
    return Astray(
        working=working(
            "astray = sum over confusable bags in different baskets of pieces x strayed x chance that it is not noticed",
            [
                ("pieces", total, "", "shipment"),
                ("strayed", strayed, "share", "usual"),
                ("accepted", accepted, "share", "shop's own"),
                ("astray unnoticed", round(pieces, 3), "pieces", "computed"),
                ("with the tags", round(rest, 3), "pieces", "computed"),
            ],
            ("stray-practice", "remedy-minutes-practice"),
        ),
        pieces=pieces,
        tags=tuple(tags),
        left=rest,
        sentence=_sentence(pieces, total, tags),
    )


def _expected(
    counts: Mapping[str, int], groups: Sequence[Group], seen: Confusion, plan: Remedy, strayed: float
) -> dict[tuple[str, str], float]:
    """By pair of bags in different baskets of one shipment: pieces that stray from the one to the other unnoticed."""
    basket = {bag: n for n, bags in enumerate(plan.baskets) for bag in bags}
    each = max(1, len(plan.baskets) // max(1, plan.shipments))
    tagged = {step.bag for step in plan.steps if step.do == TAG}
    alone = {bag: len(plan.baskets) + n for n, bag in enumerate(b for b in counts if b not in basket)}
    lies = {**basket, **alone}
    goes = {
        bag: at // each if bag in basket else 0 for bag, at in lies.items()
    }  # marked bags go with the first shipment
    inside: dict[int, int] = {}
    travels: dict[int, int] = {}
    for bag, n in counts.items():
        inside[lies[bag]] = inside.get(lies[bag], 0) + n
        travels[goes[bag]] = travels.get(goes[bag], 0) + n
    of = {g.key: g for g in groups}
    found: dict[tuple[str, str], float] = {}
    for pair in seen.pairs:
        a, b = of[pair.a], of[pair.b]
        if lies[a.bag] == lies[b.bag] or goes[a.bag] != goes[b.bag] or {a.bag, b.bag} & tagged:
            continue
        many = math.fsum(
            one.count * strayed * inside[lies[other.bag]] / max(1, travels[goes[one.bag]] - inside[lies[one.bag]])
            for one, other in ((a, b), (b, a))
        )
        key = (min(a.bag, b.bag), max(a.bag, b.bag))
        found[key] = found.get(key, 0.0) + many * unnoticed_chance(pair.apart, strayed)
    return found


def _sentence(pieces: float, total: int, tags: Sequence[Step]) -> str:
    if not tags:
        return ""
    names = [step.bag for step in tags]
    said = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
    minutes = math.fsum(step.minutes for step in tags)
    many = f"about {pieces:.1f} of {total} pieces would" if pieces >= 0.95 else f"one of {total} pieces could"
    return (
        f"Even so {many} come back in the wrong basket unnoticed. To be surer wire {said} up with a metal tag: "
        f"{minutes:.0f} minutes."
    )
