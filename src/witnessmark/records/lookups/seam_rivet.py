"""What the record knows for reckoning with a row's rivet: the head, the hole, the sheets; what is missing is named."""

from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.calc.fasteners.catalogue import Shape, cone_height
from witnessmark.calc.fasteners.compare import joint_sheet
from witnessmark.calc.fasteners.driven import LengthChoice, length_choice
from witnessmark.calc.fasteners.flush import least_sheet
from witnessmark.calc.fasteners.joint import Sheet
from witnessmark.calc.fasteners.tooling import drill_for
from witnessmark.records.lookups.catalogue import own_shapes, shape_for
from witnessmark.records.lookups.seams import RowSeen, is_flush, is_inch, missing_layer
from witnessmark.records.models import FastenerSize, Layer


@dataclass(frozen=True)
class LengthAndHead:
    """Both lengths with their stock lengths in half steps, or why there are none; the flush head and the sheet it wants.

    `whole_mm` is the nearest stock length where no half steps can be had.
    """

    choice: LengthChoice | None
    why: str
    hole_mm: float | None
    whole_mm: float | None
    head: Shape | None
    least_sheet_mm: float | None
    outer_mm: float | None


def head_of(size: FastenerSize) -> Shape | None:
    """The head of a size as the shop measured it, else as the catalogue has it; None where neither knows it."""
    return shape_for(size, own_shapes())


def cone_of(head: Shape) -> float:
    """The part of a flush head that lies in the sheet; a dome stands over it and fills nothing."""
    if not head.head_mm or not head.head_deg:
        return head.head_height_mm or 0.0
    return cone_height(head.head_mm, head.shank_mm, head.head_deg)


def dome_of(head: Shape) -> float:
    """How high a domed head was measured over its cone; nought for a flat one."""
    return max(0.0, (head.head_height_mm or 0.0) - cone_of(head)) if head.form == "domed" else 0.0


def length_and_head(seen: RowSeen) -> LengthAndHead:
    """Reckon the length of a row's rivet both ways, with the hole that its drill makes."""
    size = seen.size
    if size is None or seen.length is None or seen.grip is None:
        return LengthAndHead(None, seen.why_no_length, None, None, None, None, None)
    head = head_of(size) if is_flush(size) else None
    tall = cone_of(head) if head else 0.0
    inch = is_inch(size)
    whole_mm = None
    hole, why, choice, least = None, "", None, None
    try:
        hole = drill_for(size.nominal_mm, inch)[1]
        if head is not None and head.head_mm and head.head_deg:
            least = least_sheet(head.head_mm, head.shank_mm, head.head_deg)
        choice, whole = (
            length_choice(
                seen.grip.grip_mm,
                size.nominal_mm,
                hole,
                "flush" if is_flush(size) else "protruding",
                tall,
                "inch" if inch else "metric",
                half,
                seen.length.stock_mm,
            )
            for half in (not inch, False)
        )
        whole_mm = whole.best_stock_mm
    except ValueError as error:
        why = f"{str(error)[:1].upper()}{str(error)[1:].rstrip('.')}. Nothing was reckoned."
    return LengthAndHead(choice, why, hole, whole_mm, head, least, seen.layers[0].thickness_mm if seen.layers else None)


def joint_sheets(layers: Sequence[Layer], tensile_mpa: float | None) -> list[Sheet]:
    """The sheets of a stack with their strengths; ValueError names the sheet whose material says nothing."""
    missing = missing_layer(layers)
    if missing:
        raise ValueError(missing.rstrip("."))
    sheets = []
    for layer in layers:
        try:
            sheets.append(joint_sheet(layer.material, layer.thickness_mm, tensile_mpa))
        except ValueError:
            raise ValueError(
                f"{layer.name} is of {layer.material or 'no material that is written down'}, of which no strength is "
                "held: type the tensile strength below"
            ) from None
    return sheets
