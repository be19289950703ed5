"""Pictures that came in: what the last ones were, what shows nothing yet, what asks, what waits to be said."""

from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Q, QuerySet

from witnessmark.records.models import (
    Belongs,
    FindingRing,
    HolderKind,
    Holding,
    NotCounted,
    Person,
    Photo,
    PhotoUse,
    PictureIn,
    Piece,
    SoundNote,
)

# Of two that are the same picture the larger is shown, which shows all that the smaller does; a ring stays where it was drawn.
IN_FRONT = Q(photo__behind=None) | Exists(FindingRing.objects.filter(use=OuterRef("pk")))


@dataclass(frozen=True)
class Waits:
    """How much of what came in by picture waits for a word; every one of these is an ordinary state."""

    unsorted: int
    asks: int
    not_said: int
    place_not_known: int

    @property
    def sentence(self) -> str:
        """Say it aloud, or nothing where nothing waits."""
        parts = []
        if self.not_said:
            parts.append(f"{self.not_said} {'piece is' if self.not_said == 1 else 'pieces are'} not told of fully")
        if self.unsorted:
            parts.append(f"{self.unsorted} {'picture is' if self.unsorted == 1 else 'pictures are'} unsorted")
        if self.asks:
            parts.append(f"{self.asks} {'asks' if self.asks == 1 else 'ask'} something")
        return f"{', '.join(parts)}." if parts else ""


def unsorted() -> QuerySet[Photo]:
    """Pictures that are given to nothing: kept, counted, none of them set aside."""
    used = PhotoUse.objects.filter(photo=OuterRef("pk"))
    came = PictureIn.objects.filter(photo=OuterRef("pk"))
    return Photo.objects.filter(Exists(came.filter(aside_act=None)), ~Exists(used), behind=None)


def asking() -> QuerySet[PictureIn]:
    """Pictures that asked something nobody has answered."""
    return PictureIn.objects.exclude(asks="").filter(answered_act=None, aside_act=None)


def not_said() -> QuerySet[Piece]:
    """Pieces begun by their picture of which the place, the name or the count is not said yet."""
    nowhere = Holding.objects.filter(piece=OuterRef("pk"), count__gt=0, holder__kind=HolderKind.NOT_SAID)
    begun = NotCounted.objects.filter(piece=OuterRef("pk"))
    return Piece.objects.filter(
        Exists(nowhere) | (Exists(begun) & (Q(name="") | Exists(begun.filter(counted_act=None))))
    )


def place_not_known() -> QuerySet[Piece]:
    """Pieces that came in by picture and of which nothing says where they go: a state like another."""
    begun = NotCounted.objects.filter(piece=OuterRef("pk"))
    return Piece.objects.filter(Exists(begun), ~Exists(Belongs.objects.filter(piece=OuterRef("pk"))))


def waits() -> Waits:
    """Count them."""
    return Waits(unsorted().count(), asking().count(), not_said().count(), place_not_known().count())


@dataclass(frozen=True)
class CameIn:
    """A picture of the last ones, with the line it was answered with."""

    picture: PictureIn
    line: str
    tags: tuple[str, ...]
    sounds: tuple[SoundNote, ...]


def last_in(person: Person | None = None, most: int = 12) -> list[CameIn]:
    """The newest pictures, of one person or of all, newest first."""
    taken = PictureIn.objects.filter(act__verb="take_picture")  # old ones come by the thousand and stand elsewhere
    arrivals = taken.select_related("photo", "act__person", "act__actresult").order_by("-act__recorded_at")
    if person is not None:
        arrivals = arrivals.filter(act__person=person)
    rows = list(arrivals[:most])
    sounds: dict[str, list[SoundNote]] = {}
    for note in SoundNote.objects.filter(photo__in=[row.photo_id for row in rows]):
        sounds.setdefault(note.photo_id, []).append(note)
    return [
        CameIn(
            row,
            row.act.actresult.result["line"],
            tuple(each["tag"] for each in row.act.actresult.result["tags"]),
            tuple(sounds.get(row.photo_id, ())),
        )
        for row in rows
    ]


def sounds_of(piece: Piece) -> list[SoundNote]:
    """What was spoken over the pictures of a piece, oldest first."""
    return list(
        SoundNote.objects.filter(photo__uses__piece=piece)
        .select_related("photo", "act__person")
        .distinct()
        .order_by("pk")
    )
