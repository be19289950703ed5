"""What has to leave by when: the risk that is chosen, what goes together, what speed wins and costs; by screen and command."""

import argparse
import json
import uuid
from datetime import date, time
from decimal import Decimal
from itertools import pairwise

import pytest

from tests.records.shop import Shop, make_part, make_shop
from tests.support.pages import client, words
from tests.support.rows import make_steps
from witnessmark.cli import order_or_send as command
from witnessmark.records.actions.forecast import foresee
from witnessmark.records.actions.leaving import say_price
from witnessmark.records.actions.plan_by_hand import say_speed_price
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.actions.trips import plan_trip
from witnessmark.records.lookups.plan import make_plan
from witnessmark.records.lookups.sending import OrderOrSend, order_or_send
from witnessmark.records.models import Person, SpeedAsked, Vendor

pytestmark = pytest.mark.django_db
TUESDAY = date(2026, 5, 12)


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    shop.aircraft.today = TUESDAY
    shop.aircraft.save()
    Person.objects.update(hours_per_day=8)
    Vendor.objects.update(min_order="8 kg")
    for tag in ("0001", "0002", "0003"):
        part = make_part(shop, tag, shop.shelf)
        part.zones.add(shop.zone)
        part.mass_g = 1500 if tag == "0001" else 0
        part.save()
        make_steps(part, ("Cadmium plate", "PL"), ("Prime", "sheet metal"))
    return shop


def found(shop: Shop, risk: float = 0.2) -> OrderOrSend:
    return order_or_send(make_plan(shop.aircraft), shop.aircraft, risk)


def test_without_a_forecast_the_plans_own_days_are_given_and_it_is_said(shop: Shop) -> None:
    told = found(shop)
    assert told.fresh is None and len(told.leaving) == 3 and not told.bought
    assert "There is no forecast yet." in words(client(shop.mechanic).get("/order-or-send/"))


def test_a_smaller_risk_gives_no_later_day_and_none_before_today(shop: Shop) -> None:
    foresee(shop.aircraft)
    days = [{one.key: one.by for one in found(shop, risk).leaving} for risk in (0.5, 0.2, 0.1, 0.05)]
    for looser, stricter in pairwise(days):
        assert looser.keys() == stricter.keys()
        assert all(stricter[key] <= looser[key] for key in looser)
    assert all(day >= TUESDAY for day in days[-1].values())
    assert found(shop).fresh is True


def test_three_pieces_for_one_vendor_go_in_one_run_and_why_is_said(shop: Shop) -> None:
    say_price(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="", currency="EUR", said_on=TUESDAY,
        least_charge=Decimal(60),
    )  # fmt: skip
    foresee(shop.aircraft)
    (run,) = found(shop).together
    assert len(run.what) == 3 and run.run.ready <= run.run.by
    assert "60 EUR at least for each delivery: it may count once instead of 3 times." in run.sentence
    assert "no less than 8 kg; what is weighed of this comes to 1.5 kg, 2 not weighed." in run.sentence
    plan_trip(
        by=shop.lead, act_id=uuid.uuid4(), number="T-9", day=run.run.by, driver=shop.mechanic, leaves_at=time(7),
        vendors=[shop.vendor],
    )  # fmt: skip
    assert f"Trip T-9 stops there on {run.run.by:%A}" in found(shop).together[0].sentence


def test_speed_is_tried_at_the_least_and_at_what_is_offered_and_its_price_is_set_beside_the_days(shop: Shop) -> None:
    foresee(shop.aircraft)
    free = {won.speed.key: won for won in found(shop).bought}
    assert all(won.cost is None and not won.speed.asked for won in free.values())
    assert free[""].speed.things == 3 and free[""].speed.half_days > 0
    price = {"vendor": shop.vendor, "days": 4, "price": Decimal(50), "currency": "eur"}
    say_speed_price(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, **price)  # type: ignore[arg-type]
    assert found(shop).fresh is False  # the offer belongs to what the futures were made from
    foresee(shop.aircraft)
    (every,) = [won for won in found(shop).bought if not won.speed.key]
    assert every.speed.asked and every.speed.days == 4 and every.cost == 150 and every.currency == "EUR"
    assert every.speed.half_days >= free[""].speed.half_days
    assert every.days_for_100 == pytest.approx(every.speed.half_days / 1.5)


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"days": 0}, "0 working days"),
        ({"price": Decimal(-1)}, "no such price"),
        ({"currency": "money"}, "three letters"),
    ],
)
def test_an_offer_that_cannot_be_is_refused(shop: Shop, more: dict[str, object], why: str) -> None:
    usual: dict[str, object] = {"vendor": shop.vendor, "days": 4, "price": Decimal(50), "currency": "EUR", **more}
    with pytest.raises(Refused, match=why):
        say_speed_price(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, **usual)  # type: ignore[arg-type]
    with pytest.raises(NotAllowed):
        usual |= {"days": 4, "price": Decimal(5), "currency": "EUR"}
        say_speed_price(by=shop.owner, act_id=uuid.uuid4(), aircraft=shop.aircraft, **usual)  # type: ignore[arg-type]
    assert not SpeedAsked.objects.exists()


def test_the_screen_takes_a_risk_and_an_offer(shop: Shop) -> None:
    foresee(shop.aircraft)
    me = client(shop.mechanic)
    assert "but for one in twenty of the futures" in words(me.get("/order-or-send/?risk=0.05"))
    assert "but for one in five of the futures" in words(me.get("/order-or-send/?risk=nonsense"))
    form = {"act_id": str(uuid.uuid4()), "vendor": shop.vendor.pk, "days": "4,5", "price": "12.50", "currency": "EUR"}
    assert me.post("/order-or-send/", form).status_code == 302
    assert SpeedAsked.objects.get().days == 4.5
    for wrong in ({"days": "soon"}, {"price": "nan"}, {"vendor": "0"}):
        assert me.post("/order-or-send/", {**form, "act_id": str(uuid.uuid4()), **wrong}).status_code == 422
    assert client(shop.owner).post("/order-or-send/", {**form, "act_id": str(uuid.uuid4())}).status_code == 403
    assert SpeedAsked.objects.count() == 1


def test_the_command_says_the_same(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    foresee(shop.aircraft)
    asked = argparse.Namespace(json=True, risk=0.2, speed=["PL", "4", "50", "EUR"], acting="")
    assert command.run(asked) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["fresh"] is False and len(told["leaving"]) == 3 and len(told["together"]) == 1
    assert command.run(argparse.Namespace(json=False, risk=0.2, speed=None, acting="")) == 0
    assert "Together to Plater" in capsys.readouterr().out
