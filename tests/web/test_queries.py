"""A screen asks the database as often for 200 pieces as for 20."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.records.shop import Shop, make_part, make_place, make_shop
from tests.support.rows import make_finding, make_steps
from witnessmark.records.models import Piece, Place

pytestmark = pytest.mark.django_db
ADDRESSES = ("/aircraft/", "/zone/100/", "/zone/100/?page=2", "/find/?q=fitting", "/find/?q=6-1", "/piece/T1/")


def grow(shop: Shop, first: int, last: int) -> None:
    for n in range(first, last):
        place = make_place(shop, f"6-1{n:03}")
        part = make_part(shop, f"T{n}", shop.shelf if n % 2 else place.holder, belongs=place)
        part.zones.add(shop.zone)
        make_steps(part, ("Strip", "sheet metal"))
        if n % 5 == 0:
            make_finding(shop, f"F-{n}", piece=part, words="fitting")
        if n % 7 == 0:
            make_part(shop, f"L{n}", shop.box).zones.add(shop.zone)


def test_queries_do_not_grow_with_the_pieces() -> None:
    shop = make_shop()
    client = Client()
    client.force_login(shop.mechanic)

    def queries() -> dict[str, int]:
        counts = {}
        for address in (*ADDRESSES, f"/place/{Place.objects.order_by('pk')[1].pk}/"):
            with CaptureQueriesContext(connection) as seen:
                assert client.get(address).status_code == 200
            counts[address] = len(seen)
        return counts

    grow(shop, 0, 20)
    few = queries()
    grow(shop, 20, 200)
    assert Piece.objects.count() > 200
    assert queries() == few
    assert max(few.values()) <= 40
