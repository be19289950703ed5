"""Order rules act: a hard one stops a step everywhere, a soft one waits for a signed reason (calc/data/order_rules.csv)."""

import uuid
from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from tests.records.shop import Shop, make_part, make_shop
from tests.support.rows import make_steps
from witnessmark.records import guards
from witnessmark.records.actions.condition import finish_step
from witnessmark.records.actions.custody import send_out
from witnessmark.records.actions.jobs import say_of_job
from witnessmark.records.actions.leaving import Packed
from witnessmark.records.actions.route_reasons import sign_reason
from witnessmark.records.actions.route_written import say_route_facts, write_route
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.route_facts import facts_of, proposed_for
from witnessmark.records.models import (
    CalledOut,
    CertificateTimes,
    Job,
    Piece,
    RouteFact,
    RouteReason,
    ShipmentLine,
    ShrinkSeat,
    Step,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def part(shop: Shop, tag: str, *steps: tuple[str, str], material: str = "steel", mpa: float | None = 1300) -> Piece:
    made = make_part(shop, tag, shop.shelf)
    Piece.objects.filter(pk=made.pk).update(material=material, strength_mpa=mpa)
    make_steps(made, *steps)
    return Piece.objects.get(pk=made.pk)


def finish(shop: Shop, piece: Piece, number: int, hours_ago: float = 0) -> None:
    then = timezone.now() - timedelta(hours=hours_ago)
    step = Step.objects.get(piece=piece, number=number)
    finish_step(by=shop.mechanic, act_id=uuid.uuid4(), step=step, happened_at=then)


def sign(shop: Shop, piece: Piece, rule: str, number: int, **more: object) -> object:
    given = {"by": shop.mechanic, "reason": "the engineer's note of today", **more}
    return sign_reason(act_id=uuid.uuid4(), piece=piece, rule=rule, step_number=number, **given)  # type: ignore[arg-type]


def test_a_hard_rule_stops_the_step_and_names_its_document(shop: Shop) -> None:
    """MIL-STD-1501F 5.2.6 (read): an embrittlement bake follows the plating of hard steel."""
    piece = part(shop, "T1", ("clean", "sheet metal"), ("cadmium plate", "sheet metal"), ("prime", "painter"))
    finish(shop, piece, 1)  # what comes before the plating is not held
    with pytest.raises(Refused, match=r"hard rule.*MIL-STD-1501F 5\.2\.6"):
        finish(shop, piece, 2)
    assert Step.objects.get(piece=piece, number=2).done_act is None
    with pytest.raises(Refused, match="cannot be signed away"):
        sign(shop, piece, "R07", 2, by=shop.lead)


@pytest.mark.parametrize("status", ["started", "done"])
def test_a_hard_rule_stops_the_job_too(shop: Shop, status: str) -> None:
    piece = part(shop, "T1", ("cadmium plate", "sheet metal"), ("prime", "painter"))
    with pytest.raises(Refused, match="R07"):
        say_of_job(
            by=shop.mechanic, act_id=uuid.uuid4(), aircraft=shop.aircraft, key=f"piece:{piece.pk}:1", status=status
        )


def test_what_breaks_a_hard_rule_does_not_leave_for_that_step(shop: Shop) -> None:
    piece = part(shop, "T1", ("cadmium plate", "PL"), ("prime", "painter"))
    with pytest.raises(Refused, match=r"T1: Its route breaks a hard rule.*MIL-STD-1501F"):
        ship(shop, piece)
    assert not ShipmentLine.objects.exists()


def ship(shop: Shop, piece: Piece) -> None:
    send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="cadmium plate", pieces=[piece], number="S-1",
        sent_on=timezone.localdate(), packed=Packed(shop.lead, terms=((piece.pk, "bake not called out", shop.lead),)),
    )  # fmt: skip


def test_a_route_that_keeps_its_rules_leaves(shop: Shop) -> None:
    ship(shop, part(shop, "T1", ("cadmium plate", "PL"), ("bake", "PL"), ("chromate", "PL")))
    assert ShipmentLine.objects.get().piece.tag == "T1"


def test_a_soft_rule_of_plating_is_asked_before_it_leaves_and_one_of_a_test_when_its_report_is_read(shop: Shop) -> None:
    """Stress relief between grinding and plating (QQ-N-290 practice, quoted): soft while nobody says it was hardened."""
    ground = part(shop, "T1", ("machine", "sheet metal"), ("nickel plate", "PL"), ("bake", "PL"))
    with pytest.raises(Refused, match=r"R05.*Sign a reason"):
        ship(shop, ground)
    sign(shop, ground, "R05", 1)
    ship(shop, ground)
    test = part(shop, "T2", ("magnetic particle test", "PL"), mpa=600)
    send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="MPI", pieces=[test], number="S-2",
        sent_on=timezone.localdate(), packed=Packed(shop.lead),
    )  # fmt: skip
    assert ShipmentLine.objects.count() == 2


def test_a_soft_rule_asks_for_a_reason_that_is_signed_once(shop: Shop) -> None:
    """AC 43.13-1B 5-51 (read): demagnetised after the magnetic particle test; soft while no step says so."""
    piece = part(shop, "T1", ("magnetic particle test", "sheet metal"), ("put away", "sheet metal"), mpa=600)
    with pytest.raises(Refused, match="Sign a reason"):
        finish(shop, piece, 1)
    with pytest.raises(Refused, match="few words"):
        sign(shop, piece, "R14", 1, reason=" ")
    with pytest.raises(NotAllowed):
        sign(shop, piece, "R14", 1, by=shop.owner)
    sign(shop, piece, "R14", 1, reason="his report says demagnetised")
    with pytest.raises(Refused, match="signed for that already"):
        sign(shop, piece, "R14", 1)
    row = RouteReason.objects.get()
    assert (row.by, row.rule, row.step_name, row.hard) == (shop.mechanic, "R14", "magnetic particle test", False)
    finish(shop, piece, 1)
    assert Step.objects.get(piece=piece, number=1).done_act is not None


def test_a_coat_before_its_window_waits_for_hours_or_a_reason(shop: Shop) -> None:
    """USAF finish manual 5.6.2e (read): topcoat on epoxy primer from five hours; another primer has its own window."""
    epoxy = part(shop, "T1", ("epoxy primer", "painter"), ("topcoat", "painter"), material="clad dural", mpa=None)
    finish(shop, epoxy, 1, hours_ago=3)
    with pytest.raises(Refused, match="3 h after the primer; 5 h is the least"):
        finish(shop, epoxy, 2)
    other = part(shop, "T2", ("prime", "painter"), ("topcoat", "painter"), material="clad dural", mpa=None)
    finish(shop, other, 1, hours_ago=3)
    with pytest.raises(Refused, match="Sign a reason"):
        finish(shop, other, 2)
    sign(shop, other, "R21", 1, reason="its sheet says two hours")
    finish(shop, other, 2)


def test_what_is_behind_the_piece_is_signed_by_the_lead_alone(shop: Shop) -> None:
    """A topcoat that went on too early stays on: nobody's order of steps mends it."""
    steps = ("prime with epoxy primer", "painter"), ("topcoat", "painter"), ("measure", "painter")
    piece = part(shop, "T1", *steps, material="clad dural", mpa=None)
    finish(shop, piece, 1, hours_ago=3)
    act = Step.objects.get(piece=piece, number=1).done_act
    late = part(shop, "T9", ("measure", "painter"), mpa=600)
    finish(shop, late, 1)
    Step.objects.filter(piece=piece, number=2).update(done_act=Step.objects.get(piece=late).done_act)
    assert act is not None
    with pytest.raises(Refused, match="lead or an inspector signs"):
        finish(shop, piece, 3)
    with pytest.raises(NotAllowed, match="hard rule"):
        sign(shop, piece, "R21", 1)
    sign(shop, piece, "R21", 1, by=shop.lead)
    finish(shop, piece, 3)
    assert RouteReason.objects.get().hard


def test_what_was_signed_and_said_stays(shop: Shop) -> None:
    guarded = (RouteReason, RouteFact, CertificateTimes, ShrinkSeat, CalledOut)
    piece = part(shop, "T1", ("magnetic particle test", "sheet metal"), mpa=600)
    sign(shop, piece, "R14", 1)
    say_route_facts(by=shop.mechanic, act_id=uuid.uuid4(), piece=piece, facts={"bushes": True})
    for model, change in ((RouteReason, {"reason": "x"}), (RouteFact, {"holds": False})):
        with pytest.raises(IntegrityError, match="what was recorded stays"), transaction.atomic():
            model.objects.update(**change)  # type: ignore[attr-defined]
    assert {model._meta.db_table for model in guarded} <= set(guards.APPEND_ONLY)


def write(shop: Shop, piece: Piece, finish_: str, *work: str) -> dict[str, object]:
    steps = [step.name for step in proposed_for(piece, finish_, work).new]
    return write_route(by=shop.mechanic, act_id=uuid.uuid4(), piece=piece, finish=finish_, work=work, steps=steps)


def no(*facts: str) -> dict[str, bool | None]:
    return dict.fromkeys(facts, False)


def test_plating_waits_for_strength_and_for_what_nobody_said(shop: Shop) -> None:
    """Unknown is read neither as mild nor as hard: a hardness check is the next step (fact of trade, TRADE)."""
    piece = part(shop, "T1", mpa=None)
    with pytest.raises(Refused, match=r"strength is not recorded.*hardness check"):
        write(shop, piece, "cadmium plate")
    Piece.objects.filter(pk=piece.pk).update(strength_mpa=1300)
    piece.refresh_from_db()
    with pytest.raises(Refused, match="Nobody has said whether it is a closed tube"):
        write(shop, piece, "cadmium plate")
    say_route_facts(
        by=shop.mechanic, act_id=uuid.uuid4(), piece=piece, facts=no("closed tube", "spring") | {"case-hardened": None}
    )
    with pytest.raises(Refused, match="case-hardened"):
        write(shop, piece, "cadmium plate")
    say_route_facts(by=shop.mechanic, act_id=uuid.uuid4(), piece=piece, facts=no("case-hardened"))
    told = write(shop, piece, "cadmium plate")
    names = list(Step.objects.filter(piece=piece).values_list("name", flat=True))
    assert told["steps"] == len(names) and names.index("cadmium plate") < names.index("bake")
    assert "hardness check" not in names


def test_a_spring_and_an_unknown_material_get_no_plating_route(shop: Shop) -> None:
    spring = part(shop, "T1", material="spring steel", mpa=1500)
    assert next(f for f in facts_of(spring) if f.name == "spring").holds
    with pytest.raises(Refused, match="It is spring"):
        write(shop, spring, "zinc plate")
    bare = part(shop, "T2", material="", mpa=None)
    with pytest.raises(ValueError, match="needs a material"):
        proposed_for(bare, "prime", ())


def test_a_route_is_written_anew_and_what_is_done_stays(shop: Shop) -> None:
    piece = part(
        shop, "T1", ("document as found", "sheet metal"), ("clean", "sheet metal"), material="clad dural", mpa=None
    )
    finish(shop, piece, 1)
    told = write(shop, piece, "prime")
    assert told["kept"] == 1 and told["removed"] == ["clean"]
    first = Step.objects.get(piece=piece, number=1)
    assert first.done_act is not None
    names = list(Step.objects.filter(piece=piece).order_by("number").values_list("name", flat=True))
    assert names[:2] == ["document as found", "clean"] and names.count("document as found") == 1
    assert Job.objects.filter(piece=piece, withdrawn=False).count() == len(names) - 1
    with pytest.raises(Refused, match="record has changed since"):
        write_route(by=shop.mechanic, act_id=uuid.uuid4(), piece=piece, finish="paint", work=(), steps=["clean"])
    write(shop, piece, "paint")
    assert "paint" in Step.objects.filter(piece=piece).values_list("name", flat=True)
    assert Step.objects.get(piece=piece, number=1).done_act is not None
