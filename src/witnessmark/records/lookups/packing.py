"""The packing page's answer: what is chosen, where it lies, what bars it, what it weighs and costs."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Q, QuerySet

from witnessmark.calc.bags.leaving import Bar
from witnessmark.calc.bags.shipment import Price, ShipmentTotals, shipment_totals
from witnessmark.calc.bags.solids import mass_of
from witnessmark.records.lookups.leaving import Judged, Known, judge, price_for, tariff
from witnessmark.records.lookups.outwork import (
    HERE,
    least_g,
    ready_to_send,
    totals_sentence,
    undecided_findings,
    weighed,
)
from witnessmark.records.lookups.pictures import IN_FRONT
from witnessmark.records.lookups.search import near_tags
from witnessmark.records.lookups.where import Standing, standings
from witnessmark.records.models import (
    HolderKind,
    Holding,
    MaterialReading,
    PhotoUse,
    Piece,
    Quarantine,
    Vendor,
    VendorPrice,
)

MAY_LEAVE = (*HERE, HolderKind.NOT_SAID)  # it is here, if nobody has said yet where
UNTAGGED_SHOWN = 12


@dataclass(frozen=True)
class Line:
    """One piece on the packing table; `cannot` says why it cannot leave whatever the process is."""

    piece: Piece
    standing: Standing | None
    known: Known
    cannot: str
    photo: PhotoUse | None

    @property
    def must_not(self) -> tuple[Bar, ...]:
        return self.known.must_not

    @property
    def terms(self) -> tuple[Bar, ...]:
        return self.known.terms

    @property
    def count(self) -> int:
        return self.standing.count if self.standing else 0

    @property
    def surface_dm2(self) -> float | None:
        """The surface of all of them, by the dimensions of one."""
        reading = self.known.reading
        one = reading.surface_one_mm2 if reading is not None else None
        return None if one is None else one * self.count / 1e4

    @property
    def mass_by_size_g(self) -> float | None:
        """The mass of all of them by the dimensions of one and its recorded metal; a check, never the scales."""
        reading = self.known.reading
        if reading is None or reading.volume_one_mm3 is None:
            return None
        one = mass_of(self.known.leaving.material, reading.volume_one_mm3)
        return None if one is None else one * self.count


@dataclass(frozen=True)
class Packing:
    """All of the packing page."""

    vendor: Vendor
    process: str
    lines: tuple[Line, ...]
    others: tuple[Piece, ...]
    untagged: tuple[tuple[Piece, str], ...]
    more_untagged: int
    not_found: tuple[tuple[str, tuple[str, ...]], ...]
    judged: Judged
    totals: ShipmentTotals | None
    price: Price | None
    asks: VendorPrice | None

    @property
    def sentence(self) -> str:
        """Count and mass of what may go; what must not is named as left out of pieces, mass and price."""
        said = totals_sentence(self.totals) if self.totals else ""
        if not self.stays:
            return said
        verb = "stays" if len(self.stays) == 1 else "stay"
        out = f"Left out of pieces, mass and price, for {'it' if verb == 'stays' else 'they'} {verb} here: {', '.join(line.piece.key for line in self.stays)}."
        return f"{said} {out}".strip()

    @property
    def stays(self) -> tuple[Line, ...]:
        return tuple(line for line in self.lines if line.must_not or line.cannot)


def first_photos(pieces: Iterable[Piece]) -> dict[int, PhotoUse]:
    """The first picture of each of these pieces, in one query."""
    found: dict[int, PhotoUse] = {}
    for use in (
        PhotoUse.objects.filter(IN_FRONT, piece__in=[p.pk for p in pieces]).select_related("photo").order_by("id")
    ):
        if use.piece_id is not None:
            found.setdefault(use.piece_id, use)
    return found


def quarantined(pieces: Iterable[int]) -> dict[int, str]:
    """Why each of these pieces is in quarantine, where it is."""
    rows = Quarantine.objects.filter(piece_id__in=list(pieces), lifted_act=None).order_by("-id")
    return {row.piece_id: row.why for row in rows}


def _here() -> QuerySet[Holding, Any]:
    """What is here to be sent, if only somewhere."""
    return Holding.objects.filter(count__gt=0, holder__kind__in=MAY_LEAVE).values("piece")


def _untagged(laid: Iterable[int]) -> tuple[tuple[tuple[Piece, str], ...], int]:
    """Pieces here that wear no tag, the last that came in first, each with where it lies; and how many more there are."""
    found = Piece.objects.filter(tag=None, pk__in=_here()).exclude(pk__in=list(laid))
    shown = list(found.order_by("-pk")[:UNTAGGED_SHOWN])
    where = standings(shown)
    said = tuple((piece, " and ".join(s.words for s in where[piece.pk])) for piece in shown)
    more = found.count() - len(shown) if len(shown) == UNTAGGED_SHOWN else 0
    return said, max(0, more)


def _chosen(
    vendor: Vendor, process: str, chosen: Sequence[int] | None, added: Sequence[str]
) -> tuple[list[Piece], list[Piece]]:
    """The pieces chosen, and what else is ready for this vendor and process."""
    ready = [
        each.piece
        for group in ready_to_send()
        if group.vendor.pk == vendor.pk and group.process.casefold() == process.casefold()
        for each in group.pieces
    ]
    wanted = {p.pk for p in ready} if chosen is None else set(chosen)
    by_tag = Q()
    for tag in added:
        by_tag |= Q(tag__iexact=tag) | Q(tag=None, name__iexact=tag, pk__in=_here())
    picked = list(
        Piece.objects.filter((Q(pk__in=wanted) | by_tag) if added else Q(pk__in=wanted))
        .select_related("size")
        .order_by("tag", "pk")
    )
    have = {piece.pk for piece in picked}
    return picked, [piece for piece in ready if piece.pk not in have]


def pack(vendor: Vendor, process: str, chosen: Sequence[int] | None, added: Sequence[str]) -> Packing:
    """Answer for the packing page; without a choice, all that is ready for this vendor and process."""
    pieces, others = _chosen(vendor, process, chosen, added)
    ids = [piece.pk for piece in pieces]
    where, held, open_findings = standings(pieces), quarantined(ids), undecided_findings(ids)
    photos = first_photos(pieces)
    judged = judge(pieces, vendor, process)
    lines = []
    for piece, known in zip(pieces, judged.known, strict=True):
        at = where[piece.pk]
        here = [s for s in at if s.holder.kind in MAY_LEAVE]
        cannot = ""
        if len(at) != 1 or len(here) != 1:
            cannot = (
                "It is "
                + (" and ".join(f"at {s.words}" for s in at) or "nowhere in the record")
                + ", not here to be sent"
            )
        elif piece.pk in held:
            cannot = f"In quarantine: {held[piece.pk]}"
        elif piece.pk in open_findings:
            cannot = f"Finding {open_findings[piece.pk][0].number} has no decision"
        lines.append(Line(piece, here[0] if len(here) == 1 else None, known, cannot, photos.get(piece.pk)))
    going = [(line.piece, line.count) for line in lines if line.count and not line.cannot and not line.must_not]
    read: dict[int, MaterialReading] = {k.piece.pk: k.reading for k in judged.known if k.reading is not None}
    price = tariff(vendor, process)
    called = {(piece.tag or piece.name).casefold() for piece in pieces}
    untagged, more_untagged = _untagged(ids)
    return Packing(
        vendor=vendor,
        process=process,
        lines=tuple(lines),
        others=tuple(others),
        untagged=untagged,
        more_untagged=more_untagged,
        not_found=tuple((tag, tuple(near_tags(tag))) for tag in added if tag.casefold() not in called),
        judged=judged,
        totals=shipment_totals(weighed((p, n, p.mass_g) for p, n in going), least_g(vendor)) if going else None,
        price=price_for(price, going, read) if price and going else None,
        asks=price,
    )
