"""What is not said yet of pieces that came in by picture, a few at a time, with what can be tapped instead of typed."""

from dataclasses import dataclass

from django.db.models import Count

from witnessmark.records.lookups.aircraft import shelves
from witnessmark.records.lookups.pictures import not_said, place_not_known
from witnessmark.records.lookups.tray import TRAY
from witnessmark.records.lookups.where import Standing, standings
from witnessmark.records.models import (
    Aircraft,
    HolderKind,
    NotCounted,
    Photo,
    Piece,
    Place,
    Side,
    SoundNote,
    Zone,
)

AT_A_TIME = 6
SHELVES_TO_TAP = 6


@dataclass(frozen=True)
class ToSay:
    """One piece with its first picture, and which questions are open."""

    piece: Piece
    photo: Photo | None
    sounds: tuple[SoundNote, ...]
    where: tuple[Standing, ...]
    not_named: bool
    not_counted: bool
    not_placed: bool
    zones: tuple[Zone, ...]

    @property
    def key(self) -> str:
        return self.piece.key


@dataclass(frozen=True)
class Said:
    """A page of them, and the words to tap."""

    pieces: tuple[ToSay, ...]
    count: int
    page: int
    pages: int
    shelves: tuple[str, ...]
    all_shelves: tuple[str, ...]
    aircraft: tuple[Aircraft, ...]
    marks: tuple[str, ...]


def to_say(page: int = 1, *, of_place: bool = False) -> Said:
    """The pieces of one page, those begun last first, in a number of queries that does not grow with the record.

    `of_place` gives all whose place is not known, told of otherwise or not.
    """
    rows = (place_not_known() if of_place else not_said()).select_related("aircraft").order_by("-pk")
    count = rows.count()
    pages = max(1, -(-count // AT_A_TIME))
    page = min(max(page, 1), pages)
    pieces = list(rows[(page - 1) * AT_A_TIME : page * AT_A_TIME])
    ids = [piece.pk for piece in pieces]
    where = standings(pieces)
    uncounted = set(NotCounted.objects.filter(piece__in=ids, counted_act=None).values_list("piece", flat=True))
    photos: dict[int, Photo] = {}
    for photo in Photo.objects.filter(uses__piece__in=ids).prefetch_related("uses").order_by("-taken_at", "-sha256"):
        for use in photo.uses.all():
            if use.piece_id is not None:
                photos[use.piece_id] = photo
    sounds: dict[int, list[SoundNote]] = {}
    for note in SoundNote.objects.filter(photo__uses__piece__in=ids).prefetch_related("photo__uses").distinct():
        for use in note.photo.uses.all():
            if use.piece_id is not None:
                sounds.setdefault(use.piece_id, []).append(note)
    zones: dict[int, list[Zone]] = {}
    for zone in Zone.objects.annotate(n=Count("piece")).order_by("number"):
        zones.setdefault(zone.aircraft_id, []).append(zone)
    known = tuple(name for name in shelves() if name != TRAY)
    aircraft = tuple(Aircraft.objects.order_by("name"))
    places = Place.objects.filter(aircraft__in=aircraft, row=None).order_by("mark", "side")
    return Said(
        tuple(
            ToSay(
                piece,
                photos.get(piece.pk),
                tuple(sounds.get(piece.pk, ())),
                tuple(where[piece.pk]),
                piece.name == "",
                piece.pk in uncounted,
                any(at.holder.kind == HolderKind.NOT_SAID for at in where[piece.pk]),
                tuple(zones.get(piece.aircraft_id or 0, ())),
            )
            for piece in pieces
        ),
        count,
        page,
        pages,
        known[:SHELVES_TO_TAP],
        known,
        aircraft,
        tuple(f"{place}" for place in places[:1000]),
    )


def side_called(word: str) -> str:
    """Find the side that a word or its letter names, as places are printed: `centre`, `L`; empty where it names none."""
    return next((str(side) for side in Side if word.strip().lower() in (side.label, side.value.lower())), "")


def place_called(words: str, aircraft: Aircraft | None) -> Place | None:
    """Find the place of this mark, with its side where there are two of it."""
    mark, _, side = words.strip().rpartition(" ")
    places = Place.objects.all() if aircraft is None else Place.objects.filter(aircraft=aircraft)
    if side_called(side) and mark:
        return places.filter(mark__iexact=mark.strip(), side=side_called(side)).first()
    two = list(places.filter(mark__iexact=words.strip())[:2])
    return two[0] if len(two) == 1 else None
