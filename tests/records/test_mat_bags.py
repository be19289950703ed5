"""One bag holds one thing: another is asked about, a count of nought is refused, and what was filed is taken out again."""

import uuid
from typing import Any

import pytest
from django.db import DatabaseError, transaction

from tests.records.shop import Shop, make_bag, make_part, make_shop
from tests.records.test_mat import grey
from tests.records.test_mat_boxes import put
from tests.records.test_mat_groups import reading as pins
from tests.support.pages import client, words
from witnessmark.calc.mat.kinds import kinds_called
from witnessmark.records.actions import mat as acts
from witnessmark.records.actions.answers import keep_answer
from witnessmark.records.actions.custody import holder, lay_down
from witnessmark.records.actions.mat_bags import take_back_filing
from witnessmark.records.actions.mat_boxes import IntoBag
from witnessmark.records.actions.mat_groups import regroup
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.lookups.mat_boxes import box_rows
from witnessmark.records.models import Act, Answer, Holding, PhotoUse, Piece, PieceReading, ReadingStruck
from witnessmark.records.photo_store import keep_bytes

pytestmark = pytest.mark.django_db
SHAPES = {
    "ring": ("ring 8.4 x 16.0 mm", {"hole_mm": 8.4, "outer_diameter_mm": 16.0}),
    "hexagon": ("hexagon bolt 8.0 x 30.0 mm", {"shank_diameter_mm": 8.0, "length_mm": 30.0}),
    "countersunk": ("flush head 3.2 x 8.0 mm", {"shank_diameter_mm": 3.2, "length_mm": 8.0}),
}


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def laid(level: int = 170, shift_mm: float = 0.0, boxed: str = "", **counts: int) -> Answer:
    """A reading of so many of each shape: numbers, families, figures, and with `boxed` all of them in one box of that tag."""
    photo = keep_bytes(grey(level), "mat.jpg")
    outline = [[10, 10], [30, 10], [20, 30]]
    pieces, groups, returned = list[dict[str, Any]](), list[dict[str, Any]](), dict[str, Any]()
    for family, count in counts.items():
        name, figures = SHAPES[family]
        inside = list(range(len(pieces) + 1, len(pieces) + count + 1))
        for n in inside:
            pieces.append(
                {
                    "number": n, "family": family, "outline_px": outline, "colour": "silvery", "doubts": [],
                    "figures_mm": {}, "head_angle_deg": None, "pitch_mm": None,
                }
            )  # fmt: skip
            returned[str(n)] = {what: (value + shift_mm, 0.06) for what, value in figures.items()}
        groups.append(
            {
                "number": len(groups) + 1, "name": name, "family": family, "for_person": False, "box": "1" if boxed else "",
                "pieces": inside, "proposals": [], "ask": "", "figures_mm": {}, "head_angle_deg": None, "pitch_mm": None,
            }
        )  # fmt: skip
    told = {
        "sentence": f"{len(pieces)} pieces in {len(groups)} group{'' if len(groups) == 1 else 's'}.",
        "picture_px": [400, 300], "scale_measured": True, "pieces": pieces, "groups": groups, "returned": returned,
        "boxes": [
            {
                "box": "1", "tag": boxed, "seen": [boxed], "bound": "", "foreign": [], "pieces": [p["number"] for p in pieces],
                "piles": 0, "over": [], "state": "one bag", "sentence": "Box 1.",
            }
        ] if boxed else [],
    }  # fmt: skip
    return keep_answer(acts.READING, photo.sha256, inputs={"photo": photo.sha256}, result=told)


def file(shop: Shop, answer: Answer, group: int = 0, tag: str = "L-200", **other: Any) -> dict[str, Any]:
    of = answer.result["groups"][group]
    said: dict[str, Any] = {
        "by": shop.mechanic, "act_id": uuid.uuid4(), "reading": answer, "pieces": of["pieces"], "name": of["name"],
        "tag": tag, "shelf": "Z9", "aircraft": shop.aircraft,
    }  # fmt: skip
    return acts.file_group(**said | other)


def test_another_thing_under_the_same_tag_is_refused_with_what_the_bag_holds(shop: Shop) -> None:
    answer = laid(ring=6, hexagon=5)
    file(shop, answer)
    with pytest.raises(Refused, match=r"L-200 holds 6 rings; these are bolts\. Nothing was changed\. Take another tag"):
        file(shop, answer, 1)
    # Called otherwise it is still another shape; of its own shape but called another thing, it is another thing.
    with pytest.raises(Refused, match="holds 6 rings; these are bolts"):
        file(shop, answer, 1, name="of the left root")
    with pytest.raises(Refused, match="holds 6 rings; these are nuts"):
        file(shop, laid(90, ring=2), name="nuts")
    assert Holding.objects.get(piece__tag="L-200").count == 6
    file(shop, answer, 1, tag="L-201")
    assert Holding.objects.get(piece__tag="L-201").count == 5


def test_the_same_in_another_size_is_another_thing(shop: Shop) -> None:
    file(shop, laid(ring=6))
    with pytest.raises(Refused, match=r"L-200 holds 6 rings with .* mm; these have .* mm"):
        file(shop, laid(90, 4.0, ring=2))
    # A second picture of the same rings reads a few hundredths otherwise and goes in.
    file(shop, laid(110, 0.05, ring=2))
    assert Holding.objects.get(piece__tag="L-200").count == 8


def test_a_bag_that_a_person_calls_mixed_takes_both_and_is_called_so(shop: Shop) -> None:
    answer = laid(ring=6, hexagon=5, countersunk=5)
    file(shop, answer)
    file(shop, answer, 1, mixed=True)
    file(shop, answer, 2)  # said once, it stands
    bag = Piece.objects.get(tag="L-200")
    assert bag.name == "mixed: 6 ring 8.4 x 16.0 mm, 5 hexagon bolt 8.0 x 30.0 mm"
    assert Holding.objects.get(piece=bag).count == 16
    assert set(PieceReading.objects.filter(piece=bag).values_list("what", flat=True)) == {
        "hole_mm",
        "outer_diameter_mm",
    }
    assert "bolt" in bag.words


def test_what_was_filed_is_taken_out_again_and_the_tag_takes_another_thing(shop: Shop) -> None:
    answer = laid(ring=6, hexagon=5)
    act_id = uuid.uuid4()
    file(shop, answer, act_id=act_id)
    back = uuid.uuid4()
    told = take_back_filing(by=shop.lead, act_id=back, act=Act.objects.get(pk=act_id))
    assert (
        take_back_filing(by=shop.lead, act_id=back, act=Act.objects.get(pk=act_id)) == told
    )  # sent twice is done once
    bag = Piece.objects.get(tag="L-200")
    assert not Holding.objects.filter(piece=bag, count__gt=0).exists() and acts.filed(answer) == {}
    assert not PhotoUse.objects.filter(piece=bag).exists()
    assert ReadingStruck.objects.count() == PieceReading.objects.count() == 12
    assert check_ledger().balanced
    with pytest.raises(Refused, match="taken out again already"):
        take_back_filing(by=shop.lead, act_id=uuid.uuid4(), act=Act.objects.get(pk=act_id))
    file(shop, answer, 1)
    bag.refresh_from_db()
    assert (bag.name, bag.count_off, Holding.objects.get(piece=bag, count__gt=0).count) == (
        "hexagon bolt 8.0 x 30.0 mm", 5, 5,
    )  # fmt: skip
    with pytest.raises(DatabaseError, match="what was recorded stays"), transaction.atomic():
        ReadingStruck.objects.all().delete()


def test_a_mixed_bag_has_its_name_again_when_the_second_is_taken_out(shop: Shop) -> None:
    answer = laid(ring=6, hexagon=5)
    file(shop, answer)
    act_id = uuid.uuid4()
    file(shop, answer, 1, mixed=True, act_id=act_id)
    take_back_filing(by=shop.mechanic, act_id=uuid.uuid4(), act=Act.objects.get(pk=act_id))
    bag = Piece.objects.get(tag="L-200")
    assert (bag.name, Holding.objects.get(piece=bag).count) == ("ring 8.4 x 16.0 mm", 6)
    with pytest.raises(Refused, match="holds 6 rings; these are bolts"):
        file(shop, answer, 1)


def test_what_went_on_since_is_not_taken_out_unseen(shop: Shop) -> None:
    act_id = uuid.uuid4()
    file(shop, laid(ring=6), act_id=act_id)
    act, bag = Act.objects.get(pk=act_id), Piece.objects.get(tag="L-200")
    lay_down(by=shop.mechanic, act_id=uuid.uuid4(), piece=bag, to=holder("shelf", "Q4"), count=2)
    with pytest.raises(Refused, match=r"6 of L-200 .* lay at Z9 and went elsewhere since"):
        take_back_filing(by=shop.lead, act_id=uuid.uuid4(), act=act)
    assert sum(h.count for h in Holding.objects.filter(piece=bag)) == 6
    with pytest.raises(NotAllowed):
        take_back_filing(by=shop.owner, act_id=uuid.uuid4(), act=act)


def test_a_box_that_shows_another_thing_waits_for_a_word(shop: Shop) -> None:
    bag = make_bag(shop, "B-7", shop.shelf, 4)  # bolts, by its name
    Piece.objects.filter(pk=bag.pk).update(name="flush rivets 3.2")
    answer = laid(boxed="B-7", ring=4)
    (row,) = box_rows(answer)
    assert not row.ready and row.remark == "B-7 holds 4 rivets; these are rings"
    for more in (True, False):
        with pytest.raises(Refused, match="B-7 holds 4 rivets; these are rings"):
            put(shop, answer, IntoBag("1", "B-7", more=more))
    act_id = uuid.uuid4()
    put(shop, answer, IntoBag("1", "B-7", more=True, mixed=True), shelf="", act_id=act_id)
    bag.refresh_from_db()
    assert bag.name == "mixed: 4 flush rivets 3.2, 4 ring 8.4 x 16.0 mm" and Holding.objects.get(piece=bag).count == 8
    take_back_filing(by=shop.lead, act_id=uuid.uuid4(), act=Act.objects.get(pk=act_id))
    bag.refresh_from_db()
    assert (bag.name, Holding.objects.get(piece=bag).count) == ("flush rivets 3.2", 4)
    rivets = laid(90, boxed="B-7", countersunk=4)
    assert box_rows(rivets)[0].ready and not box_rows(rivets)[0].remark


def test_the_page_asks_refuses_nought_and_takes_out(shop: Shop) -> None:
    answer = laid(ring=6, hexagon=5)
    here, browser = f"/mat/{answer.subject}/", client(shop.mechanic)

    def post(**said: Any) -> Any:
        return browser.post(here, {"act_id": str(uuid.uuid4()), **said})

    form = {"do": "file", "name": "rings", "tag": "L-200", "shelf": "Z9"}
    refused = post(**form, piece=["1", "2"], count="0")
    assert refused.status_code == 422 and "1 to 9,999 pieces, not 0" in words(refused)
    assert not Piece.objects.filter(tag="L-200").exists()
    assert post(**form, piece=[str(n) for n in range(1, 7)]).status_code == 302
    asked = post(
        **form | {"name": "M8x1 bolts"},
        group="2",
        to="own",
        evidence="on the mat",
        piece=[str(n) for n in range(7, 12)],
    )
    assert asked.status_code == 422 and "L-200 holds 6 rings; these are bolts" in words(asked)
    assert 'value="M8x1 bolts"' in asked.content.decode()
    page = browser.get(here)
    assert "Put into bags from this picture" in words(page) and "Take it out of the bag again" in words(page)
    act = Act.objects.get(verb="file_from_mat")
    assert post(do="out", act=str(act.pk)).status_code == 302
    assert "Put into bags from this picture" not in words(browser.get(here))
    assert post(do="out", act=str(act.pk)).status_code == 422
    assert post(do="out", act="x").status_code == 422


def test_the_sentence_counts_the_groups_as_they_are_now(shop: Shop) -> None:
    answer = pins()
    browser = client(shop.mechanic)
    assert "5 pieces in 2 groups." in words(browser.get(f"/mat/{answer.subject}/"))
    regroup(by=shop.mechanic, act_id=uuid.uuid4(), reading=answer, pieces=[3], to="own")
    assert "5 pieces in 3 groups." in words(browser.get(f"/mat/{answer.subject}/"))
    assert "5 pieces in 3 groups." in words(browser.get("/mat/"))
    regroup(by=shop.mechanic, act_id=uuid.uuid4(), reading=answer, pieces=[1, 2, 3], to="2")
    assert "5 pieces in 1 group." in words(browser.get("/mat/"))


def test_words_of_the_bench_name_a_kind() -> None:
    """Plain words, from memory: a washer is a ring, a screw is no rivet."""
    assert kinds_called("M8 washers") == {"ring"} and kinds_called("Rivets") == {"rivet"}
    assert not kinds_called("screws") & kinds_called("rivets")


def test_a_parts_tag_in_a_box_is_not_said_to_agree(shop: Shop) -> None:
    make_part(shop, "0118", shop.shelf)
    (row,) = box_rows(laid(boxed="0118", ring=1))
    assert row.state == "a part's tag" and not row.ready and not row.against
