"""Old pictures by the folder: dated by their camera, kept once, never shown with the place they were taken at."""

import io
import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from PIL import Image

from tests.records.shop import Shop, make_shop
from witnessmark.cli.main import main
from witnessmark.records.actions.old_pictures import old_picture_comes_in
from witnessmark.records.actions.saying import NotAllowed
from witnessmark.records.lookups.pictures import waits
from witnessmark.records.models import Photo, PictureIn
from witnessmark.records.photo_store import served_copy

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(tmp_path: Path, settings: object) -> Shop:
    settings.DATA = tmp_path / "own data"  # type: ignore[attr-defined]
    return make_shop()


def _jpeg(shade: int, taken: str = "") -> bytes:
    """Draw a picture; with its day comes the place, as a phone writes both (Exif 2.3: 0x9003, GPS IFD 0x8825)."""
    image, exif, out = Image.new("RGB", (400, 300), (shade, 90, 40)), Image.Exif(), io.BytesIO()
    if taken:
        exif.get_ifd(0x8769)[0x9003] = taken
        exif.get_ifd(0x8825).update({1: "N", 2: (52.0, 31.0, 12.0), 3: "E", 4: (13.0, 24.0, 18.0)})
    image.save(out, "JPEG", exif=exif)
    return out.getvalue()


def test_the_cameras_day_counts_and_the_files_where_there_is_none(shop: Shop) -> None:
    old = old_picture_comes_in(by=shop.mechanic, data=_jpeg(1, "1998:07:04 10:20:30"), name="a.jpg")
    assert (old["dated"], old["taken_at"][:10]) == ("camera", "1998-07-04")
    day = datetime(2004, 5, 6, tzinfo=UTC)
    plain = old_picture_comes_in(by=shop.mechanic, data=_jpeg(2), name="b.jpg", file_date=day)
    assert (plain["dated"], plain["taken_at"][:10]) == ("file", "2004-05-06")
    assert waits().unsorted == 2


def test_the_same_picture_comes_in_once(shop: Shop) -> None:
    for name in ("a.jpg", "copy of a.jpg"):
        told = old_picture_comes_in(by=shop.mechanic, data=_jpeg(3), name=name)
    assert told["new"] is False
    assert PictureIn.objects.count() == 1


def test_who_may_only_look_brings_nothing(shop: Shop) -> None:
    with pytest.raises(NotAllowed, match="Nothing was kept"):
        old_picture_comes_in(by=shop.owner, data=_jpeg(4), name="a.jpg")
    assert not Photo.objects.exists()


def test_what_is_served_does_not_say_where_it_was_taken(shop: Shop) -> None:
    data = _jpeg(5, "2001:02:03 04:05:06")
    with Image.open(io.BytesIO(data)) as given:
        assert given.getexif().get_ifd(0x8825)  # the place is in what came
    told = old_picture_comes_in(by=shop.mechanic, data=data, name="a.jpg")
    with Image.open(io.BytesIO(served_copy(Photo.objects.get(pk=told["photo"]), 320))) as served:
        assert not served.getexif().get_ifd(0x8825)
        assert not served.getexif()


def test_a_folder_comes_in_and_again_changes_nothing(
    shop: Shop, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    here = tmp_path / "old"
    (here / "summer").mkdir(parents=True)
    for number in range(5):
        (here / "summer" / f"{number}.JPG").write_bytes(_jpeg(10 + 20 * number, "1999:01:02 03:04:05"))
    (here / "same.jpg").write_bytes(_jpeg(10, "1999:01:02 03:04:05"))
    (here / "cut.jpg").write_bytes(_jpeg(200)[:400])
    (here / "notes.txt").write_text("not a picture")
    assert main(["pictures-in", str(here), "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert (told["kept"], told["there_already"], told["other_files"]) == (5, 1, 1)
    assert told["days"] == [{"day": "1999-01-02", "pictures": 5}]
    assert len(told["twins"]) == 1 and len(told["refused"]) == 1
    assert "cut off or broken" in told["refused"][0]["why"]
    assert main(["pictures-in", str(here), "--json"]) == 1
    again = json.loads(capsys.readouterr().out)
    assert (again["kept"], again["there_already"]) == (0, 6)
    assert PictureIn.objects.count() == 5


def test_a_folder_that_is_none_is_named(shop: Shop, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["pictures-in", str(tmp_path / "nowhere")]) == 2
    assert "is no folder" in capsys.readouterr().err
