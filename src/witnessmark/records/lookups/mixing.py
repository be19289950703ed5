"""Which bags of a shipment could not be told apart, and whose the pieces are that came back mixed."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

from witnessmark.calc.bags.astray import Astray, astray
from witnessmark.calc.bags.confusion import Confusion, Pair, confusion
from witnessmark.calc.bags.features import (
    Coat,
    Feature,
    Group,
    MeasuredPiece,
    Reading,
    feature_of,
    usual_coat,
    usual_sigma,
)
from witnessmark.calc.bags.remedy import Remedy, remedy
from witnessmark.calc.bags.return_match import DOUBTFUL, SAID, STRANGER, PieceMatch, ReturnMatch, match_return
from witnessmark.calc.bags.shares import Shares
from witnessmark.records.lookups.pictures import IN_FRONT
from witnessmark.records.lookups.piece_readings import ReadSoFar, read_so_far
from witnessmark.records.lookups.returns import vendor_shares
from witnessmark.records.models import (
    Belongs,
    FastenerSize,
    Holding,
    Mix,
    PhotoUse,
    Piece,
    PieceKind,
    Place,
    Shipment,
    ToldApart,
    Vendor,
    WhoseWord,
)

# A bought shank runs a little under its nominal size; pieces of one kind differ by about this.
_UNDER_MM, _CATALOGUE_MM, _PIECE = 0.06, 0.05, {"mass_g": 0.3, "length_mm": 0.1}
_PIECE_MM = 0.02

# A vendor who keeps more than he hands back is beyond telling apart by chance.
MOST_SHARE = 0.4

Items = Mapping[str, Mapping[str, ReadSoFar]]


@dataclass(frozen=True)
class LookAlike:
    """Two bags that could be taken for each other, with a picture of each where there is one."""

    pair: Pair
    a: Piece
    b: Piece
    same_size: bool
    photo_a: PhotoUse | None
    photo_b: PhotoUse | None

    @property
    def sentence(self) -> str:
        """Say how likely they would be mixed up, and what that would mean."""
        a, b = self.a.tag or self.a.name, self.b.tag or self.b.name
        if self.pair.not_measured:
            return f"{a} and {b} share no measurement: once mixed, nothing tells them apart."
        if self.same_size:
            return f"{a} and {b} are of one size: mixed, the counts come right and nobody knows which came from where."
        often = "for certain" if self.pair.any_wrong > 0.995 else f"with a chance of {self.pair.any_wrong:.0%}"
        return f"{a} and {b}: mixed, some would end in the wrong bag {often}."


@dataclass(frozen=True)
class Apart:
    """What is known of a shipment's bags before it leaves: the confusion, the look-alikes, the remedy."""

    groups: tuple[Group, ...]
    seen: Confusion
    alike: tuple[LookAlike, ...]
    remedy: Remedy
    astray: Astray
    baskets: int
    coat: Coat
    read: int

    @property
    def bags(self) -> int:
        return len({group.bag for group in self.groups})


@dataclass(frozen=True)
class Passed:
    """A piece of which nobody said anything, and which is not as it was, for what was said of others."""

    piece: str
    before: str
    now: str


@dataclass(frozen=True)
class Sorting:
    """A bucket on the bench: what is measured, what is home already; told apart by `solve` only when that is asked for.

    `words` is what people say of its pieces before the readings; `unfit` are words for which their bag has no room left.
    """

    mix: Mix
    waits: bool
    items: Items
    bags: Mapping[str, Piece]
    places: Mapping[str, Place]
    told: tuple[ToldApart, ...]
    features: tuple[str, ...]
    shares: Shares
    words: Mapping[str, WhoseWord]
    unfit: tuple[WhoseWord, ...]
    groups: tuple[Group, ...]
    coat: Coat
    solve: Callable[[Mapping[str, str]], ReturnMatch] = field(repr=False, compare=False)

    @cached_property
    def match(self) -> ReturnMatch | None:
        """What readings and words tell; None when all is home."""
        said = {item: STRANGER if word.foreign else word.says for item, word in self.words.items()}
        return self.solve(said) if self.waits else None

    @cached_property
    def passed(self) -> tuple[Passed, ...]:
        """The pieces of which nobody said anything and which are not as they were before words were said of others."""
        return _passed(self.solve({}), self.match) if self.words and self.match else ()

    @property
    def newest_word(self) -> int:
        """The last word there is: what was drawn before it no longer holds."""
        return max((word.pk for word in (*self.words.values(), *self.unfit)), default=0)

    @property
    def to_measure(self) -> int:
        return self.match.not_measured if self.match else 0

    def answer(self) -> dict[str, Any]:
        """The match as it is frozen with the act that relies on it."""
        read = {item: {what: r.value for what, r in row.items()} for item, row in self.items.items()}
        told = self.match.to_dict() if self.match else {"working": {}}
        words = {item: word.says for item, word in self.words.items()}
        inputs = {"readings": read, "told": len(self.told), **({"said": words} if words else {})}
        return {"inputs": inputs, "result": told, "working": told.pop("working")}


def _catalogue(size: FastenerSize | None) -> dict[str, Feature]:
    if size is None:
        return {}
    shank = size.nominal_mm - (_UNDER_MM if size.pitch_mm else 0.0)
    known = {"diameter_mm": Feature(shank, usual_sigma("diameter_mm"), _CATALOGUE_MM, from_catalogue=True)}
    if size.pitch_mm:
        known["ten_pitches_mm"] = Feature(10 * size.pitch_mm, usual_sigma("ten_pitches_mm"), 0.03, from_catalogue=True)
    if size.head_deg:
        known["head_angle_deg"] = Feature(size.head_deg, usual_sigma("head_angle_deg"), 1.0, from_catalogue=True)
    return known


def _spread(what: str) -> float:
    return _PIECE.get(what, _PIECE_MM)


def _features(items: Sequence[Mapping[str, ReadSoFar]], size: FastenerSize | None) -> dict[str, Feature]:
    """What was read of these pieces, over what the catalogue says of their size."""
    known = _catalogue(size)
    for what in sorted({what for item in items for what in item}):
        rows = [item[what] for item in items if what in item]
        sigma = max(row.uncertainty for row in rows)
        known[what] = feature_of([row.value for row in rows], sigma, _spread(what)).feature
    return known


def _groups(piece: Piece, count: int, seats: Sequence[Belongs], items: Items) -> list[Group]:
    """One bag as groups: single places whose bolt was measured, then what is left of each size."""
    own = {row.place_id: row for row in seats}
    sized: dict[int | None, tuple[FastenerSize | None, list[Belongs]]] = {}
    for row in seats:
        size = row.place.wants_size or piece.size
        sized.setdefault(size.pk if size else None, (size, []))[1].append(row)
    by_place, loose = dict[int, Mapping[str, ReadSoFar]](), list[Mapping[str, ReadSoFar]]()
    for item in items.values():
        place = next((r.place_id for r in item.values() if r.place_id), None)
        if place is not None and place in own and own[place].count == 1:
            by_place[place] = item
        else:
            loose.append(item)
    each_g = piece.mass_g / count if piece.mass_g and count else None
    bag = piece.tag or piece.key
    made: list[Group] = []

    def add(key: str, number: int, features: dict[str, Feature], size: FastenerSize | None, place: str = "") -> None:
        looks = size.kind.casefold() if size else ""
        mass = each_g * number if each_g else None
        made.append(Group(key, bag, number, features, place=place, looks=looks, mass_g=mass))

    left = count
    for place_pk, item in by_place.items():
        if left > 0:
            row = own[place_pk]
            size = row.place.wants_size or piece.size
            add(f"{bag} {row.place}", 1, _features([item], size), size, str(row.place))
            left -= 1
    for size, rows in sized.values():
        number = min(left, sum(r.count for r in rows if r.place_id not in by_place))
        if number > 0:
            near = [item for item in loose if len(sized) == 1 or _nearest(item, [s for s, _ in sized.values()]) is size]
            name = f"{bag} {size.code}" if size and len(sized) > 1 else f"{bag} rest" if by_place else bag
            add(name, number, _features(near, size), size)
            left -= number
    if left > 0:
        name = bag if not made else f"{bag} without a place"
        add(name, left, _features(loose if not made else [], piece.size), piece.size)
    return made


def _nearest(item: Mapping[str, ReadSoFar], sizes: Sequence[FastenerSize | None]) -> FastenerSize | None:
    """The size of a mixed bag that a reading of one of its pieces fits best."""

    def off(size: FastenerSize | None) -> float:
        known = _catalogue(size)
        both = [(row, known[what]) for what, row in item.items() if what in known]
        return sum((r.value - f.mean) ** 2 / (f.variance + r.uncertainty**2) for r, f in both) if both else 1e9

    return min(sizes, key=off)


@dataclass(frozen=True)
class Known:
    """What is on record of many bags at once: readings, the places they belong to, a picture of each."""

    read: Mapping[int, Items]
    seats: Mapping[int, Sequence[Belongs]]
    photos: Mapping[int, PhotoUse]


def known_of(pieces: Iterable[int]) -> Known:
    """Gather what is on record of these bags, in three queries."""
    ids = list(pieces)
    seats: dict[int, list[Belongs]] = {}
    for row in Belongs.objects.filter(piece_id__in=ids).select_related("place__wants_size").order_by("place__mark"):
        seats.setdefault(row.piece_id, []).append(row)
    return Known(read_so_far(ids), seats, _photos(ids))


def groups_of(bags: Sequence[tuple[Piece, int]], known: Known) -> tuple[list[Group], int]:
    """What is known of these bags, as groups, and how many figures were read on them."""
    read = {piece.pk: known.read.get(piece.pk, {}) for piece, _ in bags}
    groups = [
        group
        for piece, count in bags
        if count > 0
        for group in _groups(piece, count, known.seats.get(piece.pk, ()), read[piece.pk])
    ]
    return groups, sum(len(item) for items in read.values() for item in items.values())


def apart(
    pieces: Sequence[tuple[Piece, int]], vendor: Vendor, process: str, known: Known | None = None
) -> Apart | None:
    """Which of these bags could not be told apart if they came back mixed; None where fewer than two may mix."""
    bags = [(piece, count) for piece, count in pieces if piece.kind == PieceKind.BAG and count > 0]
    if len(bags) < 2:
        return None
    known = known or known_of(piece.pk for piece, _ in bags)
    groups, read = groups_of(bags, known)
    coat = usual_coat(process)
    seen = confusion(groups, coat)
    by_tag = {piece.tag or piece.key: piece for piece, _ in bags}
    photos = known.photos
    alike: dict[tuple[str, str], LookAlike] = {}
    for pair in seen.pairs:
        a, b = by_tag[pair.bag_a], by_tag[pair.bag_b]
        same = a.size_id is not None and a.size_id == b.size_id
        alike.setdefault((pair.bag_a, pair.bag_b), LookAlike(pair, a, b, same, photos.get(a.pk), photos.get(b.pk)))
    plan = remedy(groups, seen, max(1, vendor.baskets), coat)
    return Apart(
        tuple(groups), seen, tuple(alike.values()), plan, astray(groups, seen, plan), vendor.baskets, coat, read
    )


def _photos(pieces: Iterable[int]) -> dict[int, PhotoUse]:
    found: dict[int, PhotoUse] = {}
    for use in PhotoUse.objects.filter(IN_FRONT, piece_id__in=list(pieces)).select_related("photo").order_by("id"):
        if use.piece_id is not None:
            found.setdefault(use.piece_id, use)
    return found


def shipment_apart(shipment: Shipment) -> Apart | None:
    """The confusion among the bags of a shipment."""
    lines = shipment.lines.select_related("piece__size").order_by("id")
    return apart([(line.piece, line.count_out) for line in lines], shipment.vendor, shipment.process)


@dataclass(frozen=True)
class AtVendor:
    """What of a shipment's bags is still at the vendor: bag by bag, and in one basket with others."""

    single: tuple[tuple[Piece, int], ...]
    mixed: int

    @property
    def may_mix(self) -> bool:
        """Whether two bags, or one bag and the basket, could lie together there."""
        return len(self.single) + bool(self.mixed) > 1


def bucket_at_vendor(shipment: Shipment) -> AtVendor:
    """How the bags of a shipment stand at its vendor's."""
    held = Holding.objects.filter(holder=shipment.vendor.holder, count__gt=0).select_related("piece")
    bags = held.filter(piece__in=shipment.lines.values("piece"), piece__kind=PieceKind.BAG).order_by("piece__tag")
    mix = held.filter(piece__mix__shipment=shipment).first()
    return AtVendor(tuple((row.piece, row.count) for row in bags), mix.count if mix else 0)


def measured(items: Items) -> list[MeasuredPiece]:
    """Readings of a bucket as pieces to be told apart, in the order of their numbers."""
    return [
        MeasuredPiece(item, {what: Reading(row.value, row.uncertainty, row.times) for what, row in row_of.items()})
        for item, row_of in sorted(items.items(), key=lambda each: (len(each[0]), each[0]))
    ]


def words_of(mix: Mix) -> list[WhoseWord]:
    """All that was ever said of the pieces of this bucket, in the order in which it was said."""
    return list(mix.words.select_related("bag", "read_bag", "act__person").order_by("id"))


def standing(words: Iterable[WhoseWord]) -> dict[str, WhoseWord]:
    """What is said of each piece now: the last word on it, where that was not taken back."""
    newest = {word.item: word for word in words}
    return {item: word for item, word in newest.items() if word.stands}


def sorting(shipment: Shipment, more: Sequence[MeasuredPiece] = (), but: str = "") -> Sorting | None:
    """Whose the pieces in the bucket are, by what people said and by all that was read.

    `more` adds readings that are not on record; what was said of the piece `but` is left aside.
    """
    mix = Mix.objects.filter(shipment=shipment).select_related("piece").first()
    if mix is None:
        return None
    lines = list(shipment.lines.select_related("piece__size").order_by("id"))
    bags = {line.piece.tag or line.piece.key: line.piece for line in lines if line.piece.kind == PieceKind.BAG}
    told = tuple(mix.told.select_related("piece", "place").order_by("id"))
    mixing = [(line.piece, line.count_out) for line in lines if line.piece.kind == PieceKind.BAG]
    groups, _ = groups_of(mixing, known_of(piece.pk for piece, _ in mixing))
    groups = _without(groups, told)
    home = {each.item for each in told}
    items = {item: row for item, row in read_so_far([mix.piece_id]).get(mix.piece_id, {}).items() if item not in home}
    pieces = [*measured(items), *(p for p in more if p.key not in items)]
    back = max(len(pieces), (mix.count_back or 0) - len(told))
    coat = (
        replace(usual_coat(shipment.process), thickness_um=mix.coat_um) if mix.coat_um else usual_coat(shipment.process)
    )
    waits = bool(groups) and (back > 0 or not told)
    shares = vendor_shares(shipment.vendor, shipment)
    said, unfit = _that_fit(
        [word for item, word in standing(words_of(mix)).items() if item in items and item != but], groups
    )

    def solved(words: Mapping[str, str]) -> ReturnMatch:
        return match_return(
            groups,
            pieces,
            coat,
            back,
            None if told else mix.mass_back_g,
            lost=min(shares.lost.share, MOST_SHARE),
            foreign=min(shares.foreign.share, MOST_SHARE),
            shares_from="his earlier returns" if shares.lost.of else "usual",
            said=words,
        )

    places = {
        str(row.place): row.place
        for row in Belongs.objects.filter(piece__in=bags.values()).select_related("place").order_by("id")
    }
    names = sorted({name for g in groups for name in g.features} | {what for row in items.values() for what in row})
    return Sorting(
        mix, waits, items, bags, places, told, tuple(names), shares, said, unfit, tuple(groups), coat, solved
    )


def _that_fit(
    words: Iterable[WhoseWord], groups: Sequence[Group]
) -> tuple[dict[str, WhoseWord], tuple[WhoseWord, ...]]:
    """The words for which their bag has room, the earliest first, and those for which it has none left."""
    room: dict[str, int] = {}
    for group in groups:
        room[group.bag] = room.get(group.bag, 0) + group.count
    fit, unfit = dict[str, WhoseWord](), list[WhoseWord]()
    for word in sorted(words, key=lambda each: each.pk):
        if word.foreign or room.get(word.says, 0) > 0:
            fit[word.item] = word
            room[word.says] = room.get(word.says, 0) - 1
        else:
            unfit.append(word)
    return fit, tuple(unfit)


def _passed(before: ReturnMatch, now: ReturnMatch) -> tuple[Passed, ...]:
    def where(piece: PieceMatch) -> str:
        doubt = ", in doubt" if piece.state == DOUBTFUL else ""
        place = f", {piece.place}" if piece.place else ""
        return f"{piece.bag or 'not ours'}{place}{doubt}"

    was = {piece.piece: where(piece) for piece in before.pieces}
    return tuple(
        Passed(piece.piece, was[piece.piece], where(piece))
        for piece in now.pieces
        if piece.state != SAID and where(piece) != was[piece.piece]
    )


def _without(groups: Sequence[Group], told: Sequence[ToldApart]) -> list[Group]:
    """The groups less what went home already: its own place first, then the bag's largest group."""
    left = {group.key: group.count for group in groups}
    for each in told:
        if each.foreign:
            continue
        bag = each.piece.tag or each.piece.key
        own = [g for g in groups if g.bag == bag and left[g.key] > 0]
        exact = [g for g in own if each.place_id and g.place == str(each.place)]
        for group in (exact or sorted(own, key=lambda g: -left[g.key]))[:1]:
            left[group.key] -= 1
    return [replace(g, count=left[g.key], mass_g=None) for g in groups if left[g.key] > 0] if told else list(groups)
