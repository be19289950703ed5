"""Findings, decisions and steps: who may say them, what they need, and that saying twice does once."""

import uuid
from datetime import date

import pytest

from tests.records.shop import Shop, make_part, make_shop
from tests.support.rows import make_finding, make_steps
from witnessmark.records.actions.condition import add_finding, decide, finish_step
from witnessmark.records.actions.saying import NotAllowed, Refused, SaidOtherwise
from witnessmark.records.models import Act, Decision, Finding, Piece, Step

pytestmark = pytest.mark.django_db
DAY = date(2026, 5, 12)


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def part(shop: Shop) -> Piece:
    part = make_part(shop, "0007", shop.shelf)
    make_steps(part, ("Strip", "sheet metal"), ("Prime", "sheet metal"))
    return part


def test_a_finding_gets_the_next_number(shop: Shop, part: Piece) -> None:
    make_finding(shop, "F-72", piece=part)
    told = add_finding(by=shop.mechanic, act_id=uuid.uuid4(), piece=part, what="Crack at the lug", seen_on=DAY)
    assert told["finding"] == "F-73"
    finding = Finding.objects.get(number="F-73")
    assert (finding.piece, finding.state, finding.seen_by) == (part, "open", "Mechanic")
    assert "crack" in finding.words
    assert Act.objects.get(pk=finding.act_id).verb == "add_finding"


def test_a_finding_sent_twice_is_one(shop: Shop, part: Piece) -> None:
    act_id = uuid.uuid4()
    said = {"piece": part, "what": "Crack", "seen_on": DAY}
    first = add_finding(by=shop.mechanic, act_id=act_id, **said)  # type: ignore[arg-type]
    assert add_finding(by=shop.mechanic, act_id=act_id, **said) == first  # type: ignore[arg-type]
    with pytest.raises(SaidOtherwise):
        add_finding(by=shop.mechanic, act_id=act_id, piece=part, what="Dent", seen_on=DAY)
    assert Finding.objects.count() == 1


def test_only_the_lead_decides(shop: Shop, part: Piece) -> None:
    for person in (shop.mechanic, shop.owner):
        with pytest.raises(NotAllowed):
            decide(by=person, act_id=uuid.uuid4(), piece=part, kind="reuse", reason="clear")
    assert not Decision.objects.exists()


def test_a_decision_settles_the_open_findings_and_a_reversal_is_a_new_one(shop: Shop, part: Piece) -> None:
    make_finding(shop, "F-1", piece=part)
    decide(by=shop.lead, act_id=uuid.uuid4(), piece=part, kind="repair", reason="blend it")
    assert Finding.objects.get().state == "decided"
    decide(by=shop.lead, act_id=uuid.uuid4(), piece=part, kind="remake", reason="too thin after blending")
    assert [d.kind for d in part.decisions.order_by("pk")] == ["repair", "remake"]


@pytest.mark.parametrize(
    ("kind", "reason", "why"),
    [
        ("scrap", "cracked", "Scrapping is asked twice"),
        ("reuse", " ", "A decision has a reason"),
        ("weld", "cracked", "is no decision"),
    ],
)
def test_what_a_decision_needs(shop: Shop, part: Piece, kind: str, reason: str, why: str) -> None:
    with pytest.raises(Refused, match=why):
        decide(by=shop.lead, act_id=uuid.uuid4(), piece=part, kind=kind, reason=reason)
    assert not Decision.objects.exists()


def test_steps_go_in_order_and_not_past_an_open_finding(shop: Shop, part: Piece) -> None:
    first, second = Step.objects.order_by("number")
    with pytest.raises(Refused, match="'Strip' comes before 'Prime'"):
        finish_step(by=shop.mechanic, act_id=uuid.uuid4(), step=second)
    make_finding(shop, "F-1", piece=part)
    with pytest.raises(Refused, match="F-1 on this piece has no decision"):
        finish_step(by=shop.mechanic, act_id=uuid.uuid4(), step=first)
    decide(by=shop.lead, act_id=uuid.uuid4(), piece=part, kind="reuse", reason="cosmetic")
    act_id = uuid.uuid4()
    finish_step(by=shop.mechanic, act_id=act_id, step=first)
    finish_step(by=shop.mechanic, act_id=act_id, step=first)
    with pytest.raises(Refused, match="done already"):
        finish_step(by=shop.mechanic, act_id=uuid.uuid4(), step=first)
    assert Step.objects.exclude(done_act=None).count() == 1


def test_an_open_finding_elsewhere_holds_nothing(shop: Shop, part: Piece) -> None:
    make_finding(shop, "F-1", piece=make_part(shop, "0008", shop.shelf))
    finish_step(by=shop.mechanic, act_id=uuid.uuid4(), step=Step.objects.get(piece=part, number=1))
    assert Step.objects.filter(piece=part).exclude(done_act=None).count() == 1
