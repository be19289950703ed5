"""How far a new record has come: tags printed, pictures taken, pieces begun."""

from dataclasses import dataclass

from witnessmark.records.lookups.pictures import not_said
from witnessmark.records.models import PictureIn, Piece, TagPrinted


@dataclass(frozen=True)
class Standing:
    """What is on record, counted; `last` is the tag of the newest piece."""

    tags: int
    pictures: int
    pieces: int
    not_said: int
    last: str

    @property
    def sentence(self) -> str:
        """Say it aloud."""
        if not self.pictures and not self.pieces:
            return "The record is empty. Begin with one bag and one picture."
        if not self.pictures:
            return f"{self.pieces} pieces are on record, and no picture came in by its tag yet."
        taken = f"{self.pictures} picture{'' if self.pictures == 1 else 's'}"
        if not self.pieces:
            return f"{taken} came in, and no tag could be read yet."
        begun = f"{self.pieces} piece{' is' if self.pieces == 1 else 's are'}"
        return f"{begun} on record, with {taken}."


def standing() -> Standing:
    """Count what a new shop has done; as many questions for one picture as for thousands."""
    newest = Piece.objects.exclude(tag=None).exclude(tag="").order_by("-pk").values_list("tag", flat=True).first()
    return Standing(
        tags=TagPrinted.objects.count(),
        pictures=PictureIn.objects.count(),
        pieces=Piece.objects.count(),
        not_said=not_said().count(),
        last=newest or "",
    )
