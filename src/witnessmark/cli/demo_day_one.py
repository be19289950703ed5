"""The demo's first days: pictures that came in by their tags, old pictures that wait for a word, finds that nobody knows."""

import io
import uuid
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from witnessmark.records.models import Person

if TYPE_CHECKING:
    from PIL.Image import Image

# Blank tags of which these pictures were taken: the first two are told of, the others wait.
TAGGED = (("bag", "nuts of the left float"), ("fitting", ""), ("bag", ""), ("casting", ""))
# (kind, in place, minutes after the one before); a gap of more than a few minutes begins another run.
OLD = (
    ("skin", True, 0), ("rib", True, 2), ("rib", True, 1), ("cloth", True, 3),
    ("wheel", False, 2900), ("casting", False, 2), ("instrument", False, 1),
    ("tube", True, 43000), ("fitting", True, 1), ("skin", True, 2), ("tube", True, 1),
)  # fmt: skip
FIRST_OLD = datetime(2024, 9, 14, 9, 40, tzinfo=UTC)
# (name, kind, what could be measured, magnet, made of, where)
FINDS = (
    ("tube with a flange of four screws", "tube", {"diameter_mm": 12.1, "length_mm": 38.4}, "does not", "", "in the bottom of crate 3"),
    ("sprocket, teeth worn on one side", "wheel", {"diameter_mm": 20.0}, "sticks", "", "under the workbench"),
    ("clip", "fitting", {"length_mm": 64.0, "width_mm": 18.0, "thickness_mm": 0.8}, "does not", "clad dural", "in the sweepings of the hull bottom"),
)  # fmt: skip


def _id(what: str) -> uuid.UUID:
    """The same act each time the demo is loaded, so that a load that was cut off is only completed."""
    return uuid.uuid5(uuid.NAMESPACE_OID, f"witnessmark demo day one: {what}")


def _jpeg(image: "Image", taken: datetime | None = None, quality: int = 80) -> bytes:
    from PIL import ExifTags, Image

    exif, out = Image.Exif(), io.BytesIO()
    if taken is not None:
        exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.DateTimeOriginal.value] = f"{taken:%Y:%m:%d %H:%M:%S}"
    image.save(out, "JPEG", quality=quality, exif=exif)
    return out.getvalue()


def bring(by: Person, lies: datetime) -> None:
    """Let them come in by the doors that everybody's come in by; `lies` is the moment of the demo's day."""
    _tagged(by, lies)
    _old(by)
    _finds(by, lies)


def _tagged(by: Person, lies: datetime) -> None:
    from witnessmark.demo.photographs import draw_tagged
    from witnessmark.records.actions.blank_tags import print_tags
    from witnessmark.records.actions.pictures import picture_comes_in
    from witnessmark.records.actions.said_later import say_of_piece
    from witnessmark.records.models import PictureIn, Piece

    tags = print_tags(by=by, act_id=_id("tags"), count=12)["tags"]
    for number, (kind, name) in enumerate(TAGGED):
        act_id, tag = _id(f"picture {number}"), tags[number]
        data = _jpeg(draw_tagged(kind, tag))
        picture_comes_in(by=by, act_id=act_id, data=data, name=f"picture {number + 1}.jpg")
        PictureIn.objects.filter(pk=act_id).update(taken_at=lies - timedelta(minutes=40 - number))
        if name:
            say_of_piece(by=by, act_id=_id(f"said {number}"), piece=Piece.objects.get(tag=tag), name=name, count=24)


def _old(by: Person) -> None:
    from PIL import Image

    from witnessmark.demo.photographs import draw_untagged
    from witnessmark.records.actions.old_pictures import old_picture_comes_in
    from witnessmark.records.actions.twins import seek_twins

    taken = FIRST_OLD
    for number, (kind, in_place, minutes) in enumerate(OLD, 1):
        taken += timedelta(minutes=minutes)
        image = draw_untagged(kind, f"old {number}", in_place=in_place)
        old_picture_comes_in(by=by, data=_jpeg(image, taken), name=f"hangar {number:03}.jpg")
        if number in (2, 6):  # the same again, as it was passed on: smaller, and without its day
            small = image.resize((600, 450), Image.Resampling.BICUBIC)
            old_picture_comes_in(by=by, data=_jpeg(small, quality=60), name=f"passed on {number:03}.jpg")
        if number == 9:  # a camera whose clock was never set
            never = datetime(2036, 1, 1, 0, 4, tzinfo=UTC)
            other = draw_untagged("bag", "clock", in_place=False)
            old_picture_comes_in(by=by, data=_jpeg(other, never), name="clock never set.jpg")
    seek_twins()


def _finds(by: Person, lies: datetime) -> None:
    from witnessmark.demo.photographs import draw_untagged
    from witnessmark.records.actions.tray import Size, lay_in_tray

    for number, (name, kind, measured, magnet, material, where) in enumerate(FINDS):
        lay_in_tray(
            by=by,
            act_id=_id(f"find {number}"),
            data=_jpeg(draw_untagged(kind, f"find {number}", in_place=False)),
            picture_name=f"find {number + 1}.jpg",
            name=name,
            material=material,
            magnet=magnet,
            measured=Size(**measured),
            found_where=where,
            happened_at=lies - timedelta(days=number),
        )
