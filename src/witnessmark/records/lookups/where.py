"""Where a piece is: the chain of holders upward; where it goes; where it has been."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Prefetch, Q, QuerySet

from witnessmark.records.models import Belongs, Holder, HolderKind, Holding, Move, Piece, PieceKind


@dataclass(frozen=True)
class Standing:
    """So many of a piece at a holder, and the holders that one lies in, innermost first."""

    count: int
    holder: Holder
    chain: tuple[Holder, ...]

    @property
    def words(self) -> str:
        return ", in ".join(holder_words(holder) for holder in (self.holder, *self.chain))


def holder_words(holder: Holder) -> str:
    """Name a holder as a mechanic would say it."""
    if holder.kind == HolderKind.PLACE:
        return f"in its place, {holder.name}"
    if holder.kind == HolderKind.NOT_FOUND:
        return "not found"
    if holder.kind == HolderKind.NOT_SAID:
        return "a place not said yet"
    return holder.name


def standings(pieces: Iterable[Piece]) -> dict[int, list[Standing]]:
    """Where each of these pieces is now, in a number of queries that does not grow with them."""
    ids = [piece.pk for piece in pieces]
    found: dict[int, list[Holding]] = {pk: [] for pk in ids}
    for holding in _held(ids):
        found[holding.piece_id].append(holding)
    inside: dict[int, Holder] = {}  # container piece -> the holder it lies at
    ask = {h.holder.piece_id for rows in found.values() for h in rows if h.holder.piece_id}
    while ask:
        upper = {h.piece_id: h.holder for h in _held(sorted(ask))}
        inside.update(upper)
        ask = {h.piece_id for h in upper.values() if h.piece_id and h.piece_id not in inside}

    def chain(holder: Holder) -> tuple[Holder, ...]:
        up: list[Holder] = []
        while holder.piece_id and holder.piece_id in inside:
            holder = inside[holder.piece_id]
            up.append(holder)
        return tuple(up)

    return {pk: [Standing(h.count, h.holder, chain(h.holder)) for h in rows] for pk, rows in found.items()}


def _held(ids: Iterable[int]) -> QuerySet[Holding]:
    return Holding.objects.filter(piece_id__in=list(ids), count__gt=0).select_related("holder").order_by("holder_id")


def in_bucket(piece: Piece) -> list[tuple[Piece, int, list[Standing]]]:
    """The buckets that pieces of this bag lie in with others': the bucket, how many, and where the bucket is."""
    if piece.kind != PieceKind.BAG:
        return []
    moved = Move.objects.filter(
        Q(from_piece=piece, to_piece__kind=PieceKind.MIXED) | Q(to_piece=piece, from_piece__kind=PieceKind.MIXED)
    ).select_related("from_piece", "to_piece")
    buckets: dict[Piece, int] = {}
    for m in moved:
        bucket, count = (m.to_piece, m.count) if m.from_piece_id == piece.pk else (m.from_piece, -m.count)
        buckets[bucket] = buckets.get(bucket, 0) + count
    inside = {bucket: n for bucket, n in buckets.items() if n > 0}
    at = standings(inside) if inside else {}
    return [(bucket, n, at[bucket.pk]) for bucket, n in inside.items()]


def has_been(piece: Piece) -> QuerySet[Move]:
    """Every move that touched this piece, oldest first."""
    return (
        (Move.objects.filter(from_piece=piece) | Move.objects.filter(to_piece=piece))
        .select_related("act__person", "from_holder", "to_holder", "from_piece", "to_piece")
        .order_by("id")
    )


def with_belongs(pieces: QuerySet[Piece]) -> QuerySet[Piece]:
    """The same pieces, each with the places it came from."""
    return pieces.prefetch_related(Prefetch("belongs", Belongs.objects.select_related("place__zone", "place__holder")))
