"""What to measure next on the pieces that are doubtful."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from witnessmark.calc.bags.features import BARE, MOST_TIMES, Coat, Group, MeasuredPiece, Reading, usual_sigma

# Apart by this many deviations, one piece of one group is taken for the other once in 400 times.
APART = 4.0
# A reading that moves two groups apart by less than this is not worth the walk to the bench.
_LEAST = 0.15


@dataclass(frozen=True)
class NextReading:
    """One feature to read on some pieces; `again` where it was read before and a second reading helps."""

    feature: str
    pieces: tuple[str, ...]
    settles: int
    again: bool
    sentence: str


def next_reading(
    groups: Sequence[Group],
    pieces: Sequence[MeasuredPiece],
    doubtful: Mapping[str, Sequence[tuple[str, float]]],
    coat: Coat = BARE,
) -> NextReading | None:
    """Return the one feature whose reading would settle most of the doubtful pieces.

    Parameters
    ----------
    groups : sequence of Group
        What left. [-]
    pieces : sequence of MeasuredPiece
        What came back, with what was read. [-]
    doubtful : mapping
        By doubtful piece, the groups it may be of with their chances, the likeliest first. [-]
    coat : Coat
        What the process added. [-]

    Returns
    -------
    NextReading or None
        None where nothing is doubtful or no feature on record tells the groups apart.

    Notes
    -----
    A second reading of the same feature counts with the first, up to four; what piece and bag scatter by stays. A reading
    settles a piece when its two likeliest groups then lie four deviations apart.

    Examples
    --------
    >>> from witnessmark.calc.bags.features import Feature, Reading
    >>> known = lambda d, p: {"diameter_mm": Feature(d, 0.03), "ten_pitches_mm": Feature(p, 0.1)}
    >>> sent = [Group("A", "A", 1, known(8.0, 10.0)), Group("B", "B", 1, known(7.94, 10.58))]
    >>> back = [MeasuredPiece("1", {"diameter_mm": Reading(7.97, 0.03)})]
    >>> next_reading(sent, back, {"1": [("A", 0.5), ("B", 0.5)]}).feature
    'ten_pitches_mm'

    References
    ----------
    none: the distance between two means in their own deviations.
    """
    by_key, of = {g.key: g for g in groups}, {p.key: p for p in pieces}
    gain: dict[str, float] = {}
    helps: dict[str, list[str]] = {}
    settles: dict[str, list[str]] = {}
    for key, chances in doubtful.items():
        pair = [by_key[name] for name, _ in chances[:2] if name in by_key]
        if len(pair) < 2:
            continue
        names = sorted(pair[0].features.keys() & pair[1].features.keys())
        now = {name: _squared(pair[0], pair[1], name, coat, of[key].readings.get(name)) for name in names}
        for name in names:
            after = _squared(pair[0], pair[1], name, coat, _one_more(pair, name, of[key].readings.get(name)))
            apart = math.sqrt(sum(now.values()) - now[name] + after)
            more = apart - math.sqrt(sum(now.values()))
            if more < _LEAST:
                continue
            gain[name] = gain.get(name, 0.0) + min(more, APART)
            helps.setdefault(name, []).append(key)
            if apart >= APART:
                settles.setdefault(name, []).append(key)
    useful = {name: worth for name, worth in gain.items() if worth >= _LEAST}
    if not useful:
        return None
    best = max(sorted(useful), key=lambda name: (len(settles.get(name, ())), useful[name]))
    chosen = tuple(settles.get(best) or helps[best])
    again = all(best in of[key].readings for key in chosen)
    many = f"piece {chosen[0]}" if len(chosen) == 1 else f"{len(chosen)} pieces"
    verb = "Read again" if again else "Read"
    settled = len(settles.get(best, ()))
    end = "that settles it" if settled and len(chosen) == 1 else f"that settles {settled}" if settled else "that helps"
    said = f"{verb} the {feature_words(best)} of {many}: {end}."
    return NextReading(best, chosen, settled, again, said)


def _one_more(pair: Sequence[Group], name: str, read: Reading | None) -> Reading | None:
    """The reading there would be after one more; None where it was read often enough."""
    if read is None:
        sigma = max(group.features[name].sigma_measure for group in pair)
        return Reading(0.0, sigma or usual_sigma(name))
    if read.times >= MOST_TIMES:
        return read
    return Reading(read.value, read.sigma * math.sqrt(read.times / (read.times + 1)), read.times + 1)


def _squared(a: Group, b: Group, name: str, coat: Coat, read: Reading | None) -> float:
    """The squared distance of two groups for a piece with this reading; nought where it was not read."""
    if read is None:
        return 0.0
    mine, theirs = a.features[name], b.features[name]
    groups = 0.5 * sum(f.sigma_piece**2 + f.variance / f.n for f in (mine, theirs))
    return (mine.mean - theirs.mean) ** 2 / (groups + read.sigma**2 + coat.spread(name) ** 2)


def features_apart(a: Group, b: Group, feature: str, coat: Coat = BARE) -> float:
    """Return how far two groups lie apart in one feature, in deviations of one reading.

    Parameters
    ----------
    a : Group
        One of them. [-]
    b : Group
        The other. [-]
    feature : str
        A feature that both have. [-]
    coat : Coat
        What the process will add. [-]

    Returns
    -------
    float
        Difference of the means over the root of the mean variance; 0 where one lacks the feature. [-]

    Notes
    -----
    The variance of each is (measuring^2 + piece^2)(1 + 1/n) and that of the coat.

    Examples
    --------
    >>> from witnessmark.calc.bags.features import Feature
    >>> x, y = (Group(k, k, 1, {"diameter_mm": Feature(d, 0.1, n=100)}) for k, d in (("A", 8.0), ("B", 8.3)))
    >>> round(features_apart(x, y, "diameter_mm"), 2)
    2.99

    References
    ----------
    none: the distance between two means in their own deviations.
    """
    if feature not in a.features or feature not in b.features:
        return 0.0
    mine, theirs = a.features[feature], b.features[feature]
    extra = coat.spread(feature) ** 2 + (
        usual_sigma(feature) ** 2 if mine.from_catalogue and theirs.from_catalogue else 0
    )
    spread = 0.5 * sum(f.variance * (1 + 1 / f.n) for f in (mine, theirs)) + extra
    return abs(mine.mean - theirs.mean) / math.sqrt(spread)


def feature_words(feature: str) -> str:
    """Return a feature as it is said at the bench.

    Parameters
    ----------
    feature : str
        One of the features. [-]

    Returns
    -------
    str
        Words without the unit.

    Examples
    --------
    >>> feature_words("ten_pitches_mm"), feature_words("head_width_mm")
    ('length over ten pitches', 'head width')

    References
    ----------
    none: words only.
    """
    if feature == "ten_pitches_mm":
        return "length over ten pitches"
    return feature.rsplit("_", 1)[0].replace("_", " ")
