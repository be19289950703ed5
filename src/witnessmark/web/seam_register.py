"""The register of a row's holes as measured: what is not measured, what is refused and why, each hole drawn to scale."""

from dataclasses import dataclass
from typing import Any

from django.utils.html import format_html
from django.utils.safestring import SafeString

from witnessmark.calc.fasteners.hole_register import (
    HoleFigures,
    HoleJudged,
    RowVerdict,
    is_oval,
    judge_row,
    sound_figures,
)
from witnessmark.calc.fasteners.tooling import drill_for
from witnessmark.records.lookups.seams import SeamDrawn, is_flush, is_inch, is_rivet
from witnessmark.web.seam_drawing import spans

MOST_DRAWN = 12
_WIDE, _TOP = 320.0, 58.0


@dataclass(frozen=True)
class HoleStrip:
    """One measured hole between its neighbours and the sheet's edge, to one scale; the same in words."""

    svg: SafeString
    words: str


@dataclass(frozen=True)
class Register:
    """The row's verdict, or why there is none; every figure that was left out is named."""

    verdict: RowVerdict | None
    why: str
    refused: tuple[str, ...]
    measured: tuple[tuple[HoleJudged, int], ...]
    unmeasured: str
    strips: tuple[HoleStrip, ...]
    not_drawn: int
    working: dict[str, Any] | None


def hole_register(drawn: SeamDrawn) -> Register | None:
    """Every hole beside the row's rivet and the next size; None where the row names no rivet or has no hole."""
    size, seen = drawn.seen.size, drawn.seen
    if size is None or not is_rivet(size) or not drawn.holes:
        return None
    typed = [
        HoleFigures(
            hole.number,
            hole.diameters_mm,
            hole.edge_mm if hole.edge_mm is not None else seen.row.edge_mm,
            hole.times_oversized,
        )
        for hole in drawn.holes
    ]
    figures, refused = sound_figures(typed, size.nominal_mm)
    larger = drawn.next_size.nominal_mm if drawn.next_size else None
    try:
        drill = drill_for(size.nominal_mm, is_inch(size))[1]
        verdict = judge_row(figures, size.nominal_mm, drill, larger, seen.row.pitch_mm, is_flush(size))
    except ValueError as error:
        return Register(None, f"No verdict on this row: {str(error).rstrip('.')}.", tuple(refused), (), "", (), 0, None)
    times = {each.number: each.times_oversized for each in figures}
    edges = {each.number: each.edge_mm for each in figures}
    own = {hole.number for hole in drawn.holes if hole.edge_mm is not None}
    measured = [each for each in verdict.holes if each.widest_mm is not None]
    # What is worn or was enlarged before is drawn first: there the next size is asked about.
    to_draw = sorted(measured, key=lambda each: (not each.worn, not times[each.number], each.number))
    strips = tuple(
        _strip(each, size.nominal_mm, edges[each.number], seen.row.pitch_mm, len(drawn.holes), each.number in own)
        for each in to_draw[:MOST_DRAWN]
    )
    return Register(
        verdict=verdict,
        why="",
        refused=tuple(refused),
        measured=tuple((each, times[each.number]) for each in measured),
        unmeasured=spans([each.number for each in verdict.holes if each.widest_mm is None]),
        strips=strips,
        not_drawn=max(0, len(to_draw) - MOST_DRAWN),
        working=verdict.working.to_dict(),
    )


def _strip(
    hole: HoleJudged, diameter_mm: float, edge_mm: float | None, pitch_mm: float | None, last: int, own_edge: bool
) -> HoleStrip:
    """The hole as wide as it was measured, its neighbours at the pitch with their nominal size, the edge below."""
    wide = hole.widest_mm or diameter_mm
    half_mm = (pitch_mm or 3 * diameter_mm) + diameter_mm
    scale = min(_WIDE / 2 / half_mm, 110.0 / (edge_mm or 2 * diameter_mm))
    x, parts = _WIDE / 2, []
    whose = "edge" if own_edge else "the row's edge"
    edge_words = f"{whose} {edge_mm:g} mm, {edge_mm / diameter_mm:.2f} D" if edge_mm else "edge not measured"
    pitch_words = f"pitch {pitch_mm:g} mm, {pitch_mm / diameter_mm:.1f} D" if pitch_mm else "pitch not measured"
    base = _TOP + (edge_mm or 2 * diameter_mm) * scale
    if edge_mm:
        parts.append(
            format_html(
                '<path class="line" stroke-width="3" d="M0 {y}H320"/>'
                '<path class="line" stroke-width="1.5" d="M{x} {top}V{y}M{a} {tip}L{x} {y}L{b} {tip}"/>',
                y=f"{base:.1f}",
                x=f"{x:.1f}",
                top=f"{_TOP:.1f}",
                a=f"{x - 5:.1f}",
                b=f"{x + 5:.1f}",
                tip=f"{base - 8:.1f}",
            )
        )
    if pitch_mm:
        for side in (-1, 1):
            if 1 <= hole.number + side <= last:
                at = x + side * pitch_mm * scale
                parts.append(
                    format_html(
                        '<circle class="line" stroke-width="2" stroke-dasharray="4 4" cx="{at}" cy="{y}" r="{r}"/>'
                        '<text x="{at}" y="18" font-size="17" text-anchor="middle">{number}</text>'
                        '<path class="line" stroke-width="1.5" d="M{x} {line}H{at}M{x} {up}v10M{at} {up}v10"/>',
                        at=f"{at:.1f}",
                        y=f"{_TOP:.1f}",
                        r=f"{diameter_mm / 2 * scale:.1f}",
                        number=hole.number + side,
                        x=f"{x:.1f}",
                        line="32",
                        up="27",
                    )
                )
    oval = ""
    if hole.out_of_round_mm and is_oval(hole.out_of_round_mm):
        worst = f", {hole.edge_ratio:.2f} D on its worst side" if hole.edge_ratio is not None else ""
        oval = f", {hole.out_of_round_mm:.2f} mm out of round{worst}"
    said = f"Hole {hole.number}: {wide:.2f} mm wide{oval}, {edge_words}, {pitch_words}"
    svg = format_html(
        '<svg viewBox="0 0 320 {deep}" role="img" aria-label="{said}">{parts}'
        '<circle class="paper" cx="{x}" cy="{y}" r="{r}"/>'
        '<circle class="line" stroke-width="3" cx="{x}" cy="{y}" r="{r}"/>'
        '<text x="{x}" y="18" font-size="17" font-weight="700" text-anchor="middle">{number}</text></svg>',
        deep=f"{base + 8:.0f}",
        said=said,
        parts=SafeString("".join(parts)),
        x=f"{x:.1f}",
        y=f"{_TOP:.1f}",
        r=f"{wide / 2 * scale:.1f}",
        number=hole.number,
    )
    return HoleStrip(svg, said)
