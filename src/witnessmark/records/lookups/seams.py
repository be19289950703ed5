"""Rows of holes: what stands in each hole, the grip, the rivet it wants and how near the edge it sits."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, cast

from django.db.models import Count, Max, QuerySet

from witnessmark.calc.fasteners.hole_register import times_oversized, worst_edge
from witnessmark.calc.fasteners.holes import EdgeCheck, edge_distance
from witnessmark.calc.fasteners.length import Grip, Known, RivetLength, StackLayer, grip, rivet_length
from witnessmark.records.models import (
    Aircraft,
    FastenerSize,
    Finding,
    HoleFilled,
    HoleReading,
    HoleState,
    Layer,
    LookedAt,
    Place,
    Row,
)

DONE = (HoleState.RIVETED, HoleState.OVERSIZE)
TO_FILL = (HoleState.EMPTY, HoleState.TEMPORARY, HoleState.OPEN)
UNSAID = "unsaid"  # no word about this hole in the record: no claim is made of it


@dataclass(frozen=True)
class RowSeen:
    """One row as the record knows it; `length` is None where nothing can be claimed, and `why_no_length` says why."""

    place: Place
    row: Row
    size: FastenerSize | None
    layers: tuple[Layer, ...]
    counts: Mapping[str, int]
    grip: Grip | None
    length: RivetLength | None
    why_no_length: str
    edge: EdgeCheck | None

    @property
    def mark(self) -> str:
        return self.place.mark

    @property
    def name(self) -> str:
        """The row's name as it is called out: `HB-12 left`."""
        return self.mark if self.place.side == "C" else f"{self.mark} {self.place.get_side_display()}"

    @property
    def looked_at(self) -> bool:
        return self.row.looked_at == LookedAt.YES

    @property
    def holes(self) -> int:
        return self.place.capacity

    @property
    def to_fill(self) -> int:
        return sum(self.counts[state] for state in TO_FILL)

    @property
    def to_order(self) -> int:
        """Holes whose rivet is the row's own: an open hole waits for a decision, so no size can be ordered for it."""
        return self.counts[HoleState.EMPTY] + self.counts[HoleState.TEMPORARY]

    @property
    def open(self) -> int:
        """Holes that wait because the next rivet is undecided."""
        return self.counts[HoleState.OPEN]

    @property
    def done(self) -> int:
        return sum(self.counts[state] for state in DONE)

    @property
    def unsaid(self) -> int:
        """Holes of which the record holds no word: neither filled nor to be filled."""
        return self.counts[UNSAID]


@dataclass(frozen=True)
class HoleSeen:
    """One hole: the newest word about it and the newest edge distance read there."""

    number: int
    state: str
    reason: str
    edge_mm: float | None
    edge_typed: str
    edge_layer: str
    edge: EdgeCheck | None
    edge_next: EdgeCheck | None
    readings: tuple[HoleReading, ...] = field(default=())
    times_oversized: int = 0

    @property
    def diameters_mm(self) -> tuple[float, ...]:
        """Every way the hole was measured: an oval one has a narrow and a wide way."""
        return _diameters_mm(self.readings)


@dataclass(frozen=True)
class SeamDrawn:
    """One row with its holes in order and the findings on it."""

    seen: RowSeen
    holes: tuple[HoleSeen, ...]
    findings: tuple[Finding, ...]
    next_size: FastenerSize | None

    @property
    def next_hole(self) -> int | None:
        """The hole to go on at: the first that is empty or holds a temporary fastener."""
        for hole in self.holes:
            if hole.state in (HoleState.EMPTY, HoleState.TEMPORARY):
                return hole.number
        return None


def is_inch(size: FastenerSize) -> bool:
    """Tell an inch size from a metric one by how its diameter was typed and what family it is of."""
    typed = size.nominal_typed
    return "/" in typed or "in" in typed.lower() or "inch" in size.family.lower()


def is_rivet(size: FastenerSize) -> bool:
    """Only solid rivets have the length rule; bolts and screws do not."""
    return "rivet" in size.kind.lower()


def is_flush(size: FastenerSize) -> bool:
    """A flush head sits in the sheet: its length is over all and its edge distance larger."""
    return "flush" in size.kind.lower() or "csk" in size.kind.lower()


def missing_layer(layers: Sequence[Layer]) -> str:
    """Name the layer that a stack lacks; empty where its numbers run on and two sheets lie in it."""
    if not layers:
        return "No stack is written down for this row: measure the sheets."
    have = [layer.number for layer in layers]
    gaps = [str(number) for number in range(1, max(have)) if number not in have]
    if gaps:
        return f"Layer {', '.join(gaps)} of the stack is missing: measure it before a length is chosen."
    if len(have) == 1:
        return f"The stack holds {layers[0].name} alone: the layer under it is missing. Measure it before a length is chosen."
    return ""


def see_row(row: Row, counts: Mapping[str, int]) -> RowSeen:
    """Work out the grip, the length and the edge distance of one row; its layers and size come with it."""
    size = row.place.wants_size
    layers = tuple(row.layers.all())
    stack = [StackLayer(layer.name, layer.thickness_mm, cast("Known", layer.known)) for layer in layers]
    the_grip = grip(stack) if stack else None
    length, why = None, ""
    if row.looked_at != LookedAt.YES:
        why = f"{row.get_looked_at_display().capitalize()}: no claim."
    elif size is None:
        why = "No size is written down for this row."
    elif not is_rivet(size):
        why = f"{size.code} is no solid rivet: the length rule does not hold for it."
    elif the_grip is None or missing_layer(layers):
        why = missing_layer(layers)
    else:
        length = rivet_length(
            the_grip.grip_mm,
            size.nominal_mm,
            head="flush" if is_flush(size) else "protruding",
            system="inch" if is_inch(size) else "metric",
            thickest_mm=the_grip.thickest_mm,
        )
    edge = edge_distance(row.edge_mm, size.nominal_mm, is_flush(size)) if row.edge_mm and size is not None else None
    said = {state: counts.get(state, 0) for state in HoleState.values}
    return RowSeen(
        place=row.place,
        row=row,
        size=size,
        layers=layers,
        counts={**said, UNSAID: max(0, row.place.capacity - sum(said.values()))},
        grip=the_grip,
        length=length,
        why_no_length=why,
        edge=edge,
    )


def _rows(aircraft: Aircraft) -> QuerySet[Row]:
    return (
        Row.objects.filter(place__aircraft=aircraft)
        .select_related("place__zone", "place__wants_size__vendor")
        .prefetch_related("layers")
        .order_by("place__zone__number", "place__mark", "place__side")
    )


def newest_fillings(aircraft: Aircraft) -> QuerySet[HoleFilled]:
    """The newest word about each hole of this aircraft."""
    newest = HoleFilled.objects.filter(hole__place__aircraft=aircraft).values("hole").annotate(last=Max("id"))
    return HoleFilled.objects.filter(pk__in=newest.values("last"))


def rows_seen(aircraft: Aircraft) -> list[RowSeen]:
    """Every row of the aircraft with its counts by state, in three queries however many rows there are."""
    counts: dict[int, dict[str, int]] = {}
    for place, state, number in (
        newest_fillings(aircraft).values_list("hole__place_id", "state").annotate(n=Count("id")).order_by()
    ):
        counts.setdefault(place, {})[state] = number
    return [see_row(row, counts.get(row.place_id, {})) for row in _rows(aircraft)]


def seam_drawn(aircraft: Aircraft, mark: str, side: Literal["L", "R", "C"] | str) -> SeamDrawn | None:
    """One row with every hole, or None where the aircraft has no such row."""
    row = _rows(aircraft).filter(place__mark=mark, place__side=side).first()
    if row is None:
        return None
    filled = {f.hole_id: f for f in newest_fillings(aircraft).filter(hole__place_id=row.place_id)}
    history = _histories(row)
    readings: dict[int, list[HoleReading]] = {}
    for reading in HoleReading.objects.filter(hole__place_id=row.place_id).order_by("id"):
        readings.setdefault(reading.hole_id, []).append(reading)
    size = row.place.wants_size
    larger = _next_size(size) if size is not None else None
    holes, counts = [], dict.fromkeys(HoleState.values, 0)
    for hole in row.place.holes.all():
        newest = filled.get(hole.pk)
        state = newest.state if newest else UNSAID
        if newest:
            counts[newest.state] += 1
        read = readings.get(hole.pk, [])
        edges = [r for r in read if r.what == "edge" and r.value_mm is not None]
        edge_mm = edges[-1].value_mm if edges else None
        worst_mm = worst_edge(edge_mm, _diameters_mm(read)) if edge_mm else None
        holes.append(
            HoleSeen(
                number=hole.number,
                state=state,
                reason=newest.reason if newest else "",
                edge_mm=edge_mm,
                edge_typed=edges[-1].typed if edges else "",
                edge_layer=edges[-1].layer_name if edges else "",
                edge=edge_distance(worst_mm, size.nominal_mm, is_flush(size)) if worst_mm and size else None,
                edge_next=edge_distance(worst_mm, larger.nominal_mm, is_flush(larger)) if worst_mm and larger else None,
                readings=tuple(read),
                times_oversized=times_oversized(history.get(hole.pk, [])),
            )
        )
    findings = tuple(
        Finding.objects.filter(place_id=row.place_id).select_related("hole").exclude(state="closed").order_by("number")
    )
    return SeamDrawn(see_row(row, counts), tuple(holes), findings, larger)


def _diameters_mm(read: Sequence[HoleReading]) -> tuple[float, ...]:
    ways = ("hole", "hole_mm", "hole_wide_mm")
    return tuple(r.value_mm for r in read if r.what in ways and r.value_mm is not None)


def _histories(row: Row) -> dict[int, list[str]]:
    """What stood in each hole of a row, oldest first; a word taken back, and the word that took it back, are left out."""
    words = list(
        HoleFilled.objects.filter(hole__place_id=row.place_id)
        .order_by("id")
        .values_list("hole_id", "state", "act_id", "act__undoes_id")
    )
    undone = {undoes for *_, undoes in words if undoes is not None}
    found: dict[int, list[str]] = {}
    for hole, state, act, undoes in words:
        if undoes is None and act not in undone:
            found.setdefault(hole, []).append(state)
    return found


def _next_size(size: FastenerSize) -> FastenerSize | None:
    """The next larger size of the same kind and family: what an enlarged hole would take."""
    alike = FastenerSize.objects.filter(family=size.family, kind=size.kind, nominal_mm__gt=size.nominal_mm)
    return alike.order_by("nominal_mm").first()
