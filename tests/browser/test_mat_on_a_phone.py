"""One picture of the mat becomes bags: taken, watched, put right by tapping, filed with a label; every step by screen."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.records.shop import Shop, make_bag
from tests.records.test_mat_boxes import reading
from tests.unit.test_mat_reading import few
from tests.web.test_mat_boxes import shown
from witnessmark.records import work
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.models import Holding, Person, Photo, PhotoUse, Piece, PrintedMat
from witnessmark.records.photo_store import original_path

pytestmark = pytest.mark.django_db(transaction=True)
PATIENCE = 60_000


def test_a_picture_of_the_mat_becomes_bags_by_tapping(
    shop: Shop, page: Page, sign_in: Callable[[Person], None], tmp_path: Path, settings: Any
) -> None:
    settings.DATA = tmp_path
    page.set_default_timeout(PATIENCE)
    sign_in(shop.mechanic)
    page.goto("/mat/")
    shot = tmp_path / "bench.jpg"
    shot.write_bytes(few())
    page.get_by_label("A picture of the mat").set_input_files(shot)
    page.get_by_role("button", name="Count and measure what lies on it.").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("The picture is being read.", timeout=PATIENCE)
    assert not Axe().run(page).response["violations"]
    assert work.do_one()
    # The page that waits asks by itself, and opens what was read.
    heading = page.get_by_role("heading", level=1)
    expect(heading).to_have_text("5 pieces in 2 groups.", timeout=PATIENCE)
    assert not Axe().run(page).response["violations"]
    page.get_by_role("button", name="Larger").click()
    expect(page.locator("#matpic")).to_have_class("matpic x2")

    # Three rings are one group: a tap on the picture takes the ticks off two of them, the third is parted.
    rings = page.locator("#gA")
    expect(rings.get_by_role("heading")).to_contain_text("3 of ring")
    ticked = rings.locator('input[data-name^="A"]')
    expect(ticked).to_have_count(3)
    names = [str(box.get_attribute("data-name")) for box in ticked.all()]
    for name in names[:2]:
        page.locator(f'[data-piece="{name[1:]}"] polygon').click()
        expect(page.locator("#ticked")).to_have_text(f"{name} is not ticked.")
    rings.get_by_role("button", name="Move the ticked ones").click()
    expect(page.get_by_role("heading", level=3)).to_have_count(3)
    page.get_by_role("button", name="Take the last correction back").click()
    expect(page.locator("#gA").get_by_role("heading")).to_contain_text("3 of ring")

    # The bolts are called what they are, and the rings go into a bag with a label to print.
    bolts = page.locator("#gB")
    bolts.locator("summary").first.click()
    bolts.get_by_label("What it is").fill("wing root bolts")
    bolts.get_by_role("button", name="Only call it so").click()
    expect(page.locator("#gB").get_by_role("heading")).to_contain_text("2 of wing root bolts")
    rings = page.locator("#gA")
    rings.get_by_label("Tag of the bag").fill("B-7")
    rings.get_by_label("Lies at").fill("C2")
    rings.get_by_role("button", name="Into the bag").click()
    expect(page.locator("#gA").get_by_role("link", name="Print its label")).to_be_visible()
    expect(page.get_by_text("1 group still to go into its bag.")).to_be_visible()
    assert not Axe().run(page).response["violations"]

    bag = Piece.objects.get(tag="B-7")
    assert Holding.objects.get(piece=bag).count == 3 and PhotoUse.objects.get(piece=bag).photo == Photo.objects.get()
    assert original_path(Photo.objects.get().sha256).read_bytes() == few()
    assert check_ledger().balanced


def test_a_sheet_of_boxes_is_made_and_its_picture_filed_with_one_press(
    shop: Shop, page: Page, sign_in: Callable[[Person], None], tmp_path: Path, settings: Any
) -> None:
    settings.DATA = tmp_path
    page.set_default_timeout(PATIENCE)
    make_bag(shop, "B-7", shop.shelf, 4)
    sign_in(shop.mechanic)
    page.goto("/mat/")
    page.get_by_role("link", name="Boxes for bags").first.click()
    heading = page.get_by_role("heading", level=1)
    expect(heading).to_contain_text("Twelve boxes on one sheet")
    page.get_by_label("B-7").check()
    page.get_by_label("Boxes with new numbers").select_option("2")
    assert not Axe().run(page).response["violations"]
    page.get_by_role("button", name="Make the boxes.").click()
    expect(heading).to_contain_text("3 of 12 boxes have a bag.")
    page.get_by_label("Where box 2 comes from").fill("left root fitting")
    assert not Axe().run(page).response["violations"]
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_label("Where box 2 comes from")).to_have_value("left root fitting")
    serial = PrintedMat.objects.get().serial
    answer = shown(reading({"tag": "B-7", "count": 4}, {"tag": "1001", "count": 2}, {"tag": "1002"}, serial=serial))
    page.goto(f"/mat/{answer.subject}/")
    expect(page.get_by_text("Empty: box 3 (1002).")).to_be_visible()
    assert not Axe().run(page).response["violations"]
    page.get_by_label("The bags lie at").fill("C2")
    page.get_by_role("button", name="Put 2 boxes into their bags.").click()
    expect(page.get_by_role("link", name="Print its label")).not_to_have_count(0)
    expect(page.get_by_role("button", name="Put 2 boxes into their bags.")).to_have_count(0)
    assert Holding.objects.get(piece__tag="B-7").count == 4
    assert (Piece.objects.get(tag="1001").as_found, Piece.objects.get(tag="1001").count_off) == ("left root fitting", 2)
    assert check_ledger().balanced
