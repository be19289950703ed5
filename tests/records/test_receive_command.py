"""Rivets that came, by command: kept as the order's screen keeps them; fits and bars are facts of the figures."""

from datetime import date

import pytest

from tests.records.shop import Shop, make_shop
from tests.support.commands import told
from tests.support.pages import client, words
from tests.support.rows import make_order
from tests.web.test_orders import _keel_and_chine
from witnessmark.cli.main import main
from witnessmark.records.lookups.orders import rivet_order
from witnessmark.records.models import Act, FastenerSize, Order

pytestmark = pytest.mark.django_db
SAMPLE = ["rivet", "receive", "--shank", "3.5", "3.49", "3.51", "--head", "6.3", "6.28", "6.32", "--length", "9", "--count", "30"]  # fmt: skip


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    _keel_and_chine(shop)
    return shop


def test_small_heads_came_where_the_keel_wants_large_ones(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    looked = told(capsys, 0, *SAMPLE)
    assert not looked["written"] and not rivet_order(shop.aircraft).boxes
    kept = told(capsys, 0, *SAMPLE, "--write", "--box", "B-7", "--as", "Mechanic")
    assert [(row["row"], row["takes"], row["barred"]) for row in kept["rows"]] == [
        ("CH-1 left", 20, False),
        ("K-1 left", 0, True),
    ]
    assert (kept["to_make"], kept["to_make_heads"], kept["left_over"]) == (20, [[7.4, 20]], 10)
    assert (kept["written"], kept["box"], kept["by"]) == (True, "B-7", "Mechanic") and "short" not in kept["sentence"]
    assert Act.objects.get(verb="measure_box").person == shop.mechanic
    # From then on the order, by command and by screen, asks for the large heads alone and keeps the box from the keel.
    order = told(capsys, 0, "order")
    assert [(line["size"], line["holes"]) for v in order["vendors"] for line in v["lines"]] == [("VN11-3.5", 20)]
    assert order["boxes"][0]["box"] == "B-7"
    assert "Box B-7 is barred from this row" in words(client(shop.mechanic).get("/seam/K-1/L/"))
    again = told(capsys, 0, *SAMPLE)
    assert again["taken"] == 0 and again["to_make"] == 20


def test_its_order_is_here_with_it(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    size = FastenerSize.objects.get(code="VN11-3.5")
    make_order(shop, "O-4", "VN11-3.5 × 9 mm", size=size, count=30, ordered_on=date(2026, 1, 5))
    order = Order.objects.get()
    kept = told(capsys, 0, *SAMPLE, "--write", "--order", order.number)
    assert (kept["box"], kept["order"]) == (order.number, order.number) and "is here." in kept["order_say"]
    assert Order.objects.get().came_on is not None
    more = told(capsys, 0, *SAMPLE, "--write", "--order", order.number, "--box", "B-8")
    assert "here already" in more["order_say"] and len(rivet_order(shop.aircraft).boxes) == 2
    assert main(["rivet", "receive", *SAMPLE[2:], "--write", "--box", "B-9"]) == 0
    out = capsys.readouterr().out
    assert "K-1 left, 20 holes: barred, wants a head of 7.4 mm, not 6.3" in out
    assert "Box B-9 is written down by Lead." in out


@pytest.mark.parametrize(
    ("more", "why"),
    [
        (["--write"], "The box has no name"),
        (["--box", "B-7"], "go with --write"),
        (["--write", "--box", "B-7", "--order", "O-99"], "There is no order O-99"),
        (["--write", "--box", "B-7", "--count", "2"], "does not hold a sample of 3"),
        (["--write", "--box", "B-7", "--head", "6.3"], "same rivets"),
        (["--write", "--box", "B-7", "--head", "3.4", "3.4", "3.4"], "no wider than its shank"),
        (["--write", "--box", "B-7", "--as", "Owner"], "may read this"),
        (["--write", "--box", "B-7", "--as", "Nobody"], "Nobody"),
    ],
)
def test_what_cannot_be_is_refused_and_neither_is_written(
    shop: Shop, capsys: pytest.CaptureFixture[str], more: list[str], why: str
) -> None:
    acts = Act.objects.count()
    line = str(told(capsys, 2, *SAMPLE, *more)["refused"])
    assert why in line and "Nothing was" in line
    assert Act.objects.count() == acts and not rivet_order(shop.aircraft).boxes


def test_a_box_is_measured_once(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    told(capsys, 0, *SAMPLE, "--write", "--box", "B-7")
    assert "measured already" in told(capsys, 2, *SAMPLE, "--write", "--box", "B-7")["refused"]
