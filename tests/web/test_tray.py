"""The tray's screen: what it says, what it takes, each refusal; a purchase held back on the hunt's own page."""

import html
import re
import uuid
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from tests.records.shop import Shop, make_shop
from tests.records.test_photo_store import picture
from tests.records.test_tray import find, hunt, searched, short_bag
from witnessmark.records.models import Order, Person, ShipmentLine, TrayFind, TrayLooked

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
    assert (
        "it is not Compass bracket (H-1)." in page
        and key not in page
        and "Nothing is missing that it could be." in page
    )
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


def test_two_figures_go_to_the_tray_and_back(shop: Shop) -> None:
    """What was typed for a fastener stands in the tray's form; what lies there asks what fastener it is."""
    client = signed_in(shop.mechanic)
    page = client.get("/fastener/?shank_mm=3.97&head_mm=7.1").content.decode()
    there = html.unescape(re.findall(r'href="(/tray/[^"]+)"', page)[0])
    assert there.endswith("#lay")
    form = client.get(there.removesuffix("#lay")).content.decode()
    assert 'name="diameter" placeholder="5/32" autocomplete="off" value="3.97"' in form
    assert 'name="width" autocomplete="off" value="7.1"' in form
    assert 'href="/fastener/?shank_mm=3.97&amp;head_mm=7.1"' in form  # and back
    assert lay(client, diameter="3.97", width="7.1").status_code == 302
    assert "What is this fastener, by these two figures?" in client.get("/tray/").content.decode()
    assert "/tray/?" not in client.get("/fastener/").content.decode()  # nothing typed, nothing to carry
    assert "No such" not in client.get("/tray/?size=nothing&length=x").content.decode()


def test_short_is_settled_on_the_screen(shop: Shop) -> None:
    bag = short_bag(shop)
    client = signed_in(shop.mechanic)
    assert lay(client, name="nuts of the left float", count="10").status_code == 302
    page = client.get("/tray/").content.decode()
    assert "10 short of shipment S-9" in page
    one = {"act_id": str(uuid.uuid4()), "find": TrayFind.objects.get().pk, "missing": f"short:{bag.pk}"}
    assert client.post("/tray/", {**one, "do": "is"}).status_code == 302
    assert ShipmentLine.objects.get().count_back == 50
    assert "is empty" in client.get("/tray/").content.decode()
