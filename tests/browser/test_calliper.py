"""A calliper that types like a keyboard, and big keys for gloves: a row is measured without touching the small ones."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.records.shop import Shop
from tests.support.rows import make_row, make_size
from witnessmark.records.models import HoleReading, Person

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_row_is_measured_by_a_typing_calliper_and_by_big_keys(
    shop: Shop, page: Page, sign_in: Callable[[Person], None]
) -> None:
    make_row(shop, "C2", make_size(shop))
    sign_in(shop.mechanic)
    page.goto("/survey/C2/L/")
    expect(page.get_by_label("Hole diameter")).to_be_focused()
    for figure in ("3.12", "5.2", "3.10", "90"):  # the calliper sends its figure and Enter
        page.keyboard.type(figure)
        page.keyboard.press("Enter")
    expect(page.get_by_label("Hole number")).to_have_value("84")
    assert {r.what: r.typed for r in HoleReading.objects.all()} == {
        "hole_mm": "3.12",
        "head_mm": "5.2",
        "driven_shank_mm": "3.10",
        "head_deg": "90",
    }
    expect(page.get_by_label("Hole diameter")).to_be_focused()
    page.keyboard.type("3.15")  # the next hole's figure, before anything was touched
    expect(page.get_by_label("Hole diameter")).to_have_value("3.15")
    page.get_by_label("Hole diameter").fill("")

    page.get_by_label("Hole diameter").click()
    for key in ("3", ".", "2", "2", "←", "1"):
        page.get_by_role(
            "button", name="Take the last one away" if key == "←" else "Point" if key == "." else key, exact=True
        ).click()
    page.get_by_role("button", name="Next figure", exact=True).click()
    expect(page.get_by_label("Head diameter")).to_be_focused()
    expect(page.get_by_label("Hole diameter")).to_have_value("3.21")
