"""What was reckoned of the choices for a piece: hours, money, the sheet of a substitute, loaded like any other list."""

from witnessmark.exchange.cells import Wrong, word
from witnessmark.exchange.listfile import ListFile, Writer
from witnessmark.exchange.lists.known import Known
from witnessmark.records.actions.choices import asked_of, read_reckoned
from witnessmark.records.actions.saying import Refused
from witnessmark.records.models import Act, ChoiceFigure, DecisionKind


def choices(f: ListFile) -> Writer:
    """Figures by piece, choice and what; the newest stands, so that the same list twice adds nothing."""
    known = Known(f.machine)
    stored = ChoiceFigure.objects.filter(piece__aircraft=f.machine).order_by("id")
    have = {(row.piece_id, row.kind, row.what): row.typed for row in stored}
    new: list[ChoiceFigure] = []
    for row in f.rows:
        with f.row(row) as c:
            f.once(c["piece"], c["choice"], c["what"], what=f"{c['what']} of {c['choice']} for {c['piece']}")
            piece = known.pieces.get(c["piece"])
            if piece is None:
                raise Wrong(f"No piece has the tag '{c['piece'][:40]}'. Correct piece")
            kind = word(c["choice"], "choice", tuple(DecisionKind.values))
            asked = asked_of(kind)
            if c["what"] not in asked:
                raise Wrong(
                    f"'{c['what'][:30]}' is not reckoned for {kind}. Write one of {', '.join(asked) or 'nothing'}"
                )
            words, reads = asked[c["what"]]
            try:
                value = read_reckoned(c["what"], reads, words, c["typed"])
            except Refused as why:
                raise Wrong(str(why).replace(" Nothing was changed.", "").rstrip(".")) from None
            if have.get((piece.pk, kind, c["what"])) != c["typed"]:
                new.append(f.new(ChoiceFigure, piece=piece, kind=kind, what=c["what"], value=value, typed=c["typed"]))

    def write(act: Act) -> None:
        for figure in new:
            figure.act = act
        ChoiceFigure.objects.bulk_create(new, batch_size=500)

    return write
