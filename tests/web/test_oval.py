"""An oval hole and a hollow stem on the screens: typed both ways, kept, shown by the register, said of the fastener.

Arithmetic: 3.3 by 3.7 mm leaves (9.0 - 0.2) / 3.0 = 2.93 D of an edge of 9.0 mm to a rivet of 3 mm.
"""

import uuid

import pytest

from tests.records.shop import Shop, make_shop
from tests.support.pages import client, words
from tests.support.rows import make_row, make_size
from witnessmark.records.lookups.seams import seam_drawn
from witnessmark.records.lookups.survey import row_heads
from witnessmark.records.models import Aircraft, HoleReading, Row

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    make_row(shop, "C2", make_size(shop), holes=20, edge_mm=9.0)
    return shop


def head(**said: str) -> dict[str, str]:
    return {"act_id": str(uuid.uuid4()), "what": "head", "hole": "9", **said}


@pytest.mark.parametrize("said", [{"hole_mm": "3.3x3.7"}, {"hole_mm": "3.7", "hole_wide_mm": "3.3"}])
def test_both_ways_of_a_hole_are_kept_and_the_register_takes_the_worst(shop: Shop, said: dict[str, str]) -> None:
    browser = client(shop.mechanic)
    assert browser.post("/survey/C2/L/", head(**said, core="solid")).status_code == 302
    assert dict(HoleReading.objects.exclude(value_mm=None).values_list("what", "value_mm")) == {
        "hole_mm": 3.3,
        "hole_wide_mm": 3.7,
    }
    text = words(browser.get("/seam/C2/L/"))
    assert "3.70" in text and "0.40" in text and "2.93" in text
    assert "3.70 mm wide, 0.40 mm out of round, 2.93 D on its worst side" in text
    found = row_heads(Row.objects.get()).heads[0].found
    assert found is not None and found.oval_mm == pytest.approx(0.4)


def test_the_edge_of_an_oval_hole_is_that_of_its_worst_side(shop: Shop) -> None:
    browser = client(shop.mechanic)
    browser.post("/survey/C2/L/", head(hole_mm="3.3x3.7"))
    HoleReading.objects.create(
        hole=HoleReading.objects.first().hole,
        what="edge",
        value_mm=6.1,
        typed="6.1",
        act=HoleReading.objects.first().act,
    )
    drawn = seam_drawn(Aircraft.objects.get(), "C2", "L")
    assert drawn is not None
    hole = next(each for each in drawn.holes if each.number == 9)
    assert hole.edge is not None and hole.edge.ratio == pytest.approx(5.9 / 3.0) and hole.edge.below


def test_a_hole_measured_anew_drops_the_wide_way_of_before(shop: Shop) -> None:
    browser = client(shop.mechanic)
    browser.post("/survey/C2/L/", head(hole_mm="3.3x3.7"))
    browser.post("/survey/C2/L/", head(hole_mm="3.1"))
    found = row_heads(Row.objects.get()).heads[0].found
    assert found is not None and found.oval_mm is None


def test_what_cannot_be_a_hole_is_refused_and_stays_typed(shop: Shop) -> None:
    page = client(shop.mechanic).post("/survey/C2/L/", head(hole_mm="3.3x7.7"))
    assert page.status_code == 422 and 'value="3.3x7.7"' in page.content.decode()
    assert "two holes run together" in words(page) and not HoleReading.objects.exists()


def test_the_fastener_page_says_what_an_oval_hole_and_a_hollow_stem_mean(shop: Shop) -> None:
    browser = client(shop.owner)
    text = words(browser.get("/fastener/", {"hole_mm": "3.3x3.7", "form": "flush"}))
    assert "The hole is oval, 3.3 by 3.7 mm" in text and "the next size must clean up 3.7 mm" in text
    assert "diameter=3.3+mm" in browser.get("/fastener/", {"hole_mm": "3.7x3.3"}).content.decode()
    text = words(browser.get("/fastener/", {"hole_mm": "3.3", "head_mm": "6.3", "core": "hollow"}))
    assert "it may be a blind fastener (hollow stem seen)" in text and "Core of the stem" in text
    assert browser.get("/fastener/", {"hole_wide_mm": "3.5"}).status_code == 422
