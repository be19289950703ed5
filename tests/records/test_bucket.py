"""The numbers of a bucket's pieces, figures that cannot be, and what is written down from a picture: asked, and taken back."""

import uuid
from typing import Any

import pytest

from tests.records.shop import Shop, make_bag, make_shop
from tests.records.test_mat_bags import laid
from tests.records.test_mixing import received
from tests.records.test_sorting import mixed, seen
from tests.support.pages import client, words
from witnessmark.calc.bags.plausible import slip
from witnessmark.records.actions import mat as acts
from witnessmark.records.actions.bucket import measure_in_bucket, strike_piece, take_back_figures
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.bucket import figures_from, numbers, taken_in_together
from witnessmark.records.models import Act, Answer, Mix, Piece, PieceReading

pytestmark = pytest.mark.django_db
INCH = 25.4


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def measure(shop: Shop, shipment: Any, item: str, typed: str = "10.0", what: str = "ten_pitches_mm") -> None:
    measure_in_bucket(by=shop.mechanic, act_id=uuid.uuid4(), shipment=shipment, item=item, what=what, typed=typed)


def give(shop: Shop, answer: Answer, tag: str, **other: Any) -> dict[str, Any]:
    return acts.give_to_return(by=shop.mechanic, act_id=uuid.uuid4(), reading=answer, tag=tag, **other)


@pytest.mark.parametrize("item", ["abc", "999", "0", "8", "01", "1.5", "-1", "٣"])
def test_a_number_that_no_piece_there_can_have_is_refused(shop: Shop, item: str) -> None:
    shipment, _, _ = mixed(shop)
    received(shop, shipment, 7)
    with pytest.raises(Refused, match="they are laid out as 1 to 7"):
        measure(shop, shipment, item)
    assert not PieceReading.objects.exists()
    page = client(shop.mechanic).post(
        "/outwork/S-1/measure/",
        {"act_id": str(uuid.uuid4()), "what": "ten_pitches_mm", "item": item, "value": "10.0"},
    )
    assert page.status_code == 422 and "they are laid out as 1 to 7" in words(page)
    assert not PieceReading.objects.exists()


def test_a_bucket_takes_no_more_numbers_than_were_counted(shop: Shop) -> None:
    shipment, _, _ = mixed(shop)
    received(shop, shipment, 7)
    bucket = Mix.objects.get().piece
    answer = laid(hexagon=6)
    give(shop, answer, bucket.tag or "")
    mark = answer.subject[:6]
    # Six came by the picture under its own numbers: one more may lie there.
    assert numbers(seen(shipment)).room == 1
    measure(shop, shipment, "2")
    with pytest.raises(Refused, match="All 7 that were counted have a reading, and none of them is number 3"):
        measure(shop, shipment, "3")
    measure(shop, shipment, f"{mark}-4")
    assert set(numbers(seen(shipment)).to_measure) == {"2", *(f"{mark}-{n}" for n in range(1, 7))}


def test_a_measured_piece_is_struck_out_and_measured_anew(shop: Shop) -> None:
    shipment, _, _ = mixed(shop)
    received(shop, shipment, 7)
    browser = client(shop.mechanic)
    measure(shop, shipment, "5")
    assert "There is no piece 5: strike it out" in words(
        browser.get("/outwork/S-1/measure/?what=ten_pitches_mm&after=5")
    )
    said = {"act_id": str(uuid.uuid4()), "do": "strike", "what": "ten_pitches_mm", "item": "5"}
    assert browser.post("/outwork/S-1/measure/", said).status_code == 302
    assert not seen(shipment).items and PieceReading.objects.count() == 1
    with pytest.raises(Refused, match="Nothing is read under number 5"):
        strike_piece(by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, item="5")
    measure(shop, shipment, "5", "10.6")
    assert seen(shipment).items["5"]["ten_pitches_mm"].value == pytest.approx(10.6)
    assert browser.post("/outwork/S-1/sort/5/", {"act_id": str(uuid.uuid4()), "do": "strike"}).status_code == 302
    assert not seen(shipment).items
    with pytest.raises(NotAllowed):
        measure_in_bucket(
            by=shop.owner, act_id=uuid.uuid4(), shipment=shipment, item="1", what="ten_pitches_mm", typed="10"
        )


@pytest.mark.parametrize(
    ("what", "typed", "said"),
    [
        ("diameter_mm", "0.315", "smaller than any fastener has"),
        ("diameter_mm", "8 in", "larger than any fastener here has"),
        ("ten_pitches_mm", "1.0", "smaller than any fastener has"),
        ("head_width_mm", "0.5", "smaller than any fastener has"),
        ("head_angle_deg", "12", "between 40 and 180 degrees"),
    ],
)
def test_a_slip_of_the_point_or_the_unit_is_caught_at_the_bucket(shop: Shop, what: str, typed: str, said: str) -> None:
    shipment, _, _ = mixed(shop)
    received(shop, shipment, 7)
    with pytest.raises(Refused, match=said):
        measure(shop, shipment, "1", typed, what)
    assert not PieceReading.objects.exists()


def test_a_slip_names_the_unit_and_figures_are_held_against_each_other() -> None:
    """0.315 in is 8.00 mm (25.4 mm to the inch); no head is as narrow as its shank, a fact of trade."""
    assert f"0.315 in would be {0.315 * INCH:.2f} mm: was it read in inches?" in slip("diameter_mm", 0.315, {})
    assert "not larger than the shank" in slip("head_diameter_mm", 5.0, {"shank_diameter_mm": 8.0})
    assert not slip("head_diameter_mm", 12.0, {"shank_diameter_mm": 8.0}) and not slip("hole_mm", 0.3, {})


def test_figures_of_another_thing_or_of_too_many_are_asked_about_at_a_bag(shop: Shop) -> None:
    make_bag(shop, "L-014", shop.shelf, 6)  # bolts, by its name
    with pytest.raises(Refused, match=r"L-014 holds 6 bolts; among these are rings\. Nothing was changed"):
        give(shop, laid(ring=3, countersunk=2), "L-014")
    with pytest.raises(Refused, match="L-014 holds 6, and the picture shows 8"):
        give(shop, laid(90, hexagon=8), "L-014")
    assert not PieceReading.objects.exists()
    give(shop, laid(100, hexagon=5), "L-014")
    assert PieceReading.objects.filter(what="length_mm").count() == 5


def test_figures_that_disagree_with_the_bucket_are_asked_about_and_taken_back(shop: Shop) -> None:
    shipment, _, _ = mixed(shop)
    received(shop, shipment, 6)
    tag = Mix.objects.get().piece.tag or ""
    many = laid(hexagon=29)
    with pytest.raises(Refused, match="6 lie in M-S-1; the picture shows 29"):
        give(shop, many, tag)
    with pytest.raises(Refused, match="The picture shows rings, and no bag in M-S-1 holds such"):
        give(shop, laid(90, ring=2), tag)
    browser, here = client(shop.mechanic), f"/mat/{many.subject}/?bucket={tag}"
    asked = browser.post(here, {"act_id": str(uuid.uuid4()), "do": "return", "tag": tag})
    assert asked.status_code == 422 and "say why it is right all the same" in words(asked)
    assert not PieceReading.objects.exists()
    form = {"act_id": str(uuid.uuid4()), "do": "return", "tag": tag, "anyway": "two buckets were poured together"}
    assert browser.post(here, form).status_code == 302
    act = Act.objects.get(verb="read_piece")
    assert act.said["anyway"] == "two buckets were poured together"
    assert taken_in_together(Mix.objects.get().piece) == [(act, 29)]
    page = browser.get("/outwork/S-1/sort/")
    assert "two buckets were poured together" in words(page) and "Take these figures back" in words(page)
    assert "Take these figures back" in words(browser.get(f"/mat/{many.subject}/"))
    form = {"act_id": str(uuid.uuid4()), "do": "figures", "act": str(act.pk)}
    assert browser.post("/outwork/S-1/sort/", form).status_code == 302
    assert not seen(shipment).items and figures_from(many.pk) == []
    with pytest.raises(Refused, match="taken back already"):
        take_back_figures(by=shop.lead, act_id=uuid.uuid4(), act=act)
    # The same picture again, where it agrees, counts its pieces once.
    few = laid(120, hexagon=5)
    for _ in range(2):
        give(shop, few, tag)
    assert len(seen(shipment).items) == 5
    with pytest.raises(Refused, match="6 lie in M-S-1; the picture shows 2 and 5 are measured already"):
        give(shop, laid(130, hexagon=2), tag)


def test_figures_on_a_bag_are_taken_back_on_the_picture(shop: Shop) -> None:
    make_bag(shop, "L-014", shop.shelf, 6)
    answer = laid(hexagon=5)
    give(shop, answer, "L-014")
    act = Act.objects.get(verb="read_piece")
    browser = client(shop.mechanic)
    form = {"act_id": str(uuid.uuid4()), "do": "figures", "act": str(act.pk)}
    assert browser.post(f"/mat/{answer.subject}/", form).status_code == 302
    assert not PieceReading.objects.filter(struck=None).exists()
    again = browser.post(f"/mat/{answer.subject}/", form | {"act_id": str(uuid.uuid4())})
    assert again.status_code == 422 and "taken back already" in words(again)
    assert Piece.objects.get(tag="L-014").readings.count() == 10
