"""Originals that no longer fly and are kept as patterns until the hand-over, and where each lies."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import OuterRef, Subquery

from witnessmark.records.lookups.where import Standing, standings
from witnessmark.records.models import Aircraft, Decision, DecisionKind, Piece, PieceKind

GIVES_WAY = (DecisionKind.REMAKE, DecisionKind.SUBSTITUTE, DecisionKind.SCRAP)


@dataclass(frozen=True)
class Pattern:
    """One original that gives way to another part, or to none."""

    piece: Piece
    decision: Decision
    where: tuple[Standing, ...]


def gives_way(pieces: Iterable[int]) -> dict[int, DecisionKind]:
    """Those of these pieces whose newest decision puts another part, or none, in their place; and that decision."""
    newest = dict(Decision.objects.filter(piece__in=list(pieces)).order_by("id").values_list("piece_id", "kind"))
    return {piece: DecisionKind(kind) for piece, kind in newest.items() if kind in GIVES_WAY}


def patterns(aircraft: Aircraft | None) -> list[Pattern]:
    """The originals whose newest decision is remake, substitute or scrap."""
    newest = Decision.objects.filter(piece=OuterRef("piece")).order_by("-id").values("pk")[:1]
    rows = list(
        Decision.objects.filter(
            piece__aircraft=aircraft, piece__kind=PieceKind.PART, kind__in=GIVES_WAY, pk=Subquery(newest)
        )
        .select_related("piece", "by", "act")
        .order_by("piece__tag", "piece_id")
    )
    where = standings([row.piece for row in rows])
    return [Pattern(row.piece, row, tuple(where[row.piece_id])) for row in rows]
