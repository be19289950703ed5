"""Rivets that have to be made: the drawing of each size on the order, or what must be measured before there is one."""

from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.calc.fasteners.catalogue import Form, Shape, built_in, rivet_shape
from witnessmark.calc.fasteners.rivet_drawing import RivetDrawing, draw_rivet
from witnessmark.records.lookups.catalogue import own_shapes, shape_for
from witnessmark.records.lookups.orders import RivetOrder, length_in, rivet_order
from witnessmark.records.lookups.receiving import heads_wanted
from witnessmark.records.lookups.seams import RowSeen, is_flush, is_rivet
from witnessmark.records.models import Aircraft, FastenerSize


class NoLength(ValueError):
    """A size can be drawn, but nothing on record says how long."""


LIMITS = "Limits from memory, common practice; the maker's own come first."


@dataclass(frozen=True)
class OneLength:
    """One length of a size, with what is ordered of it."""

    drawing: RivetDrawing
    label: str
    count: int
    rows: tuple[str, ...]
    on_order: str = ""


@dataclass(frozen=True)
class ToMake:
    """One size that no table of the catalogue has; `missing` says what to measure where it cannot be drawn."""

    code: str
    kind: str
    alloy: str
    source: str
    lengths: tuple[OneLength, ...]
    missing: str
    cautions: tuple[str, ...]
    count: int
    on_order: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Asked:
    """One length of a size that is to be made: asked for now, or on an order that has left."""

    label: str
    stock_mm: float
    count: int
    rows: tuple[RowSeen, ...]
    on_order: str = ""


def rivets_to_make(aircraft: Aircraft, order: RivetOrder) -> list[ToMake]:
    """Every size that has to be made and is wanted or on order, by its code; the queries do not grow with them.

    What has left stays here until it comes: the maker asks for his drawing again, and the box is held against it.
    """
    own = own_shapes()
    heads = heads_wanted(aircraft)
    sizes: dict[str, FastenerSize] = {}
    asked: dict[str, list[_Asked]] = {}
    waits: dict[tuple[str, float], tuple[RowSeen, ...]] = {}
    for line in (*(each for group in order.vendors for each in group.lines), *order.covered):
        waits[line.size.code, round(line.line.stock_mm, 2)] = line.rows
    for group in order.vendors:
        for line in group.lines:
            sizes[line.size.code] = line.size
            wanted = _Asked(line.line.stock_label, line.line.stock_mm, line.line.count, line.rows)
            asked.setdefault(line.size.code, []).append(wanted)
    for placed in order.placed:
        mm = length_in(placed.what, placed.size.code) if placed.size is not None else None
        if placed.size is None or mm is None or not placed.ordered_on or placed.came_on:
            continue
        if not is_rivet(placed.size):
            continue
        code = placed.size.code
        sizes[code] = placed.size
        label = placed.what.partition(code)[2].strip(" x×").partition(",")[0]
        rows = waits.get((code, round(mm, 2)), ())
        asked.setdefault(code, []).append(_Asked(label, mm, placed.count, rows, placed.number))
    mine = {shape.code for shape in own}
    return [
        _to_make(sizes[code], lines, next((shape for shape in own if shape.code == code), None), heads)
        for code, lines in sorted(asked.items())
        if code in mine or shape_for(sizes[code], own) is None
    ]


def drawings_of(aircraft: Aircraft, code: str, length_mm: float | None = None) -> tuple[list[RivetDrawing], list[str]]:
    """The drawings of one size with their notes, in the lengths of the order or the one given.

    A ValueError says what must be measured, or that there is no such size; NoLength that nothing says how long it is.
    """
    found = next((size for size in rivets_to_make(aircraft, rivet_order(aircraft)) if size.code == code), None)
    if found is not None and length_mm is None:
        if found.missing:
            raise ValueError(f"{code} cannot be drawn: {found.missing.rstrip('.')}")
        notes = [f"{one.count} of {code} x {one.label}{_for(one)}" for one in found.lengths]
        return [one.drawing for one in found.lengths], [
            *notes,
            f"Material: {found.alloy or 'not written down'}",
            f"Figures from: {found.source}",
            *found.cautions,
            *found.lengths[0].drawing.printed_limits,
            LIMITS,
        ]
    shape = next((shape for shape in (*own_shapes(), *built_in()) if shape.code == code), None)
    if shape is None:
        raise ValueError(f"{code} cannot be drawn: nobody has measured such a size; measure it under fasteners first")
    if length_mm is None:
        raise NoLength(f"{code} is neither wanted by a row to be made nor on order, so nothing says how long it is")
    return [draw_rivet(shape, length_mm)], [f"Figures from: {shape.source}", LIMITS]


def _for(one: OneLength) -> str:
    """What a length is for, as it stands after the count."""
    told = [f"on order {one.on_order}"] if one.on_order else []
    return "".join(f", {each}" for each in (*told, *([f"rows {', '.join(one.rows)}"] if one.rows else [])))


def _to_make(size: FastenerSize, lines: Sequence[_Asked], own: Shape | None, heads: dict[int, float]) -> ToMake:
    count = sum(line.count for line in lines)
    read = {row.name: heads[row.place.pk] for line in lines for row in line.rows if row.place.pk in heads}
    drawn: list[OneLength] = []
    missing, cautions, source = "", [], ""
    try:
        shape = own or _from_readings(size, read)
        source = shape.source
        drawn = [
            OneLength(
                draw_rivet(shape, line.stock_mm),
                line.label,
                line.count,
                tuple(r.name for r in line.rows),
                line.on_order,
            )
            for line in lines
        ]
        cautions = [
            f"Row {row}: its heads were measured {head:g} mm, the drawing says {shape.head_mm:g} mm. "
            "Settle which is right before the order leaves."
            for row, head in read.items()
            if shape.head_mm is not None and abs(head - shape.head_mm) > shape.head_tol_mm
        ]
    except ValueError as error:
        why = str(error).removeprefix(f"{size.code}: ")
        missing = f"{why[:1].upper()}{why[1:]}."
    orders = tuple(dict.fromkeys(line.on_order for line in lines if line.on_order))
    return ToMake(size.code, size.kind, size.alloy, source, tuple(drawn), missing, tuple(cautions), count, orders)


def _from_readings(size: FastenerSize, read: dict[str, float]) -> Shape:
    """Make the shape from the heads read on the rows; a dome or a round head is not to be had from them."""
    kind = size.kind.lower()
    if not is_flush(size):
        raise ValueError("first measure the width and the height of its head on a rivet knocked out whole")
    want = [] if size.head_deg else ["the angle"]
    want += [] if read else ["the width"]
    want += ["the height, dome and all,"] if "domed" in kind else []
    if want:
        raise ValueError(
            f"first measure {' and '.join(want)} of its head on a rivet knocked out whole".replace(",, ", ", ")
        )
    if max(read.values()) - min(read.values()) > 0.03 + 0.0125 * max(read.values()):
        told = ", ".join(f"{row} {head:g} mm" for row, head in read.items())
        raise ValueError(f"its rows bear heads of different widths ({told}): first say which size each row has")
    form: Form = "flush"
    head = round(sum(read.values()) / len(read), 2)
    where = f"heads measured on rows {', '.join(read)}"
    return rivet_shape(size.code, size.family, form, size.nominal_mm, head, size.head_deg, source=where)
