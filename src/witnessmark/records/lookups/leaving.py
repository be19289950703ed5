"""What is known of pieces before they leave: nature, magnet and density, tests that wait; and what that bars."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from witnessmark.calc.bags.leaving import Bar, Leaving, Paper, bars_of, open_test, papers_of
from witnessmark.calc.bags.shipment import Price, Tariff, price_of
from witnessmark.calc.surface.processes import Caution, cautions_for, processes_of
from witnessmark.records.lookups.about import swapped_name
from witnessmark.records.lookups.instructions import instructed, made_of
from witnessmark.records.lookups.nature import leaving_of, natures
from witnessmark.records.lookups.patterns import gives_way
from witnessmark.records.models import (
    Belongs,
    MaterialReading,
    Packing,
    Piece,
    PieceKind,
    Step,
    Vendor,
    VendorPrice,
)


@dataclass(frozen=True)
class Known:
    """One piece as the packer sees it."""

    piece: Piece
    leaving: Leaving
    reading: MaterialReading | None
    bars: tuple[Bar, ...]
    cautions: tuple[Caution, ...] = ()

    @property
    def must_not(self) -> tuple[Bar, ...]:
        return tuple(bar for bar in self.bars if bar.must_not)

    @property
    def terms(self) -> tuple[Bar, ...]:
        return tuple(bar for bar in self.bars if not bar.must_not)


@dataclass(frozen=True)
class Judged:
    """A shipment before it leaves: each piece with its bars, and the papers that must come back."""

    known: tuple[Known, ...]
    papers: tuple[Paper, ...]

    @property
    def must_not(self) -> tuple[Bar, ...]:
        return tuple(bar for each in self.known for bar in each.must_not)

    @property
    def terms(self) -> tuple[Bar, ...]:
        return tuple(bar for each in self.known for bar in each.terms)


def readings(pieces: Iterable[int]) -> dict[int, MaterialReading]:
    """The newest reading of magnet and density of each piece."""
    return {r.piece_id: r for r in MaterialReading.objects.filter(piece_id__in=list(pieces)).order_by("id")}


def _waits_for_test(steps: Sequence[Step], vendor: Vendor) -> str:
    """The crack test that stands open before this vendor's step, or anywhere if the route knows no step of his."""
    named = [(step.name, step.done_act_id is not None) for step in steps]
    at = next((n for n, s in enumerate(steps) if s.done_act_id is None and s.who == vendor.code), None)
    if at is None:
        return open_test([*named, ("", False)], len(named))
    return open_test(named, at)


def _without_opposite(pieces: Sequence[Piece]) -> frozenset[int]:
    """The pieces whose opposite is on record, by the mark of its place or by its name, and not among them."""
    ids = {piece.pk for piece in pieces}
    sided = [piece for piece in pieces if piece.side in ("L", "R")]
    marks: dict[int, set[str]] = {}
    for pk, mark in Belongs.objects.filter(piece__in=sided).values_list("piece_id", "place__mark"):
        marks.setdefault(pk, set()).add(mark)
    others: dict[tuple[str, str], set[int]] = {}
    wanted = {mark for each in marks.values() for mark in each}
    seats = Belongs.objects.filter(place__mark__in=wanted, place__side__in=("L", "R"))
    for pk, mark, side in seats.values_list("piece_id", "place__mark", "place__side"):
        others.setdefault((mark, side), set()).add(pk)
    swapped = {piece.pk: swapped_name(piece) for piece in sided if piece.name}
    for pk, name, side in Piece.objects.filter(name__in=swapped.values()).values_list("pk", "name", "side"):
        others.setdefault((name, side), set()).add(pk)
    found = set()
    for piece in sided:
        side = "R" if piece.side == "L" else "L"
        keys = marks.get(piece.pk, set()) | {swapped.get(piece.pk, "")}
        theirs = {pk for key in keys for pk in others.get((key, side), ())} - {piece.pk}
        if theirs and not theirs & ids:
            found.add(piece.pk)
    return frozenset(found)


def judge(pieces: Sequence[Piece], vendor: Vendor, process: str) -> Judged:
    """Say of each piece what bars it from this shipment, in a number of queries that does not grow with them."""
    ids = [piece.pk for piece in pieces]
    said, read, give_way = natures(ids), readings(ids), gives_way(ids)
    told = instructed(pieces, vendor.code, process)
    alone = _without_opposite(pieces) if "decorative chrome" in processes_of(process) else frozenset[int]()
    leaving = []
    for piece in pieces:
        reading = read.get(piece.pk)
        leaving.append(
            replace(
                leaving_of(piece),
                matched=bool(piece.matched_set) and piece.kind == PieceKind.BAG,
                waits_for_test=_waits_for_test(told[piece.pk].route, vendor),
                differs=reading.sentence if reading is not None and reading.agrees is False else "",
                opposite_stays=piece.pk in alone,
                gives_way=give_way.get(piece.pk, ""),
                bake_missing=told[piece.pk].held.must_not,
                bake_open=told[piece.pk].held.asks,
                bake_follows=told[piece.pk].baked_there,
                said=said.get(piece.pk, {}),
            )
        )
    barred: dict[str, list[Bar]] = {}
    for bar in bars_of(process, leaving):
        barred.setdefault(bar.tag, []).append(bar)
    known = tuple(
        Known(
            piece,
            each,
            read.get(piece.pk),
            tuple(barred.get(each.tag, ())),
            cautions_for(process, f"{made_of(piece)} {piece.name}", piece.finish, each.strength_mpa),
        )
        for piece, each in zip(pieces, leaving, strict=True)
    )
    return Judged(known, papers_of(process, leaving))


def tariff(vendor: Vendor, process: str) -> VendorPrice | None:
    """The newest price this vendor said for this process, or for all that he does."""
    rows = list(VendorPrice.objects.filter(vendor=vendor, process__in=(process, "")).order_by("id"))
    own = [row for row in rows if row.process == process]
    best = own or rows
    return best[-1] if best else None


def price_for(price: VendorPrice, lines: Sequence[tuple[Piece, int]], read: dict[int, MaterialReading]) -> Price:
    """What a shipment is to cost by the vendor's tariff."""
    masses = [piece.mass_g for piece, _ in lines]
    surfaces = [
        read[piece.pk].surface_one_mm2 * count  # type: ignore[operator]
        if piece.pk in read and read[piece.pk].surface_one_mm2 is not None
        else None
        for piece, count in lines
    ]
    return price_of(
        Tariff(
            float(price.least_charge),
            float(price.per_kg),
            float(price.per_piece),
            float(price.per_dm2),
            price.currency,
        ),
        sum(count for _, count in lines),
        None if any(m is None for m in masses) else sum(m for m in masses if m is not None),
        None if any(s is None for s in surfaces) else sum(s for s in surfaces if s is not None),
    )


def instruction_for(vendor: Vendor, process: str, judged: Judged) -> str:
    """What the vendor is told: what he was told last time for this process, with this shipment's terms and papers."""
    last = (
        Packing.objects.filter(shipment__vendor=vendor, shipment__process=process)
        .exclude(instruction="")
        .order_by("-act__recorded_at")
        .first()
    )
    head = (
        last.instruction.split("\n")[0]
        if last
        else f"{process[:1].upper()}{process[1:]}. Each bag in a basket of its own; nothing is mixed, no tag comes off."
    )
    terms = [f"{bar.tag}: {bar.term}." for bar in judged.terms]
    papers = [f"Comes back with: {paper.kind} ({paper.why})." for paper in judged.papers]
    return "\n".join([head, *terms, *papers])
