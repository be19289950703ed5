"""What a list of places, parts or bags brings into the record, gathered row by row and written in bulk."""

from dataclasses import dataclass, field, fields

from witnessmark.exchange.cells import Wrong
from witnessmark.exchange.listfile import ListFile
from witnessmark.exchange.lists.known import Known
from witnessmark.records.actions.saying import move
from witnessmark.records.models import (
    Act,
    Belongs,
    Decision,
    Holder,
    HolderKind,
    Move,
    Piece,
    Place,
    RouteTemplate,
    Side,
    Step,
    Tagging,
    TemplateStep,
    Zone,
)
from witnessmark.records.words import search_words

PLACE_FIELDS = ("zone", "name", "station", "capacity", "parent_place", "wants", "wants_size", "known", "words")
PIECE_FIELDS = (
    "tag", "name", "part_no", "material", "strength_mpa", "finish", "mass_g", "size", "as_found", "matched_set", "note",
    "words",
)  # fmt: skip
STEP_FIELDS = (
    "number", "name", "who", "hours_least", "hours_likely", "hours_most", "bench", "cures_hours", "caution",
    "tag_medium", "next_within_hours", "needs",
)  # fmt: skip


@dataclass
class Intake:
    """The rows to write; pieces and holders may be unsaved until then."""

    places: list[Place] = field(default_factory=list)
    changed_places: list[Place] = field(default_factory=list)
    pieces: list[Piece] = field(default_factory=list)
    changed_pieces: list[Piece] = field(default_factory=list)
    zones: list[tuple[Piece, Zone]] = field(default_factory=list)
    belongs: list[tuple[Piece, Place, int, str]] = field(default_factory=list)
    moves: list[tuple[Piece, Holder, int]] = field(default_factory=list)
    tags: list[Piece] = field(default_factory=list)
    decisions: list[tuple[Piece, str, str]] = field(default_factory=list)
    steps: list[tuple[Piece, RouteTemplate, list[TemplateStep], int]] = field(default_factory=list)

    def add(self, other: "Intake") -> None:
        """Take over what one row brings."""
        for one in fields(self):
            getattr(self, one.name).extend(getattr(other, one.name))

    def write(self, act: Act, origin: Holder) -> None:
        """Write everything, the moves last."""
        holders = [place.holder for place in self.places] + [holder for _, holder, _ in self.moves]
        fresh = {id(holder): holder for holder in holders if holder.pk is None}
        Holder.objects.bulk_create(fresh.values(), batch_size=1000)
        for place in self.places:  # their keys stand before the first of them is named as a parent
            place.holder_id = place.holder.pk
        Place.objects.bulk_create(self.places, batch_size=1000)
        if self.changed_places:
            Place.objects.bulk_update(self.changed_places, PLACE_FIELDS, batch_size=100)
        Piece.objects.bulk_create(self.pieces, batch_size=1000)
        if self.changed_pieces:
            Piece.objects.bulk_update(self.changed_pieces, PIECE_FIELDS, batch_size=100)
        through = Piece.zones.through
        through._default_manager.bulk_create(
            [through(piece_id=piece.pk, zone_id=zone.pk) for piece, zone in self.zones], batch_size=1000
        )
        Belongs.objects.bulk_create(
            [Belongs(piece=p, place=at, count=n, evidence=why, act=act) for p, at, n, why in self.belongs],
            batch_size=1000,
        )
        Tagging.objects.bulk_create(
            [Tagging(tag=piece.tag or "", piece=piece, on_act=act) for piece in self.tags], batch_size=1000
        )
        Decision.objects.bulk_create(
            [Decision(piece=p, kind=kind, reason=why, by=act.person, act=act) for p, kind, why in self.decisions],
            batch_size=1000,
        )
        self._write_steps(act)
        move(
            act,
            [
                Move(from_piece=p, from_holder=origin, to_piece=p, to_holder=to, count=count)
                for p, to, count in self.moves
            ],
        )

    def _write_steps(self, act: Act) -> None:
        rows = []
        for piece, template, steps, done in self.steps:
            for step in steps:
                values = {name: getattr(step, name) for name in STEP_FIELDS}
                ended = act if step.number <= done else None
                rows.append(Step(piece=piece, template=template.name, done_act=ended, **values))
        Step.objects.bulk_create(rows, batch_size=1000)


def place_words(place: Place, zone: Zone) -> str:
    """Give the words by which a place is found."""
    side = Side(place.side).label
    return search_words(place.mark, side, place.name, place.station, place.wants, f"zone {zone.number}", zone.name)


def piece_words(piece: Piece, zones: list[Zone]) -> str:
    """Give the words by which a piece is found."""
    return search_words(
        piece.tag,
        piece.name,
        piece.part_no,
        Side(piece.side).label,
        piece.material,
        piece.finish,
        piece.as_found,
        piece.matched_set,
        piece.note,
        *(f"zone {zone.number} {zone.name}" for zone in zones),
    )


def seat(
    f: ListFile, record: Known, mark: str, side: str, zone: Zone, capacity: int | None, take: Intake, **values: object
) -> Place:
    """Find the place of this mark and side, changed where the list describes it otherwise, or make it."""
    one = record.places.get((mark, side))
    if one is None:
        holder = Holder(kind=HolderKind.PLACE, name=f"{mark} {Side(side).label}")
        one = f.new(
            Place, holder=holder, aircraft=f.machine, zone=zone, mark=mark, side=side, capacity=capacity, **values
        )
        f.fit(Holder, {"name": holder.name})
        one.words = place_words(one, zone)
        take.places.append(one)
        return one
    if capacity is not None and capacity < record.filled.get(one.pk, 0):
        f.differs(
            f"The room at {one}", capacity, f"taken by {record.filled[one.pk]}", "Take off what is too many first."
        )
        capacity = None
    if f.update(one, zone=zone, capacity=capacity, **values):
        one.words = place_words(one, zone)
        take.changed_places.append(one)
    return one


def mine(f: ListFile, piece: Piece) -> Piece:
    """Refuse a tag that hangs on a piece of another aircraft."""
    if piece.aircraft_id not in (None, f.machine.pk):
        raise Wrong(f"Tag {piece.tag} is in use on another aircraft. Tags are used once in the shop: take a new tag")
    return piece


def where_words(known: Known, piece: Piece) -> str:
    """Say where the record has a piece."""
    rows = known.at.get(piece.pk, [])
    return ", ".join(f"{row.count} at {row.holder.name}" for row in rows) or "nowhere"
