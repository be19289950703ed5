"""Pictures taken without a signal wait on the phone, survive, and go once when the shop can be reached again.

What a browser gives on plain http and in a secure context: W3C Secure Contexts, section 3.1 (localhost counts as secure).
"""

import hashlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, Route, expect

from tests.records.shop import Shop
from tests.records.test_racks import picture
from witnessmark.records.models import Act, Person, PictureIn

pytestmark = pytest.mark.django_db(transaction=True)
WAITING = "() => document.body.dataset.waiting === '0'"


@pytest.fixture(autouse=True)
def _own_data(tmp_path: Path, settings: Any) -> None:
    settings.DATA = tmp_path / "data"


@pytest.fixture
def shots(tmp_path: Path) -> list[Path]:
    """Pictures that differ, each with a tag of its own."""
    made = []
    for number in range(5):
        shot = tmp_path / f"IMG_{number}.png"
        shot.write_bytes(picture([f"W-{number:03d}"]))
        made.append(shot)
    return made


def choose(page: Page, shots: list[Path]) -> None:
    page.get_by_label("Choose pictures taken before").set_input_files(shots)


def the_shop_named(page: Page, pictures: int) -> None:
    """Wait until the shop has named so many back on this page: that none waits is also true before the first is kept."""
    page.wait_for_function(
        "n => document.getElementById('take').dataset.kept === String(n)", arg=pictures, timeout=90_000
    )


def on_record() -> list[str]:
    return sorted(PictureIn.objects.values_list("photo_id", flat=True))


def sums(shots: list[Path]) -> list[str]:
    return sorted(hashlib.sha256(shot.read_bytes()).hexdigest() for shot in shots)


@pytest.fixture
def no_signal(page: Page) -> Iterator[Callable[[bool], None]]:
    """The shop cannot be reached: every request fails as it does in a hangar."""

    def without(lost: bool) -> None:
        page.context.set_offline(lost)

    yield without
    page.context.set_offline(False)


@pytest.mark.service_worker
def test_they_wait_on_the_phone_and_go_once(
    shop: Shop,
    page: Page,
    sign_in: Callable[[Person], None],
    shots: list[Path],
    no_signal: Callable[[bool], None],
    quiet: list[str],
) -> None:
    sign_in(shop.mechanic)
    page.goto("/in/")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    no_signal(True)
    choose(page, shots[:3])
    expect(page.get_by_role("link", name="3 pictures wait for a signal.")).to_be_visible()
    page.goto("/in/")
    expect(page.get_by_role("heading", level=1)).to_have_text("Pictures wait here for a signal.")
    expect(page.get_by_role("link", name="3 pictures wait for a signal.")).to_be_visible()
    choose(page, shots[3:])
    expect(page.get_by_role("link", name="5 pictures wait for a signal.")).to_be_visible()
    expect(page.locator("#waiting li")).to_have_count(5)
    assert not Axe().run(page).response["violations"]
    page.goto("/piece/0118/")
    expect(page.get_by_text("/piece/0118/ is not kept on this phone.")).to_be_visible()
    assert "Wing root fitting" not in page.content()
    assert on_record() == []

    no_signal(False)
    page.wait_for_function(WAITING)
    expect(page.get_by_text("Nothing waits on this phone.")).to_be_visible()
    assert on_record() == sums(shots)
    assert Act.objects.filter(verb="take_picture").count() == 5
    page.goto("/piece/W-003/")
    expect(page.get_by_role("heading", level=1)).to_be_visible()
    expect(page.locator("#on-this-phone")).to_be_hidden()
    quiet.clear()


def test_an_answer_that_got_lost_makes_no_second_picture(
    shop: Shop, page: Page, sign_in: Callable[[Person], None], shots: list[Path], quiet: list[str]
) -> None:
    sign_in(shop.mechanic)
    page.goto("/in/")
    lost: list[int] = []

    def swallow(route: Route) -> None:
        if route.request.method == "POST" and len(lost) < 2:
            route.fetch()  # the shop has it, the phone never hears
            lost.append(1)
            route.abort()
        else:
            route.continue_()

    page.route("**/in/", swallow)
    choose(page, shots[:2])
    the_shop_named(page, 2)
    assert len(lost) == 2
    assert on_record() == sums(shots[:2])
    quiet.clear()


@pytest.mark.parametrize("answer", ["portal", "another", "broken"])
def test_only_an_answer_that_names_the_picture_takes_it_off_the_phone(
    shop: Shop, page: Page, sign_in: Callable[[Person], None], shots: list[Path], answer: str, quiet: list[str]
) -> None:
    sign_in(shop.mechanic)
    page.goto("/in/")
    answers = {
        "portal": {"status": 200, "body": "<html>Welcome to the airfield's network", "content_type": "text/html"},
        "another": {"status": 200, "body": '{"act_id": "x", "kept": [{"line": ""}], "refused": []}'},
        "broken": {"status": 502, "body": "gateway"},
    }
    said: list[str] = []

    def instead(route: Route) -> None:
        if route.request.method == "POST" and not said:
            said.append(answer)
            route.fulfill(**answers[answer])  # type: ignore[arg-type]
        else:
            route.continue_()

    page.route("**/in/", instead)
    choose(page, shots[:1])
    the_shop_named(page, 1)
    assert said == [answer]
    assert on_record() == sums(shots[:1])
    quiet.clear()


def test_what_is_refused_stays_on_the_phone_with_the_reason(
    shop: Shop,
    page: Page,
    sign_in: Callable[[Person], None],
    shots: list[Path],
    tmp_path: Path,
    quiet: list[str],
) -> None:
    sign_in(shop.mechanic)
    page.goto("/in/")
    letter = tmp_path / "letter.jpg"
    letter.write_bytes(b"%PDF-1.7 a letter by a picture's name")
    choose(page, [letter, shots[0]])
    the_shop_named(page, 1)
    expect(page.get_by_role("link", name="1 needs you.", exact=True)).to_be_visible()
    assert on_record() == sums(shots[:1])  # one that is refused holds up no other
    page.goto("/waiting/")
    row = page.locator("#waiting li")
    expect(row).to_contain_text("letter.jpg is no picture that can be read")
    with page.expect_download() as download:
        row.get_by_role("link", name="Save it to this phone").click()
    assert download.value.path().read_bytes() == letter.read_bytes()
    row.get_by_role("button", name="Send it again").click()
    expect(row).to_contain_text("no picture that can be read")
    row.get_by_role("button", name="Throw it away").click()
    row.get_by_role("button", name="Press once more").click()
    expect(page.get_by_text("Nothing waits on this phone.")).to_be_visible()
    quiet.clear()


def test_two_pages_send_each_once(
    shop: Shop,
    page: Page,
    sign_in: Callable[[Person], None],
    shots: list[Path],
    no_signal: Callable[[bool], None],
    quiet: list[str],
) -> None:
    sign_in(shop.mechanic)
    page.goto("/in/")
    other = page.context.new_page()
    other.goto("/in/")
    no_signal(True)
    choose(page, shots[:3])
    choose(other, shots[3:])
    expect(page.get_by_role("link", name="5 pictures wait for a signal.")).to_be_visible()
    posts: list[str] = []
    page.context.on("request", lambda request: posts.append(request.url) if request.method == "POST" else None)
    no_signal(False)
    page.wait_for_function(WAITING, timeout=90_000)
    other.wait_for_function(WAITING)
    assert on_record() == sums(shots)
    assert len(posts) == 5
    quiet.clear()


def test_on_plain_http_they_wait_too_and_the_page_says_what_does_not_work(
    shop: Shop,
    page: Page,
    sign_in: Callable[[Person], None],
    shots: list[Path],
    no_signal: Callable[[bool], None],
    settings: Any,
    live_server: Any,
    quiet: list[str],
) -> None:
    from witnessmark.records.actions.signing_in import make_link

    settings.ALLOWED_HOSTS = ["*"]
    base = f"http://shop.test:{urlsplit(live_server.url).port}"
    page.goto(f"{base}/in/{make_link(shop.mechanic)}/")
    page.get_by_role("button", name="Sign in as Mechanic").click()
    page.goto(f"{base}/in/")
    assert page.evaluate("[isSecureContext, typeof crypto.randomUUID, typeof navigator.locks]") == [
        False,
        "undefined",
        "undefined",
    ]
    no_signal(True)
    choose(page, shots[:2])
    expect(page.get_by_role("link", name="2 pictures wait for a signal.")).to_be_visible()
    no_signal(False)
    page.wait_for_function(WAITING, timeout=90_000)
    assert on_record() == sums(shots[:2])
    page.goto(f"{base}/waiting/")
    expect(page.get_by_text("came without the shop's certificate")).to_be_visible()
    quiet.clear()


def test_they_go_under_the_name_of_whoever_took_them(
    shop: Shop,
    page: Page,
    sign_in: Callable[[Person], None],
    shots: list[Path],
    no_signal: Callable[[bool], None],
    quiet: list[str],
) -> None:
    sign_in(shop.mechanic)
    page.goto("/in/")
    other = page.context.new_page()
    other.goto("/aircraft/")
    page.route("**/in/", lambda route: route.abort() if route.request.method == "POST" else route.continue_())
    choose(page, shots[:1])
    expect(page.get_by_role("link", name="1 picture waits for a signal.")).to_be_visible()
    other.route("**/in/", lambda route: route.abort() if route.request.method == "POST" else route.continue_())
    other.get_by_role("button", name="Sign out").click()
    page.unroute("**/in/")
    sign_in(shop.lead)
    expect(page.get_by_role("link", name="1 picture waits on this phone for Mechanic to sign in.")).to_be_visible()
    assert on_record() == []
    sign_in(shop.mechanic)
    page.wait_for_function(WAITING, timeout=90_000)
    assert Act.objects.get(verb="take_picture").person == shop.mechanic
    quiet.clear()


def test_a_full_phone_says_that_nothing_was_kept(
    shop: Shop, page: Page, sign_in: Callable[[Person], None], shots: list[Path], quiet: list[str]
) -> None:
    page.add_init_script(
        "IDBObjectStore.prototype.add = () => { throw new DOMException('no room', 'QuotaExceededError'); };"
    )
    sign_in(shop.mechanic)
    page.goto("/in/")
    page.route("**/in/", lambda route: route.abort() if route.request.method == "POST" else route.continue_())
    choose(page, shots[:1])
    expect(page.get_by_text("This phone is full: it was not kept.")).to_be_visible()
    page.unroute("**/in/")
    choose(page, shots[:1])  # with a signal it goes without being kept first
    expect(page.get_by_text("W-000 is new")).to_be_visible()
    assert on_record() == sums(shots[:1])
    quiet.clear()
