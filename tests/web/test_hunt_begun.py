"""A hunt begins from words alone, on an empty record and on a young one, on the screen and by command."""

import json
import uuid
from datetime import date
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from tests.records.shop import make_shop
from tests.records.test_photo_store import picture as a_picture
from tests.support.pages import client, words
from witnessmark.cli.main import main
from witnessmark.records.actions import hunting
from witnessmark.records.lookups.hunts import asks_due
from witnessmark.records.models import Act, Aircraft, Hunt, Person, Piece, Role

pytestmark = pytest.mark.django_db


@pytest.fixture
def lead(settings, tmp_path: Path) -> Person:  # type: ignore[no-untyped-def]
    settings.DATA = tmp_path
    return Person.objects.create(name="First Lead", role=Role.LEAD)


def begin(**more: object) -> dict[str, object]:
    return {"act_id": str(uuid.uuid4()), "what": "Pitot head", "why": "missing", **more}


def test_an_empty_record_begins_one_from_words_and_a_picture(lead: Person) -> None:
    browser = client(lead)
    page = words(browser.get("/hunt/"))
    assert "Words are enough to begin" in page and "What is looked for" in page and "A picture, of it" in page
    photo = SimpleUploadedFile("p.jpg", a_picture(), "image/jpeg")
    assert browser.post("/hunt/", begin(picture=photo, measurements="tube 12 mm"))["Location"] == "/hunt/H-1/"
    one = Hunt.objects.get()
    assert (one.aircraft, one.place, one.measurements) == (None, None, "tube 12 mm") and one.photo is not None
    shown = browser.get("/hunt/H-1/")
    assert b"What is hunted: Pitot head" in shown.content and f"/photo/{one.photo.pk}/".encode() in shown.content
    assert browser.get(f"/photo/{one.photo.pk}/320/").status_code == 200
    assert browser.post("/hunt/", begin(what="Compass")).status_code == 302
    assert [hunt.number for hunt in Hunt.objects.all()] == ["H-1", "H-2"]
    for do, said in (
        ("ask", {"whom": "Old Dockyard", "again": "2099-01-01"}),
        ("stores", {"answer": "no stores yet"}),
        ("arrives", {"shelf": "shelf A", "tag": "0001"}),
    ):
        sent = browser.post("/hunt/H-1/", {"act_id": str(uuid.uuid4()), "do": do, **said})
        assert sent.status_code == 302, do
    assert Hunt.objects.get(number="H-1").found_piece == Piece.objects.get(tag="0001")


def test_it_stays_when_the_lists_bring_an_aircraft(lead: Person) -> None:
    browser = client(lead)
    browser.post("/hunt/", begin())
    shop = make_shop()
    assert "Pitot head" in words(browser.get("/hunt/"))
    browser.post("/hunt/", begin(what="Compass"))
    assert set(Hunt.objects.values_list("number", "aircraft")) == {("H-1", None), ("H-2", shop.aircraft.pk)}
    hunting.ask_after(
        by=lead, act_id=uuid.uuid4(), hunt=Hunt.objects.get(number="H-1"), whom="X", asked_on=date(2026, 5, 1),
        ask_again_on=date(2026, 5, 10),
    )  # fmt: skip
    assert [row.whom for row in asks_due(shop.aircraft, date(2026, 5, 12))] == ["X"]
    assert browser.get("/").status_code == 200


@pytest.mark.parametrize(
    ("more", "why"),
    [({"what": " "}, "what is looked for"), ({"place": "6-91-015"}, "Leave it out if it is not known yet"),
     ({"until": "2020-01-01"}, "that day is gone"), ({"picture": SimpleUploadedFile("x.jpg", b"none")}, "picture")],
)  # fmt: skip
def test_badly_begun_leaves_nothing_and_keeps_what_was_typed(lead: Person, more: dict[str, object], why: str) -> None:
    page = client(lead).post("/hunt/", begin(measurements="tube 12 mm", **more))
    assert page.status_code == 422 and why in words(page) and b"tube 12 mm" in page.content
    assert not Hunt.objects.exists() and not Act.objects.exists()


def test_by_command(lead: Person, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "p.jpg"
    file.write_bytes(a_picture())
    said = ["--measurements", "tube 12 mm", "--also", "any head of that tube", "--until", "2099-05-01"]
    assert main(["hunt", "--begin", "Pitot head", "--picture", str(file), *said, "--json"]) == 0
    (one,) = json.loads(capsys.readouterr().out)["hunts"]
    assert (one["hunt"], one["state"], one["place"], one["measurements"]) == ("H-1", "open", None, "tube 12 mm")
    assert Hunt.objects.get().photo is not None and Hunt.objects.get().act.person == lead
    assert Aircraft.objects.count() == 0


@pytest.mark.parametrize(
    ("said", "why"),
    [(["--why", "pretty"], "no reason"), (["--until", "soon"], "--until"), (["--until", "2020-01-01"], "that day is gone"),
     (["--picture", "no-such.jpg"], "cannot be read"), (["--place", "6-1"], "no place 6-1"), (["--on", "0999"], "No piece"),
     (["--as", "Nobody"], "Nobody")],
)  # fmt: skip
def test_a_bad_command_begins_nothing(
    lead: Person, said: list[str], why: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["hunt", "--begin", "Pitot head", *said]) == 2
    assert why in capsys.readouterr().err
    assert not Hunt.objects.exists()
