"""Sending refuses what must not go, asks a named person for terms, and what comes back waits for its papers."""

import uuid
from datetime import date
from decimal import Decimal

import pytest

from tests.records.shop import Shop, make_bag, make_part, make_place, make_shop
from tests.support.rows import make_steps
from witnessmark.records.actions import certificates, leaving
from witnessmark.records.actions.condition import decide
from witnessmark.records.actions.custody import put_back, receive_back, send_out
from witnessmark.records.actions.saying import NotAllowed, Refused, SaidOtherwise
from witnessmark.records.lookups.leaving import judge
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.lookups.packing import pack
from witnessmark.records.models import (
    Act,
    Belongs,
    Certificate,
    DecisionKind,
    Holding,
    Move,
    Person,
    Piece,
    Quarantine,
    Role,
    Shipment,
    Step,
    TermTaken,
)

pytestmark = pytest.mark.django_db
DAY = date(2026, 5, 12)


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def steel(shop: Shop, tag: str = "0118", strength: float | None = 1100.0, **more: object) -> Piece:
    part = make_part(shop, tag, shop.shelf)
    Piece.objects.filter(pk=part.pk).update(material="forged steel", strength_mpa=strength, mass_g=815, **more)
    part.refresh_from_db()
    return part


def send(shop: Shop, *pieces: Piece, process: str = "Cadmium plate", number: str = "S-1", **more: object) -> Shipment:
    send_out(
        by=shop.mechanic, act_id=uuid.uuid4(), vendor=shop.vendor, process=process, pieces=list(pieces), number=number,
        sent_on=DAY, **more,  # type: ignore[arg-type]
    )  # fmt: skip
    return Shipment.objects.get(number=number)


def refused(shop: Shop, words: str, *pieces: Piece, **more: object) -> None:
    before = Move.objects.count()
    with pytest.raises(Refused, match=words):
        send(shop, *pieces, **more)  # type: ignore[arg-type]
    assert Move.objects.count() == before
    assert not Shipment.objects.filter(number="S-1").exists()
    assert check_ledger().balanced


def test_the_action_refuses_magnesium_in_a_steel_bath(shop: Shop) -> None:
    casting = make_part(shop, "0042", shop.shelf)
    Piece.objects.filter(pk=casting.pk).update(material="elektron-type Mg casting")
    casting.refresh_from_db()
    refused(shop, "0042: A steel bath dissolves magnesium", steel(shop), casting)


def test_a_bolt_that_waits_for_its_crack_test_stays_off_the_platers_sheet(shop: Shop) -> None:
    bolts = steel(shop, "L-063")
    make_steps(bolts, ("Crack test", "TH"), ("Plate", "PL"))
    refused(shop, "crack test first", bolts)
    assert judge([bolts], shop.vendor, "Cadmium plate").must_not[0].rule == "waits for its crack test"
    bolts.steps.filter(number=1).update(done_act=Move.objects.earliest("id").act)
    assert send(shop, bolts, number="S-2").number == "S-2"


def test_a_term_is_ticked_by_a_person_of_the_shop_and_kept(shop: Shop) -> None:
    spring = steel(shop, "0228", name="Tailwheel spring, leaf")
    refused(shop, "It goes only so: No acid", spring)
    told = leaving.Packed(shop.mechanic, "Own basket.", ((spring.pk, "spring", shop.owner),))
    refused(shop, "Owner cannot answer", spring, packed=told)
    told = leaving.Packed(shop.mechanic, "Own basket.", ((spring.pk, "spring", shop.lead),))
    shipment = send(shop, spring, packed=told)
    term = TermTaken.objects.get()
    assert (term.by, term.rule, term.status) == (shop.lead, "spring", "read")
    assert shipment.packing.packed_by == shop.mechanic
    assert shipment.packing.instruction == "Own basket."


def test_magnet_and_scales_bar_what_is_not_what_the_record_says(shop: Shop) -> None:
    fitting = steel(shop)
    told = leaving.read_material(
        by=shop.mechanic, act_id=uuid.uuid4(), piece=fitting, magnet="none", shape="plate",
        dimensions_mm=(100.0, 50.0, 10.0), mass_one_g=138.0,
    )  # fmt: skip
    assert told["agrees"] is False
    refused(shop, "not steel. It could be aluminium", fitting)
    leaving.read_material(by=shop.mechanic, act_id=uuid.uuid4(), piece=fitting, magnet="sticks")
    assert send(shop, fitting).lines.count() == 1


@pytest.mark.parametrize("kind", [DecisionKind.SCRAP, DecisionKind.REMAKE, DecisionKind.SUBSTITUTE])
def test_an_original_that_gives_way_leaves_on_a_persons_word_and_does_not_go_back(shop: Shop, kind: str) -> None:
    """A cracked fitting that is kept as the pattern is not plated and fitted by mistake. Fact of the trade."""
    part, place = steel(shop), make_place(shop, "6-61-020")
    Belongs.objects.create(piece=part, place=place, act=Act.objects.latest("pk"))
    make_steps(part, ("Plate", shop.vendor.code))
    assert [bar.rule for bar in judge([part], shop.vendor, "Crack test").terms] == []
    decide(by=shop.lead, act_id=uuid.uuid4(), piece=part, kind=kind, reason="crack 4 mm", scrap_twice=True)
    (bar,) = judge([part], shop.vendor, "Crack test").terms
    assert (bar.rule, bar.why.split(".")[0]) == ("gives way", f"It is decided: {kind}")
    with pytest.raises(Refused, match="It is the new one that leaves"):
        send_out(
            by=shop.lead,
            act_id=uuid.uuid4(),
            vendor=shop.vendor,
            process="Crack test",
            pieces=[part],
            number="S-9",
            sent_on=DAY,
            packed=leaving.Packed(shop.lead),
        )
    with pytest.raises(Refused, match=r"does not go back on\. Its route stands at step 1 of 1"):
        put_back(by=shop.lead, act_id=uuid.uuid4(), piece=part, place=place)
    Step.objects.filter(piece=part).update(done_act=Act.objects.latest("pk"))
    if kind == DecisionKind.SCRAP:
        with pytest.raises(Refused, match="decide again first"):
            put_back(by=shop.lead, act_id=uuid.uuid4(), piece=part, place=place)
    else:  # what was remade has gone its whole route
        put_back(by=shop.lead, act_id=uuid.uuid4(), piece=part, place=place)


def test_no_bath_for_what_nobody_knows_the_material_of(shop: Shop) -> None:
    part = steel(shop)
    Piece.objects.filter(pk=part.pk).update(material="")
    part.refresh_from_db()
    assert "material unknown" in [bar.rule for bar in judge([part], shop.vendor, "Cadmium plate").terms]
    assert not judge([part], shop.vendor, "Overhaul").terms


def test_a_reading_that_cannot_be_is_refused(shop: Shop) -> None:
    fitting = steel(shop)
    with pytest.raises(Refused, match="Nothing was tried"):
        leaving.read_material(by=shop.lead, act_id=uuid.uuid4(), piece=fitting, magnet="not tried")
    with pytest.raises(Refused, match="needs 3 dimensions"):
        leaving.read_material(
            by=shop.lead, act_id=uuid.uuid4(), piece=fitting, magnet="none", shape="plate", dimensions_mm=(1.0,)
        )
    with pytest.raises(NotAllowed):
        leaving.read_material(by=shop.owner, act_id=uuid.uuid4(), piece=fitting, magnet="none")


def test_what_a_person_looked_at_goes_before_a_word(shop: Shop) -> None:
    strut = steel(shop, "0121", name="Strut, tube")
    refused(shop, "Vented and rinsed", strut)
    leaving.say_nature(by=shop.mechanic, act_id=uuid.uuid4(), piece=strut, trait="closed", holds=False)
    assert send(shop, strut).lines.count() == 1
    with pytest.raises(Refused, match="nothing that is asked"):
        leaving.say_nature(by=shop.mechanic, act_id=uuid.uuid4(), piece=strut, trait="pretty", holds=True)


def test_the_price_is_worked_out_and_kept_with_the_shipment(shop: Shop) -> None:
    leaving.say_price(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="", currency="eur", said_on=DAY,
        least_charge=Decimal(5), per_kg=Decimal(10), per_piece=Decimal(1),
    )  # fmt: skip
    shipment = send(shop, steel(shop))
    assert (shipment.packing.price, shipment.packing.currency) == (Decimal("9.15"), "EUR")
    with pytest.raises(Refused, match="no currency"):
        leaving.say_price(
            by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="", currency="€", said_on=DAY,
            per_kg=Decimal(1),
        )  # fmt: skip
    with pytest.raises(Refused, match="one figure or more"):
        leaving.say_price(
            by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="", currency="EUR", said_on=DAY
        )


def come_back(shop: Shop, shipment: Shipment, piece: Piece, count: int = 1) -> None:
    receive_back(
        by=shop.mechanic, act_id=uuid.uuid4(), shipment=shipment, counts={piece.pk: count}, to=shop.box, back_on=DAY
    )


def test_what_comes_back_without_its_papers_is_not_fitted_and_not_sent_on(shop: Shop) -> None:
    place = make_place(shop, "6-51-020")
    fitting = steel(shop)
    shipment = send(shop, fitting)
    assert sorted(shipment.certificates.values_list("kind", flat=True)) == ["conformity"]
    certificates.expect_certificate(by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, kind="bake")
    come_back(shop, shipment, fitting)
    with pytest.raises(Refused, match="in quarantine and cannot be fitted"):
        put_back(by=shop.mechanic, act_id=uuid.uuid4(), piece=fitting, place=place)
    with pytest.raises(Refused, match="in quarantine and cannot be sent on"):
        send(shop, fitting, process="MPI", number="S-2")
    conformity, bake = shipment.certificates.get(kind="conformity"), shipment.certificates.get(kind="bake")
    mild = certificates.BakeTimes("MIL-STD-1501F")  # 1100 MPa lies below its 180 ksi (read): no bake is called out
    for paper, lifted, times in ((conformity, 0, None), (bake, 1, mild)):
        told = certificates.certificate_came(
            by=shop.mechanic, act_id=uuid.uuid4(), certificate=paper, came_on=DAY, number="7", times=times
        )
        assert told["lifted"] == lifted
    put_back(by=shop.mechanic, act_id=uuid.uuid4(), piece=fitting, place=place)
    assert Holding.objects.get(piece=fitting, count=1).holder == place.holder


def test_an_inspector_lets_out_of_quarantine_with_a_reason_and_a_mechanic_does_not(shop: Shop) -> None:
    fitting = steel(shop)
    shipment = send(shop, fitting)
    come_back(shop, shipment, fitting)
    held = Quarantine.objects.get()
    inspector = Person.objects.create(name="Inspector", role=Role.INSPECTOR)
    with pytest.raises(NotAllowed):
        certificates.lift_quarantine(by=shop.mechanic, act_id=uuid.uuid4(), quarantine=held, why="x")
    with pytest.raises(Refused, match="with a reason"):
        certificates.lift_quarantine(by=inspector, act_id=uuid.uuid4(), quarantine=held, why=" ")
    certificates.lift_quarantine(by=inspector, act_id=uuid.uuid4(), quarantine=held, why="Read by telephone, letter 12")
    with pytest.raises(Refused, match="out of quarantine already"):
        certificates.lift_quarantine(by=inspector, act_id=uuid.uuid4(), quarantine=held, why="again")
    held.refresh_from_db()
    assert held.lifted_why == "Read by telephone, letter 12"


def test_a_paper_needs_a_number_or_a_picture_and_comes_once(shop: Shop) -> None:
    shipment = send(shop, steel(shop))
    paper = shipment.certificates.get()
    with pytest.raises(Refused, match="number or a picture"):
        certificates.certificate_came(by=shop.lead, act_id=uuid.uuid4(), certificate=paper, came_on=DAY)
    act_id = uuid.uuid4()
    for _ in range(2):  # sent twice is done once
        certificates.certificate_came(by=shop.lead, act_id=act_id, certificate=paper, came_on=DAY, number="C-1")
    with pytest.raises(Refused, match="here already"):
        certificates.certificate_came(by=shop.lead, act_id=uuid.uuid4(), certificate=paper, came_on=DAY, number="C-2")
    assert Certificate.objects.get().number == "C-1"


def test_a_bag_received_twice_is_refused_and_sent_twice_is_done_once(shop: Shop) -> None:
    bag = make_bag(shop, "L-016", shop.shelf, 88)
    shipment = send(shop, bag, process="Count")
    act_id = uuid.uuid4()
    said = {"by": shop.mechanic, "shipment": shipment, "to": shop.box, "back_on": DAY}
    for _ in range(2):
        receive_back(act_id=act_id, counts={bag.pk: 60}, **said)  # type: ignore[arg-type]
    with pytest.raises(SaidOtherwise):
        receive_back(act_id=act_id, counts={bag.pk: 28}, **said)  # type: ignore[arg-type]
    with pytest.raises(Refused, match="60 of them came before, 60 cannot have come back"):
        receive_back(act_id=uuid.uuid4(), counts={bag.pk: 60}, **said)  # type: ignore[arg-type]
    assert {h.holder.name: h.count for h in Holding.objects.filter(piece=bag, count__gt=0)} == {
        "box 7": 60,
        "Plater": 28,
    }
    assert check_ledger().balanced


def test_packing_asks_a_number_of_questions_that_does_not_grow(shop: Shop, django_assert_max_num_queries) -> None:  # type: ignore[no-untyped-def]
    for n in range(12):
        make_steps(steel(shop, f"{n:04}"), ("Cadmium plate", "PL"))
    with django_assert_max_num_queries(18):
        seen = pack(shop.vendor, "Cadmium plate", None, [])
    assert len(seen.lines) == 12
    assert seen.totals is not None
    assert seen.totals.count == 12
