"""Orders leave by an act that freezes what they rest on, and are held while rows are not looked at."""

import uuid
from datetime import date

import pytest

from tests.records.shop import Shop, make_shop
from tests.support.rows import make_row, make_size
from witnessmark.records.actions.buying import order_came, order_leaves
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.orders import rivet_order
from witnessmark.records.models import Act, Answer, AnswerReliedOn, FastenerSize, Order, Person

pytestmark = pytest.mark.django_db
DAY = date(2026, 5, 15)


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    make_row(shop, "C2", make_size(shop))
    return shop


def leave(shop: Shop, by: Person | None = None, number: str = "O-1", **said: object) -> dict[str, object]:
    return order_leaves(
        by=by or shop.lead,
        act_id=uuid.uuid4(),
        aircraft=shop.aircraft,
        vendor=shop.vendor,
        number=number,
        ordered_on=DAY,
        **said,  # type: ignore[arg-type]
    )


def test_an_order_leaves_with_its_roll_up_frozen(shop: Shop) -> None:
    assert leave(shop) == {"order": "O-1", "lines": 1, "count": 94}
    order = Order.objects.get(number="O-1")
    assert (order.what, order.count, order.ordered_on) == ("VN12-3.0 × 8 mm", 94, DAY)
    answer = Answer.objects.get()
    assert AnswerReliedOn.objects.get().act.verb == "order_leaves"
    assert answer.result["lines"][0]["holes"] == 84
    assert "holes + spares" in answer.working["lines"][0]["formula"]


def test_what_is_on_its_way_is_not_ordered_again(shop: Shop) -> None:
    leave(shop)
    again = rivet_order(shop.aircraft)
    assert again.count == 0
    assert [way.number for each in again.covered for way in each.on_its_way] == ["O-1"]
    with pytest.raises(Refused, match="No row wants a rivet"):
        leave(shop, number="O-2")


def test_rows_not_looked_at_hold_the_order_until_the_lead_says_why(shop: Shop) -> None:
    make_row(shop, "HB-12", None, looked_at="no")
    with pytest.raises(Refused, match="1 rows are not looked at \\(HB-12"):
        leave(shop)
    assert not Order.objects.exists()
    assert not Act.objects.filter(verb="order_leaves").exists()
    leave(shop, risk_accepted="the run closes on Friday; HB-12 is bought later")
    assert Order.objects.get().note.startswith("the run closes")


def test_only_the_lead_lets_an_order_leave(shop: Shop) -> None:
    with pytest.raises(NotAllowed):
        leave(shop, by=shop.mechanic)


def test_a_number_is_used_once_and_promises_do_not_run_backwards(shop: Shop) -> None:
    leave(shop)
    make_row(shop, "C5", FastenerSize.objects.get(), holes=300, stack=(1.0, 4.5))
    with pytest.raises(Refused, match="in the record already"):
        leave(shop)
    with pytest.raises(Refused, match="cannot come before"):
        leave(shop, number="O-2", promised_on=date(2026, 5, 1))


def test_what_was_ordered_comes_once(shop: Shop) -> None:
    leave(shop)
    came = {"by": shop.mechanic, "number": "O-1", "came_on": date(2026, 8, 19)}
    assert order_came(act_id=uuid.uuid4(), **came) == {"order": "O-1", "lines": 1}  # type: ignore[arg-type]
    with pytest.raises(Refused, match="came already"):
        order_came(act_id=uuid.uuid4(), **came)  # type: ignore[arg-type]
    with pytest.raises(Refused, match="no order"):
        order_came(by=shop.mechanic, act_id=uuid.uuid4(), number="O-9", came_on=DAY)
