"""What the day of an old picture is worth: told by its camera, its name or its file, and when that cannot be."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime, timedelta

# When each version of the standard was issued that a camera says it writes by: no camera wrote by it before.
EXIF_ISSUED = {
    "0100": date(1995, 10, 1),
    "0110": date(1997, 11, 1),
    "0200": date(1997, 11, 1),
    "0210": date(1998, 6, 1),
    "0220": date(2002, 2, 1),
    "0221": date(2003, 7, 1),
    "0230": date(2010, 4, 1),
    "0231": date(2016, 7, 1),
    "0232": date(2019, 5, 1),
    "0300": date(2023, 5, 1),
}
_AHEAD = timedelta(days=1)  # a camera may stand in another time zone
_SATELLITES_AGREE = timedelta(days=1, hours=12)
_FIRST_YEAR = 1990
_NAMED = re.compile(
    r"(?<!\d)(?P<y>(?:19|20)\d\d)(?P<s>[-_.]?)(?P<m>0[1-9]|1[0-2])(?P=s)(?P<d>0[1-9]|[12]\d|3[01])"
    r"(?:(?:[-_ T]|\s+at\s+)(?P<H>[01]\d|2[0-3])[-_.:h]?(?P<M>[0-5]\d)[-_.:m]?(?P<S>[0-5]\d)(?:\d{3})?)?(?!\d)"
)


@dataclass(frozen=True)
class Dated:
    """When a picture was taken as far as can be told. `by` is camera, satellites, name, file, or empty where nothing tells."""

    taken: datetime | None
    by: str
    doubt: str = ""


def day_in_name(name: str) -> datetime | None:
    """Read the day, and the time where there is one, that a camera put into a file's name.

    Parameters
    ----------
    name : str
        Such as `20240312_101112.jpg`. [-]

    Returns
    -------
    datetime or None
        By the camera's own clock, without a zone; noon where only the day is told. [-]

    Examples
    --------
    >>> day_in_name("IMG_20240312_101112.jpg"), day_in_name("scan 1998-07-04.tif"), day_in_name("DSC00417.JPG")
    (datetime.datetime(2024, 3, 12, 10, 11, 12), datetime.datetime(1998, 7, 4, 12, 0), None)

    References
    ----------
    none: how cameras and phones name their files, common practice
    """
    found = _NAMED.search(name)
    if found is None or int(found["y"]) < _FIRST_YEAR:
        return None
    clock = (int(found["H"]), int(found["M"]), int(found["S"])) if found["H"] else (12, 0, 0)
    try:
        return datetime(int(found["y"]), int(found["m"]), int(found["d"]), *clock)  # noqa: DTZ001  the caller knows the zone
    except ValueError:
        return None


def dated(
    *,
    came: datetime,
    camera: datetime | None = None,
    satellites: datetime | None = None,
    exif: str = "",
    zone_written: bool = False,
    named: datetime | None = None,
    file: datetime | None = None,
) -> Dated:
    """Choose the day of an old picture, and say what speaks against it.

    Parameters
    ----------
    came : datetime
        When it came in, by the shop's clock. [-]
    camera : datetime or None
        When its camera says it was taken. [-]
    satellites : datetime or None
        The day that the camera heard from satellites. [-]
    exif : str
        The version of the standard that the camera writes by, such as `0230`. [-]
    zone_written : bool
        The camera wrote its time zone, as cameras do since version 2.31. [-]
    named : datetime or None
        The day in its file's name. [-]
    file : datetime or None
        The time of the file. [-]

    Returns
    -------
    Dated
        The camera's day before the name's before the file's; a day that cannot be true stands with its doubt. [-]

    Notes
    -----
    A day to come, and a day before the standard was issued that the camera writes by, cannot be true: the camera's clock
    was wrong. Where it heard satellites that day, theirs counts.

    Examples
    --------
    >>> from datetime import UTC
    >>> found = dated(came=datetime(2026, 5, 1, tzinfo=UTC), camera=datetime(2000, 1, 1, tzinfo=UTC), exif="0230")
    >>> found.by, found.doubt
    ('camera', 'Its camera says 1 January 2000 and writes by a standard of 2010: its clock was wrong.')

    References
    ----------
    exif-2-2, exif-later
    """
    if camera is not None and satellites is not None and abs(camera - satellites) > _SATELLITES_AGREE:
        return Dated(
            satellites,
            "satellites",
            f"Its camera says {_day(camera)}; the satellites it heard said {_day(satellites)}, which counts.",
        )
    if camera is not None:
        return Dated(camera, "camera", _cannot(camera, came, exif, zone_written))
    if named is not None and named <= came + _AHEAD:
        return Dated(named, "name")
    if file is not None:
        doubt = f"Its file says {_day(file)}, which is still to come." if file > came + _AHEAD else ""
        return Dated(file, "file", doubt)
    return Dated(None, "")


def _cannot(camera: datetime, came: datetime, exif: str, zone_written: bool) -> str:
    if camera > came + _AHEAD:
        return f"Its camera says {_day(camera)}, which is still to come: its clock was wrong."
    issued = EXIF_ISSUED.get(exif)
    if zone_written:
        issued = max(issued or EXIF_ISSUED["0231"], EXIF_ISSUED["0231"])
    if issued is not None and camera.date() < issued:
        return f"Its camera says {_day(camera)} and writes by a standard of {issued.year}: its clock was wrong."
    return ""


def _day(moment: datetime) -> str:
    return f"{moment:%-d %B %Y}"
