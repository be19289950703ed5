"""What a library says of its own failure never reaches a person: he reads what was wrong, what was kept, what to do.

The raw words are Python's, Pillow's, the csv and json readers' and SQLite's own, as they stand in their sources.
"""

import struct
import uuid
import zlib
from typing import Any

import pytest
from django.db import IntegrityError
from django.test import RequestFactory

from tests.records.shop import Shop, make_shop
from tests.records.test_photo_store import picture
from tests.support.pages import client, words
from tests.web.test_certificates import back, came
from witnessmark.calc.mat.rectify import NotReadable, open_picture
from witnessmark.cli.growth import _angle
from witnessmark.exchange.old_table import read_bytes
from witnessmark.exchange.reading import ListRefused
from witnessmark.exchange.readings import BadReadings, read_readings
from witnessmark.records import work
from witnessmark.records.actions.saying import Refused, say
from witnessmark.records.models import Certificate, Work
from witnessmark.records.photo_store import NotAPicture, keep_bytes
from witnessmark.web.process_table import growth_screen

pytestmark = pytest.mark.django_db
RAW = (
    "could not convert", "invalid literal", "image file is truncated", "bytes not processed", "broken data stream",
    "constraint failed", "UNIQUE", "Expecting", "delimiter", "field larger", "zip", "Traceback", "Error:", "NoneType",
)  # fmt: skip


@pytest.fixture
def shop(settings: Any, tmp_path: Any) -> Shop:
    settings.DATA = tmp_path
    return make_shop()


def plain(text: str) -> str:
    assert not [raw for raw in RAW if raw in text], text
    return text


@pytest.mark.parametrize("hours", ["abc", "8 h", "nan", "²", "1e3", "-8"])
def test_hours_of_a_bake_that_are_no_number(shop: Shop, hours: str) -> None:
    paper = back(shop).certificates.get()
    Certificate.objects.filter(pk=paper.pk).update(kind="bake")
    page = client(shop.mechanic).post("/certificates/", came(paper, hours=hours))
    assert page.status_code == 422
    told = plain(words(page))
    assert f"Hours in the oven: '{hours}' is no number of hours. Nothing was changed." in told
    assert "write it like 8 or 8.5" in told


def cut_png() -> bytes:
    """A PNG whose picture data ends before its last rows, with its own length and checksum right."""
    head = struct.pack(">IIBBBBB", 400, 300, 8, 2, 0, 0, 0)
    rows = zlib.compress(b"\0" * 5000)[:-9]

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


@pytest.mark.parametrize("data", [picture((600, 400))[:1500], picture((600, 400), "PNG")[:-200], cut_png()])
def test_a_picture_that_breaks_off(shop: Shop, data: bytes) -> None:
    with pytest.raises(NotAPicture, match=r"cannot be read to its end\. Nothing was kept\. Copy it again") as kept:
        keep_bytes(data, "IMG_1.jpg")
    plain(str(kept.value))
    with pytest.raises(NotReadable, match=r"cannot be read to its end\. Copy it again") as read:
        open_picture(data)
    plain(str(read.value))


def test_lists_and_readings_that_break_off(shop: Shop) -> None:
    for data, name in ((b"PK\x03\x04broken", "old.xlsx"), (b'a,b\n"' + b"x" * 200_000 + b'",2\n', "old.csv")):
        with pytest.raises(ListRefused, match="Save it anew") as refused:
            read_bytes(data, name)
        plain(str(refused.value))
    for content, why in (
        (b'{"pieces": [\n{"id": 1,}]}', "line 2"),
        (b"[" * 100_000, "brackets"),
        (b"item,diameter_mm,diameter_mm_u\n1,7,much\n", "'much' is no uncertainty"),
    ):
        with pytest.raises(BadReadings, match=why) as bad:
            read_readings(content, "file")
        plain(str(bad.value))


def test_what_the_database_refuses_is_not_said_in_its_words(shop: Shop) -> None:
    def twice(_: Any) -> dict[str, Any]:
        raise IntegrityError("UNIQUE constraint failed: records_shipment.number")

    with pytest.raises(Refused, match=r"does not go with what stands there already\. Nothing") as refused:
        say("send_out", by=shop.lead, act_id=uuid.uuid4(), said={}, do=twice)
    plain(str(refused.value))


@pytest.mark.parametrize("angle", ["sixty", "²", "6²", "1e1"])
def test_an_angle_of_a_thread_that_is_no_number(shop: Shop, angle: str) -> None:
    request = RequestFactory().get("/work-out/growth/", {"spec": "ASTM B633", "class": "SC1", "angle": angle})
    request.user = shop.mechanic
    assert f"'{angle}' is no angle of a thread" in plain(words(growth_screen(request)))
    with pytest.raises(ValueError, match="is no angle of a thread"):
        _angle(angle)


@pytest.mark.parametrize(
    ("fault", "told"),
    [
        (ValueError("could not convert string to float: 'abc'"), "a fault of its own in 3 tries"),
        (Refused("holes.csv: The file is empty. Nothing was written."), "holes.csv: The file is empty."),
    ],
)
def test_work_that_failed_is_told_in_words(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, fault: Exception, told: str
) -> None:
    def fails(_: work.Leased) -> None:
        raise fault

    monkeypatch.setitem(work.HANDLERS, "read_mat", fails)
    work.enqueue("read_mat", "a")
    while work.do_one():
        pass
    assert told in plain(Work.objects.get(kind="read_mat").fault)
