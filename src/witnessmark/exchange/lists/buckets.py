"""Bags of a shipment that were mixed in one bucket: what lies in it, and what of it is back."""

from dataclasses import dataclass

from witnessmark.exchange import cells
from witnessmark.exchange.cells import Wrong
from witnessmark.exchange.listfile import ListFile, Writer
from witnessmark.exchange.lists.known import Known
from witnessmark.records.actions.custody import holder
from witnessmark.records.actions.mixing import mix_in, receive_mixed_in
from witnessmark.records.models import Act, Holder, Mix, Piece, PieceKind, Shipment


@dataclass(frozen=True)
class _Bucket:
    shipment: Shipment
    bags: list[Piece]
    count: int
    mass_g: float | None
    coat_um: float
    to: Holder | None


def buckets(f: ListFile) -> Writer:
    """Buckets by shipment. One that is in the record stays as people left it."""
    known = Known(f.machine)
    shipments = {
        one.number: one for one in Shipment.objects.select_related("vendor__holder").prefetch_related("lines__piece")
    }
    have = {mix.shipment.number: mix for mix in Mix.objects.select_related("shipment")}
    made: list[_Bucket] = []
    for row in f.rows:
        with f.row(row) as c:
            f.once(c["shipment"], what=f"The bucket of {c['shipment']}")
            shipment = shipments.get(c["shipment"])
            if shipment is None:
                raise Wrong(f"There is no shipment {c['shipment']}. Write it into shipments.csv first")
            one = _read(f, known, shipment, c)
            mix = have.get(shipment.number)
            if mix is None:
                _fits(known, one)
                f.news(
                    shipment.number, [piece.tag for piece in one.bags], one.count, one.mass_g, one.coat_um, c["where"]
                )
                made.append(one)
            elif (mix.count_back or 0) != one.count:
                f.differs(
                    f"What came back in the bucket of {shipment.number}", one.count, mix.count_back or 0,
                    "Receive it on the sorting page.",
                )  # fmt: skip

    def write(act: Act) -> None:
        for one in made:
            mix = mix_in(act, one.shipment, one.bags)
            if one.to is not None:
                receive_mixed_in(
                    act, one.shipment, mix, count=one.count, to=holder(one.to.kind, one.to.name), back_on=None, mass_g=one.mass_g, foreign=0,
                    coat_um=one.coat_um,
                )  # fmt: skip

    return write


def _read(f: ListFile, known: Known, shipment: Shipment, c: dict[str, str]) -> _Bucket:
    went = {line.piece.tag: line.piece for line in shipment.lines.all() if line.piece.kind == PieceKind.BAG}
    tags = cells.listed(c["tags"]) or [tag for tag in went if tag]
    strange = [tag for tag in tags if tag not in went]
    if strange:
        raise Wrong(f"{strange[0]} is no bag that went with {shipment.number}. Correct tags, or shipments.csv")
    count = cells.whole(c["count_back"], "count_back") if c["count_back"] else 0
    if bool(count) != bool(c["where"]):
        raise Wrong("count_back and where belong together. Write both, or none while it is all at the vendor")
    return _Bucket(
        shipment,
        [went[tag] for tag in tags],
        count,
        cells.mass_g(c["mass_back"]) if c["mass_back"] else None,
        cells.number(c["coat_um"], "coat_um", most=500) if c["coat_um"] else 0.0,
        known.holder(c["where"]) if c["where"] else None,
    )


def _fits(known: Known, one: _Bucket) -> None:
    """What is mixed stands at the vendor until the bucket came back, and no more comes back than that."""
    at = one.shipment.vendor.holder_id
    there = {piece.tag: sum(h.count for h in known.at.get(piece.pk, ()) if h.holder_id == at) for piece in one.bags}
    if gone := [tag for tag, n in there.items() if not n]:
        raise Wrong(
            f"{gone[0]} is not at {one.shipment.vendor.code}. Write {one.shipment.vendor.code} as where in bags.csv"
        )
    if one.count > sum(there.values()):
        raise Wrong(f"count_back is {one.count} and {sum(there.values())} went into the bucket. Count again")
