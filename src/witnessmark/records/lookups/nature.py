"""What a piece is, for whoever sends it out or routes it: its nature as people said it, material and strength on record."""

from collections.abc import Iterable

from witnessmark.calc.bags.leaving import Leaving
from witnessmark.records.models import Piece, PieceNature


def natures(pieces: Iterable[int]) -> dict[int, dict[str, bool]]:
    """What people said of each piece's nature; the newest counts."""
    found: dict[int, dict[str, bool]] = {}
    for row in PieceNature.objects.filter(piece_id__in=list(pieces)).order_by("id"):
        found.setdefault(row.piece_id, {})[row.trait] = row.holds
    return found


def leaving_of(piece: Piece) -> Leaving:
    """What the record itself says of a piece's material and strength."""
    return Leaving(
        tag=piece.key,
        words=piece.name,
        material=piece.material or (piece.size.alloy if piece.size else ""),
        strength_mpa=piece.strength_mpa if piece.strength_mpa and piece.strength_mpa > 0 else None,
    )
