"""What the record says of mixed bags: look-alikes before they leave, whose is which after; promises and deliveries.

Sizes are those of M8x1 and 5/16-24: nominal 8 mm and 5/16 in, pitches of 1 mm and 1/24 in (arithmetic).
"""

import json
import uuid
from datetime import date
from pathlib import Path

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.records.shop import Shop, make_bag, make_place, make_shop
from tests.records.test_mixing import received, sent, told
from witnessmark.calc.plan.working_days import days_after
from witnessmark.cli import confusion as confusion_command
from witnessmark.cli import match as match_command
from witnessmark.exchange.readings import BadReadings, read_readings
from witnessmark.records.actions.mixing import Told
from witnessmark.records.actions.readings import read_pieces
from witnessmark.records.lookups.mixing import Sorting, shipment_apart, sorting
from witnessmark.records.lookups.promises import promises
from witnessmark.records.lookups.vendor_times import vendor_times
from witnessmark.records.models import Act, Belongs, FastenerSize, Mix, Piece, Shipment

PITCH_INCH = 25.4 / 24


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop()


def size(code: str, nominal_mm: float, pitch_mm: float | None) -> FastenerSize:
    return FastenerSize.objects.create(
        code=code, kind="hexagon bolt", nominal_mm=nominal_mm, nominal_typed=code, pitch_mm=pitch_mm
    )


def of_size(shop: Shop, tag: str, count: int, of: FastenerSize | None) -> Piece:
    bag = make_bag(shop, tag, shop.shelf, count)
    bag.size = of
    bag.save()
    return bag


def mixed(shop: Shop) -> tuple[Shipment, Piece, Piece]:
    a = of_size(shop, "A", 4, size("M8x1", 8.0, 1.0))
    b = of_size(shop, "B", 3, size("5/16-24", 7.9375, PITCH_INCH))
    return sent(shop, a, b), a, b


def read(shop: Shop, of: Piece, figures: dict[str, dict[str, str]]) -> None:
    read_pieces(by=shop.lead, act_id=uuid.uuid4(), piece=of, readings=figures)


def seen(shipment: Shipment) -> Sorting:
    found = sorting(shipment)
    assert found is not None
    return found


def test_two_bags_of_one_size_are_named_before_they_leave_and_two_baskets_help(shop: Shop) -> None:
    one = size("M4", 4.0, 0.7)
    shop.vendor.baskets = 2
    shop.vendor.save()
    shipment = sent(shop, of_size(shop, "L-003", 12, one), of_size(shop, "L-005", 48, one))
    found = shipment_apart(shipment)
    assert found is not None and found.alike[0].same_size
    assert "nobody knows which came from where" in found.alike[0].sentence
    assert found.remedy.sentence == "Put L-005 into a basket of its own."


def test_bags_that_were_never_measured_and_have_no_size_share_nothing(shop: Shop) -> None:
    shipment = sent(shop, of_size(shop, "A", 2, None), of_size(shop, "B", 2, None))
    found = shipment_apart(shipment)
    assert found is not None and found.seen.pairs[0].not_measured
    assert shipment_apart(sent(shop, of_size(shop, "C", 2, None), number="S-2")) is None


def test_ten_pitches_tell_the_pair_apart_and_the_diameter_does_not(shop: Shop) -> None:
    shipment, a, b = mixed(shop)
    received(shop, shipment, 7)
    bucket = Mix.objects.get().piece
    read(shop, bucket, {str(n): {"diameter_mm": "7.92"} for n in range(1, 8)})
    match = seen(shipment).match
    assert match is not None and match.doubtful and match.next is not None and match.next.feature == "ten_pitches_mm"
    read(shop, bucket, {str(n): {"ten_pitches_mm": "10.0" if n <= 4 else "10.6"} for n in range(1, 8)})
    match = seen(shipment).match
    assert match is not None
    assert {p.piece: p.bag for p in match.told} == {str(n): "A" if n <= 4 else "B" for n in range(1, 8)}
    told(shop, shipment, *[Told(str(n), a) for n in range(1, 5)])
    after = seen(shipment)
    assert after.match is not None and {p.bag for p in after.match.pieces} == {"B"} and len(after.told) == 4
    told(shop, shipment, *[Told(str(n), b) for n in range(5, 8)])
    assert seen(shipment).match is None and Shipment.objects.get().back_on is not None


def test_a_bag_of_two_sizes_by_its_places_is_two_groups_and_the_short_one_has_a_size(shop: Shop) -> None:
    bag = make_bag(shop, "L-014", shop.shelf, 5)
    act, small, big = Act.objects.first(), size("1/4-28", 6.35, 25.4 / 28), size("M8x1", 8.0, 1.0)
    for n in range(5):
        place = make_place(shop, f"6-41-10{n}")
        place.wants_size = big if n < 3 else small
        place.save()
        Belongs.objects.create(piece=bag, place=place, act=act)
    shipment = sent(shop, bag, of_size(shop, "L-020", 2, big))
    received(shop, shipment, 6)
    read(
        shop,
        Mix.objects.get().piece,
        {str(n): {"diameter_mm": "7.95"} for n in range(5)} | {"9": {"diameter_mm": "6.30"}},
    )
    match = seen(shipment).match
    assert match is not None
    assert [(s.group, s.count) for s in match.short] == [("L-014 1/4-28", 1)]


def test_a_bolt_measured_in_its_hole_goes_back_to_that_hole(shop: Shop) -> None:
    bag, places = make_bag(shop, "L-1", shop.shelf, 3), [make_place(shop, f"P{n}") for n in range(3)]
    act = Act.objects.first()
    Belongs.objects.bulk_create([Belongs(piece=bag, place=p, act=act) for p in places])
    lengths = ("40.0", "52.0", "61.0")
    read_pieces(
        by=shop.lead,
        act_id=uuid.uuid4(),
        piece=bag,
        readings={str(n): {"length_mm": lengths[n]} for n in range(3)},
        places={str(n): places[n] for n in range(3)},
    )
    shipment = sent(shop, bag)
    received(shop, shipment, 2)
    read(shop, Mix.objects.get().piece, {"x": {"length_mm": "61.02"}, "y": {"length_mm": "40.01"}})
    match = seen(shipment).match
    assert match is not None
    assert {p.piece: p.place for p in match.pieces} == {"x": str(places[2]), "y": str(places[0])}
    assert [s.place for s in match.short] == [str(places[1])]


def test_readings_come_from_csv_wide_or_long_and_from_json() -> None:
    wide = read_readings(b"item;diameter_mm;ten_pitches_mm\n1;7,98;10,0\n2;5/16;\n", "w.csv")
    long = read_readings(b"item,what,value,uncertainty\n1,diameter_mm,7.98,0.05\n", "l.csv")
    told = read_readings(
        json.dumps(
            {"pieces": [{"id": 3, "readings": {"diameter_mm": {"value": 7.9, "sigma": 0.2}, "area": 4}}]}
        ).encode(),
        "m.json",
    )
    assert wide[0].readings["diameter_mm"].value == 7.98 and wide[1].readings["diameter_mm"].value == 7.9375
    assert long[0].readings["diameter_mm"].sigma == 0.05
    assert told[0].key == "3" and told[0].readings["diameter_mm"].sigma == 0.2 and len(told[0].readings) == 1


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b"a,b\n1,2\n", "It needs item and features"),
        (b"item,diameter_mm\n,7\n", "row 2 has no item"),
        (b"item,diameter_mm\n1,seven\n", "row 2, diameter_mm"),
        (b"item,diameter_mm\n1,7\n1,8\n", "twice"),
        (b"item,diameter_mm,diameter_mm_u\n1,7,-1\n", "above nought"),
        (b"\xff\xfe\x00", "is no text"),
        (b"[{]", "is no JSON"),
        (b'{"pieces": 4}', "no list of pieces"),
        (b'[{"id": 1}]', "has no readings"),
        (b'[{"id": 1, "readings": {"diameter_mm": "x"}}]', "is no number"),
    ],
)
def test_a_bad_file_of_readings_is_refused_in_words(content: bytes, words: str) -> None:
    with pytest.raises(BadReadings, match=words):
        read_readings(content, "file")


def test_the_commands_say_what_the_screens_say(shop: Shop, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    import argparse

    shipment, _, _ = mixed(shop)
    args = argparse.Namespace(
        json=True, shipment="S-1", baskets=2, readings=None, say=None, take_back=None, why="", by=""
    )
    assert confusion_command.run(args) == 0
    told_before = json.loads(capsys.readouterr().out)
    assert told_before["bags"] == 2 and told_before["pairs"][0]["any_wrong"] > 0.01
    args.shipment = "S-9"
    assert confusion_command.run(args) == 1 and match_command.run(args) == 1
    capsys.readouterr()
    args.shipment = "S-1"
    assert match_command.run(args) == 1
    assert "lies mixed here" in json.loads(capsys.readouterr().out)["refused"]
    received(shop, shipment, 7)
    args.readings = tmp_path / "r.csv"
    args.readings.write_text("item,ten_pitches_mm\n1,10.0\n2,10.6\n")
    assert match_command.run(args) == 0
    told_after = json.loads(capsys.readouterr().out)
    assert [p["bag"] for p in told_after["pieces"]] == ["A", "B"] and told_after["not_measured"] == 5
    args.json = False
    assert match_command.run(args) == 0 and confusion_command.run(args) == 0


def test_promised_expected_and_come_of_every_shipment(shop: Shop) -> None:
    shipment, _, _ = mixed(shop)
    shipment.promised_on = date(2026, 5, 8)
    shipment.save()
    now = date(2026, 5, 20)
    times = vendor_times(now)
    (row,) = promises(now, times)
    assert row.late_days == 8 and row.came_on is None
    assert row.half_by is not None and row.four_in_five_by is not None and now < row.half_by <= row.four_in_five_by
    before = times[shop.vendor.pk].time.half
    for n in range(4):
        Shipment.objects.create(
            number=f"T-{n}",
            vendor=shop.vendor,
            process="plate",
            sent_on=date(2026, 1, 5),
            promised_on=date(2026, 1, 20),
            back_on=date(2026, 3, 30),
            act=Act.objects.first(),  # type: ignore[misc]
        )
    after = vendor_times(now)[shop.vendor.pk]
    assert after.time.half > before and after.delivered == (60,) * 4 and (after.kept, after.promised) == (0, 5)
    assert days_after(date(2026, 5, 8), 1) == date(2026, 5, 11)


def test_the_number_of_queries_does_not_grow(shop: Shop) -> None:
    def queries(shipment: Shipment) -> int:
        with CaptureQueriesContext(connection) as asked:
            shipment_apart(shipment)
            sorting(shipment)
            promises(date(2026, 5, 20), vendor_times(date(2026, 5, 20)))
        return len(asked)

    few, _, _ = mixed(shop)
    received(shop, few, 7)
    counted = queries(few)
    one = FastenerSize.objects.get(code="M8x1")
    many = sent(shop, *[of_size(shop, f"X{n}", 3, one) for n in range(8)], number="S-2")
    received(shop, many, 24)
    assert queries(many) == counted
