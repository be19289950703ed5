"""Pictures taken before there was a record: kept by the thousand, dated by their camera, unsorted till somebody says."""

import hashlib
import uuid
from datetime import datetime

from witnessmark.records.actions.saying import NotAllowed, Result, say
from witnessmark.records.models import Act, Person, Photo, PictureIn
from witnessmark.records.photo_store import keep_bytes

_ONCE = uuid.UUID("6f0d6c5e-2f0b-5a0e-9f63-70a1c3a0b9d4")


def old_picture_comes_in(*, by: Person, data: bytes, name: str, file_date: datetime | None = None) -> Result:
    """Keep one old picture; the same bytes come in once, however often the folder is read or the reading is cut off.

    The day is the camera's own; where the camera wrote none, `file_date`, said as such. No tag is looked for: it was taken
    before there were tags. Gives photo, new, taken_at and dated ("camera", "file" or "").

    Raises NotAllowed, and NotAPicture when the bytes are none that can be kept.
    """
    if not by.may_write:
        raise NotAllowed(f"{by.name} may look, not add. Nothing was kept.")
    sha256 = hashlib.sha256(data).hexdigest()
    if (
        PictureIn.objects.filter(photo_id=sha256).exists()
        or Photo.objects.filter(pk=sha256, uses__isnull=False).exists()
    ):
        return {"photo": sha256, "new": False, "taken_at": None, "dated": ""}
    photo = keep_bytes(data, name)
    taken = photo.taken_at or file_date
    dated = "camera" if photo.taken_at else "file" if file_date else ""

    def do(act: Act) -> Result:
        PictureIn.objects.create(
            act=act, photo=photo, said_taken_at=taken, taken_at=taken or act.recorded_at, tags_read=[]
        )
        return {"photo": sha256, "new": True, "taken_at": taken.isoformat() if taken else None, "dated": dated}

    return say("old_picture", by=by, act_id=uuid.uuid5(_ONCE, sha256), said={"photo": sha256}, do=do)
