"""What at home could be what is hunted: its kind or its size agrees; what a shop's every name says does not count."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.calc.tray import figures_in
from witnessmark.calc.working import Working, working

SOURCE = "hunt-judgement"
# Of these a shop has drawers full: the word alone says nothing of which piece it is. From memory, words of the bench.
GENERIC = frozenset(
    [
        "angle",
        "assembly",
        "bar",
        "bearing",
        "bit",
        "block",
        "bolt",
        "box",
        "bracket",
        "bush",
        "bushing",
        "cable",
        "cap",
        "casting",
        "clamp",
        "clip",
        "collar",
        "cover",
        "end",
        "fastener",
        "fitting",
        "frame",
        "gasket",
        "guide",
        "hatch",
        "head",
        "hinge",
        "hole",
        "hook",
        "hose",
        "joint",
        "lever",
        "link",
        "lock",
        "mount",
        "mounting",
        "nut",
        "pad",
        "pair",
        "pan",
        "panel",
        "part",
        "pin",
        "pipe",
        "plate",
        "plug",
        "ring",
        "rivet",
        "rod",
        "screw",
        "seal",
        "set",
        "shim",
        "sleeve",
        "spacer",
        "spring",
        "stop",
        "strap",
        "strip",
        "stud",
        "strut",
        "support",
        "tab",
        "thing",
        "tie",
        "tube",
        "union",
        "valve",
        "washer",
        "wheel",
        "wire",
    ]
)
# Names are full of these whatever the piece is: where it sits, whose it is, how it came to be. From memory.
_SAYS_NOTHING = frozenset(
    [
        "any",
        "and",
        "are",
        "before",
        "both",
        "but",
        "end",
        "for",
        "from",
        "full",
        "good",
        "has",
        "into",
        "its",
        "just",
        "left",
        "less",
        "like",
        "lower",
        "made",
        "maker",
        "makers",
        "mark",
        "missing",
        "more",
        "new",
        "off",
        "old",
        "one",
        "ones",
        "only",
        "opposite",
        "original",
        "other",
        "our",
        "outer",
        "over",
        "own",
        "pattern",
        "rear",
        "right",
        "same",
        "set",
        "shop",
        "side",
        "some",
        "spare",
        "than",
        "that",
        "the",
        "their",
        "this",
        "too",
        "type",
        "under",
        "upper",
        "used",
        "wanted",
        "was",
        "which",
        "with",
        "without",
        "works",
        "worn",
        "yard",
        "yards",
        "front",
        "inner",
    ]
)
_BREAK = re.compile(r"[,;:(/]|\b(?:with|for|of|from|to|off|in|on|at|if|by|without|before|after)\b")
_RATING = re.compile(r"(?<![\w.,])(\d+(?:[.,]\d+)?)\s*(v|volts?|a|amps?|w|watts?)\b")
_FIGURE = re.compile(r"\d+(?:[.,]\d+)?\s*(?:mm|cm|in|kg|g|v|volts?|a|amps?|w|watts?)?\b")
_NEAR_MM, _NEAR_SHARE = 0.3, 0.03


@dataclass(frozen=True)
class Looked:
    """A name with what else is on record of it: each may be empty."""

    name: str
    also: str = ""
    figures: str = ""
    size_code: str = ""
    part_no: str = ""


@dataclass(frozen=True)
class Likeness:
    """How much speaks for one piece, and what, in words; 0 where neither kind nor size agrees."""

    points: int
    why: str


def kind_of_name(name: str) -> str:
    """Return what a thing is: the last word of its name before a comma or a `with`, `for`, `of`.

    Parameters
    ----------
    name : str
        As somebody wrote it. [-]

    Returns
    -------
    str
        In the singular; empty where that word says nothing.

    Examples
    --------
    >>> kind_of_name("Retraction chain sprocket with full teeth"), kind_of_name("Pitot head, the yard's own")
    ('sprocket', 'head')
    >>> kind_of_name("any head of the same tube"), kind_of_name("the opposite one, if less worn")
    ('head', '')

    References
    ----------
    none: words of the bench, from memory.
    """
    words = re.findall(r"[^\W\d_]+", _BREAK.split(_FIGURE.sub(" ", name.casefold()).strip())[0])
    words = [word for word in words if len(word) > 1]
    last = _one(words[-1]) if words else ""
    return "" if last in _SAYS_NOTHING or len(last) < 3 else last


def telling(name: str) -> tuple[str, ...]:
    """Return the words of a name that tell one piece from another, in the singular, each once.

    Parameters
    ----------
    name : str
        As somebody wrote them. [-]

    Returns
    -------
    tuple of str
        Without what every shop's names are full of, makers' phrases and figures.

    Examples
    --------
    >>> telling("Pitot head, the yard's own"), telling("Battery hatch screws, yard's, from 1939")
    (('pitot', 'head'), ('battery', 'hatch', 'screw'))

    References
    ----------
    none: words of the bench, from memory.
    """
    plain = re.sub(r"['’]s?\b", "", name.casefold())
    words = (_one(word) for word in re.findall(r"[^\W\d_]+", plain))
    return tuple(dict.fromkeys(word for word in words if len(word) > 2 and word not in _SAYS_NOTHING))


def likeness(hunted: Looked, thing: Looked) -> Likeness:
    """Say how much speaks for a piece at home being what is hunted.

    Parameters
    ----------
    hunted : Looked
        What is hunted; `also` is what would also do. [-]
    thing : Looked
        A piece at home. [-]

    Returns
    -------
    Likeness
        Points: 3 for the same part number or size, 2 for the same kind (1 where a shop has drawers full of that kind), 1
        for each other word and each figure that agrees, up to 3 of each. None unless part number or size is the same, two
        figures agree, or the kind agrees and is no drawer's word or has another word or figure beside it.

    Notes
    -----
    A rating in volts, amperes or watts that is on both and nowhere the same, or another size, ends it. Figures agree within
    0.3 mm or 3 %. The points are judgement and were never measured; nothing is decided by them.

    Examples
    --------
    >>> pitot = Looked("Pitot head, the yard's own", "any head of the same tube", "tube 12 mm")
    >>> likeness(pitot, Looked("Battery hatch screws, from the yard")).points, likeness(pitot, Looked("Strut tube")).points
    (0, 0)
    >>> likeness(pitot, Looked("Pitot head, bent", figures="12 mm")).why
    'its name says pitot, head; 12 mm beside 12 mm'

    References
    ----------
    hunt-judgement
    """
    none = Likeness(0, "")
    points, why = 0, []
    if hunted.part_no and hunted.part_no.casefold() == thing.part_no.casefold():
        points, why = 3, ["its part number is the same"]
    if hunted.size_code and thing.size_code:
        if hunted.size_code != thing.size_code and not points:
            return none
        if hunted.size_code == thing.size_code:
            points, why = points + 3, [*why, f"both are {thing.size_code}"]
    if _ratings_differ(hunted, thing):
        return none
    sure = points > 0
    words, kinds = telling(thing.name), {kind_of_name(hunted.name), kind_of_name(hunted.also)} - {""}
    kind = kind_of_name(thing.name) if kind_of_name(thing.name) in kinds else ""
    shared = [word for word in telling(hunted.name) if word in words and word != kind][:3]
    near = _near(figures_in(f"{hunted.figures} {hunted.also}"), figures_in(f"{thing.figures} {thing.name}"))
    firm = bool(kind) and (kind not in GENERIC or bool(shared) or bool(near))
    if not (sure or firm or len(near) > 1):
        return none
    points += (2 if kind not in GENERIC else 1) if kind else 0
    if kind or shared:
        order = [word for word in (*telling(hunted.name), kind) if word == kind or word in shared]
        why.append(f"its name says {', '.join(dict.fromkeys(order))}")
    return Likeness(points + len(shared) + len(near), "; ".join([*why, *near]))


def _ratings_differ(hunted: Looked, thing: Looked) -> bool:
    ours, theirs = (_ratings(f"{each.name} {each.also} {each.figures}") for each in (hunted, thing))
    return any(unit in theirs and not figures & theirs[unit] for unit, figures in ours.items())


def _ratings(text: str) -> dict[str, set[float]]:
    found: dict[str, set[float]] = {}
    for figure, unit in _RATING.findall(text.casefold()):
        found.setdefault(unit[0], set()).add(float(figure.replace(",", ".")))
    return found


def _near(wanted_mm: Sequence[float], seen_mm: Sequence[float]) -> list[str]:
    """Each figure that agrees, in words; one of the piece stands for one of the hunt."""
    left, said = list(seen_mm), []
    for wanted in wanted_mm:
        best = min(left, key=lambda mm: abs(mm - wanted), default=None)
        if best is not None and abs(best - wanted) <= max(_NEAR_MM, _NEAR_SHARE * wanted):
            left.remove(best)
            said.append(f"{best:g} mm beside {wanted:g} mm")
    return said[:3]


def _one(word: str) -> str:
    return word[:-1] if word.endswith("s") and not word.endswith("ss") and len(word) > 3 else word


def hunted_working(found: Sequence[tuple[str, Likeness]], looked_at: int) -> Working:
    """Write down why each piece is named, and of how many.

    Parameters
    ----------
    found : sequence of (str, Likeness)
        What is named, the likeliest first. [-]
    looked_at : int
        Pieces that were held against the hunt. [-]

    Returns
    -------
    Working
        One row a piece.

    Examples
    --------
    >>> hunted_working([("0009 compass bracket", Likeness(2, "its name says compass, bracket"))], 7).rows[0].value
    2

    References
    ----------
    hunt-judgement
    """
    return working(
        "points = 3 x same part number or size + 2 (1) x same kind (of which a shop has many) + other words + figures that agree",
        [(name, like.points, "points", like.why or "it lies in the don't-know tray") for name, like in found]
        or [("nothing", 0, "points", "no kind and no size agrees")],
        sources=(SOURCE,),
        cautions=(
            f"{looked_at} pieces were looked at. The points are judgement; look at the thing itself.",
            "A piece is named only where kind or size agrees; what lies in the don't-know tray always is.",
        ),
        valid_range="names, measurements and sizes as they are on record",
    )
