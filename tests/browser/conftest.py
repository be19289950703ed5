"""A browser at the shop's screens: the system's Chromium, a phone and a desk, a picture of what failed."""

import os
import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Literal

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, ViewportSize, sync_playwright
from pytest_django.live_server_helper import LiveServer

from tests.records.shop import Shop, make_part, make_place, make_shop
from tests.support.rows import make_finding, make_steps
from witnessmark.records.models import Person, Piece

os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"  # the browser's own loop runs in this thread; the database's does not
PHONE: ViewportSize = {"width": 360, "height": 740}
DESK: ViewportSize = {"width": 1280, "height": 900}
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--host-resolver-rules=MAP shop.test 127.0.0.1",  # a name that is not this machine's: plain http as a phone sees it
]
SCREENSHOTS = Path(os.environ.get("WITNESSMARK_SCREENSHOTS") or "screenshots")


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Iterator[None]:
    """Remember how the test went, so that the page fixture can take its picture."""
    outcome: Any = yield
    report = outcome.get_result()
    if report.when == "call":
        item.stash[FAILED] = report.failed


FAILED = pytest.StashKey[bool]()


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """The system's browser; without one these tests say so."""
    program = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if program is None:
        pytest.skip("no Chromium on this machine: `./witnessmark test --install` brings it")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def shop(live_server: LiveServer) -> Shop:
    """A shop with a fitting in its place, its opposite on a shelf, and an open finding."""
    shop = make_shop()
    Person.objects.update(days="Mon-Sun")
    left, right = make_place(shop, "6-51-020", "L"), make_place(shop, "6-51-020", "R")
    fitting = make_part(shop, "0118", left.holder, "L", belongs=left)
    opposite = make_part(shop, "0119", shop.shelf, "R", belongs=right)
    Piece.objects.filter(pk=fitting.pk).update(
        name="Wing root fitting", mass_g=815, material="forged steel", words="0118 wing root fitting left 6-51-020"
    )
    for part in (fitting, opposite):
        part.zones.add(shop.zone)
    make_steps(opposite, ("Strip", "sheet metal"), ("Cadmium plate", "PL"), ("Prime", "sheet metal"))
    make_finding(shop, "F-52", piece=opposite)
    return shop


@pytest.fixture(params=[PHONE, DESK], ids=["phone", "desk"])
def size(request: pytest.FixtureRequest) -> ViewportSize:
    """Each story is told on a phone and at a desk."""
    return request.param  # type: ignore[no-any-return]


@pytest.fixture
def quiet() -> list[str]:
    """What the browser complained of; a story in which the signal is lost empties it, for then complaints are right."""
    return []


@pytest.fixture
def page(
    chromium: Browser, live_server: LiveServer, size: ViewportSize, request: pytest.FixtureRequest, quiet: list[str]
) -> Iterator[Page]:
    """A page that refuses what the content policy refuses, and whose picture is taken when the test fails."""
    # Answers that a test gives in the shop's place do not reach a page whose requests go through its service worker.
    workers: Literal["allow", "block"] = "allow" if request.node.get_closest_marker("service_worker") else "block"
    context = chromium.new_context(
        viewport=size, base_url=live_server.url, has_touch=size is PHONE, locale="en-GB", service_workers=workers
    )
    page = context.new_page()
    page.set_default_timeout(10_000)
    said = quiet
    page.on("console", lambda message: said.append(message.text) if _is_fault(message) else None)
    page.on("pageerror", lambda error: said.append(str(error)))
    yield page
    if request.node.stash.get(FAILED, False):
        SCREENSHOTS.mkdir(parents=True, exist_ok=True)
        page.screenshot(path=SCREENSHOTS / f"{re.sub(r'[^A-Za-z0-9]+', '-', request.node.name)}.png", full_page=True)
    context.close()
    assert not said, f"the browser complained: {said}"


def _is_fault(message: ConsoleMessage) -> bool:
    """A page that is not there is an answer, and the browser speaks of it; a missing picture or style is a fault."""
    return message.type == "error" and message.location["url"].rstrip("/").rsplit("/", 1)[-1] != "nowhere"


@pytest.fixture
def sign_in(page: Page) -> Callable[[Person], None]:
    """Sign somebody in by a link, as the launcher prints it."""
    from witnessmark.records.actions.signing_in import make_link

    def enter(person: Person) -> None:
        page.goto(f"/in/{make_link(person)}/")
        page.get_by_role("button", name=f"Sign in as {person.name}").click()

    return enter
