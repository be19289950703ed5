"""What the survey writes: heads measured, families added, the risk set and accepted."""

import uuid
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from witnessmark.calc.fasteners.catalogue import FORMS, built_in
from witnessmark.calc.fasteners.readings import WAYS, BadReading, Reading, parse_readings, read_measurements
from witnessmark.records.actions.answers import keep_answer, rely_on
from witnessmark.records.actions.row_size import weigh
from witnessmark.records.actions.saying import Refused, Result, say
from witnessmark.records.lookups.catalogue import shape_of
from witnessmark.records.lookups.survey import KIND, STRUCTURES, SurveySeen, survey
from witnessmark.records.models import (
    Act,
    Aircraft,
    FastenerSize,
    Hole,
    HoleReading,
    MeasuredSize,
    Person,
    Piece,
    Role,
    Row,
)

_OF_A_SIZE = (
    "shank_mm",
    "head_mm",
    "head_deg",
    "head_height_mm",
    "pitch_mm",
    "thread_deg",
    "across_flats_mm",
)


def read_typed(typed: Mapping[str, str], painted: bool = False) -> dict[str, Reading]:
    """Read figures as they were typed, each and against each other; raises Refused with what was wrong."""
    try:
        figures = parse_readings(typed)
        if painted and "head_mm" in figures:
            head = figures["head_mm"]
            figures["head_mm"] = Reading(head.value, head.uncertainty, painted=True)
        return read_measurements(figures)
    except BadReading as error:
        raise Refused(str(error)) from None


def measure_head(
    *,
    by: Person,
    act_id: uuid.UUID,
    row: Row,
    hole: int,
    typed: Mapping[str, str],
    layer: int = 1,
    painted: bool = False,
    happened_at: datetime | None = None,
) -> Result:
    """Write down what was measured at one hole of a row, in one of its layers, each figure with its uncertainty."""
    figures = read_typed(typed, painted)
    if not figures:
        raise Refused("Nothing was measured. Nothing was stored; type at least one figure.")
    if not 1 <= hole <= row.place.capacity:
        raise Refused(f"The row has holes 1 to {row.place.capacity}, not {hole}. Nothing was stored.")

    def do(act: Act) -> Result:
        at, _ = Hole.objects.get_or_create(place_id=row.pk, number=hole)
        sheet = row.layers.filter(number=layer).first()
        piece = (
            Piece.objects.filter(part_no=sheet.part_no, aircraft=row.place.aircraft).first()
            if sheet is not None and sheet.part_no
            else None
        )
        HoleReading.objects.bulk_create(
            [
                _reading(at, act, what, figure, _as_typed(typed, what), sheet.name if sheet else "", piece)
                for what, figure in figures.items()
            ]
        )
        weigh(row)
        return {"row": row.pk, "hole": hole, "figures": len(figures)}

    said = {"row": row.pk, "hole": hole, "typed": dict(typed), "layer": layer, "painted": painted}
    return say(
        "measure_head", by=by, act_id=act_id, said=said, do=do, aircraft=row.place.aircraft, happened_at=happened_at
    )


def _as_typed(typed: Mapping[str, str], what: str) -> str:
    """The wide way of a hole may stand with its narrow way in one field."""
    return (typed.get(what, "").strip() or typed.get("hole_mm", "").strip())[:40]


def _reading(
    hole: Hole, act: Act, what: str, figure: Reading, typed: str, layer: str, piece: Piece | None
) -> HoleReading:
    kind = WAYS[what].kind
    return HoleReading(
        hole=hole,
        act=act,
        what=what,
        typed=typed,
        layer_name=layer,
        layer_piece=piece,
        painted=figure.painted,
        value_mm=float(figure.value) if kind == "length" else None,
        value_deg=float(figure.value) if kind == "angle" else None,
        word=str(figure.value) if kind == "choice" else "",
        uncertainty_mm=figure.uncertainty if kind == "length" else None,
        uncertainty_deg=figure.uncertainty if kind == "angle" else None,
    )


def add_size(
    *,
    by: Person,
    act_id: uuid.UUID,
    code: str,
    family: str,
    form: str,
    typed: Mapping[str, str],
    measured_on: str,
    happened_at: datetime | None = None,
) -> Result:
    """Add one size of a family from measurement; from then on it is a candidate like any other."""
    made = made_size(
        code=code, family=family, form=form, typed=typed, measured_on=measured_on.strip() or f"measured, {by.name}"
    )
    name, group = made.code, made.family

    def do(act: Act) -> Result:
        if MeasuredSize.objects.filter(code__iexact=name).exists():
            raise Refused(f"{name} is in the record already. Nothing was stored. Call this one otherwise.")
        made.act = act
        made.save(force_insert=True)
        return {"code": name, "family": group}

    said = {"code": name, "family": group, "form": form, "typed": dict(typed), "measured_on": measured_on}
    return say("add_size", by=by, act_id=act_id, said=said, do=do, happened_at=happened_at)


def made_size(*, code: str, family: str, form: str, typed: Mapping[str, str], measured_on: str) -> MeasuredSize:
    """Make a size from what was typed, not yet written; raises Refused with what is wrong or missing."""
    name, group = " ".join(code.split()), " ".join(family.split())
    if not name or not group or len(name) > 60 or len(group) > 120:
        raise Refused("A size needs what it is called and the family it is of. Nothing was stored.")
    if form not in FORMS:
        said = f"'{form[:20]}' is no kind of head" if form else "No kind of head was given"
        raise Refused(f"{said}: {', '.join(FORMS)}. Nothing was stored.")
    figures = read_typed({what: text for what, text in typed.items() if what in _OF_A_SIZE})
    if name.casefold() in {shape.code.casefold() for shape in built_in()}:
        raise Refused(f"{name} is in the catalogue already. Nothing was stored. Call yours otherwise.")
    made = MeasuredSize(
        code=name,
        family=group,
        form=form,
        measured_on=measured_on[:200],
        **{what: float(figure.value) for what, figure in figures.items()},
    )
    missing = [WAYS[what].label for what in _needed(form) if what not in figures]
    if missing:
        raise Refused(f"Missing: {' and '.join(missing)}. Nothing was stored; measure on one you are sure of.")
    try:
        shape_of(made)
    except ValueError as error:
        raise Refused(f"{str(error).rstrip('.')}. Nothing was stored; measure again.") from None
    return made


def _needed(form: str) -> tuple[str, ...]:
    if form == "thread":
        return ("shank_mm", "pitch_mm")
    return ("shank_mm", "head_mm", "head_deg") if form in ("flush", "domed") else ("shank_mm", "head_mm")


def say_structure(*, by: Person, act_id: uuid.UUID, row: Row, structure: str) -> Result:
    """Say what structure a row belongs to, where its name does not."""
    if structure not in STRUCTURES:
        raise Refused(f"'{structure[:20]}' is none of {', '.join(STRUCTURES)}. Nothing was changed.")

    def do(_act: Act) -> Result:
        row.structure = structure
        row.save(update_fields=["structure"])
        return {"row": row.pk, "structure": structure}

    said = {"row": row.pk, "structure": structure}
    return say("say_structure", by=by, act_id=act_id, said=said, do=do, aircraft=row.place.aircraft)


def say_row_size(*, by: Person, act_id: uuid.UUID, row: Row, code: str) -> Result:
    """Say which size of the shop's list a row holds, now that its heads were measured."""

    def do(_act: Act) -> Result:
        size = FastenerSize.objects.filter(code=code).first()
        if size is None:
            raise Refused(f"The list has no size '{code[:40]}'. Nothing was changed. Choose one of the list.")
        row.place.wants_size = size
        row.place.save(update_fields=["wants_size"])
        weigh(row)
        return {"row": row.pk, "size": size.code}

    said = {"row": row.pk, "size": code}
    return say("say_row_size", by=by, act_id=act_id, said=said, do=do, aircraft=row.place.aircraft)


def set_unseen_limit(*, by: Person, act_id: uuid.UUID, aircraft: Aircraft, limit: float) -> Result:
    """Set the chance of a size nobody has seen that the shop is ready to bear; what was accepted before lapses."""
    if not 0.005 <= limit <= 0.5:
        raise Refused("A chance to bear lies between 0.5 and 50 in a hundred. Nothing was changed.")

    def do(_act: Act) -> Result:
        aircraft.unseen_limit = limit
        aircraft.save(update_fields=["unseen_limit"])
        return {"limit": limit}

    return say(
        "set_unseen_limit",
        by=by,
        act_id=act_id,
        said={"limit": limit},
        do=do,
        aircraft=aircraft,
        roles=(Role.LEAD, Role.INSPECTOR),
    )


def accept_survey_risk(*, by: Person, act_id: uuid.UUID, aircraft: Aircraft, reason: str) -> Result:
    """Accept, with a name and a reason, what the survey leaves open; the answer is frozen with the act."""
    why = reason.strip()
    if not why:
        raise Refused("Say why the order may leave with rows not looked at. Nothing was changed.")

    def do(act: Act) -> Result:
        seen = survey(aircraft)
        if all(row.looked_at for row in seen.rows):
            raise Refused("Every row is looked at: there is nothing to accept. Nothing was changed.")
        freeze_survey(act, aircraft, seen)
        return {"chance": seen.risk.chance, "no_claim": len(seen.risk.no_claim)}

    return say(
        "accept_survey_risk",
        by=by,
        act_id=act_id,
        said={"reason": why[:300]},
        do=do,
        aircraft=aircraft,
        roles=(Role.LEAD, Role.INSPECTOR),
    )


def freeze_survey(act: Act, aircraft: Aircraft, seen: SurveySeen) -> None:
    """Freeze what the survey said with the act that relied on it."""
    told: dict[str, Any] = seen.risk.to_dict()
    working = told.pop("working")
    rely_on(act, keep_answer(KIND, aircraft.name[:120], inputs=seen.inputs, result=told, working=working))
