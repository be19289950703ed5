"""What a sheet for outside says of how its pieces are done: like pieces together, each with what was called out."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from witnessmark.records.lookups.instructions import Instructed, made_of, strength_words
from witnessmark.records.models import Piece


@dataclass(frozen=True)
class DoneBy:
    """Pieces that are told the same: their tags, the steps, the sentences, the times asked, why no bath is released."""

    tags: tuple[str, ...]
    steps: str
    lines: tuple[str, ...]
    asked: tuple[str, ...]
    withheld: str

    @property
    def head(self) -> str:
        """The steps and the tags that they are for."""
        return f"{self.steps[:1].upper()}{self.steps[1:]}: {', '.join(self.tags)}."


def _made(piece: Piece) -> str:
    return f"Made of {made_of(piece) or 'what nobody wrote down'}, {strength_words(piece)}."


def done_by(pieces: Iterable[Piece], told: Mapping[int, Instructed]) -> tuple[DoneBy, ...]:
    """Put pieces together that are told the same, in their order."""
    groups: dict[tuple[str, tuple[str, ...], tuple[str, ...], str], list[str]] = {}
    for piece in pieces:
        if piece.pk in told:
            each = told[piece.pk]
            key = (each.names, (_made(piece), *each.told.lines), each.told.asked, each.told.withheld)
            groups.setdefault(key, []).append(piece.tag or piece.part_no or f"no tag ({piece.pk})")
    return tuple(
        DoneBy(tuple(tags), steps, lines, asked, withheld) for (steps, lines, asked, withheld), tags in groups.items()
    )
