"""Sign in, find a tag, take the part off, put it back."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.records.shop import Shop
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.models import Holding, Person

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_part_comes_off_and_goes_home(shop: Shop, page: Page, sign_in: Callable[[Person], None]) -> None:
    sign_in(shop.mechanic)
    expect(page.get_by_text("You are Mechanic, mechanic.")).to_be_visible()
    page.get_by_role("link", name="Find, or go to").click()
    page.get_by_label("Find a tag").fill("0118")
    page.get_by_role("button", name="Find", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Left wing root fitting is in its place.")

    page.get_by_label("Laid on shelf, or in box").fill("C2")
    page.get_by_role("button", name="Take it off").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Left wing root fitting is at C2.")
    assert Holding.objects.get(piece__tag="0118", count__gt=0).holder.name == "C2"

    page.get_by_role("button", name="Put it back: 6-51-020 left").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Left wing root fitting is in its place.")
    assert check_ledger().balanced
