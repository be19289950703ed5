"""Find a piece, a place or a finding by tag, mark, name or words; case and accents do not matter."""

from dataclasses import dataclass
from typing import Any, TypeVar

from django.db.models import Case, IntegerField, Model, Q, QuerySet, Value, When

from witnessmark.records.models import Finding, Piece, Place
from witnessmark.records.words import search_words

LIMIT = 50
MOST_TYPED = 200
M = TypeVar("M", bound=Model)


@dataclass(frozen=True)
class Found:
    """What was found, the closest first; `exact` is the piece whose tag was typed."""

    words: str
    exact: Piece | None
    pieces: tuple[Piece, ...]
    places: tuple[Place, ...]
    findings: tuple[Finding, ...]
    more: bool

    @property
    def count(self) -> int:
        return len(self.pieces) + len(self.places) + len(self.findings)


def find(words: str, limit: int = LIMIT) -> Found:
    """Find what holds every one of these words; at most `limit` of each kind."""
    words = words.replace("\0", "").strip()[:MOST_TYPED]
    typed = search_words(words)
    tokens = typed.split()
    if not tokens:
        return Found("", None, (), (), (), more=False)
    exact = Piece.objects.filter(tag__iexact=words).first()
    every = Q()
    for token in tokens:
        every &= Q(words__contains=token)
    pieces = list(_closest(Piece.objects.filter(every), "tag", typed)[: limit + 1])
    places = list(_closest(Place.objects.filter(every).select_related("zone"), "mark", typed)[: limit + 1])
    findings = list(
        _closest(Finding.objects.filter(every).select_related("piece", "place", "zone"), "number", typed)[: limit + 1]
    )
    more = any(len(rows) > limit for rows in (pieces, places, findings))
    return Found(words, exact, tuple(pieces[:limit]), tuple(places[:limit]), tuple(findings[:limit]), more)


def _closest(rows: QuerySet[M], key: str, typed: str) -> QuerySet[M]:
    """What is called just so stands first, then what begins so, then the rest."""
    rank: Any = Case(
        When(**{f"{key}__iexact": typed}, then=Value(0)),
        When(**{f"{key}__istartswith": typed}, then=Value(1)),
        default=Value(2),
        output_field=IntegerField(),
    )
    return rows.order_by(rank, "pk")


def near_tags(tag: str, limit: int = 5) -> list[str]:
    """Tags that begin or end like this one, for a slip of the finger."""
    typed = tag.replace("\0", "").strip()[:MOST_TYPED]
    if not typed:
        return []
    like = Q(tag__istartswith=typed[:-1] or typed) | Q(tag__iendswith=typed[1:] or typed)
    return [str(each) for each in Piece.objects.filter(like).order_by("tag").values_list("tag", flat=True)[:limit]]
