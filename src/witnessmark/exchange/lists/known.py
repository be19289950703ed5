"""What the record knows already, by the names that lists use."""

import re
from functools import cached_property

from django.db.models import Model, Q

from witnessmark.exchange import cells
from witnessmark.exchange.cells import Wrong
from witnessmark.records.actions.custody import single
from witnessmark.records.models import (
    Aircraft,
    Belongs,
    FastenerSize,
    Holder,
    HolderKind,
    Holding,
    Hole,
    Move,
    Person,
    Piece,
    PieceKind,
    Place,
    Vendor,
    Zone,
)

ENDS = {
    "not found": (HolderKind.NOT_FOUND, "not found"),
    "lost": (HolderKind.NOT_FOUND, "not found"),
    "scrap": (HolderKind.SCRAP, "scrap"),
    "not said yet": (HolderKind.NOT_SAID, "not said yet"),
    "scrapped": (HolderKind.SCRAP, "scrap"),
}
_STORE = re.compile(
    r"[0-9]|shel|rack|box|drawer|locker|cupboard|bench|bin|cabinet|room|store|hangar|floor|table|cage|pallet|trolley|crate"
)


class Known:
    """One aircraft's record, read once a file."""

    def __init__(self, aircraft: Aircraft) -> None:
        self.aircraft = aircraft

    @cached_property
    def zones(self) -> dict[str, Zone]:
        return {z.number: z for z in Zone.objects.filter(aircraft=self.aircraft)}

    @cached_property
    def places(self) -> dict[tuple[str, str], Place]:
        found = Place.objects.filter(aircraft=self.aircraft).select_related("holder", "zone")
        return {(place.mark, place.side): place for place in found}

    @cached_property
    def pieces(self) -> dict[str, Piece]:
        """Every tagged piece of the shop: tags are unique in it, not in one aircraft."""
        return {piece.tag: piece for piece in Piece.objects.exclude(tag=None) if piece.tag}

    @cached_property
    def belonging(self) -> dict[int, list[Belongs]]:
        """What belongs to each place, by the place's number."""
        found: dict[int, list[Belongs]] = {}
        for one in Belongs.objects.filter(place__aircraft=self.aircraft).select_related("piece"):
            found.setdefault(one.place_id, []).append(one)
        return found

    @cached_property
    def at(self) -> dict[int, list[Holding]]:
        """Where each piece is, by the piece's number."""
        found: dict[int, list[Holding]] = {}
        for one in Holding.objects.filter(count__gt=0).select_related("holder"):
            found.setdefault(one.piece_id, []).append(one)
        return found

    @cached_property
    def in_buckets(self) -> set[int]:
        """Bags that were mixed with others: buckets.csv and the people at the bench say where these lie."""
        into = Move.objects.filter(to_piece__kind=PieceKind.MIXED).exclude(from_piece__kind=PieceKind.MIXED)
        return set(into.values_list("from_piece_id", flat=True))

    @cached_property
    def filled(self) -> dict[int, int]:
        """How many each place holds."""
        found: dict[int, int] = {}
        for rows in self.at.values():
            for one in rows:
                found[one.holder_id] = found.get(one.holder_id, 0) + one.count
        return found

    @cached_property
    def sizes(self) -> dict[str, FastenerSize]:
        return {size.code: size for size in FastenerSize.objects.all()}

    @cached_property
    def vendors(self) -> dict[str, Vendor]:
        return {v.code.casefold(): v for v in Vendor.objects.select_related("holder")}

    @cached_property
    def people(self) -> dict[str, Person]:
        return {p.name.casefold(): p for p in Person.objects.all()}

    @cached_property
    def holders(self) -> dict[tuple[str, str], Holder]:
        found = Holder.objects.exclude(kind=HolderKind.PLACE)
        return {(holder.kind, holder.name.casefold()): holder for holder in found}

    @cached_property
    def origin(self) -> Holder:
        return single(HolderKind.ORIGIN)

    def zone(self, text: str) -> Zone:
        """Find one zone."""
        if text not in self.zones:
            raise Wrong(f"There is no zone '{text}'. Add it to zones.csv, or correct the number")
        return self.zones[text]

    def zones_of(self, text: str) -> list[Zone]:
        """Find the zones of a cell that may name several."""
        found = [self.zone(part) for part in cells.listed(text, "/")]
        if not found:
            raise Wrong("zone names none. Write a zone of zones.csv")
        return list(dict.fromkeys(found))

    def size(self, code: str) -> FastenerSize | None:
        """Find a fastener by its code."""
        if code and code not in self.sizes:
            raise Wrong(f"There is no fastener '{code}'. Add it to fasteners.csv, or correct the code")
        return self.sizes.get(code)

    def vendor(self, code: str) -> Vendor:
        """Find a vendor by code."""
        found = self.vendors.get(code.casefold())
        if found is None:
            raise Wrong(f"There is no vendor '{code}'. Add it to vendors.csv, or correct the code")
        return found

    def person(self, name: str) -> Person:
        """Find a person by name."""
        found = self.people.get(name.casefold())
        if found is None:
            raise Wrong(f"There is nobody called '{name}'. Add the name to people.csv, or correct it")
        return found

    def place(self, mark: str, side: str) -> Place:
        """Find a place by mark and side."""
        found = self.places.get((mark, side))
        if found is None:
            others = [known for known in "LRC" if (mark, known) in self.places]
            if others:
                raise Wrong(
                    f"There is no place {mark} {side}, only {', '.join(f'{mark} {o}' for o in others)}. Correct the side"
                )
            raise Wrong(f"There is no place '{mark} {side}'. Add it to places.csv or parts.csv, or correct the mark")
        return found

    def mark_and_side(self, text: str) -> Place:
        """Find a place written as `mark side`; without a side where there is only one."""
        mark, _, last = text.rpartition(" ")
        if mark and last.lower() in cells.SIDES:
            return self.place(mark.strip(), cells.one_side(last))
        found = [self.places[text, side] for side in "LRC" if (text, side) in self.places]
        if len(found) == 1:
            return found[0]
        if found:
            raise Wrong(f"'{text}' is on both sides. Write {text} L or {text} R")
        raise Wrong(f"There is no place '{text}'. Add it to places.csv or parts.csv, or correct the mark")

    def piece(self, tag: str) -> Piece:
        """Find a piece by tag."""
        found = self.pieces.get(tag)
        if found is None:
            raise Wrong(f"There is no tag '{tag}' in the record. Correct it, or add the piece first")
        return found

    def is_guess(self, where: str) -> bool:
        """Say whether a name that nobody used before is taken for a shelf without looking like one."""
        plain = where.casefold()
        known = any((kind.value, plain) in self.holders for kind in HolderKind)
        return not (known or plain in self.vendors or plain in self.people or plain in ENDS or _STORE.search(plain))

    def holder(self, where: str) -> Holder:
        """Find who or what is called this: a vendor, a person, scrap, not found, or else a shelf or box.

        A shelf or box that nobody named before is made, unsaved, and the same for every later row.
        """
        plain = where.casefold()
        if ";" in where or " / " in where:
            raise Wrong(f"where is '{where}': a piece is in one place. Write the one where it is now")
        if plain in self.vendors:
            return self.vendors[plain].holder
        kind, name, person = HolderKind.SHELF, where, None
        if plain in self.people:
            kind, person = HolderKind.PERSON, self.people[plain]
            name = person.name
        elif plain in ENDS:
            kind, name = ENDS[plain]
        elif (HolderKind.CONTAINER.value, plain) in self.holders:
            kind = HolderKind.CONTAINER
        elif (HolderKind.SHELF.value, plain) not in self.holders and re.fullmatch("[A-Z]{2,4}", where):
            raise Wrong(f"where is '{where}': no vendor has this code. Add it to vendors.csv, or write shelf {where}")
        if len(name) > 120:
            raise Wrong("where has more than 120 letters. Shorten it")
        return self.holders.setdefault((kind.value, name.casefold()), Holder(kind=kind, name=name, person=person))


def subject(known: Known, text: str) -> dict[str, Model]:
    """Read what a finding or photograph is about: a tag, `mark side`, `row:hole` or `zone 100`."""
    if text in known.pieces:
        return {"piece": known.pieces[text]}
    first, _, rest = text.partition(" ")
    if first.lower() == "zone" and rest:
        return {"zone": known.zone(rest.strip())}
    mark, colon, number = text.rpartition(":")
    if colon and number.strip().isdigit():
        at = Q(place__aircraft=known.aircraft, place__mark=mark.strip(), number=int(number.strip()[:9]))
        hole = Hole.objects.filter(at).select_related("place").first()
        if hole is None:
            raise Wrong(f"There is no hole '{text}'. Write the row's mark, a colon and the hole's number")
        return {"place": hole.place, "hole": hole}
    try:
        return {"place": known.mark_and_side(text)}
    except Wrong:
        raise Wrong(
            f"There is no tag, place or row '{text}' in the record. Write a tag, mark side, row:hole, or zone 100"
        ) from None
