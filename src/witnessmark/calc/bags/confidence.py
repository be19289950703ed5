"""How sure each piece's group is: pieces change places again and again while the bags' true means move with them.

All pieces of a bag share the error of the mean that was measured before they left. Taking that mean as it stands makes
every chance look better than it is, so it is drawn anew together with the pieces.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from witnessmark.calc.bags.scores import BARRED, SLIPPED, Field

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Whole = NDArray[np.int64]

_CHAINS = (16, 64, 6_400)  # the fewest, the most, and how many items they come to together
_SWEEPS = (170, 700, 35_000)  # the same of sweeps: few items meet seldom
SEED = 412


@dataclass(frozen=True)
class Chances:
    """Chance of each piece for each group and, last, as a stranger; chance of each group to be short, and by how many."""

    share: Floats
    short: Floats
    short_count: Floats


def chances(field: Field, start: Whole, near: list[Whole]) -> Chances:
    """Return the chance of each piece for each group, counting the error that the pieces of a bag share.

    Parameters
    ----------
    field : Field
        Readings and groups. [-]
    start : array
        Group of each piece to start from; the number of groups for a stranger. [-], shape (n_pieces,)
    near : list of array
        The groups that each piece may be of. [-]

    Returns
    -------
    Chances
        Rows sum to 1.

    Notes
    -----
    Gibbs sampling over labelled places: items are the pieces and blanks for what is lost; pairs that a draw independent
    of the state puts together change places with their heat-bath chance, which is also what is counted. Means of groups
    follow their normal posterior between sweeps. The draw's seed is fixed: the same input gives the same answer.

    Examples
    --------
    >>> from witnessmark.calc.bags.features import Feature, Group, MeasuredPiece, Reading
    >>> from witnessmark.calc.bags.scores import field_of
    >>> import numpy as np
    >>> twins = [Group(k, k, 1, {"diameter_mm": Feature(8.0, 0.03)}) for k in "AB"]
    >>> back = [MeasuredPiece(str(n), {"diameter_mm": Reading(8.0, 0.03)}) for n in range(2)]
    >>> told = chances(field_of(twins, back), np.array([0, 1]), [np.array([0, 1])] * 2)
    >>> bool(abs(told.share[0, 0] - 0.5) < 0.03)
    True

    References
    ----------
    gibbs-sampling
    """
    import numpy as np

    state = _State(field, start, near)
    sweeps = _so_many(_SWEEPS, state.items)
    settle = sweeps // 4
    told = np.zeros((state.items, field.groups + 1))
    short, short_count = np.zeros(field.groups), np.zeros(field.groups)
    for sweep in range(settle + sweeps):
        state.draw_means()
        count = sweep >= settle
        state.change_places(told if count else None)
        if count:
            blanks = state.blanks_at()
            short += (blanks > 0).mean(axis=0)
            short_count += blanks.mean(axis=0)
    share = told[: field.pieces]
    return Chances(share / share.sum(axis=1, keepdims=True), short / sweeps, short_count / sweeps)


def _so_many(bounds: tuple[int, int, int], items: int) -> int:
    least, most, together = bounds
    return min(most, max(least, together // max(1, items)))


class _State:
    """Where every item of every chain is, and the means as they are drawn just now."""

    def __init__(self, field: Field, start: Whole, near: list[Whole]) -> None:
        import numpy as np

        self.field, self.rng = field, np.random.default_rng(SEED)
        groups, pieces = field.groups, field.pieces
        strangers = int((start == groups).sum())
        self.stranger_room = strangers + 3
        empty = np.repeat(np.arange(groups), field.capacity - np.bincount(start, minlength=groups + 1)[:groups])
        blanks = np.concatenate([empty, np.full(self.stranger_room - strangers, groups)]).astype(np.int64)
        self.items = pieces + len(blanks)
        self.chains = _so_many(_CHAINS, self.items)
        self.at = np.tile(np.concatenate([start, blanks]), (self.chains, 1))
        # A blank stands for a piece that was lost, or for a stranger that did not come.
        width = max([len(each) for each in near] + [1])
        table = np.stack([each[np.arange(width) % len(each)] for each in near]) if pieces else np.zeros((0, 1), int)
        self.near, self.near_count = table, np.array([len(each) for each in near], dtype=np.int64)
        self.means = np.zeros((self.chains, groups, len(field.features)))
        self.foreign = field.foreign() - math.log(self.stranger_room)

    def draw_means(self) -> None:
        """Draw each group's true mean from what was read before and what lies in it now."""
        import numpy as np

        f = self.field
        at = self.at[:, : f.pieces]
        # What a person said against the readings teaches nothing of its bag: bag or reading is other than was thought.
        real = (at < f.groups) & (f.said < 0)[None]
        key = (np.arange(self.chains)[:, None] * f.groups + at)[real]
        size = self.chains * f.groups
        for k in range(len(f.features)):
            var = f.reading_var[:, k][None] + f.piece_var[np.minimum(at, f.groups - 1), k]
            weight = np.where(f.read[:, k][None], 1 / var, 0.0)
            prior = 1 / np.maximum(f.mean_var[:, k], 1e-12)
            summed = np.bincount(key, (weight * f.value[:, k][None])[real], minlength=size).reshape(self.chains, -1)
            weights = prior[None] + np.bincount(key, weight[real], minlength=size).reshape(self.chains, -1)
            middle = (prior * f.mean[:, k] + summed) / weights
            self.means[:, :, k] = middle + self.rng.standard_normal(middle.shape) / np.sqrt(weights)

    def change_places(self, told: Floats | None) -> None:
        """Offer pairs of items to change places; count the chances where asked."""
        import numpy as np

        left, right = self._pairs()
        a, b = self.at[:, left], self.at[:, right]
        stay = self._weight(left, a) + self._weight(right, b)
        change = self._weight(left, b) + self._weight(right, a)
        chance = 1 / (1 + np.exp(np.clip(stay - change, -700, 700)))
        if told is not None:
            alone = np.ones(self.items, dtype=bool)
            alone[left] = alone[right] = False
            rest = np.flatnonzero(alone)
            flat, width = told.reshape(-1), told.shape[1]
            for items, at, weight in (
                (left, a, 1 - chance),
                (left, b, chance),
                (right, b, 1 - chance),
                (right, a, chance),
                (rest, self.at[:, rest], np.ones((self.chains, len(rest)))),
            ):
                np.add.at(flat, (items[None] * width + at).ravel(), weight.ravel())
        moved = self.rng.random(chance.shape) < chance
        self.at[:, left], self.at[:, right] = np.where(moved, b, a), np.where(moved, a, b)

    def blanks_at(self) -> Whole:
        """How many places of each group are empty, by chain."""
        import numpy as np

        groups = self.field.groups
        blank = self.at[:, self.field.pieces :]
        key = (np.arange(self.chains)[:, None] * (groups + 1) + blank).ravel()
        counted: Whole = np.bincount(key, minlength=self.chains * (groups + 1)).reshape(self.chains, -1)[:, :groups]
        return counted

    def _pairs(self) -> tuple[Whole, Whole]:
        """Put items together that may be of the same group, by a draw that does not look at where they are."""
        import numpy as np

        pieces, blanks = self.field.pieces, self.items - self.field.pieces
        column = (self.rng.random(pieces) * self.near_count).astype(np.int64)
        key = np.concatenate(
            [self.near[np.arange(pieces), column], self.rng.integers(0, self.field.groups, blanks)]
        ) + self.rng.random(self.items)  # the fraction orders those of one group by chance
        order = np.argsort(key)
        group = np.floor(key[order]).astype(np.int64)
        first = np.flatnonzero(np.r_[True, group[1:] != group[:-1]])
        within = np.arange(self.items) - np.repeat(first, np.diff(np.r_[first, self.items]))
        left = np.flatnonzero((within % 2 == 0)[:-1] & (group[1:] == group[:-1]))
        return order[left], order[left + 1]

    def _weight(self, items: Whole, at: Whole) -> Floats:
        """Log weight of each item where it would be."""
        import numpy as np

        f = self.field
        weight = np.zeros(at.shape)
        piece, stranger = items < f.pieces, at == f.groups
        i, g = np.minimum(items, max(f.pieces - 1, 0)), np.minimum(at, f.groups - 1)
        chain = np.arange(self.chains)[:, None]
        for k in range(len(f.features)):
            var = f.reading_var[i, k][None] + f.piece_var[g, k]
            off = f.value[i, k][None] - self.means[chain, g, k]
            fit = np.where(f.known[g, k], -0.5 * (off * off / var + np.log(2 * math.pi * var)), -f.log_range[k])
            weight += np.where(f.read[i, k][None], fit, 0.0)
        weight += f.other_marks(f.piece_marks[i][None], f.group_marks[g])
        weight = np.where(stranger, self.foreign[i][None], weight)
        if (f.said >= 0).any():
            floor = f.foreign()[i] + f.log_lost + SLIPPED
            weight = np.where((f.said[i] >= 0)[None], np.maximum(weight, floor[None]), weight)
        weight = np.where((f.said[i] >= 0)[None] & (stranger | (f.said[i][None] != f.bag[g])), BARRED, weight)
        return np.where(piece[None], weight, np.where(stranger, 0.0, f.log_lost))
