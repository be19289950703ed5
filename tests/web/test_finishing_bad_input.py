"""What is wrong or missing at finishing, each by the screen: named, nothing written, what to do said."""

import uuid
from datetime import datetime, timedelta

import pytest
from django.utils import timezone

from tests.records.shop import Shop, make_part, make_shop
from tests.records.test_certificate_times import back as bring_back
from tests.records.test_certificate_times import held, out
from tests.support.pages import client, words
from tests.support.rows import make_steps
from witnessmark.records.actions.condition import finish_step
from witnessmark.records.lookups.routes import ended_at
from witnessmark.records.models import Act, Certificate, CertificateTimes, Piece, ShrinkSeat, Step

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def painted(shop: Shop, first: str = "prime with epoxy primer") -> Piece:
    part = make_part(shop, "T1", shop.shelf)
    Piece.objects.filter(pk=part.pk).update(material="clad dural")
    make_steps(part, (first, "painter"), ("topcoat", "painter"))
    return part


def said(**more: str) -> dict[str, str]:
    return {"act_id": str(uuid.uuid4()), **more}


def at(hours_ago: float) -> str:
    return (timezone.localtime() - timedelta(hours=hours_ago)).strftime("%Y-%m-%dT%H:%M")


def test_a_coat_before_its_window_is_refused_on_the_pieces_page(shop: Shop) -> None:
    """USAF finish manual 5.6.2e (read): topcoat on epoxy primer from five hours."""
    part, browser = painted(shop), client(shop.mechanic)
    then = timezone.now() - timedelta(hours=3)
    finish_step(by=shop.mechanic, act_id=uuid.uuid4(), step=Step.objects.get(piece=part, number=1), happened_at=then)
    before = Act.objects.count()
    page = browser.post("/piece/T1/", said(do="step", number="2"))
    assert page.status_code == 422 and "3 h after the primer; 5 h is the least" in words(page)
    assert "Nothing was changed" in words(page) and Act.objects.count() == before


def test_a_coat_over_a_primer_without_a_time_asks_for_the_time(shop: Shop) -> None:
    part, browser = painted(shop), client(shop.mechanic)
    loaded = Act.objects.filter(verb="load_lists").first()
    Step.objects.filter(piece=part, number=1).update(done_act=loaded)
    before = Act.objects.count()
    page = browser.post("/piece/T1/", said(do="step", number="2"))
    assert page.status_code == 422 and "'topcoat' waits for a time" in words(page)
    assert "nobody wrote down when that was" in words(page) and Act.objects.count() == before
    assert "Nobody wrote down when prime with epoxy primer ended." in words(browser.get("/piece/T1/route/"))
    for wrong, why in (("soon", "is no day and time"), (at(-5), "is still to come")):
        page = browser.post("/piece/T1/route/", said(do="when", number="1", ended=wrong))
        assert page.status_code == 422 and why in words(page)
    assert browser.post("/piece/T1/route/", said(do="when", number="2", ended=at(6))).status_code == 422
    assert browser.post("/piece/T1/route/", said(do="when", number="9", ended=at(6))).status_code == 422
    assert client(shop.owner).post("/piece/T1/route/", said(do="when", number="1", ended=at(6))).status_code == 403
    assert Act.objects.count() == before
    assert browser.post("/piece/T1/route/", said(do="when", number="1", ended=at(6))).status_code == 302
    again = browser.post("/piece/T1/route/", said(do="when", number="1", ended=at(7)))
    assert again.status_code == 422 and "written down already" in words(again)
    first = Step.objects.select_related("done_act").get(piece=part, number=1)
    assert isinstance(ended_at(first), datetime) and first.done_act == loaded
    assert browser.post("/piece/T1/", said(do="step", number="2")).status_code == 302
    assert Step.objects.get(piece=part, number=2).done_act is not None


def test_a_time_that_was_said_is_held_to_the_window(shop: Shop) -> None:
    part, browser = painted(shop), client(shop.mechanic)
    Step.objects.filter(piece=part, number=1).update(done_act=Act.objects.filter(verb="load_lists").first())
    browser.post("/piece/T1/route/", said(do="when", number="1", ended=at(2)))
    page = browser.post("/piece/T1/", said(do="step", number="2"))
    assert page.status_code == 422 and "5 h is the least" in words(page)


def test_other_steps_ask_for_no_time(shop: Shop) -> None:
    part = make_part(shop, "T1", shop.shelf)
    make_steps(part, ("clean", "sheet metal"), ("measure", "sheet metal"))
    Step.objects.filter(piece=part, number=1).update(done_act=Act.objects.filter(verb="load_lists").first())
    assert client(shop.mechanic).post("/piece/T1/", said(do="step", number="2")).status_code == 302


@pytest.mark.parametrize("outer", ["Mg casting", "AZ91C casting"])
def test_an_alloy_or_a_temper_that_nobody_knows_gets_no_heat(shop: Shop, outer: str) -> None:
    """AZ91C is aged at 400 F in T6 and 450 F in T7 (T.O. 1-1A-9, read): without its temper there is no cap."""
    part, browser = make_part(shop, "T1", shop.shelf), client(shop.mechanic)
    Piece.objects.filter(pk=part.pk).update(material="steel", strength_mpa=600)
    sizes = {"inner": "steel", "seat": "250 mm", "outside": "290 mm", "length": "60 mm", "bore": "235 mm"}
    browser.post("/piece/T1/shrink/", said(do="seat", outer=outer, **sizes))
    browser.post("/piece/T1/shrink/", said(do="diameter", diameter="250.30 mm"))
    page = words(browser.get("/piece/T1/shrink/"))
    assert (
        "The heat is refused" in page
        and f"What {outer} may see is not known" in page
        and "until the engineer names the cap" in page
    )
    assert "No seconds can be said" in page
    wrong = browser.post("/piece/T1/shrink/", said(do="seat", outer="wonder metal", **sizes))
    assert wrong.status_code == 422 and "No figures are held for 'wonder metal'" in words(wrong)
    assert ShrinkSeat.objects.count() == 1


def test_a_strength_that_nobody_recorded_releases_no_bath_on_any_screen(shop: Shop) -> None:
    part, browser = make_part(shop, "T1", shop.shelf), client(shop.mechanic)
    Piece.objects.filter(pk=part.pk).update(material="4340 steel", strength_mpa=None)
    make_steps(part, ("hard chrome", "PL"), ("bake", "PL"))
    assert "No plating is released" in words(browser.get("/piece/T1/route/propose/?finish=hard+chrome"))
    assert "no bath until a hardness check is done" in words(browser.get("/piece/T1/route/"))
    refused = browser.post("/piece/T1/route/step/1/", said(spec="MIL-STD-1501F"))
    assert refused.status_code == 422 and "hardness check" in words(refused)


def test_a_bake_without_its_times_is_kept_in_quarantine_and_asked(shop: Shop) -> None:
    """A certificate that is silent is a fault (MIL-STD-1501F 5.2.6 asks four hours, read); a later bake mends nothing."""
    shipment, part = out(shop)
    bring_back(shop, shipment, part)
    browser = client(shop.mechanic)
    for paper in Certificate.objects.order_by("-kind"):
        form = said(do="came", certificate=str(paper.pk), number="7", came_on="2026-05-08", spec="MIL-STD-1501F")
        assert browser.post("/certificates/", form).status_code == 302
    assert CertificateTimes.objects.get().hours is None and len(held()) == 1
    page = words(browser.get("/certificates/"))
    assert (
        "does not say when it left the bath and entered the oven" in page
        and "A later bake does not put it right" in page
    )
    wrong = said(do="came", certificate="0", number="7", out_of_bath="nine")
    assert browser.post("/certificates/", wrong).status_code == 422
