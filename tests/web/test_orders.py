"""Orders on screen: lengths, spares, what holds them."""

import uuid

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.records.shop import Shop, make_shop
from tests.support.pages import client, words
from tests.support.rows import make_order, make_row, make_size, told
from witnessmark.cli.order import to_dict
from witnessmark.records.actions.rows import fill_holes
from witnessmark.records.lookups.day import today
from witnessmark.records.lookups.orders import rivet_order
from witnessmark.records.models import Act, Hole, HoleReading, Order, Person, Row

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    make_row(shop, "C2", make_size(shop))
    return shop


def test_the_order_shows_length_spares_and_working(shop: Shop) -> None:
    text = words(client(shop.owner).get("/orders/"))
    assert "94 rivets to order, in one line, for 84 holes." in text
    assert "VN12-3.0 × 8 mm" in text
    assert "order = (holes + spares, at least the least run) rounded up to whole packs" in text
    assert "four in five by" in text


def test_the_lead_sets_the_chances_and_asks_for_the_day_to_leave(shop: Shop) -> None:
    browser = client(shop.lead)
    assert "at most 5 % a line" in words(browser.get("/orders/"))
    said = {"act_id": str(uuid.uuid4()), "what": "risks", "short": "1", "late": "10"}
    assert browser.post("/orders/", said).status_code == 302
    page = words(browser.get("/orders/", {"wanted_by": "2031-06-02"}))
    assert "at most 1 % a line" in page
    assert "Set by Lead" in page
    assert "Wanted by 2 June 2031: it must leave by" in page
    assert "A second order, if these run short, takes" in page
    assert "soon is no day" in words(browser.get("/orders/", {"wanted_by": "soon"}))
    kept = {"act_id": str(uuid.uuid4()), "what": "wanted", "wanted_by": "2031-06-03"}
    assert browser.post("/orders/", kept).status_code == 302
    assert "Wanted by 3 June 2031: it must leave by" in words(browser.get("/orders/"))
    gone = browser.post("/orders/", {**kept, "act_id": str(uuid.uuid4()), "wanted_by": "2001-06-03"})
    assert gone.status_code == 422
    assert "Wanted by 3 June 2031" in words(browser.get("/orders/"))
    for wrong in ({"short": "x"}, {"late": "100"}, {"short": "0"}, {"late": "nan"}):
        page = browser.post("/orders/", {**said, "act_id": str(uuid.uuid4()), **wrong})
        assert page.status_code == 422
        assert "Nothing was changed" in words(page)
    assert "Accept other chances" not in words(client(shop.mechanic).get("/orders/"))


def test_one_run_for_a_family_is_offered_and_no_mass_is_guessed(shop: Shop) -> None:
    shop.vendor.min_order = "5,000 per size"
    shop.vendor.save()
    make_row(shop, "C3", make_size(shop, "VN12-4.0", 4.0))
    text = words(client(shop.lead).get("/orders/"))
    assert "One run for all house metric: 5,000 instead of 10,000, 5,000 fewer." in text
    assert "no mass: size or alloy not known" in text


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


def _keel_and_chine(shop: Shop) -> None:
    """The custom rivets' two heads: the keel wants 7.4, the chine 6.3, both on a shank of 3.5."""
    for mark, code, head in (("K-1", "VN11-3.5", 7.4), ("CH-1", "VN11-3.5K", 6.3)):
        size = make_size(shop, code, 3.5, kind="flush rivet")
        size.head_deg = 120
        size.save()
        row = make_row(shop, mark, size, holes=20, stack=(1.2, 2.0))
        hole = row.place.holes.get(number=1)

        def read(act: Act, hole: Hole = hole, head: float = head) -> None:
            HoleReading.objects.create(hole=hole, what="head_mm", value_mm=head, typed=f"{head}", act=act)

        told(shop, read)


def test_a_box_with_small_heads_is_barred_from_the_keel_and_covers_the_chine() -> None:
    shop = make_shop()
    _keel_and_chine(shop)
    web = Client()
    web.force_login(shop.mechanic)
    form = {
        "act_id": str(uuid.uuid4()), "what": "box", "name": "B-1", "count": "200", "length": "9",
        "shanks": "3.5 3.49 3.51", "heads": "6.3 6.28 6.32",
    }  # fmt: skip
    assert web.post("/orders/", form).status_code == 302
    assert web.post("/orders/", form).status_code == 302  # sent twice is once
    order = rivet_order(shop.aircraft)
    assert [box.name for box in order.boxes] == ["B-1"]
    assert [(each.line.code, each.line.holes) for group in order.vendors for each in group.lines] == [("VN11-3.5", 20)]
    page = web.get("/orders/").content.decode()
    assert "Barred from K-1 left" in page
    assert "20 with a head of 7.4 mm remain to be made" in page
    assert "short" not in order.boxes[0].sentence
    assert "Box B-1 is barred from this row: wants a head of 7.4 mm, not 6.3" in words(web.get("/seam/K-1/L/"))
    assert "Box B-1 gives 20 for this row" in words(web.get("/seam/CH-1/L/"))
    (told,) = to_dict(order, today(shop.aircraft))["boxes"]
    assert [(row["row"], row["barred"]) for row in told["rows"]] == [("CH-1 left", False), ("K-1 left", True)]
    fill_holes(by=shop.lead, act_id=uuid.uuid4(), row=Row.objects.get(place__mark="CH-1"), holes="1-5", state="riveted")
    assert rivet_order(shop.aircraft).in_boxes == {"CH-1 left": 15}
    tools = web.get("/orders/tools/").content.decode()
    assert "3.6 mm" in tools
    assert "head 7.4 mm" in tools


@pytest.mark.parametrize(
    "wrong",
    [{"heads": "3.4 3.4 3.4"}, {"heads": "6.3"}, {"count": "2"}, {"shanks": "three"}, {"length": "-9"}, {"name": " "}, {"heads": "900 900 900"}],
)  # fmt: skip
def test_a_box_that_cannot_be_is_refused_and_nothing_is_stored(wrong: dict[str, str]) -> None:
    shop = make_shop()
    _keel_and_chine(shop)
    web = Client()
    web.force_login(shop.mechanic)
    form = {
        "act_id": str(uuid.uuid4()), "what": "box", "name": "B-1", "count": "200", "length": "9",
        "shanks": "3.5 3.49 3.51", "heads": "6.3 6.28 6.32", **wrong,
    }  # fmt: skip
    answer = web.post("/orders/", form)
    assert answer.status_code == 422
    assert "Nothing was stored" in answer.content.decode()
    assert not rivet_order(shop.aircraft).boxes
    # The form stands there as it was typed.
    assert all(
        f'value="{form[name]}"' in answer.content.decode() for name in ("shanks", "heads", "count") if form[name]
    )


def test_a_size_whose_vendor_nobody_named_is_ordered_from_whom_the_lead_names() -> None:
    shop = make_shop()
    size = make_size(shop)
    size.vendor = None
    size.save()
    make_row(shop, "C2", size)
    web = Client()
    web.force_login(shop.lead)
    assert "From whom" in web.get("/orders/").content.decode()
    form = {
        "act_id": str(uuid.uuid4()),
        "what": "leaves",
        "unnamed": "yes",
        "vendor": shop.vendor.code,
        "number": "O-9",
    }
    assert web.post("/orders/", form).status_code == 302
    assert Order.objects.get(number="O-9").vendor == shop.vendor
