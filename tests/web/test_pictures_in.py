"""Pictures come in by the screen and by a phone's queue; each bad input answers with one clear line."""

import io
import json
import struct
import uuid
import zlib
from collections.abc import Sequence
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from tests.records.shop import Shop, make_part, make_shop
from tests.records.test_pictures_in import WAV
from tests.records.test_racks import picture
from tests.support.heic import TAG_1001
from witnessmark.records.models import Act, Person, Photo, PictureIn, Piece, Role, SoundNote

pytestmark = pytest.mark.django_db
JSON = {"headers": {"accept": "application/json"}}


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def send(client: Client, *files: tuple[str, bytes], **more: Any) -> Any:
    form = {"act_id": str(uuid.uuid4()), "picture": [SimpleUploadedFile(name, data) for name, data in files], **more}
    return client.post("/in/", form, **JSON)


def test_an_empty_record_shows_the_one_control_and_takes_the_first_picture() -> None:
    client = signed_in(Person.objects.create(name="Lead", role=Role.LEAD))
    page = client.get("/in/").content.decode()
    assert 'capture="environment"' in page and "Nothing is typed" in page
    told = send(client, ("IMG_1.png", picture(["1001", "1002"])))
    assert told.status_code == 200
    assert {each["tag"] for each in told.json()["kept"][0]["tags"]} == {"1001", "1002"}
    assert told.json()["waits"] == {"unsorted": 0, "asks": 0, "not_said": 2}
    page = client.get("/in/").content.decode()
    assert "2 pieces are not told of fully." in page and "/piece/1001/" in page
    assert client.get("/piece/1001/").status_code == 200


def test_without_script_the_form_answers_with_the_page(shop: Shop) -> None:
    form = {"act_id": str(uuid.uuid4()), "picture": SimpleUploadedFile("a.png", picture(["1001"]))}
    page = signed_in(shop.mechanic).post("/in/", form)
    assert page.status_code == 200 and "1001 is new" in page.content.decode()


def test_a_queue_sends_twice_and_it_is_kept_once(shop: Shop) -> None:
    client, act = signed_in(shop.mechanic), str(uuid.uuid4())
    first = send(client, ("a.png", picture(["1001"])), act_id=act, taken_at="2026-05-12T08:00:00Z")
    again = send(client, ("a.png", picture(["1001"])), act_id=act, taken_at="2026-05-12T08:00:00Z")
    assert first.json()["kept"] == again.json()["kept"] and PictureIn.objects.count() == 1


def test_several_at_once_are_an_act_each_and_one_bad_one_does_not_lose_the_others(shop: Shop) -> None:
    told = send(
        signed_in(shop.mechanic), ("a.png", picture(["1001"])), ("b.jpg", b"%PDF-1.7"), ("c.png", picture(["1002"]))
    )
    assert told.status_code == 422 and len(told.json()["kept"]) == 2
    assert told.json()["refused"][0]["name"] == "b.jpg"
    assert Piece.objects.filter(tag__in=["1001", "1002"]).count() == 2


def test_a_spoken_note_comes_with_it_and_is_played_in_parts(shop: Shop) -> None:
    client = signed_in(shop.mechanic)
    told = send(client, ("a.png", picture(["1001"])), sound=SimpleUploadedFile("note.wav", WAV))
    assert told.json()["kept"][0]["sound"]
    address = f"/in/sound/{SoundNote.objects.get().pk}/"
    whole = client.get(address)
    assert whole.content == WAV and whole["Content-Type"] == "audio/wav"
    part = client.get(address, headers={"range": "bytes=4-7"})
    assert part.status_code == 206 and part.content == WAV[4:8] and part["Content-Range"] == f"bytes 4-7/{len(WAV)}"
    assert client.get(address, headers={"range": "bytes=900-"}).status_code == 416
    assert f'src="{address}"' in client.get("/piece/1001/").content.decode()


def test_a_note_spoken_afterwards(shop: Shop) -> None:
    client = signed_in(shop.mechanic)
    sha = send(client, ("a.png", picture(["1001"]))).json()["kept"][0]["photo"]
    form = {"act_id": str(uuid.uuid4()), "sound": SimpleUploadedFile("note.wav", WAV)}
    assert client.post(f"/in/spoken/{sha}/", form, **JSON).status_code == 200
    bad = {"act_id": str(uuid.uuid4()), "sound": SimpleUploadedFile("note.wav", b"no sound at all")}
    refused = client.post(f"/in/spoken/{sha}/", bad, **JSON)
    assert refused.status_code == 422 and "is no sound" in refused.json()["refused"]


def test_who_is_signed_out_or_may_only_look(shop: Shop) -> None:
    assert send(Client(), ("a.png", picture(["1001"]))).status_code == 401
    assert Client().get("/in/").status_code == 302
    assert send(signed_in(shop.owner), ("a.png", picture(["1001"]))).status_code == 403
    craftsman = Person.objects.create(name="Outside", role=Role.CRAFTSMAN)
    assert signed_in(craftsman).get("/in/").status_code == 403
    assert not Photo.objects.exists() and not Act.objects.exists()


def test_a_form_without_number_or_picture(shop: Shop) -> None:
    client = signed_in(shop.mechanic)
    assert "No picture came along" in send(client).json()["refused"][0]["why"]
    assert send(client, ("a.png", picture(["1001"])), act_id="x").status_code == 422


def bomb(side: int = 15_000) -> bytes:
    """A PNG of 225 million pixels in a few kilobytes (the PNG standard's own chunks; nothing of it needs decoding)."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", side, side, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(bytes(100_000)))
        + chunk(b"IEND", b"")
    )


def saved(tags: Sequence[str], kind: str, **how: Any) -> bytes:
    out = io.BytesIO()
    Image.open(io.BytesIO(picture(list(tags)))).convert("RGB").save(out, kind, **how)
    return out.getvalue()


def test_a_heic_is_read_like_any_other(shop: Shop) -> None:
    told = send(signed_in(shop.mechanic), ("IMG.HEIC", TAG_1001))
    assert told.json()["kept"][0]["tags"][0]["tag"] == "1001"


def test_thirty_megabytes_are_kept_and_read(shop: Shop) -> None:
    data = saved(["1001"], "JPEG", quality=95)
    told = send(signed_in(shop.mechanic), ("big.jpg", data + bytes(30_000_000 - len(data))))
    assert told.json()["kept"][0]["tags"][0]["tag"] == "1001" and Photo.objects.get().bytes == 30_000_000


@pytest.mark.parametrize(
    ("name", "data", "says"),
    [
        ("bag.jpg", b"%PDF-1.7\nnot a picture", "is no picture that can be read, whatever its name says"),
        ("huge.png", bomb(), "has more than 60 million pixels"),
        ("cut.jpg", saved(["1001"], "JPEG")[:9000], "is cut off or broken"),
        ("empty.jpg", b"", "is empty"),
    ],
)
def test_what_is_no_picture_is_refused_by_name(shop: Shop, name: str, data: bytes, says: str) -> None:
    told = send(signed_in(shop.mechanic), (name, data))
    assert (
        told.status_code == 422
        and says in told.json()["refused"][0]["why"]
        and name in told.json()["refused"][0]["why"]
    )
    assert not Photo.objects.exists()


def test_a_torn_code_keeps_the_picture_unsorted(shop: Shop) -> None:
    whole = Image.open(io.BytesIO(picture(["1001"])))
    half = Image.new("L", whole.size, 255)
    half.paste(whole.crop((0, 0, 90, whole.height)))
    out = io.BytesIO()
    half.save(out, "PNG")
    told = send(signed_in(shop.mechanic), ("torn.png", out.getvalue())).json()
    assert (
        told["kept"][0]["unsorted"]
        and "No tag can be read" in told["kept"][0]["line"]
        and told["waits"]["unsorted"] == 1
    )


def test_the_last_pictures_cost_the_same_number_of_queries(shop: Shop, django_assert_max_num_queries: Any) -> None:
    client = signed_in(shop.mechanic)
    for tag in ("1001", "1002", "1003"):
        send(client, ("a.png", picture([tag])))
    make_part(shop, "0118", shop.shelf)
    with django_assert_max_num_queries(14):
        client.get("/in/")


def test_the_answer_is_json_alone(shop: Shop) -> None:
    answer = send(signed_in(shop.mechanic), ("a.png", picture(["1001"])))
    assert json.loads(answer.content)["refused"] == []
