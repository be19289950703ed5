"""Measured says one size and the list another: the row is disputed until a named person says which it is, and why."""

import uuid
from datetime import datetime

from witnessmark.calc.fasteners.catalogue import Shape
from witnessmark.records.actions.saying import Refused, Result, say
from witnessmark.records.lookups.row_size import RowSize, size_of_row
from witnessmark.records.lookups.survey import row_heads
from witnessmark.records.models import Act, FastenerSize, LookedAt, Person, Row

_KINDS = {
    "flush": "flush rivet, {deg:g}",
    "domed": "flush rivet, domed {deg:g}",
    "round": "round-head rivet",
    "universal": "universal rivet",
    "thread": "bolt or screw",
}


def _fresh(row: Row) -> Row:
    return (
        Row.objects.select_for_update(of=("self",))
        .select_related("place__wants_size", "place__aircraft")
        .get(pk=row.pk)
    )


def weigh(row: Row) -> None:
    """Hold a row's heads against its size, inside an act: where they differ it is disputed, and not looked at any more."""
    fresh = _fresh(row)
    seen = size_of_row(fresh, row_heads(fresh))
    state = fresh.looked_at
    if seen.differing and seen.says:
        state = LookedAt.DISPUTED
    elif state == LookedAt.DISPUTED or (state == LookedAt.YES and any(head.strange for head in seen.unnamed)):
        state = LookedAt.NO
    if state != fresh.looked_at:
        Row.objects.filter(pk=row.pk).update(looked_at=state)
    row.looked_at = state


def refuse_unsettled(row: Row) -> None:
    """Refuse that a row is looked at while what was measured in it contradicts its size, or has no name."""
    fresh = _fresh(row)
    heads = row_heads(fresh)
    if not heads.heads:
        return
    seen, name = size_of_row(fresh, heads), f"Row {row.place.mark}"
    if seen.differing:
        says = f"the list says {seen.says}" if seen.says else "no size is written down for it"
        raise Refused(
            f"{name}: measured says {_words(seen)}, {says}. Nothing was changed: it stays not looked at. "
            "Say on the row's survey page which it is, and why."
        )
    if seen.unnamed:
        hole, way = seen.ask or (0, None)
        what = f"Next at hole {hole}: {way.label}." if way else "Add its family from these figures."
        count = len(seen.unnamed)
        raise Refused(
            f"{name}: {count} head{'s' if count > 1 else ''} measured {'have' if count > 1 else 'has'} no name. "
            f"Nothing was changed: it stays not looked at. {what}"
        )
    if seen.more:
        raise Refused(
            f"{name}: {seen.more} head{'s' if seen.more > 1 else ''} more to measure. Nothing was changed: it stays as it was."
        )


def _words(seen: RowSize) -> str:
    return " and ".join(each.codes[0] for each in seen.differing)


def settle_row_size(
    *, by: Person, act_id: uuid.UUID, row: Row, code: str, reason: str, happened_at: datetime | None = None
) -> Result:
    """Say which size a row holds where measured and list differ; no code: the list's stays and the row is disputed.

    What else was met in the row is kept with it and counts as met in the survey.
    """
    why = reason.strip()[:300]
    if not why:
        raise Refused("Say why, in a few words. Nothing was changed; the row stays not looked at.")

    def do(_act: Act) -> Result:
        fresh = _fresh(row)
        seen = size_of_row(fresh, row_heads(fresh))
        if not seen.differing:
            raise Refused("What was measured and the list do not differ. Nothing was changed. Look at the row again.")
        if not code:
            if not seen.says:
                raise Refused("The list says no size for this row. Nothing was changed. Choose what was measured.")
            fresh.looked_at = LookedAt.DISPUTED
            fresh.save(update_fields=["looked_at"])
            return {"row": row.pk, "size": seen.says, "was": seen.says, "looked_at": fresh.looked_at}
        if seen.more or seen.unnamed:
            raise Refused(
                f"{seen.more or len(seen.unnamed)} heads are still to be measured or have no name. Nothing was changed. "
                "Measure on, then say which it is."
            )
        others = next((others for name, others in seen.chosen_from if name == code), None)
        if others is None:
            raise Refused(f"'{code[:40]}' was not measured in this row. Nothing was changed. Choose one of the page.")
        size = FastenerSize.objects.filter(code=code).first()
        if size is None:
            size = _listed(next(m.shape for m in seen.met if code in m.codes), f"measured on row {row.place.mark}")
        also = "; ".join(other.codes[0] for other in others)
        fresh.place.wants_size = size
        fresh.place.save(update_fields=["wants_size"])
        fresh.also_holds, fresh.looked_at = also[:200], LookedAt.YES
        fresh.save(update_fields=["also_holds", "looked_at"])
        return {"row": row.pk, "size": size.code, "was": seen.says, "also": also, "looked_at": fresh.looked_at}

    said = {"row": row.pk, "code": code[:60], "reason": why}
    return say(
        "settle_row_size", by=by, act_id=act_id, said=said, do=do, aircraft=row.place.aircraft, happened_at=happened_at
    )


def _listed(shape: Shape, source: str) -> FastenerSize:
    """Put a size that was measured on the shop's list, for rows point at the list alone."""
    inch = "inch" in shape.family or "/" in shape.code
    typed = next((word for word in shape.code.split() if "/" in word), f"{shape.shank_mm / 25.4:.3f}")
    return FastenerSize.objects.create(
        code=shape.code,
        family=shape.family[:120],
        kind=_KINDS[shape.form].format(deg=shape.head_deg or 0),
        head_deg=shape.head_deg,
        nominal_mm=shape.shank_mm,
        nominal_typed=f"{typed} in" if inch else f"{shape.shank_mm:g} mm",
        pitch_mm=shape.pitch_mm,
        source=source[:200],
        status="measured",
    )
