"""The sizes a fastener may be of: those that come with the program and those the shop measured."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import cast

from witnessmark.calc.fasteners.catalogue import Form, Shape, built_in, rivet_shape, thread_shape
from witnessmark.calc.fasteners.identify import Identification, identify
from witnessmark.calc.fasteners.readings import Measurements
from witnessmark.records.lookups.seams import is_flush, is_inch, is_rivet
from witnessmark.records.models import FastenerSize, MeasuredSize


@dataclass(frozen=True)
class Family:
    """One family with its sizes; `own` where the shop added it."""

    name: str
    sizes: tuple[Shape, ...]
    own: bool

    @property
    def statuses(self) -> str:
        return "measured" if self.own else ", ".join(sorted({size.status for size in self.sizes}))

    @property
    def sources(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(size.source for size in self.sizes))


def shape_of(size: MeasuredSize) -> Shape:
    """Make the shape of a size the shop measured."""
    if size.form == "thread" and size.pitch_mm is not None:
        return thread_shape(
            size.code,
            size.family,
            size.shank_mm,
            size.pitch_mm,
            size.thread_deg or 60.0,
            size.across_flats_mm,
            source=size.measured_on,
        )
    assert size.head_mm is not None
    return rivet_shape(
        size.code,
        size.family,
        cast("Form", size.form),
        size.shank_mm,
        size.head_mm,
        size.head_deg,
        size.head_height_mm,
        source=size.measured_on,
    )


def own_shapes() -> tuple[Shape, ...]:
    """Every size the shop added, in one query."""
    return tuple(shape_of(size) for size in MeasuredSize.objects.all())


def shape_for(size: FastenerSize, own: Sequence[Shape]) -> Shape | None:
    """The shape of a size on the shop's list: by its code, else, for an inch rivet, by its diameter, head and angle.

    A metric diameter and angle is met with heads of many norms, so there the code alone says which it is.
    """
    keyed = next((shape for shape in (*own, *built_in()) if shape.code == size.code), None)
    if keyed is not None or not is_rivet(size) or not is_inch(size) or "domed" in size.kind.lower():
        return keyed
    form = "flush" if is_flush(size) else "universal" if "universal" in size.kind.lower() else "round"
    fit = [
        shape
        for shape in built_in()
        if shape.form == form
        and shape.family.startswith("inch")
        and abs(shape.shank_mm - size.nominal_mm) < 0.02
        and (shape.head_deg or 0) == (size.head_deg or 0)
    ]
    return fit[0] if len(fit) == 1 else None


def shapes_for(sizes: Iterable[FastenerSize | None]) -> dict[str, Shape]:
    """The shapes of these sizes by their code; without those that have none."""
    own, known = own_shapes(), {size.code: size for size in sizes if size is not None}
    found = {code: shape_for(size, own) for code, size in known.items()}
    return {code: shape for code, shape in found.items() if shape is not None}


def families() -> list[Family]:
    """Every family with its sizes, the shop's own first."""
    found: dict[tuple[bool, str], list[Shape]] = {}
    for own, shapes in ((True, own_shapes()), (False, built_in())):
        for shape in shapes:
            found.setdefault((own, shape.family), []).append(shape)
    return [Family(name, tuple(sizes), own) for (own, name), sizes in found.items()]


def what_is_it(measurements: Measurements, cannot: frozenset[str] = frozenset()) -> Identification:
    """Identify one fastener among all families, the shop's own among them."""
    return identify(measurements, families=own_shapes(), cannot=cannot)
