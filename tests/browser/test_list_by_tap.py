"""An old list from the file to the record by taps alone; its pages and the list of who has what can be used by everyone."""

import uuid
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Page, expect

from tests.browser.test_everyone_can_use_it import TOO_SMALL
from tests.records.shop import Shop
from tests.support.spreadsheets import xlsx
from witnessmark.records.actions.who_has_what import say_out
from witnessmark.records.models import Person, Piece

ROWS = (
    ("Teilenummer", "Benennung", "Menge", "Seite", "Lagerort", "Farbe"),
    ("9-1-001", "Strap", 1, "L", "shelf A1", "grey"),
    ("9-1-002", "Clip", "many", "L", "shelf A1", "green"),
    ("9-1-003", "Pin", 2, "R", "box 7", "grey"),
)


def faults(page: Page) -> list[str]:
    """What stands in somebody's way on this page, with every fold open."""
    page.locator("details").evaluate_all("folds => folds.forEach(fold => fold.open = true)")
    found = [f"{v['id']} {v['nodes'][0]['html'][:120]}" for v in Axe().run(page).response["violations"]]
    if page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") > 0:
        found.append("it scrolls sideways")
    return [*found, *page.evaluate(TOO_SMALL)]


def test_a_list_goes_in_by_taps(page: Page, shop: Shop, sign_in: Callable[[Person], None], tmp_path: Path) -> None:
    sign_in(shop.mechanic)
    page.goto("/lists/in/")
    assert not faults(page)
    page.get_by_label("The file").set_input_files(xlsx(tmp_path / "old parts.xlsx", ROWS))
    page.get_by_role("button", name="Look into it.").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("old parts.xlsx holds 3 rows. Is this how to read it?")
    assert not faults(page)
    page.get_by_label("Farbe").select_option("finish")
    page.get_by_role("button", name="Try it, write nothing").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Tried, nothing written: 2 taken, 1 refused.")
    expect(page.get_by_label("Farbe")).to_have_value("finish")
    assert not Piece.objects.filter(part_no="9-1-001").exists()
    page.get_by_role("button", name="Take the rows in.").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("old parts.xlsx: 2 taken, 1 refused.")
    assert not faults(page)
    with page.expect_download() as refused:
        page.get_by_role("link", name="Refused rows, with the reason").click()
    assert "many" in Path(refused.value.path()).read_text("utf-8-sig")
    assert Piece.objects.get(part_no="9-1-001").finish == "grey"


def test_who_has_what_can_be_used_by_everyone(page: Page, shop: Shop, sign_in: Callable[[Person], None]) -> None:
    today = timezone.localdate()
    for what, whom, weeks in (("Left magneto", "Stonebeck Magnetos", 2), ("Seats", "Trimmer", -1)):
        say_out(
            by=shop.lead, act_id=uuid.uuid4(), what=what, whom=whom, since=today - timedelta(weeks=9),
            promised=today - timedelta(weeks=weeks), today=today,
        )  # fmt: skip
    sign_in(shop.mechanic)
    page.goto("/who-has-what/")
    assert not faults(page)
    page.get_by_role("button", name="In 2 weeks").first.click()
    expect(page.get_by_role("status").filter(has_text="Stonebeck Magnetos says")).to_be_visible()
    assert not faults(page)
