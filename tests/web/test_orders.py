"""Orders on screen: lengths, spares, what holds them."""

import uuid

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.records.shop import Shop, make_shop
from tests.support.pages import words
from tests.support.rows import make_order, make_row, make_size
from witnessmark.records.models import Order, Person

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    make_row(shop, "C2", make_size(shop))
    return shop


def client(person: Person) -> Client:
    made = Client()
    made.force_login(person)
    return made


def test_the_order_shows_length_spares_and_working(shop: Shop) -> None:
    text = words(client(shop.owner).get("/orders/"))
    assert "94 rivets to order, in one line, for 84 holes." in text
    assert "VN12-3.0 × 8 mm" in text
    assert "order = (holes + spares, at least the least run) rounded up to whole packs" in text
    assert "four in five by" in text


def test_rows_not_looked_at_hold_it(shop: Shop) -> None:
    make_row(shop, "C3", None, looked_at="no")
    text = client(shop.lead).get("/orders/").content.decode()
    assert "Hold it: one row is not looked at." in text
    assert text.count('class="now"') == 1


def test_what_is_on_order_is_shown_with_its_promise(shop: Shop) -> None:
    make_order(shop, "O-1", "Spruce", count=3, ordered_on="2020-01-01", promised_on="2020-02-01")
    text = client(shop.lead).get("/orders/").content.decode()
    assert "Spruce" in text
    assert "days late" in text


def test_an_order_leaves_once_and_comes_once(shop: Shop) -> None:
    browser = client(shop.lead)
    said = {"act_id": str(uuid.uuid4()), "what": "leaves", "vendor": "PL", "number": "O-1", "promised_on": ""}
    for _ in range(2):
        assert browser.post("/orders/", said).status_code == 302
    assert Order.objects.get().count == 94
    came = {"act_id": str(uuid.uuid4()), "what": "came", "number": "O-1"}
    for _ in range(2):
        assert browser.post("/orders/", came).status_code == 302
    assert Order.objects.get().came_on is not None


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"number": ""}, "does not say which order"),
        ({"what": "lost"}, "does not say which order"),
        ({"vendor": "XX"}, "No such vendor"),
        ({"promised_on": "soon"}, "is no day"),
        ({"act_id": "7"}, "no number of its own"),
    ],
)
def test_a_bad_form_orders_nothing(shop: Shop, said: dict[str, str], why: str) -> None:
    form = {"act_id": str(uuid.uuid4()), "what": "leaves", "vendor": "PL", "number": "O-1"}
    page = client(shop.lead).post("/orders/", {**form, **said})
    assert page.status_code == 422
    assert why in words(page)
    assert not Order.objects.exists()


def test_only_the_lead_lets_it_leave(shop: Shop) -> None:
    form = {"act_id": str(uuid.uuid4()), "what": "leaves", "vendor": "PL", "number": "O-1"}
    assert client(shop.mechanic).post("/orders/", form).status_code == 403
    assert "The order has left" not in words(client(shop.mechanic).get("/orders/"))


def test_logged_out_and_empty() -> None:
    assert Client().get("/orders/").status_code == 302
    lead = Person.objects.create(name="Lead", role="lead")
    assert "No hole waits" in client(lead).get("/orders/").content.decode()


def test_the_number_of_queries_does_not_grow(shop: Shop) -> None:
    browser, size = client(shop.lead), make_size(shop, "VN12-4.0", 4.0)

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            browser.get("/orders/")
        return len(seen)

    make_row(shop, "D0", size, 5)
    few = queries()
    for n in range(1, 9):
        make_row(shop, f"D{n}", size, 5, stack=(1.0, float(n)))
    assert queries() == few
