"""What comes to the door of old pictures and is not as it should be: a clear line each, kept where it is a picture."""

import io
import struct
import uuid
import zlib
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image, TiffImagePlugin
from PIL.PngImagePlugin import PngInfo

from tests.records.shop import Shop, make_part, make_shop
from tests.records.test_pictures_in import come_in
from tests.records.test_racks import picture
from tests.support.heic import TAG_1001
from tests.support.pages import client, words
from witnessmark.records.lookups.pictures import waits
from witnessmark.records.models import Aircraft, Photo, PhotoUse, PictureIn, Piece, PieceKind

pytestmark = pytest.mark.django_db
JSON = {"HTTP_ACCEPT": "application/json"}
# A place that no test file holds by chance: degrees, minutes, seconds as a phone writes them (Exif 2.2, GPS IFD 0x8825).
NORTH, EAST = (57.0, 41.0, 23.456), (11.0, 58.0, 7.891)


@pytest.fixture
def shop(tmp_path: Path, settings: Any) -> Shop:
    settings.DATA = tmp_path / "own data"
    return make_shop()


def bring(browser: Client, name: str, data: bytes, **said: str) -> Any:
    file = SimpleUploadedFile(name, data)
    return browser.post("/pictures/old/", {"act_id": str(uuid.uuid4()), "picture": file, **said}, **JSON)


def exif_of(**at: Any) -> Image.Exif:
    """`taken` and `version` go where a camera writes them (Exif 2.2: 0x9003, 0x9000); `day` is the satellites' (0x1D)."""
    exif = Image.Exif()
    if "taken" in at:
        exif.get_ifd(0x8769)[0x9003] = at["taken"]
    if "version" in at:
        exif.get_ifd(0x8769)[0x9000] = at["version"]
    if "zone" in at:
        exif.get_ifd(0x8769)[0x9011] = at["zone"]
    if at.get("place"):
        exif.get_ifd(0x8825).update({1: "N", 2: NORTH, 3: "E", 4: EAST})
    if "day" in at:
        exif.get_ifd(0x8825).update({0x1D: at["day"], 7: (8.0, 30.0, 0.0)})
    return exif


def shot(kind: str = "JPEG", size: tuple[int, int] = (400, 300), shade: int = 90, **at: Any) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, (shade, 100, 60)).save(out, kind, exif=exif_of(**at))
    return out.getvalue()


def bomb(side_px: int) -> bytes:
    """A few bytes that say they are a picture of so many pixels a side (PNG: IHDR, IDAT, IEND)."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    header = chunk(b"IHDR", struct.pack(">IIBBBBB", side_px, side_px, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + header + chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")


def test_thirty_megabytes_are_kept(shop: Shop) -> None:
    """Noise does not compress: 3,200 by 3,200 grey levels in three colours are more than 30 MB."""
    out = io.BytesIO()
    noise = Image.effect_noise((3200, 3200), 90)
    Image.merge("RGB", (noise, noise.rotate(90), noise.rotate(180))).save(out, "PNG", compress_level=0)
    assert len(out.getvalue()) > 30_000_000
    told = bring(client(shop.mechanic), "large.png", out.getvalue()).json()
    assert told["refused"] == [] and told["kept"][0]["new"]
    assert Photo.objects.get().bytes == len(out.getvalue())


@pytest.mark.filterwarnings("ignore::PIL.Image.DecompressionBombWarning")
@pytest.mark.parametrize(
    ("name", "data", "why"),
    [
        ("wing.jpg", b"%PDF-1.7\n1 0 obj", "whatever its name says: it is a PDF. Nothing was kept."),
        ("bomb.png", bomb(14_143), "has more than 60 million pixels. Nothing was kept."),  # 200 million
        ("cut.jpg", shot(size=(2000, 1500))[:9000], "is cut off or broken"),
        ("cut.heic", TAG_1001[:900], "cut off or broken"),
        ("empty.jpg", b"", "is empty. Nothing was kept."),
    ],
)
def test_what_is_none_is_refused_by_its_name(shop: Shop, name: str, data: bytes, why: str) -> None:
    answer = bring(client(shop.mechanic), name, data)
    (refused,) = answer.json()["refused"]
    assert answer.status_code == 422 and refused["name"] == name
    assert name in refused["why"] and why in refused["why"]
    assert not Photo.objects.exists() and not PictureIn.objects.exists()


def test_a_phone_s_heic_is_kept_and_shown(shop: Shop) -> None:
    browser = client(shop.mechanic)
    told = bring(browser, "IMG_20240312_101112.HEIC", TAG_1001).json()
    assert told["kept"][0]["dated"] == "name"
    page = browser.get(f"/photo/{told['kept'][0]['photo']}/320/")
    assert page.content.startswith(b"\xff\xd8") and PictureIn.objects.get().taken_at.year == 2024


def test_a_clock_ahead_is_said(shop: Shop) -> None:
    ahead = datetime.now(UTC) + timedelta(days=365)
    browser = client(shop.mechanic)
    told = bring(browser, "a.jpg", shot(taken=ahead.strftime("%Y:%m:%d %H:%M:%S"))).json()["kept"][0]
    assert f"{ahead:%-d %B %Y}, which is still to come: its clock was wrong." in told["line"]
    text = words(browser.get("/pictures/unsorted/"))
    assert "Their day is not known, or cannot be true." in text and "still to come" in text


@pytest.mark.parametrize(
    "at", [{"version": b"0230", "taken": "2002:01:01 00:00:00"}, {"zone": "+02:00", "taken": "2002:01:01 12:00:00"}]
)
def test_a_day_before_the_camera_can_have_been_there_is_said(shop: Shop, at: dict[str, Any]) -> None:
    told = bring(client(shop.mechanic), "a.jpg", shot(**at)).json()["kept"][0]
    assert "1 January 2002 and writes by a standard of 20" in told["line"]
    assert "its clock was wrong" in told["line"] and "It is kept, unsorted." in told["line"]


def test_a_clock_a_year_behind_is_put_right_by_the_satellites(shop: Shop) -> None:
    told = bring(client(shop.mechanic), "a.jpg", shot(taken="2023:03:12 10:00:00", day="2024:03:12")).json()["kept"][0]
    assert told["dated"] == "satellites" and told["taken_at"] == "2024-03-12T08:30:00+00:00"
    assert "12 March 2023" in told["doubt"] and "12 March 2024, which counts" in told["doubt"]


def test_a_tag_in_an_old_picture_is_read_where_there_were_tags_by_then(shop: Shop) -> None:
    come_in(shop.mechanic, ["1001"])  # the shop's first tag, now
    now = datetime.now(UTC) + timedelta(minutes=1)
    browser = client(shop.mechanic)
    data = picture(["1001"]) + b"\0"  # other bytes than those that came in
    file_date = {"taken_at": now.isoformat()}
    told = bring(browser, "a.png", data, **file_date).json()["kept"][0]
    assert [each["tag"] for each in told["tags"]] == ["1001"] and "It shows 1001." in told["line"]
    assert waits().unsorted == 0


def test_tags_of_two_aircraft_ask_and_are_given_to_nothing(shop: Shop) -> None:
    other = Aircraft.objects.create(name="Otherbird")
    make_part(shop, "1001", shop.shelf)
    Piece.objects.create(tag="1002", aircraft=other, kind=PieceKind.PART)
    come_in(shop.mechanic, ["1003"])  # there are tags by now
    browser = client(shop.mechanic)
    told = bring(browser, "two.png", picture(["1001", "1002"])).json()["kept"][0]
    assert "Tags of 2 aircraft in one picture" in told["asks"] and told["asks"] in told["line"]
    assert told["tags"] == [] and not PhotoUse.objects.filter(photo=told["photo"]).exists()
    assert "Tags of 2 aircraft" in words(browser.get("/in/said/"))


def with_place(kind: str) -> bytes:
    """A picture that says where it was taken in each way its kind has: Exif, XMP, a comment."""
    words_too = b'<x xmlns:exif="http://ns.adobe.com/exif/1.0/" exif:GPSLatitude="57,41.3909N" note="secret hangar"/>'
    out, image = io.BytesIO(), Image.effect_noise((400, 300), 60).convert("RGB")
    more: dict[str, Any] = {"exif": exif_of(place=True, taken="2024:03:12 10:00:00").tobytes()}
    if kind == "PNG":
        text = PngInfo()
        text.add_itxt("XML:com.adobe.xmp", words_too.decode())
        more["pnginfo"] = text
    elif kind == "TIFF":
        own = TiffImagePlugin.ImageFileDirectory_v2()
        own[270] = "secret hangar"
        more = {"tiffinfo": own, "exif": more["exif"]}
    else:
        more["xmp"] = words_too
    if kind == "JPEG":
        more["comment"] = b"secret hangar"
    image.save(out, kind, **more)
    return out.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF"])
def test_no_copy_that_is_served_says_where_it_was_taken(shop: Shop, kind: str) -> None:
    data = with_place(kind)
    with Image.open(io.BytesIO(data)) as given:
        assert given.getexif().get_ifd(0x8825) or kind == "TIFF"
        assert b"secret hangar" in data
    browser = client(shop.mechanic)
    photo = bring(browser, f"a.{kind.lower()}", data).json()["kept"][0]["photo"]
    for width in (320, 800, 1600):
        served = browser.get(f"/photo/{photo}/{width}/").content
        with Image.open(io.BytesIO(served)) as shown:
            assert shown.format == "JPEG" and not shown.getexif() and not shown.getexif().get_ifd(0x8825)
            assert not {"exif", "xmp", "comment", "photoshop"} & set(shown.info)
        for trace in (b"Exif", b"secret", b"GPS", b"57,41", b"http://ns.adobe.com"):
            assert trace not in served
    assert browser.get(f"/photo/{photo}/0/").status_code == 404  # there is no way to the original by a screen
