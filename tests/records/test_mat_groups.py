"""Groups of a picture are put right: split, merged, moved, renamed, taken back; the reading stays as it was."""

import uuid
from dataclasses import asdict
from typing import Any

import pytest

from tests.records.shop import Shop, make_shop
from tests.records.test_mat import file, grey
from tests.unit.test_mat_reading import _piece
from witnessmark.calc.mat.groups import group
from witnessmark.records.actions import mat as acts
from witnessmark.records.actions.answers import keep_answer
from witnessmark.records.actions.mat_groups import regroup, take_back_regrouping
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.mat_groups import groups_of
from witnessmark.records.models import Answer
from witnessmark.records.photo_store import keep_bytes

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def reading() -> Answer:
    """Three thin pins (1, 2, 3) and two thick ones (4, 5), as the reader itself groups them."""
    pieces = [_piece(n, 4.0 if n < 4 else 6.0, 20.0) for n in range(1, 6)]
    told = {
        "sentence": "5 pieces in 2 groups.", "picture_px": [400, 300], "scale_measured": True,
        "pieces": [asdict(p) | {"outline_px": [[10, 10], [30, 10], [20, 30]]} for p in pieces],
        "groups": [asdict(g) | {"pieces": list(g.pieces)} for g in group(pieces)],
    }  # fmt: skip
    photo = keep_bytes(grey(), "mat.jpg")
    return keep_answer(acts.READING, photo.sha256, inputs={"photo": photo.sha256}, result=told)


def put(shop: Shop, answer: Answer, pieces: list[int], to: str, name: str = "", **other: Any) -> None:
    said: dict[str, Any] = {"by": shop.mechanic, "act_id": uuid.uuid4(), "reading": answer}
    regroup(**said | {"pieces": pieces, "to": to, "name": name} | other)


def members(answer: Answer) -> list[list[int]]:
    return [g["pieces"] for g in groups_of(answer)]


def test_split_merge_move_rename_and_back(shop: Shop) -> None:
    answer = reading()
    assert members(answer) == [[1, 2, 3], [4, 5]]
    put(shop, answer, [3], "own")
    assert members(answer) == [[1, 2], [4, 5], [3]]
    put(shop, answer, [3], "2")
    assert members(answer) == [[1, 2], [3, 4, 5]]
    # The mean of what was measured on the three: (4 + 6 + 6) / 3.
    assert groups_of(answer)[1]["figures_mm"]["shank_diameter"]["value"] == pytest.approx(16 / 3, abs=0.001)
    put(shop, answer, [1, 2], "2")
    assert members(answer) == [[1, 2, 3, 4, 5]]
    put(shop, answer, [], "2", "pins of the left hinge")
    assert groups_of(answer)[0]["name"] == "pins of the left hinge"
    for _ in range(2):
        take_back_regrouping(by=shop.mechanic, act_id=uuid.uuid4(), reading=answer)
    assert members(answer) == [[1, 2], [3, 4, 5]]
    assert [g["pieces"] for g in Answer.objects.get().result["groups"]] == [[1, 2, 3], [4, 5]]


def test_sent_twice_is_done_once(shop: Shop) -> None:
    answer, act_id = reading(), uuid.uuid4()
    put(shop, answer, [3], "2", act_id=act_id)
    put(shop, answer, [3], "2", act_id=act_id)
    with pytest.raises(Refused, match="a group like that already"):
        put(shop, answer, [3], "2")
    assert members(answer) == [[1, 2], [3, 4, 5]]


@pytest.mark.parametrize(
    ("pieces", "to", "name", "said"),
    [
        ([], "own", "", "no such pieces"),
        ([99], "own", "", "no such pieces"),
        ([1], "7", "", "no such group"),
        ([1], "x", "", "no such group"),
        ([1, 2, 3], "own", "", "a group like that already"),
        ([4], "2", "", "a group like that already"),
        ([1], "own", "pins", "no name"),
    ],
)
def test_a_correction_that_says_nothing_is_refused(
    shop: Shop, pieces: list[int], to: str, name: str, said: str
) -> None:
    answer = reading()
    with pytest.raises(Refused, match=said):
        put(shop, answer, pieces, to, name)
    assert members(answer) == [[1, 2, 3], [4, 5]]


def test_what_is_in_a_bag_stays_and_who_reads_may_not(shop: Shop) -> None:
    answer = reading()
    file(shop, answer, [1, 2])
    with pytest.raises(Refused, match="in a bag already"):
        put(shop, answer, [1], "2")
    with pytest.raises(NotAllowed):
        put(shop, answer, [3], "2", by=shop.owner)
    with pytest.raises(Refused, match="No correction"):
        take_back_regrouping(by=shop.mechanic, act_id=uuid.uuid4(), reading=answer)
