"""Does the ledger balance? Recomputed from the moves alone, beside what the triggers kept."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.db import connection

from witnessmark.records import guards
from witnessmark.records.models import Holder, HolderKind, Holding, Move, Piece, PieceKind, Place


@dataclass(frozen=True)
class LedgerCheck:
    """What a recomputation from the moves found; `faults` are sentences, none when it balances."""

    moves: int
    pieces: int
    holdings: int
    faults: tuple[str, ...]

    @property
    def balanced(self) -> bool:
        return not self.faults

    def to_dict(self) -> dict[str, Any]:
        return {
            "balanced": self.balanced,
            "moves": self.moves,
            "pieces": self.pieces,
            "holdings": self.holdings,
            "faults": list(self.faults),
        }


def check_ledger() -> LedgerCheck:
    """Recompute every holding from the moves and compare; look for broken laws and missing guards."""
    kept: Counter[tuple[int, int]] = Counter()
    moves = 0
    for from_piece, from_holder, to_piece, to_holder, count in (
        Move.objects.order_by("id")
        .values_list("from_piece_id", "from_holder_id", "to_piece_id", "to_holder_id", "count")
        .iterator(chunk_size=5000)
    ):
        kept[from_piece, from_holder] -= count
        kept[to_piece, to_holder] += count
        moves += 1
    origins = set(Holder.objects.filter(kind=HolderKind.ORIGIN).values_list("pk", flat=True))
    real = {key: count for key, count in kept.items() if key[1] not in origins}
    stored = {(p, h): c for p, h, c in Holding.objects.values_list("piece_id", "holder_id", "count")}
    return LedgerCheck(moves, Piece.objects.count(), len(stored), tuple(_faults(real, stored, origins, kept)))


def _faults(
    real: dict[tuple[int, int], int],
    stored: dict[tuple[int, int], int],
    origins: set[int],
    kept: Counter[tuple[int, int]],
) -> Iterator[str]:
    for key in sorted(set(real) | set(stored)):
        moved, held = real.get(key, 0), stored.get(key, 0)
        if moved != held:
            yield f"Piece {key[0]} at holder {key[1]}: the moves say {moved}, the ledger keeps {held}."
        if moved < 0:
            yield f"Piece {key[0]} at holder {key[1]}: more left than was there ({moved})."
    here: Counter[int] = Counter()
    filled: Counter[int] = Counter()
    for (piece, holder), count in real.items():
        here[piece] += count
        filled[holder] += count
    for pk, tag in Piece.objects.filter(kind=PieceKind.PART).values_list("pk", "tag"):
        if here[pk] > 1:
            yield f"Part {tag or pk} is in {here[pk]} places at once."
    for pk, mark, capacity in Place.objects.values_list("holder_id", "mark", "capacity"):
        if filled[pk] > capacity:
            yield f"Place {mark} holds {filled[pk]}, more than its {capacity}."
    taken_in = -sum(count for (_, holder), count in kept.items() if holder in origins)
    if sum(here.values()) != taken_in:
        yield f"{taken_in} were taken in and {sum(here.values())} are somewhere."
    for name in guards.missing():
        yield f"The guard {name} is not up in {connection.vendor}: run 'witnessmark serve' or migrate once."
