"""The don't-know tray: untagged finds, what is missing elsewhere, and which find nobody has held against a purchase."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from django.db.models import Exists, F, OuterRef, QuerySet, Sum

from witnessmark.calc.tray import Could, Find, Missing, could_be, figures_in
from witnessmark.records.models import (
    Belongs,
    HolderKind,
    Holding,
    Hunt,
    PhotoUse,
    Piece,
    Place,
    ShipmentLine,
    TrayFind,
    TrayLooked,
)
from witnessmark.records.words import search_words

TRAY = "don't-know tray"
MOST_MISSING = 400
SHOWN = 5
# Words that say nothing of which thing it is.
_EMPTY = frozenset(
    [
        "the",
        "and",
        "with",
        "for",
        "left",
        "right",
        "from",
        "any",
        "new",
        "old",
        "missing",
        "same",
        "type",
        "yard",
        "own",
    ]
)


def words_of(*texts: str) -> tuple[str, ...]:
    """The words that tell one thing from another."""
    plain = search_words(*texts).replace(",", " ").replace("'", " ")
    return tuple(word for word in plain.split() if len(word) > 2 and word.isalpha() and word not in _EMPTY)


def in_tray() -> QuerySet[TrayFind]:
    """Finds that lie in the tray still."""
    there = Holding.objects.filter(
        piece=OuterRef("piece_id"), count__gt=0, holder__name=TRAY, holder__kind=HolderKind.SHELF
    )
    return TrayFind.objects.filter(Exists(there)).select_related("piece__aircraft", "size", "act__person")


def as_find(find: TrayFind) -> Find:
    """What the record knows of a find, as the reckoning takes it."""
    figures = (find.length_mm, find.width_mm, find.thickness_mm, find.diameter_mm)
    return Find(
        words=words_of(find.piece.name),
        material=find.piece.material,
        magnet=find.magnet,
        side=find.piece.side,
        size_code=find.size.code if find.size else "",
        figures_mm=tuple(figure for figure in figures if figure is not None),
    )


def hunted(hunt: Hunt) -> Missing:
    """A hunt as something missing."""
    size = hunt.place.wants_size if hunt.place is not None else hunt.piece.size if hunt.piece is not None else None
    return Missing(
        key=f"hunt:{hunt.pk}",
        name=f"{hunt.what} ({hunt.number})",
        words=words_of(hunt.what, hunt.also_do),
        side=hunt.place.side if hunt.place is not None else "C",
        size_code=size.code if size else "",
        figures_mm=figures_in(f"{hunt.measurements} {hunt.also_do}"),
    )


def missing_things() -> list[Missing]:
    """All that the record misses: hunts, what cannot be found, empty places, what came back short."""
    found = [
        hunted(hunt) for hunt in Hunt.objects.filter(state="open").select_related("place__wants_size", "piece__size")
    ]
    lost = Holding.objects.filter(holder__kind=HolderKind.NOT_FOUND, count__gt=0).select_related("piece__size")
    found += [_piece("piece", held.piece, f", {held.count} cannot be found") for held in lost[:MOST_MISSING]]
    short = ShipmentLine.objects.filter(count_back__lt=F("count_out")).select_related("piece__size", "shipment")
    found += [
        _piece(
            "short", line.piece, f", {line.count_out - (line.count_back or 0)} short of shipment {line.shipment.number}"
        )
        for line in short[:MOST_MISSING]
    ]
    hunts = Hunt.objects.filter(place=OuterRef("pk"), state="open")
    belongs = Belongs.objects.filter(place=OuterRef("pk"))
    held_there = Holding.objects.filter(holder=OuterRef("pk"), count__gt=0)
    empty = Place.objects.filter(~Exists(held_there), ~Exists(belongs), ~Exists(hunts), row=None)
    found += [
        Missing(
            key=f"place:{place.pk}",
            name=f"{place.name or place.mark}, nothing to go in",
            words=words_of(place.name, place.wants),
            side=place.side,
            size_code=place.wants_size.code if place.wants_size else "",
            figures_mm=figures_in(place.wants),
        )
        for place in empty.select_related("wants_size")[:MOST_MISSING]
    ]
    return found


def _piece(kind: str, piece: Piece, more: str) -> Missing:
    return Missing(
        key=f"{kind}:{piece.pk}",
        name=f"{piece}{more}",
        words=words_of(piece.name),
        material=piece.material,
        side=piece.side,
        size_code=piece.size.code if piece.size else "",
        figures_mm=figures_in(f"{piece.name} {piece.note} {piece.as_found}"),
    )


def missing_named(keys: Iterable[str], known: Iterable[Missing]) -> dict[str, str]:
    """Say in words what finds were held against, missing still or not; four questions however many there are."""
    named = {thing.key: thing.name for thing in known}
    left: dict[str, set[int]] = {}
    for key in keys:
        kind, _, number = key.partition(":")
        if key in named:
            continue
        if kind == "size":
            named[key] = f"a fastener of size {number}"
        elif number.isascii() and number.isdigit() and len(number) < 19:
            left.setdefault("piece" if kind == "short" else kind, set()).add(int(number))
    for hunt in Hunt.objects.filter(pk__in=left.get("hunt", ())):
        named[f"hunt:{hunt.pk}"] = f"{hunt.what} ({hunt.number})"
    for piece in Piece.objects.filter(pk__in=left.get("piece", ())):
        named.setdefault(f"piece:{piece.pk}", str(piece))
        named.setdefault(f"short:{piece.pk}", f"{piece}, which had come back short")
    for place in Place.objects.filter(pk__in=left.get("place", ())):
        named[f"place:{place.pk}"] = f"the place {place.name or place.mark}"
    return named


@dataclass(frozen=True)
class Looked:
    """What somebody said of a find, and of what, in words."""

    word: TrayLooked
    name: str


@dataclass(frozen=True)
class FindSeen:
    """A find, its pictures, what it could be, and what somebody said it is not."""

    find: TrayFind
    photos: tuple[PhotoUse, ...]
    count: int
    candidates: tuple[Could, ...]
    looked: tuple[Looked, ...]

    @property
    def piece(self) -> Piece:
        return self.find.piece

    @property
    def none_of_these(self) -> float:
        """The chance that is left for something the record does not miss."""
        return max(0.0, 1 - sum(each.chance for each in self.candidates))

    @property
    def fastener(self) -> str:
        """The query that asks what fastener it is, where both figures were measured that a fastener is known by."""
        figures = {"shank_mm": self.find.diameter_mm, "head_mm": self.find.width_mm}
        return urlencode({what: f"{mm:g}" for what, mm in figures.items()}) if all(figures.values()) else ""

    @property
    def figures(self) -> str:
        named = (("long", self.find.length_mm), ("wide", self.find.width_mm), ("thick", self.find.thickness_mm), ("across", self.find.diameter_mm))  # fmt: skip
        return ", ".join(f"{mm:g} mm {what}" for what, mm in named if mm is not None)


def tray_seen(page_of: int = 100) -> list[FindSeen]:
    """Every find with what it could be, the newest first, in a number of queries that does not grow."""
    finds = list(in_tray().order_by("-pk")[:page_of])
    ids = [find.pk for find in finds]
    photos: dict[int, list[PhotoUse]] = {}
    for use in PhotoUse.objects.filter(piece__in=ids).select_related("photo").order_by("id"):
        photos.setdefault(use.piece_id or 0, []).append(use)
    counts = dict(
        Holding.objects.filter(piece__in=ids, count__gt=0).values_list("piece").annotate(n=Sum("count")).order_by()
    )
    looked: dict[int, list[TrayLooked]] = {}
    for word in TrayLooked.objects.filter(find__in=ids).select_related("act__person").order_by("id"):
        looked.setdefault(word.find_id, []).append(word)
    things = missing_things()
    named = missing_named({word.missing for said in looked.values() for word in said}, things)
    seen = []
    for find in finds:
        said = looked.get(find.pk, [])
        excluded = {word.missing for word in said if not word.is_it}
        could = could_be(as_find(find), [thing for thing in things if thing.key not in excluded])
        told = tuple(
            Looked(word, named.get(word.missing, "something that is not in the record any more")) for word in said
        )
        seen.append(FindSeen(find, tuple(photos.get(find.pk, ())), counts.get(find.pk, 0), could, told))
    return seen


def _unlooked(finds: Iterable[TrayFind], key: str, looked_at: QuerySet[TrayLooked]) -> list[TrayFind]:
    known = set(looked_at.filter(missing=key).values_list("find", flat=True))
    return [find for find in finds if find.pk not in known]


def holds_purchase(hunt: Hunt) -> list[TrayFind]:
    """Finds that could be what is hunted and that came into the tray after it was last looked through for it."""
    thing = hunted(hunt)
    finds = in_tray()
    if hunt.stores_act is not None:
        finds = finds.filter(act__recorded_at__gt=hunt.stores_act.recorded_at)
    plausible = [find for find in finds.order_by("pk") if could_be(as_find(find), [thing])[0].plausible]
    return _unlooked(plausible, thing.key, TrayLooked.objects.all())


def holds_sizes(codes: Sequence[str]) -> list[TrayFind]:
    """Finds of one of these fastener sizes that nobody has held against an order of that size."""
    finds = in_tray().filter(size__code__in=codes).order_by("pk")
    known = set(TrayLooked.objects.filter(missing__startswith="size:").values_list("find", "missing"))
    return [find for find in finds if find.size is not None and (find.pk, f"size:{find.size.code}") not in known]
