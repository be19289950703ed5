"""What the day of an old picture is worth (tags and versions: the Exif standard; names: how cameras name files, memory)."""

from datetime import UTC, datetime, timedelta

import pytest

from witnessmark.calc.pictures.dates import EXIF_ISSUED, dated, day_in_name

CAME = datetime(2026, 5, 12, 9, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("name", "day"),
    [
        ("IMG_20240312_101112.jpg", datetime(2024, 3, 12, 10, 11, 12)),
        ("20240312_101112.jpg", datetime(2024, 3, 12, 10, 11, 12)),
        ("P_20240312_101112987.jpg", datetime(2024, 3, 12, 10, 11, 12)),
        ("2024-03-12 10.11.12.jpg", datetime(2024, 3, 12, 10, 11, 12)),
        ("picture 2024-03-12 at 10.11.12.png", datetime(2024, 3, 12, 10, 11, 12)),
        ("IMG-20240312-WA0007.jpg", datetime(2024, 3, 12, 12, 0)),
        ("1998_07_04 left wing.tif", datetime(1998, 7, 4, 12, 0)),
        ("DSC00417.JPG", None),
        ("part 19991301.jpg", None),
        ("20240230_101112.jpg", None),
        ("18700101.jpg", None),
        ("serial 120240312991.jpg", None),
    ],
)
def test_the_day_in_a_name(name: str, day: datetime | None) -> None:
    assert day_in_name(name) == day


def test_the_camera_counts_before_the_name_and_the_name_before_the_file() -> None:
    camera, named, file = (datetime(2024, month, 1, tzinfo=UTC) for month in (1, 2, 3))
    assert dated(came=CAME, camera=camera, named=named, file=file).by == "camera"
    assert dated(came=CAME, named=named, file=file).taken == named
    assert dated(came=CAME, file=file).by == "file"
    nothing = dated(came=CAME)
    assert (nothing.taken, nothing.by, nothing.doubt) == (None, "", "")


def test_a_day_to_come_is_said() -> None:
    ahead = CAME + timedelta(days=365)
    assert "12 May 2027, which is still to come: its clock was wrong" in dated(came=CAME, camera=ahead).doubt
    assert "still to come" in dated(came=CAME, file=ahead).doubt
    assert dated(came=CAME, camera=CAME + timedelta(hours=13)).doubt == ""  # the other side of the date line
    assert dated(came=CAME, named=ahead, file=CAME).by == "file"


@pytest.mark.parametrize(("version", "issued"), EXIF_ISSUED.items())
def test_a_camera_does_not_write_by_a_standard_that_was_not_there(version: str, issued: object) -> None:
    first = datetime.combine(issued, datetime.min.time(), UTC)  # type: ignore[arg-type]
    before = dated(came=CAME, camera=first - timedelta(days=1), exif=version)
    assert f"writes by a standard of {first.year}: its clock was wrong" in before.doubt
    assert dated(came=CAME, camera=first, exif=version).doubt == ""


def test_a_time_zone_is_written_since_2016() -> None:
    """The tags of the offset came with version 2.31 (from memory)."""
    old = datetime(2012, 3, 1, tzinfo=UTC)
    assert "a standard of 2016" in dated(came=CAME, camera=old, zone_written=True).doubt
    assert dated(came=CAME, camera=old, exif="0230").doubt == ""


def test_a_clock_a_year_off_is_put_right_by_the_satellites() -> None:
    right = datetime(2025, 4, 3, 8, 0, tzinfo=UTC)
    told = dated(came=CAME, camera=right - timedelta(days=365), satellites=right)
    assert (told.taken, told.by) == (right, "satellites")
    assert "3 April 2024" in told.doubt and "3 April 2025, which counts" in told.doubt
    assert dated(came=CAME, camera=right + timedelta(hours=14), satellites=right).by == "camera"
