"""Which pictures are the same one again: made smaller, compressed anew, or turned by quarters.

A picture's likeness is taken once, as it comes in. Two steps find it again: the signs of its slopes, 64 across and 64 down,
which differ in few places; then its small grey copy, which differs a little everywhere or much at one spot. Two pictures of
like parts on one bench agree in the first and differ in the second, at the tag.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

Array = Any
GRID = 72  # 8 rows of 9 blocks, and 9 rows of 8
SMALL = 32
DIGITS = 32  # of 128 signs in hexadecimal
# Set on drawn pictures: the same one again differed in 5 signs and 17 greys at the most, like parts with another tag in
# 36 greys at the least.
MOST_SIGNS = 8
MOST_GREYS = 26.0
_LEAST_STEP = 1.0  # greys; what is flatter than this is no slope but the grain of the compression
_LEAST_SPREAD = 4.0  # greys; a picture with less in it looks like every other such picture
_CLIPPED = (8.0, 247.0)  # beyond these the light may have run out


@dataclass(frozen=True)
class Likeness:
    """What is kept of a picture to find it again; `signs`, upright and turned by each quarter, is empty where there is too little in it."""

    signs: str
    small: bytes


@dataclass(frozen=True)
class Pair:
    """Two pictures by their places in the lists, how many signs differ, and the quarter turns between them."""

    new: int
    known: int
    signs: int
    quarters: int


def likeness_of(grid: Array, small: Array) -> Likeness:
    """Take the likeness of a picture that stands upright.

    Parameters
    ----------
    grid : numpy.ndarray
        Its brightness, averaged to 72 by 72. [grey 0-255]
    small : numpy.ndarray
        Its brightness, averaged to 32 by 32. [grey 0-255]

    Returns
    -------
    Likeness
        128 signs as 32 hexadecimal digits for each of its four turns, and the small copy. [-]

    Notes
    -----
    A difference hash: each of 8 rows of 9 blocks tells where it gets brighter to the right, each of 8 columns of 9 where it
    gets brighter downwards.

    Examples
    --------
    >>> import numpy as np
    >>> ramp = np.tile(np.linspace(0, 255, 72), (72, 1))
    >>> likeness_of(ramp, ramp[:32, :32]).signs[:32] == "f" * 16 + "0" * 16
    True
    >>> likeness_of(np.full((72, 72), 90.0), np.full((32, 32), 90.0)).signs
    ''

    References
    ----------
    difference-hash
    """
    import numpy as np

    square = np.asarray(grid, np.float32)
    kept = np.clip(np.rint(np.asarray(small, np.float32)), 0, 255).astype(np.uint8).tobytes()
    if float(square.std()) < _LEAST_SPREAD:
        return Likeness("", kept)
    return Likeness("".join(_signs(np.rot90(square, quarters)) for quarters in range(4)), kept)


def _signs(square: Array) -> str:
    import numpy as np

    across = square.reshape(8, 9, 9, 8).mean(axis=(1, 3))
    down = square.reshape(9, 8, 8, 9).mean(axis=(1, 3))
    brighter = (np.diff(across, axis=1) > _LEAST_STEP, np.diff(down, axis=0) > _LEAST_STEP)
    return np.packbits(np.concatenate([each.ravel() for each in brighter])).tobytes().hex()


def alike(new: Sequence[Likeness], known: Sequence[Likeness]) -> list[Pair]:
    """Find those among the known that may be the new ones again.

    Parameters
    ----------
    new : sequence of Likeness
        Pictures that nobody has held against the others yet. [-]
    known : sequence of Likeness
        All pictures. [-]

    Returns
    -------
    list of Pair
        Nearest first; a picture held against itself is among them. [-]

    Notes
    -----
    Each new one is held against all known ones in one sweep over 16 bytes a picture, once in its life, and never by a page.
    Of the few that agree the small copies are held against each other. Turned by quarters they are found, mirrored not.

    Examples
    --------
    >>> one = Likeness("0f" * 64, bytes(range(256)) * 4)
    >>> [(pair.known, pair.signs) for pair in alike([one], [Likeness("", b""), one])]
    [(1, 0)]

    References
    ----------
    difference-hash
    """
    import numpy as np

    held = [n for n, each in enumerate(known) if each.signs]
    asked = [n for n, each in enumerate(new) if each.signs]
    if not held or not asked:
        return []
    codes = np.frombuffer(bytes.fromhex("".join(known[n].signs[:DIGITS] for n in held)), np.uint64).reshape(-1, 2)
    found = []
    for n in asked:
        turns = np.frombuffer(bytes.fromhex(new[n].signs), np.uint64).reshape(4, 2)
        best: dict[int, tuple[int, int]] = {}
        for quarters, turn in enumerate(turns):
            apart = np.bitwise_count(codes ^ turn).sum(axis=1, dtype=np.int64)
            square = np.rot90(_square(new[n]), quarters)
            for at in np.flatnonzero(apart <= MOST_SIGNS):
                other, signs = held[int(at)], int(apart[at])
                nearer = other not in best or signs < best[other][0]
                if nearer and greys_apart(square, _square(known[other])) <= MOST_GREYS:
                    best[other] = (signs, quarters)
        found += [Pair(n, other, signs, quarters) for other, (signs, quarters) in best.items()]
    return sorted(found, key=lambda pair: (pair.signs, pair.new, pair.known))


def greys_apart(one: Array, other: Array) -> float:
    """Say by how much two small copies differ at the spot where they differ most, brightness and contrast evened out.

    Parameters
    ----------
    one : numpy.ndarray
        The first. [grey 0-255]
    other : numpy.ndarray
        The second, of the same size. [grey 0-255]

    Returns
    -------
    float
        Infinite where one is the other's negative. [grey]

    Examples
    --------
    >>> import numpy as np
    >>> ramp = np.linspace(20, 200, 64).reshape(8, 8)
    >>> greys_apart(ramp, 0.8 * ramp + 10) < 0.01
    True

    References
    ----------
    difference-hash
    """
    import numpy as np

    first, second = np.asarray(one, np.float64).ravel(), np.asarray(other, np.float64).ravel()
    low, high = _CLIPPED
    clear = (first > low) & (first < high) & (second > low) & (second < high)
    if not clear.any():
        clear[:] = True
    return min(_off(first, second, clear), _off(second, first, clear))


def _off(first: Array, second: Array, clear: Array) -> float:
    """Brighten the first until it is like the second where neither is black or white, and look where it is not."""
    import numpy as np

    about, to = first[clear] - first[clear].mean(), second[clear]
    spread = float((about**2).sum())
    gain = float((about * (to - to.mean())).sum()) / spread if spread else 1.0
    if gain <= 0:
        return float("inf")
    made = np.clip(gain * (first - first[clear].mean()) + to.mean(), 0, 255)
    return float(np.abs(made - second).max())


def _square(likeness: Likeness) -> Array:
    import numpy as np

    return np.frombuffer(likeness.small, np.uint8).reshape(SMALL, SMALL)
