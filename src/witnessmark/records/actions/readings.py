"""A figure is read on a piece, or on one of a bag or a bucket."""

import math
import uuid
from collections.abc import Mapping
from datetime import datetime

from witnessmark.calc.bags.features import UnknownFeature, usual_sigma
from witnessmark.calc.bags.typed import typed_figure
from witnessmark.calc.units import UnknownSize
from witnessmark.records.actions.saying import Refused, Result, say
from witnessmark.records.models import Act, Person, Piece, PieceReading, Place

LIMITS = {"mm": (0.01, 3000.0), "deg": (1.0, 179.0), "g": (0.001, 1e6)}


def figure(what: str, typed: str) -> float:
    """Read a typed figure and refuse what cannot be one."""
    try:
        value = typed_figure(what, typed)
    except UnknownFeature as why:
        raise Refused(f"{why}. Nothing was changed.") from None
    except UnknownSize as why:
        raise Refused(f"{why} Nothing was changed.") from None
    low, high = LIMITS[what.rsplit("_", 1)[-1]]
    if not low <= value <= high:
        raise Refused(f"{typed.strip()[:20]} is no {what.rsplit('_', 1)[0].replace('_', ' ')}. Nothing was changed.")
    return value


def read_pieces(
    *,
    by: Person,
    act_id: uuid.UUID,
    piece: Piece,
    readings: Mapping[str, Mapping[str, str]],
    places: Mapping[str, Place] | None = None,
    uncertainty: Mapping[str, float] | None = None,
    happened_at: datetime | None = None,
    of: Mapping[str, int | str] | None = None,
) -> Result:
    """Write down what was read on a piece, or on those of a bag or bucket: by item and feature, as typed.

    A single piece is the item without a name. Readings of one feature count together; one that does not agree with the newest was a slip.
    `of` is said along with it: the picture they are from.
    """
    if not any(readings.values()):
        raise Refused("Nothing was read. Nothing was changed. Type one figure.")
    sigmas, seats = dict(uncertainty or {}), dict(places or {})
    rows = [
        (item.strip()[:40], what, figure(what, typed), typed)
        for item, figures in readings.items()
        for what, typed in figures.items()
    ]
    for _, what, _, _ in rows:
        sigma = sigmas.setdefault(what, usual_sigma(what))
        if not (math.isfinite(sigma) and sigma > 0):
            raise Refused(f"The uncertainty of {what} is above nought. Nothing was changed.")

    def do(act: Act) -> Result:
        PieceReading.objects.bulk_create(
            [
                PieceReading(
                    piece=piece,
                    item=item,
                    place=seats.get(item),
                    what=what,
                    value=value,
                    uncertainty=sigmas[what],
                    typed=typed.strip()[:40],
                    act=act,
                )
                for item, what, value, typed in rows
            ]
        )
        return {"piece": piece.pk, "figures": len(rows)}

    said = {
        **(of or {}),
        "piece": piece.pk,
        "readings": {item: dict(figures) for item, figures in readings.items()},
        "places": {item: place.pk for item, place in seats.items()},
        "uncertainty": {what: sigmas[what] for what in sorted({row[1] for row in rows})},
    }
    return say("read_piece", by=by, act_id=act_id, said=said, do=do, aircraft=piece.aircraft, happened_at=happened_at)
