"""Seats of shrink fits, and by what steps are done: loaded like any other list, the newest counts."""

from witnessmark.calc.surface.instruction import CalledOutBy
from witnessmark.calc.units import UnknownSize, parse_temperature
from witnessmark.exchange.cells import Wrong, length
from witnessmark.exchange.listfile import ListFile, Writer
from witnessmark.exchange.lists.known import Known
from witnessmark.records.actions.called_out import why_not_called
from witnessmark.records.actions.shrink import why_no_seat
from witnessmark.records.models import Act, CalledOut, Piece, ShrinkSeat, Step


def _piece(known: Known, tag: str) -> Piece:
    piece = known.pieces.get(tag)
    if piece is None:
        raise Wrong(f"No piece has the tag '{tag[:40]}'. Correct tag")
    return piece


def seats(f: ListFile) -> Writer:
    """Seats by the tag of the inner part; one that is there already with the same sizes is not written again."""
    known = Known(f.machine)
    have = {row.piece_id: row for row in ShrinkSeat.objects.filter(piece__aircraft=f.machine).order_by("id")}
    new: list[ShrinkSeat] = []
    for row in f.rows:
        with f.row(row) as c:
            f.once(c["tag"], what=f"The seat of {c['tag']}")
            piece = _piece(known, c["tag"])
            values = {
                "inner": c["inner"] or piece.material,
                "outer": c["outer"],
                "seat_mm": length(c["seat"], "seat").mm,
                "outside_mm": length(c["outside"], "outside").mm,
                "length_mm": length(c["length"], "length").mm,
                "bore_mm": length(c["bore"], "bore").mm if c["bore"] else 0.0,
            }
            wrong = why_no_seat(**values)  # type: ignore[arg-type]  # each under its own name
            if wrong:
                raise Wrong(wrong.rstrip("."))
            one = have.get(piece.pk)
            if one is None or any(getattr(one, name) != value for name, value in values.items()):
                new.append(f.new(ShrinkSeat, piece=piece, **values))

    def write(act: Act) -> None:
        for one in new:
            one.act = act
        ShrinkSeat.objects.bulk_create(new, batch_size=500)

    return write


def called_out(f: ListFile) -> Writer:
    """By what a step is done, by tag and step; refused where the bake does not hold for the part."""
    known = Known(f.machine)
    stored = CalledOut.objects.filter(piece__aircraft=f.machine).order_by("id")
    have = {(row.piece_id, row.step_number): row for row in stored}
    steps = {
        (step.piece_id, step.number): step
        for step in Step.objects.filter(piece__aircraft=f.machine).select_related("piece__size")
    }
    new: list[CalledOut] = []
    for row in f.rows:
        with f.row(row) as c:
            f.once(c["tag"], c["step"], what=f"Step {c['step']} of {c['tag']}")
            piece = _piece(known, c["tag"])
            step = steps.get((piece.pk, int(c["step"]) if c["step"].isascii() and c["step"].isdigit() else 0))
            if step is None:
                raise Wrong(f"The route of {c['tag']} has no step {c['step'][:10]}. Correct step")
            try:
                temper = parse_temperature(c["temper"]).celsius if c["temper"] else None
            except UnknownSize as why:
                raise Wrong(f"temper: {str(why).rstrip('.')}") from None
            section = length(c["section"], "section").mm if c["section"] else None
            by = CalledOutBy(c["spec"], c["type"], c["class"], c["bake"], section, temper)
            wrong = why_not_called(step, by)
            if wrong:
                raise Wrong(wrong.rstrip("."))
            values = {
                "spec": by.spec, "kind": by.kind, "code": by.code, "bake_spec": by.bake_spec,
                "section_mm": section, "temper_c": temper,
            }  # fmt: skip
            one = have.get((piece.pk, step.number))
            if one is None or any(getattr(one, name) != value for name, value in values.items()):
                new.append(
                    f.new(CalledOut, piece=piece, step_number=step.number, step_name=step.name, **values)
                )  # fmt: skip

    def write(act: Act) -> None:
        for one in new:
            one.act = act
        CalledOut.objects.bulk_create(new, batch_size=500)

    return write
