"""Rivets that have to be made, on the Orders screen and on paper."""

import io
from datetime import date
from io import BytesIO

import ezdxf
import pytest
from django.test import Client
from pypdf import PdfReader

from tests.records.shop import Shop, make_shop
from tests.support.pages import words
from tests.support.rows import make_order, make_row, make_size
from witnessmark.papers import make
from witnessmark.records.lookups.catalogue import shape_for
from witnessmark.records.lookups.orders import rivet_order
from witnessmark.records.lookups.tooling import tools_wanted
from witnessmark.records.models import Act, FastenerSize, MeasuredSize, Order

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    make_row(shop, "C2", make_size(shop))
    make_row(shop, "C3", make_size(shop, "HN/3.5", 3.5, "flush rivet, domed 120"))
    act = Act.objects.create(verb="measure", person=shop.lead, said={}, said_sha256="", happened_at="2026-05-01T00:00Z")
    MeasuredSize.objects.create(
        code="VN12-3.0", family="VN", form="round", shank_mm=3.0, head_mm=5.6, head_height_mm=1.6,
        measured_on="six from the spar", act=act,
    )  # fmt: skip
    return shop


def browser(shop: Shop) -> Client:
    made = Client()
    made.force_login(shop.owner)
    return made


def test_the_orders_screen_leads_to_each_drawing_or_says_what_to_measure(shop: Shop) -> None:
    page = browser(shop).get("/orders/")
    said = words(page)
    assert "Drawing of VN12-3.0" in said
    assert "six from the spar" in said
    assert "No drawing yet: First measure the angle and the width and the height, dome and all, of its head" in said
    assert "/orders/drawing/VN12-3.0.dxf" in page.content.decode()
    assert "Drawing of HN/3.5" not in said


def test_the_dxf_is_given_to_those_who_signed_in(shop: Shop) -> None:
    assert Client().get("/orders/drawing/VN12-3.0.dxf")["Location"].startswith("/sign-in/")
    given = browser(shop).get("/orders/drawing/VN12-3.0.dxf")
    document = ezdxf.read(io.StringIO(given.content.decode()))  # type: ignore[attr-defined]
    sizes = {round(float(d.get_measurement()), 2) for d in document.modelspace().query("DIMENSION")}
    assert {3.0, 5.6, 1.6} <= sizes
    assert "attachment" in given["Content-Disposition"]
    assert browser(shop).get("/orders/drawing/HN/3.5.dxf").status_code == 404
    assert browser(shop).get("/orders/drawing/none.dxf").status_code == 404
    assert browser(shop).post("/orders/drawing/VN12-3.0.dxf").status_code == 405


def test_the_papers_say_the_same(shop: Shop) -> None:
    pages = [" ".join(p.extract_text().split()) for p in PdfReader(BytesIO(make("rivet-drawing"))).pages]
    assert len(pages) == 2
    assert "5.60 mm" in pages[0]
    assert "HN/3.5" in pages[1]
    assert len(PdfReader(BytesIO(make("rivet-drawing", which="VN12-3.0"))).pages) == 1
    tools = " ".join(PdfReader(BytesIO(make("tooling"))).pages[0].extract_text().split())
    for word in ("3.1 mm", "3.6 mm", "cup set", "VN12-3.0", "C2", "Wear eyes and ears"):
        assert word in tools, word


def test_the_drawing_of_what_is_on_order_stays_until_it_comes(shop: Shop) -> None:
    make_order(
        shop, "O-7", "VN12-3.0 × 8 mm", size=FastenerSize.objects.get(code="VN12-3.0"), count=2000,
        ordered_on=date(2026, 5, 4),
    )  # fmt: skip
    said = words(browser(shop).get("/orders/"))
    assert "VN12-3.0, 2,000, on order O-7" in said and "Drawing of VN12-3.0" in said
    given = browser(shop).get("/orders/drawing/VN12-3.0.dxf")
    assert given.status_code == 200 and "on order O-7" in given.content.decode()
    page = " ".join(PdfReader(BytesIO(make("rivet-drawing", which="VN12-3.0"))).pages[0].extract_text().split())
    assert "2,000" in page and "on order O-7" in page and "C2" in page
    Order.objects.update(came_on=date(2026, 6, 1))
    gone = browser(shop).get("/orders/drawing/5/32 flush 100.dxf")
    assert gone.status_code == 404 and "--length" not in words(gone)


def test_an_inch_rivet_of_the_list_is_found_in_the_catalogue_by_its_geometry(shop: Shop) -> None:
    """MS20426: the head of a 1/8 in rivet is .225 in wide, from memory; a 120 degree one is not in the table."""
    size = make_size(shop, "IN-100-1/8", 3.175, "flush rivet 100")
    FastenerSize.objects.filter(pk=size.pk).update(
        head_deg=100, nominal_typed="1/8", family="inch 100", alloy="2024-T3"
    )
    make_row(shop, "C4", FastenerSize.objects.get(pk=size.pk))
    shape = shape_for(FastenerSize.objects.get(pk=size.pk), ())
    assert shape is not None and shape.code == "1/8 flush 100" and shape.head_mm == pytest.approx(0.225 * 25.4)
    said = words(browser(shop).get("/orders/"))
    assert "IN-100-1/8, " not in said.partition("Rivets that have to be made")[2].partition("Boxes that came")[0]
    line = next(each for group in rivet_order(shop.aircraft).vendors for each in group.lines if each.size.pk == size.pk)
    assert line.one_g is not None and not line.no_mass
    dies = [t.what for t in tools_wanted(shop.aircraft).tools if "IN-100-1/8" in t.for_codes]
    assert any("dimple" in what or "cutter" in what for what in dies), dies
    FastenerSize.objects.filter(pk=size.pk).update(head_deg=120)
    assert shape_for(FastenerSize.objects.get(pk=size.pk), ()) is None
