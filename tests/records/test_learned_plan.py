"""What deliveries teach moves the plan and the forecast, and makes what was stored before stale."""

from datetime import date, timedelta

import pytest

from tests.records.shop import Shop, make_part, make_shop
from tests.support.rows import make_order, make_steps, told
from witnessmark.cli import plan as plan_command
from witnessmark.records.actions.forecast import foresee
from witnessmark.records.lookups.day import today
from witnessmark.records.lookups.forecast import known_forecast
from witnessmark.records.lookups.plan import make_plan
from witnessmark.records.models import Order, Person, Shipment

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    Person.objects.update(days="Mon-Fri")
    make_steps(make_part(shop, "0007", shop.shelf), ("Strip", "sheet metal"), ("Cadmium plate", "PL"))
    return shop


def came(shop: Shop, number: int, took_days: int, promised_days: int = 15) -> None:
    """A shipment that went a year ago and came back so many working days later."""
    went = today(shop.aircraft) - timedelta(days=365)
    went -= timedelta(days=went.weekday())  # a Monday

    def after(days: int) -> date:
        return went + timedelta(days=days // 5 * 7 + days % 5)

    days = {"sent_on": went, "promised_on": after(promised_days), "back_on": after(took_days)}
    said = {"number": f"S-{number}", "vendor": shop.vendor, "process": "plate", **days}
    told(shop, lambda act: Shipment.objects.create(act=act, **said))


def test_late_deliveries_move_the_plan_and_the_forecast(shop: Shop) -> None:
    foresee(shop.aircraft)
    before = make_plan(shop.aircraft)
    known = known_forecast(shop.aircraft, before)
    assert known is not None and known.fresh
    for number in range(7):
        came(shop, number, 52 + number)
    after = make_plan(shop.aircraft)
    late = (after.schedule.finish_date - before.schedule.finish_date).days
    assert late > 25  # from 19 working days to over 40
    stale = known_forecast(shop.aircraft, after)
    assert stale is not None and not stale.fresh
    foresee(shop.aircraft)
    again = known_forecast(shop.aircraft, make_plan(shop.aircraft))
    assert again is not None and again.fresh
    assert (again.outlook.end.half - known.outlook.end.half).days > 25


def test_the_plan_says_what_he_says_and_what_he_does(shop: Shop) -> None:
    for number in range(7):
        came(shop, number, 52 + number)
    said = plan_command.to_dict(make_plan(shop.aircraft))["vendors"]
    assert [(each["says_likely_days"], each["deliveries"], each["half_of_them_took_days"]) for each in said] == [
        (15, 7, 55)
    ]
    assert "Plater says 15 working days; of 7 deliveries half took 55 or more." in said[0]["sentence"]
    assert 40 < said[0]["counted_on_days"] < 55


def test_one_promise_is_not_believed_against_seven_deliveries(shop: Shop) -> None:
    """An order that left today, promised in three weeks, by a vendor whose deliveries took eleven."""
    for number in range(7):
        came(shop, number, 55)
    now = today(shop.aircraft)
    make_order(shop, "O-1", "Pins", count=4, ordered_on=now, promised_on=now + timedelta(days=21))
    job = make_plan(shop.aircraft).network.by_key["order:O-1:arrive"]
    assert 35 < job.days.likely < 55
    Order.objects.update(promised_on=now + timedelta(days=7 * 30))  # what he himself names later is believed
    assert make_plan(shop.aircraft).network.by_key["order:O-1:arrive"].days.likely == pytest.approx(150, abs=3)
