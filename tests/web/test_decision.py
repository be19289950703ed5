"""The decision sheet on the screen: five choices, a decision with its figures, and what is refused."""

import re
import uuid

import pytest
from django.test import Client

from tests.records.shop import Shop, make_part, make_shop
from tests.support.pages import client, words
from tests.support.rows import make_finding, make_steps
from witnessmark.records.models import Aircraft, AnswerReliedOn, ChoiceFigure, Decision, Finding, Piece, ShopHourSaid

pytestmark = pytest.mark.django_db
AT = "/decide/0004/"


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def part(shop: Shop) -> Piece:
    part = make_part(shop, "0004", shop.shelf)
    Piece.objects.filter(pk=part.pk).update(material="AZ31B-H24 sheet", mass_g=2000)
    make_steps(part, ("Strip", "sheet metal"))
    make_finding(shop, "F-1", piece=part)
    return part


def act(**said: str) -> dict[str, str]:
    return {"act_id": str(uuid.uuid4()), **said}


def shown(browser: Client) -> str:
    found = re.search(r'name="sheet" value="([0-9a-f]{64})"', browser.get(AT).content.decode())
    assert found
    return found[1]


def decision(browser: Client, **said: str) -> dict[str, str]:
    return act(do="decide", sheet=shown(browser), **said)


def test_five_choices_stand_side_by_side_and_unknown_is_said(shop: Shop, part: Piece) -> None:
    page = client(shop.lead).get(AT)
    text = page.content.decode()
    for choice in ("Reuse", "Repair", "Remake", "Substitute", "Scrap"):
        assert f'<th role="columnheader">{choice}</th>' in text
        assert f'data-l="{choice}"' in text
    assert "Unknown: nobody reckoned it" in words(page)
    assert text.count('class="now"') == 1
    assert 'href="/decide/0004/"' in client(shop.lead).get("/piece/0004/").content.decode()


def test_he_decides_and_the_figures_are_kept_with_it(shop: Shop, part: Piece) -> None:
    lead = client(shop.lead)
    assert lead.post(AT, decision(lead, kind="repair", reason="blend")).status_code == 302
    assert AnswerReliedOn.objects.get().act == Decision.objects.get().act
    assert Finding.objects.get().state == "decided"
    text = words(lead.get(AT))
    assert "decided, repair." in text
    assert "The figures he had before him" in text
    lead.post(AT, decision(lead, kind="remake", reason="too thin"))
    text = words(lead.get(AT))
    assert "Remake, Lead" in text
    assert "Repair, Lead" in text


def test_a_sheet_that_has_changed_is_looked_at_again(shop: Shop, part: Piece) -> None:
    lead = client(shop.lead)
    old = decision(lead, kind="repair", reason="blend")
    lead.post(AT, act(do="reckon", kind="remake", hours="14"))
    page = lead.post(AT, old)
    assert page.status_code == 422
    assert "A figure has changed since you saw the sheet" in words(page)
    assert ">blend</textarea>" in page.content.decode()
    assert not Decision.objects.exists()


def test_sent_twice_is_once(shop: Shop, part: Piece) -> None:
    lead = client(shop.lead)
    once = decision(lead, kind="repair", reason="blend")
    for _ in range(2):
        assert lead.post(AT, once).status_code == 302
    assert Decision.objects.count() == 1


def test_scrap_is_asked_twice_and_keeps_what_was_typed(shop: Shop, part: Piece) -> None:
    lead = client(shop.lead)
    page = lead.post(AT, decision(lead, kind="scrap", reason="cracked through"))
    assert page.status_code == 422
    assert "Scrap this original?" in words(page)
    assert "kept as the pattern until the aircraft is handed over" in words(page)
    assert ">cracked through</textarea>" in page.content.decode()
    assert not Decision.objects.exists()
    lead.post(AT, decision(lead, kind="scrap", reason="cracked through", scrap_twice="yes"))
    assert Decision.objects.get().kind == "scrap"
    assert "1 original is kept as patterns" in words(lead.get("/patterns/"))


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"kind": "repair"}, "A decision has a reason"),
        ({"kind": "weld", "reason": "x"}, "is no decision"),
        ({"reason": "x"}, "is no decision"),
        ({"kind": "scrap"}, "A decision has a reason"),
    ],
)
def test_a_bad_decision_changes_nothing(shop: Shop, part: Piece, said: dict[str, str], why: str) -> None:
    lead = client(shop.lead)
    page = lead.post(AT, decision(lead, **said))
    assert page.status_code == 422
    assert why in words(page)
    assert not Decision.objects.exists()


def test_what_was_typed_of_a_choice_stands_when_it_is_refused(shop: Shop, part: Piece) -> None:
    lead = client(shop.lead)
    page = lead.post(AT, act(do="reckon", kind="substitute", material="unobtainium", thickness_mm="0.8"))
    assert page.status_code == 422
    assert "No figures are held" in words(page)
    assert 'value="unobtainium"' in page.content.decode()
    assert not ChoiceFigure.objects.exists()
    typed = act(
        do="reckon", kind="substitute", material="2024-T3", thickness_mm="0.8", old_thickness_mm="1.0", touches="steel"
    )
    assert lead.post(AT, typed).status_code == 302
    text = words(lead.get(AT))
    assert "Equal in" in text
    assert "0.80 mm stands in the sheet." in text
    assert "Al 2024-T4 corrodes where it touches Steel 1010" in text


def test_only_the_lead_decides_and_the_owner_writes_nothing(shop: Shop, part: Piece) -> None:
    mechanic, owner = client(shop.mechanic), client(shop.owner)
    assert "The lead mechanic decides." in words(mechanic.get(AT))
    assert mechanic.post(AT, act(do="decide", kind="repair", reason="x")).status_code == 403
    assert mechanic.post(AT, act(do="reckon", kind="remake", hours="3")).status_code == 302
    assert owner.post(AT, act(do="reckon", kind="remake", hours="3")).status_code == 403
    assert owner.post("/patterns/", act(day="2026-05-12")).status_code == 403
    assert Client().get(AT).status_code == 302
    assert Client().get("/patterns/").status_code == 302
    assert client(shop.lead).get("/decide/9999/").status_code == 404


def test_the_hand_over_is_said_on_the_page_of_patterns(shop: Shop, part: Piece) -> None:
    lead = client(shop.lead)
    assert "none was decided to give way" in words(lead.get("/patterns/"))
    assert lead.post("/patterns/", act()).status_code == 422
    assert lead.post("/patterns/", act(day="soon")).status_code == 422
    day = shop.aircraft.arrived_on
    assert day
    assert lead.post("/patterns/", act(day=day.isoformat())).status_code == 302
    assert Aircraft.objects.get().handed_over_on == day


def test_a_form_without_words_is_refused(shop: Shop, part: Piece) -> None:
    assert client(shop.lead).post(AT, act()).status_code == 422


def test_the_lead_says_on_the_sheet_what_an_hour_costs(shop: Shop, part: Piece) -> None:
    lead = client(shop.lead)
    assert "Nobody has said what an hour of the shop costs" in words(lead.get(AT))
    lead.post(AT, act(do="reckon", kind="remake", hours="40", money="300 EUR"))
    assert lead.post(AT, act(do="hour", hour="62 EUR", since="2026-01-01")).status_code == 302
    page = words(lead.get(AT))
    assert "2,780.00 EUR" in page
    assert "62.00 EUR, from 1 January 2026 on" in page
    for bad in (
        {"hour": "free", "since": "2026-01-01"},
        {"hour": "-3 EUR", "since": "2026-01-01"},
        {"hour": "62 EUR", "since": ""},
    ):
        refused = lead.post(AT, act(do="hour", **bad))
        assert refused.status_code == 422
        assert f'value="{bad["hour"]}"' in refused.content.decode()
    assert client(shop.mechanic).post(AT, act(do="hour", hour="1 EUR", since="2026-01-01")).status_code == 403
    assert "What an hour of the shop costs</summary>" not in client(shop.mechanic).get(AT).content.decode()
    assert ShopHourSaid.objects.count() == 1
