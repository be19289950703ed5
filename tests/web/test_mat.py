"""The mat on screen: print, measure, take a picture, wait, correct by tapping, file; and every refusal."""

import re
import uuid
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.records.shop import Shop, make_shop
from tests.records.test_mat import grey, reading
from tests.unit.test_mat_reading import BAD, bad
from witnessmark.records import work
from witnessmark.records.models import Person, Photo, Piece, PieceReading, PrintedMat, Work
from witnessmark.records.photo_store import original_path

pytestmark = pytest.mark.django_db
# What is no picture, is broken or would not fit into memory is not kept at all.
NOTHING_KEPT = {
    "bomb": "million pixels. Nothing was kept",
    "truncated": "cut off or broken",
    "no picture": "no picture that can be read",
    "empty file": "is empty. Nothing was kept",
}


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def client(who: Person) -> Client:
    made = Client()
    made.force_login(who)
    return made


def post(shop: Shop, address: str, who: Person | None = None, **said: Any) -> Any:
    return client(who or shop.mechanic).post(address, {"act_id": str(uuid.uuid4()), **said})


def test_nobody_sees_it_without_signing_in(shop: Shop) -> None:
    assert Client().get("/mat/").status_code == 302
    assert Client().get(f"/mat/{reading().subject}/").status_code == 302


def test_a_mat_is_printed_and_measured(shop: Shop) -> None:
    page = post(shop, "/mat/", do="print", paper="A4", layout="boxes", colour="blue")
    assert page["Content-Type"] == "application/pdf" and page.content.startswith(b"%PDF")
    mat = PrintedMat.objects.get()
    assert mat.kind == "A4-boxes-blue"
    assert "not measured yet" in client(shop.lead).get("/mat/").content.decode()
    assert post(shop, "/mat/", do="measure", serial=mat.serial, check_a="239,6", check_b="150.2").status_code == 302
    assert PrintedMat.objects.get().check_a_mm == 239.6


def test_a_picture_is_taken_waits_and_says_why_it_cannot_be_measured(shop: Shop) -> None:
    sent = SimpleUploadedFile("mat.jpg", grey(), "image/jpeg")
    told = post(shop, "/mat/", do="read", picture=sent)
    assert told.status_code == 302
    waits = client(shop.mechanic).get(told.url).content.decode()
    assert "is being read" in waits and "Stop reading it" in waits
    assert client(shop.mechanic).get(told.url + "progress/").content == b"waiting for its turn"
    work.do_one()
    assert client(shop.mechanic).get(told.url + "progress/").content == b"done"
    assert "No mat is in the picture" in client(shop.mechanic).get(told.url).content.decode()
    assert Photo.objects.count() == 1


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_said_in_one_line_and_at_most_the_picture_is_kept(shop: Shop, name: str) -> None:
    told = post(shop, "/mat/", do="read", picture=SimpleUploadedFile("shot.jpg", bad(name), "image/jpeg"))
    if name in NOTHING_KEPT:
        assert told.status_code == 422 and NOTHING_KEPT[name] in told.content.decode()
        assert not Photo.objects.exists() and not Work.objects.exists()
        return
    work.do_one()
    page = client(shop.mechanic).get(told.url).content.decode()
    assert "This picture cannot be measured." in page and re.search(BAD[name][1], page)
    assert "The picture is kept." in page and "Take another picture" in page
    assert Photo.objects.count() == 1 and original_path(Photo.objects.get().sha256).read_bytes() == bad(name)
    assert not Piece.objects.exists() and not PieceReading.objects.exists()


def test_reading_can_be_stopped(shop: Shop) -> None:
    told = post(shop, "/mat/", do="read", picture=SimpleUploadedFile("mat.jpg", grey(), "image/jpeg"))
    assert post(shop, told.url, do="cancel").status_code == 302
    assert Work.objects.get(kind="read_mat").state == "cancelled"
    assert "It was stopped" in client(shop.mechanic).get(told.url).content.decode()


def test_groups_stand_on_the_picture_and_go_into_bags(shop: Shop) -> None:
    answer = reading()
    here = f"/mat/{answer.subject}/"
    page = client(shop.mechanic).get(here).content.decode()
    assert "4 pieces in 2 groups." in page and page.count("<polygon") == 4 and "2 of pin 3.0 x 20.0 mm" in page
    # One piece of the other group is added, one of its own is left out: split, move and merge are choosing.
    assert post(shop, here, do="file", piece=["2", "3"], name="pins 3", tag="B-7", shelf="C2").status_code == 302
    assert Piece.objects.get(tag="B-7").count_off == 2
    after = client(shop.mechanic).get(here).content.decode()
    assert 'name="shelf" value="C2"' in after  # the next bag lies there too, more often than not
    assert after.count('polygon class="hull filed"') == 2 and "/papers/bag-labels.pdf?tag=B-7" in after


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"do": "measure", "serial": "X", "check_a": "a foot", "check_b": "1"}, "is no length in mm"),
        ({"do": "print", "paper": "A5", "layout": "plain", "colour": "blue"}, "There is no mat A5"),
        ({"do": "read"}, "No picture came along"),
    ],
)
def test_a_bad_form_changes_nothing(shop: Shop, said: dict[str, str], words: str) -> None:
    page = post(shop, "/mat/", **said)
    assert page.status_code == 422 and words in page.content.decode()


def test_a_form_without_its_number_is_refused(shop: Shop) -> None:
    page = client(shop.mechanic).post("/mat/", {"do": "print", "paper": "A4", "layout": "plain", "colour": "blue"})
    assert page.status_code == 422 and not PrintedMat.objects.exists()


def test_the_owner_looks_and_does_not_change(shop: Shop) -> None:
    answer = reading()
    page = client(shop.owner).get(f"/mat/{answer.subject}/").content.decode()
    assert "Into the bag" not in page
    assert post(shop, f"/mat/{answer.subject}/", shop.owner, do="file", piece=["1"]).status_code == 403


def test_an_unknown_picture_is_not_found(shop: Shop) -> None:
    assert client(shop.lead).get(f"/mat/{'0' * 64}/").status_code == 404
    assert client(shop.lead).get(f"/mat/{'0' * 64}/progress/").status_code == 404


def test_queries_do_not_grow_with_the_pieces(shop: Shop) -> None:
    counted = []
    for pieces in (4, 80):
        answer = reading(pieces)
        answer.__class__.objects.filter(pk=answer.pk).update(result=answer.result)
        with CaptureQueriesContext(
            connection,
        ) as asked:
            client(shop.lead).get(f"/mat/{answer.subject}/")
        counted.append(len(asked))
        answer.delete()
    assert counted[0] == counted[1]
