"""Boxes for bags on screen: choose, print, say where from, file what the picture shows; and every refusal."""

import uuid
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.records.shop import Shop, make_bag, make_shop
from tests.records.test_mat_boxes import reading
from witnessmark.records.models import Answer, Holding, MatBox, Person, Piece, PrintedMat

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def client(who: Person) -> Client:
    made = Client()
    made.force_login(who)
    return made


def post(shop: Shop, address: str, who: Person | None = None, **said: Any) -> Any:
    return client(who or shop.mechanic).post(address, {"act_id": str(uuid.uuid4()), **said})


def shown(answer: Answer) -> Answer:
    """The reading with what the page draws: outlines and the size of the picture."""
    told = answer.result
    outline = [[10, 10], [30, 10], [20, 30]]
    told |= {"sentence": "Read.", "picture_px": [400, 300], "scale_measured": True}
    told["pieces"] = [p | {"outline_px": outline, "colour": "silvery", "doubts": []} for p in told["pieces"]]
    told["groups"] = [
        g | {"box": str(n), "proposals": [], "ask": "", "figures_mm": {}, "head_angle_deg": None, "pitch_mm": None}
        for n, g in enumerate(told["groups"], 1)
    ]
    Answer.objects.filter(pk=answer.pk).update(result=told)
    return Answer.objects.get(pk=answer.pk)


def test_nobody_sees_it_without_signing_in(shop: Shop) -> None:
    assert Client().get("/mat/boxes/").status_code == 302


def test_boxes_are_made_for_bags_and_printed(shop: Shop) -> None:
    make_bag(shop, "B-7", shop.shelf, 4)
    page = client(shop.mechanic).get("/mat/boxes/").content.decode()
    assert 'value="B-7"' in page and "Make the boxes." in page
    assert "No bag has" in client(shop.mechanic).get("/mat/boxes/?q=zebra").content.decode()
    told = post(shop, "/mat/boxes/", tag=["B-7"], new="1", paper="A3", colour="green")
    mat = PrintedMat.objects.get()
    assert told.status_code == 302 and told.url == f"/mat/boxes/{mat.serial}/" and mat.kind == "A3-boxes-green"
    sheet = client(shop.mechanic).get(told.url).content.decode()
    assert "2 of 12 boxes have a bag." in sheet and "B-7" in sheet and "1001" in sheet
    printed = client(shop.mechanic).get(told.url + "pdf/")
    assert printed["Content-Type"] == "application/pdf" and printed.content.startswith(b"%PDF")
    # Printed again it is the same sheet.
    assert client(shop.mechanic).get(told.url + "pdf/").content == printed.content
    assert "Boxes for bags" in client(shop.mechanic).get("/more/").content.decode()


def test_where_each_comes_from_is_said_before_the_picture(shop: Shop) -> None:
    here = post(shop, "/mat/boxes/", new="2", paper="A4", colour="blue").url
    assert post(shop, here, **{"from-1": "left root fitting", "tag-3": ""}).status_code == 302
    assert MatBox.objects.order_by("-id")[0].came_from == "left root fitting"
    assert "left root fitting" in client(shop.owner).get(here).content.decode()
    again = post(shop, here, **{"tag-3": "B-99", "from-3": "hull"})
    assert again.status_code == 422 and "No bag has the tag B-99" in again.content.decode()
    assert 'value="hull"' in again.content.decode()  # what was typed stays
    assert client(shop.lead).get("/mat/boxes/NONE/").status_code == 404
    assert client(shop.lead).get("/mat/boxes/NONE/pdf/").status_code == 404


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"paper": "A4", "colour": "blue"}, "No bag was chosen"),
        ({"paper": "A5", "colour": "blue", "new": "1"}, "There is no mat A5"),
        ({"paper": "A4", "colour": "blue", "tag": "B-99"}, "No bag has the tag B-99"),
    ],
)
def test_a_bad_form_makes_nothing(shop: Shop, said: dict[str, str], words: str) -> None:
    page = post(shop, "/mat/boxes/", **said)
    assert page.status_code == 422 and words in page.content.decode()
    assert not PrintedMat.objects.exists() and not MatBox.objects.exists()


def test_the_owner_looks_and_does_not_print(shop: Shop) -> None:
    assert "Make the boxes" not in client(shop.owner).get("/mat/boxes/").content.decode()
    assert post(shop, "/mat/boxes/", shop.owner, new="1", paper="A4", colour="blue").status_code == 403


def test_what_lies_in_each_box_goes_into_its_bag(shop: Shop) -> None:
    make_bag(shop, "B-7", shop.shelf, 4)
    answer = shown(reading({"tag": "B-7", "count": 4}, {"tag": "0777", "bound": "0777", "count": 2}, {"count": 1}, {}))
    here = f"/mat/{answer.subject}/"
    page = client(shop.mechanic).get(here).content.decode()
    assert "Put 2 boxes into their bags." in page and "The record holds 4: it agrees." in page
    assert "Empty: box 4." in page and "<b>Look:</b>" in page
    filed = post(shop, here, do="boxes", box=["1", "2", "3"], shelf="C9", **{"tag-3": "0778"})
    assert filed.status_code == 302
    assert Holding.objects.get(piece__tag="B-7").count == 4
    assert [Piece.objects.get(tag=t).count_off for t in ("0777", "0778")] == [2, 1]
    after = client(shop.mechanic).get(here).content.decode()
    assert "/papers/bag-labels.pdf?tag=0778" in after and 'name="box"' not in after


def test_a_box_that_is_not_settled_changes_nothing(shop: Shop) -> None:
    answer = shown(reading({"count": 1}))
    page = post(shop, f"/mat/{answer.subject}/", do="boxes", box=["1"], shelf="C9")
    assert page.status_code == 422 and "Box 1 has no tag" in page.content.decode()
    assert post(shop, f"/mat/{answer.subject}/", do="boxes", box=["77"], shelf="C9").status_code == 422
    assert post(shop, f"/mat/{answer.subject}/", shop.owner, do="boxes", box=["1"]).status_code == 403
    assert not Piece.objects.exists()


def test_queries_do_not_grow_with_the_boxes(shop: Shop) -> None:
    counted = []
    for n in (1, 8):
        answer = shown(reading(*({"tag": f"0{n}{k}", "count": 2} for k in range(n)), level=100 + n))
        with CaptureQueriesContext(connection) as asked:
            client(shop.lead).get(f"/mat/{answer.subject}/")
        counted.append(len(asked))
    assert counted[0] == counted[1]
