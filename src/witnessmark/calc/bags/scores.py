"""How well each piece that came back fits each group that left, as arrays."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from witnessmark.calc.bags.features import BARE, Coat, Group, MeasuredPiece

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Whole = NDArray[np.int64]
    Flags = NDArray[np.bool_]

LOST = 0.01  # share of pieces that do not come back, until a vendor's own returns say otherwise
FOREIGN = 0.01  # share of what comes back that never left here
STRAYED = 0.02  # share of pieces that come back in another basket than the one they left in
_OTHER_LOOKS = -14.0
_CHUNK = 500
_BY_WORD = 1e6  # no reading weighs as much as a person's word
BARRED = -1e15
# Where a reading fits its bag worse than that, the reading was wrong, as the person says: it parts no places of the bag.
SLIPPED = -6.0


@dataclass(frozen=True)
class Field:
    """Readings and groups as arrays; the last index is the feature, means are as they should read after the coat."""

    features: tuple[str, ...]
    value: Floats
    read: Flags
    reading_var: Floats
    mean: Floats
    known: Flags
    piece_var: Floats
    mean_var: Floats
    log_range: Floats
    piece_marks: Whole
    group_marks: Whole
    log_other_basket: Floats
    capacity: Whole
    said: Whole  # number of the bag that a person said, by piece; -1 where nobody did
    bag: Whole  # number of the bag, by group
    log_lost: float
    log_foreign: float

    @property
    def pieces(self) -> int:
        return len(self.value)

    @property
    def groups(self) -> int:
        return len(self.mean)

    def foreign(self) -> Floats:
        """Log weight of each piece as a stranger."""
        stranger: Floats = self.log_foreign - self.read @ self.log_range
        return stranger

    def other_marks(self, mine: Whole, theirs: Whole) -> Floats:
        """Log weight of looks and baskets that differ; what nobody noted counts neither way."""
        import numpy as np

        differ = (mine >= 0) & (theirs >= 0) & (mine != theirs)
        told: Floats = np.where(differ[..., 0], _OTHER_LOOKS, 0.0) + np.where(
            differ[..., 1], self.log_other_basket[theirs[..., 1], mine[..., 1]], 0.0
        )
        return told

    def gains(self) -> Iterator[tuple[slice, Floats]]:
        """By how much each piece fits each group better than as a stranger whose place in the group stays empty."""
        import numpy as np

        foreign = self.foreign()
        for first in range(0, self.pieces, _CHUNK):
            rows = slice(first, first + _CHUNK)
            told = np.zeros((len(self.value[rows]), self.groups))
            for k in range(len(self.features)):
                var = self.reading_var[rows, k][:, None] + (self.piece_var[:, k] + self.mean_var[:, k])[None]
                off = self.value[rows, k][:, None] - self.mean[:, k][None]
                fit = -0.5 * (off * off / var + np.log(2 * math.pi * var))
                fit = np.where(self.known[:, k][None], fit, -self.log_range[k])
                told += np.where(self.read[rows, k][:, None], fit, 0.0)
            told += self.other_marks(self.piece_marks[rows][:, None], self.group_marks[None])
            yield rows, self._by_word(rows, told - foreign[rows][:, None] - self.log_lost)

    def _by_word(self, rows: slice, gain: Floats) -> Floats:
        """Where a person said the bag: none but its groups, above all readings; among these the readings tell."""
        import numpy as np

        said = self.said[rows][:, None]
        if (said < 0).all():
            return gain
        own = _BY_WORD + np.maximum(gain, SLIPPED)
        weighed: Floats = np.where(said < 0, gain, np.where(said == self.bag[None], own, -np.inf))
        return weighed


def field_of(
    groups: Sequence[Group],
    pieces: Sequence[MeasuredPiece],
    coat: Coat = BARE,
    lost: float = LOST,
    foreign: float = FOREIGN,
    said: Mapping[str, str] | None = None,
) -> Field:
    """Lay readings and groups out as arrays.

    Parameters
    ----------
    groups : sequence of Group
        What left. [-]
    pieces : sequence of MeasuredPiece
        What came back and was measured. [-]
    coat : Coat
        What the process added and took away. [-]
    lost : float
        Share of pieces that do not come back. [-]
    foreign : float
        Share of what comes back that never left here. [-]
    said : mapping or None
        By piece, the bag that a person said it is of. [-]

    Returns
    -------
    Field
        Arrays; a feature that a piece or a group lacks is marked and counts neither way.

    Raises
    ------
    ValueError
        No group, one key twice, or a share outside 0 to 0.5.

    Examples
    --------
    >>> from witnessmark.calc.bags.features import Feature
    >>> field_of([Group("A", "A", 2, {"diameter_mm": Feature(8.0, 0.03)})], []).capacity.tolist()
    [2]

    References
    ----------
    none: a layout of the user's own figures.
    """
    import numpy as np

    for what, keys in (("group", [g.key for g in groups]), ("piece", [p.key for p in pieces])):
        if twice := sorted({key for key in keys if keys.count(key) > 1} if len(set(keys)) < len(keys) else ()):
            raise ValueError(f"{what} {', '.join(twice[:4])} is named twice: give each its own name")
    if not groups:
        raise ValueError("nothing left, so nothing can be told apart: name the bags that were sent")
    if not (0 < lost < 0.5 and 0 < foreign < 0.5):
        raise ValueError("a share lies above 0 and below 0.5")
    names = tuple(sorted({name for g in groups for name in g.features} & {n for p in pieces for n in p.readings}))
    at = {name: k for k, name in enumerate(names)}
    looks = _numbered({g.looks for g in groups} | {p.looks for p in pieces})
    baskets = _numbered({g.basket for g in groups} | {p.basket for p in pieces})
    value, reading_var = np.zeros((len(pieces), len(names))), np.ones((len(pieces), len(names)))
    read = np.zeros(value.shape, dtype=bool)
    for i, piece in enumerate(pieces):
        for name, reading in piece.readings.items():
            if name in at:
                value[i, at[name]], reading_var[i, at[name]], read[i, at[name]] = reading.value, reading.sigma**2, True
    mean = np.zeros((len(groups), len(names)))
    piece_var, mean_var = np.ones(mean.shape), np.zeros(mean.shape)
    known = np.zeros(mean.shape, dtype=bool)
    grows = [(coat.growth(name), coat.spread(name) ** 2) for name in names]
    for j, group in enumerate(groups):
        for name, feature in group.features.items():
            if name in at:
                k = at[name]
                mean[j, k], known[j, k] = feature.mean + grows[k][0], True
                piece_var[j, k] = feature.sigma_piece**2 + grows[k][1]
                mean_var[j, k] = feature.variance / feature.n
    bags = {bag: n for n, bag in enumerate(dict.fromkeys(g.bag for g in groups))}
    words = said or {}
    return Field(
        features=names,
        value=value,
        read=read,
        reading_var=reading_var,
        mean=mean,
        known=known,
        piece_var=piece_var,
        mean_var=mean_var,
        log_range=_log_range(mean, known, piece_var + mean_var + reading_var.max(axis=0, initial=1e-6)),
        piece_marks=_marks(pieces, looks, baskets),
        group_marks=_marks(groups, looks, baskets),
        log_other_basket=_log_other_basket(groups, baskets),
        capacity=np.array([g.count for g in groups], dtype=np.int64),
        said=np.array([bags[words[p.key]] if p.key in words else -1 for p in pieces], dtype=np.int64),
        bag=np.array([bags[g.bag] for g in groups], dtype=np.int64),
        log_lost=math.log(lost / (1 - lost)),
        log_foreign=math.log(foreign),
    )


def _log_other_basket(groups: Sequence[Group], baskets: dict[str, int]) -> Floats:
    """Log weight of a piece in another basket (column) than its group's (row): it strays to where most lie."""
    import numpy as np

    inside = np.full(max(1, len(baskets)), 0.5)  # a basket of which nothing is known is not barred
    for group in groups:
        if group.basket in baskets:
            inside[baskets[group.basket]] += group.count
    elsewhere = np.maximum(inside.sum() - inside, 0.5)
    told: Floats = np.log(STRAYED / (1 - STRAYED) * inside[None] / elsewhere[:, None])
    return told


def _numbered(words: set[str]) -> dict[str, int]:
    return {word: n for n, word in enumerate(sorted(words - {""}))}


def _marks(each: Sequence[Group] | Sequence[MeasuredPiece], looks: dict[str, int], baskets: dict[str, int]) -> Whole:
    import numpy as np

    told = [(looks.get(x.looks, -1), baskets.get(x.basket, -1)) for x in each]
    return np.array(told, dtype=np.int64).reshape(-1, 2)


def _log_range(mean: Floats, known: Flags, var: Floats) -> Floats:
    """A stranger may be of any size from half the smallest that left to half as much again as the largest."""
    import numpy as np

    if not mean.shape[1]:
        return np.zeros(0)
    high, low = np.where(known, mean, -np.inf).max(axis=0), np.where(known, mean, np.inf).min(axis=0)
    width = np.maximum(1.5 * high - 0.5 * low, 12 * np.sqrt(np.where(known, var, 0).max(axis=0)))
    told: Floats = np.log(np.maximum(width, 1e-6))
    return told
