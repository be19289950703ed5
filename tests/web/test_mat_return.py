"""What came back mixed lies on the mat at the counter: one picture says whose is whose, by the same reading as before."""

import uuid
from typing import Any

import pytest

from tests.records.shop import Shop, make_shop
from tests.records.test_mat import file
from tests.records.test_mat_groups import reading
from tests.records.test_mixing import received, sent
from tests.support.pages import client, words
from witnessmark.calc.mat.groups import for_return
from witnessmark.records.actions import mat as acts
from witnessmark.records.actions.answers import keep_answer
from witnessmark.records.models import Answer, Holding, Mix, Piece, PieceReading
from witnessmark.records.photo_store import keep_bytes

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def returned(level: int, shift_mm: float = 0.0) -> Answer:
    """A picture of three thin and two thick pins with the figures that the matching takes, as the reader gives them."""
    from tests.records.test_mat import grey
    from tests.unit.test_mat_reading import _piece

    told: dict[str, Any] = dict(reading().result)
    pieces = [_piece(n, (4.0 if n < 4 else 6.0) + shift_mm, 20.0) for n in range(1, 6)]
    told["returned"] = {str(p.number): for_return(p) for p in pieces}
    photo = keep_bytes(grey(level), "mat.jpg")
    return keep_answer(acts.READING, photo.sha256, inputs={"photo": photo.sha256}, result=told)


def test_a_picture_at_the_return_counter_says_whose_they_are(shop: Shop) -> None:
    before = returned(90)
    file(shop, before, [1, 2, 3], "B-1")
    file(shop, before, [4, 5], "B-2")
    assert PieceReading.objects.filter(piece__tag="B-1", what="shank_diameter_mm").count() == 3
    shipment = sent(shop, *Piece.objects.filter(tag__in=("B-1", "B-2")))
    received(shop, shipment, 5)
    bucket = Mix.objects.get().piece
    assert bucket.tag
    browser = client(shop.mechanic)
    page = browser.get("/outwork/S-1/sort/")
    assert f"/mat/?bucket={bucket.tag}" in page.content.decode()
    assert f"Lay what came back in {bucket.tag} on the mat" in words(browser.get(f"/mat/?bucket={bucket.tag}"))
    after = returned(110, 0.012)
    here = f"/mat/{after.subject}/?bucket={bucket.tag}"
    assert f"Write their figures down on {bucket.tag}" in words(browser.get(here))
    told = browser.post(here, {"act_id": str(uuid.uuid4()), "do": "return", "tag": bucket.tag})
    assert told.status_code == 302 and told.url == "/outwork/S-1/sort/"  # type: ignore[attr-defined]
    text = words(browser.get("/outwork/S-1/sort/"))
    assert "5 of 5 are told apart." in text
    items = [f"{after.subject[:6]}-{n}" for n in range(1, 6)]
    done = browser.post(
        "/outwork/S-1/sort/", {"act_id": str(uuid.uuid4()), "do": "confirm", "item": items, "to": "shelf C"}
    )
    assert done.status_code == 302
    home = Holding.objects.filter(holder__name="shelf C", count__gt=0)
    assert {h.piece.tag: h.count for h in home} == {"B-1": 3, "B-2": 2}


def test_a_picture_keeps_its_bucket_until_it_is_read(shop: Shop) -> None:
    from django.core.files.uploadedfile import SimpleUploadedFile

    from tests.records.test_mat import grey

    sent_in = {
        "act_id": str(uuid.uuid4()),
        "do": "read",
        "bucket": "M-1",
        "picture": SimpleUploadedFile("a.jpg", grey()),
    }
    told = client(shop.mechanic).post("/mat/", sent_in)
    assert told.url.endswith("/?bucket=M-1")  # type: ignore[attr-defined]
