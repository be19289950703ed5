"""What the demo's start says is what its bench page says: one plan, one forecast, one lookup, also after the worker was by."""

import pytest

from tests.records.shop import Shop
from tests.records.test_sending import shop as to_send
from tests.support.pages import client
from tests.support.pages import words as read
from witnessmark.cli.demo_summary import summarise, words
from witnessmark.records.lookups.bench import bench_today
from witnessmark.records.work import do_one, enqueue

pytestmark = pytest.mark.django_db
__all__ = ["to_send"]


def test_the_console_and_the_bench_page_name_the_same_days(to_send: Shop) -> None:
    shop = to_send
    told = summarise(shop.aircraft)
    assert told["order_or_send"]
    assert any(
        line
        == f"  by {told['order_or_send'][0]['leave_by']:%a %d %b}: {told['order_or_send'][0]['what']} {told['order_or_send'][0]['to']}".rstrip()
        for line in words(told)
    )
    enqueue("foresee", str(shop.aircraft.pk), {"aircraft": shop.aircraft.pk})
    while do_one():
        pass
    bench = bench_today(shop.aircraft)
    assert told["sentence"] == bench.sentence
    assert told["order_or_send"] == [{"leave_by": e.leave_by, "what": e.what, "to": e.to} for e in bench.to_send]
    page = read(client(shop.mechanic).get("/"))
    assert bench.sentence in page
    assert summarise(shop.aircraft) == told
