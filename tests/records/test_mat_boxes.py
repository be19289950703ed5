"""Boxes are bound to bags before the picture; each box goes with its bag, and what is doubtful waits for a word."""

import uuid
from typing import Any

import pytest
from django.db import DatabaseError, connection, transaction
from django.test.utils import CaptureQueriesContext

from tests.records.shop import Shop, make_bag, make_part, make_shop
from tests.records.test_mat import grey
from witnessmark.records import work
from witnessmark.records.actions import mat as acts
from witnessmark.records.actions.answers import keep_answer
from witnessmark.records.actions.blank_tags import print_tags
from witnessmark.records.actions.mat_boxes import IntoBag, bind_boxes, file_boxes
from witnessmark.records.actions.pictures import take_picture
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.lookups.mat_boxes import bags_for_boxes, bound_before, bound_boxes, box_rows
from witnessmark.records.models import Act, Answer, Holding, MatBox, PhotoUse, Piece, PieceReading, PrintedMat
from witnessmark.records.photo_store import keep_bytes

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def print_it(
    shop: Shop, *tags: str, new: int = 0, serial: str = "AC3D4", kind: str = "A4-boxes-blue"
) -> dict[str, Any]:
    return acts.print_mat(by=shop.mechanic, act_id=uuid.uuid4(), serial=serial, kind=kind, tags=tags, new=new)


def reading(*boxes: dict[str, Any], serial: str = "AC3D4", level: int = 170) -> Answer:
    """A stored reading of a mat with boxes: by box its tag and how many lie there, as read_mat gives it."""
    photo = keep_bytes(grey(level), "mat.jpg")
    number, rows, groups, returned = 0, [], [], {}
    for n, said in enumerate(boxes, 1):
        inside = list(range(number + 1, number + said.get("count", 0) + 1))
        number += len(inside)
        tag = said.get("tag", "")
        piles = said.get("piles", 0)
        state = said.get("state") or ("empty" if not inside else "one bag" if tag else "no tag")
        rows.append(
            {
                "box": str(n), "tag": tag, "seen": [tag] if tag else [], "bound": said.get("bound", ""), "foreign": [],
                "pieces": inside, "piles": piles, "over": [], "state": state, "sentence": f"Box {n}.",
            }
        )  # fmt: skip
        if inside:
            groups.append(
                {"number": n, "name": f"pin {n}", "family": "plain pin", "for_person": False, "pieces": inside}
            )
        returned |= {str(k): {"shank_diameter_mm": (3.0 + n, 0.05)} for k in inside}
    told = {
        "serial": serial,
        "boxes": rows,
        "groups": groups,
        "returned": returned,
        "pieces": [{"number": k} for k in range(1, number + 1)],
    }
    return keep_answer(acts.READING, photo.sha256, inputs={"photo": photo.sha256}, result=told)


def put(shop: Shop, answer: Answer, *boxes: IntoBag, shelf: str = "C2", **other: Any) -> dict[str, Any]:
    said: dict[str, Any] = {
        "by": shop.mechanic,
        "act_id": uuid.uuid4(),
        "reading": answer,
        "boxes": boxes,
        "shelf": shelf,
    }
    return file_boxes(**said | other)


def test_a_sheet_is_printed_for_chosen_bags_and_new_numbers(shop: Shop) -> None:
    make_bag(shop, "B-7", shop.shelf, 4)
    told = print_it(shop, "B-7", new=2)
    assert told["boxes"] == {"1": "B-7", "2": "1001", "3": "1002"}
    assert {box: row.tag for box, row in bound_boxes(PrintedMat.objects.get()).items()} == told["boxes"]
    # Numbers in a box are given out like any other: the next sheet of tags goes on behind them.
    assert print_tags(by=shop.lead, act_id=uuid.uuid4(), count=1)["tags"] == ["1003"]


@pytest.mark.parametrize(
    ("tags", "new", "kind", "said"),
    [
        (["B-7", "B-7"], 0, "A4-boxes-blue", "B-7 is named for two boxes"),
        (["B-9"], 0, "A4-boxes-blue", "No bag has the tag B-9"),
        (["0118"], 0, "A4-boxes-blue", "0118 is on Fitting 0118, which is no bag"),
        (["B-7"], 12, "A4-boxes-blue", "Take two mats"),
        (["B-7"], 0, "A4-plain-blue", "A plain mat has no boxes"),
    ],
)
def test_boxes_that_cannot_be_are_refused(shop: Shop, tags: list[str], new: int, kind: str, said: str) -> None:
    make_bag(shop, "B-7", shop.shelf, 4)
    make_part(shop, "0118", shop.shelf)
    with pytest.raises(Refused, match=said):
        print_it(shop, *tags, new=new, kind=kind)
    assert not PrintedMat.objects.exists() and not MatBox.objects.exists()


def test_a_laminated_sheet_is_bound_again_and_an_older_picture_keeps_its_own(shop: Shop) -> None:
    make_bag(shop, "B-7", shop.shelf, 4)
    make_bag(shop, "B-8", shop.shelf, 4)
    print_it(shop)
    bind_boxes(by=shop.mechanic, act_id=uuid.uuid4(), serial="AC3D4", tags={"1": "B-7"}, came_from={"1": "left root"})
    before = Act.objects.latest("recorded_at").recorded_at
    bind_boxes(by=shop.mechanic, act_id=uuid.uuid4(), serial="AC3D4", tags={"1": "B-8", "2": "B-7"})
    assert bound_before(before) == {"AC3D4": {"1": "B-7"}}
    assert bound_before(Act.objects.latest("recorded_at").recorded_at) == {"AC3D4": {"1": "B-8", "2": "B-7"}}
    bind_boxes(by=shop.mechanic, act_id=uuid.uuid4(), serial="AC3D4", tags={"1": ""})
    assert list(bound_boxes(PrintedMat.objects.get())) == ["2"]


def test_what_is_printed_in_stays_and_its_words_may_change(shop: Shop) -> None:
    make_bag(shop, "B-7", shop.shelf, 4)
    print_it(shop, "B-7")
    with pytest.raises(Refused, match="B-7 is printed into box 1"):
        bind_boxes(by=shop.mechanic, act_id=uuid.uuid4(), serial="AC3D4", tags={"1": ""})
    bind_boxes(by=shop.mechanic, act_id=uuid.uuid4(), serial="AC3D4", tags={}, came_from={"1": "left root"})
    row = bound_boxes(PrintedMat.objects.get())["1"]
    assert (row.tag, row.came_from, row.printed) == ("B-7", "left root", True)
    with pytest.raises(Refused, match="says already"):
        bind_boxes(by=shop.mechanic, act_id=uuid.uuid4(), serial="AC3D4", tags={}, came_from={"1": "left root"})
    with pytest.raises(Refused, match="has no box 13"):
        bind_boxes(by=shop.mechanic, act_id=uuid.uuid4(), serial="AC3D4", tags={"13": "B-7"})
    with pytest.raises(Refused, match="No mat ZZ"):
        bind_boxes(by=shop.mechanic, act_id=uuid.uuid4(), serial="ZZ", tags={"1": "B-7"})


def test_bindings_are_never_changed_afterwards(shop: Shop) -> None:
    print_it(shop, new=1)
    with pytest.raises(DatabaseError, match="what was recorded stays"), transaction.atomic():
        MatBox.objects.update(tag="0001")


def test_every_box_goes_with_its_bag(shop: Shop) -> None:
    told = print_it(shop, new=3)
    bind_boxes(by=shop.mechanic, act_id=uuid.uuid4(), serial="AC3D4", tags={}, came_from={"1": "left root fitting"})
    one, two, three = told["boxes"].values()
    answer = reading({"tag": one, "count": 3}, {"tag": two, "count": 2}, {"tag": three})
    rows = {row.box: row for row in box_rows(answer)}
    assert [(r.ready, r.count) for r in rows.values()] == [(True, 3), (True, 2), (False, 0)]
    act_id = uuid.uuid4()
    chosen = [IntoBag("1", one, came_from=rows["1"].came_from), IntoBag("2", two)]
    done = put(shop, answer, *chosen, act_id=act_id)
    assert put(shop, answer, *chosen, act_id=act_id) == done  # sent twice is done once
    first, second = Piece.objects.get(tag=one), Piece.objects.get(tag=two)
    assert (first.name, first.as_found, second.as_found) == ("pin 1", "left root fitting", "on the mat, box 2")
    assert [Holding.objects.get(piece=p).count for p in (first, second)] == [3, 2]
    assert PhotoUse.objects.get(piece=first).what == "3 on the mat, box 1: pin 1"
    # Pieces that are alike leave their figures on the bag, so that they are known when they come back mixed.
    assert (
        list(PieceReading.objects.filter(piece=second).values_list("what", "value")) == [("shank_diameter_mm", 5.0)] * 2
    )
    assert [row.in_bag for row in box_rows(answer)] == [one, two, ""]
    assert acts.filed(answer) == {1: one, 2: one, 3: one, 4: two, 5: two}
    assert check_ledger().balanced
    with pytest.raises(Refused, match="box 1 is in a bag already"):
        put(shop, answer, IntoBag("1", "B-99"))
    with pytest.raises(Refused, match="in a bag already"):
        acts.file_group(
            by=shop.mechanic,
            act_id=uuid.uuid4(),
            reading=answer,
            pieces=[5],
            name="pins",
            tag="B-1",
            shelf="C2",
            aircraft=None,
        )


def test_a_bag_in_the_record_is_counted_and_never_doubled(shop: Shop) -> None:
    bag = make_bag(shop, "B-7", shop.shelf, 4)
    answer = reading({"tag": "B-7", "count": 3})
    row = box_rows(answer)[0]
    assert row.ready and row.against == "The record holds 4: 1 fewer on the picture. Its count is left as it is."
    done = put(shop, answer, IntoBag("1", "B-7"), shelf="")
    assert done["boxes"][0] == {"box": "1", "tag": "B-7", "piece": bag.pk, "count": 3, "new": False, "held": 4}
    assert Holding.objects.get(piece=bag).count == 4
    assert PhotoUse.objects.get(piece=bag).what == "3 on the mat, box 1 (the record holds 4): pin 1"


def test_more_of_a_bag_are_added_where_it_lies(shop: Shop) -> None:
    bag = make_bag(shop, "B-7", shop.shelf, 4)
    put(shop, reading({"tag": "B-7", "count": 3}), IntoBag("1", "B-7", more=True), shelf="")
    assert Holding.objects.get(piece=bag, holder=shop.shelf).count == 7


def test_a_tag_that_a_picture_began_is_counted_now(shop: Shop) -> None:
    made = print_tags(by=shop.lead, act_id=uuid.uuid4(), count=1)["tags"][0]
    take_picture(by=shop.mechanic, act_id=uuid.uuid4(), photo=keep_bytes(grey(80), "tag.jpg"), tags_read=[made])
    answer = reading({"tag": made, "count": 5})
    assert box_rows(answer)[0].ready and box_rows(answer)[0].held is None
    put(shop, answer, IntoBag("1", made))
    piece = Piece.objects.get(tag=made)
    assert (piece.kind, piece.name, Holding.objects.get(piece=piece, count__gt=0).count) == ("bag", "pin 1", 5)
    assert Holding.objects.get(piece=piece, count__gt=0).holder == shop.shelf
    assert check_ledger().balanced


def test_a_strange_tag_and_a_parts_tag_wait_for_a_word(shop: Shop) -> None:
    make_part(shop, "0118", shop.shelf)
    answer = reading(
        {"tag": "0999", "count": 1},
        {"tag": "0118", "count": 1},
        {"count": 1},
        {"tag": "0777", "bound": "0777", "count": 1},
    )
    rows = box_rows(answer)
    assert [row.state for row in rows] == ["unknown tag", "a part's tag", "no tag", "one bag"]
    assert [row.ready for row in rows] == [False, False, False, True]
    assert "on nothing here and was not printed here" in rows[0].sentence and "Fitting 0118" in rows[1].sentence
    with pytest.raises(Refused, match="which is no bag"):
        put(shop, answer, IntoBag("4", "0777"), IntoBag("2", "0118"))
    assert not Piece.objects.filter(tag="0777").exists()  # all of it or nothing
    put(shop, answer, IntoBag("1", "0999"))
    assert Piece.objects.get(tag="0999").count_off == 1


@pytest.mark.parametrize(
    ("boxes", "shelf", "said"),
    [
        ([], "C2", "No box was chosen"),
        ([IntoBag("9", "0777")], "C2", "Nothing lies in box 9"),
        ([IntoBag("3", "0777")], "C2", "Nothing lies in box 3"),
        ([IntoBag("1", " ")], "C2", "Box 1 has no tag"),
        ([IntoBag("2", "0777")], "C2", "Count them and write how many"),
        ([IntoBag("2", "0777", count=10_000)], "C2", "1 to 9,999"),
        ([IntoBag("1", "0777")], " ", "Say where the bag of box 1 lies"),
        ([IntoBag("1", "0777"), IntoBag("2", "0777", count=2)], "C2", "named for two boxes"),
    ],
)
def test_boxes_that_say_too_little_are_refused(shop: Shop, boxes: list[IntoBag], shelf: str, said: str) -> None:
    answer = reading({"count": 1}, {"count": 1, "piles": 1}, {})
    with pytest.raises(Refused, match=said):
        put(shop, answer, *boxes, shelf=shelf)
    assert not Piece.objects.exists()


def test_who_only_reads_may_not(shop: Shop) -> None:
    with pytest.raises(NotAllowed):
        print_it(Shop(**{**shop.__dict__, "mechanic": shop.owner}), new=1)
    with pytest.raises(NotAllowed):
        put(shop, reading({"tag": "0777", "count": 1}), IntoBag("1", "0777"), by=shop.owner)


def test_questions_do_not_grow_with_the_boxes(shop: Shop) -> None:
    counted = []
    for n in (1, 9):
        tags = [f"B-{n}{k}" for k in range(n)]
        for tag in tags:
            make_bag(shop, tag, shop.shelf, 2)
        answer = reading(*({"tag": tag, "count": 2} for tag in tags), level=100 + n)
        with CaptureQueriesContext(connection) as asked:
            assert len(box_rows(answer)) == n
            assert len(bags_for_boxes(shop.aircraft)) >= n
        counted.append(len(asked))
    assert counted[0] == counted[1]


def test_the_worker_reads_with_what_was_bound_when_the_picture_came(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: dict[str, Any] = {}

    def read(_data: bytes, _checks: object, _told: object, bound: dict[str, dict[str, str]], _tag_of: object) -> Any:
        from witnessmark.calc.mat.rectify import NotReadable

        told.update(bound)
        raise NotReadable("No mat is in the picture.")

    monkeypatch.setattr("witnessmark.calc.mat.reading.read_mat", read)
    first = print_it(shop, new=1)["boxes"]
    acts.ask_for_reading(by=shop.mechanic, act_id=uuid.uuid4(), data=grey(), name="a.jpg")
    print_it(shop, new=1, serial="LATER")
    assert work.do_one()
    assert told == {"AC3D4": first}
