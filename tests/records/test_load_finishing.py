"""Seats of shrink fits and what is called out, as lists: taken once, every wrong row named and the others kept."""

from pathlib import Path

import pytest

from tests.records.small_lists import write_lists
from witnessmark.exchange.load import load
from witnessmark.records.lookups.instructions import called_for
from witnessmark.records.lookups.shrink import shrink_of
from witnessmark.records.models import CalledOut, Piece, ShrinkSeat

pytestmark = pytest.mark.django_db
SEATS = "tag,inner,outer,seat,outside,length,bore\n"
CALLED = "tag,step,spec,type,class,bake,section,temper\n"
READ = "tag,what,value\n0001,diameter_mm,250.42 mm\n"


def refused(folder: Path, **lists: str) -> list[str]:
    write_lists(folder, **lists)
    return [line.say for line in load(folder).lines if line.state == "refused"]


def test_they_are_taken_once_and_a_changed_row_is_a_newer_word(tmp_path: Path) -> None:
    seats, called = f"{SEATS}0001,,AZ63A casting,250 mm,290 mm,60 mm,235\n", f"{CALLED}0001,2,QQ-P-416F,II,2,,,\n"
    assert refused(tmp_path / "lists", seats=seats, called_out=called, readings=READ) == []
    piece = Piece.objects.get(tag="0001")
    seen = shrink_of(piece)
    assert seen.seat is not None and seen.seat.inner == "steel" and seen.sentence.startswith("The heat is refused ")
    assert called_for([piece.pk])[piece.pk, 2, "Plate"].code == "2"
    load(tmp_path / "lists")
    assert (ShrinkSeat.objects.count(), CalledOut.objects.count()) == (1, 1)
    newer = f"{CALLED}0001,2,QQ-P-416F,II,3,ASTM B850-98(2009),12 mm,\n"
    assert refused(tmp_path / "lists", called_out=newer) == [] and CalledOut.objects.count() == 2


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ("0001,2,QQ-P-416F,II,SC2,,,", "holds no class 'SC2'"),
        ("0001,2,ASTM B633,III,,,,", "never carried over"),
        ("0001,9,QQ-P-416F,,,,,", "has no step 9"),
        ("0001,two,QQ-P-416F,,,,,", "has no step two"),
        ("0001,1,QQ-P-416F,,,,,", "nothing is called out for it"),
        ("0001,2,,,,,,", "Write the specification"),
        ("0001,2,QQ-P-416F,,,habit,,", "Nothing is held of a bake"),
        ("0001,2,QQ-P-416F,,,ASTM B850-98(2009),,200 C", "lose its temper"),
        ("0001,2,QQ-P-416F,,,,thick,", "section"),
        ("0001,2,QQ-P-416F,,,,,hot", "temper"),
        ("9999,2,QQ-P-416F,,,,,", "No piece has the tag"),
    ],
)
def test_a_call_that_cannot_be_is_named(tmp_path: Path, row: str, why: str) -> None:
    good = "0002,2,QQ-P-416F,II,2,,,\n"
    said = refused(tmp_path / "lists", called_out=f"{CALLED}{row}\n{good}")
    assert len(said) == 1 and why in said[0]
    assert CalledOut.objects.get().piece.tag == "0002"


def test_the_bake_of_a_part_whose_strength_nobody_recorded_is_refused(tmp_path: Path) -> None:
    parts = (
        "part_no,name,zone,material,strength_mpa,qty,side,tag,route,step_done,where\n"
        "1-01,Keel bracket,100,steel,,1,LR,0001/0002,fitting,1,shelf A1\n"
    )
    said = refused(tmp_path / "lists", parts=parts, called_out=f"{CALLED}0001,2,MIL-STD-1501F,,,,,\n")
    assert any("strength is not recorded" in line and "hardness check" in line for line in said)


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ("0001,,unobtainium,250,290,60,", "No figures are held for 'unobtainium'"),
        ("0001,,AZ63A,250,240,60,", "seat smaller than the outer part"),
        ("0001,,AZ63A,wide,290,60,", "seat"),
        ("9999,,AZ63A,250,290,60,", "No piece has the tag"),
    ],
)
def test_a_seat_that_cannot_be_is_named(tmp_path: Path, row: str, why: str) -> None:
    said = refused(tmp_path / "lists", seats=f"{SEATS}{row}\n0002,,AZ63A,250,290,60,\n")
    assert len(said) == 1 and why in said[0]
    assert ShrinkSeat.objects.get().piece.tag == "0002"
