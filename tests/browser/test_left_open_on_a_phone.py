"""The left wing left on a Wednesday at hole 43 of 84, one rivet drilled out oversize; five weeks later somebody else opens it."""

import uuid
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.records.shop import Shop, make_bag
from tests.records.test_photo_store import picture
from tests.support.rows import make_hand_job, make_row, make_size
from witnessmark.records.actions.rows import fill_holes
from witnessmark.records.models import Act, HandJob, Hole, HoleReading, JobLeft, Person

pytestmark = pytest.mark.django_db(transaction=True)
WEDNESDAY, FIVE_WEEKS_LATER = date(2026, 4, 8), date(2026, 5, 13)
PATIENCE_MS = 30_000


@pytest.fixture
def wing(shop: Shop) -> Shop:
    """Row C2 of the left wing: 42 holes riveted, 43 drilled out oversize and open, the rest empty."""
    shop.aircraft.today = WEDNESDAY
    shop.aircraft.save()
    states = {"riveted": range(1, 43), "open": [43], "empty": range(44, 85)}
    row = make_row(shop, "C2", make_size(shop), 84, states=states)
    fill_holes(
        by=shop.mechanic, act_id=uuid.uuid4(), row=row, holes="43", state="open", reason="drilled out oversize to 3.4"
    )
    make_size(shop, "VN12-4.0", 4.0)
    hole = Hole.objects.get(place=row.place, number=43)
    act = Act.objects.filter(verb="fill_holes").latest("recorded_at")
    HoleReading.objects.create(hole=hole, what="drilled", value_mm=3.4, typed="3.4", act=act)
    make_bag(shop, "R-08", shop.shelf, 100)
    job = make_hand_job(shop, "wing", "Rivet on, left wing", stands_for=["C2"], bench="fixture")
    HandJob.objects.filter(pk=job.pk).update(needs=["R-08", "bucking bar 7 @ fixture"])
    return shop


def test_left_in_few_taps_and_taken_up_by_another_from_one_page(
    wing: Shop, page: Page, sign_in: Callable[[Person], None], tmp_path: Path, settings: Any
) -> None:
    settings.DATA = tmp_path
    page.set_default_timeout(PATIENCE_MS)
    sign_in(wing.mechanic)
    page.goto("/job/seam:C2%20left:fill/#leave")
    # What is already known stands there: the next hole, the bag, where it lies.
    expect(page.get_by_label("The next hole")).to_have_value("44")
    expect(page.get_by_label("Where it all lies")).to_have_value("fixture")
    shot = tmp_path / "bench.jpg"
    shot.write_bytes(picture())
    taps: tuple[Callable[[], object], ...] = (
        lambda: page.get_by_label("A picture of the bench").set_input_files(shot),
        lambda: page.get_by_label("The next hole").fill("43"),
        lambda: page.get_by_label("R-08 lies loose with it").check(),
        lambda: page.get_by_label("Borrowed from it, or by it").fill("bucking bar 7, to the right wing"),
        lambda: page.get_by_label("Bare metal, where").fill("the edge at hole 43"),
        lambda: page.get_by_label("I have primed it").check(),
        lambda: page.get_by_role("button", name="Leave it open").click(),
    )
    for tap in taps:
        tap()
    heading = page.get_by_role("heading", level=1)
    expect(heading).to_have_text(
        "Mechanic left this on Wednesday 8 April, today, at hole 43 of 84.", timeout=PATIENCE_MS
    )
    assert JobLeft.objects.count() == 1

    wing.aircraft.today = FIVE_WEEKS_LATER
    wing.aircraft.save()
    page.context.clear_cookies()
    sign_in(wing.lead)
    expect(page.get_by_text("One job stands open in the shop.")).to_be_visible()
    page.goto("/open/")
    page.get_by_role("link", name="Rivet on, left wing").click()
    expect(heading).to_have_text("Mechanic left this on Wednesday 8 April, 5 weeks ago, at hole 43 of 84.")
    told = page.locator("main")
    for said in (
        "Go on at hole 44.",  # 43 stays open until somebody answers
        "Open, waits: drilled out oversize to 3.4.",
        "It measures 3.4 mm",
        "The next rivet up is VN12-4.0",
        "The bare metal at the edge at hole 43 was primed on Wednesday 8 April by Mechanic.",
        "bucking bar 7, to the right wing.",
        "bucking bar 7: borrowed, to the right wing. Not here.",
        "1 job open in the shop",
    ):
        expect(told).to_contain_text(said)
    expect(told.get_by_role("link", name="R-08").first).to_be_visible()
    expect(told.get_by_role("img", name="The bench as Mechanic left it")).to_be_visible()
    assert not Axe().run(page).response["violations"]
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.get_by_role("button", name="Go on at hole 44.").click()
    expect(heading).to_have_text("Rivet on, left wing.")
    expect(told).to_contain_text("Lead took it up again on 13 May.")


def test_bare_metal_keeps_him_until_it_is_primed_or_he_says_why(
    wing: Shop, page: Page, sign_in: Callable[[Person], None], quiet: list[str]
) -> None:
    page.set_default_timeout(PATIENCE_MS)
    sign_in(wing.mechanic)
    page.goto("/job/seam:C2%20left:fill/#leave")
    page.get_by_label("Bare metal, where").fill("the flange")
    page.get_by_role("button", name="Leave it open").click()
    expect(page.get_by_text("Bare metal at the flange is primed before you walk away.")).to_be_visible()
    quiet.clear()  # a refusal is an answer with a fault's number
    assert not JobLeft.objects.exists()
    expect(page.get_by_label("Bare metal, where")).to_have_value("the flange")  # as it was typed
    page.get_by_label("Or it stays bare because").fill("the primer has run out")
    page.get_by_role("button", name="Leave it open").click()
    expect(page.get_by_text("Metal is bare at the flange since Wednesday 8 April").first).to_be_visible()
    page.goto("/")
    expect(page.get_by_text("Bare metal.")).to_be_visible()
