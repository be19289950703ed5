"""The sizes a fastener may be of: those that come with the program and those the shop measured."""

from dataclasses import dataclass
from typing import cast

from witnessmark.calc.fasteners.catalogue import Form, Shape, built_in, rivet_shape, thread_shape
from witnessmark.calc.fasteners.identify import Identification, identify
from witnessmark.calc.fasteners.readings import Measurements
from witnessmark.records.models import MeasuredSize


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
