"""A bucket whose figures disagree is not sorted until it is counted again or a named person goes on; its numbers agree."""

import uuid

import pytest

from tests.records.shop import Shop, make_shop
from tests.records.test_mixing import received, told
from tests.records.test_sorting import mixed, read, seen
from tests.support.pages import client, words
from witnessmark.calc.bags.balance import count_words
from witnessmark.calc.bags.features import BARE, Feature, Group, MeasuredPiece, Reading
from witnessmark.calc.bags.return_match import match_return
from witnessmark.records.actions.bucket_stop import count_again, sort_anyway
from witnessmark.records.actions.mixing import Told
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.bucket import gone_on, stop_of
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.models import Act, Holding, Mix, Piece, Shipment, ToldApart


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop()


def too_light(shop: Shop) -> tuple[Shipment, Piece]:
    """Seven back and all measured, and they weigh as three of them would."""
    shipment, a, b = mixed(shop)
    shipment.lines.filter(piece=a).update(mass_out_g=120)
    Piece.objects.filter(pk=a.pk).update(mass_g=120, count_off=4)
    Piece.objects.filter(pk=b.pk).update(mass_g=90, count_off=3)
    received(shop, shipment, 7)
    Mix.objects.update(mass_back_g=90.0)
    read(
        shop,
        Mix.objects.get().piece,
        {str(n): {"ten_pitches_mm": "10.0" if n <= 4 else "10.6"} for n in range(1, 8)},
    )
    return shipment, a


def confirm(shop: Shop, shipment: Shipment, a: Piece) -> None:
    told(shop, shipment, Told("1", a))


def test_what_disagrees_is_not_sorted_by_anybody(shop: Shop) -> None:
    shipment, a = too_light(shop)
    with pytest.raises(Refused, match="count and weigh again before anything is sorted"):
        confirm(shop, shipment, a)
    browser = client(shop.mechanic)
    page = browser.get("/outwork/S-1/sort/")
    assert 'value="confirm"' not in page.content.decode() and "Counted and weighed again" in words(page)
    form = {"act_id": str(uuid.uuid4()), "do": "confirm", "item": ["1"], "to": "Q"}
    assert browser.post("/outwork/S-1/sort/", form).status_code == 422
    assert not ToldApart.objects.exists() and check_ledger().balanced


def test_counted_and_weighed_again_it_is_sorted_and_the_ledger_follows(shop: Shop) -> None:
    shipment, a = too_light(shop)
    browser = client(shop.mechanic)
    form = {"act_id": str(uuid.uuid4()), "do": "again", "count": "7", "mass_g": "210"}
    assert browser.post("/outwork/S-1/sort/", form).status_code == 302
    assert not stop_of(seen(shipment))
    confirm(shop, shipment, a)
    # Five in the bucket beside the one that is home: one fewer than was counted is with the vendor.
    count_again(by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, count=5)
    bucket = Mix.objects.get()
    assert bucket.count_back == 6 and Shipment.objects.get().back_on is None
    assert Holding.objects.get(piece=bucket.piece, holder=shop.vendor.holder).count == 1
    assert check_ledger().balanced
    with pytest.raises(Refused, match="3 more than were counted before, and 1 are still out"):
        count_again(by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, count=8)
    with pytest.raises(Refused, match="Nothing was counted"):
        count_again(by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, count=0)
    count_again(by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, count=6)
    assert Mix.objects.get().count_back == 7 and check_ledger().balanced
    with pytest.raises(NotAllowed):
        count_again(by=shop.owner, act_id=uuid.uuid4(), shipment=shipment, count=6)


def test_a_named_person_goes_on_with_a_reason_while_the_figures_stay(shop: Shop) -> None:
    shipment, a = too_light(shop)
    with pytest.raises(Refused, match="Nothing is said of why"):
        sort_anyway(by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, why=" ")
    browser = client(shop.lead)
    form = {"act_id": str(uuid.uuid4()), "do": "anyway", "why": "the scales were set to ounces"}
    assert browser.post("/outwork/S-1/sort/", form).status_code == 302
    text = words(browser.get("/outwork/S-1/sort/"))
    assert "Lead goes on all the same" in text and "the scales were set to ounces" in text
    act = Act.objects.get(verb="sort_anyway")
    assert gone_on(seen(shipment)) == act
    # Other figures ask anew.
    count_again(by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, count=7, mass_g=80.0)
    assert gone_on(seen(shipment)) is None
    with pytest.raises(Refused, match="count and weigh again"):
        confirm(shop, shipment, a)
    count_again(by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, count=7, mass_g=90.0)
    confirm(shop, shipment, a)
    assert ToldApart.objects.count() == 1
    with pytest.raises(Refused, match="Nothing disagrees any more"):
        sort_anyway(by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, why="x")


def test_more_numbers_than_pieces_stop_it_too(shop: Shop) -> None:
    shipment, a, _ = mixed(shop)
    received(shop, shipment, 6)
    bucket = Mix.objects.get().piece
    read(shop, bucket, {str(n): {"ten_pitches_mm": "10.0" if n <= 4 else "10.6"} for n in range(1, 8)})
    with pytest.raises(Refused, match="7 numbers have a reading and 6 were counted"):
        confirm(shop, shipment, a)
    count_again(by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, count=7)
    confirm(shop, shipment, a)


def test_the_count_and_the_names_of_what_is_short_agree() -> None:
    """Sums: of five bags of one, four came and two of them are not ours, so three are short."""
    sent = [Group(k, k, 1, {"diameter_mm": Feature(4.0 + n, 0.03)}) for n, k in enumerate("ABCDE")]
    back = [MeasuredPiece(str(n), {"diameter_mm": Reading(mm, 0.03)}) for n, mm in enumerate((4.0, 5.0, 30.0, 31.0), 1)]
    match = match_return(sent, back, BARE)
    assert sum(each.count for each in match.short) == 3 and len(match.foreign) == 2
    assert match.counted == "4 came back, 2 of them not ours: 3 of 5 are short."
    assert match.sentence.startswith(match.counted)
    assert match.sentence.count("Short: 1 of") == 3
    assert count_words(70, 69, 2, other=True) == "69 came back, 2 of them not ours: 3 of the other 70 are short."


def test_every_short_bag_is_named_or_counted_in_the_sentence() -> None:
    sent = [Group(k, k, 1, {"diameter_mm": Feature(4.0 + n, 0.03)}) for n, k in enumerate("ABCDEFG")]
    match = match_return(sent, [MeasuredPiece("1", {"diameter_mm": Reading(4.0, 0.03)})], BARE)
    assert "1 of 7 came back: 6 are short." in match.sentence
    assert match.sentence.count("Short: 1 of") == 4 and "And 2 more short, named below." in match.sentence


def test_the_working_says_in_words_what_was_read() -> None:
    sent = [Group("A", "A", 1, {"diameter_mm": Feature(4.0, 0.03), "head_angle_deg": Feature(90.0, 2.0)})]
    match = match_return(
        sent, [MeasuredPiece("1", {"diameter_mm": Reading(4.0, 0.03), "head_angle_deg": Reading(90.0, 2.0)})], BARE
    )
    (row,) = (r for r in match.working.to_dict()["rows"] if r["what"] == "features read")
    assert (row["value"], row["from"]) == (2, "diameter, head angle")
