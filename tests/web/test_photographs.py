"""Pictures: kept as received, shown upright and without where they were taken."""

import io
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from tests.records.shop import Shop, make_part, make_shop
from witnessmark.records.models import Act, Person, Photo, PhotoUse, Piece
from witnessmark.records.photo_store import original_path

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def part(shop: Shop) -> Piece:
    return make_part(shop, "0118", shop.shelf)


def jpeg(width: int = 400, height: int = 200, turned: int = 1) -> bytes:
    """A picture with a red left half, turned by the camera, with the place it was taken in it."""
    image = Image.new("RGB", (width, height), "blue")
    image.paste("red", (0, 0, width // 2, height))
    exif = Image.Exif()
    exif[0x0112] = turned
    exif[0x010F] = "A camera"
    exif.get_ifd(0x8825)[2] = (50.0, 5.0, 30.0)
    out = io.BytesIO()
    image.save(out, "JPEG", exif=exif)
    return out.getvalue()


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def send(client: Client, data: bytes, name: str = "a.jpg", act_id: str = "", what: str = "As found") -> int:
    page = client.post(
        "/piece/0118/",
        {
            "do": "photograph",
            "act_id": act_id or str(uuid.uuid4()),
            "what": what,
            "picture": SimpleUploadedFile(name, data, "image/jpeg"),
        },
    )
    return page.status_code


def test_a_picture_is_kept_as_received_and_shown_first(shop: Shop, part: Piece) -> None:
    client, data = signed_in(shop.mechanic), jpeg()
    assert send(client, data) == 302
    photo = Photo.objects.get()
    assert original_path(photo.sha256).read_bytes() == data
    text = client.get("/piece/0118/").content.decode()
    assert text.index(f"/photo/{photo.sha256}/") < text.index("<h1>")
    assert "As found" in text


def test_what_is_shown_is_upright_and_tells_no_place(shop: Shop, part: Piece) -> None:
    client = signed_in(shop.mechanic)
    send(client, jpeg(turned=6))  # the camera was held upright: the left half is the upper one
    page = client.get(f"/photo/{Photo.objects.get().sha256}/320/")
    assert (page.status_code, page["Content-Type"]) == (200, "image/jpeg")
    shown = Image.open(io.BytesIO(page.content))
    assert shown.height == 2 * shown.width
    assert not dict(shown.getexif())
    assert b"camera" not in page.content
    red, _, blue = shown.convert("RGB").getpixel((shown.width // 2, shown.height // 8))  # type: ignore[misc]
    assert red > 200 > blue


def test_the_same_picture_sent_twice_is_kept_once(shop: Shop, part: Piece) -> None:
    client, data, once = signed_in(shop.mechanic), jpeg(), str(uuid.uuid4())
    for _ in range(2):
        assert send(client, data, act_id=once) == 302
    assert (Photo.objects.count(), PhotoUse.objects.count()) == (1, 1)
    assert send(client, data) == 302
    assert PhotoUse.objects.count() == 1


@pytest.mark.parametrize("data", [b"", b"not a picture", b"<svg xmlns='http://www.w3.org/2000/svg'/>", jpeg()[:500]])
def test_what_is_no_picture_is_refused_in_words(shop: Shop, part: Piece, data: bytes) -> None:
    acts = Act.objects.count()
    assert send(signed_in(shop.mechanic), data) == 422
    assert not Photo.objects.exists()
    assert Act.objects.count() == acts


def test_too_many_pixels_are_refused(shop: Shop, part: Piece, settings: pytest.FixtureRequest) -> None:
    settings.PHOTO_MAX_PIXELS = 10_000  # type: ignore[attr-defined]
    assert send(signed_in(shop.mechanic), jpeg()) == 422
    assert not Photo.objects.exists()


def test_who_may_only_read_adds_none(shop: Shop, part: Piece) -> None:
    assert send(signed_in(shop.owner), jpeg()) == 403
    assert not Photo.objects.exists()


def test_what_is_not_there(shop: Shop, part: Piece) -> None:
    client = signed_in(shop.mechanic)
    send(client, jpeg())
    photo = Photo.objects.get()
    assert client.get(f"/photo/{'0' * 64}/320/").status_code == 404
    assert client.get(f"/photo/{photo.sha256}/321/").status_code == 404
    original_path(photo.sha256).unlink()
    assert client.get(f"/photo/{photo.sha256}/800/").status_code == 404
