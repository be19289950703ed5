"""Photographs on disk: named by the SHA-256 of the bytes as received, whole before the record speaks of them."""

import contextlib
import hashlib
import io
import os
import secrets
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import TYPE_CHECKING, Any

from django.conf import settings
from django.utils.timezone import get_current_timezone

from witnessmark.calc.pictures.likeness import GRID, SMALL, Likeness, likeness_of
from witnessmark.records.actions.saying import Refused
from witnessmark.records.models import Photo, PhotoLikeness

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

# The widths a picture is shown in: in a list, on a phone, on a whole screen or on paper.
WIDTHS = (320, 800, 1600)
# What is read, as Pillow names it, and the type it is kept under. A phone's MPO is a JPEG with more behind it.
TYPES = {
    "JPEG": "image/jpeg",
    "MPO": "image/jpeg",
    "PNG": "image/png",
    "WEBP": "image/webp",
    "HEIF": "image/heif",
    "TIFF": "image/tiff",
}
_ORIENTATION, _TAKEN, _TAKEN_OFFSET, _EXIF_IFD = 0x0112, 0x9003, 0x9011, 0x8769


class NotAPicture(Refused, ValueError):
    """These bytes are no picture that can be kept; the message says why. Nothing was kept."""


@dataclass(frozen=True)
class _Read:
    type: str
    width: int
    height: int
    orientation: int
    taken_at: datetime | None
    likeness: Likeness


def original_path(sha256: str) -> Path:
    """Say where the bytes as received lie."""
    return Path(settings.DATA) / "photos" / sha256[:2] / sha256


def keep_bytes(data: bytes, name: str) -> Photo:
    """Keep a picture as it was received and give its row; the same bytes are kept once.

    The file is on the disk before the row is: a crash leaves a file nobody speaks of, never a row without one.

    Raises NotAPicture when it is none, is too large or is cut off.
    """
    sha256 = hashlib.sha256(data).hexdigest()
    path = original_path(sha256)
    known = Photo.objects.filter(pk=sha256).first()
    if known is not None and path.exists():
        return known
    read = _look(data, name)
    if not path.exists():
        write_whole(path, data)
    photo, _ = Photo.objects.get_or_create(
        sha256=sha256,
        defaults={
            "bytes": len(data),
            "type": read.type,
            "width": read.width,
            "height": read.height,
            "orientation": read.orientation,
            "taken_at": read.taken_at,
            "original_name": name[:200],
        },
    )
    PhotoLikeness.objects.get_or_create(
        photo=photo, defaults={"signs": read.likeness.signs, "small": read.likeness.small}
    )
    return photo


def likeness_anew(photo: Photo) -> Likeness:
    """Take the likeness of a picture that came in before there were any.

    Raises NotAPicture or OSError when the original cannot be read any more.
    """
    return _look(original_path(photo.sha256).read_bytes(), str(photo)).likeness


def check_picture(data: bytes, name: str) -> None:
    """Raise NotAPicture where these bytes could not be kept; nothing is kept."""
    _look(data, name)


def served_copy(photo: Photo, width: int) -> bytes:
    """Give a JPEG copy at most so wide: upright, without what the camera wrote into it, made once.

    Raises FileNotFoundError when the original is gone from the data folder.
    """
    if width not in WIDTHS:
        raise ValueError(f"pictures are shown {WIDTHS} wide, not {width}")
    path = copy_path(photo, width)
    with contextlib.suppress(FileNotFoundError):
        return path.read_bytes()
    made = _copy(original_path(photo.sha256), width)
    with contextlib.suppress(OSError):  # a full disk keeps no copy, but the picture is shown
        write_whole(path, made)
    return made


def copy_path(photo: Photo, width: int) -> Path:
    """Say where the copy lies once it was made; everything under cache/ may be thrown away."""
    return Path(settings.DATA) / "cache" / "photos" / f"{photo.sha256}-{width}.jpg"


def write_whole(path: Path, data: bytes) -> None:
    """Write a file whole or not at all: under another name, to the disk, then renamed."""
    path.parent.mkdir(parents=True, exist_ok=True)
    half = path.with_name(f".{path.name}.{secrets.token_hex(4)}.half")
    try:
        with half.open("wb") as out:
            out.write(data)
            out.flush()
            os.fsync(out.fileno())
        half.replace(path)
    except BaseException:
        half.unlink(missing_ok=True)
        raise
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)  # the new name, too
    finally:
        os.close(folder)


def _look(data: bytes, name: str) -> _Read:
    """Read what a picture is, decoding it once so that a cut-off file is found now and not on the bench."""
    from PIL import Image, UnidentifiedImageError

    if not data:
        raise NotAPicture(f"{name} is empty. Nothing was kept. Take the picture again.")
    if len(data) > settings.PHOTO_MAX_BYTES:
        raise NotAPicture(
            f"{name} has {len(data) / 1e6:.1f} MB; at most {settings.PHOTO_MAX_BYTES / 1e6:.0f} MB are kept. "
            "Nothing was kept. Take it smaller."
        )
    try:
        with opened(io.BytesIO(data)) as image:
            width, height = image.size
            if width * height > settings.PHOTO_MAX_PIXELS:
                raise NotAPicture(_too_many(name))
            kind = TYPES[image.format or ""]
            exif = image.getexif()
            turned, taken = _orientation(exif), _taken_at(exif)
            image.draft("RGB", (256, 256))  # a JPEG is read to its end all the same, in a quarter of the time
            image.load()
            return _Read(kind, width, height, turned, taken, _likeness(image, turned))
    except NotAPicture:
        raise
    except Image.DecompressionBombError as error:
        raise NotAPicture(_too_many(name)) from error
    except UnidentifiedImageError as error:
        what = ": it is a PDF" if data.startswith(b"%PDF") else ""
        raise NotAPicture(
            f"{name} is no picture that can be read, whatever its name says{what}. Nothing was kept. "
            "Give a JPEG, PNG, WebP, TIFF or HEIC file."
        ) from error
    except Exception as error:  # decoders raise many kinds on broken bytes: all mean the same to the person
        raise NotAPicture(
            f"{name} is cut off or broken: it cannot be read to its end. Nothing was kept. Copy it again, or take it again."
        ) from error


def _too_many(name: str) -> str:
    most = settings.PHOTO_MAX_PIXELS / 1e6
    return f"{name} has more than {most:.0f} million pixels. Nothing was kept. Take it smaller."


# How a picture is turned upright, by what its camera says (Exif 2.2, tag 0x0112), as Pillow names it.
_UPRIGHT = {2: 0, 3: 3, 4: 1, 5: 5, 6: 4, 7: 6, 8: 2}


def _likeness(image: "Image.Image", orientation: int) -> Likeness:
    import numpy as np
    from PIL import Image

    grey = image.convert("L")
    squares = []
    for side in (GRID, SMALL):
        square = grey.resize((side, side), Image.Resampling.BOX)
        how = _UPRIGHT.get(orientation)
        squares.append(np.asarray(square if how is None else square.transpose(Image.Transpose(how))))
    return likeness_of(*squares)


def grey_of(data: bytes, at_least_px: int = 0) -> "np.ndarray[Any, np.dtype[np.uint8]]":
    """Give a kept picture's brightness, height by width, for what reads codes out of it; HEIC too.

    `at_least_px` lets a JPEG be decoded smaller, no less wide and high than this.
    """
    import numpy as np

    with opened(io.BytesIO(data)) as image:
        if at_least_px:
            image.draft("L", (at_least_px, at_least_px))
        return np.asarray(image.convert("L"))


def opened(file: io.BytesIO | Path) -> "Image.Image":
    """Open a picture of a kind that is kept, decoding nothing yet."""
    import pi_heif
    from PIL import Image

    pi_heif.register_heif_opener()
    return Image.open(file, formats=[name for name in TYPES if name != "MPO"])


def _orientation(exif: "Image.Exif") -> int:
    turned = exif.get(_ORIENTATION)
    return turned if isinstance(turned, int) and 1 <= turned <= 8 else 1


def _taken_at(exif: "Image.Exif") -> datetime | None:
    """Read when the camera says it was taken; without an offset its clock is taken to be the shop's."""
    own = exif.get_ifd(_EXIF_IFD)
    try:
        taken = datetime.strptime(str(own.get(_TAKEN, "")).strip("\0 "), "%Y:%m:%d %H:%M:%S")  # noqa: DTZ007  below
    except ValueError:
        return None
    return taken.replace(tzinfo=_offset(str(own.get(_TAKEN_OFFSET, ""))) or get_current_timezone()).astimezone(UTC)


def _offset(text: str) -> timezone | None:
    try:
        hours, minutes = text.strip("\0 ").split(":")
        size = timedelta(hours=abs(int(hours)), minutes=int(minutes))
        return timezone(-size if hours.startswith("-") else size)
    except ValueError:
        return None


def _copy(original: Path, width: int) -> bytes:
    from PIL import Image, ImageOps

    with opened(original) as image:
        image.draft("RGB", (width, width))  # decode no more than is shown, whichever way it is turned
        upright: Image.Image = ImageOps.exif_transpose(image)
        profile = upright.info.get("icc_profile")
        upright.thumbnail((width, 3 * width), Image.Resampling.LANCZOS)
        if upright.mode in ("RGBA", "LA", "PA") or "transparency" in upright.info:
            ground = Image.new("RGBA", upright.size, "white")
            ground.alpha_composite(upright.convert("RGBA"))
            upright, profile = ground, None
        shown = upright.convert("RGB")
        shown.info.clear()  # comments and such lie there; only the colour profile goes along
        out = io.BytesIO()
        shown.save(out, "JPEG", quality=82, optimize=True, icc_profile=profile if upright.mode == "RGB" else None)
        return out.getvalue()
