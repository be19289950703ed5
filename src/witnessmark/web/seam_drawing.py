"""A row drawn to scale, fourteen holes a line, and the section through its stack."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe

from witnessmark.calc.fasteners.length import formed_head
from witnessmark.records.lookups.seams import UNSAID, HoleSeen, RowSeen, SeamDrawn, is_flush
from witnessmark.records.models import HoleState

A_LINE = 14
_STEP, _FIRST, _Y = 23.0, 11.5, 46.0
_UNITS_A_HOLE = _STEP
NEXT = "next"
WORDS = {
    HoleState.RIVETED.value: "riveted",
    HoleState.OVERSIZE.value: "riveted, oversize",
    NEXT: "next",
    HoleState.OPEN.value: "open, waits",
    HoleState.TEMPORARY.value: "temporary (cleco)",
    HoleState.EMPTY.value: "empty",
    UNSAID: "not looked at",
}


@dataclass(frozen=True)
class Line:
    """Fourteen holes of a row: the drawing, and the same in words."""

    svg: SafeString
    words: str


@dataclass(frozen=True)
class Mark:
    """One mark of the legend, with how many holes bear it."""

    svg: SafeString
    count: int
    word: str


def _mark(state: str, x: float, y: float = _Y) -> SafeString:
    """The shape of a hole's state; never colour alone."""
    at = {"x": f"{x:.1f}", "y": f"{y:.1f}"}
    if state == HoleState.RIVETED:
        return format_html('<circle class="solid" cx="{x}" cy="{y}" r="7"/>', **at)
    if state == HoleState.OVERSIZE:
        return format_html(
            '<circle class="solid" cx="{x}" cy="{y}" r="4.5"/>'
            '<circle class="line" stroke-width="2" cx="{x}" cy="{y}" r="8.5"/>',
            **at,
        )
    if state == HoleState.OPEN:
        return format_html(
            '<path class="line" stroke-width="3" d="M{left} {top}h18v18h-18z"/>'
            '<circle class="line" stroke-width="2" cx="{x}" cy="{y}" r="4.5"/>',
            left=f"{x - 9:.1f}",
            top=f"{y - 9:.1f}",
            **at,
        )
    if state == HoleState.TEMPORARY:
        return format_html(
            '<circle class="line" stroke-width="2" cx="{x}" cy="{y}" r="7"/>'
            '<path class="line" stroke-width="2.5" d="M{left} {y}h14M{x} {top}v14"/>',
            left=f"{x - 7:.1f}",
            top=f"{y - 7:.1f}",
            **at,
        )
    if state == NEXT:
        return format_html(
            '<circle class="nowfill" cx="{x}" cy="{y}" r="8"/>'
            '<circle class="line" stroke-width="3" cx="{x}" cy="{y}" r="8"/>'
            '<path class="solid" d="M{left} {top}h14l-7 11z"/>',
            left=f"{x - 7:.1f}",
            top=f"{y - 22:.1f}",
            **at,
        )
    dashes = "" if state == HoleState.EMPTY else ' stroke-dasharray="3 3.4"'
    return format_html(
        '<circle class="line" stroke-width="2"{dashes} cx="{x}" cy="{y}" r="6.5"/>',
        dashes=mark_safe(dashes),  # noqa: S308 one of two constants
        **at,
    )


def spans(numbers: Sequence[int]) -> str:
    """Write hole numbers as a person would: `1 to 14`, `43`, `48, 52`."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and runs[-1][1] == number - 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(str(a) if a == b else f"{a} to {b}" if b > a + 1 else f"{a}, {b}" for a, b in runs)


def _line_words(holes: Sequence[HoleSeen], next_hole: int | None) -> str:
    found: dict[str, list[int]] = {}
    for hole in holes:
        found.setdefault(NEXT if hole.number == next_hole else hole.state, []).append(hole.number)
    words = {**WORDS, HoleState.TEMPORARY.value: "cleco", HoleState.OVERSIZE.value: "oversize"}
    return "; ".join(f"{spans(numbers)} {words[state]}" for state, numbers in found.items())


def _edge(holes: Sequence[HoleSeen], row: RowSeen, units_a_mm: float) -> SafeString:
    """The sheet's edge under the holes, to the pitch's scale where it was measured."""
    edge = row.row.edge_mm
    if not edge and not any(hole.edge_mm for hole in holes):
        return SafeString("")
    ys = [(hole.edge_mm or edge or 0.0) * units_a_mm for hole in holes]
    points = [(_FIRST + i * _STEP, min(_Y + y, 62.0)) for i, y in enumerate(ys)]
    inner = " ".join(f"L{x:.1f} {y:.1f}" for x, y in points)
    return format_html(
        '<path class="line" stroke-width="2" d="M0 {first} {inner} L322 {last}"/>',
        first=f"{points[0][1]:.1f}",
        inner=inner,
        last=f"{points[-1][1]:.1f}",
    )


def _station(row: RowSeen, hole: int) -> str:
    """The station of a hole, reckoned from the row's first station and its pitch, where both are numbers."""
    start, pitch = row.row.from_station, row.row.pitch_mm
    digits = "".join(c for c in start if c.isdigit() or c == ".")
    words = start.rstrip("0123456789., ")
    if not digits or pitch is None or (words and not words.isalpha()):
        return start if hole == 1 else ""
    backward = False
    end = "".join(c for c in row.row.to_station if c.isdigit() or c == ".")
    if end:
        backward = float(end) < float(digits)
    at = float(digits) + (-1 if backward else 1) * (hole - 1) * pitch
    return f"{words} {at:,.0f}".strip()


def row_lines(drawn: SeamDrawn) -> list[Line]:
    """The row, read like text: fourteen holes a line, pitch and edge to one scale."""
    next_hole = drawn.next_hole if drawn.seen.looked_at else None
    scale = _UNITS_A_HOLE / (drawn.seen.row.pitch_mm or 20.0)
    lines = []
    for start in range(0, len(drawn.holes), A_LINE):
        part = drawn.holes[start : start + A_LINE]
        named = {part[0].number, part[-1].number, next_hole} | {
            hole.number for hole in part if hole.state in (HoleState.OPEN, HoleState.OVERSIZE)
        }
        marks, last_named = [], -9
        for i, hole in enumerate(part):
            x = _FIRST + i * _STEP
            marks.append(_mark(NEXT if hole.number == next_hole else hole.state, x))
            edge_of_line = hole.number in (part[0].number, part[-1].number)
            if hole.number in named and (i - last_named > 1 or hole.number == next_hole):
                marks.append(
                    format_html(
                        '<text x="{}" y="18" font-size="17" font-weight="{}" text-anchor="middle">{}</text>',
                        f"{x + (6 if hole.number == next_hole and i - last_named == 1 else 0):.1f}",
                        "500" if edge_of_line and hole.number != next_hole else "700",
                        hole.number,
                    )
                )
                last_named = i
        words = _line_words(part, next_hole)
        lines.append(
            Line(
                format_html(
                    '<svg viewBox="0 0 322 84" role="img" aria-label="Holes {words}">{marks}{edge}'
                    '<text x="0" y="80" font-size="15">{station}</text></svg>',
                    words=words,
                    marks=format_html_join("", "{}", ((mark,) for mark in marks)),
                    edge=_edge(part, drawn.seen, scale),
                    station=_station(drawn.seen, part[0].number),
                ),
                words,
            )
        )
    return lines


def legend(drawn: SeamDrawn) -> list[Mark]:
    """Every mark with its word and how many holes bear it."""
    counts = dict(drawn.seen.counts)
    next_hole = drawn.next_hole if drawn.seen.looked_at else None
    if next_hole is not None:
        state = next(hole.state for hole in drawn.holes if hole.number == next_hole)
        counts[state] -= 1
    counts[NEXT] = 1 if next_hole is not None else 0
    return [
        Mark(
            format_html(
                '<svg viewBox="0 0 28 28" aria-hidden="true">{}</svg>', _mark(state, 14, 18 if state == NEXT else 16)
            ),
            counts.get(state, 0),
            word,
        )
        for state, word in WORDS.items()
    ]


def section(row: RowSeen) -> SafeString:
    """The section through a driven rivet, sheets to scale with each other and with the shop head."""
    if row.grip is None or row.size is None or row.length is None:
        return SafeString("")
    d = row.size.nominal_mm
    scale = min(17.0, 60.0 / row.grip.grip_mm, 51.0 / d)
    top, x, half = 62.0, 150.0, d * scale / 2
    bounds = [top]
    for layer in row.layers:
        bounds.append(bounds[-1] + layer.thickness_mm * scale)
    bottom = bounds[-1]
    head = formed_head(d)
    sheets = format_html_join(
        "",
        '<path class="line" stroke-width="2" d="M20 {0}H{1}M{2} {0}H235"/>',
        ((f"{y:.1f}", f"{x - half:.1f}", f"{x + half:.1f}") for y in bounds),
    )
    names = format_html_join(
        "",
        '<text x="244" y="{}" font-size="18">{} mm</text>',
        (
            (f"{(a + b) / 2 + 6:.1f}", f"{layer.thickness_mm:g}")
            for layer, a, b in zip(row.layers, bounds, bounds[1:], strict=False)
        ),
    )
    wide = half * 1.8
    made = (
        format_html('<path class="solid" d="M{} {}H{}L{} {}H{}z"/>', f"{x - wide:.1f}", top, f"{x + wide:.1f}",
                    f"{x + half:.1f}", f"{top + half * 0.8:.1f}", f"{x - half:.1f}")
        if is_flush(row.size)
        else format_html('<path class="solid" d="M{0} {1}A{2} {3} 0 0 1 {4} {1}z"/>', f"{x - wide:.1f}", top,
                         f"{wide:.1f}", f"{half * 1.3:.1f}", f"{x + wide:.1f}")
    )  # fmt: skip
    return format_html(
        '<svg viewBox="0 0 320 {deep}" role="img" aria-label="Section through the stack: grip {grip} mm, rivet {d} mm '
        'driven">{sheets}<path class="line" stroke-width="2" d="M20 62V{bottom}"/>{made}'
        '<rect class="solid" x="{left}" y="61" width="{shank}" height="{high}"/>'
        '<rect class="solid" rx="6" x="{hl}" y="{bottom}" width="{hw}" height="{hh}"/>{names}'
        '<text x="150" y="{under}" font-size="18" text-anchor="middle">shop head {hd} × {hhm} mm</text></svg>',
        deep=f"{bottom + head.height_mm * scale + 36:.0f}",
        grip=f"{row.grip.grip_mm:g}",
        d=f"{d:g}",
        sheets=sheets,
        bottom=f"{bottom:.1f}",
        made=made,
        left=f"{x - half:.1f}",
        shank=f"{2 * half:.1f}",
        high=f"{bottom - 60:.1f}",
        hl=f"{x - head.diameter_mm * scale / 2:.1f}",
        hw=f"{head.diameter_mm * scale:.1f}",
        hh=f"{head.height_mm * scale:.1f}",
        names=names,
        under=f"{bottom + head.height_mm * scale + 26:.1f}",
        hd=f"{head.diameter_mm:g}",
        hhm=f"{head.height_mm:g}",
    )


def edge_drawing(number: int, edge_mm: float, diameter_mm: float, asked_mm: float, minimum: float) -> SafeString:
    """One hole and its edge in proportion: where the edge is, and where it would have to be."""
    want_mm = minimum * asked_mm
    scale = min(11.5, 92.0 / max(edge_mm, want_mm))
    top, x = 60.0, 176.0
    edge, want = top + edge_mm * scale, top + want_mm * scale
    short = want_mm - edge_mm
    return format_html(
        '<svg viewBox="0 0 320 196" role="img" aria-label="Hole {number}: {e} mm to the edge, {w} mm wanted">'
        '<path d="M0 {edge}H320V4H0z" fill="currentColor" opacity=".07"/>'
        '<path class="line" stroke-width="3.5" d="M0 {edge}H320"/>'
        '<path class="line" stroke-width="3" stroke-dasharray="10 7" d="M30 {want}H320"/>'
        '<circle class="paper" cx="{x}" cy="{top}" r="{r}"/><circle class="line" stroke-width="3" cx="{x}" cy="{top}" r="{r}"/>'
        '<circle class="line" stroke-width="2" stroke-dasharray="5 4" cx="{x}" cy="{top}" r="{asked}"/>'
        '<path class="line" stroke-width="1.5" d="M170 60h12M176 54v12"/>'
        '<path class="line" stroke-width="2" d="M207 60H238M228 60V{edge}M222 {edge_tip}l6 10 6-10M222 70l6-10 6 10"/>'
        '<path class="line" stroke-width="2" d="M145 60H110M120 60V{want}M114 {want_tip}l6 10 6-10M114 70l6-10 6 10"/>'
        '<text x="242" y="112" font-size="22" font-weight="700">{e} mm</text>'
        '<text x="106" y="112" font-size="22" text-anchor="end">{w} mm</text>'
        '<text x="176" y="24" font-size="20" font-weight="700" text-anchor="middle">{number}</text>'
        '<text x="176" y="184" font-size="20" font-weight="700" text-anchor="middle">{words}</text></svg>',
        number=number,
        e=f"{edge_mm:g}",
        w=f"{want_mm:g}",
        edge=f"{edge:.1f}",
        want=f"{want:.1f}",
        edge_tip=f"{edge - 10:.1f}",
        want_tip=f"{want - 10:.1f}",
        x=f"{x:.0f}",
        top=f"{top:.0f}",
        r=f"{diameter_mm / 2 * scale:.1f}",
        asked=f"{asked_mm / 2 * scale:.1f}",
        words=f"short by {short:.2g} mm, {short / 25.4:.3f} in" if short > 0 else "not short",
    )
