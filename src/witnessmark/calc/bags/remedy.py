"""The cheapest way to keep apart what could not be told apart: baskets, a wired tag, a mesh bag, one more feature."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from witnessmark.calc.bags.confusion import LIMIT, Confusion, any_wrong_chance
from witnessmark.calc.bags.features import BARE, Coat, Feature, Group, usual_sigma
from witnessmark.calc.bags.next_reading import feature_words, features_apart
from witnessmark.calc.working import Answer, working

BASKET, APART, TAG, MEASURE = "basket", "bag apart", "wire a tag", "measure"
_EXACT = 14


@dataclass(frozen=True)
class Costs:
    """Minutes at the bench for each remedy; `mesh_bags` False where the process does not go through a mesh bag."""

    tag_each_minutes: float = 1.0
    mesh_bag_minutes: float = 5.0
    measure_each_minutes: float = 0.7
    basket_minutes: float = 1.0
    shipment_minutes: float = 90.0
    mesh_bags: bool = True

    def apart(self, count: int) -> tuple[str, float]:
        """The cheaper way to mark one bag for good, and its minutes."""
        tag = self.tag_each_minutes * count
        return (APART, self.mesh_bag_minutes) if self.mesh_bags and self.mesh_bag_minutes <= tag else (TAG, tag)


USUAL_COSTS = Costs()


@dataclass(frozen=True)
class Step:
    """One thing to do with one bag. `basket` numbers from 1 over all shipments; `feature` is what to measure."""

    bag: str
    do: str
    minutes: float
    basket: int | None = None
    shipment: int = 1
    feature: str = ""


@dataclass(frozen=True)
class Remedy(Answer):
    """What to do before it leaves; `baskets` lists the bags of each, by shipment; `exact` False for a good guess."""

    steps: tuple[Step, ...]
    baskets: tuple[tuple[str, ...], ...]
    shipments: int
    minutes: float
    exact: bool
    sentence: str

    @property
    def touched(self) -> tuple[str, ...]:
        """Bags that are handled in another way than the rest."""
        return tuple(sorted({step.bag for step in self.steps}))


@dataclass(frozen=True)
class _Choice:
    colour: int  # -1: marked for good, mixes with nobody
    feature: str
    minutes: float


def remedy(
    groups: Sequence[Group],
    seen: Confusion,
    baskets: int = 1,
    coat: Coat = BARE,
    measurable: Mapping[str, Mapping[str, Feature]] | None = None,
    costs: Costs = USUAL_COSTS,
) -> Remedy:
    """Return the cheapest way to keep confusable bags apart.

    Parameters
    ----------
    groups : sequence of Group
        What is to leave together. [-]
    seen : Confusion
        The confusion among them. [-]
    baskets : int
        Separate baskets that the vendor runs of one shipment. [-]
    coat : Coat
        What the process will add. [-]
    measurable : mapping or None
        By group, features not measured yet with what the catalogue expects of them. [-]
    costs : Costs
        Minutes for each remedy. [min]

    Returns
    -------
    Remedy
        Steps by bag, what goes into which basket, how many shipments, minutes, and whether it is proved cheapest.

    Raises
    ------
    ValueError
        No basket at all.

    Notes
    -----
    The confusion graph is coloured with as many colours as there are baskets; a bag that gets none is marked for good (a
    mesh bag or a wired tag) or measured in one more feature, whichever is cheaper; a second shipment doubles the
    baskets. Exact for clusters of up to 14 bags, by branch and bound; larger ones by degree of saturation.

    Examples
    --------
    >>> from witnessmark.calc.bags.confusion import confusion
    >>> sent = [Group(k, k, 10, {"diameter_mm": Feature(8.0, 0.03, n=10)}) for k in "AB"]
    >>> told = remedy(sent, confusion(sent), baskets=2)
    >>> told.baskets, told.sentence
    ((('A',), ('B',)), 'Put B into a basket of its own.')

    References
    ----------
    brelaz-1979 remedy-minutes-practice
    """
    if baskets < 1:
        raise ValueError(f"a vendor runs one basket at least, not {baskets}")
    counts: dict[str, int] = {}
    for group in groups:
        counts[group.bag] = counts.get(group.bag, 0) + group.count
    links = _links(groups, seen, coat, measurable or {})
    plans = [_plan(counts, links, baskets * n, costs, n) for n in ((1, 2) if seen.pairs else (1,))]
    choices, exact, _, shipments = min(plans, key=lambda plan: plan[2])
    return _told(counts, choices, baskets, shipments, exact, costs, groups, seen)


def _links(
    groups: Sequence[Group], seen: Confusion, coat: Coat, measurable: Mapping[str, Mapping[str, Feature]]
) -> dict[tuple[str, str], frozenset[str]]:
    """By pair of bags: the features that would tell them apart if read on both; none where nothing would."""
    of = {g.key: g for g in groups}
    links: dict[tuple[str, str], frozenset[str]] = {}
    for pair in seen.pairs:
        a, b = of[pair.a], of[pair.b]
        settles = set()
        for name in measurable.get(a.key, {}).keys() & measurable.get(b.key, {}).keys():
            more = [_with(g, name, measurable[g.key][name]) for g in (a, b)]
            apart = math.hypot(pair.apart, features_apart(more[0], more[1], name, coat))
            if any_wrong_chance(apart, a.count, b.count) < LIMIT:
                settles.add(name)
        key = (min(pair.bag_a, pair.bag_b), max(pair.bag_a, pair.bag_b))
        links[key] = links[key] & settles if key in links else frozenset(settles)
    return links


def _with(group: Group, name: str, expected: Feature) -> Group:
    read = Feature(expected.mean, usual_sigma(name), expected.sigma_piece, n=group.count)
    return Group(group.key, group.bag, group.count, {name: read})


def _plan(
    counts: Mapping[str, int],
    links: Mapping[tuple[str, str], frozenset[str]],
    colours: int,
    costs: Costs,
    shipments: int,
) -> tuple[dict[str, _Choice], bool, float, int]:
    choices: dict[str, _Choice] = {}
    exact = True
    for cluster in _clusters(links):
        own = {pair: what for pair, what in links.items() if pair[0] in cluster}
        options = {bag: _options(bag, counts[bag], own, colours, costs) for bag in cluster}
        found = _greedy(cluster, own, options)
        if len(cluster) <= _EXACT:
            found = _branch(cluster, own, options, found)
        else:
            exact = False
        choices |= found
    total = math.fsum(c.minutes for c in choices.values()) + costs.shipment_minutes * (shipments - 1)
    return choices, exact, total, shipments


def _options(
    bag: str, count: int, links: Mapping[tuple[str, str], frozenset[str]], colours: int, costs: Costs
) -> tuple[_Choice, ...]:
    features = sorted({name for pair, names in links.items() if bag in pair for name in names})
    made = [_Choice(c, "", costs.basket_minutes if c else 0.0) for c in range(colours)]
    made += [_Choice(c.colour, f, c.minutes + costs.measure_each_minutes * count) for c in made for f in features]
    made.append(_Choice(-1, "", costs.apart(count)[1]))
    return tuple(sorted(made, key=lambda c: c.minutes))


def _clusters(links: Mapping[tuple[str, str], frozenset[str]]) -> list[list[str]]:
    parent: dict[str, str] = {}

    def root(bag: str) -> str:
        while parent.setdefault(bag, bag) != bag:
            parent[bag] = parent[parent[bag]]
            bag = parent[bag]
        return bag

    for a, b in links:
        parent[root(a)] = root(b)
    found: dict[str, list[str]] = {}
    for bag in sorted(parent):
        found.setdefault(root(bag), []).append(bag)
    return sorted(found.values())


def _clash(a: _Choice, b: _Choice, settles: frozenset[str]) -> bool:
    if a.colour < 0 or b.colour < 0 or a.colour != b.colour:
        return False
    return not (a.feature and a.feature == b.feature and a.feature in settles)


def _neighbours(links: Mapping[tuple[str, str], frozenset[str]]) -> dict[str, dict[str, frozenset[str]]]:
    near: dict[str, dict[str, frozenset[str]]] = {}
    for (a, b), what in links.items():
        near.setdefault(a, {})[b] = what
        near.setdefault(b, {})[a] = what
    return near


def _greedy(
    cluster: Sequence[str],
    links: Mapping[tuple[str, str], frozenset[str]],
    options: Mapping[str, tuple[_Choice, ...]],
) -> dict[str, _Choice]:
    """The bag whose neighbours bar it from most choices is given its cheapest one, then each is bettered alone."""
    near, chosen = _neighbours(links), dict[str, _Choice]()

    def free(bag: str) -> list[_Choice]:
        return [
            c for c in options[bag] if not any(o in chosen and _clash(c, chosen[o], w) for o, w in near[bag].items())
        ]

    while len(chosen) < len(cluster):
        waiting = [bag for bag in cluster if bag not in chosen]
        bag = max(waiting, key=lambda b: (len(options[b]) - len(free(b)), len(near[b]), options[b][-1].minutes))
        chosen[bag] = free(bag)[0]
    better = True
    while better:
        better = False
        for bag in cluster:
            now = chosen.pop(bag)
            best = free(bag)[0]
            chosen[bag] = best if best.minutes < now.minutes else now
            better |= chosen[bag] is not now
    return chosen


def _branch(
    cluster: Sequence[str],
    links: Mapping[tuple[str, str], frozenset[str]],
    options: Mapping[str, tuple[_Choice, ...]],
    bound: dict[str, _Choice],
) -> dict[str, _Choice]:
    near = _neighbours(links)
    order = sorted(cluster, key=lambda bag: (-len(near[bag]), bag))
    least = [0.0] * (len(order) + 1)
    for n in range(len(order) - 1, -1, -1):
        least[n] = least[n + 1] + options[order[n]][0].minutes
    best, best_minutes = dict(bound), math.fsum(c.minutes for c in bound.values())
    chosen: dict[str, _Choice] = {}

    def go(n: int, minutes: float, used: int) -> None:
        nonlocal best, best_minutes
        if minutes + least[n] >= best_minutes - 1e-9:
            return
        if n == len(order):
            best, best_minutes = dict(chosen), minutes
            return
        bag = order[n]
        for choice in options[bag]:
            if choice.colour > used + 1:  # baskets not used yet are alike
                continue
            if any(other in chosen and _clash(choice, chosen[other], what) for other, what in near[bag].items()):
                continue
            chosen[bag] = choice
            go(n + 1, minutes + choice.minutes, max(used, choice.colour))
            del chosen[bag]

    go(0, 0.0, 0)
    return best


def _told(
    counts: Mapping[str, int],
    choices: Mapping[str, _Choice],
    baskets: int,
    shipments: int,
    exact: bool,
    costs: Costs,
    groups: Sequence[Group],
    seen: Confusion,
) -> Remedy:
    steps, filled = [], [list[str]() for _ in range(baskets * shipments)]
    for bag in dict.fromkeys(g.bag for g in groups):
        choice = choices.get(bag, _Choice(0, "", 0.0))
        if choice.colour < 0:
            do, minutes = costs.apart(counts[bag])
            steps.append(Step(bag, do, minutes, None))
            continue
        filled[choice.colour].append(bag)
        shipment = choice.colour // baskets + 1
        if choice.feature:
            minutes = costs.measure_each_minutes * counts[bag]
            steps.append(Step(bag, MEASURE, minutes, choice.colour + 1, shipment, choice.feature))
        if choice.colour:
            steps.append(Step(bag, BASKET, costs.basket_minutes, choice.colour + 1, shipment))
    minutes = math.fsum(s.minutes for s in steps) + costs.shipment_minutes * (shipments - 1)
    return Remedy(
        working=working(
            "least minutes over the colourings of the confusion graph",
            [
                ("pairs that could not be told apart", len(seen.pairs), "", "confusion"),
                ("baskets the vendor runs", baskets, "", "vendor"),
                ("shipments", shipments, "", "chosen"),
                ("minutes", round(minutes, 1), "min", "sum of the steps"),
            ],
            sources=("brelaz-1979", "remedy-minutes-practice"),
            valid_range="proved cheapest" if exact else "a good guess: too many bags hang together to prove it",
        ),
        steps=tuple(steps),
        baskets=tuple(tuple(each) for each in filled),
        shipments=shipments,
        minutes=minutes,
        exact=exact,
        sentence=_sentence(steps, shipments, filled, baskets),
    )


def _sentence(steps: Sequence[Step], shipments: int, filled: Sequence[Sequence[str]], baskets: int) -> str:
    if not steps:
        return "They may leave together."
    said = []
    if shipments > 1:
        second = [bag for each in filled[baskets:] for bag in each]
        said.append(f"Send {_names(second)} in a second shipment.")
    moved: dict[int, list[str]] = {}
    for step in steps:
        if step.do == BASKET and step.shipment == 1:
            moved.setdefault(step.basket or 0, []).append(step.bag)
    said += [
        f"Put {_names(bags)} into a basket of {'its' if len(bags) == 1 else 'their'} own." for bags in moved.values()
    ]
    for do, words in ((APART, "Close {} into a mesh bag."), (TAG, "Wire {} up with a metal tag.")):
        if bags := [s.bag for s in steps if s.do == do]:
            said.append(words.format(_names(bags)))
    by_feature: dict[str, list[str]] = {}
    for step in steps:
        if step.do == MEASURE:
            by_feature.setdefault(step.feature, []).append(step.bag)
    said += [f"Measure the {feature_words(f)} of {_names(bags)}." for f, bags in by_feature.items()]
    return " ".join(said)


def _names(bags: Sequence[str]) -> str:
    return bags[0] if len(bags) == 1 else f"{', '.join(bags[:-1])} and {bags[-1]}"
