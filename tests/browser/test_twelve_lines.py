"""Twelve lines of who has what, typed on a phone and at a desk: fields filled and presses counted; and one without a signal."""

from collections.abc import Callable

from playwright.sync_api import Page, expect

from tests.records.shop import Shop
from witnessmark.records.models import Person, Shipment, Vendor

# What, with whom, since (empty: as it stands, today), promised. Two shops come again and are taken from the suggestions.
LINES = (
    ("Left magneto", "Stonebeck Magnetos", "", "in 8 weeks"),
    ("Right magneto", "Stonebeck Magnetos", "", "in 8 weeks"),
    ("Carburettor", "Fell Lane Carburettors", "3 weeks ago", "Friday"),
    ("2 oil coolers", "Plater", "", "12 May"),
    ("Propeller", "Carver and Niece", "6 weeks ago", ""),
    ("Seat cushions", "Trimmer at the mill", "", "end of January"),
    ("Altimeter", "Quay Instruments", "2 weeks ago", "in 3 weeks"),
    ("Cowl ring", "Plater", "", ""),
    ("Tail wheel fork", "Plater", "last Monday", "in 2 weeks"),
    ("Exhaust stubs", "Ash Welding", "", "week 50"),
    ("Canopy glass", "Quay Instruments", "", "in 4 weeks"),
    ("Oleo leg", "Ash Welding", "yesterday", "in 10 days"),
)


def test_twelve_lines_are_typed_one_after_the_other(page: Page, shop: Shop, sign_in: Callable[[Person], None]) -> None:
    sign_in(shop.mechanic)
    page.goto("/who-has-what/")
    filled = presses = 0
    for what, whom, since, promised in LINES:
        field = page.get_by_label("What", exact=True)
        expect(field).to_be_focused()  # nothing is pressed to begin the next line
        page.keyboard.type(what)
        for label, text in (("With whom", whom), ("Since", since), ("Promised for", promised)):
            if text:
                page.get_by_label(label, exact=True).fill(text)
                filled += 1
        filled += 1
        page.keyboard.press("Enter")
        presses += 1
        expect(page.get_by_role("status").filter(has_text=f"{what}").first).to_contain_text(f"with {whom} since")
    assert Shipment.objects.count() == len(LINES)
    assert Vendor.objects.count() == 7  # six made on the spot, and the plater who was there
    # Counted: a field for each thing that was said, and one press of Enter a line. Nothing else was filled or pressed.
    assert presses == len(LINES)
    assert filled == sum(bool(text) for each in LINES for text in each) <= 4 * len(LINES)
    page.get_by_role("button", name="Take it back").click()
    expect(page.get_by_text("Taken back: Oleo leg")).to_be_visible()
    assert Shipment.objects.count() == len(LINES) - 1


def test_lines_typed_without_a_signal_wait_and_go_once(
    page: Page, shop: Shop, sign_in: Callable[[Person], None], quiet: list[str]
) -> None:
    sign_in(shop.mechanic)
    page.goto("/who-has-what/")
    expect(page.locator("body")).to_have_attribute("data-waiting", "0")  # the phone's queue is at work
    page.context.set_offline(True)
    for what in ("Left magneto", "Right magneto"):
        page.get_by_label("What", exact=True).fill(what)
        page.get_by_label("With whom").fill("Stonebeck Magnetos")
        page.get_by_label("Promised for").fill("in 8 weeks")
        page.keyboard.press("Enter")
        expect(page.locator("#queued")).to_contain_text(f"{what}, with Stonebeck Magnetos: waits on this phone")
        expect(page.get_by_label("What", exact=True)).to_have_value("")
    assert not Shipment.objects.exists()
    page.context.set_offline(False)
    expect(page.locator("body")).to_have_attribute("data-waiting", "0", timeout=30_000)
    page.reload()
    expect(page.get_by_role("heading", level=1)).to_contain_text("2 things are out")
    assert Shipment.objects.count() == 2
    quiet.clear()  # without a signal the browser complains, and is right
