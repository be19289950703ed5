"""The lead ticks one picture for the public, looks, makes the copy; a stranger opens its link and sees that and no more."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from tests.support.told import SECRETS, filled
from witnessmark.records.models import Person, SentCopy

pytestmark = pytest.mark.django_db(transaction=True)
PATIENCE = 30_000


def plain(page: Page) -> None:
    """The accessibility rules hold, and nothing scrolls sideways."""
    assert not Axe().run(page).response["violations"]
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0


def test_one_ticked_picture_is_all_that_a_stranger_sees(
    live_server: LiveServer,
    chromium: Browser,
    page: Page,
    sign_in: Callable[[Person], None],
    tmp_path: Path,
    settings: Any,
) -> None:
    settings.DATA = tmp_path
    shop = filled()
    page.set_default_timeout(PATIENCE)
    sign_in(shop.shop.lead)
    page.goto("/more/")
    page.get_by_role("link", name="Since the last time").click()
    expect(page.get_by_text("For the owner everything is said")).to_be_visible(timeout=PATIENCE)
    plain(page)
    page.get_by_label("The public").check()
    page.get_by_role("button", name="Show these days").click()
    expect(page.get_by_text("none is ticked now")).to_be_visible(timeout=PATIENCE)
    pictures = page.locator("input[name=pictures]")
    expect(pictures).to_have_count(2)
    expect(page.locator("input[name=pictures]:checked")).to_have_count(0)
    plain(page)
    pictures.nth(1).check()
    page.get_by_role("button", name="Look at it as it would be read.").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("This is what the public would read.", timeout=PATIENCE)
    expect(page.get_by_text("1 picture would be public.")).to_be_visible()
    plain(page)
    page.get_by_role("button", name="Make the copy and its link").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("The copy for the public is made.", timeout=PATIENCE)
    plain(page)
    link = page.get_by_role("textbox", name="The link").input_value()
    outside = chromium.new_context(viewport=page.viewport_size, base_url=live_server.url)
    stranger = outside.new_page()
    stranger.set_default_timeout(PATIENCE)
    stranger.goto(link)
    expect(stranger.locator("main img")).to_have_count(1, timeout=PATIENCE)
    stranger.locator("main img").scroll_into_view_if_needed()
    expect(stranger.get_by_role("heading", level=1)).to_contain_text("Since ")
    expect(stranger.locator("main img")).to_have_js_property("naturalWidth", 640, timeout=PATIENCE)
    plain(stranger)
    text = stranger.content().casefold()
    for secrets in SECRETS.values():
        assert not any(secret.casefold() in text for secret in secrets)
    page.goto("/since/?for=public")
    expect(page.get_by_text("Opened 1 time")).to_be_visible(timeout=PATIENCE)
    page.get_by_role("button", name=f"End the link of copy {SentCopy.objects.get().pk}").click()
    expect(page.get_by_text("The link was ended by")).to_be_visible(timeout=PATIENCE)
    stranger.goto(link)
    expect(stranger.get_by_role("heading", level=1)).to_have_text("This link is over.", timeout=PATIENCE)
    plain(stranger)
    outside.close()
