"""A bucket of mixed bags in the lists: what is taken, what is refused, and that loading again changes nothing."""

from pathlib import Path

import pytest

from tests.records.small_lists import write_lists
from witnessmark.exchange.load import load
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.lookups.mixing import bucket_at_vendor, sorting
from witnessmark.records.lookups.outwork import outwork
from witnessmark.records.lookups.pieces import piece_seen
from witnessmark.records.models import Holding, Mix, Piece, Quarantine, Shipment

pytestmark = pytest.mark.django_db

BAGS = (
    "tag,what,count,fastener,mass_g,zone,goes_to,where,state,note\n"
    "B-001,keel bolts,8,B-8,400,100,2-01 L:4; 2-01 R:4,PL,counted,\nB-002,loose screws,6,S-5/32,30,100,,PL,counted,\n"
)
SHIPMENTS = (
    "shipment,vendor,process,sent_on,promised_on,back_on,tags,note\n"
    "SH-1,PL,zinc plate,2026-05-01,2026-05-20,,0005,\nSH-2,PL,zinc plate,2026-04-20,2026-05-08,2026-05-08,B-001; B-002,\n"
)
PAPERS = "shipment,kind,why,number,came_on\nSH-2,bake,hours,,\n"
HEAD = "shipment,tags,count_back,mass_back,coat_um,where\n"
READINGS = "tag,item,place,what,value,uncertainty\nB-001,1,,length_mm,30,\nM-SH-2,1,,length_mm,30.1,\n"


def loaded(folder: Path, row: str, **more: str) -> list[str]:
    lists = {"bags": BAGS, "shipments": SHIPMENTS, "certificates": PAPERS, "buckets": HEAD + row, **more}
    return [line.words for line in load(write_lists(folder, **lists)).lines]


def test_a_bucket_that_is_back_waits_to_be_sorted_and_loads_once(tmp_path: Path) -> None:
    row = "SH-2,,13,425 g,9,shelf Q\n"
    assert loaded(tmp_path / "a", row, readings=READINGS) == []
    bucket = Mix.objects.get()
    assert (bucket.count_back, bucket.mass_back_g, bucket.coat_um) == (13, 425.0, 9.0)
    held = Holding.objects.filter(piece=bucket.piece, count__gt=0)
    assert {h.holder.name: h.count for h in held} == {"shelf Q": 13, "Plater Lane": 1}
    assert Quarantine.objects.get().piece == bucket.piece
    shipment = Shipment.objects.get(number="SH-2")
    seen = sorting(shipment)
    assert seen is not None and seen.match is not None and seen.match.balance.count_out == 14
    assert {p.piece for p in seen.match.pieces} == {"1"}
    assert check_ledger().balanced
    (out,) = outwork(shipment.sent_on).mixed  # type: ignore[arg-type]
    assert (out.count_back, out.in_bucket, out.short_unknown, out.short) == (13, 13, 1, ())
    bag = piece_seen(Piece.objects.get(tag="B-001"))
    assert "8 lie mixed with others in bucket M-SH-2" in bag.sentence and "shelf Q" in bag.sentence
    again = load(tmp_path / "a")
    assert again.counts["same"] == sum(again.counts.values()) and again.lines == []
    assert "13 in the record" in loaded(tmp_path / "a", row.replace("13", "12"), readings=READINGS)[0]


def test_a_bucket_may_lie_at_the_vendor_still(tmp_path: Path) -> None:
    open_ones = SHIPMENTS.replace("2026-05-08,2026-05-08", "2026-05-08,")
    assert loaded(tmp_path / "a", "SH-2,B-001; B-002,,,,\n", shipments=open_ones) == []
    there = bucket_at_vendor(Shipment.objects.get(number="SH-2"))
    assert (there.mixed, there.single) == (14, ())


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ("SH-9,,13,,,shelf Q\n", "There is no shipment SH-9"),
        ("SH-2,0005,1,,,shelf Q\n", "0005 is no bag that went with SH-2"),
        ("SH-2,,13,,,\n", "count_back and where belong together"),
        ("SH-2,,15,,,shelf Q\n", "count_back is 15 and 14 went into the bucket"),
        ("SH-2,,many,,,shelf Q\n", "count_back is 'many', not a number"),
        ("SH-2,,13,heavy,,shelf Q\n", "mass_g"),
        ("SH-2,,13,,-1,shelf Q\n", "coat_um is -1"),
    ],
)
def test_a_bucket_that_cannot_be_is_refused_and_the_rest_kept(tmp_path: Path, row: str, why: str) -> None:
    (line,) = loaded(tmp_path / "a", row)
    assert "buckets.csv, row 2" in line and why in line and "the others were kept" in line
    assert not Mix.objects.exists() and check_ledger().balanced


def test_a_bag_that_lies_on_a_shelf_is_in_no_bucket(tmp_path: Path) -> None:
    (line,) = loaded(tmp_path / "a", "SH-2,,13,,,shelf Q\n", bags=BAGS.replace("2-01 R:4,PL", "2-01 R:4,box 3"))
    assert "B-001 is not at PL" in line
