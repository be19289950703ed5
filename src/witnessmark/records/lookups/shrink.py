"""A piece's shrink fit from what was measured: its seat, its diameter before and after plating, its opposite's bore."""

from dataclasses import dataclass

from witnessmark.calc.fits import Joint, PressFit, ShrinkFit, press_fit, shrink_fit
from witnessmark.calc.metals import metal
from witnessmark.calc.slide_home import SlideHome, heat_headline, way_home
from witnessmark.calc.surface.oven_caps import OvenCap, coats_on, oven_cap
from witnessmark.records.lookups.pieces import opposite_of
from witnessmark.records.lookups.routes import as_found
from witnessmark.records.models import Piece, PieceReading, ShrinkSeat, Step

DIAMETER = "diameter_mm"
# A pair of drums is ground to one bore: what a bore gauge tells apart, from memory.
ONE_BORE_MM = 0.02


@dataclass(frozen=True)
class ShrinkSeen:
    """What the record holds of a fit, and what heat opens it."""

    piece: Piece
    seat: ShrinkSeat | None
    diameters: tuple[PieceReading, ...]
    oven: OvenCap | None
    holds: PressFit | None
    heat: ShrinkFit | None
    sentence: str
    pair: str
    home: SlideHome | None = None

    @property
    def interference_mm(self) -> float | None:
        if self.seat is None or not self.diameters:
            return None
        return self.diameters[-1].value - self.seat.seat_mm


def shrink_of(piece: Piece, clearance_mm: float = 0.05, both: bool = True, service_c: float = 60.0) -> ShrinkSeen:
    """Reckon a piece's fit by its newest seat and its newest diameter; raises ValueError where figures cannot be."""
    seat = ShrinkSeat.objects.filter(piece=piece).order_by("-id").first()
    diameters = tuple(
        PieceReading.objects.filter(piece=piece, item="", what=DIAMETER).select_related("act__person").order_by("id")
    )
    oven = _oven(piece, seat, both) if seat else None
    cap = oven.lowest if oven else None
    holds = heat = home = None
    if seat is None:
        sentence = "The seat is not measured yet."
    elif not diameters:
        sentence = "The outside diameter of the inner part is not measured yet."
    elif (interference := round(diameters[-1].value - seat.seat_mm, 6)) <= 0:
        sentence = f"It is loose: {diameters[-1].value:g} mm in a seat of {seat.seat_mm:g} mm. Nothing holds it: ask the engineer."
    else:
        joint = Joint(
            metal(seat.inner), metal(seat.outer), seat.seat_mm, seat.outside_mm, interference, seat.length_mm, seat.bore_mm
        )  # fmt: skip
        holds, heat = (
            press_fit(joint),
            shrink_fit(joint, clearance_mm, cap, both, service_c, not_known=" and ".join(oven.unknown) if oven else ""),
        )
        # It is put back cold into the outer part heated alone: the coats on the inner one see no oven.
        home = way_home(joint, clearance_mm, _oven(piece, seat, False).lowest)
        sentence = heat_headline(heat, both, home)
    return ShrinkSeen(piece, seat, diameters, oven, holds, heat, sentence, _pair(piece, seat), home)


def _oven(piece: Piece, seat: ShrinkSeat, both: bool) -> OvenCap:
    """The outer part's cap with the coats that its words name; where both soak, with those of the inner part too."""
    coats = coats_on(seat.outer)
    if both:
        done = Step.objects.filter(piece=piece).exclude(done_act=None).order_by("number").values_list("name", flat=True)
        coats = tuple(dict.fromkeys((*coats, *coats_on(as_found(piece), list(done)))))
    return oven_cap(seat.outer, coats)


def _pair(piece: Piece, seat: ShrinkSeat | None) -> str:
    """Say whether the opposite one has the same bore."""
    other = opposite_of(piece)
    if other is None or seat is None or not seat.bore_mm:
        return ""
    theirs = ShrinkSeat.objects.filter(piece=other).order_by("-id").first()
    if theirs is None or not theirs.bore_mm:
        return f"The bore of {other}, the opposite one, is not measured: a pair is brought to one bore."
    apart = abs(theirs.bore_mm - seat.bore_mm)
    if apart > ONE_BORE_MM:
        return f"The pair differs by {apart:.2f} mm in the bore ({other}: {theirs.bore_mm:g} mm): grind both to the larger."
    return f"Both of the pair have one bore, within {ONE_BORE_MM} mm."
