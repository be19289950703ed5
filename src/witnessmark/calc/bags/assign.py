"""Pieces to groups of a known size at the least cost: shortest augmenting paths over the groups."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def assign(cost: NDArray[np.float64], capacity: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return for each piece the group it goes to, so that the sum of the costs is the least there is.

    Parameters
    ----------
    cost : array
        Cost of each piece in each group; infinite where it cannot be. [-], shape (n_pieces, n_groups)
    capacity : array
        How many each group takes. [-], shape (n_groups,)

    Returns
    -------
    array
        Number of the group, by piece. [-], shape (n_pieces,)

    Raises
    ------
    ValueError
        Shapes that do not match, a cost that is not a number, a negative capacity, or no room for every piece.

    Notes
    -----
    Exact. Each piece in turn is brought in along the cheapest path of moves (Dijkstra over the groups with prices), so a
    full group passes one of its own on. The work grows with pieces x groups x the length of the paths.

    Examples
    --------
    >>> import numpy as np
    >>> assign(np.array([[1.0, 2.0], [1.0, 5.0]]), np.array([1, 1])).tolist()
    [1, 0]

    References
    ----------
    jonker-volgenant-1987
    """
    import numpy as np

    pieces, groups = cost.shape
    if capacity.shape != (groups,) or np.isnan(cost).any() or (cost == -np.inf).any() or (capacity < 0).any():
        raise ValueError("costs are numbers (or infinite), one column a group with its capacity")
    price = np.zeros(groups)
    room = capacity.astype(np.int64).copy()
    members: list[list[int]] = [[] for _ in range(groups)]
    at = np.full(pieces, -1, dtype=np.int64)
    for piece in range(pieces):
        _bring_in(piece, cost, price, room, members, at)
    return at


def _bring_in(
    piece: int,
    cost: NDArray[np.float64],
    price: NDArray[np.float64],
    room: NDArray[np.int64],
    members: list[list[int]],
    at: NDArray[np.int64],
) -> None:
    import numpy as np

    near: NDArray[np.float64] = cost[piece] - price
    mover: Any = np.full(near.shape, piece)
    open_to = near.copy()  # infinite where the path is settled
    settled: list[int] = []
    while True:
        group = int(np.argmin(open_to))
        reached = float(open_to[group])
        if not np.isfinite(reached):
            raise ValueError("there is not room for every piece")
        if room[group] > 0:
            break
        settled.append(group)
        open_to[group] = np.inf
        if not members[group]:
            continue  # a group of no pieces passes nobody on
        own = np.array(members[group])
        step = cost[own] - price
        step += (reached - step[:, group])[:, None]
        best = np.argmin(step, axis=0)
        dist = step[best, np.arange(step.shape[1])]
        shorter = dist < near
        shorter[settled] = False
        near[shorter] = dist[shorter]
        open_to[shorter] = dist[shorter]
        mover[shorter] = own[best[shorter]]
    for each in settled:
        price[each] += near[each] - reached
    room[group] -= 1
    while True:
        coming = int(mover[group])
        before = int(at[coming])
        at[coming] = group
        members[group].append(coming)
        if coming == piece:
            return
        members[before].remove(coming)
        group = before
