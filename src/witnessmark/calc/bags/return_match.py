"""Whose is this piece: what came back mixed, told apart by measurement, with how sure that is."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

from witnessmark.calc.bags.assign import assign
from witnessmark.calc.bags.balance import Balance, balance, count_words
from witnessmark.calc.bags.confidence import chances
from witnessmark.calc.bags.features import BARE, Coat, Group, MeasuredPiece
from witnessmark.calc.bags.next_reading import NextReading, feature_words, next_reading
from witnessmark.calc.bags.scores import FOREIGN, LOST, Field, field_of
from witnessmark.calc.working import Answer, working

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Whole = NDArray[np.int64]

SURE = 0.99
TOLD, DOUBTFUL, STRANGER, SAID = "told", "doubtful", "foreign", "said"
_NEAR, _WORTH = -6.0, 14.0
_NAMED = 4  # so many groups are named in the sentence that is read first


@dataclass(frozen=True)
class PieceMatch:
    """Where one piece goes; `group` is None for a stranger. `sure` is the chance that this is right.

    `bag_sure` is the chance that the bag is right, whichever of its places it came from. Where a person said the bag
    (state `said`) it is taken as right, and `sure` is that of the place within it.
    """

    piece: str
    group: str | None
    bag: str | None
    place: str
    sure: float
    bag_sure: float
    state: str
    others: tuple[tuple[str, float], ...]

    @property
    def place_known(self) -> bool:
        """Whether its place is told too: where a person said the bag, the readings have to be sure of the place in it."""
        return bool(self.place) and (self.state != SAID or self.sure >= SURE)


@dataclass(frozen=True)
class Short:
    """A group of which less came back than left, with the chance that it really is short."""

    group: str
    bag: str
    place: str
    count: int
    chance: float


@dataclass(frozen=True)
class ReturnMatch(Answer):
    """The whole return; `short_maybe` names other groups the missing ones could be of."""

    pieces: tuple[PieceMatch, ...]
    balance: Balance
    short: tuple[Short, ...]
    short_maybe: tuple[Short, ...]
    foreign: tuple[str, ...]
    not_measured: int
    cost: float
    next: NextReading | None
    sentence: str

    @property
    def counted(self) -> str:
        """Count and mass in a sentence, the strangers that the readings name counted as such: it agrees with what is short."""
        return _counted(self.balance, sum(p.group is None for p in self.pieces))

    @property
    def told(self) -> tuple[PieceMatch, ...]:
        """The pieces that may go home by this alone."""
        return tuple(p for p in self.pieces if p.state == TOLD)

    @property
    def doubtful(self) -> tuple[PieceMatch, ...]:
        """The pieces that a person looks at first."""
        return tuple(p for p in self.pieces if p.state == DOUBTFUL)

    @property
    def said(self) -> tuple[PieceMatch, ...]:
        """The pieces whose bag a person said."""
        return tuple(p for p in self.pieces if p.state == SAID)

    def counts(self) -> Mapping[str, int]:
        """How many go to each group."""
        told: dict[str, int] = {}
        for piece in self.pieces:
            if piece.group is not None:
                told[piece.group] = told.get(piece.group, 0) + 1
        return told


def match_return(
    groups: Sequence[Group],
    pieces: Sequence[MeasuredPiece],
    coat: Coat = BARE,
    count_back: int | None = None,
    mass_back_g: float | None = None,
    coat_mass_g: float = 0.0,
    lost: float = LOST,
    foreign: float = FOREIGN,
    sure: float = SURE,
    shares_from: str = "usual",
    said: Mapping[str, str] | None = None,
) -> ReturnMatch:
    """Tell apart what came back in one bucket.

    Parameters
    ----------
    groups : sequence of Group
        What left: bags, sizes within a bag, or single places, with what was measured before. [-]
    pieces : sequence of MeasuredPiece
        What came back and was measured; more may have come than were measured. [-]
    coat : Coat
        What the process added and took away. [-]
    count_back : int or None
        How many were counted; the measured ones where nobody says. [-]
    mass_back_g : float or None
        What they weigh together. [g]
    coat_mass_g : float
        What the coat adds to all of them. [g]
    lost : float
        Share of pieces that do not come back. [-]
    foreign : float
        Share of what comes back that never left here. [-]
    sure : float
        Chance from which a piece is called told. [-]
    shares_from : str
        Where the two shares are from, for the working. [-]
    said : mapping or None
        By piece, the bag that a person said it is of, or `STRANGER`; taken as fixed. [-]

    Returns
    -------
    ReturnMatch
        Every piece with its group and how sure that is, what is short, what is foreign, and what to measure next.

    Raises
    ------
    ValueError
        Nothing left, a key twice, fewer counted than measured, figures out of range, or a word that cannot be: of no piece
        that was measured, of no bag that left, or of more pieces than a bag gave.

    Notes
    -----
    The assignment has the least cost there is, -log(chance), with no more to a group than it gave; a piece is a stranger
    when that is likelier than any group that is not full. What is not clear by that is assigned once more, at the least
    sum of 1 - chance: most pieces are then expected to come right. Readings are taken as normal about the group's mean plus the
    growth of the coat. The chances count the error that all pieces of a bag share. A word goes before every reading: its piece
    takes one of its bag's places, the others are solved with what is left, and the bag's mean does not learn from it. The
    cost is that of the pieces of which nothing was said.

    Examples
    --------
    >>> from witnessmark.calc.bags.features import Feature, Reading
    >>> sent = [Group(k, k, 1, {"diameter_mm": Feature(d, 0.03)}) for k, d in (("A", 8.0), ("B", 6.0))]
    >>> back = [MeasuredPiece("1", {"diameter_mm": Reading(6.02, 0.03)})]
    >>> told = match_return(sent, back, Coat(8.0))
    >>> told.pieces[0].group, told.pieces[0].state, told.short[0].group
    ('B', 'told', 'A')

    References
    ----------
    jonker-volgenant-1987 gibbs-sampling iso4042-annex
    """
    if not 0.5 < sure < 1:
        raise ValueError("how sure is sure lies above a half and below one")
    back = len(pieces) if count_back is None else count_back
    if back < len(pieces):
        raise ValueError(
            f"{len(pieces)} pieces were measured but only {back} counted: count again, or take out what was measured twice"
        )
    seen = balance(groups, back, mass_back_g, coat_mass_g)
    words = dict(said or {})
    _words_can_be(groups, pieces, words)
    everything, pieces = pieces, [p for p in pieces if words.get(p.key) != STRANGER]
    of_bag = {key: bag for key, bag in words.items() if bag != STRANGER}
    field = field_of(groups, pieces, coat, lost, foreign, of_bag)
    placed, near, cost, lone = _placed(field)
    share, short_chance, short_count = _chances(field, placed, near, lone)
    placed = _likeliest(field, placed, share)
    waiting = back - len(everything)
    by_key = {
        piece.key: _piece_match(i, piece, groups, placed, share[i], sure, not field.read[i].any())
        for i, piece in enumerate(pieces)
    }
    for key in of_bag:
        by_key[key] = replace(by_key[key], state=SAID, bag_sure=1.0)
    matched = tuple(
        by_key.get(p.key) or PieceMatch(p.key, None, None, "", 1.0, 1.0, SAID, ((STRANGER, 1.0),)) for p in everything
    )
    short, maybe = ((), ()) if waiting else _short(groups, field, placed, short_chance, short_count)
    strangers = tuple(p.piece for p in matched if p.group is None)
    return ReturnMatch(
        working=working(
            "least cost = sum of -log(chance of each reading), no group gets more than it gave",
            [
                ("left", seen.count_out, "pieces", "shipment"),
                ("came back", back, "pieces", "counted"),
                ("measured", len(everything), "pieces", "readings"),
                ("said by a person", len(words), "pieces", "record"),
                ("features read", len(field.features), "", ", ".join(map(feature_words, field.features)) or "readings"),
                ("coat", coat.thickness_um, "um", "process"),
                ("taken to be lost", round(lost, 4), "share", shares_from),
                ("taken to be foreign", round(foreign, 4), "share", shares_from),
                ("cost", round(cost, 3), "", "assignment"),
            ],
            sources=("iso4042-annex", "gibbs-sampling", "returns-practice"),
            valid_range="readings that differ from the bag's mean by chance alone, and an even coat",
        ),
        pieces=matched,
        balance=seen,
        short=short,
        short_maybe=maybe,
        foreign=strangers,
        not_measured=waiting,
        cost=cost,
        next=next_reading(groups, pieces, {p.piece: p.others for p in matched if p.state == DOUBTFUL}, coat),
        sentence=_sentence(seen, matched, short, waiting),
    )


def _words_can_be(groups: Sequence[Group], pieces: Sequence[MeasuredPiece], words: Mapping[str, str]) -> None:
    room: dict[str, int] = {}
    for group in groups:
        room[group.bag] = room.get(group.bag, 0) + group.count
    if unknown := sorted(words.keys() - {p.key for p in pieces}):
        raise ValueError(
            f"something was said of {', '.join(unknown[:4])}, and no piece that was measured has that number"
        )
    for bag in sorted(set(words.values()) - {STRANGER}):
        many = sum(each == bag for each in words.values())
        if many > room.get(bag, 0):
            raise ValueError(f"{many} were said to be of {bag}, and it gave {room.get(bag, 0)}")


def _placed(field: Field) -> tuple[Whole, list[Whole], float, Floats]:
    """Place every piece at the least cost, cluster by cluster; give also the groups each may be of."""
    import numpy as np
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    groups, pieces = field.groups, field.pieces
    rows, cols, worth = [], [], []
    near: list[Whole] = []
    for part, gain in field.gains():
        keep_r, keep_c = np.nonzero(gain > 0)  # below nought it is cheaper to call the piece a stranger
        rows.append(keep_r + part.start)
        cols.append(keep_c)
        worth.append(gain[keep_r, keep_c])
        best = gain.max(axis=1, keepdims=True)
        close = gain > np.maximum(np.minimum(best, 0) + _NEAR, best - _WORTH)
        close[np.arange(len(gain)), gain.argmax(axis=1)] = True
        near += [np.flatnonzero(line) for line in close]
    placed = np.full(pieces, groups, dtype=np.int64)
    if not pieces:
        return placed, near, 0.0, np.zeros(0)
    row, col, gain = np.concatenate(rows), np.concatenate(cols), np.concatenate(worth)
    links = coo_matrix((np.ones(len(row)), (row, col + pieces)), shape=(pieces + groups,) * 2)
    _, cluster = connected_components(links, directed=False)
    order = np.argsort(cluster[row], kind="stable")
    row, col, gain = row[order], col[order], gain[order]
    edges = np.flatnonzero(np.r_[True, np.diff(cluster[row]) != 0, True]) if len(row) else np.zeros(1, dtype=np.int64)
    total = 0.0
    for first, last in pairwise(edges.tolist()):
        own, i = np.unique(row[first:last], return_inverse=True)
        of, j = np.unique(col[first:last], return_inverse=True)
        cost = np.full((len(own), len(of) + 1), np.inf)
        cost[:, -1] = 0.0
        cost[i, j] = -gain[first:last]
        told = assign(cost, np.append(field.capacity[of], len(own)))
        placed[own] = np.append(of, groups)[told]
        total += float(cost[np.arange(len(own)), told][field.said[own] < 0].sum())
    for n in np.flatnonzero(placed < groups).tolist():  # a full group may have passed it on beyond what looked near
        near[n] = np.union1d(near[n], placed[n])
    alone = np.zeros(pieces)
    np.maximum.at(alone, row, gain)
    return placed, near, total, alone


def _chances(
    field: Field, placed: Whole, near: list[Whole], lone: Floats
) -> tuple[list[dict[int, float]], Floats, Floats]:
    """Chance of each piece for each group; what is clear is left out of the draws."""
    import numpy as np
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    groups, pieces = field.groups, field.pieces
    row = np.repeat(np.arange(pieces), [len(n) for n in near]) if pieces else np.zeros(0, dtype=np.int64)
    col = np.concatenate(near) if pieces else np.zeros(0, dtype=np.int64)
    links = coo_matrix((np.ones(len(row)), (row, col + pieces)), shape=(pieces + groups,) * 2)
    _, cluster = connected_components(links, directed=False)
    of_piece, of_group = cluster[:pieces], cluster[pieces:]
    size = int(cluster.max(initial=0)) + 1
    room = np.bincount(of_group, field.capacity, size)
    clear = (
        (np.bincount(of_group, minlength=size) == 1)
        & (np.bincount(of_piece, minlength=size) <= room)
        & (np.bincount(of_piece, (placed == groups) | (lone < _WORTH), size) == 0)
    )
    share: list[dict[int, float]] = [{} for _ in range(pieces)]
    for i in np.flatnonzero(clear[of_piece]):
        sure = 1 / (1 + math.exp(-float(lone[i])))
        share[i] = {int(placed[i]): sure, groups: 1 - sure}
    left = field.capacity - np.bincount(placed, minlength=groups + 1)[:groups]
    short, short_count = (left > 0).astype(float), left.astype(float)
    hard_p, hard_g = np.flatnonzero(~clear[of_piece]), np.flatnonzero(~clear[of_group])
    if len(hard_p):
        at = np.full(groups + 1, len(hard_g), dtype=np.int64)
        at[hard_g] = np.arange(len(hard_g))
        told = chances(_part(field, hard_p, hard_g), at[placed[hard_p]], [at[near[i]] for i in hard_p])
        back = np.append(hard_g, groups)
        for n, i in enumerate(hard_p):
            share[i] = {int(back[j]): float(told.share[n, j]) for j in np.flatnonzero(told.share[n] > 1e-6)}
        short[hard_g], short_count[hard_g] = told.short, told.short_count
    return share, short, short_count


def _likeliest(field: Field, placed: Whole, share: list[dict[int, float]]) -> Whole:
    """Place what is not clear where most pieces are expected to come right, no group getting more than it gave.

    The least cost finds the likeliest whole; where two wholes are nearly as likely, that says little of one piece.
    """
    import numpy as np

    groups = field.groups
    open_ones = [
        i for i, chances in enumerate(share) if chances.get(int(placed[i]), 0.0) < 1 - 1e-9 and len(chances) > 1
    ]
    if not open_ones:
        return placed
    columns = sorted(
        {j for i in open_ones for j in share[i] if j < groups} | {int(placed[i]) for i in open_ones} - {groups}
    )
    at = {j: n for n, j in enumerate(columns)}
    cost = np.full((len(open_ones), len(columns) + 1), 1.0)
    for n, i in enumerate(open_ones):
        for j, chance in share[i].items():
            cost[n, at.get(j, len(columns))] = 1 - chance
    by_word = field.said[open_ones] >= 0
    elsewhere = np.append(field.bag[columns], -1)[None] != field.said[open_ones][:, None]
    cost[by_word[:, None] & elsewhere] = np.inf
    fixed = np.ones(len(placed), dtype=bool)
    fixed[open_ones] = False
    taken = np.bincount(placed[fixed], minlength=groups + 1)[columns] if columns else np.zeros(0, dtype=np.int64)
    told = assign(cost, np.append(field.capacity[columns] - taken, len(open_ones)))
    best = placed.copy()
    best[open_ones] = np.append(np.array(columns, dtype=np.int64), groups)[told]
    return best


def _part(field: Field, pieces: Whole, groups: Whole) -> Field:
    return replace(
        field,
        value=field.value[pieces],
        read=field.read[pieces],
        reading_var=field.reading_var[pieces],
        piece_marks=field.piece_marks[pieces],
        said=field.said[pieces],
        mean=field.mean[groups],
        known=field.known[groups],
        piece_var=field.piece_var[groups],
        mean_var=field.mean_var[groups],
        group_marks=field.group_marks[groups],
        capacity=field.capacity[groups],
        bag=field.bag[groups],
    )


def _piece_match(
    i: int,
    piece: MeasuredPiece,
    groups: Sequence[Group],
    placed: Whole,
    share: Mapping[int, float],
    sure: float,
    unread: bool,
) -> PieceMatch:
    at = int(placed[i])
    others = sorted(((n, p) for n, p in share.items() if n != at and p >= 0.001), key=lambda each: -each[1])
    told = tuple(
        (groups[n].key if n < len(groups) else STRANGER, round(p, 4))
        for n, p in [(at, share.get(at, 0.0)), *others[:4]]
    )
    chance = share.get(at, 0.0)
    if at == len(groups):
        state = STRANGER if chance >= sure else DOUBTFUL
        return PieceMatch(piece.key, None, None, "", chance, chance, state, told)
    group = groups[at]
    bag = min(1.0, math.fsum(p for n, p in share.items() if n < len(groups) and groups[n].bag == group.bag))
    state = TOLD if chance >= sure and not unread else DOUBTFUL
    return PieceMatch(piece.key, group.key, group.bag, group.place, chance, bag, state, told)


def _short(
    groups: Sequence[Group], field: Field, placed: Whole, chance: Floats, count: Floats
) -> tuple[tuple[Short, ...], tuple[Short, ...]]:
    """Name the groups with an empty place, and the others it may be as well."""
    import numpy as np

    left = field.capacity - np.bincount(placed, minlength=len(groups) + 1)[: len(groups)]
    sure, maybe = [], []
    for j, group in enumerate(groups):
        if left[j] > 0:
            sure.append(Short(group.key, group.bag, group.place, int(left[j]), round(float(chance[j]), 4)))
        elif chance[j] >= 0.02:
            expected = max(1, round(float(count[j])))
            maybe.append(Short(group.key, group.bag, group.place, expected, round(float(chance[j]), 4)))
    return tuple(sorted(sure, key=lambda s: -s.chance)), tuple(sorted(maybe, key=lambda s: -s.chance)[:8])


def _sentence(seen: Balance, matched: tuple[PieceMatch, ...], short: tuple[Short, ...], waiting: int) -> str:
    if not matched:
        return f"{seen.sentence} None is measured yet."
    told = sum(p.state == TOLD for p in matched)
    doubt = sum(p.state == DOUBTFUL for p in matched)
    strange = sum(p.state == STRANGER for p in matched)
    by_word = sum(p.state == SAID for p in matched)
    counted = _counted(seen, sum(p.group is None for p in matched))
    said = [f"{told} of {len(matched)} are told apart."]
    if by_word:
        said.append(f"{by_word} {'goes' if by_word == 1 else 'go'} by what a person said.")
    if doubt:
        said.append(f"{doubt} {'is' if doubt == 1 else 'are'} doubtful.")
    if strange:
        said.append(f"{strange} {'is' if strange == 1 else 'are'} foreign.")
    if waiting:
        said.append(f"{waiting} {'waits' if waiting == 1 else 'wait'} to be measured.")
    for each in short[:_NAMED]:
        where = f", {each.place}" if each.place else ""
        said.append(f"Short: {each.count} of {each.bag}{where}.")
    if more := sum(each.count for each in short[_NAMED:]):
        said.append(f"And {more} more short, named below.")
    return " ".join([counted, *said])


def _counted(seen: Balance, strangers: int) -> str:
    plain = count_words(seen.count_out, seen.count_back)
    return seen.sentence.replace(plain, count_words(seen.count_out, seen.count_back, strangers), 1)
