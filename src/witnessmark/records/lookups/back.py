"""Putting back: a tag in; where it sat, which way up and against what, out."""

from dataclasses import dataclass

from django.db.models import Q

from witnessmark.records.lookups.pictures import IN_FRONT, sounds_of
from witnessmark.records.lookups.where import Standing, standings
from witnessmark.records.models import Belongs, HolderKind, Layer, Move, Photo, PhotoUse, Piece, Place, Row, SoundNote

MOST_PICTURES, MOST_BESIDE = 8, 12


@dataclass(frozen=True)
class Beside:
    """Something that sat against it, and how that is known."""

    name: str
    link: str
    why: str


@dataclass(frozen=True)
class SeatSeen:
    """One place that it belongs to: the row it is, the layers under it."""

    belongs: Belongs
    row: Row | None
    layers: tuple[Layer, ...]
    filled: bool

    @property
    def place(self) -> Place:
        return self.belongs.place


@dataclass(frozen=True)
class BackSeen:
    """All that helps to put one piece back."""

    piece: Piece
    pictures: tuple[PhotoUse, ...]
    in_place: int
    seats: tuple[SeatSeen, ...]
    beside: tuple[Beside, ...]
    sounds: tuple[SoundNote, ...]
    where: tuple[Standing, ...]

    @property
    def sentence(self) -> str:
        """Say where it sat, aloud."""
        called = self.piece.name or f"Piece {self.piece.tag}"
        called = f"{called[0].upper()}{called[1:]}"
        if self.seats:
            first = self.seats[0].place
            same = first.name.casefold() in ("", self.piece.name.casefold())
            side = first.get_side_display()
            sided = f", {side}" if first.side != "C" and side not in first.zone.name else ""
            more = f", and {len(self.seats) - 1} more" if len(self.seats) > 1 else ""
            return f"{called} sat at {first.mark if same else first.name}, {first.zone.name}{sided}{more}."
        if self.piece.as_found:
            return f"{called}: {self.piece.as_found}."
        if self.pictures:
            return f"{called}: its place is not known yet; its pictures are all there is."
        return f"{called}: nothing shows where it sat."

    @property
    def way_up(self) -> str:
        """Say which way up it sat: what is written of its pictures in place, and of it as it was found."""
        said = [*(use.what for use in self.pictures[: self.in_place]), self.piece.as_found]
        words = "; ".join(dict.fromkeys(text.strip().rstrip(".") for text in said if text.strip()))
        side = f"It is the {self.piece.get_side_display()} one. " if self.piece.side != "C" else ""
        if words:
            return f"{side}{words[0].upper()}{words[1:]}."
        shown = "The picture shows it" if self.in_place else "No picture shows it in its place"
        return f"{side}Nobody has said which way up. {shown}."


def back_seen(piece: Piece) -> BackSeen:
    """See what helps to put it back, in a number of queries that does not grow with the record."""
    belongs = list(
        Belongs.objects.filter(piece=piece).select_related("place__zone", "place__holder", "place__parent_place")
    )
    places = [each.place for each in belongs]
    rows = {row.place_id: row for row in Row.objects.filter(place__in=places)}
    layers: dict[int, list[Layer]] = {}
    for layer in Layer.objects.filter(row__place__in=places).select_related("row").order_by("number"):
        layers.setdefault(layer.row.place_id, []).append(layer)
    where = tuple(standings([piece])[piece.pk])
    filled = {at.holder.pk for at in where if at.holder.kind == HolderKind.PLACE}
    pictures, in_place = _pictures(piece, places)
    return BackSeen(
        piece,
        tuple(pictures),
        in_place,
        tuple(
            SeatSeen(each, rows.get(each.place_id), tuple(layers.get(each.place_id, ())), each.place_id in filled)
            for each in belongs
        ),
        tuple(_beside(piece, places)),
        tuple(sounds_of(piece)),
        where,
    )


def _pictures(piece: Piece, places: list[Place]) -> tuple[list[PhotoUse], int]:
    """Its pictures in place first: of the place itself, and of the piece from before it came off."""
    came_off = (
        Move.objects.filter(from_piece=piece, from_holder__kind=HolderKind.PLACE)
        .select_related("act")
        .order_by("id")
        .first()
    )
    uses = (
        PhotoUse.objects.filter(IN_FRONT, Q(place__in=places) | Q(piece=piece))
        .select_related("photo", "act__person")
        .order_by("photo__taken_at", "id")
    )
    sat: dict[str, PhotoUse] = {}
    later: dict[str, PhotoUse] = {}
    for use in uses:
        before = came_off is None or (use.photo.taken_at or use.act.happened_at) <= came_off.act.happened_at
        says_so = "in place" in use.what.casefold() or use.act.verb == "take_picture"
        at_all = use.place_id is not None or (before and (came_off is not None or says_so))
        (sat if at_all else later).setdefault(use.photo_id, use)
    both = [*sat.values(), *(use for sha, use in later.items() if sha not in sat)]
    return both[:MOST_PICTURES], min(len(sat), MOST_PICTURES)


def _beside(piece: Piece, places: list[Place]) -> list[Beside]:
    """What sat against it: the structure that holds its place, places under the same one, what is in the same pictures."""
    found: dict[str, Beside] = {}
    parents = [place.parent_place for place in places if place.parent_place is not None]
    for parent in parents:
        link = f"/place/{parent.pk}/"
        found.setdefault(link, Beside(str(parent), link, "its place is on it"))
    near = Place.objects.filter(parent_place__in=parents).exclude(pk__in=[place.pk for place in places])
    for place in near.order_by("mark", "side")[:MOST_BESIDE]:
        link = f"/place/{place.pk}/"
        found.setdefault(link, Beside(place.name or str(place), link, f"sits on the same {place.parent_place}"))
    if piece.matched_set:
        for mate in Piece.objects.filter(aircraft=piece.aircraft, matched_set=piece.matched_set).exclude(pk=piece.pk)[
            :MOST_BESIDE
        ]:
            link = f"/piece/{mate.key}/"
            found.setdefault(link, Beside(str(mate), link, f"fitted together, set {piece.matched_set}"))
    shots = Photo.objects.filter(uses__piece=piece)
    together = Piece.objects.filter(photo_uses__photo__in=shots).exclude(pk=piece.pk).distinct().order_by("tag")
    for other in together[:MOST_BESIDE]:
        link = f"/piece/{other.key}/"
        found.setdefault(link, Beside(str(other), link, "is in the same picture"))
    return list(found.values())[:MOST_BESIDE]
