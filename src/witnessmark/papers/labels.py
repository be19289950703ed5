"""Bag labels: one a bag of like hardware, with what was counted, its mass and a code that opens it."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Q, Sum

from witnessmark.papers.typesetting import Stamp, address_of, code_svg, stamp_for, typeset
from witnessmark.records.models import Aircraft, HolderKind, Holding, Piece, PieceKind

FITTED = (HolderKind.PLACE, HolderKind.SCRAP, HolderKind.NOT_FOUND)


@dataclass(frozen=True)
class Label:
    """What one label says; `mass_g` is the whole bag as it was weighed."""

    tag: str
    count: int
    what: str
    zones: str
    mass_g: float | None
    address: str


@dataclass(frozen=True)
class Labels:
    """The labels of one print."""

    stamp: Stamp
    labels: tuple[Label, ...]


def gather(aircraft: Aircraft | None, zone: str = "", tags: Sequence[str] = (), base: str | None = None) -> Labels:
    """Collect the labels of the bags of this aircraft, or of one zone (number or name), or of these tags alone."""
    asked = Piece.objects.filter(aircraft=aircraft, kind__in=(PieceKind.BAG, PieceKind.MIXED)).exclude(tag=None)
    if zone:
        asked = asked.filter(Q(zones__number=zone) | Q(zones__name__iexact=zone)).distinct()
    if tags:
        asked = asked.filter(tag__in=tags)
    bags = list(asked.select_related("size").prefetch_related("zones").order_by("tag"))
    loose = dict(
        Holding.objects.filter(piece__in=[bag.pk for bag in bags], count__gt=0)
        .exclude(holder__kind__in=FITTED)
        .values_list("piece_id")
        .annotate(n=Sum("count"))
        .order_by()
    )
    return Labels(stamp_for(aircraft), tuple(_label(bag, loose.get(bag.pk, 0), base) for bag in bags))


def _label(bag: Piece, count: int, base: str | None) -> Label:
    assert bag.tag is not None
    size = f", {bag.size.code}" if bag.size is not None and bag.size.code not in bag.name else ""
    taken = f", {bag.count_off} taken off" if bag.count_off != count else ""
    mixed = ": mixed" if bag.kind == PieceKind.MIXED and "mixed" not in bag.name.lower() else ""
    return Label(
        tag=bag.tag,
        count=count,
        what=f"{bag.name}{size}{mixed}{taken}",
        zones=", ".join(zone.name for zone in bag.zones.all()),
        mass_g=bag.mass_g,
        address=address_of(bag.tag, base),
    )


def mass_words(mass_g: float | None) -> str:
    """Write a mass with its pounds, or say that it was not weighed."""
    if mass_g is None:
        return "mass not weighed"
    return f"{mass_g:,.0f} g, {mass_g / 453.59237:.2f} lb" if mass_g >= 1 else f"{mass_g:.2g} g"


def pdf(data: Labels) -> bytes:
    """Lay the labels three across and eight down, with lines to cut along."""
    printed = [
        {
            "tag": label.tag,
            "count": f"{label.count:,}",
            "what": label.what,
            "mass": ". ".join(text[:1].upper() + text[1:] for text in (label.zones, mass_words(label.mass_g)) if text),
            "aircraft": data.stamp.aircraft.partition(",")[0],
            "code": code_svg(label.address),
        }
        for label in data.labels
    ]
    empty = "No label is asked for. No bag in this choice has a tag."
    return typeset("label.typ", {"labels": printed, "empty": empty}, data.stamp)
