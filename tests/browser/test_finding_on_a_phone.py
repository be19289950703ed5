"""A finding in one page: the picture, a ring drawn on it, the kind by a tap; and the ring by keys alone."""

import io
from collections.abc import Callable

import pytest
from PIL import Image
from playwright.sync_api import FilePayload, Page, expect

from tests.records.shop import Shop
from witnessmark.records.models import Finding, FindingRing, Person
from witnessmark.records.photo_store import original_path

pytestmark = pytest.mark.django_db(transaction=True)


def picture() -> FilePayload:
    file = io.BytesIO()
    Image.new("RGB", (800, 600), "#7a8a7a").save(file, "JPEG")
    return {"name": "lap.jpg", "mimeType": "image/jpeg", "buffer": file.getvalue()}


def test_a_ring_is_drawn_by_hand(shop: Shop, page: Page, sign_in: Callable[[Person], None]) -> None:
    """Four things are touched after the page is open: picture, ring, kind, record."""
    sign_in(shop.mechanic)
    page.goto("/piece/0119/")
    page.get_by_role("link", name="Picture of what is wrong").click()
    sent = picture()
    page.get_by_label("The picture", exact=True).set_input_files(sent)
    frame = page.locator("[data-ring]")
    expect(frame).to_be_visible()
    frame.scroll_into_view_if_needed()
    box = frame.bounding_box()
    assert box
    middle = (box["x"] + 0.6 * box["width"], box["y"] + 0.4 * box["height"])
    page.mouse.move(middle[0] - 40, middle[1])
    page.mouse.down()
    for x, y in ((0, -30), (40, 0), (0, 30), (-40, 0)):
        page.mouse.move(middle[0] + x, middle[1] + y, steps=4)
    page.mouse.up()
    page.get_by_label("pitting").check()
    page.get_by_role("button", name="Record it.").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("F-53: Pitting.")
    expect(page.locator(".ringed ellipse")).to_have_count(2)
    ring = FindingRing.objects.get()
    assert ring.across == pytest.approx(0.6, abs=0.02)
    assert ring.down == pytest.approx(0.4, abs=0.02)
    assert ring.half_wide == pytest.approx(40 / box["width"], abs=0.02)
    assert original_path(ring.use.photo_id).read_bytes() == sent["buffer"]


def test_a_ring_is_placed_by_keys(shop: Shop, page: Page, sign_in: Callable[[Person], None]) -> None:
    sign_in(shop.mechanic)
    page.goto("/see/piece/0119/")
    page.get_by_label("The picture", exact=True).set_input_files(picture())
    page.locator("[data-ring]").focus()
    for key in ("ArrowRight", "ArrowRight", "ArrowDown", "Shift+ArrowLeft", "+"):
        page.keyboard.press(key)
    page.get_by_label("crack").check()
    page.get_by_role("button", name="Record it.").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("F-53: Crack.")
    ring = FindingRing.objects.get()
    assert (ring.across, ring.down, ring.half_wide) == (pytest.approx(0.44), pytest.approx(0.52), pytest.approx(0.14))
    assert Finding.objects.get(number="F-53").kind == "crack"


COUNT = """for (const what of ["pointerdown", "keydown"])
  addEventListener(what, () => { sessionStorage[what] = Number(sessionStorage[what] || 0) + 1; }, true);"""
# The phone's own camera: open it, press the shutter, use the picture.
CAMERA_TAPS = 3
SECONDS_A_TAP = 5


def test_a_finding_takes_under_a_minute_and_no_typing(
    shop: Shop, page: Page, sign_in: Callable[[Person], None]
) -> None:
    """Counted from the piece's page, where the code on its tag opens, to the finding written down; each tap as the page hears it."""
    page.add_init_script(COUNT)
    sign_in(shop.mechanic)
    page.goto("/piece/0119/")
    page.evaluate("sessionStorage.clear()")
    page.get_by_role("link", name="Picture of what is wrong").click()
    page.get_by_label("The picture", exact=True).set_input_files(picture())
    frame = page.locator("[data-ring]")
    expect(frame).to_be_visible()
    frame.scroll_into_view_if_needed()
    box = frame.bounding_box()
    assert box
    page.mouse.move(box["x"] + 0.4 * box["width"], box["y"] + 0.4 * box["height"])
    page.mouse.down()
    page.mouse.move(box["x"] + 0.6 * box["width"], box["y"] + 0.6 * box["height"], steps=5)
    page.mouse.up()
    page.get_by_label("crack").check()
    page.get_by_label("Yes, behind what was opened").check()
    page.get_by_role("button", name="Record it.").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("F-53: Crack.")
    assert page.evaluate("sessionStorage.keydown") is None
    taps = int(page.evaluate("sessionStorage.pointerdown")) + CAMERA_TAPS
    assert taps == 5 + CAMERA_TAPS
    assert taps * SECONDS_A_TAP < 60
    finding = Finding.objects.get(number="F-53")
    assert (finding.kind, finding.opened) == ("crack", True)
