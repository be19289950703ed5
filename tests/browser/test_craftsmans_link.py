"""A craftsman outside opens the link he was sent: nobody is signed in, over plain http, and what he says is kept."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from tests.records.shop import Shop
from tests.web.test_outside import other, send
from witnessmark.records.models import Person, VendorSaid

pytestmark = pytest.mark.django_db(transaction=True)
PATIENCE_MS = 30_000


def test_by_his_link_he_promises_a_day_and_says_that_it_is_here(
    live_server: LiveServer,
    chromium: Browser,
    shop: Shop,
    page: Page,
    sign_in: Callable[[Person], None],
    settings: Any,
) -> None:
    settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, "shop.test"]
    shipment = send(shop, other(shop), "S-1", "0301")
    page.set_default_timeout(PATIENCE_MS)
    sign_in(shop.lead)
    page.goto("/outside/")
    page.get_by_text("A link for him").first.click()
    page.locator("#TR").get_by_role("button", name="Make the link").click()
    link = page.get_by_role("textbox", name="The link").input_value()
    # A name that is not this machine's: plain http, as the craftsman's telephone sees the shop.
    elsewhere = f"http://shop.test:{urlsplit(live_server.url).port}"
    his = chromium.new_context(viewport=page.viewport_size, locale="en-GB", service_workers="block")
    seen = his.new_page()
    seen.set_default_timeout(PATIENCE_MS)
    seen.goto(elsewhere + urlsplit(link).path)
    day = timezone.localdate() + timedelta(days=9)

    seen.get_by_label("You promise it for").fill("2001-01-01")
    seen.get_by_role("button", name="Promise that day").click()
    expect(seen.get_by_role("alert")).to_contain_text("Nothing was changed", timeout=PATIENCE_MS)
    assert "open too long" not in seen.content()
    seen.get_by_label("You promise it for").fill(day.isoformat())
    seen.get_by_role("button", name="Promise that day").click()
    expect(seen.get_by_text("Promised for")).to_contain_text(f"{day:%A} {day.day} {day:%B}", timeout=PATIENCE_MS)

    seen.get_by_label("Something counts otherwise").fill("One strap torn")
    seen.get_by_role("button", name="It is here").click()
    expect(seen.get_by_text("You confirmed it on")).to_contain_text("One strap torn", timeout=PATIENCE_MS)
    assert not Axe().run(seen).response["violations"]

    shipment.refresh_from_db()
    assert shipment.promised_on == day
    assert list(VendorSaid.objects.order_by("pk").values_list("what", flat=True)) == ["promised", "received"]

    # The link is the key: no other site is told it, by an address opened from his page.
    with seen.expect_request(f"{live_server.url}/**") as asked:
        seen.evaluate("address => { location.href = address }", f"{live_server.url}/sign-in/")
    assert "referer" not in asked.value.all_headers()
    his.close()
