"""Which kind of thing a shape on the mat may be, and a bag's words say: what must not go into one bag unasked."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence

from witnessmark.calc.mat.groups import SAME_MM, SAME_THREADED_MM, TO_RETURN

# What a shape may be called at the bench, from common practice. A thing without a head may be a pin, a stud or a slug.
OF_SHAPE = {
    "ring": frozenset({"ring"}),
    "disc": frozenset({"disc"}),
    "nut": frozenset({"nut"}),
    "hexagon": frozenset({"bolt"}),
    "round": frozenset({"bolt", "rivet"}),
    "countersunk": frozenset({"bolt", "rivet"}),
    "plain pin": frozenset({"pin", "bolt", "rivet"}),
}
_CALLED = {
    "ring": "ring washer shim spacer collar seal gasket grommet bush bushing",
    "disc": "disc cap plug",
    "nut": "nut locknut stiffnut wingnut",
    "bolt": "bolt screw setscrew stud",
    "rivet": "rivet",
    "pin": "pin dowel",
}
_KIND = {word: kind for kind, words in _CALLED.items() for word in words.split()}
_MANY = {
    "ring": "rings", "disc": "discs", "nut": "nuts", "hexagon": "bolts", "bolt": "bolts", "rivet": "rivets",
    "pin": "pins", "round": "round heads", "countersunk": "flush heads", "plain pin": "pins",
}  # fmt: skip
_LIMIT_MM = {TO_RETURN[name]: limit for name, limit in SAME_MM.items()}
_THREAD, _SHANK = "thread_pitch_mm", "shank_diameter_mm"

Figures = Mapping[str, Sequence[tuple[float, float]]]


def kinds_called(words: str) -> frozenset[str]:
    """Say which kinds of small hardware these words name.

    Parameters
    ----------
    words : str
        What somebody calls it. [-]

    Returns
    -------
    frozenset of str
        Of ring, disc, nut, bolt, rivet and pin; empty where the words name none.

    Examples
    --------
    >>> sorted(kinds_called("Cover screws M4, with nuts"))
    ['bolt', 'nut']
    >>> kinds_called("hardware of the left root")
    frozenset()

    References
    ----------
    none: words of the bench, from memory.
    """
    found = set()
    for word in re.findall(r"[^\W\d_]+", words.casefold()):
        for each in (word, word.removesuffix("s"), word.removesuffix("es")):
            if each in _KIND:
                found.add(_KIND[each])
    return frozenset(found)


def kinds_of(shapes: Collection[str], words: str) -> frozenset[str]:
    """Say what pieces of these shapes, so called, may be: the words decide where they name a kind.

    Parameters
    ----------
    shapes : collection of str
        The families that the picture shows. [-]
    words : str
        What they are called. [-]

    Returns
    -------
    frozenset of str
        Empty where nothing is known of them.

    Examples
    --------
    >>> sorted(kinds_of({"round"}, "round head 4.0 x 10.0 mm"))
    ['bolt', 'rivet']
    >>> sorted(kinds_of({"round"}, "rivets of the keel"))
    ['rivet']

    References
    ----------
    none: words of the bench, from memory.
    """
    return kinds_called(words) or frozenset().union(*(OF_SHAPE.get(shape, frozenset()) for shape in shapes))


def many(kinds: Collection[str], shapes: Collection[str] = ()) -> str:
    """Call several pieces by what they are, or by the shapes that the picture shows.

    Parameters
    ----------
    kinds : collection of str
        What they may be. [-]
    shapes : collection of str
        The families that the picture shows. [-]

    Returns
    -------
    str
        In the plural; "pieces" where nothing is known.

    Examples
    --------
    >>> many({"ring"}), many({"bolt", "rivet"}, {"round"}), many({"bolt", "nut"})
    ('rings', 'round heads', 'bolts and nuts')

    References
    ----------
    none: words of the bench, from memory.
    """
    shown = [_MANY[shape] for shape in sorted(shapes) if shape in _MANY]
    named = [_MANY[kind] for kind in sorted(kinds)]
    told = list(dict.fromkeys(shown if shown and len(kinds) != 1 else named or shown))
    return " and ".join(told) or "pieces"


def size_apart(held: Figures, shown: Figures) -> tuple[str, float, float] | None:
    """Name the first figure in which pieces are of another size than those that a bag holds.

    Parameters
    ----------
    held : mapping
        By feature, what was read on pieces of the bag: value and standard uncertainty. [mm]
    shown : mapping
        The same of the pieces that are to go in. [mm]

    Returns
    -------
    tuple or None
        The feature, the held figure that lies nearest, and the mean of those shown; None where nothing parts them.

    Notes
    -----
    The limits are those by which like is put with like on the mat, and twice the uncertainty of both; a bag of several
    sizes takes every one of them.

    Examples
    --------
    >>> size_apart({"outer_diameter_mm": [(16.0, 0.06)]}, {"outer_diameter_mm": [(12.1, 0.06), (11.9, 0.06)]})
    ('outer_diameter_mm', 16.0, 12.0)
    >>> size_apart({"outer_diameter_mm": [(16.0, 0.06)]}, {"outer_diameter_mm": [(16.1, 0.06)]}) is None
    True

    References
    ----------
    mat-geometry
    """
    import math

    threaded = _THREAD in held or _THREAD in shown
    for name, limit in _LIMIT_MM.items():
        if not held.get(name) or not shown.get(name):
            continue
        mean = sum(value for value, _ in shown[name]) / len(shown[name])
        sigma = min(sigma for _, sigma in shown[name])
        near, near_sigma = min(held[name], key=lambda each: abs(each[0] - mean))
        wide = SAME_THREADED_MM if threaded and name == _SHANK else limit
        if abs(near - mean) > wide + 2 * math.hypot(sigma, near_sigma):
            return name, round(near, 3), round(mean, 3)
    return None
