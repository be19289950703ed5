"""How far the aircraft's rows were looked at: what may still be out there, who accepted it, which rows come next."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, cast

from witnessmark.calc.fasteners.catalogue import Shape
from witnessmark.calc.fasteners.identify import Identification, identify_many
from witnessmark.calc.fasteners.readings import Reading
from witnessmark.calc.fasteners.sampling import Reach, SurveyRisk, SurveyRow, heads_to_measure, survey_risk
from witnessmark.records.lookups.catalogue import own_shapes
from witnessmark.records.lookups.seams import RowSeen, rows_seen
from witnessmark.records.models import Act, Aircraft, Answer, AnswerReliedOn, FastenerSize, HoleReading, Row

KIND = "survey risk"
DISPUTED = "disputed"
STRUCTURES = ("spar", "rib", "frame", "stringer", "keel", "skin", "repair")
_WORDS = (
    ("repair", re.compile(r"repair|patch|doubler", re.IGNORECASE)),
    ("spar", re.compile(r"\bspar", re.IGNORECASE)),
    ("rib", re.compile(r"\bribs?\b", re.IGNORECASE)),
    ("keel", re.compile(r"\bkeel|\bchine", re.IGNORECASE)),
    ("frame", re.compile(r"\bframe|bulkhead", re.IGNORECASE)),
    ("stringer", re.compile(r"stringer|longeron", re.IGNORECASE)),
)


@dataclass(frozen=True)
class Accepted:
    """Who accepted the risk, in which words, and whether the record is still as it was then."""

    by: str
    reason: str
    stands: bool
    act: Act


@dataclass(frozen=True)
class SurveySeen:
    """The aircraft's survey as it stands."""

    risk: SurveyRisk
    rows: tuple[RowSeen, ...]
    structure_of: dict[str, str]
    accepted: Accepted | None
    inputs: dict[str, Any]

    @property
    def holds(self) -> bool:
        """Whether an order has to wait: rows are left or nothing is claimed of some, and nobody accepted that."""
        open_rows = any(not row.looked_at for row in self.rows)
        return open_rows and not (self.accepted is not None and self.accepted.stands)

    @property
    def next_rows(self) -> tuple[RowSeen, ...]:
        """The rows to look at next, best first."""
        by_name = {row.name: row for row in self.rows}
        return tuple(by_name[name] for name in self.risk.next_rows)

    @property
    def stripes(self) -> tuple[RowSeen, ...]:
        """Rows under paint: a stripe along each has to be stripped before it can be looked at."""
        return tuple(row for row in self.rows if row.row.looked_at == "under paint")


@dataclass(frozen=True)
class HeadSeen:
    """What was read at one hole of a row, and what that makes it."""

    hole: int
    readings: tuple[HoleReading, ...]
    found: Identification | None
    why_not: str

    @property
    def named(self) -> bool:
        """Whether it is sure of which family and size it is."""
        return self.found is not None and self.found.answered and not self.found.is_none

    @property
    def strange(self) -> bool:
        """Whether it is sure that it is of no family here."""
        return self.found is not None and self.found.answered and self.found.is_none


@dataclass(frozen=True)
class RowHeads:
    """The heads of one row as measured: what they are, whether they agree, how many more."""

    heads: tuple[HeadSeen, ...]
    more: int
    names: tuple[str, ...]
    next_hole: int | None

    @property
    def agree(self) -> bool:
        return len(self.names) <= 1


def structure_of(row: Row) -> str:
    """Say what structure a row belongs to: as written, else by the words of its seam and its stack."""
    if row.structure:
        return row.structure
    for name, words in _WORDS:
        if words.search(row.seam):
            return name
    for name, words in _WORDS:
        if any(words.search(layer.name) for layer in row.layers.all()):
            return name
    return "skin"


def survey(aircraft: Aircraft, rows: Sequence[RowSeen] | None = None) -> SurveySeen:
    """Work out what the survey of the aircraft leaves open; as many queries for 10 rows as for 1,000."""
    seen = tuple(rows) if rows is not None else tuple(rows_seen(aircraft))
    structures, asked, inputs = _asked(aircraft, seen)
    risk = survey_risk(asked, aircraft.unseen_limit)
    return SurveySeen(risk, seen, structures, _accepted(aircraft, inputs), inputs)


def risk_accepted(aircraft: Aircraft, rows: Sequence[RowSeen]) -> Accepted | None:
    """Who accepted what the survey leaves open, and whether that stands; the risk itself is not reckoned anew."""
    return _accepted(aircraft, _asked(aircraft, rows)[2])


def _asked(aircraft: Aircraft, rows: Sequence[RowSeen]) -> tuple[dict[str, str], list[SurveyRow], dict[str, Any]]:
    structures = {row.name: structure_of(row.row) for row in rows}
    asked = [
        SurveyRow(
            row.name,
            structures[row.name],
            row.holes,
            cast("Reach", "looked at" if row.looked_at else _reach(row.row)),
            " and ".join(filter(None, (row.size.code, *row.row.also_holds.split("; "))))
            if row.looked_at and row.size is not None
            else "",
        )
        for row in rows
    ]
    inputs = {
        "limit": aircraft.unseen_limit,
        "rows": [
            [
                each.name,
                each.structure,
                each.holes,
                DISPUTED if row.row.looked_at == DISPUTED else each.reach,
                each.kind,
            ]
            for each, row in zip(asked, rows, strict=True)
        ],
    }
    return structures, asked, inputs


def _reach(row: Row) -> str:
    """A disputed row can be looked at, and is not."""
    return "not looked at" if row.looked_at in ("no", DISPUTED) else row.looked_at


def _accepted(aircraft: Aircraft, inputs: dict[str, Any]) -> Accepted | None:
    relied = (
        AnswerReliedOn.objects.filter(
            act__verb__in=("accept_survey_risk", "order_leaves"), act__aircraft=aircraft, answer__kind=KIND
        )
        .select_related("answer", "act__person")
        .order_by("-act__recorded_at", "-id")
        .first()
    )
    if relied is None:
        return None
    said = relied.act.said
    return Accepted(
        by=relied.act.person.name,
        reason=str(said.get("reason") or said.get("risk_accepted") or ""),
        stands=_same(relied.answer, inputs),
        act=relied.act,
    )


def _same(answer: Answer, inputs: dict[str, Any]) -> bool:
    """Whether what was accepted still covers what is open: the same rows, or fewer of them left, and no new size."""
    then = {row[0]: row for row in answer.inputs["rows"]}
    if answer.inputs["limit"] != inputs["limit"] or set(then) != {row[0] for row in inputs["rows"]}:
        return False
    met = {row[4] for row in then.values() if row[3] == "looked at"}
    for name, structure, holes, reach, kind in inputs["rows"]:
        before = then[name]
        if before[3] == "looked at":
            if [name, structure, holes, reach, kind] != list(before):
                return False
        elif reach == "looked at" and kind not in met:
            return False
        elif reach == DISPUTED != before[3]:
            return False  # something was measured there that the list does not know
    return True


def as_readings(read: Sequence[HoleReading]) -> dict[str, Reading]:
    """Give what was read at one hole as the identifier takes it; the newest figure of each kind counts."""
    figures: dict[str, Reading] = {}
    acts = {FROM_LISTS.get(each.what, each.what): each.act_id for each in read}
    for each in read:
        what = FROM_LISTS.get(each.what, each.what)
        if what == "hole_wide_mm" and acts.get("hole_mm") != acts[what]:
            continue  # the hole was measured anew since
        if each.word:
            figures[what] = Reading(each.word)
        elif each.value_deg is not None:
            figures[what] = Reading(each.value_deg, each.uncertainty_deg, each.painted)
        elif each.value_mm is not None and what.endswith("_mm"):
            figures[what] = Reading(each.value_mm, each.uncertainty_mm, each.painted)
    return figures


FROM_LISTS = {"hole": "hole_mm"}


def fits_size(shape: Shape, size: FastenerSize, head: Shape | None = None) -> bool:
    """Whether a size of the shop's list may be this one: by diameter, head angle and pitch, and its head where known."""
    if abs(size.nominal_mm - shape.shank_mm) > 0.06 or (size.pitch_mm is None) != (shape.pitch_mm is None):
        return False
    if size.pitch_mm is not None and shape.pitch_mm is not None:
        return abs(size.pitch_mm / shape.pitch_mm - 1) < 0.01
    if (size.head_deg is None) != (shape.head_deg is None):
        return False
    if size.head_deg is not None and shape.head_deg is not None and abs(size.head_deg - shape.head_deg) >= 4:
        return False
    if head is None or head.head_mm is None or shape.head_mm is None:
        return True
    return abs(head.head_mm - shape.head_mm) <= head.head_tol_mm + shape.head_tol_mm + 0.03


def row_heads(row: Row) -> RowHeads:
    """Say of every head measured in a row what it is, whether they agree, and where to measure on."""
    from witnessmark.calc.fasteners.readings import BadReading, read_measurements

    by_hole: dict[int, list[HoleReading]] = {}
    measured = HoleReading.objects.filter(hole__place_id=row.pk, act__verb="measure_head").select_related("hole", "act")
    for reading in measured.order_by("id"):
        by_hole.setdefault(reading.hole.number, []).append(reading)
    shapes = own_shapes()
    heads = []
    for hole, read in sorted(by_hole.items()):
        figures = as_readings(read)
        try:
            read_measurements(figures)
            found, why = identify_many([figures], families=shapes)[0], ""
        except BadReading as error:
            found, why = None, str(error)
        heads.append(HeadSeen(hole, tuple(read), found, why))
    names = [head.found.word for head in heads if head.named and head.found is not None]
    capacity = row.place.capacity
    unsure = len(heads) - len(names)
    more = (
        heads_to_measure([*names, *(names[:1] * unsure)], capacity) if names else max(0, min(3, capacity) - len(heads))
    )
    taken = set(by_hole)
    return RowHeads(tuple(heads), more, tuple(dict.fromkeys(names)), _next_hole(taken, capacity) if more else None)


def _next_hole(taken: set[int], capacity: int) -> int | None:
    """Where to measure next: first, last and middle, then the hole farthest from those measured."""
    for wanted in (1, capacity, (capacity + 1) // 2):
        if wanted not in taken:
            return wanted
    free = [hole for hole in range(1, capacity + 1) if hole not in taken]
    return max(free, key=lambda hole: (min(abs(hole - each) for each in taken), -hole)) if free else None
