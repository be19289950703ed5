"""A rack in one act: one picture, its tags, and the exceptions by name; windows and rules from calc/data/order_rules.csv."""

import uuid
from datetime import timedelta

import pytest
from django.utils import timezone

from tests.records.shop import Shop, make_part, make_shop
from tests.support.rows import make_steps
from witnessmark.records.actions.condition import finish_step
from witnessmark.records.actions.racks import finish_rack
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.routes import route_seen
from witnessmark.records.models import Act, PhotoUse, Piece, Step

pytestmark = pytest.mark.django_db
PRIMED = (("clean", "sheet metal"), ("prime", "painter"), ("topcoat", "painter"))


def picture(tags: list[str], hidden: tuple[str, ...] = ()) -> bytes:
    """Tags on a rack as a camera sees them: their codes in rows, drawn by zxing-cpp; a hidden one is smeared over."""
    import cv2
    import numpy as np
    import zxingcpp

    cell, columns = 240, 6
    rack = np.full((-(-len(tags) // columns) * cell, columns * cell), 255, np.uint8)
    for place, tag in enumerate(tags):
        drawn = zxingcpp.create_barcode(f"WM:{tag}", zxingcpp.BarcodeFormat.QRCode)
        code = np.array(zxingcpp.write_barcode_to_image(drawn, scale=6))
        y, x = place // columns * cell + 20, place % columns * cell + 20
        h, w = code.shape[:2]
        rack[y : y + h, x : x + w] = code
        if tag in hidden:
            rack[y : y + h, x : x + w] = 128
    return bytes(cv2.imencode(".png", rack)[1])


def rack(shop: Shop, tags: list[str], hidden: tuple[str, ...] = (), process: str = "prime", **more: object):
    return finish_rack(
        by=shop.mechanic, act_id=uuid.uuid4(), process=process, picture=picture(tags, hidden), picture_name="rack.png",
        hanging=tags, **more,
    )  # fmt: skip


def hang(shop: Shop, count: int) -> list[str]:
    for n in range(count):
        part = make_part(shop, f"R{n:02}", shop.shelf)
        Piece.objects.filter(pk=part.pk).update(material="clad dural")
        make_steps(part, *PRIMED)
        finish_step(by=shop.mechanic, act_id=uuid.uuid4(), step=Step.objects.get(piece=part, number=1))
    return [f"R{n:02}" for n in range(count)]


def test_thirty_parts_in_one_act_with_their_exceptions_named() -> None:
    shop = make_shop()
    tags = hang(shop, 30)
    for number, hours_ago in ((2, 6), (3, 0)):
        step = Step.objects.get(piece__tag="R07", number=number)
        then = timezone.now() - timedelta(hours=hours_ago)
        finish_step(by=shop.mechanic, act_id=uuid.uuid4(), step=step, happened_at=then)
    acts = Act.objects.count()
    told = rack(shop, tags, hidden=("R03", "R20"))
    assert told["unreadable"] == ["R03", "R20"]
    assert [each["tag"] for each in told["refused"]] == ["R07"] and "topcoat" in told["refused"][0]["why"]
    assert len(told["done"]) == 27
    assert Act.objects.count() == acts + 1
    assert PhotoUse.objects.values("photo").distinct().count() == 1 and PhotoUse.objects.count() == 27
    assert Step.objects.get(piece__tag="R03", number=2).done_act is None
    assert Step.objects.get(piece__tag="R00", number=2).done_act.verb == "finish_rack"


def test_sent_twice_is_done_once() -> None:
    shop = make_shop()
    tags = hang(shop, 2)
    given = {
        "by": shop.mechanic, "act_id": uuid.uuid4(), "process": "prime", "picture": picture(tags), "picture_name": "r.png",
    }  # fmt: skip
    assert finish_rack(**given) == finish_rack(**given)
    assert Act.objects.filter(verb="finish_rack").count() == 1


def test_a_coat_before_its_window_is_refused_with_its_hours() -> None:
    """USAF finish manual 5.6.2e (read): topcoat from five hours."""
    shop = make_shop()
    tags = hang(shop, 1)
    rack(shop, tags)
    with pytest.raises(Refused, match="too early"):
        rack(shop, tags, process="paint")
    assert Step.objects.get(piece__tag="R00", number=3).done_act is None
    (clock,) = route_seen(Piece.objects.get(tag="R00")).clocks
    assert clock.rule == "R21" and clock.state == "too early"


def test_a_coat_within_its_window_goes_on() -> None:
    shop = make_shop()
    tags = hang(shop, 1)
    rack(shop, tags, happened_at=timezone.now() - timedelta(hours=6))
    assert rack(shop, tags, process="paint")["done"] == ["R00"]


def test_what_is_no_rack_is_refused_and_nothing_changes() -> None:
    shop = make_shop()
    hang(shop, 1)
    acts = Act.objects.count()
    with pytest.raises(Refused, match="No tag can be read"):
        rack(shop, ["R00"], hidden=("R00",))
    with pytest.raises(Refused, match="no piece has that tag"):
        rack(shop, ["Z99"])
    with pytest.raises(Refused, match="names no process"):
        rack(shop, ["R00"], process="sing")
    with pytest.raises(NotAllowed):
        finish_rack(by=shop.owner, act_id=uuid.uuid4(), process="prime", picture=b"", picture_name="x")
    assert Act.objects.count() == acts


def test_a_hard_rule_that_the_route_breaks_keeps_the_piece_from_the_rack() -> None:
    """MIL-DTL-45204D 3.2.1 (read): mechanical work before plating."""
    shop = make_shop()
    part = make_part(shop, "B1", shop.shelf)
    Piece.objects.filter(pk=part.pk).update(material="steel", strength_mpa=600)
    make_steps(part, ("prime", "painter"), ("form", "sheet metal"))
    with pytest.raises(Refused, match="R03"):
        rack(shop, ["B1"])
