"""Heads measured, families added, and the risk that holds an order until a named person takes it."""

import uuid
from datetime import date
from pathlib import Path

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.records.shop import Shop, make_shop
from tests.support.rows import make_row, make_size
from witnessmark.exchange.load import load
from witnessmark.records.actions.buying import order_leaves
from witnessmark.records.actions.rows import look_at_row
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.actions.survey import (
    accept_survey_risk,
    add_size,
    measure_head,
    say_structure,
    set_unseen_limit,
)
from witnessmark.records.lookups.catalogue import families, what_is_it
from witnessmark.records.lookups.orders import rivet_order
from witnessmark.records.lookups.survey import row_heads, survey
from witnessmark.records.models import Act, Answer, AnswerReliedOn, FastenerSize, HoleReading, MeasuredSize, Order, Row

pytestmark = pytest.mark.django_db
FIGURES = {"driven_shank_mm": "3.11", "head_mm": "5.2", "form": "round", "head_height_mm": "1.8"}


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    make_row(shop, "C2", make_size(shop))
    return shop


def row(mark: str = "C2") -> Row:
    return Row.objects.select_related("place").get(place__mark=mark)


def measure(shop: Shop, hole: int, act_id: uuid.UUID | None = None, **typed: str) -> dict[str, object]:
    return measure_head(by=shop.mechanic, act_id=act_id or uuid.uuid4(), row=row(), hole=hole, typed=typed or FIGURES)


def leave(shop: Shop) -> dict[str, object]:
    return order_leaves(
        by=shop.lead,
        act_id=uuid.uuid4(),
        aircraft=shop.aircraft,
        vendor=shop.vendor,
        number="O-1",
        ordered_on=date(2026, 5, 15),
    )


def test_a_head_is_kept_with_its_hole_its_layer_and_its_uncertainty(shop: Shop) -> None:
    act_id = uuid.uuid4()
    for _ in range(2):
        measure(shop, 5, act_id)
    assert HoleReading.objects.count() == 4
    shank = HoleReading.objects.get(what="driven_shank_mm")
    assert (shank.hole.number, shank.layer_name, shank.value_mm, shank.uncertainty_mm) == (5, "sheet 1", 3.11, 0.03)
    assert HoleReading.objects.get(what="form").word == "round"
    heads = row_heads(row())
    assert heads.more == 2 and heads.next_hole == 1
    assert heads.names[0] in ("DIN 660 3", "metric snap 3")


def test_an_angle_is_kept_in_degrees(shop: Shop) -> None:
    measure(shop, 1, head_deg="119", head_mm="6.3")
    read = HoleReading.objects.get(what="head_deg")
    assert (read.value_mm, read.value_deg, read.uncertainty_deg) == (None, 119.0, 2.0)


@pytest.mark.parametrize(
    ("hole", "typed", "why"),
    [
        (5, {"head_mm": "0"}, "above zero"),
        (5, {"head_mm": "-3"}, "above zero"),
        (5, {"hole_mm": "3.2 in"}, "was it read in mm"),
        (5, {"head_deg": "181"}, "between 40 and 180"),
        (5, {"hole_mm": "3.1", "head_mm": "2.9"}, "not larger than"),
        (5, {"head_mm": "four"}, "Cannot read"),
        (5, {"head_mm": "  "}, "Nothing was measured"),
        (0, {"head_mm": "5.2"}, "holes 1 to 84"),
        (85, {"head_mm": "5.2"}, "holes 1 to 84"),
    ],
)
def test_what_cannot_be_true_is_refused_and_the_row_keeps_its_place(
    shop: Shop, hole: int, typed: dict[str, str], why: str
) -> None:
    measure(shop, 1)
    before = row_heads(row())
    with pytest.raises(Refused, match=why):
        measure(shop, hole, **typed)
    assert HoleReading.objects.count() == 4
    assert row_heads(row()) == before


def test_the_owner_measures_nothing(shop: Shop) -> None:
    with pytest.raises(NotAllowed):
        measure_head(by=shop.owner, act_id=uuid.uuid4(), row=row(), hole=1, typed=FIGURES)


def test_three_heads_that_agree_are_enough_and_one_that_does_not_asks_for_more(shop: Shop) -> None:
    for hole in (1, 84, 42):
        measure(shop, hole)
    assert (row_heads(row()).more, row_heads(row()).agree) == (0, True)
    measure(shop, 20, driven_shank_mm="4.1", head_mm="7.0", form="round", head_height_mm="2.4")
    heads = row_heads(row())
    assert heads.more == 2 and not heads.agree and heads.next_hole is not None


def test_a_family_added_from_measurement_is_a_candidate_from_then_on(shop: Shop) -> None:
    figures = {"hole_mm": 3.45, "head_mm": 5.4, "head_deg": 110.0, "form": "flush"}
    assert what_is_it(figures).is_none
    add_size(
        by=shop.mechanic,
        act_id=uuid.uuid4(),
        code="YARD-3.35",
        family="the yard's own",
        form="flush",
        typed={"shank_mm": "3.35", "head_mm": "5.4", "head_deg": "110"},
        measured_on="twelve from the keel box",
    )
    assert what_is_it(figures).word == "YARD-3.35"
    assert families()[0].own and families()[0].sizes[0].source == "twelve from the keel box"


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"code": "M8x1"}, "in the catalogue already"),
        ({"code": " "}, "what it is called"),
        ({"form": "square"}, "no kind of head"),
        ({"typed": {"shank_mm": "3.35", "head_mm": "5.4"}}, "Missing: head angle"),
        ({"typed": {"shank_mm": "3.35", "head_mm": "3.0", "head_deg": "110"}}, "not larger than"),
        ({"form": "thread", "typed": {"shank_mm": "5"}}, "Missing: pitch"),
    ],
)
def test_a_family_that_cannot_be_is_refused(shop: Shop, said: dict[str, object], why: str) -> None:
    good: dict[str, object] = {
        "code": "Y-1",
        "family": "own",
        "form": "flush",
        "typed": {"shank_mm": "3.35", "head_mm": "5.4", "head_deg": "110"},
        "measured_on": "",
    }
    with pytest.raises(Refused, match=why):
        add_size(by=shop.mechanic, act_id=uuid.uuid4(), **{**good, **said})  # type: ignore[arg-type]
    assert not MeasuredSize.objects.exists() and not Act.objects.filter(verb="add_size").exists()


def test_a_size_is_added_once_under_its_name(shop: Shop) -> None:
    act_id = uuid.uuid4()
    said = {
        "code": "Y-5",
        "family": "own",
        "form": "round",
        "typed": {"shank_mm": "5.5", "head_mm": "9"},
        "measured_on": "",
    }
    for _ in range(2):
        add_size(by=shop.mechanic, act_id=act_id, **said)  # type: ignore[arg-type]
    with pytest.raises(Refused, match="in the record already"):
        add_size(by=shop.mechanic, act_id=uuid.uuid4(), **{**said, "code": "y-5"})  # type: ignore[arg-type]
    assert MeasuredSize.objects.count() == 1


def test_an_order_waits_until_a_named_person_accepts_what_is_open(shop: Shop) -> None:
    make_row(shop, "HB-12", None, looked_at="under paint")
    with pytest.raises(Refused, match=r"held: 1 rows are not looked at \(HB-12"):
        leave(shop)
    with pytest.raises(NotAllowed):
        accept_survey_risk(by=shop.mechanic, act_id=uuid.uuid4(), aircraft=shop.aircraft, reason="in a hurry")
    with pytest.raises(Refused, match="Say why"):
        accept_survey_risk(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, reason=" ")
    accept_survey_risk(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, reason="HB-12 is bought by itself")
    seen = survey(shop.aircraft)
    assert seen.accepted is not None and seen.accepted.by == "Lead" and not seen.holds
    frozen = AnswerReliedOn.objects.get().answer
    assert frozen.kind == "survey risk" and frozen.result["no_claim"] == ["HB-12 left"]
    order = rivet_order(shop.aircraft)
    assert [row.name for row in order.not_looked_at] == ["HB-12 left"] and not order.held and order.holding == ()
    make_row(shop, "HB-13", None, looked_at="no")
    assert rivet_order(shop.aircraft).held, "a row that was added since is not covered by what was accepted"
    accept_survey_risk(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, reason="both bought by themselves")
    leave(shop)
    assert Order.objects.get().number == "O-1"


def test_what_was_accepted_lapses_when_a_new_size_turns_up_or_a_row_is_added(shop: Shop) -> None:
    make_row(shop, "HB-12", None, looked_at="no")
    make_row(shop, "HB-13", None, looked_at="no")
    accept_survey_risk(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, reason="the run closes on Friday")
    found = row("HB-12")
    found.place.wants_size = FastenerSize.objects.get(code="VN12-3.0")
    found.place.save()
    look_at_row(by=shop.mechanic, act_id=uuid.uuid4(), row=found)
    assert not survey(shop.aircraft).holds, "a row that turned out like the others leaves less open than was accepted"
    found.place.wants_size = make_size(shop, "VN12-3.5", 3.5)
    found.place.save()
    assert survey(shop.aircraft).holds
    found.place.wants_size = FastenerSize.objects.get(code="VN12-3.0")
    found.place.save()
    make_row(shop, "HB-14", None, looked_at="no")
    assert survey(shop.aircraft).holds


def test_the_lead_may_accept_with_the_order_and_it_is_frozen_too(shop: Shop) -> None:
    make_row(shop, "HB-12", None, looked_at="no")
    order_leaves(
        by=shop.lead,
        act_id=uuid.uuid4(),
        aircraft=shop.aircraft,
        vendor=shop.vendor,
        number="O-1",
        ordered_on=date(2026, 5, 15),
        risk_accepted="bought later",
    )
    assert set(Answer.objects.values_list("kind", flat=True)) == {"rivet order", "survey risk"}


def test_the_limit_and_the_structure_are_said_by_act(shop: Shop) -> None:
    set_unseen_limit(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, limit=0.05)
    assert survey(shop.aircraft).risk.limit == 0.05
    with pytest.raises(Refused, match=r"between 0\.5 and 50"):
        set_unseen_limit(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, limit=0.9)
    assert survey(shop.aircraft).structure_of == {"C2 left": "spar"}
    say_structure(by=shop.mechanic, act_id=uuid.uuid4(), row=row(), structure="rib")
    assert survey(shop.aircraft).structure_of == {"C2 left": "rib"}
    with pytest.raises(Refused, match="none of"):
        say_structure(by=shop.mechanic, act_id=uuid.uuid4(), row=row(), structure="roof")


def test_queries_of_the_survey_do_not_grow_with_the_rows(shop: Shop) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            survey(shop.aircraft)
        return len(seen)

    few = queries()
    for number in range(30):
        make_row(shop, f"R{number}", FastenerSize.objects.get(), holes=4, looked_at="no" if number % 3 else "yes")
    assert queries() == few <= 6


def test_a_list_of_measured_sizes_is_loaded_once(tmp_path: Path, shop: Shop) -> None:
    (tmp_path / "measured_sizes.csv").write_text(
        "code,family,form,shank,head,head_deg,head_height,pitch,across_flats,measured_on\n"
        "YARD-3.35,own,flush,3.35,5.4,110,,,,keel box\n"
        "YARD-T5,own thread,thread,5.0,,,,9.0 over 10,,bag\n"
        "BAD-1,own,flush,3.35,3.0,110,,,,\n"
        "BAD-2,own,flush,0,5.4,110,,,,\n"
        "BAD-3,own,flush,3.2 in,5.4,110,,,,\n",
        encoding="utf-8",
    )
    first = load(tmp_path, by=shop.lead)
    assert first.outcomes[0].counts["taken"] == 2 and first.outcomes[0].counts["refused"] == 3
    said = " ".join(line.words for line in first.outcomes[0].lines)
    assert "not larger than" in said and "above zero" in said and "was it read in mm" in said
    again = load(tmp_path, by=shop.lead)
    assert again.outcomes[0].counts["same"] == 2
    assert sorted(MeasuredSize.objects.values_list("code", flat=True)) == ["YARD-3.35", "YARD-T5"]
    assert what_is_it({"shank_mm": 4.93, "pitch_mm": 0.9}).word == "YARD-T5"
