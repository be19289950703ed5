"""A piece that the readings told is another's: said by tap on a phone and at a desk, seen anew, confirmed."""

from collections.abc import Callable

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.records.shop import Shop
from tests.records.test_mixing import received
from tests.records.test_sorting import mixed, read
from tests.records.test_whose import PITCHES
from witnessmark.records.models import Mix, Person, ToldApart

PATIENCE_MS = 30_000


def test_no_this_one_is_of_b(shop: Shop, page: Page, sign_in: Callable[[Person], None]) -> None:
    shipment, _, _ = mixed(shop)
    received(shop, shipment, 7)
    read(shop, Mix.objects.get().piece, PITCHES)
    sign_in(shop.mechanic)
    page.goto("/outwork/S-1/sort/")
    page.get_by_role("link", name="No, piece 1 is another’s").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(
        "Piece 1: the readings say A. Is it another's?", timeout=PATIENCE_MS
    )
    violations = Axe().run(page).response["violations"]
    page.get_by_text("B, 3 not home").click()
    page.get_by_text("another head form").click()
    page.get_by_role("button", name="Say so").click()
    expect(page.locator("#said")).to_be_visible(timeout=PATIENCE_MS)
    violations += Axe().run(page).response["violations"]
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert not violations and wide <= 0
    page.get_by_role("button", name="Confirm 3 told, 1 said").click()
    expect(page.locator("#said")).to_have_count(0, timeout=PATIENCE_MS)
    assert ToldApart.objects.get(item="1").piece.tag == "B"
