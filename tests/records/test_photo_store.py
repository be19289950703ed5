"""Photographs: kept as received, whole before the record speaks of them, shown upright and without their place."""

import errno
import hashlib
import io
import os
from datetime import UTC, datetime
from pathlib import Path

import pytest
from PIL import ExifTags, Image

from witnessmark.records import photo_store
from witnessmark.records.actions.saying import Refused
from witnessmark.records.models import Photo
from witnessmark.records.photo_store import NotAPicture, copy_path, keep_bytes, original_path, served_copy

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def folder(settings, tmp_path) -> Path:
    settings.DATA = tmp_path
    return tmp_path


def picture(size=(40, 30), kind="JPEG", mode="RGB", **tags) -> bytes:
    """Make a picture whose left half is black and whose right half is white."""
    image = Image.new(mode, size)
    image.paste(Image.new(mode, (size[0] // 2, size[1]), "white"), (size[0] // 2, 0))
    exif = Image.Exif()
    if "orientation" in tags:
        exif[ExifTags.Base.Orientation.value] = tags["orientation"]
    if "taken" in tags:
        exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.DateTimeOriginal.value] = tags["taken"]
    if "offset" in tags:
        exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.OffsetTimeOriginal.value] = tags["offset"]
    if "latitude" in tags:
        exif.get_ifd(ExifTags.IFD.GPSInfo)[ExifTags.GPS.GPSLatitude.value] = tags["latitude"]
        exif.get_ifd(ExifTags.IFD.GPSInfo)[ExifTags.GPS.GPSLatitudeRef.value] = "N"
    out = io.BytesIO()
    more = {"comment": b"the secret hangar"} if kind == "JPEG" else {}
    image.save(out, kind, exif=exif, **more)
    return out.getvalue()


def test_the_bytes_are_kept_as_received(folder) -> None:
    data = picture()
    photo = keep_bytes(data, "a.jpg")
    sha256 = hashlib.sha256(data).hexdigest()
    assert (photo.sha256, photo.bytes, photo.type, photo.width, photo.height) == (
        sha256,
        len(data),
        "image/jpeg",
        40,
        30,
    )
    assert (folder / "photos" / sha256[:2] / sha256).read_bytes() == data
    assert photo.original_name == "a.jpg"


def test_the_same_bytes_are_kept_once(folder) -> None:
    first = keep_bytes(picture(), "a.jpg")
    again = keep_bytes(picture(), "b.jpg")
    assert first == again
    assert again.original_name == "a.jpg"
    assert sum(1 for each in (folder / "photos").rglob("*") if each.is_file()) == 1


def test_a_lost_file_comes_back_with_the_same_bytes() -> None:
    photo = keep_bytes(picture(), "a.jpg")
    original_path(photo.sha256).unlink()
    keep_bytes(picture(), "a.jpg")
    assert original_path(photo.sha256).read_bytes() == picture()


@pytest.mark.parametrize("kind", ["PNG", "WEBP", "TIFF"])
def test_other_kinds(kind) -> None:
    photo = keep_bytes(picture(kind=kind), "a")
    assert photo.type == f"image/{kind.lower()}"
    assert Image.open(io.BytesIO(served_copy(photo, 320))).format == "JPEG"


@pytest.mark.parametrize(
    ("tags", "taken"),
    [
        ({"taken": "2025:03:26 10:00:00"}, datetime(2025, 3, 26, 10, tzinfo=UTC)),
        ({"taken": "2025:03:26 10:00:00", "offset": "+02:00"}, datetime(2025, 3, 26, 8, tzinfo=UTC)),
        ({"taken": "2025:03:26 10:00:00", "offset": "-03:30"}, datetime(2025, 3, 26, 13, 30, tzinfo=UTC)),
        ({"taken": "2025:03:26 10:00:00", "offset": "nonsense"}, datetime(2025, 3, 26, 10, tzinfo=UTC)),
        ({"taken": "0000:00:00 00:00:00"}, None),
        ({"taken": "yesterday"}, None),
        ({}, None),
    ],
)
def test_when_it_was_taken(tags, taken) -> None:
    assert keep_bytes(picture(**tags), "a.jpg").taken_at == taken


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "is empty"),
        (b"hello, this is text", "no picture that can be read"),
        (b"PK\x03\x04" + b"\0" * 60, "no picture that can be read"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "no picture that can be read"),
        (b"GIF89a\x01\x00\x01\x00\x00\x00\x00;", "no picture that can be read"),
        (picture((600, 400))[:1500], "cut off or broken"),
        (picture((600, 400), "PNG")[:-200], "cut off or broken"),
        (b"\xff\xd8\xff\xe0" + os.urandom(500), "read|broken"),
    ],
)
def test_what_is_no_picture_is_refused_in_plain_words(folder, data, why) -> None:
    with pytest.raises(NotAPicture, match=why) as refused:
        keep_bytes(data, "IMG_1.jpg")
    assert isinstance(refused.value, Refused)
    assert isinstance(refused.value, ValueError)
    assert "IMG_1.jpg" in str(refused.value)
    assert "Nothing was kept." in str(refused.value)
    assert not (folder / "photos").exists()
    assert not Photo.objects.exists()


def test_too_many_bytes(settings) -> None:
    settings.PHOTO_MAX_BYTES = 100
    with pytest.raises(NotAPicture, match="MB; at most"):
        keep_bytes(picture(), "a.jpg")


def test_too_many_pixels(settings) -> None:
    settings.PHOTO_MAX_PIXELS = 40 * 30 - 1
    with pytest.raises(NotAPicture, match="million pixels"):
        keep_bytes(picture(), "a.jpg")


@pytest.mark.filterwarnings("ignore::PIL.Image.DecompressionBombWarning")
@pytest.mark.parametrize("side", [10_000, 20_000])
def test_a_small_file_that_would_fill_the_memory_is_refused_unopened(side) -> None:
    import struct
    import zlib

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    header = chunk(b"IHDR", struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0))
    bomb = b"\x89PNG\r\n\x1a\n" + header + chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")
    with pytest.raises(NotAPicture, match="million pixels"):
        keep_bytes(bomb, "a.png")


def test_a_full_disk_leaves_no_row_and_no_half_file(folder, monkeypatch) -> None:
    def full(number: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(photo_store.os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        keep_bytes(picture(), "a.jpg")
    assert not Photo.objects.exists()
    assert [each for each in folder.rglob("*") if each.is_file()] == []


def test_a_full_disk_still_shows_pictures(folder, monkeypatch) -> None:
    photo = keep_bytes(picture(), "a.jpg")

    def full(number: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(photo_store.os, "fsync", full)
    assert served_copy(photo, 320).startswith(b"\xff\xd8")
    assert not copy_path(photo, 320).exists()


@pytest.mark.parametrize(
    ("orientation", "size", "white"),
    [(1, (40, 30), "right"), (3, (40, 30), "left"), (6, (30, 40), "bottom"), (8, (30, 40), "top")],
)
def test_copies_are_upright(orientation, size, white) -> None:
    photo = keep_bytes(picture(orientation=orientation), "a.jpg")
    assert (photo.width, photo.height, photo.orientation) == (40, 30, orientation)
    shown = Image.open(io.BytesIO(served_copy(photo, 320)))
    assert shown.size == size
    wide, high = size
    at = {
        "right": (wide - 4, high // 2),
        "left": (4, high // 2),
        "bottom": (wide // 2, high - 4),
        "top": (wide // 2, 4),
    }
    for name, point in at.items():
        if name == white:
            assert min(shown.getpixel(point)) > 240
    opposite = {"right": "left", "left": "right", "bottom": "top", "top": "bottom"}[white]
    assert max(shown.getpixel(at[opposite])) < 15


def test_copies_do_not_tell_where_they_were_taken() -> None:
    data = picture(latitude=(57.0, 30.0, 0.0), taken="2025:03:26 10:00:00", orientation=6)
    photo = keep_bytes(data, "a.jpg")
    assert b"secret hangar" in data
    assert Image.open(io.BytesIO(data)).getexif().get_ifd(ExifTags.IFD.GPSInfo)
    copy = served_copy(photo, 320)
    shown = Image.open(io.BytesIO(copy))
    assert dict(shown.getexif()) == {}
    assert not shown.getexif().get_ifd(ExifTags.IFD.GPSInfo)
    assert b"secret hangar" not in copy
    assert b"Exif" not in copy


def test_copies_are_as_wide_as_asked_and_never_larger_than_the_original() -> None:
    large = keep_bytes(picture((2000, 1500)), "a.jpg")
    assert [Image.open(io.BytesIO(served_copy(large, w))).size for w in (320, 800, 1600)] == [
        (320, 240),
        (800, 600),
        (1600, 1200),
    ]
    turned = keep_bytes(picture((2000, 1500), orientation=6), "b.jpg")
    assert Image.open(io.BytesIO(served_copy(turned, 800))).size == (800, 1067)
    small = keep_bytes(picture((40, 30)), "c.jpg")
    assert Image.open(io.BytesIO(served_copy(small, 1600))).size == (40, 30)
    with pytest.raises(ValueError, match="not 333"):
        served_copy(large, 333)


def test_a_copy_is_made_once() -> None:
    photo = keep_bytes(picture(), "a.jpg")
    made = served_copy(photo, 800)
    assert copy_path(photo, 800).read_bytes() == made
    original_path(photo.sha256).unlink()
    assert served_copy(photo, 800) == made
    with pytest.raises(FileNotFoundError):
        served_copy(photo, 320)


def test_what_is_see_through_is_shown_on_white() -> None:
    out = io.BytesIO()
    Image.new("RGBA", (10, 10), (0, 0, 0, 0)).save(out, "PNG")
    shown = Image.open(io.BytesIO(served_copy(keep_bytes(out.getvalue(), "a.png"), 320)))
    assert min(shown.getpixel((5, 5))) > 250


def test_a_name_is_only_words(folder) -> None:
    photo = keep_bytes(picture(), "../../etc/passwd" + "x" * 300)
    assert len(photo.original_name) == 200
    assert original_path(photo.sha256).is_relative_to(folder)
