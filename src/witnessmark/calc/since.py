"""What is told since a day: sentences in parts that can be left out, and pictures of the same thing before and after."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime

# What the public is told only where somebody ticks it for the whole copy, and the words for it.
WITHHELD = {
    "people": "names of people",
    "shops": "names of shops and vendors",
    "money": "prices",
    "mark": "the aircraft’s name and register mark",
    "serial": "works number, part numbers, tags, and the numbers of shipments, orders and findings",
    "where": "where things are: zones, places, shelves",
}
# What one of them is called where it is found.
ONE_OF = {
    "people": "a person’s name",
    "shops": "a shop’s name",
    "money": "a price",
    "mark": "the aircraft’s mark",
    "serial": "a number",
    "where": "a place",
}
# What somebody typed freely may hold any of these: it is ticked line by line.
TYPED = "typed"
PLAIN = ""


@dataclass(frozen=True)
class Part:
    """A piece of a sentence with the words that lead to it; `kind` is empty, of WITHHELD, or typed."""

    text: str
    kind: str = PLAIN


@dataclass(frozen=True)
class Line:
    """One thing to tell. Without its parts that are withheld it is still a sentence."""

    key: str
    section: str
    parts: tuple[Part, ...]
    owner_only: bool = False
    link: str = ""
    # Ticked before anybody looked: for the owner, for the public.
    first: bool = True
    first_public: bool = True

    @property
    def typed(self) -> str:
        """What of it was typed freely."""
        return " ".join(part.text.strip(" ,;:.") for part in self.parts if part.kind == TYPED)


@dataclass(frozen=True)
class Shot:
    """One picture of one subject."""

    photo: str
    subject: str
    taken: datetime
    width: int
    height: int

    @property
    def pixels(self) -> int:
        return self.width * self.height


@dataclass(frozen=True)
class Pair:
    """The newest picture of a subject, and the earliest one where there is one."""

    subject: str
    before: Shot | None
    after: Shot
    happened: int

    @property
    def days(self) -> int:
        """Days between the two."""
        return (self.after.taken.date() - self.before.taken.date()).days if self.before else 0


def said(parts: Iterable[Part], shown: Collection[str]) -> str:
    """Write a sentence with those parts alone that may be shown.

    Parameters
    ----------
    parts : Iterable[Part]
        The sentence. [-]
    shown : Collection[str]
        Kinds that may be shown; what has no kind always is. [-]

    Returns
    -------
    str
        The sentence.

    Raises
    ------
    none

    Notes
    -----
    A kind that nobody names is left out: what is new and forgotten is withheld, not shown.

    Examples
    --------
    >>> came = (Part("Two pieces came back"), Part(" from Quillbrae", "shops"), Part("."))
    >>> said(came, ())
    'Two pieces came back.'
    >>> said(came, ("shops",))
    'Two pieces came back from Quillbrae.'

    References
    ----------
    none: joining of words.
    """
    return "".join(part.text for part in parts if part.kind == PLAIN or part.kind in shown).strip()


def before_and_after(shots: Iterable[Shot], since: date, until: date, happened: Mapping[str, int]) -> list[Pair]:
    """Pair the earliest picture of each subject with its newest one of these days, the most telling first.

    Parameters
    ----------
    shots : Iterable[Shot]
        Every picture of the subjects, in any order. [-]
    since : date
        First day that is told of. [-]
    until : date
        Last day that is told of. [-]
    happened : Mapping[str, int]
        By subject, how much happened to it in these days. [-]

    Returns
    -------
    list of Pair
        Pairs first; then subjects of these days with no earlier picture.

    Raises
    ------
    none

    Notes
    -----
    The rule, in this order: a pair before a single picture; more happened to it; the two lie further apart in days;
    the smaller of the two has more pixels; the newer; then by subject. The picture before was taken earlier than the
    one after; one photograph stands in a pair only once, and the same file is never both.

    Examples
    --------
    >>> from datetime import UTC
    >>> shots = [Shot(name, "piece:1", datetime(2026, month, 1, tzinfo=UTC), 1200, 900) for name, month in (("a", 3), ("b", 5))]
    >>> [(pair.before.photo, pair.after.photo, pair.days) for pair in before_and_after(shots, date(2026, 4, 14), date(2026, 5, 12), {})]
    [('a', 'b', 61)]

    References
    ----------
    none: an order of ours, said on the screen.
    """
    by_subject: dict[str, list[Shot]] = {}
    for shot in shots:
        if shot.taken.date() <= until:
            by_subject.setdefault(shot.subject, []).append(shot)
    found = []
    for subject, own in by_subject.items():
        own.sort(key=lambda shot: (shot.taken, shot.photo))
        after = own[-1]
        if after.taken.date() < since:
            continue
        before = next((shot for shot in own if shot.taken < after.taken and shot.photo != after.photo), None)
        found.append(Pair(subject, before, after, happened.get(subject, 0)))

    def telling(pair: Pair) -> tuple[bool, int, int, int, float, str]:
        smaller = min(pair.after.pixels, pair.before.pixels) if pair.before else pair.after.pixels
        return (pair.before is None, -pair.happened, -pair.days, -smaller, -pair.after.taken.timestamp(), pair.subject)

    taken: set[str] = set()
    kept = []
    for pair in sorted(found, key=telling):
        own_photos = {pair.after.photo} | ({pair.before.photo} if pair.before else set())
        if not own_photos & taken:  # one picture may show several pieces
            taken |= own_photos
            kept.append(pair)
    return kept


RULE = (
    "A piece with a picture before and one after comes first; then the one to which more happened; then the two that lie "
    "further apart; then the larger pictures; then the newer. Before is the earliest picture of it, after the newest."
)
