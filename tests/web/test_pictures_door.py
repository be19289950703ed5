"""Anything at all is sent to the door of pictures: it answers in its own words, keeps what is one, and never breaks."""

import json
import random
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.records.shop import make_shop
from tests.records.test_racks import picture
from witnessmark.records.models import Act, Photo, PictureIn

pytestmark = pytest.mark.django_db
JSON = {"HTTP_ACCEPT": "application/json"}
PLAIN = picture(["W-001"])


@pytest.fixture
def client(tmp_path: Path, settings: Any) -> Iterator[Client]:
    settings.DATA = tmp_path
    client = Client(raise_request_exception=True)
    client.force_login(make_shop().mechanic)
    return client


def bring(client: Client, act_id: str, data: bytes = PLAIN, **more: Any) -> Any:
    return client.post("/in/", {"act_id": act_id, "picture": SimpleUploadedFile("a.png", data), **more}, **JSON)


def test_what_is_kept_is_named_back(client: Client) -> None:
    act_id = str(uuid.uuid4())
    told = bring(client, act_id).json()
    assert told["act_id"] == act_id
    assert len(told["kept"]) == 1
    assert bring(client, act_id).json() == told  # sent twice is done once
    assert PictureIn.objects.count() == 1


def test_the_same_number_for_another_picture_is_refused_by_name(client: Client) -> None:
    act_id = str(uuid.uuid4())
    bring(client, act_id)
    answer = bring(client, act_id, picture(["W-002"]))
    assert answer.status_code == 409
    told = answer.json()
    assert told["kept"] == []
    assert told["refused"][0]["name"] == "a.png"
    assert act_id in told["refused"][0]["why"]
    assert PictureIn.objects.count() == 1


@pytest.mark.parametrize("act_id", ["", "1", "x" * 5000, "{}", "00000000-0000-0000-0000", "\u0661" * 32, "a\x00b"])
def test_a_number_that_is_none_is_refused(client: Client, act_id: str) -> None:
    answer = bring(client, act_id)
    assert answer.status_code == 422
    assert answer.json()["refused"][0]["why"]
    assert not PictureIn.objects.exists()


@pytest.mark.parametrize("missing", ["act_id", "picture", "both"])
def test_missing_fields_are_named(client: Client, missing: str) -> None:
    sent: dict[str, Any] = {"act_id": str(uuid.uuid4()), "picture": SimpleUploadedFile("a.png", PLAIN)}
    for name in ("act_id", "picture") if missing == "both" else (missing,):
        del sent[name]
    answer = client.post("/in/", sent, **JSON)
    assert answer.status_code == 422
    assert answer.json()["refused"][0]["why"]


def test_another_persons_pictures_are_left_on_the_phone(client: Client) -> None:
    answer = bring(client, str(uuid.uuid4()), person="999999")
    assert answer.status_code == 401
    assert "somebody else" in answer.json()["refused"]
    assert not Photo.objects.exists()


def test_a_body_that_says_it_is_too_large_is_not_read(client: Client, settings: Any) -> None:
    settings.PHOTO_MAX_BYTES = 10_000
    answer = bring(client, str(uuid.uuid4()), b"\x89PNG" + bytes(200_000))
    assert answer.status_code == 413
    assert not Photo.objects.exists()


TEXTS = st.text(max_size=60) | st.sampled_from(
    ["2026-05-12T10:00:00+02:00", "0001-01-01T00:00", "9999-12-31T23:59:59+14:00"]
)
BYTES = st.binary(max_size=400) | st.just(PLAIN) | st.integers(1, len(PLAIN) - 1).map(lambda n: PLAIN[:n])


@settings(
    max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], deadline=None
)
@given(
    fields=st.dictionaries(
        st.sampled_from(["act_id", "taken_at", "sent_at", "device", "person", "said", "picture", "sound"]),
        TEXTS,
        max_size=6,
    ),
    data=BYTES,
    sound=st.none() | st.binary(max_size=60),
    name=st.text(st.characters(exclude_characters="/\\.\0"), min_size=1, max_size=30).map(lambda text: f"a{text}"),
    known=st.booleans(),
)
def test_any_fields_get_an_answer_in_words(
    client: Client, fields: dict[str, str], data: bytes, sound: bytes | None, name: str, known: bool
) -> None:
    sent: dict[str, Any] = {**fields, "picture": SimpleUploadedFile(name, data)}
    if sound is not None:
        sent["sound"] = SimpleUploadedFile("note", sound)
    if known:
        sent["act_id"] = str(uuid.uuid4())
    before = PictureIn.objects.count()
    answer = client.post("/in/", sent, **JSON)
    assert answer.status_code in (200, 400, 401, 403, 409, 413, 422)
    told = answer.json() if answer["Content-Type"] == "application/json" else {"kept": []}
    assert PictureIn.objects.count() - before == (len(told["kept"]) if answer.status_code == 200 else 0)
    if answer.status_code == 200:
        assert data == PLAIN


def test_a_body_that_is_no_form_at_all_is_answered(client: Client) -> None:
    chance = random.Random(5)
    heads = (
        "multipart/form-data; boundary=x",
        "multipart/form-data",
        "application/json",
        "text/plain",
        "multipart/form-data; boundary=" + "y" * 300,
    )
    for number in range(60):
        body = b"--x\r\n" + chance.randbytes(chance.randint(0, 300)) + (b"\r\n--x--" if number % 2 else b"")
        answer = client.generic("POST", "/in/", body, content_type=heads[number % len(heads)], **JSON)
        assert answer.status_code in (400, 422), (number, answer.status_code)
    assert not PictureIn.objects.exists()
    assert Act.objects.filter(verb="take_picture").count() == 0


def test_the_answer_is_json_of_one_shape(client: Client) -> None:
    told = json.loads(bring(client, str(uuid.uuid4()), b"no picture").content)
    assert set(told) == {"act_id", "kept", "refused", "waits"}
