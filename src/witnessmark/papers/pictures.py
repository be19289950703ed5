"""The photograph that stands for a piece on paper: the first one taken of it."""

from collections.abc import Iterable

from witnessmark.records.models import PhotoUse, Piece
from witnessmark.records.photo_store import served_copy

PAPER_PX = 800


def first_pictures(pieces: Iterable[Piece]) -> dict[int, bytes]:
    """Give the first photograph of each of these pieces, cut to the width of paper, in one query."""
    asked = PhotoUse.objects.filter(piece__in=[piece.pk for piece in pieces]).select_related("photo").order_by("id")
    found: dict[int, bytes] = {}
    for use in asked:
        if use.piece_id is None or use.piece_id in found:
            continue
        try:
            found[use.piece_id] = served_copy(use.photo, PAPER_PX)
        except OSError:
            continue  # a paper without the picture is of more use than no paper
    return found
