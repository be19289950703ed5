"""A craftsman's link shows him his own shipments, lets him say two things, and opens nothing else."""

import uuid
from datetime import date, timedelta
from pathlib import Path

import pytest
from django.test import Client
from django.utils import timezone

from tests.records.shop import Shop, make_part, make_shop
from tests.support.pages import client, words
from tests.support.rows import make_steps
from witnessmark.records.actions.custody import receive_back, send_out
from witnessmark.records.actions.outside import SALT, make_outside_link, open_link
from witnessmark.records.actions.saying import Refused
from witnessmark.records.models import Holder, OutsideLink, Person, Piece, Shipment, Vendor, VendorSaid
from witnessmark.web import outside

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def other(shop: Shop) -> Vendor:
    return Vendor.objects.create(
        code="TR", name="Trimmer", least_days=1, likely_days=5, most_days=9,
        holder=Holder.objects.create(kind="vendor", name="Trimmer"),
    )  # fmt: skip


def send(shop: Shop, vendor: Vendor, number: str, tag: str) -> Shipment:
    send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=vendor, process="Trim", pieces=[make_part(shop, tag, shop.shelf)],
        number=number, sent_on=timezone.localdate(),
    )  # fmt: skip
    return Shipment.objects.get(number=number)


def link(shop: Shop, vendor: Vendor, days: float = 30) -> str:
    token, _ = make_outside_link(by=shop.lead, act_id=uuid.uuid4(), vendor=vendor, lasts=timedelta(days=days))
    return token


def test_he_sees_his_own_shipments_and_no_others(shop: Shop) -> None:
    trimmer = other(shop)
    send(shop, trimmer, "S-1", "0301")
    send(shop, shop.vendor, "S-2", "0118")
    text = words(Client().get(f"/o/{link(shop, trimmer)}/"))
    assert "One shipment is with you." in text
    assert "S-1" in text
    assert "0301" in text
    assert "S-2" not in text
    assert "0118" not in text


def test_he_confirms_once_and_promises_again(shop: Shop) -> None:
    trimmer = other(shop)
    shipment, address = send(shop, trimmer, "S-1", "0301"), f"/o/{link(shop, trimmer)}/"
    browser, day = Client(), timezone.localdate() + timedelta(days=9)
    said = {"act_id": str(uuid.uuid4()), "shipment": "S-1", "do": "received", "note": "One strap torn"}
    for _ in range(2):
        assert browser.post(address, said).status_code == 302
    assert browser.post(address, {**said, "act_id": str(uuid.uuid4())}).status_code == 422
    for later in (0, 3):
        promise = {"act_id": str(uuid.uuid4()), "shipment": "S-1", "do": "promise", "day": str(day + timedelta(later))}
        assert browser.post(address, promise).status_code == 302
    shipment.refresh_from_db()
    assert shipment.promised_on == day + timedelta(days=3)
    assert list(VendorSaid.objects.values_list("what", flat=True)) == ["received", "promised", "promised"]
    assert VendorSaid.objects.all()[0].act.person.name == "Trimmer (outside)"
    assert "He confirmed it" in words(client(shop.mechanic).get("/outside/"))


@pytest.mark.parametrize(
    "said",
    [
        {"shipment": "S-2", "do": "received"},
        {"shipment": "S-2", "do": "promise", "day": "2031-01-01"},
        {"shipment": "S-9", "do": "received"},
        {"shipment": "S-1", "do": "received_back"},
        {"shipment": "S-1", "do": "promise", "day": ""},
        {"shipment": "S-1", "do": "promise", "day": "2001-01-01"},
        {"shipment": "S-1", "do": "promise", "day": "9999-01-01"},
        {"shipment": "S-1", "do": "promise", "day": "soon"},
        {"shipment": "S-1", "do": "received", "act_id": "x"},
    ],
)
def test_he_says_nothing_else(shop: Shop, said: dict[str, str]) -> None:
    trimmer = other(shop)
    send(shop, trimmer, "S-1", "0301")
    send(shop, shop.vendor, "S-2", "0118")
    page = Client().post(f"/o/{link(shop, trimmer)}/", {"act_id": str(uuid.uuid4()), **said})
    assert page.status_code == 422
    assert not VendorSaid.objects.exists()
    assert not Shipment.objects.exclude(promised_on=None).exists()


@pytest.mark.parametrize(
    "address",
    ["/", "/outwork/", "/outwork/S-1/", "/piece/0301/", "/pack/", "/outside/", "/certificates/", "/papers/tags.pdf",
     "/find/?q=0301", "/orders/", "/plan/"],
)  # fmt: skip
def test_his_link_opens_no_screen_of_the_shop(shop: Shop, address: str) -> None:
    trimmer = other(shop)
    send(shop, trimmer, "S-1", "0301")
    browser = Client()
    assert browser.get(f"/o/{link(shop, trimmer)}/").status_code == 200
    page = browser.get(address)
    assert page.status_code == 302
    assert "/sign-in/" in page["Location"]
    himself = Person.objects.get(name="Trimmer (outside)")
    assert client(himself).get(address).status_code == 403
    assert client(himself).post("/outwork/", {"act_id": str(uuid.uuid4())}).status_code == 403


def test_a_link_that_ran_out_was_closed_or_forged_opens_nothing(shop: Shop) -> None:
    trimmer = other(shop)
    token = link(shop, trimmer)
    assert Client().get(f"/o/{token}/").status_code == 200
    forged = token[:-1] + ("A" if token[-1] != "A" else "B")
    assert Client().get(f"/o/{forged}/").status_code == 404
    assert Client().get("/o/x/").status_code == 404
    one = OutsideLink.objects.get()
    assert token not in one.token_sha256
    OutsideLink.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    assert Client().get(f"/o/{token}/").status_code == 404
    OutsideLink.objects.update(expires_at=timezone.now() + timedelta(days=1))
    said = {"act_id": str(uuid.uuid4()), "do": "close", "link": str(one.pk)}
    assert client(shop.lead).post("/outside/", said).status_code == 302
    assert Client().post(f"/o/{token}/", {"do": "received", "shipment": "S-1"}).status_code == 404


def test_a_token_signed_for_something_else_opens_nothing(shop: Shop) -> None:
    from django.core import signing

    assert open_link(signing.TimestampSigner(salt="other").sign("x")) is None
    assert open_link(signing.TimestampSigner(salt=SALT).sign("x")) is None


def test_the_lead_makes_links_and_the_link_is_told_once(shop: Shop) -> None:
    send(shop, shop.vendor, "S-2", "0118")
    said = {"act_id": str(uuid.uuid4()), "do": "make", "vendor": "PL", "days": "30"}
    page = client(shop.lead).post("/outside/", said)
    assert "/o/" in page.content.decode()
    again = client(shop.lead).post("/outside/", said)
    assert again.status_code == 422
    assert "told only once" in words(again)
    assert OutsideLink.objects.count() == 1
    for wrong, status in (({"days": "0"}, 422), ({"days": "400"}, 422), ({"vendor": "XX"}, 422)):
        assert client(shop.lead).post("/outside/", {**said, "act_id": str(uuid.uuid4()), **wrong}).status_code == status
    assert client(shop.mechanic).post("/outside/", {**said, "act_id": str(uuid.uuid4())}).status_code == 403
    assert Client().get("/outside/").status_code == 302


def test_what_went_back_is_his_no_longer(shop: Shop) -> None:
    shipment = send(shop, shop.vendor, "S-2", "0118")
    address = f"/o/{link(shop, shop.vendor)}/"
    piece = Piece.objects.get(tag="0118")
    receive_back(
        by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, counts={piece.pk: 1}, to=shop.box, back_on=date.today()
    )
    assert "Nothing of the shop is with you." in words(Client().get(address))
    page = Client().post(address, {"act_id": str(uuid.uuid4()), "shipment": "S-2", "do": "received"})
    assert page.status_code == 422
    assert "went back already" in words(page)


def test_who_runs_dry_and_what_could_feed_him(shop: Shop) -> None:
    trimmer = other(shop)
    ready, nearly = make_part(shop, "0301", shop.shelf), make_part(shop, "0302", shop.shelf)
    make_steps(ready, ("Trim", "TR"))
    make_steps(nearly, ("Clean", "sheet metal"), ("Trim", "TR"))
    text = words(client(shop.owner).get("/outside/"))
    assert "Trimmer has nothing of ours, and something is ready for him." in text
    assert "One step short: 0302 needs clean" in text
    send(shop, trimmer, "S-1", "0303")
    assert "Trimmer has one shipment and runs dry about" in words(client(shop.owner).get("/outside/"))


def test_a_person_of_the_shop_is_never_taken_for_the_craftsman(shop: Shop) -> None:
    Person.objects.create(name="Plater (outside)", role="mechanic")
    with pytest.raises(Refused, match="own people"):
        link(shop, shop.vendor)


def test_his_page_keeps_the_link_from_other_sites_and_lets_him_post(shop: Shop) -> None:
    # Fetch standard, "append a request Origin header": under no-referrer a form is posted with `Origin: null`, which
    # the check for forged forms refuses; under same-origin the own site is named and other sites are told nothing.
    page = Client().get(f"/o/{link(shop, shop.vendor)}/")
    assert page["Referrer-Policy"] == "same-origin"
    assert "referrer" not in page.content.decode()


def test_no_page_that_has_a_form_hides_where_it_comes_from() -> None:
    folder = Path(outside.__file__).parent / "templates"
    hiding = [each for each in folder.rglob("*.html") if "no-referrer" in each.read_text()]
    assert hiding
    assert not [each.name for each in hiding if "method=" in each.read_text()]


def test_one_who_names_no_time_is_said_so_in_words_and_not_in_noughts(shop: Shop) -> None:
    none = other(shop)
    Vendor.objects.filter(pk=none.pk).update(least_days=0, likely_days=0, most_days=0, does="")
    send(shop, none, "S-1", "0301")
    text = words(client(shop.lead).get("/outside/"))
    assert "He names no time; the others’ usual one stands in." in text
    assert "0 to 0 working days" not in text
