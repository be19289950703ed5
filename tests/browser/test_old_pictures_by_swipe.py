"""Old pictures on a phone: chosen together, then given to a zone by a swipe, put off by another, taken back by a word."""

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import FilePayload, Locator, Page, expect

from tests.records.shop import Shop
from tests.records.test_old_pictures import _jpeg
from witnessmark.records.models import Person, PhotoUse, PictureIn

pytestmark = pytest.mark.django_db(transaction=True)
PATIENCE_MS = 30_000


def files() -> list[FilePayload]:
    """Three of one morning, and a paper that calls itself a picture."""
    taken = [(f"{n}.jpg", _jpeg(40 * n, f"2019:06:03 10:0{n}:00")) for n in (1, 2, 3)]
    return [
        {"name": name, "mimeType": "image/jpeg", "buffer": data} for name, data in [*taken, ("paper.jpg", b"%PDF-1.7")]
    ]


def swipe(page: Page, card: Locator, share: float) -> None:
    """Drag a picture by a share of its width, as a finger does: in many small moves."""
    slide = card.locator(".slide")
    slide.scroll_into_view_if_needed()
    box = slide.bounding_box()
    assert box
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + share * box["width"], y, steps=12)
    page.mouse.up()


def test_by_swipe(shop: Shop, page: Page, sign_in: Callable[[Person], None], quiet: list[str]) -> None:
    sign_in(shop.mechanic)
    page.goto("/pictures/unsorted/")
    expect(page.locator("#bring[data-ready]")).to_be_visible(timeout=PATIENCE_MS)
    page.get_by_label("Choose pictures, as many as you like").set_input_files(files())
    expect(page.locator("#bring[data-through='4']")).to_be_visible(timeout=PATIENCE_MS)
    told = page.locator("#bring .told")
    expect(told).to_contain_text("3 came in, 0 were here before, 1 could not be kept.")
    expect(told).to_contain_text("it is a PDF")
    quiet.clear()  # the browser complains of the refused paper, and is right
    page.get_by_role("link", name="Look at them").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("3 of 3 pictures unsorted.", timeout=PATIENCE_MS)
    expect(page.locator("body[data-ready=sorting]")).to_be_visible(timeout=PATIENCE_MS)

    cards = page.locator(".card:not(.gone)")
    swipe(page, cards.first, 0.45)  # nothing is chosen yet: it springs back and says why
    expect(page.get_by_role("status").filter(has_text="Say first what they show")).to_be_visible()
    expect(cards).to_have_count(3)
    page.get_by_label("hull bottom").check()
    swipe(page, cards.first, 0.1)  # not far enough: nothing happens
    swipe(page, cards.first, 0.45)
    expect(page.locator("#counted")).to_have_text("2 of 3 pictures unsorted.", timeout=PATIENCE_MS)
    expect(page.locator("#told")).to_have_text("1 picture given to hull bottom.")
    expect(cards).to_have_count(2)
    swipe(page, cards.first, -0.45)
    expect(page.locator("#told")).to_contain_text("Not now: 1 picture", timeout=PATIENCE_MS)
    expect(cards).to_have_count(1)
    assert PhotoUse.objects.get().zone == shop.zone
    assert PictureIn.objects.get(not_now=1).photo.original_name == "2.jpg"

    page.get_by_role("button", name="Take back the last one").click()
    expect(cards).to_have_count(2, timeout=PATIENCE_MS)
    assert not PictureIn.objects.filter(not_now=1).exists()


def test_by_keys(shop: Shop, page: Page, sign_in: Callable[[Person], None]) -> None:
    """The same without a finger: the words under each picture, by keyboard."""
    sign_in(shop.mechanic)
    page.goto("/pictures/unsorted/")
    expect(page.locator("#bring[data-ready]")).to_be_visible(timeout=PATIENCE_MS)
    page.get_by_label("Choose pictures, as many as you like").set_input_files(files()[:3])
    expect(page.locator("#bring[data-through='3']")).to_be_visible(timeout=PATIENCE_MS)
    page.goto("/pictures/unsorted/")
    expect(page.locator("body[data-ready=sorting]")).to_be_visible(timeout=PATIENCE_MS)
    page.get_by_label(re.compile("^Or a tag")).fill("0119")
    page.get_by_role("button", name="It shows this").first.focus()
    page.keyboard.press("Enter")
    expect(page.locator("#counted")).to_have_text("2 of 3 pictures unsorted.", timeout=PATIENCE_MS)
    expect(page.locator(".card:not(.gone) button").first).to_be_focused()  # the next picture's word
    page.keyboard.press("Enter")
    expect(page.locator("#counted")).to_have_text("1 of 3 pictures unsorted.", timeout=PATIENCE_MS)
    page.get_by_role("button", name="All that are ticked show this.").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("All 3 pictures are sorted.", timeout=PATIENCE_MS)
    assert [use.piece.tag for use in PhotoUse.objects.all() if use.piece] == ["0119"] * 3
