"""No screen bars anyone: the accessibility rules, no sideways scrolling, and targets a glove can hit."""

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.records.shop import Shop
from tests.records.test_picture_sorting import old
from tests.records.test_pictures_in import WAV, come_in
from tests.records.test_tray import find as lay_find
from tests.records.test_twins import pair_of
from tests.support.rows import make_row, make_size
from witnessmark.records.models import Person

pytestmark = pytest.mark.django_db(transaction=True)
ADDRESSES = (
    "/",
    "/open/",
    "/job/seam:C2%20left:fill/",
    "/learned/",
    "/other-work/",
    "/calendar/",
    "/aircraft/",
    "/zone/100/",
    "/piece/0118/",
    "/piece/0119/",
    "/find/?q=fitting",
    "/find/?q=nothing+such",
    "/seams/",
    "/outwork/",
    "/mat/",
    "/mat/boxes/",
    "/orders/",
    "/plan/",
    "/by-hand/seam:C2%20left:fill/?find=row",
    "/write-job/",
    "/order-or-send/",
    "/timeline/",
    "/without-gaps/",
    "/papers/",
    "/pack/",
    "/pack/?vendor=PL&process=Cadmium+plate&asked=1&add=0118&add=0119",
    "/certificates/",
    "/outside/",
    "/hunt/",
    "/hunt/wrong-for-the-type/",
    "/trip/",
    "/survey/",
    "/fastener/",
    "/fastener/?hole_mm=3.3&form=flush",
    "/fastener/families/",
    "/survey/C2/L/",
    "/seam/C2/L/",
    "/findings/",
    "/finding/F-52/?kind=pitting",
    "/see/piece/0119/",
    "/decide/0119/",
    "/patterns/",
    "/rivet/",
    "/rivet/?l_stack=1.0+%2B+2.5&l_d=3.0&l_edge=5.4",
    "/rivet/?d_stack=0.8+%2B+1&d_head=7.4&d_deg=120&d_shank=3.5&s_sheet=0.032+in&s_width=13&s_part=frame&b_stack=9&b_thread=M8"
    "&j_stack=1.2+%2B+2&j_material=clad+dural&j_pitch=20&j_edge=9&j_d=3&j_head_d=6.3&j_head_deg=120&j_alloy=D&j_head=countersunk"
    "&j_sub_d=1/8+in&j_sub_system=inch&j_sub_head=countersunk&j_sub_head_d=5.7&j_sub_head_deg=100&j_sub_alloy=AD",
    # Routes, plating and fits.
    "/piece/0119/route/",
    "/piece/0118/route/propose/?finish=decorative+chrome",
    "/piece/0119/route/step/2/",
    "/piece/0119/shrink/",
    "/processes/",
    "/rack/",
    "/work-out/growth/?spec=ASTM+B633&class=SC1&pitch=1+mm&size=20+mm",
    "/work-out/decorative/?load=yes&pair=yes&slots=yes",
    "/work-out/fit/?inner=steel&outer=AZ63A+casting&diameter=250+mm&outside=290+mm&bore=235+mm&length=60+mm"
    "&interference=0.42+mm&clearance=0.05+mm&service=60+C&both=yes",
    "/in/",
    "/in/said/",
    "/in/said/?of=place",
    "/in/tags/",
    "/in/back/",
    "/in/back/?tag=0119",
    "/tray/",
    "/since/",
    "/since/?for=public",
    "/copy/nowhere/",
    "/waiting/",
    "/pictures/unsorted/",
    "/pictures/unsorted/?month=none",
    "/pictures/twins/",
    "/help/?on=/pictures/unsorted/",
    "/nowhere/",
)
TOO_SMALL = """() => [...document.querySelectorAll('button, .word, summary, input:not([type=hidden]), select')]
  .filter(e => e.offsetParent && (e.getBoundingClientRect().height < 44 && e.type !== 'checkbox'))
  .map(e => e.outerHTML.slice(0, 80))"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_screen(shop: Shop, page: Page, sign_in: Callable[[Person], None], scheme: str) -> None:
    page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    make_row(shop, "C2", make_size(shop), holes=6)
    come_in(shop.lead, ["1001"], sound=WAV)
    come_in(shop.lead, [])
    lay_find(shop, name="bracket")
    old(shop, 1, 1)
    old(shop, 2, None)
    pair_of(shop)
    sign_in(shop.lead)
    axe, found = Axe(), []
    for address in ADDRESSES if scheme == "light" else ADDRESSES[:5]:  # in the dark only the tokens change
        page.goto(address)
        page.locator("details").evaluate_all("folds => folds.forEach(fold => fold.open = true)")
        result = axe.run(page)
        found += [f"{address}: {v['id']} {v['nodes'][0]['html'][:120]}" for v in result.response["violations"]]
        wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        if wide > 0:
            found.append(f"{address}: scrolls sideways by {wide} px")
        found += [f"{address}: too small to hit: {html}" for html in page.evaluate(TOO_SMALL)]
    assert not found, "\n".join(found)


def test_a_stranger_can_read_how_to_come_in(shop: Shop, page: Page) -> None:
    page.goto("/piece/0118/")
    assert "/sign-in/" in page.url
    assert not Axe().run(page).response["violations"]
