"""The aircraft by zones: what is on it, what is off and where, what is missing, what is left over."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Sum

from witnessmark.records.lookups.where import Standing, standings
from witnessmark.records.models import (
    Aircraft,
    Belongs,
    Finding,
    Holder,
    HolderKind,
    Holding,
    PhotoUse,
    Piece,
    Place,
    Row,
    Zone,
)

SHOWN = 100
GONE = (HolderKind.SCRAP, HolderKind.NOT_FOUND)


@dataclass(frozen=True)
class ZoneCount:
    """How a zone stands, in counts of places and pieces."""

    zone: Zone
    places: int
    filled: int
    off: int
    missing: int
    left_over: int
    open_findings: int
    no_picture: int
    rows: int

    @property
    def state(self) -> str:
        """Say how far the zone is open."""
        if self.places == 0:
            return "nothing recorded"
        if self.off == 0 and self.missing == 0:
            return "closed"
        return "open" if self.filled == 0 else "part open"


@dataclass(frozen=True)
class AircraftSeen:
    """All zones, and the sum of them."""

    aircraft: Aircraft
    zones: tuple[ZoneCount, ...]

    def total(self, what: str) -> int:
        """Add one column up."""
        return sum(getattr(zone, what) for zone in self.zones)

    @property
    def built(self) -> str:
        """Maker, type and year, as far as they are known; empty where none is."""
        of = self.aircraft
        return ", ".join(filter(None, (f"{of.maker} {of.type}".strip(), str(of.year or ""))))

    @property
    def places(self) -> int:
        return self.total("places")

    @property
    def no_picture(self) -> int:
        return self.total("no_picture")

    @property
    def sentence(self) -> str:
        """Say how the aircraft stands, aloud."""
        if not self.zones:
            return f"Nothing is recorded of {self.aircraft.name} yet."
        off, missing = self.total("off"), self.total("missing")
        opened = [zone for zone in self.zones if zone.off or zone.missing]
        if not opened:
            return f"Every place on {self.aircraft.name} is filled."
        empty = f"{_count(off, 'place')} {'stands' if off == 1 else 'stand'} empty, {'its piece' if off == 1 else 'their pieces'} off"
        first = empty if off else "Nothing is off"
        return f"{first}; {missing:,} {'has' if missing == 1 else 'have'} nothing to go in." if missing else f"{first}."


def _count(number: int, what: str) -> str:
    return f"{number:,} {what}{'' if number == 1 else 's'}"


def _per(rows: Iterable[tuple[int, int]]) -> Counter[int]:
    return Counter({zone: count for zone, count in rows if zone is not None})


def aircraft_seen(aircraft: Aircraft) -> AircraftSeen:
    """Count every zone; the number of queries does not grow."""
    zones = list(Zone.objects.filter(aircraft=aircraft))
    plain = Place.objects.filter(aircraft=aircraft, row=None)
    pictured = PhotoUse.objects.filter(Q(place=OuterRef("pk")) | Q(piece__belongs__place=OuterRef("pk")))

    def count(places: object) -> Counter[int]:
        return _per(places.values_list("zone").annotate(n=Count("pk")))  # type: ignore[attr-defined]

    all_places = count(plain)
    filled = count(_filled(plain))
    off = count(_off(plain))
    unpictured = count(plain.filter(~Exists(pictured)))
    rows = _per(Row.objects.filter(place__aircraft=aircraft).values_list("place__zone").annotate(n=Count("place_id")))
    left = _per(_left_over(aircraft).values_list("zones").annotate(n=Count("pk")))
    opened = Finding.objects.filter(aircraft=aircraft, state="open")
    findings = Counter[int]()
    for where, which in (
        ("place__zone", opened.exclude(place=None)),
        ("piece__zones", opened.filter(place=None).exclude(piece=None)),
        ("zone", opened.filter(place=None, piece=None)),
    ):
        findings.update(_per(which.order_by().values_list(where).annotate(n=Count("pk"))))
    return AircraftSeen(
        aircraft,
        tuple(
            ZoneCount(
                zone=zone,
                places=all_places[zone.pk],
                filled=filled[zone.pk],
                off=off[zone.pk],
                missing=all_places[zone.pk] - filled[zone.pk] - off[zone.pk],
                left_over=left[zone.pk],
                open_findings=findings[zone.pk],
                no_picture=unpictured[zone.pk],
                rows=rows[zone.pk],
            )
            for zone in zones
        ),
    )


def _filled(places: QuerySet[Place]) -> QuerySet[Place]:
    """Places that hold something."""
    return places.filter(Exists(Holding.objects.filter(holder=OuterRef("pk"), count__gt=0)))


def _off(places: QuerySet[Place]) -> QuerySet[Place]:
    """Places that hold nothing, but whose piece is somewhere and neither scrap nor lost."""
    somewhere = Holding.objects.filter(piece=OuterRef("piece"), count__gt=0).exclude(holder__kind__in=GONE)
    held = Holding.objects.filter(holder=OuterRef("pk"), count__gt=0)
    return places.filter(~Exists(held), Exists(Belongs.objects.filter(Exists(somewhere), place=OuterRef("pk"))))


def _left_over(aircraft: Aircraft) -> QuerySet[Piece]:
    """Pieces that are somewhere, but of which nothing says where they go."""
    somewhere = Holding.objects.filter(piece=OuterRef("pk"), count__gt=0).exclude(
        holder__kind__in=[HolderKind.PLACE, HolderKind.SCRAP]
    )
    return Piece.objects.filter(Exists(somewhere), aircraft=aircraft, belongs=None)


@dataclass(frozen=True)
class PlaceSeen:
    """A place with what is in it, what belongs to it, and where that is now."""

    place: Place
    inside: tuple[tuple[Piece, int], ...]
    belongs: tuple[tuple[Piece, tuple[Standing, ...]], ...]

    @property
    def filled(self) -> bool:
        return bool(self.inside)

    @property
    def state(self) -> str:
        """Say in a word how the place stands."""
        count = sum(number for _, number in self.inside)
        if count >= self.place.capacity:
            return "filled"
        if self.inside:
            return f"{count} of {self.place.capacity} in"
        somewhere = any(at.holder.kind not in GONE for _, where in self.belongs for at in where)
        return "off" if somewhere else "missing"


@dataclass(frozen=True)
class ZoneSeen:
    """One zone: its places by state, and what is left over."""

    zone: Zone
    off: tuple[PlaceSeen, ...]
    missing: tuple[PlaceSeen, ...]
    filled: tuple[PlaceSeen, ...]
    left_over: tuple[tuple[Piece, tuple[Standing, ...]], ...]
    rows: tuple[Row, ...]
    places: int
    count_off: int
    count_filled: int
    page: int
    pages: int

    @property
    def count_missing(self) -> int:
        return self.places - self.count_off - self.count_filled


def places_seen(places: list[Place]) -> list[PlaceSeen]:
    """See these places, in a number of queries that does not grow with them."""
    inside: dict[int, list[tuple[Piece, int]]] = {}
    for held in Holding.objects.filter(holder__in=[p.pk for p in places], count__gt=0).select_related("piece"):
        inside.setdefault(held.holder_id, []).append((held.piece, held.count))
    belonging = list(Belongs.objects.filter(place__in=places).select_related("piece"))
    where = standings({b.piece for b in belonging})
    own: dict[int, list[tuple[Piece, tuple[Standing, ...]]]] = {}
    for b in belonging:
        own.setdefault(b.place_id, []).append((b.piece, tuple(where.get(b.piece_id, ()))))
    return [PlaceSeen(p, tuple(inside.get(p.pk, ())), tuple(own.get(p.pk, ()))) for p in places]


def zone_seen(zone: Zone, page: int = 1) -> ZoneSeen:
    """See one zone, a page of its places at a time."""
    places = Place.objects.filter(zone=zone, row=None).select_related("zone", "holder").order_by("mark", "side")
    count = places.count()
    pages = max(1, -(-count // SHOWN))
    page = min(max(1, page), pages)
    seen = places_seen(list(places[(page - 1) * SHOWN : page * SHOWN]))
    left = list(_left_over(zone.aircraft).filter(zones=zone).order_by("tag")[:SHOWN])
    where = standings(left)
    return ZoneSeen(
        zone=zone,
        off=tuple(p for p in seen if p.state == "off"),
        missing=tuple(p for p in seen if p.state == "missing"),
        filled=tuple(p for p in seen if p.filled),
        left_over=tuple((piece, tuple(where[piece.pk])) for piece in left),
        rows=tuple(Row.objects.filter(place__zone=zone).select_related("place").order_by("place__mark")[:SHOWN]),
        places=count,
        count_off=_off(places).count(),
        count_filled=_filled(places).count(),
        page=page,
        pages=pages,
    )


def shelves(limit: int = 200) -> list[str]:
    """Names of shelves and boxes that hold something, the fullest first: what to propose when something is laid down."""
    return list(
        Holder.objects.filter(kind__in=[HolderKind.SHELF, HolderKind.CONTAINER])
        .annotate(n=Sum("holdings__count"))
        .order_by("-n", "name")
        .values_list("name", flat=True)[:limit]
    )


def holder_called(name: str) -> Holder | None:
    """Find the shelf, box or person of this name, however its letters were typed."""
    kinds = [HolderKind.SHELF, HolderKind.CONTAINER, HolderKind.PERSON]
    return Holder.objects.filter(kind__in=kinds, name__iexact=name).order_by("pk").first()
