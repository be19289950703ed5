"""What deliveries teach moves the plan and the forecast, and makes what was stored before stale."""

import uuid
from dataclasses import replace
from datetime import date, timedelta

import pytest

from tests.records.shop import Shop, make_part, make_shop
from tests.support.rows import make_order, make_steps, told
from witnessmark.calc.plan.what_if import Change
from witnessmark.cli import plan as plan_command
from witnessmark.records.actions.custody import send_out
from witnessmark.records.actions.forecast import foresee
from witnessmark.records.lookups.day import today
from witnessmark.records.lookups.forecast import known_forecast, what_if
from witnessmark.records.lookups.plan import make_plan
from witnessmark.records.lookups.promises import chances_in_ten
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


def test_what_was_ordered_with_a_shipment_comes_with_it_and_teaches_once(shop: Shop) -> None:
    now = today(shop.aircraft)
    sent, promised = now - timedelta(days=7), now + timedelta(days=21)
    part = make_part(shop, "0008", shop.shelf)
    send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="plate", pieces=[part], number="S-1",
        sent_on=sent, promised_on=promised,
    )  # fmt: skip
    make_order(shop, "O-1", "Plating of 0008", count=1, ordered_on=sent, promised_on=promised)
    make_order(shop, "O-2", "Pins", count=1, ordered_on=sent, promised_on=promised + timedelta(days=1))
    gathered = make_plan(shop.aircraft).gathered
    waits = {job.key for job in gathered.network.jobs if job.vendor and job.away}
    assert waits == {"shipment:S-1:back", "order:O-2:arrive"}
    assert "shipment:S-1:back" in gathered.keys_of("O-1")
    assert len(gathered.times[shop.vendor.pk].out) == 2


@pytest.mark.parametrize(
    ("chance", "said"),
    [(0.0, "hardly a chance"), (0.44, "four chances in ten"), (0.5, "half the chance"), (1.0, "all but certain")],
)
def test_a_chance_is_said_in_tens(chance: float, said: str) -> None:
    assert chances_in_ten(chance) == said
    with pytest.raises(ValueError, match="between 0 and 1"):
        chances_in_ten(-0.1)


def test_what_if_compares_both_plans_in_the_same_futures(shop: Shop) -> None:
    """Four weeks more at the vendor, added to all he has: both chances move by four weeks, or less where another road is longer."""
    told = what_if(make_plan(shop.aircraft), Change("vendor_late", "Plater", 20))
    assert told.ends is not None
    now, then = told.ends
    assert 26 <= (then.half - now.half).days <= 30 and 26 <= (then.four_in_five - now.four_in_five).days <= 30
    assert now.half < now.four_in_five


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


@pytest.mark.parametrize("said", ["PL", "pl", "Plat", "plater"])
def test_a_vendor_is_known_by_code_or_beginning(shop: Shop, said: str) -> None:
    assert what_if(make_plan(shop.aircraft), Change("vendor_late", said, 20)).change.which == "Plater"


def test_two_vendors_that_fit_are_named(shop: Shop) -> None:
    plan = make_plan(shop.aircraft)
    job = next(job for job in plan.network.jobs if job.vendor == "Plater")
    other = replace(job, key="other", vendor="Platform")
    both = replace(plan, network=replace(plan.network, jobs=(*plan.network.jobs, other)))
    with pytest.raises(ValueError, match="Pla could be Plater or Platform: say which"):
        what_if(both, Change("vendor_late", "Pla", 20))
