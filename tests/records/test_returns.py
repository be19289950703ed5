"""What a vendor lost and mixed in before is learned from the record, shipment by shipment, and used on his next bucket."""

import uuid
from datetime import date

import pytest

from tests.records.shop import Shop, make_bag, make_shop
from tests.records.test_mixing import items, received, sent, told
from tests.support.pages import client, words
from witnessmark.records.actions.custody import receive_back
from witnessmark.records.actions.mixing import Told
from witnessmark.records.lookups.mixing import sorting
from witnessmark.records.lookups.returns import vendor_shares
from witnessmark.records.models import Piece, Shipment

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def back(shop: Shop, shipment: Shipment, counts: dict[int, int]) -> None:
    receive_back(
        by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, counts=counts, to=shop.shelf, back_on=date(2026, 5, 12)
    )


def test_losses_and_strangers_of_earlier_returns_enter_the_next_match(shop: Shop) -> None:
    assert vendor_shares(shop.vendor).lost.of == 0
    whole = make_bag(shop, "W", shop.shelf, 100)
    back(shop, sent(shop, whole, number="S-0"), {whole.pk: 100})
    assert (vendor_shares(shop.vendor).lost.of, vendor_shares(shop.vendor).lost.share) == (100, pytest.approx(1 / 200))
    a, b = make_bag(shop, "A", shop.shelf, 46), make_bag(shop, "B", shop.shelf, 24)
    first = sent(shop, a, b)
    received(shop, first, 70, foreign=2)  # 68 of ours, two strangers
    before = vendor_shares(shop.vendor)
    assert before.lost.of == 100  # a bucket that is not told apart teaches nothing yet
    told(shop, first, *items(a, 0, 45), *items(b, 100, 123), Told("x", None), Told("y", None))
    seen = vendor_shares(shop.vendor)
    assert (seen.lost.happened, seen.lost.of, seen.foreign.happened) == (2, 170, 2)
    assert seen.lost.share == pytest.approx((1 + 2) / (100 + 170))
    assert vendor_shares(shop.vendor, first).lost.of == 100  # what is being judged does not judge itself
    c, d = make_bag(shop, "C", shop.shelf, 4), make_bag(shop, "D", shop.shelf, 3)
    next_one = sent(shop, c, d, number="S-2")
    received(shop, next_one, 7)
    match = sorting(next_one)
    assert match is not None and match.match is not None
    said = str(match.match.working.to_dict())
    assert "0.0111" in said and "his earlier returns" in said
    text = words(client(shop.lead).get("/outwork/S-2/sort/"))
    assert (
        "Of 170 pieces he had before, 2 were lost, and 2 were not ours: 1.1 % lost and 1.1 % not ours are taken" in text
    )


def test_what_only_waits_at_the_vendor_is_not_lost(shop: Shop) -> None:
    bag = make_bag(shop, "A", shop.shelf, 10)
    back(shop, sent(shop, bag), {bag.pk: 9})
    assert vendor_shares(shop.vendor).lost.of == 0
    assert Piece.objects.get(tag="A").count_off == 10
