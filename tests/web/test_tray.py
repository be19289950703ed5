"""The tray's screen: what it says, what it takes, each refusal; a purchase held back on the hunt's own page."""

import uuid
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from tests.records.shop import Shop, make_shop
from tests.records.test_photo_store import picture
from tests.records.test_tray import find, hunt, searched
from witnessmark.records.models import Order, Person, TrayFind, TrayLooked

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def lay(client: Client, **form: Any) -> Any:
    sent = {"act_id": str(uuid.uuid4()), "do": "lay", "picture": SimpleUploadedFile("f.jpg", picture(), "image/jpeg")}
    return client.post("/tray/", {**sent, **form})


def test_a_find_is_laid_in_ranked_and_looked_at(shop: Shop) -> None:
    client = signed_in(shop.mechanic)
    assert "is empty" in client.get("/tray/").content.decode()
    begun, _ = hunt(shop, measurements="length 118 mm")
    assert lay(client, name="bracket", length="4 5/8 in", magnet="does not", found_where="bilge").status_code == 302
    assert TrayFind.objects.get().length_mm == pytest.approx(117.475)  # 4 5/8 x 25.4
    page = client.get("/tray/").content.decode()
    assert "1 find nobody can place." in page and "Compass bracket (H-1)" in page and "both are called bracket" in page
    assert "from memory, unverified" in page
    key, one = f"hunt:{begun.pk}", TrayFind.objects.get().pk
    client.post("/tray/", {"act_id": str(uuid.uuid4()), "do": "is_not", "find": one, "missing": key})
    page = client.get("/tray/").content.decode()
    assert "it is not" in page and "Nothing is missing that it could be." in page
    assert TrayLooked.objects.get().act.person == shop.mechanic


def test_the_hunts_page_says_why_the_purchase_is_held_back(shop: Shop) -> None:
    begun, offer = hunt(shop)
    searched(shop, begun)
    find(shop, name="bracket")
    form = {"act_id": str(uuid.uuid4()), "do": "agree", "offer": offer.pk, "count": "1"}
    answer = signed_in(shop.lead).post(f"/hunt/{begun.number}/", form)
    assert answer.status_code == 422 and "Held back" in answer.content.decode() and not Order.objects.exists()


@pytest.mark.parametrize(
    ("form", "says"),
    [
        ({"picture": ""}, "A find has its picture"),
        ({"picture": SimpleUploadedFile("f.jpg", b"%PDF")}, "is no picture"),
        ({"length": "a thumb"}, "Nothing was changed"),
        ({"size": "XX-9"}, "There is no size XX-9"),
        ({"do": "is", "missing": "hunt:1"}, "Say of which find"),
        ({"do": "dance"}, "says nothing that can be done"),
        ({"act_id": "x"}, "has no number of its own"),
    ],
)
def test_refusals(shop: Shop, form: dict[str, Any], says: str) -> None:
    answer = lay(signed_in(shop.mechanic), **form)
    assert answer.status_code == 422 and says in answer.content.decode() and not TrayFind.objects.exists()


def test_who_may_not(shop: Shop) -> None:
    assert lay(signed_in(shop.owner)).status_code == 403
    assert Client().get("/tray/").status_code == 302
    assert "Lay a find in" not in signed_in(shop.owner).get("/tray/").content.decode()
