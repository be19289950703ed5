"""A bucket whose count, mass and readings disagree is not sorted: it is counted again, or somebody goes on and says why."""

import uuid

from witnessmark.records.actions.mixing import bucket_counted, lies_here, locked
from witnessmark.records.actions.saying import Refused, Result, move, say
from witnessmark.records.lookups.bucket import stop_of
from witnessmark.records.lookups.mixing import sorting
from witnessmark.records.models import Act, Holding, Mix, Move, Person, Shipment, ToldApart


def count_again(
    *, by: Person, act_id: uuid.UUID, shipment: Shipment, count: int, mass_g: float | None = None
) -> Result:
    """Say how many lie in the bucket now, and what they weigh: the new figures replace the old, the ledger follows.

    Fewer than before were never back: they are with the vendor. More than are still out are refused.
    """
    bucket_counted(count, mass_g, 0)

    def do(act: Act) -> Result:
        fresh = locked(shipment)
        mix = Mix.objects.filter(shipment=fresh).select_related("piece").first()
        lies = lies_here(mix) if mix is not None else []
        if mix is None or mix.count_back is None or not lies:
            raise Refused(f"Nothing of shipment {fresh.number} lies mixed here. Nothing was changed. Receive it first.")
        more = count + ToldApart.objects.filter(mix=mix).count() - mix.count_back
        at = fresh.vendor.holder
        if more > 0:
            there = Holding.objects.filter(piece=mix.piece, holder=at).values_list("count", flat=True).first() or 0
            if more > there:
                raise Refused(
                    f"{more} more than were counted before, and {there} are still out. Nothing was changed. Count again, "
                    "or receive what is not ours as that."
                )
            move(
                act, [Move(from_piece=mix.piece, from_holder=at, to_piece=mix.piece, to_holder=lies[0][0], count=more)]
            )
        fewer = -more
        for holder, here in lies:
            if (part := min(fewer, here)) > 0:
                move(
                    act, [Move(from_piece=mix.piece, from_holder=holder, to_piece=mix.piece, to_holder=at, count=part)]
                )
                fewer -= part
        if fewer > 0:
            raise Refused(
                "More is told apart than was counted now. Nothing was changed. Count what lies in the bucket."
            )
        mix.count_back, mix.mass_back_g = mix.count_back + more, mass_g
        mix.save(update_fields=["count_back", "mass_back_g"])
        if more < 0 and fresh.back_on is not None:
            fresh.back_on = None
            fresh.save(update_fields=["back_on"])
        return {"count": count, "mass_g": mass_g}

    said = {"shipment": shipment.pk, "count": count, "mass_g": mass_g}
    return say("count_again", by=by, act_id=act_id, said=said, do=do)


def sort_anyway(*, by: Person, act_id: uuid.UUID, shipment: Shipment, why: str) -> Result:
    """Go on although count, mass and readings disagree: the name and the reason stand, while the figures stay as they are."""
    reason = " ".join(why.split())[:200]
    if not reason:
        raise Refused("Nothing is said of why. Nothing was changed. Count again, or say why it is sorted all the same.")
    seen = sorting(shipment)
    stop = stop_of(seen) if seen is not None else ""
    said = {
        "shipment": shipment.pk,
        "stop": stop,
        "count": seen.mix.count_back if seen else None,
        "mass_g": seen.mix.mass_back_g if seen else None,
        "why": reason,
    }

    def do(act: Act) -> Result:
        if not stop:
            raise Refused("Nothing disagrees any more. Nothing was changed. Sort it.")
        return {"stop": stop}

    return say("sort_anyway", by=by, act_id=act_id, said=said, do=do)
