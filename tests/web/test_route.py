"""The route's page, the rack's page and the worked pages; then every refusal."""

import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from tests.records.shop import Shop, make_part, make_shop
from tests.records.test_racks import hang, picture
from tests.support.heic import TAG_1001
from tests.support.pages import client, words
from tests.support.rows import make_steps
from witnessmark.records.models import Act, Piece

pytestmark = pytest.mark.django_db
FIT = {
    "inner": "steel", "outer": "AZ63A casting", "diameter": "250 mm", "outside": "290 mm", "bore": "235 mm",
    "length": "60 mm", "interference": "0.30 mm", "clearance": "0.05 mm", "service": "60 C", "both": "yes",
}  # fmt: skip


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def test_the_route_shows_its_broken_rule_with_its_document(shop: Shop) -> None:
    part = make_part(shop, "T1", shop.shelf)
    Piece.objects.filter(pk=part.pk).update(material="steel", strength_mpa=1300)
    make_steps(part, ("cadmium plate", "PL"), ("prime", "painter"), ("topcoat", "painter"))
    page = words(client(shop.owner).get("/piece/T1/route/"))
    assert "breaks 1 hard rule" in page and "MIL-STD-1501F 5.2.6" in page and "Clocks" in page
    assert client(shop.owner).get("/piece/none/route/").status_code == 404


def test_a_rack_from_the_phone(shop: Shop) -> None:
    tags = hang(shop, 3)
    form = {
        "act_id": str(uuid.uuid4()), "process": "prime", "hanging": " ".join(tags),
        "picture": SimpleUploadedFile("rack.png", picture(tags, hidden=("R01",)), "image/png"),
    }  # fmt: skip
    page = words(client(shop.mechanic).post("/rack/", form))
    assert "2 pieces done: prime" in page and "could not be read" in page and "R01" in page


def test_racks_are_refused_plainly(shop: Shop) -> None:
    before = Act.objects.count()
    assert client(shop.mechanic).post("/rack/", {"act_id": str(uuid.uuid4()), "process": "prime"}).status_code == 422
    not_one = {"act_id": str(uuid.uuid4()), "process": "prime", "picture": SimpleUploadedFile("x.png", b"no picture")}
    assert client(shop.mechanic).post("/rack/", not_one).status_code == 422
    tags = hang(shop, 1)
    before = Act.objects.count()
    form = {
        "act_id": str(uuid.uuid4()), "process": "prime", "picture": SimpleUploadedFile("rack.png", picture(tags)),
    }  # fmt: skip
    assert client(shop.owner).post("/rack/", form).status_code == 403
    assert Act.objects.count() == before


def test_a_plated_drum_is_refused_with_other_ways_in_figures(shop: Shop) -> None:
    """0.06 mm of plate on its outside: the fit needs more heat than AZ63A may see (T.O. 1-1A-9 para 4-46, read)."""
    mechanic = client(shop.mechanic)
    assert "opens it" in words(mechanic.get("/work-out/fit/", FIT))
    page = words(mechanic.get("/work-out/fit/", {**FIT, "plate": "0.06 mm"}))
    assert "The heat is refused" in page and "Grind 0." in page and "chill the inner part" in page


def test_bakes_and_substitutions_are_worked_out(shop: Shop) -> None:
    mechanic = client(shop.mechanic)
    assert "No plating is released" in words(mechanic.get("/work-out/bake/", {"spec": "MIL-STD-1501F"}))
    page = words(mechanic.get("/work-out/bake/", {"spec": "MIL-STD-1501F", "strength": "200 ksi"}))
    assert "23 hours at 375+/-25 F" in page and "within 4 hours" in page
    given = {"old": "AZ31B", "thickness": "1 mm", "new": "2024-T3", "touches": "steel, brass"}
    assert "of the mass" in words(mechanic.get("/work-out/substitution/", given))


@pytest.mark.parametrize("what", ["fit", "bake", "substitution"])
def test_what_cannot_be_read_is_named(shop: Shop, what: str) -> None:
    mechanic = client(shop.mechanic)
    assert mechanic.get(f"/work-out/{what}/").status_code == 200
    wrong = mechanic.get(f"/work-out/{what}/", {"inner": "unobtainium", "old": "tin", "spec": "habit"})
    assert wrong.status_code == 422 and "cannot be worked out" in words(wrong)


def test_strangers_are_sent_to_sign_in(shop: Shop) -> None:
    for address in ("/rack/", "/work-out/fit/", "/piece/T1/route/"):
        assert Client().get(address).status_code == 302
    assert client(shop.lead).get("/work-out/other/").status_code == 404


def test_a_rack_as_a_heic_of_a_phone_is_not_refused(shop: Shop) -> None:
    part = make_part(shop, "1001", shop.shelf)
    Piece.objects.filter(pk=part.pk).update(material="clad dural")
    make_steps(part, ("prime", "painter"), ("topcoat", "painter"))
    form = {
        "act_id": str(uuid.uuid4()), "process": "prime", "hanging": "1001 1002",
        "picture": SimpleUploadedFile("IMG.HEIC", TAG_1001, "image/heic"),
    }  # fmt: skip
    page = words(client(shop.mechanic).post("/rack/", form))
    assert "done: prime" in page and "1002" in page
