"""Pictures that leave the shop: upright, in plain colours, with nothing beside the picture itself.

A served copy keeps its colour profile, in which a camera or a screen may name its owner. Here the colours are brought
to sRGB and the profile goes as well: no Exif, no position, no comment, no thumbnail, no profile is left.
"""

import contextlib
import io
from pathlib import Path

from django.conf import settings

from witnessmark.records.models import Photo
from witnessmark.records.photo_store import served_copy, write_whole

BARE_PX = 1600


def bare_copy(photo: Photo, width: int = BARE_PX) -> bytes:
    """Give a JPEG that holds the picture alone, made once.

    Raises FileNotFoundError when the original is gone from the data folder.
    """
    path = Path(settings.DATA) / "cache" / "photos" / f"{photo.sha256}-{width}-bare.jpg"
    with contextlib.suppress(FileNotFoundError):
        return path.read_bytes()
    made = bared(served_copy(photo, width))
    with contextlib.suppress(OSError):  # a full disk keeps no copy, but the picture is shown
        write_whole(path, made)
    return made


def bared(jpeg: bytes) -> bytes:
    """Write a JPEG anew from its pixels alone."""
    from PIL import Image, ImageCms

    with Image.open(io.BytesIO(jpeg), formats=["JPEG"]) as image:
        image.load()
        shown: Image.Image = image
        profile = image.info.get("icc_profile")
        if profile:
            # A profile that cannot be read says nothing of the colours: they are taken as they are.
            with contextlib.suppress(ImageCms.PyCMSError, OSError):
                own = ImageCms.ImageCmsProfile(io.BytesIO(profile))
                turned = ImageCms.profileToProfile(image, own, ImageCms.createProfile("sRGB"), outputMode="RGB")
                shown = turned or image
        plain = Image.new("RGB", shown.size)
        plain.paste(shown)
        out = io.BytesIO()
        plain.save(out, "JPEG", quality=85, optimize=True)
        return out.getvalue()
