"""What the heads measured in a row make of the size that the list gives it: they agree, they differ, or have no name."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from witnessmark.calc.fasteners.catalogue import Shape, built_in
from witnessmark.calc.fasteners.identify import SURE
from witnessmark.calc.fasteners.readings import WAYS, Way
from witnessmark.records.lookups.catalogue import own_shapes
from witnessmark.records.lookups.survey import HeadSeen, RowHeads, fits_size
from witnessmark.records.models import Act, FastenerSize, Row

# What names a head, in the order of its bother; a driven shank tells what its hole does.
_NAMING = ("form", "head_mm", "hole_mm", "head_deg", "head_height_mm")


@dataclass(frozen=True)
class Met:
    """One kind of head that was met in a row, and the sizes of the shop's list that it may be."""

    name: str
    shape: Shape
    holes: tuple[int, ...]
    sizes: tuple[FastenerSize, ...]

    @property
    def codes(self) -> tuple[str, ...]:
        """What it is called on the list; its own name where the list has no such size."""
        return tuple(size.code for size in self.sizes) or (self.name,)


@dataclass(frozen=True)
class RowSize:
    """What was met in a row beside what the list says of it; `differing` is what nobody has settled.

    `fitting` heads have no name of their own, but whatever they are, it fits the list's size.
    """

    says: str
    met: tuple[Met, ...]
    differing: tuple[Met, ...]
    fitting: tuple[HeadSeen, ...]
    unnamed: tuple[HeadSeen, ...]
    more: int

    @property
    def chosen_from(self) -> tuple[tuple[str, tuple[Met, ...]], ...]:
        """The sizes that the row may be said to hold, each with what else was met in it."""
        return tuple((code, tuple(m for m in self.met if m is not one)) for one in self.met for code in one.codes)

    @property
    def ask(self) -> tuple[int, Way | None] | None:
        """At which hole to measure what next, where a head has no name; no way where everything was read."""
        if not self.unnamed:
            return None
        head = self.unnamed[0]
        if head.found is not None and head.found.next_measurement is not None:
            return head.hole, WAYS[head.found.next_measurement.what]
        read = {reading.what for reading in head.readings}
        looks = {reading.word for reading in head.readings if reading.what == "form"}
        if read & {"driven_shank_mm", "shank_mm"}:
            read.add("hole_mm")
        if looks & {"round", "universal", "thread"}:
            read.add("head_deg")
        return head.hole, next((WAYS[what] for what in _NAMING if what not in read), None)


def size_of_row(row: Row, heads: RowHeads, sizes: Sequence[FastenerSize] | None = None) -> RowSize:
    """Hold what was measured in a row against its size on the list."""
    listed = list(FastenerSize.objects.all()) if sizes is None else sizes
    known = {shape.code: shape for shape in (*built_in(), *own_shapes())} if heads.heads else {}
    size = row.place.wants_size
    met: dict[str, Met] = {}
    fitting: list[HeadSeen] = []
    unnamed: list[HeadSeen] = []
    for head in heads.heads:
        if not head.named or head.found is None:
            (fitting if _fits(head, size, known) else unnamed).append(head)
            continue
        best = head.found.candidates[0]
        assert best.shape is not None
        fit = tuple(s for s in listed if s.code in best.names or _is(best.shape, s, known.get(s.code)))
        before = met.get(best.name)
        met[best.name] = Met(best.name, best.shape, (*(before.holes if before else ()), head.hole), fit)
    settled = {size.code if size else "", *filter(None, row.also_holds.split("; "))}
    return RowSize(
        says=size.code if size else "",
        met=tuple(met.values()),
        differing=tuple(each for each in met.values() if not settled.intersection(each.codes)),
        fitting=tuple(fitting),
        unnamed=tuple(unnamed),
        more=heads.more,
    )


def _is(shape: Shape, size: FastenerSize, head: Shape | None) -> bool:
    """Whether a head that has a name is of this size: a dome on a flat size, or a flat top on a round one, is another."""
    kind = size.kind.lower()
    words = {"flush": "domed" not in kind, "domed": "domed" in kind, "round": "universal" not in kind}
    return words.get(shape.form, True) and fits_size(shape, size, head)


def _fits(head: HeadSeen, size: FastenerSize | None, known: dict[str, Shape]) -> bool:
    """Whether all that a head without a name may be fits one size of the list: only its dome is not known."""
    if size is None or head.found is None:
        return False
    shapes = [(each.shape, each.probability) for each in head.found.candidates]
    return sum(p for s, p in shapes if s is not None and fits_size(s, size, known.get(size.code))) >= SURE


def who_settled(row: Row) -> dict[str, Any] | None:
    """Who said last which size a row holds, when, and why; None where nobody had to."""
    act = (
        Act.objects.filter(verb="settle_row_size", aircraft=row.place.aircraft, said__row=row.pk)
        .select_related("person", "actresult")
        .order_by("-recorded_at")
        .first()
    )
    if act is None:
        return None
    return {"by": act.person.name, "at": act.happened_at, "reason": act.said["reason"], **act.actresult.result}
