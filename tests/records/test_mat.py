"""A mat is printed and measured once; a picture is kept and read in the background; its groups become bags."""

import uuid
from typing import Any

import numpy as np
import pytest

from tests.records.shop import Shop, make_bag, make_part, make_shop
from witnessmark.bench.mat_pictures import jpeg
from witnessmark.calc.bags.features import FEATURES
from witnessmark.calc.mat.groups import TO_RETURN
from witnessmark.records import work
from witnessmark.records.actions import mat as acts
from witnessmark.records.actions.answers import keep_answer
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.models import (
    Answer,
    AnswerReliedOn,
    Holding,
    Photo,
    PhotoUse,
    Piece,
    PieceReading,
    PrintedMat,
    Work,
)
from witnessmark.records.photo_store import NotAPicture, keep_bytes, original_path

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def grey(level: int = 170) -> bytes:
    return jpeg(np.full((300, 400, 3), level, np.uint8))


def reading(pieces: int = 4) -> Answer:
    """A stored reading of two groups, as read_mat gives it."""
    photo = keep_bytes(grey(), "mat.jpg")
    told: dict[str, Any] = {
        "sentence": f"{pieces} pieces in 2 groups.", "picture_px": [400, 300], "scale_measured": True,
        "pieces": [
            {"number": n, "outline_px": [[10, 10], [30, 10], [20, 30]], "colour": "silvery", "doubts": []}
            for n in range(1, pieces + 1)
        ],
        "groups": [
            {
                "number": k + 1, "name": f"pin {k + 3}.0 x 20.0 mm", "family": "plain pin", "for_person": False, "box": "",
                "pieces": [n for n in range(1, pieces + 1) if n % 2 == k], "proposals": [], "ask": "",
                "figures_mm": {"length": {"value": 20.0, "uncertainty": 0.2}}, "head_angle_deg": None, "pitch_mm": None,
            }
            for k in (0, 1)
        ],
    }  # fmt: skip
    return keep_answer(acts.READING, photo.sha256, inputs={"photo": photo.sha256, "checks": {}}, result=told)


def file(shop: Shop, answer: Answer, pieces: list[int], tag: str = "B-1", **other: Any) -> dict[str, Any]:
    said: dict[str, Any] = {
        "by": shop.mechanic, "act_id": uuid.uuid4(), "reading": answer, "pieces": pieces, "name": "pins", "tag": tag,
        "shelf": "C2", "aircraft": shop.aircraft,
    } | other  # fmt: skip
    return acts.file_group(**said)


def test_a_printed_mat_is_measured_in_both_directions(shop: Shop) -> None:
    acts.print_mat(by=shop.mechanic, act_id=uuid.uuid4(), serial="AC3D4", kind="A4-plain-blue")
    assert acts.checks() == {}
    acts.measure_mat(by=shop.mechanic, act_id=uuid.uuid4(), serial="AC3D4", check_a_mm=239.4, check_b_mm=150.6)
    assert acts.checks() == {"AC3D4": (239.4, 150.6)}
    assert PrintedMat.objects.get().measured_act.person == shop.mechanic  # type: ignore[union-attr]


@pytest.mark.parametrize("lengths", [(24.0, 150.0), (240.0, 0.0), (240.0, 300.0), (float("nan"), 150.0)])
def test_a_length_that_no_printer_prints_is_refused(shop: Shop, lengths: tuple[float, float]) -> None:
    acts.print_mat(by=shop.mechanic, act_id=uuid.uuid4(), serial="AC3D4", kind="A4-plain-blue")
    with pytest.raises(Refused, match="more than 5 % off"):
        acts.measure_mat(
            by=shop.mechanic, act_id=uuid.uuid4(), serial="AC3D4", check_a_mm=lengths[0], check_b_mm=lengths[1]
        )
    assert acts.checks() == {}


def test_a_mat_that_was_not_printed_here_is_refused(shop: Shop) -> None:
    with pytest.raises(Refused, match="No mat ZZ9"):
        acts.measure_mat(by=shop.lead, act_id=uuid.uuid4(), serial="ZZ9", check_a_mm=240, check_b_mm=150)


def test_a_picture_is_kept_and_its_refusal_too(shop: Shop) -> None:
    data = grey()
    told = acts.ask_for_reading(by=shop.mechanic, act_id=uuid.uuid4(), data=data, name="bench.jpg")
    assert original_path(told["photo"]).read_bytes() == data
    assert work.do_one()
    answer = acts.reading_of(told["photo"])
    assert answer is not None and "No mat is in the picture" in answer.result["refused"]
    assert Work.objects.get(kind="read_mat").state == "done"


def test_what_is_no_picture_leaves_nothing(shop: Shop) -> None:
    with pytest.raises(NotAPicture):
        acts.ask_for_reading(by=shop.mechanic, act_id=uuid.uuid4(), data=b"%PDF-1.7", name="mat.pdf")
    assert not Photo.objects.exists() and not Work.objects.exists()


def test_a_reading_can_be_stopped(shop: Shop) -> None:
    told = acts.ask_for_reading(by=shop.mechanic, act_id=uuid.uuid4(), data=grey(), name="bench.jpg")
    found = acts.work_of(told["photo"])
    assert found is not None
    work.cancel(found)
    assert not work.do_one()
    assert acts.reading_of(told["photo"]) is None


def test_a_group_becomes_a_bag_with_picture_count_and_tag(shop: Shop) -> None:
    answer = reading()
    act_id = uuid.uuid4()
    told = file(shop, answer, [1, 3], act_id=act_id, evidence="on the mat, box 4")
    assert file(shop, answer, [1, 3], act_id=act_id, evidence="on the mat, box 4") == told  # sent twice is done once
    bag = Piece.objects.get(tag="B-1")
    assert (bag.name, bag.count_off, bag.kind, bag.as_found) == ("pins", 2, "bag", "on the mat, box 4")
    assert Holding.objects.get(piece=bag).count == 2
    assert PhotoUse.objects.get(piece=bag).photo_id == answer.subject
    assert AnswerReliedOn.objects.get(answer=answer).act_id == act_id
    assert acts.filed(answer) == {1: "B-1", 3: "B-1"}


def test_several_pictures_fill_one_bag(shop: Shop) -> None:
    file(shop, reading(4), [1, 2])
    file(shop, keep_second(), [1])
    bag = Piece.objects.get(tag="B-1")
    assert Holding.objects.get(piece=bag).count == 3
    assert PhotoUse.objects.filter(piece=bag).count() == 2


def keep_second() -> Answer:
    first = reading(2)
    photo = keep_bytes(grey(90), "second.jpg")
    return keep_answer(acts.READING, photo.sha256, inputs={"photo": photo.sha256, "checks": {}}, result=first.result)


def test_a_piece_goes_into_one_bag_only(shop: Shop) -> None:
    answer = reading()
    file(shop, answer, [1, 2])
    with pytest.raises(Refused, match="Piece 2 of this picture is in a bag already"):
        file(shop, answer, [2, 3], tag="B-2")
    assert not Piece.objects.filter(tag="B-2").exists()


def test_a_tag_that_is_on_a_part_is_refused(shop: Shop) -> None:
    make_part(shop, "0118", shop.shelf)
    with pytest.raises(Refused, match="Tag 0118 is on something else"):
        file(shop, reading(), [1], tag="0118")


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"pieces": []}, "no such pieces"),
        ({"pieces": [99]}, "no such pieces"),
        ({"name": " "}, "needs a name"),
        ({"shelf": ""}, "needs a name"),
        ({"count": 0}, "1 to 9,999"),
    ],
)
def test_a_bag_that_says_too_little_is_refused(shop: Shop, changed: dict[str, Any], said: str) -> None:
    answer = reading()
    with pytest.raises(Refused, match=said):
        file(shop, answer, changed.pop("pieces", [1]), **changed)
    assert not Piece.objects.exists()


def test_a_picture_of_what_came_back_feeds_the_matching(shop: Shop) -> None:
    bucket = make_bag(shop, "M-1", shop.shelf, 2)
    answer = reading()
    answer.result["returned"] = {
        "1": {"shank_diameter_mm": (6.02, 0.05), "length_mm": (25.1, 0.1)},
        "2": {"shank_diameter_mm": (6.33, 0.07)},
    }
    acts.give_to_return(by=shop.mechanic, act_id=uuid.uuid4(), reading=answer, tag=" M-1 ")
    rows = PieceReading.objects.filter(piece=bucket).order_by("item", "what")
    mark = answer.subject[:6]
    assert [(r.item, r.what, r.value) for r in rows] == [
        (f"{mark}-1", "length_mm", 25.1), (f"{mark}-1", "shank_diameter_mm", 6.02), (f"{mark}-2", "shank_diameter_mm", 6.33),
    ]  # fmt: skip
    assert rows[1].uncertainty == pytest.approx(0.06)
    with pytest.raises(Refused, match="No bag or bucket has the tag 0118"):
        acts.give_to_return(by=shop.mechanic, act_id=uuid.uuid4(), reading=answer, tag="0118")


def test_every_figure_of_the_mat_is_known_to_the_matching() -> None:
    assert set(TO_RETURN.values()) | {"head_angle_deg", "thread_pitch_mm"} <= set(FEATURES)


def test_who_only_reads_may_not(shop: Shop) -> None:
    with pytest.raises(NotAllowed):
        acts.ask_for_reading(by=shop.owner, act_id=uuid.uuid4(), data=grey(), name="a.jpg")
    with pytest.raises(NotAllowed):
        file(shop, reading(), [1], by=shop.owner)
