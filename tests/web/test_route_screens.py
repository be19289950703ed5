"""A route's reasons, its proposal, the drum on the shrink page, the process table, plating worked out; each refusal."""

import io
import re
import uuid

import pytest
from pypdf import PdfReader

from tests.records.shop import Shop, make_part, make_shop
from tests.support.pages import client, words
from tests.support.rows import make_steps
from witnessmark.papers import job_cards
from witnessmark.records.models import Piece, PieceReading, RouteReason, ShrinkSeat, Step

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def steel(shop: Shop, tag: str = "T1", mpa: float | None = 1300.0) -> Piece:
    part = make_part(shop, tag, shop.shelf)
    Piece.objects.filter(pk=part.pk).update(material="steel", strength_mpa=mpa)
    return Piece.objects.get(pk=part.pk)


def said(**more: str) -> dict[str, str]:
    return {"act_id": str(uuid.uuid4()), **more}


def test_a_reason_is_signed_on_the_route_and_stands_on_its_job_card(shop: Shop) -> None:
    part = steel(shop, mpa=600)
    make_steps(part, ("magnetic particle test", "sheet metal"), ("put back", "sheet metal"))
    browser = client(shop.mechanic)
    assert "Sign a reason" in words(browser.get("/piece/T1/route/"))
    refused = browser.post("/piece/T1/route/", said(rule="R14", number="1", reason="x"))
    assert refused.status_code == 422 and "few words" in words(refused)
    long = browser.post("/piece/T1/route/", said(rule="R14", number="1", reason="because " * 60))
    assert long.status_code == 422 and "because because" in words(long)
    assert browser.post("/piece/T1/route/", said(rule="R99", number="1", reason="because it must")).status_code == 422
    browser.post("/piece/T1/route/", said(rule="R14", number="1", reason="the report says demagnetised"))
    assert RouteReason.objects.count() == 1
    page = words(browser.get("/piece/T1/route/"))
    assert "Signed reasons" in page and "Mechanic" in page and "the report says demagnetised" in page
    reader = PdfReader(io.BytesIO(job_cards.pdf(job_cards.gather(shop.aircraft, ["T1"]))))
    assert "the report says demagnetised" in " ".join(reader.pages[0].extract_text().split())


def test_a_proposed_route_is_used_with_one_tap_once_its_questions_are_answered(shop: Shop) -> None:
    steel(shop)
    browser, address = client(shop.mechanic), "/piece/T1/route/propose/?finish=cadmium+plate"
    page = browser.get(address)
    assert "No plating is released" in words(page) and "Use this route" not in words(page)
    facts = {f"fact-{name}": "no" for name in ("closed tube", "spring", "case-hardened")}
    assert browser.post(address, said(do="facts", **facts)).status_code == 302
    page = browser.get(address)
    assert "Use this route" in words(page)
    proposed = page.context["proposed"]
    form = {**said(do="use", finish="cadmium plate", thickness=""), "step": [step.name for step in proposed.new]}
    assert browser.post(address, form).status_code == 302
    assert Step.objects.filter(piece__tag="T1").count() == len(proposed.new)
    stale = browser.post(address, {**form, "act_id": str(uuid.uuid4()), "step": ["clean"]})
    assert stale.status_code == 422 and "record has changed" in words(stale)


def test_strength_and_material_that_nobody_wrote_down_release_nothing(shop: Shop) -> None:
    steel(shop, mpa=None)
    browser = client(shop.mechanic)
    page = words(browser.get("/piece/T1/route/propose/?finish=hard+chrome"))
    assert "strength is not recorded" in page and "neither as mild nor as hard" in page and "Hardness check" in page
    Piece.objects.filter(tag="T1").update(material="")
    wrong = browser.get("/piece/T1/route/propose/?finish=prime&thickness=thick")
    assert wrong.status_code == 422 and 'value="thick"' in wrong.content.decode()
    assert browser.get("/piece/T1/route/propose/?finish=gold").status_code == 422
    assert browser.get("/piece/none/route/propose/").status_code == 404


SEAT = {
    "inner": "steel",
    "outer": "AZ63A casting",
    "seat": "250 mm",
    "outside": "290 mm",
    "length": "60 mm",
    "bore": "235 mm",
}


def test_a_drum_back_from_hard_chrome_is_typed_in_and_refused_in_figures(shop: Shop) -> None:
    """0.06 mm of plate on its outside is 0.12 on the diameter; AZ63A may see 300 F (T.O. 1-1A-9 para 4-46, read)."""
    steel(shop, "T1", 600)
    browser = client(shop.mechanic)
    assert browser.post("/piece/T1/shrink/", said(do="seat", **SEAT)).status_code == 302
    browser.post("/piece/T1/shrink/", said(do="diameter", diameter="250.30 mm"))
    assert "°C opens it" in words(browser.get("/piece/T1/shrink/"))
    browser.post("/piece/T1/shrink/", said(do="diameter", diameter="250.42 mm"))
    page = words(browser.get("/piece/T1/shrink/"))
    assert "The heat is refused" in page and "AZ63A casting may see at most 149 °C (300 °F)" in page
    assert "To put it together heat the outer part alone to 92 °C: that is open." in page.split("Instead:")[0]
    assert not re.search(r"\d C\b", page)
    assert "mm off the diameter of the fit" in page and "chill the inner part to -78 °C" in page
    for line in ("never a flame", "index mark", "thermocouple", "rivets are out", "bring a pair of drums to one bore"):
        assert line in page
    assert PieceReading.objects.count() == 2 and ShrinkSeat.objects.count() == 1


def test_a_wheel_of_unknown_alloy_gets_no_allowed_heat_and_a_loose_drum_none(shop: Shop) -> None:
    steel(shop, "T1", 600)
    browser = client(shop.mechanic)
    browser.post("/piece/T1/shrink/", said(do="seat", **{**SEAT, "outer": "Mg casting"}))
    browser.post("/piece/T1/shrink/", said(do="diameter", diameter="250.30 mm"))
    page = words(browser.get("/piece/T1/shrink/"))
    assert "no temperature is allowed until the engineer names the cap" in page
    browser.post("/piece/T1/shrink/", said(do="diameter", diameter="249.9 mm"))
    assert "It is loose" in words(browser.get("/piece/T1/shrink/"))


@pytest.mark.parametrize("wrong", [{"outer": "unobtainium"}, {"seat": "wide"}, {"bore": "260 mm"}])
def test_a_seat_that_cannot_be_is_named_and_what_was_typed_stays(shop: Shop, wrong: dict[str, str]) -> None:
    steel(shop, "T1", 600)
    answer = client(shop.mechanic).post("/piece/T1/shrink/", said(do="seat", **{**SEAT, **wrong}))
    assert answer.status_code == 422 and "Nothing was changed" in words(answer)
    assert f'value="{next(iter(wrong.values()))}"' in answer.content.decode()
    assert not ShrinkSeat.objects.exists()


def test_plating_growth_threads_and_looks_are_on_screens(shop: Shop) -> None:
    """Four times the coat on a 60 degree pitch diameter; 6.5 um at M6x1 g (ISO 4042, ISO 965-1)."""
    browser = client(shop.mechanic)
    page = words(
        browser.get("/work-out/growth/", {"spec": "ASTM B633", "class": "SC1", "pitch": "1 mm", "size": "20 mm"})
    )
    assert "The nut runs with class SC1" in page and "pitch diameter grows 20.0" in page and "6.5 µm" in page
    assert "A shaft of 20 mm: 20.010 mm" in page and "A bore of 20 mm: 19.990 mm" in page
    wrong = browser.get("/work-out/growth/", {"spec": "ASTM B633", "class": "SC9", "pitch": "1 mm"})
    assert wrong.status_code == 422 and 'value="SC9"' in wrong.content.decode()
    page = words(browser.get("/work-out/decorative/", {"load": "yes", "pair": "yes", "slots": "yes"}))
    assert "Ask the engineer before it goes" in page and "one shipment" in page and "10 to 50" in page
    page = words(browser.get("/processes/"))
    assert "38 order rules" in page and "MIL-STD-1501F 5.2.6" in page and "stainless disc" in page.lower()


def test_the_route_says_what_the_oven_may_do_with_the_coats_that_are_on_it(shop: Shop) -> None:
    """MIL-DTL-5541F 6.14 (read): an unpainted conversion coat from 140 F; no figure was read of primer."""
    part = make_part(shop, "T1", shop.shelf)
    Piece.objects.filter(pk=part.pk).update(material="6061-T6", finish="primer, grey")
    make_steps(part, ("strip paint", "sheet metal"), ("conversion coat", "sheet metal"), ("bake", "TH"))
    page = words(client(shop.mechanic).get("/piece/T1/route/"))
    assert "Oven, as it is now: At most 160 °C (320 °F), by 6061-T6" in page
    assert "No cap is held for the primer on it: ask the engineer" in page
    assert "At most 60 °C (140 °F), by the unpainted conversion coat on it" in page
    assert "After which coats" in words(client(shop.mechanic).get("/processes/"))


def test_a_painted_wheel_gets_no_allowed_heat(shop: Shop) -> None:
    steel(shop, "T1", 600)
    browser = client(shop.mechanic)
    browser.post("/piece/T1/shrink/", said(do="seat", **{**SEAT, "outer": "AZ63A casting, painted"}))
    browser.post("/piece/T1/shrink/", said(do="diameter", diameter="250.30 mm"))
    page = words(browser.get("/piece/T1/shrink/"))
    assert "What the paint on it may see is not known" in page and "The heat is refused" in page
