"""A picture is taken of something, or chosen from what was taken before."""

import uuid
from datetime import datetime

from witnessmark.records.actions.saying import NotAllowed, Result, say
from witnessmark.records.models import Act, Finding, Person, PhotoUse, Piece, Place
from witnessmark.records.photo_store import keep_bytes


def photograph(
    *,
    by: Person,
    act_id: uuid.UUID,
    data: bytes,
    name: str,
    piece: Piece | None = None,
    place: Place | None = None,
    finding: Finding | None = None,
    what: str = "",
    happened_at: datetime | None = None,
) -> Result:
    """Keep a picture and say what it shows; the same picture of the same thing is kept once.

    The bytes are on the disk before anything is said of them; a picture nobody speaks of is harmless.
    """
    if not by.may_write:
        raise NotAllowed(f"{by.name} may look, not add. Nothing was changed.")
    photo = keep_bytes(data, name)

    def do(act: Act) -> Result:
        use = PhotoUse.objects.filter(photo=photo, piece=piece, place=place, finding=finding).first()
        if use is None:
            PhotoUse.objects.create(photo=photo, piece=piece, place=place, finding=finding, what=what[:300], act=act)
        return {"photo": photo.sha256, "new": use is None}

    said = {
        "photo": photo.sha256,
        "piece": piece.pk if piece else None,
        "place": place.pk if place else None,
        "finding": finding.pk if finding else None,
        "what": what[:300],
    }
    aircraft = piece.aircraft if piece else place.aircraft if place else finding.aircraft if finding else None
    return say("photograph", by=by, act_id=act_id, said=said, do=do, aircraft=aircraft, happened_at=happened_at)
