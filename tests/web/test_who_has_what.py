"""Who has what on the screen: lines, calls in one press, pictures, mistakes, and every refusal."""

import uuid
from datetime import date, timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from tests.records.shop import Shop, make_shop
from tests.records.test_racks import picture
from tests.support.pages import client, words
from witnessmark.records.actions.people import begin
from witnessmark.records.models import Act, PhotoUse, Shipment, Vendor

pytestmark = pytest.mark.django_db
HERE = "/who-has-what/"


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def post(browser: Client, **fields: object) -> object:
    return browser.post(HERE, {"act_id": str(uuid.uuid4()), **fields}, follow=True)


def test_a_line_on_an_empty_record_and_the_next_at_once() -> None:
    browser = client(begin(name="First"))
    assert "Nothing is out" in words(browser.get(HERE))
    page = post(browser, do="line", what="Magneto, left", whom="Stonebeck", since="3 weeks ago", promised="in 8 weeks")
    today = timezone.localdate()
    shipment = Shipment.objects.get()
    assert (shipment.sent_on, shipment.promised_on) == (today - timedelta(days=21), today + timedelta(days=56))
    text = words(page)
    assert "Magneto, left: with Stonebeck since" in text and "Take it back" in text
    assert 'name="what"' in page.content.decode() and "autofocus" in page.content.decode()  # type: ignore[attr-defined]
    assert '<option value="Stonebeck">' in page.content.decode()  # type: ignore[attr-defined]


def test_since_is_today_when_nothing_is_said_and_a_picture_is_kept(shop: Shop) -> None:
    sent = SimpleUploadedFile("tank.jpg", picture(["1001"]), "image/jpeg")
    post(client(shop.mechanic), do="line", what="Oil tank", whom="Plater", since="", promised="", picture=sent)
    shipment = Shipment.objects.get()
    assert shipment.sent_on == timezone.localdate() and shipment.promised_on is None
    assert PhotoUse.objects.get().piece == shipment.lines.get().piece
    bad = SimpleUploadedFile("paper.jpg", b"%PDF-1.7 nothing", "image/jpeg")
    page = post(client(shop.mechanic), do="line", what="Cowl", whom="Plater", picture=bad)
    assert Shipment.objects.count() == 2 and "the picture is not" in words(page)


def test_a_line_from_a_phone_that_waited_counts_from_the_day_it_was_typed(shop: Shop) -> None:
    typed = timezone.localdate() - timedelta(days=2)
    post(
        client(shop.mechanic),
        do="line",
        what="Cowl",
        whom="Plater",
        since="today",
        promised="in 2 weeks",
        typed_on=typed,
    )
    shipment = Shipment.objects.get()
    assert (shipment.sent_on, shipment.promised_on) == (typed, typed + timedelta(days=14))


def test_what_they_say_in_one_press(shop: Shop) -> None:
    browser = client(shop.mechanic)
    post(browser, do="line", what="Cowl", whom="Plater", since="6 weeks ago", promised="2 weeks ago")
    shipment = Shipment.objects.get()
    text = browser.get(HERE).content.decode()
    assert "Rang: they say" in text and 'value="in 2 weeks"' in text and "Ring Plater" in text
    page = post(browser, do="rang", shipment=shipment.number, they_say="in 2 weeks")
    shipment.refresh_from_db()
    assert shipment.promised_on == timezone.localdate() + timedelta(days=14)
    assert "Nobody has to be rung today." in words(page)
    page = post(browser, do="back", act=Act.objects.get(verb="rang").pk)
    shipment.refresh_from_db()
    assert shipment.promised_on == timezone.localdate() - timedelta(days=14) and "Taken back" in words(page)


def test_a_number_becomes_a_link_that_dials(shop: Shop) -> None:
    browser = client(shop.mechanic)
    post(browser, do="line", what="Cowl", whom="Plater", since="6 weeks ago", promised="2 weeks ago")
    post(browser, do="phone", vendor="PL", phone="+49 (170) 555-0111")
    assert Vendor.objects.get().phone == "+49 (170) 555-0111"
    assert 'href="tel:+491705550111"' in browser.get(HERE).content.decode()


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"do": "line", "what": "", "whom": "Plater"}, "does not say what is out"),
        ({"do": "line", "what": "Cowl", "whom": ""}, "does not say who has it"),
        ({"do": "line", "what": "Cowl", "whom": "Plater", "since": "once"}, "Since when: 'once' is no day"),
        ({"do": "line", "what": "Cowl", "whom": "Plater", "promised": "soon"}, "Promised for: 'soon' is no day"),
        ({"do": "line", "what": "Cowl", "whom": "Plater", "since": "tomorrow"}, "still to come"),
        ({"do": "rang", "shipment": "S-999", "they_say": "today"}, "not in the record any more"),
        ({"do": "phone", "vendor": "??", "phone": "1"}, "no such vendor"),
        ({"do": "back", "act": "nothing"}, "nothing of that"),
        ({"do": "wish"}, "nothing that can be done"),
    ],
)  # fmt: skip
def test_a_bad_form_says_what_and_keeps_what_was_typed(shop: Shop, fields: dict[str, str], why: str) -> None:
    answer = client(shop.mechanic).post(HERE, {"act_id": str(uuid.uuid4()), **fields})
    assert answer.status_code == 422
    assert why in words(answer) and not Shipment.objects.exists()
    if fields.get("promised") == "soon":
        assert 'value="soon"' in answer.content.decode() and 'value="Cowl"' in answer.content.decode()


def test_who_may_read_and_who_may_not_write(shop: Shop) -> None:
    assert Client().get(HERE).status_code == 302
    assert client(shop.owner).get(HERE).status_code == 200
    answer = client(shop.owner).post(
        HERE, {"act_id": str(uuid.uuid4()), "do": "line", "what": "Cowl", "whom": "Plater"}
    )
    assert answer.status_code == 403 and not Shipment.objects.exists()


def test_queries_do_not_grow(shop: Shop) -> None:
    browser = client(shop.mechanic)

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert browser.get(HERE).status_code == 200
        return len(seen)

    for n in range(2):
        post(browser, do="line", what=f"Thing {n}", whom=f"Shop {n}", since="6 weeks ago", promised="2 weeks ago")
    few = queries()
    for n in range(2, 14):
        post(browser, do="line", what=f"Thing {n}", whom=f"Shop {n % 5}", since="6 weeks ago", promised="2 weeks ago")
    assert queries() == few <= 15


def test_the_day_of_a_demonstration_is_its_own(shop: Shop) -> None:
    type(shop.aircraft).objects.update(today=date(2026, 5, 12))
    post(client(shop.mechanic), do="line", what="Cowl", whom="Plater", promised="in 1 week")
    assert Shipment.objects.get().promised_on == date(2026, 5, 19)
