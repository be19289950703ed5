"""What goes wrong when a shipment comes back, through the screens: clear words, nothing lost, the ledger balanced."""

import threading
import uuid
from datetime import date

import pytest
from django.db import connection
from django.test import Client

from tests.records.shop import Shop, make_bag, make_shop
from tests.records.test_mixing import received
from tests.records.test_sorting import mixed, read
from tests.support.pages import client, words
from witnessmark.records.actions.custody import send_out
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.models import Holding, Mix, PieceReading, Shipment


def post(browser: Client, address: str, **said: object) -> tuple[int, str, str]:
    page = browser.post(address, {"act_id": str(uuid.uuid4()), **said})
    return page.status_code, words(page), page.content.decode()


def sent(shop: Shop, **counts: int) -> Shipment:
    send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="Count",
        pieces=[make_bag(shop, tag, shop.shelf, count) for tag, count in counts.items()], number="S-1",
        sent_on=date(2026, 5, 1),
    )  # fmt: skip
    return Shipment.objects.get()


@pytest.mark.django_db
def test_a_whole_shipment_is_received_with_one_word(db: None) -> None:
    shop = make_shop()
    sent(shop, A=12, B=48)
    browser = client(shop.mechanic)
    assert "Counted: all 60 are here" in words(browser.get("/outwork/S-1/"))
    assert 'name="to" value="C2"' in browser.get("/outwork/S-1/").content.decode()  # from where it left
    assert post(browser, "/outwork/S-1/", do="all", to="C2")[0] == 302
    assert {h.piece.tag: (h.holder.name, h.count) for h in Holding.objects.filter(count__gt=0)} == {
        "A": ("C2", 12),
        "B": ("C2", 48),
    }
    assert Shipment.objects.get().back_on is not None
    status, said, _ = post(browser, "/outwork/S-1/", do="all", to="C2")
    assert status == 422 and "Nothing was counted." in said
    assert check_ledger().balanced


@pytest.mark.django_db
def test_a_bag_received_twice_says_what_came_before_and_keeps_what_was_typed(db: None) -> None:
    shop = make_shop()
    shipment = sent(shop, A=12)
    (line,) = shipment.lines.all()
    browser, field = client(shop.mechanic), f"back-{line.piece_id}"
    first_form, second_form = browser.get("/outwork/S-1/"), browser.get("/outwork/S-1/")
    assert first_form.status_code == second_form.status_code == 200
    assert post(browser, "/outwork/S-1/", **{field: "9", "to": "C2"})[0] == 302
    status, said, source = post(browser, "/outwork/S-1/", **{field: "9", "to": "box 7"})
    assert status == 422 and "12 left, 9 of them came before, 9 cannot have come back. Nothing was changed." in said
    assert 'value="9"' in source and 'value="box 7"' in source
    assert Holding.objects.get(holder=shop.shelf, count__gt=0).count == 9
    assert check_ledger().balanced


@pytest.mark.django_db
def test_more_than_left_is_refused_at_the_bucket_until_the_strangers_are_named(db: None) -> None:
    shop = make_shop()
    mixed(shop)
    browser = client(shop.mechanic)
    status, said, source = post(browser, "/outwork/S-1/sort/", do="receive", count="9", mass_g="180", to="Q")
    assert status == 422 and "9 came back and 7 are still out: 2 more than can come. Nothing was changed." in said
    assert 'value="9"' in source and 'value="180"' in source and not Mix.objects.exists()
    assert post(browser, "/outwork/S-1/sort/", do="receive", count="9", foreign="2", to="Q")[0] == 302
    assert {h.piece.tag: h.count for h in Holding.objects.filter(holder__name="Q", count__gt=0)} == {
        "M-S-1": 7,
        "X-S-1": 2,
    }
    assert check_ledger().balanced


@pytest.mark.django_db
def test_a_count_that_disagrees_with_the_mass_is_said_and_both_are_kept(db: None) -> None:
    shop = make_shop()
    shipment, a, b = mixed(shop)
    shipment.lines.filter(piece=a).update(mass_out_g=120)
    type(a).objects.filter(pk=a.pk).update(mass_g=120, count_off=4)
    type(b).objects.filter(pk=b.pk).update(mass_g=90, count_off=3)
    browser = client(shop.mechanic)
    assert post(browser, "/outwork/S-1/sort/", do="receive", count="7", mass_g="120", to="Q")[0] == 302
    assert "Count and weigh again" in words(browser.get("/outwork/S-1/sort/"))
    bucket = Mix.objects.get()
    assert (bucket.count_back, bucket.mass_back_g) == (7, 120.0)
    assert check_ledger().balanced


@pytest.mark.django_db
def test_more_numbers_than_pieces_move_nothing(db: None) -> None:
    shop = make_shop()
    shipment, _, _ = mixed(shop)
    received(shop, shipment, 6)
    bucket = Mix.objects.get().piece
    read(shop, bucket, {str(n): {"ten_pitches_mm": "10.0"} for n in range(1, 9)})
    browser = client(shop.mechanic)
    assert "8 numbers have a reading and 6 were counted" in words(browser.get("/outwork/S-1/sort/"))
    items = [str(n) for n in range(1, 9)]
    bags = {f"bag-{n}": "A" for n in items}
    status, said, _ = post(browser, "/outwork/S-1/sort/", do="confirm", item=items, to="Q", **bags)
    assert status == 422 and "A gave 4 that are not home yet, 8 cannot go to it. Nothing was changed." in said
    assert PieceReading.objects.count() == 8
    assert Holding.objects.get(piece=bucket, holder=shop.shelf).count == 6
    assert check_ledger().balanced


@pytest.mark.django_db
def test_a_figure_that_no_bag_has_leaves_the_piece_doubtful_and_moves_nothing(db: None) -> None:
    shop = make_shop()
    shipment, _, _ = mixed(shop)
    received(shop, shipment, 6)
    bucket = Mix.objects.get().piece
    read(shop, bucket, {"1": {"hole_mm": "5.0"}})
    text = words(client(shop.mechanic).get("/outwork/S-1/sort/"))
    assert "1 is doubtful." in text and "5 wait to be measured." in text
    assert Holding.objects.get(piece=bucket, holder=shop.shelf).count == 6
    assert check_ledger().balanced


@pytest.mark.django_db(transaction=True)
def test_two_people_receive_one_shipment_at_once_on_their_phones() -> None:
    """Both sent the form with all twelve: one is received, the other is told what came before."""
    shop = make_shop()
    shipment = sent(shop, A=12)
    (line,) = shipment.lines.all()
    browsers = [client(shop.lead), client(shop.mechanic)]
    gate, ends = threading.Barrier(2), list[tuple[int, str]]()

    def send(browser: Client) -> None:
        try:
            gate.wait()
            status, said, _ = post(browser, "/outwork/S-1/", **{f"back-{line.piece_id}": "12", "to": "C2"})
            ends.append((status, said))
        finally:
            connection.close()

    threads = [threading.Thread(target=send, args=(browser,)) for browser in browsers]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(status for status, _ in ends) == [302, 422]
    assert "12 of them came before" in next(said for status, said in ends if status == 422)
    assert Holding.objects.get(piece=line.piece, count__gt=0).count == 12
    assert check_ledger().balanced
