"""Readings of small pieces: what was measured on the bags before they leave, or on a piece."""

from witnessmark.calc.bags.features import FEATURES, usual_sigma
from witnessmark.calc.bags.typed import typed_figure
from witnessmark.calc.units import UnknownSize
from witnessmark.exchange import cells
from witnessmark.exchange.cells import Wrong
from witnessmark.exchange.listfile import ListFile, Writer
from witnessmark.exchange.lists.known import Known
from witnessmark.records.models import Act, PieceReading


def readings(f: ListFile) -> Writer:
    """Readings by tag, item and feature; a reading that is there already is not written again."""
    known = Known(f.machine)
    have = {
        (r.piece_id, r.item, r.what): r for r in PieceReading.objects.filter(piece__aircraft=f.machine).order_by("id")
    }
    made: list[PieceReading] = []
    for row in f.rows:
        with f.row(row) as c:
            f.once(c["tag"], c["item"], c["what"], what=f"{c['what']} of {c['tag']} {c['item']}".strip())
            piece = known.pieces.get(c["tag"])
            if piece is None:
                raise Wrong(f"No piece has the tag {c['tag']}. Correct it, or add the piece to bags.csv or parts.csv")
            if c["what"] not in FEATURES:
                raise Wrong(f"'{c['what']}' is not measured here. Write one of {', '.join(FEATURES)}")
            try:
                value = typed_figure(c["what"], c["value"])
            except UnknownSize as why:
                raise Wrong(str(why).rstrip(".")) from None
            sigma = (
                cells.number(c["uncertainty"], "uncertainty", most=100) if c["uncertainty"] else usual_sigma(c["what"])
            )
            if not sigma > 0:
                raise Wrong("An uncertainty is above nought. Correct it or leave it empty")
            place = known.mark_and_side(c["place"]) if c["place"] else None
            before = have.get((piece.pk, c["item"], c["what"]))
            if before is None:
                values = {
                    "item": c["item"],
                    "what": c["what"],
                    "value": value,
                    "uncertainty": sigma,
                    "typed": c["value"],
                }
                made.append(f.new(PieceReading, piece=piece, place=place, **values))
            elif before.value != value:
                f.differs(f"{c['what']} of {piece} {c['item']}", value, before.value, "Measure again on its page.")

    def write(act: Act) -> None:
        for one in made:
            one.act = act
        PieceReading.objects.bulk_create(made, batch_size=500)

    return write
