"""The screens of findings: what they show, and every refusal with what was typed still there."""

import io
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from tests.records.shop import Shop, make_part, make_place, make_shop
from tests.support.pages import client, words
from tests.support.rows import make_finding
from witnessmark.records.models import EngineeringWord, Finding, FindingFigure, FindingRing, Photo, Piece

pytestmark = pytest.mark.django_db
RING = {"ring_across": "40", "ring_down": "60", "ring_half_wide": "10", "ring_half_high": "5"}


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def part(shop: Shop) -> Piece:
    part = make_part(shop, "0004", shop.shelf)
    part.zones.add(shop.zone)
    return part


def picture() -> SimpleUploadedFile:
    file = io.BytesIO()
    Image.new("RGB", (40, 30), "#777").save(file, "JPEG")
    return SimpleUploadedFile("lap.jpg", file.getvalue(), "image/jpeg")


def act(**said: object) -> dict[str, object]:
    return {"act_id": str(uuid.uuid4()), **said}


def test_a_finding_is_one_page_and_one_post(shop: Shop, part: Piece) -> None:
    mechanic = client(shop.mechanic)
    assert 'href="/see/piece/0004/"' in mechanic.get("/piece/0004/").content.decode()
    page = mechanic.get("/see/piece/0004/")
    text = page.content.decode()
    assert text.count('class="now"') == 1
    assert 'capture="environment"' in text
    sent = mechanic.post("/see/piece/0004/", act(picture=picture(), kind="pitting", opened="yes", **RING))
    assert sent["Location"] == "/finding/F-1/"
    shown = mechanic.get("/finding/F-1/").content.decode()
    assert '<ellipse cx="40.00" cy="60.00" rx="10.00" ry="5.00"/>' in shown
    assert "the picture as it was taken" in shown
    assert "style=" not in shown


def test_bad_input_keeps_what_was_typed_and_the_picture(shop: Shop, part: Piece) -> None:
    mechanic = client(shop.mechanic)
    page = mechanic.post("/see/piece/0004/", act(picture=picture(), what="Dust under the lap", ring_across="wide"))
    assert page.status_code == 422
    text = page.content.decode()
    assert "is no number between 0 and 100" in words(page)
    assert 'value="Dust under the lap"' in text
    kept = Photo.objects.get()
    assert f'name="kept" value="{kept.pk}"' in text
    mechanic.post("/see/piece/0004/", act(kept=kept.pk, what="Dust under the lap", **RING))
    assert FindingRing.objects.get().use.photo == kept


@pytest.mark.parametrize(
    ("said", "why"),
    [({}, "in a few words"), ({"kind": "rust"}, "no kind of finding"), ({"kind": "crack", **RING}, "needs a picture")],
)
def test_what_is_refused_changes_nothing(shop: Shop, part: Piece, said: dict[str, object], why: str) -> None:
    page = client(shop.mechanic).post("/see/piece/0004/", act(**said))
    assert page.status_code == 422
    assert why in words(page)
    assert not Finding.objects.exists()


def test_a_place_and_a_zone_can_have_findings_and_nothing_else(shop: Shop) -> None:
    place = make_place(shop, "6-51-020", "L")
    mechanic = client(shop.mechanic)
    for address in (f"/see/place/{place.pk}/", "/see/zone/100/"):
        assert mechanic.post(address, act(kind="crack")).status_code == 302
    assert [f.place or f.zone for f in Finding.objects.all()] == [place, shop.zone]
    for address in ("/see/piece/9999/", "/see/place/x/", "/see/zone/9/", "/see/person/1/", "/finding/F-99/"):
        assert mechanic.get(address).status_code == 404


def test_the_figures_asked_depend_on_the_kind(shop: Shop, part: Piece) -> None:
    make_finding(shop, "F-1", piece=part)
    mechanic = client(shop.mechanic)
    assert "m-pit_depth_mm" not in mechanic.get("/finding/F-1/").content.decode()
    assert "m-pit_depth_mm" in mechanic.get("/finding/F-1/?kind=pitting").content.decode()
    glue = mechanic.get("/finding/F-1/?kind=glue").content.decode()
    assert "m-joints_open" in glue
    assert "m-pit_depth_mm" not in glue


def test_figures_are_kept_and_what_they_say_is_shown(shop: Shop, part: Piece) -> None:
    make_finding(shop, "F-1", piece=part)
    mechanic = client(shop.mechanic)
    wrong = mechanic.post("/finding/F-1/", act(do="measure", kind="pitting", pit_depth_mm="deep", thickness_mm="1.0"))
    assert wrong.status_code == 422
    assert 'value="deep"' in wrong.content.decode()
    assert not FindingFigure.objects.exists()
    right = act(do="measure", kind="pitting", pit_depth_mm="0.30 ± 0.05", thickness_mm="2.0", work_hours="6")
    assert mechanic.post("/finding/F-1/", right).status_code == 302
    text = words(mechanic.get("/finding/F-1/"))
    assert "Severe, in the word of one type's manual; it is a word, not a limit." in text
    assert "Blend-out at least 7.0 mm long (20:1), elliptical" in text
    assert "No limit is published that was read" in text
    listed = words(mechanic.get("/findings/"))
    assert "to be sent to engineering" in listed


def test_engineering_is_asked_and_listed(shop: Shop, part: Piece) -> None:
    make_finding(shop, "F-1", piece=part)
    lead = client(shop.lead)
    assert lead.post("/finding/F-1/", act(do="ask", said="May it stay?", whom="the engineer")).status_code == 302
    assert "With engineering" in words(lead.get("/findings/"))
    empty = lead.post("/finding/F-1/", act(do="answer", said="No"))
    assert empty.status_code == 422
    assert ">No</textarea>" in empty.content.decode()
    lead.post("/finding/F-1/", act(do="answer", said="No", whom="Ruun"))
    assert EngineeringWord.objects.count() == 2


def test_an_old_picture_gets_its_ring(shop: Shop, part: Piece) -> None:
    make_finding(shop, "F-1", piece=part)
    mechanic = client(shop.mechanic)
    mechanic.post("/finding/F-1/", act(do="photograph", picture=picture()))
    photo = Photo.objects.get()
    assert "data-ring" in mechanic.get(f"/finding/F-1/?ring={photo.pk}").content.decode()
    nothing = mechanic.post("/finding/F-1/", act(do="ring", photo=photo.pk))
    assert "Neither a ring nor words" in words(nothing)
    assert mechanic.post("/finding/F-1/", act(do="ring", photo=photo.pk, **RING)).status_code == 302
    assert FindingRing.objects.count() == 1


def test_a_form_that_says_nothing_is_refused(shop: Shop, part: Piece) -> None:
    make_finding(shop, "F-1", piece=part)
    for said, why in (
        ({}, "says nothing"),
        ({"do": "ring", "photo": "x"}, "names no picture"),
        ({"do": "photograph"}, "No picture"),
    ):
        page = client(shop.mechanic).post("/finding/F-1/", act(**said))
        assert page.status_code == 422
        assert why in words(page)


def test_the_owner_reads_and_strangers_sign_in(shop: Shop, part: Piece) -> None:
    make_finding(shop, "F-1", piece=part)
    owner = client(shop.owner)
    assert "<form class" not in owner.get("/see/piece/0004/").content.decode().split("<nav")[0]
    assert owner.post("/see/piece/0004/", act(kind="crack")).status_code == 403
    assert owner.post("/finding/F-1/", act(do="ask", said="x")).status_code == 403
    for address in ("/findings/", "/finding/F-1/", "/see/piece/0004/"):
        assert Client().get(address).status_code == 302


def test_a_decided_finding_without_a_decision_says_so(shop: Shop, part: Piece) -> None:
    make_finding(shop, "F-1", piece=part)
    Finding.objects.update(state="decided", limit_words="none")
    text = words(client(shop.mechanic).get("/piece/0004/"))
    assert "Decided, says the list; what was decided is not in the record." in text
    assert "No limit is published." in text


def test_an_empty_record_says_what_to_do_first(shop: Shop) -> None:
    assert "Nothing was found yet." in words(client(shop.mechanic).get("/findings/"))


def test_the_reserve_is_shown_with_its_working(shop: Shop, part: Piece) -> None:
    mechanic = client(shop.mechanic)
    mechanic.post("/see/piece/0004/", act(kind="crack", opened="yes"))
    text = words(mechanic.get("/findings/"))
    assert "Opening revealed 1 finding that nobody had seen" in text
    assert "common practice without a source" in text
    assert "unknown" in text


def test_one_thing_to_do_now_measure_ask_decide(shop: Shop, part: Piece) -> None:
    mechanic = client(shop.mechanic)
    mechanic.post("/see/piece/0004/", act(picture=picture(), kind="pitting", **RING))
    assert "Clean it, then measure it." in words(mechanic.get("/finding/F-1/"))
    mechanic.post("/finding/F-1/", act(do="measure", pit_depth_mm="0.3", thickness_mm="2"))
    page = mechanic.get("/finding/F-1/")
    assert "Do this nowSend it to engineering." in words(page)
    mechanic.post("/finding/F-1/", act(do="ask", said="May it stay?"))
    assert 'class="now"' not in mechanic.get("/finding/F-1/").content.decode()
    mechanic.post("/finding/F-1/", act(do="answer", said="Blend it", whom="Ruun"))
    page = mechanic.get("/finding/F-1/")
    assert 'class="now" href="/decide/0004/"' in page.content.decode()


def test_the_pieces_page_shows_the_ring_on_the_picture(shop: Shop, part: Piece) -> None:
    mechanic = client(shop.mechanic)
    mechanic.post("/see/piece/0004/", act(picture=picture(), kind="pitting", **RING))
    assert '<ellipse cx="0.4000" cy="0.6000" rx="0.1000" ry="0.0500"/>' in mechanic.get("/piece/0004/").content.decode()
