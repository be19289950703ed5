"""Tomorrow's drive: the test house moves first, the bolts go off the plater's sheet and over its counter."""

import uuid
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.records.shop import Shop, make_part
from tests.records.test_photo_store import picture
from tests.records.test_trips import bolts, vendor
from tests.support.rows import make_steps
from witnessmark.records.actions import trips
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.models import Holding, Person, Shipment, TripLine, TripStop

pytestmark = pytest.mark.django_db(transaction=True)


def test_the_bolts_are_left_at_the_test_house(
    shop: Shop, page: Page, sign_in: Callable[[Person], None], tmp_path: Path, settings: Any
) -> None:
    settings.DATA = tmp_path
    piece = bolts(shop)
    vendor("ON", "Test house")
    vendor("TR", "Trimmer", 5)
    sign_in(shop.mechanic)
    page.goto("/trip/")
    for n, name in enumerate(("Plater", "Test house", "Trimmer"), 1):
        page.get_by_label(f"Stop {n}").select_option(label=name)
    page.get_by_role("button", name="Plan it").click()
    TripLine.objects.filter(stop__vendor__code="ON").delete()
    trips.put_on_sheet(
        by=shop.lead, act_id=uuid.uuid4(), stop=TripStop.objects.get(vendor=shop.vendor), piece=piece, process="Plate"
    )
    page.reload()
    heading = page.get_by_role("heading", level=1)
    expect(heading).to_contain_text("Test house comes before Plater: 2 wheel bolts (L-063) must be tested first.")
    page.get_by_role("button", name="Drive in this order").click()
    expect(heading).to_contain_text("3 stops")
    assert not Axe().run(page).response["violations"]
    page.get_by_role("link", name="Test house").click()
    shot = tmp_path / "counter.jpg"
    shot.write_bytes(picture())
    page.get_by_label("Picture on the counter").set_input_files(shot)
    page.get_by_label("Number of the shipment").fill("S-77")
    assert not Axe().run(page).response["violations"]
    page.get_by_role("button", name="Left with them").click()
    expect(page.get_by_role("heading", name="Settled")).to_be_visible()
    page.get_by_label("Name of the person behind the counter").fill("Somebody")
    page.get_by_role("button", name="Signed").click()
    expect(page.get_by_text("Signed by Somebody.")).to_be_visible()
    assert Holding.objects.get(piece=piece, count=2).holder.name == "Test house"
    assert check_ledger().balanced


def test_one_picture_of_the_wrong_generator(
    shop: Shop, page: Page, sign_in: Callable[[Person], None], tmp_path: Path, settings: Any
) -> None:
    settings.DATA = tmp_path
    sign_in(shop.mechanic)
    page.goto("/hunt/wrong-for-the-type/")
    shot = tmp_path / "generator.jpg"
    shot.write_bytes(picture())
    page.get_by_label("The picture").set_input_files(shot)
    page.get_by_label("The mark of its place").fill("6-51-020 L")
    page.get_by_label("What sits there").fill("12 V generator")
    page.get_by_label("What belongs there").fill("Generator, 24 V")
    page.get_by_label("Laid on shelf, or in box").fill("C2")
    page.get_by_label("Cut off behind it").fill("6-51-020 R")
    page.get_by_label("What that waits to be told").fill("its load in A")
    page.get_by_role("button", name="Record it, and hunt").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Look for Generator, 24 V in the stores")
    expect(page.get_by_text("its load in A")).to_be_visible()
    expect(page.get_by_text("Mass and arm unknown.")).to_be_visible()
    assert not Axe().run(page).response["violations"]
    assert Holding.objects.get(piece__tag="0118", count=1).holder.name == "C2"


def test_a_sheet_filled_in_without_a_signal_goes_when_it_is_back(
    shop: Shop, page: Page, sign_in: Callable[[Person], None], tmp_path: Path, settings: Any
) -> None:
    settings.DATA = tmp_path
    part = make_part(shop, "0330", shop.shelf)
    make_steps(part, ("Look", "PL"))
    shop.aircraft.today = date(2026, 5, 12)
    shop.aircraft.save()
    trips.plan_trip(
        by=shop.lead,
        act_id=uuid.uuid4(),
        number="T-1",
        day=date(2026, 5, 13),
        driver=shop.mechanic,
        vendors=[shop.vendor],
    )
    sign_in(shop.mechanic)
    page.goto("/trip/T-1/PL/")
    page.context.set_offline(True)
    shot = tmp_path / "counter.jpg"
    shot.write_bytes(picture())
    page.get_by_label("Picture on the counter").set_input_files(shot)
    page.get_by_role("button", name="Left with them").click()
    expect(page.get_by_text("Left with them: waits on this phone for a signal.")).to_be_visible()
    page.get_by_label("Name of the person behind the counter").fill("Somebody")
    page.get_by_role("button", name="Signed").click()
    expect(page.get_by_text("Signed: waits on this phone for a signal.")).to_be_visible()
    assert not Shipment.objects.exists()
    page.context.set_offline(False)
    expect(page.get_by_text("Signed by Somebody.")).to_be_visible()
    expect(page.locator("#queued")).to_be_hidden()
    assert Shipment.objects.count() == 1
    assert Holding.objects.get(piece=part, count=1).holder == shop.vendor.holder
    assert check_ledger().balanced
