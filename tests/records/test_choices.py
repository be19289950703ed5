"""The decision sheet from the record, what is frozen with a decision, and originals that no decision destroys."""

import uuid
from datetime import date, timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from tests.records.shop import Shop, make_part, make_place, make_shop
from tests.support.rows import make_finding, make_row, make_size, make_steps
from witnessmark.records.actions import custody
from witnessmark.records.actions.choices import hand_over, reckon_choice, say_shop_hour
from witnessmark.records.actions.condition import decide
from witnessmark.records.actions.findings import ask_engineering, engineering_answers, measure_finding
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.choices import decision_sheet, relied_on
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.lookups.patterns import patterns
from witnessmark.records.models import (
    Aircraft,
    Answer,
    ChoiceFigure,
    Decision,
    FastenerSize,
    Finding,
    Holding,
    Layer,
    Person,
    Piece,
    Place,
    ShopHourSaid,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def part(shop: Shop) -> Piece:
    seat = make_place(shop, "6-11-010", "L")
    Place.objects.filter(pk=seat.pk).update(station="420-1260")
    part = make_part(shop, "0004", shop.shelf, "L", belongs=seat)
    Piece.objects.filter(pk=part.pk).update(part_no="6-11-010", material="AZ31B-H24 sheet", mass_g=2000)
    make_steps(part, ("Strip", "sheet metal"), ("Prime", "sheet metal"))
    return Piece.objects.get(pk=part.pk)


def measure(shop: Shop, part: Piece) -> Finding:
    make_finding(shop, "F-1", piece=part)
    finding = Finding.objects.get(number="F-1")
    typed = {"pit_depth_mm": "0.2", "thickness_mm": "1.0", "work_hours": "6"}
    measure_finding(by=shop.mechanic, act_id=uuid.uuid4(), finding=finding, kind="pitting", typed=typed)
    return Finding.objects.get(number="F-1")


def say(shop: Shop, part: Piece, kind: str = "repair", **more: object) -> None:
    decide(by=shop.lead, act_id=uuid.uuid4(), piece=part, kind=kind, reason="blend", **more)  # type: ignore[arg-type]


def test_the_sheet_gathers_findings_route_plan_and_what_lies_on_it(shop: Shop, part: Piece) -> None:
    size = make_size(shop)
    FastenerSize.objects.filter(pk=size.pk).update(alloy="dural")
    row = make_row(shop, "HB-01", size, 4)
    Layer.objects.filter(row=row, number=1).update(part_no="6-11-010", material="AZ31B-H24 sheet")
    Layer.objects.filter(row=row, number=2).update(part_no="6-11-004", material="dural extruded T", name="Keel member")
    measure(shop, part)
    sheet = decision_sheet(part)
    repair = sheet.choices.cells["repair"]
    assert repair["hours"].value == pytest.approx(4 + 6)
    assert repair["days"].known
    assert sheet.choices.cells["reuse"]["strength"].value == pytest.approx(0.8)
    assert [(f.material, f.where) for f in sheet.faying] == [
        ("dural extruded T", "Keel member, row HB-01"),
        ("dural", "rivets of row HB-01"),
    ]
    assert not sheet.choices.cells["remake"]["hours"].known


def test_what_is_reckoned_enters_the_sheet_and_the_plan(shop: Shop, part: Piece) -> None:
    reckon_choice(
        by=shop.lead, act_id=uuid.uuid4(), piece=part, kind="remake", typed={"hours": "40", "money": "2 300 EUR"}
    )
    substitute = {
        "material": "2024-T3",
        "thickness_mm": "0.032 in",
        "old_thickness_mm": "1 mm",
        "touches": "brass; steel",
    }
    reckon_choice(by=shop.mechanic, act_id=uuid.uuid4(), piece=part, kind="substitute", typed=substitute)
    sheet = decision_sheet(part)
    cells = sheet.choices.cells
    assert (cells["remake"]["hours"].value, cells["remake"]["money"].value) == (40, 2300)
    repair, remake = cells["repair"]["days"].value, cells["remake"]["days"].value
    assert repair is not None
    assert remake is not None
    assert remake > repair
    assert sheet.choices.substitution is not None
    assert sheet.choices.substitution.chosen_mm == pytest.approx(0.032 * 25.4)
    assert [f.material for f in sheet.faying] == ["brass", "steel"]
    reckon_choice(by=shop.lead, act_id=uuid.uuid4(), piece=part, kind="remake", typed={"hours": "50"})
    assert decision_sheet(part).choices.cells["remake"]["hours"].value == 50
    assert ChoiceFigure.objects.filter(kind="remake", what="hours").count() == 2


@pytest.mark.parametrize(
    ("kind", "typed", "why"),
    [
        ("remake", {}, "Nothing was typed"),
        ("weld", {"hours": "1"}, "is no choice"),
        ("scrap", {"hours": "1"}, "not reckoned for scrap"),
        ("remake", {"hours": "soon"}, "'soon' cannot be read"),
        ("remake", {"money": "2300"}, "Type it like 2300 EUR"),
        ("repair", {"strength": "90"}, "1 is equal"),
        ("substitute", {"material": "unobtainium"}, "No figures are held"),
        ("substitute", {"thickness_mm": "thin"}, "Its thickness"),
    ],
)
def test_what_cannot_be_reckoned_changes_nothing(
    shop: Shop, part: Piece, kind: str, typed: dict[str, str], why: str
) -> None:
    with pytest.raises(Refused, match=why):
        reckon_choice(by=shop.lead, act_id=uuid.uuid4(), piece=part, kind=kind, typed=typed)
    assert not ChoiceFigure.objects.exists()


def test_the_figures_he_relied_on_are_frozen_and_a_reversal_leaves_both(shop: Shop, part: Piece) -> None:
    finding = measure(shop, part)
    first = decision_sheet(part)
    say(shop, part, sheet=first.values())
    measure_finding(by=shop.mechanic, act_id=uuid.uuid4(), finding=finding, typed={"pit_depth_mm": "0.5"})
    say(shop, part, "remake", sheet=decision_sheet(part).values())
    newest, old = decision_sheet(part).decisions
    assert (newest.kind, old.kind) == ("remake", "repair")
    kept, now = relied_on(old), relied_on(newest)
    assert kept is not None
    assert now is not None
    assert kept["choices"]["reuse"]["strength"]["value"] == pytest.approx(0.8)
    assert now["choices"]["reuse"]["strength"]["value"] == pytest.approx(0.5)
    assert Answer.objects.filter(kind="decision sheet").count() == 2
    with pytest.raises(IntegrityError, match="what was recorded stays"), transaction.atomic():
        Decision.objects.update(kind="reuse")


def test_a_decision_sent_twice_is_one_with_one_sheet(shop: Shop, part: Piece) -> None:
    act_id = uuid.uuid4()
    for _ in range(2):
        decide(by=shop.lead, act_id=act_id, piece=part, kind="repair", reason="x", sheet=decision_sheet(part).values())
    assert (Decision.objects.count(), Answer.objects.filter(kind="decision sheet").count()) == (1, 1)


def test_engineering_is_waited_for_unless_he_says_otherwise(shop: Shop, part: Piece) -> None:
    finding = measure(shop, part)
    ask_engineering(by=shop.lead, act_id=uuid.uuid4(), finding=finding, question="May it stay?")
    with pytest.raises(Refused, match="F-1 is with engineering and not answered"):
        say(shop, part, "reuse")
    assert Finding.objects.get().state == "open"
    engineering_answers(by=shop.lead, act_id=uuid.uuid4(), finding=finding, answer="Yes", from_whom="Ruun")
    say(shop, part, "reuse")
    assert Finding.objects.get().state == "decided"


def test_he_may_decide_before_engineering_and_it_is_kept_that_he_did(shop: Shop, part: Piece) -> None:
    ask_engineering(by=shop.lead, act_id=uuid.uuid4(), finding=measure(shop, part), question="May it stay?")
    say(shop, part, "reuse", before_engineering=True)
    assert Decision.objects.get().act.said["before_engineering"] is True


def test_no_decision_destroys_an_original_until_the_hand_over(shop: Shop, part: Piece) -> None:
    scrap = custody.single("scrap")
    say(shop, part, "scrap", scrap_twice=True)
    assert Holding.objects.get(piece=part, count__gt=0).holder == shop.shelf
    with pytest.raises(Refused, match="An original is kept as the pattern until the aircraft is handed over"):
        custody.lay_down(by=shop.lead, act_id=uuid.uuid4(), piece=part, to=scrap)
    assert [p.piece for p in patterns(shop.aircraft)] == [part]
    with pytest.raises(NotAllowed):
        hand_over(by=shop.mechanic, act_id=uuid.uuid4(), aircraft=shop.aircraft, day=timezone.localdate())
    early = timezone.localdate() - timedelta(days=400)
    with pytest.raises(Refused, match="before it arrived"):
        hand_over(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, day=early)
    hand_over(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, day=timezone.localdate())
    custody.lay_down(by=shop.lead, act_id=uuid.uuid4(), piece=part, to=scrap)
    assert check_ledger().balanced
    with pytest.raises(Refused, match="was handed over on"):
        hand_over(by=shop.lead, act_id=uuid.uuid4(), aircraft=Aircraft.objects.get(), day=date(2030, 1, 1))


def test_an_undecided_piece_with_a_finding_is_not_thrown_away_either(shop: Shop, part: Piece) -> None:
    make_finding(shop, "F-1", piece=part)
    with pytest.raises(Refused, match="kept as the pattern"):
        custody.lay_down(by=shop.lead, act_id=uuid.uuid4(), piece=part, to=custody.single("scrap"))


def test_a_reversal_takes_it_off_the_patterns(shop: Shop, part: Piece) -> None:
    say(shop, part, "remake")
    say(shop, part, "repair")
    assert patterns(shop.aircraft) == []


def test_the_queries_of_a_sheet_do_not_grow_with_findings_and_rows(shop: Shop, part: Piece) -> None:
    def count() -> int:
        with CaptureQueriesContext(connection) as seen:
            decision_sheet(part)
        return len(seen)

    def add(n: int) -> None:
        make_finding(shop, f"F-{n}", piece=part)
        row = make_row(shop, f"HB-0{n}", None, 2)
        Layer.objects.filter(row=row, number=1).update(part_no="6-11-010", material="dural")

    add(1)
    count()  # the first look fetches the single holders, once a process
    few = count()
    for n in (2, 3, 4):
        add(n)
    assert count() == few


def test_the_shop_hour_holds_from_its_day_and_the_lead_says_it(shop: Shop, part: Piece) -> None:
    day = timezone.localdate()
    reckon_choice(
        by=shop.lead, act_id=uuid.uuid4(), piece=part, kind="remake", typed={"hours": "40", "money": "300 EUR"}
    )
    assert not decision_sheet(part).choices.cells["remake"]["cost"].known

    def hour(typed: str, since: date, by: Person | None = None) -> None:
        say_shop_hour(by=by or shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, typed=typed, since=since)

    hour("62 EUR", day - timedelta(days=30))
    hour("70,50 eur", day + timedelta(days=30))
    assert decision_sheet(part).choices.cells["remake"]["cost"].value == pytest.approx(40 * 62 + 300)
    with pytest.raises(NotAllowed):
        hour("1 EUR", day, shop.mechanic)
    for wrong in ("0 EUR", "-5 EUR", "62", "EUR", "nan EUR", "62 EURO", "9999999 EUR"):
        with pytest.raises(Refused, match="cannot be read"):
            hour(wrong, day)
    assert ShopHourSaid.objects.count() == 2


def test_no_decision_without_the_shop_hour_it_rested_on(shop: Shop, part: Piece) -> None:
    """A new price of the hour is another sheet: who saw the old one is asked to look again."""
    before = decision_sheet(part).sha256
    day = timezone.localdate()
    say_shop_hour(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, typed="62 EUR", since=day)
    assert decision_sheet(part).sha256 != before


def test_the_alloy_somebody_reckons_says_the_heat_where_the_record_names_none(shop: Shop, part: Piece) -> None:
    """AZ63A castings: at most 300 F (T.O. 1-1A-9 para 4-46, read)."""
    Piece.objects.filter(pk=part.pk).update(material="Mg casting")
    assert not decision_sheet(Piece.objects.get(pk=part.pk)).choices.cells["reuse"]["heat"].known
    typed = {
        "old_material": "AZ63A-T6 casting",
        "old_thickness_mm": "9 mm",
        "material": "A356-T6",
        "inspection": "radiographic",
    }
    reckon_choice(by=shop.lead, act_id=uuid.uuid4(), piece=part, kind="substitute", typed=typed)
    sheet = decision_sheet(Piece.objects.get(pk=part.pk))
    assert sheet.choices.cells["reuse"]["heat"].value == pytest.approx((300 - 32) / 1.8)
    assert sheet.choices.substitution is not None
    assert sheet.choices.substitution.casting is not None
    assert sheet.choices.substitution.casting.factor == 1.25
    assert sheet.choices.cells["substitute"]["bends"].words == "A casting is not bent."
    with pytest.raises(Refused, match="write one of"):
        reckon_choice(by=shop.lead, act_id=uuid.uuid4(), piece=part, kind="substitute", typed={"inspection": "by ear"})
