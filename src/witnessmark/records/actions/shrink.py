"""The seat of a shrink fit is measured: what its heat is reckoned from, with the diameter read after plating."""

import uuid
from datetime import datetime

from witnessmark.calc.fits import Joint, press_fit
from witnessmark.calc.metals import metal
from witnessmark.records.actions.saying import Refused, Result, say
from witnessmark.records.models import Act, Person, Piece, ShrinkSeat


def why_no_seat(
    inner: str, outer: str, seat_mm: float, outside_mm: float, length_mm: float, bore_mm: float = 0.0
) -> str:
    """Say why these cannot be the sizes of a seat: they do not nest, or a metal is not known; else nothing."""
    try:
        # A hundredth of interference stands in.
        press_fit(Joint(metal(inner), metal(outer), seat_mm, outside_mm, 0.01, length_mm, bore_mm))
    except ValueError as why:
        words = str(why).rstrip(".")
        return f"{words[:1].upper()}{words[1:]}."
    return ""


def say_seat(
    *,
    by: Person,
    act_id: uuid.UUID,
    piece: Piece,
    inner: str,
    outer: str,
    seat_mm: float,
    outside_mm: float,
    length_mm: float,
    bore_mm: float = 0.0,
    happened_at: datetime | None = None,
) -> Result:
    """Write down the part into which a piece is shrunk; the newest counts, the earlier ones stay to be read."""
    wrong = why_no_seat(inner, outer, seat_mm, outside_mm, length_mm, bore_mm)
    if wrong:
        raise Refused(f"{wrong} Nothing was changed. Measure or write it anew.")

    def do(act: Act) -> Result:
        row = ShrinkSeat.objects.create(
            piece=piece, inner=inner.strip()[:120], outer=outer.strip()[:120], seat_mm=seat_mm, outside_mm=outside_mm,
            bore_mm=bore_mm, length_mm=length_mm, act=act,
        )  # fmt: skip
        return {"piece": piece.pk, "seat": row.pk}

    said = {
        "piece": piece.pk, "inner": inner, "outer": outer, "seat_mm": seat_mm, "outside_mm": outside_mm,
        "bore_mm": bore_mm, "length_mm": length_mm,
    }  # fmt: skip
    return say("say_seat", by=by, act_id=act_id, said=said, do=do, aircraft=piece.aircraft, happened_at=happened_at)
