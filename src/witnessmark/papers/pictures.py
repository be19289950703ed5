"""The photograph that stands for a piece on paper: the first one taken of it."""

from collections.abc import Iterable, Mapping
from contextlib import suppress

from witnessmark.records.lookups.pictures import IN_FRONT
from witnessmark.records.models import Photo, PhotoUse, Piece
from witnessmark.records.photo_store import served_copy

PAPER_PX = 800


def first_pictures(pieces: Iterable[Piece]) -> dict[int, bytes]:
    """Give the first photograph of each of these pieces, cut to the width of paper, in one query."""
    asked = (
        PhotoUse.objects.filter(IN_FRONT, piece__in=[piece.pk for piece in pieces])
        .select_related("photo")
        .order_by("id")
    )
    first: dict[int, Photo] = {}
    for use in asked:
        if use.piece_id is not None:
            first.setdefault(use.piece_id, use.photo)
    return pictures_of(first)


def pictures_of(photos: Mapping[int, Photo]) -> dict[int, bytes]:
    """Give these photographs by piece, cut to the width of paper."""
    found: dict[int, bytes] = {}
    for piece, photo in photos.items():
        with suppress(OSError):  # a paper without the picture is of more use than no paper
            found[piece] = served_copy(photo, PAPER_PX)
    return found
