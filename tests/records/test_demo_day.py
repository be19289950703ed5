"""On a demonstration's own day everything is said on that day, also what belongs to no aircraft."""

import io
import uuid
from contextlib import redirect_stdout
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from tests.records.shop import Shop, make_part, make_shop
from tests.support.pages import client, words
from witnessmark.cli.main import main
from witnessmark.records.actions.blank_tags import print_tags
from witnessmark.records.actions.choices import say_shop_hour
from witnessmark.records.actions.people import let_in
from witnessmark.records.actions.plan_by_hand import say_continuous
from witnessmark.records.actions.who_has_what import name_vendor
from witnessmark.records.lookups.choices import decision_sheet, shop_hour_now
from witnessmark.records.lookups.day import now, today
from witnessmark.records.models import Act, Aircraft, Piece, ShopHourSaid

pytestmark = pytest.mark.django_db

ITS_DAY = date(2026, 5, 12)


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    Aircraft.objects.update(today=ITS_DAY)
    shop.aircraft.refresh_from_db()
    return shop


def said_on(verb: str) -> date:
    return timezone.localtime(Act.objects.filter(verb=verb).latest("recorded_at").happened_at).date()


def test_what_belongs_to_no_aircraft_is_said_on_its_day_too(shop: Shop) -> None:
    print_tags(by=shop.lead, act_id=uuid.uuid4(), count=3, medium="sheet")
    let_in(by=shop.lead, act_id=uuid.uuid4(), name="Vilja", role="mechanic")
    say_continuous(by=shop.lead, act_id=uuid.uuid4(), who=shop.mechanic, continuous=True)
    name_vendor(by=shop.lead, act_id=uuid.uuid4(), name="Friend")
    verbs = ("print_tags", "let_in", "say_continuous", "name_vendor")
    assert {verb: said_on(verb) for verb in verbs} == dict.fromkeys(verbs, ITS_DAY)
    assert today(None) == ITS_DAY and now(None).date() == ITS_DAY


def test_in_a_shops_own_record_the_day_is_today() -> None:
    assert today(None) == timezone.localdate()  # nothing on record
    shop = make_shop()
    assert today(None) == today(shop.aircraft) == timezone.localdate()
    assert abs(now(None) - timezone.now()) < timedelta(minutes=1)


def test_the_shops_hour_that_holds_is_the_one_of_its_day(shop: Shop) -> None:
    for amount, since in (("62 EUR", ITS_DAY), ("70 EUR", ITS_DAY + timedelta(days=1))):
        say_shop_hour(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, typed=amount, since=since)
    for aircraft in (shop.aircraft, None):  # a piece of which nobody knows whose it is, too
        found = shop_hour_now(aircraft)
        assert found is not None and found.amount == Decimal(62)


def test_the_command_says_the_hour_from_its_day_on(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("witnessmark.cli.main.open_record", lambda *_: None)
    out = io.StringIO()
    with redirect_stdout(out):
        assert main(["shop-hour", "62 EUR"]) == 0
    assert "62.00 EUR from 2026-05-12 on" in out.getvalue()
    assert ShopHourSaid.objects.get().since == ITS_DAY and said_on("say_shop_hour") == ITS_DAY


@pytest.mark.parametrize("known", [True, False], ids=["of the aircraft", "nobody knows whose"])
def test_the_decision_sheet_offers_its_day(shop: Shop, known: bool) -> None:
    piece = make_part(shop, "T1", shop.shelf)
    if not known:
        Piece.objects.filter(pk=piece.pk).update(aircraft=None)
        piece.refresh_from_db()
    page = client(shop.lead).get("/decide/T1/")
    assert page.status_code == 200
    assert '<input id="since" type="date" name="since" required value="2026-05-12">' in page.content.decode()
    say_shop_hour(by=shop.lead, act_id=uuid.uuid4(), aircraft=piece.aircraft, typed="62 EUR", since=ITS_DAY)
    assert "from 12 May 2026 on" in words(client(shop.lead).get("/decide/T1/"))
    assert decision_sheet(piece).piece == piece
