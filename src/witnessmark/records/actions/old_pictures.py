"""Pictures taken before there was a record: kept by the thousand, dated as well as can be told, unsorted till somebody says."""

import hashlib
import uuid
from datetime import datetime

from django.db.models import Min
from django.utils import timezone

from witnessmark.records.actions.pictures import asks_of, file_under, pieces_of, whose_tags
from witnessmark.records.actions.saying import NotAllowed, Result, say
from witnessmark.records.models import Act, Person, Photo, PictureIn, Tagging, TagPrinted
from witnessmark.records.photo_store import keep_bytes
from witnessmark.records.picture_dates import dated_picture
from witnessmark.records.tag_reading import tags_in

_ONCE = uuid.UUID("6f0d6c5e-2f0b-5a0e-9f63-70a1c3a0b9d4")
# Enough of a picture for a tag that lies beside a part, and a quarter of the work.
_TAG_PX = 1500
WHERE_FROM = {
    "camera": "dated by its camera",
    "satellites": "dated by the satellites its camera heard",
    "name": "dated by its name",
    "file": "dated by its file, which a copy may have changed",
    "": "its day is not known",
}


def old_picture_comes_in(*, by: Person, data: bytes, name: str, file_date: datetime | None = None) -> Result:
    """Keep one old picture; the same bytes come in once, however often the folder is read or the reading is cut off.

    The day is the camera's own, else the one in the name, else `file_date`, said as such; a day that cannot be true keeps its
    doubt. A tag is looked for only where the picture may be younger than the shop's first tag; what it shows is filed as at
    the bench. Gives photo, new, taken_at, dated, doubt, tags, asks and the line to say.

    Raises NotAllowed, and NotAPicture when the bytes are none that can be kept.
    """
    if not by.may_write:
        raise NotAllowed(f"{by.name} may look, not add. Nothing was kept.")
    sha256 = hashlib.sha256(data).hexdigest()
    if (
        PictureIn.objects.filter(photo_id=sha256).exists()
        or Photo.objects.filter(pk=sha256, uses__isnull=False).exists()
    ):
        line = f"{name} was here before."
        return {"photo": sha256, "new": False, "taken_at": None, "dated": "", "doubt": "", "tags": [], "asks": "", "line": line}  # fmt: skip
    photo = keep_bytes(data, name)
    came = timezone.now()
    told = dated_picture(data, name, camera=photo.taken_at, file=file_date, came=came)
    shows = tags_in(data, _TAG_PX) if _may_show_a_tag(None if told.doubt or told.by == "file" else told.taken) else ()

    def do(act: Act) -> Result:
        known = pieces_of(shows)
        owners, whose = whose_tags(known)
        asks = asks_of(known, owners)
        filed = file_under(act, shows, photo, whose) if shows and not asks else []
        PictureIn.objects.create(
            act=act,
            photo=photo,
            aircraft=whose,
            said_taken_at=told.taken,
            taken_at=told.taken or act.recorded_at,
            dated_by=told.by,
            date_doubt=told.doubt[:200],
            tags_read=list(shows),
            asks=asks,
        )
        tags = [str(each["tag"]) for each in filed]
        what = asks or (f"It shows {', '.join(tags)}." if tags else "It is kept, unsorted.")
        return {
            "photo": sha256,
            "new": True,
            "taken_at": told.taken.isoformat() if told.taken else None,
            "dated": told.by,
            "doubt": told.doubt,
            "tags": filed,
            "asks": asks,
            "line": f"{name}: {WHERE_FROM[told.by]}. {f'{told.doubt} ' if told.doubt else ''}{what}",
        }

    return say("old_picture", by=by, act_id=uuid.uuid5(_ONCE, sha256), said={"photo": sha256}, do=do)


def _may_show_a_tag(taken: datetime | None) -> bool:
    """Whether the shop had tags by then; a day that is not known may be any."""
    first = [
        moment
        for moment in (
            TagPrinted.objects.aggregate(first=Min("act__happened_at"))["first"],
            Tagging.objects.aggregate(first=Min("on_act__happened_at"))["first"],
        )
        if moment is not None
    ]
    return bool(first) and (taken is None or taken.date() >= min(first).date())
