"""What an old picture itself tells of its day: read from its header, nothing decoded."""

import contextlib
import io
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from django.utils.timezone import get_current_timezone, make_aware

from witnessmark.calc.pictures.dates import Dated, dated, day_in_name
from witnessmark.records.photo_store import opened

if TYPE_CHECKING:
    from PIL import Image

_EXIF, _GPS = 0x8769, 0x8825
_VERSION, _ZONE = 0x9000, 0x9011
_GPS_TIME, _GPS_DAY = 7, 0x1D
_SPAN = timedelta(days=36_525)


def dated_picture(data: bytes, name: str, *, camera: datetime | None, file: datetime | None, came: datetime) -> Dated:
    """Tell the day of a kept picture: `camera` is what was read when it was kept, `file` the time of the file.

    Only the day and hour of the satellites are read; where they saw the camera is not.
    """
    version, zone_written, satellites = "", False, None
    # A header that breaks the reader tells nothing; the picture was decoded and kept before.
    with contextlib.suppress(Exception), opened(io.BytesIO(data)) as image:
        version, zone_written, satellites = _told(image.getexif())
    named = day_in_name(name)
    return dated(
        came=came,
        camera=camera.astimezone(get_current_timezone()) if camera else None,
        satellites=satellites,
        exif=version,
        zone_written=zone_written,
        named=make_aware(named) if named else None,
        file=file if file is None or abs(file - came) < _SPAN else None,
    )


def _told(exif: "Image.Exif") -> tuple[str, bool, datetime | None]:
    own, satellites = exif.get_ifd(_EXIF), exif.get_ifd(_GPS)
    version = own.get(_VERSION, b"")
    text = version.decode("ascii", "replace") if isinstance(version, bytes) else str(version)
    return text.strip("\0 "), bool(str(own.get(_ZONE, "")).strip("\0 ")), _heard(satellites)


def _heard(satellites: dict[int, object]) -> datetime | None:
    try:
        day = datetime.strptime(str(satellites[_GPS_DAY]).strip("\0 "), "%Y:%m:%d").replace(tzinfo=UTC)
        hours, minutes, _ = (float(each) for each in satellites[_GPS_TIME])  # type: ignore[attr-defined]
        return day + timedelta(hours=hours, minutes=minutes)
    except (KeyError, ValueError, TypeError, OverflowError, ZeroDivisionError):
        return None
