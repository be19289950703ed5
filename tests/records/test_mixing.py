"""Bags mix, come back in one bucket and go home; nothing is lost on the way (facts of the ledger; no outside source)."""

import uuid
from datetime import date

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from tests.records.shop import Shop, make_bag, make_part, make_place, make_shop
from tests.records.test_at_once import all_at_once
from witnessmark.records.actions import custody
from witnessmark.records.actions.claims import make_claim, settle_claim
from witnessmark.records.actions.mixing import Told, given, mix_at_vendor, receive_mixed, tell_apart
from witnessmark.records.actions.readings import read_pieces
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.models import (
    Act,
    Belongs,
    Claim,
    Finding,
    Holding,
    Mix,
    Move,
    Piece,
    PieceReading,
    Shipment,
    ToldApart,
)

DAY = date(2026, 5, 12)


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop()


def sent(shop: Shop, *pieces: Piece, number: str = "S-1") -> Shipment:
    custody.send_out(
        by=shop.lead,
        act_id=uuid.uuid4(),
        vendor=shop.vendor,
        process="measure",
        pieces=list(pieces),
        number=number,
        sent_on=date(2026, 5, 1),
    )
    return Shipment.objects.get(number=number)


def received(shop: Shop, shipment: Shipment, count: int, **more: object) -> dict[str, object]:
    return receive_mixed(
        by=shop.lead,
        act_id=uuid.uuid4(),
        shipment=shipment,
        count=count,
        to=shop.shelf,
        back_on=DAY,
        **more,  # type: ignore[arg-type]
    )


def told(shop: Shop, shipment: Shipment, *each: Told) -> dict[str, object]:
    return tell_apart(by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, told=list(each), to=shop.box, back_on=DAY)


def held(piece: Piece) -> dict[str, int]:
    return {h.holder.name: h.count for h in Holding.objects.filter(piece=piece, count__gt=0).select_related("holder")}


def items(bag: Piece | None, first: int, last: int) -> list[Told]:
    return [Told(str(n), bag) for n in range(first, last)]


def test_two_bags_come_back_in_one_bucket_and_the_short_one_becomes_a_finding(shop: Shop) -> None:
    a, b = make_bag(shop, "L-014", shop.shelf, 46), make_bag(shop, "L-017", shop.shelf, 24)
    shipment = sent(shop, a, b)
    assert received(shop, shipment, 69, mass_g=1786.0)["still_out"] == 1
    mixed = Mix.objects.get().piece
    assert held(mixed) == {"Plater": 1, "C2": 69} and held(a) == {} and held(b) == {}
    assert told(shop, shipment, *items(a, 0, 45))["left_in_bucket"] == 24
    done = told(shop, shipment, *items(b, 100, 124))
    assert done["left_in_bucket"] == 0
    assert held(a) == {"box 7": 45, "Plater": 1} and held(b) == {"box 7": 24} and held(mixed) == {}
    finding = Finding.objects.get()
    assert finding.piece == a and "Plater" in finding.what and "S-1" in finding.what
    claim = Claim.objects.get()
    assert (claim.kind, claim.piece, claim.count, claim.finding) == ("short", a, 1, finding)
    assert check_ledger().balanced
    custody.receive_back(
        by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, counts={a.pk: 1}, to=shop.box, back_on=DAY
    )
    assert held(a) == {"box 7": 46} and Shipment.objects.get().back_on == DAY


def test_the_hole_of_the_short_one_is_named_when_the_others_are_told_by_place(shop: Shop) -> None:
    places = [make_place(shop, f"6-41-20{n}") for n in range(3)]
    bag = make_bag(shop, "L-1", shop.shelf, 3)
    act = Act.objects.first()
    Belongs.objects.bulk_create([Belongs(piece=bag, place=p, act=act) for p in places])
    shipment = sent(shop, bag)
    received(shop, shipment, 2)
    done = told(shop, shipment, Told("1", bag, places[0]), Told("2", bag, places[2]))
    assert done["short"][0]["places"] == [str(places[1])]  # type: ignore[index]
    assert str(places[1]) in Finding.objects.get().what


def test_a_stranger_comes_from_nowhere_and_ours_stays_with_the_vendor(shop: Shop) -> None:
    a = make_bag(shop, "A", shop.shelf, 5)
    shipment = sent(shop, a)
    received(shop, shipment, 5)
    told(shop, shipment, *items(a, 0, 4), Told("9", None))
    assert held(a) == {"box 7": 4, "Plater": 1}
    assert held(Piece.objects.get(tag="X-S-1")) == {"box 7": 1}
    assert check_ledger().balanced and Finding.objects.count() == 1


def test_more_than_left_is_refused_until_somebody_says_what_is_not_ours(shop: Shop) -> None:
    a = make_bag(shop, "A", shop.shelf, 5)
    shipment = sent(shop, a)
    with pytest.raises(Refused, match=r"1 more than can come.*Count again"):
        received(shop, shipment, 6)
    assert held(a) == {"Plater": 5} and not Mix.objects.exists()
    received(shop, shipment, 6, foreign=1)
    told(shop, shipment, *items(a, 0, 5), Told("9", None))
    assert held(a) == {"box 7": 5} and held(Piece.objects.get(tag="X-S-1")) == {"C2": 1}
    assert not Finding.objects.exists() and Shipment.objects.get().back_on == DAY


def test_a_bucket_received_twice_is_refused_the_second_time_and_one_act_sent_twice_counts_once(shop: Shop) -> None:
    shipment = sent(shop, make_bag(shop, "A", shop.shelf, 5))
    same = uuid.uuid4()
    for _ in range(2):
        receive_mixed(by=shop.lead, act_id=same, shipment=shipment, count=5, to=shop.shelf, back_on=DAY)
    with pytest.raises(Refused, match=r"0 are still out|any more"):
        received(shop, shipment, 5)
    assert held(Mix.objects.get().piece) == {"C2": 5}


def test_never_more_to_a_bag_than_it_gave_and_no_piece_twice(shop: Shop) -> None:
    a, b = make_bag(shop, "A", shop.shelf, 2), make_bag(shop, "B", shop.shelf, 4)
    shipment = sent(shop, a, b)
    received(shop, shipment, 6)
    with pytest.raises(Refused, match="gave 2 that are not home yet, 3 cannot go"):
        told(shop, shipment, *items(a, 0, 3))
    told(shop, shipment, *items(a, 0, 2))
    with pytest.raises(Refused, match="told apart already"):
        told(shop, shipment, Told("1", b))
    with pytest.raises(Refused, match="named twice"):
        told(shop, shipment, Told("7", b), Told("7", b))
    with pytest.raises(Refused, match="lie in the bucket and 5 are told"):
        told(shop, shipment, *items(b, 10, 14), Told("99", None))
    assert ToldApart.objects.count() == 2 and check_ledger().balanced


def test_the_database_itself_tells_no_more_to_a_bag_than_it_gave(shop: Shop) -> None:
    a, b = make_bag(shop, "A", shop.shelf, 2), make_bag(shop, "B", shop.shelf, 4)
    shipment = sent(shop, a, b)
    received(shop, shipment, 6)
    mixed = Mix.objects.get().piece
    act = Act.objects.create(
        id=uuid.uuid4(), verb="lay_down", person=shop.lead, said={}, said_sha256="", happened_at=timezone.now()
    )
    with pytest.raises(IntegrityError, match="no more is told to a bag than it gave"), transaction.atomic():
        Move.objects.create(
            act=act, from_piece=mixed, from_holder=shop.shelf, to_piece=a, to_holder=shop.shelf, count=3
        )
    assert check_ledger().balanced


def test_a_part_does_not_mix_and_a_bag_of_another_shipment_neither(shop: Shop) -> None:
    part, bag, other = (
        make_part(shop, "0001", shop.shelf),
        make_bag(shop, "A", shop.shelf, 2),
        make_bag(shop, "B", shop.shelf, 2),
    )
    shipment = sent(shop, part, bag)
    for piece, words in ((part, "does not mix"), (other, "did not leave")):
        with pytest.raises(Refused, match=words):
            mix_at_vendor(by=shop.lead, act_id=uuid.uuid4(), shipment=shipment, pieces=[piece])
    mix_at_vendor(by=shop.lead, act_id=uuid.uuid4(), shipment=shipment)
    assert given(Mix.objects.get()) == {bag.pk: 2} and held(part) == {"Plater": 1}


@pytest.mark.parametrize(
    ("what", "typed", "words"),
    [
        ("diameter_mm", "eight", "eight"),
        ("diameter_mm", "9000 mm", "9000"),
        ("head_angle_deg", "200", "no angle"),
        ("colour", "7", "no feature"),
        ("mass_g", "-3", "-3"),
    ],
)
def test_a_figure_that_is_none_is_refused(shop: Shop, what: str, typed: str, words: str) -> None:
    bag = make_bag(shop, "A", shop.shelf, 2)
    with pytest.raises(Refused, match=words):
        read_pieces(by=shop.lead, act_id=uuid.uuid4(), piece=bag, readings={"1": {what: typed}})
    assert not PieceReading.objects.exists()


def test_figures_are_kept_as_typed_with_their_uncertainty(shop: Shop) -> None:
    bag = make_bag(shop, "A", shop.shelf, 2)
    figures = {"1": {"diameter_mm": "5/16", "ten_pitches_mm": "10.6"}}
    read_pieces(by=shop.lead, act_id=uuid.uuid4(), piece=bag, readings=figures)
    rows = {r.what: (r.value, r.typed, r.uncertainty) for r in PieceReading.objects.all()}
    assert rows == {"diameter_mm": (7.9375, "5/16", 0.03), "ten_pitches_mm": (10.6, "10.6", 0.1)}


def test_a_claim_is_made_with_its_finding_and_settled_once(shop: Shop) -> None:
    bag = make_bag(shop, "A", shop.shelf, 2)
    shipment = sent(shop, bag)
    make_claim(
        by=shop.lead,
        act_id=uuid.uuid4(),
        kind="damaged",
        what="Two heads burnt",
        made_on=DAY,
        shipment=shipment,
        piece=bag,
        count=2,
    )
    claim = Claim.objects.get()
    assert claim.finding is not None and "Plater" in claim.finding.what
    settle_claim(by=shop.lead, act_id=uuid.uuid4(), claim=claim, answer="Replaced", settled_on=DAY)
    with pytest.raises(Refused, match="settled already"):
        settle_claim(by=shop.lead, act_id=uuid.uuid4(), claim=claim, answer="Again", settled_on=DAY)
    for kind, what, words in (("odd", "x", "no claim"), ("short", " ", "few words")):
        with pytest.raises(Refused, match=words):
            make_claim(by=shop.lead, act_id=uuid.uuid4(), kind=kind, what=what, made_on=DAY, shipment=shipment)


@pytest.mark.django_db(transaction=True)
def test_two_people_receive_at_once_and_nothing_comes_twice() -> None:
    shop = make_shop()
    shipment = sent(shop, make_bag(shop, "A", shop.shelf, 10), make_bag(shop, "B", shop.shelf, 10))
    ends = all_at_once([lambda: received(shop, shipment, 15)] * 4)
    assert ends.count("done") == 1 and all("more than can come" in end for end in ends if end != "done")
    assert held(Mix.objects.get().piece) == {"C2": 15, "Plater": 5}
    bag = Piece.objects.get(tag="A")
    ends = all_at_once([lambda: told(shop, shipment, *items(bag, 0, 10))] * 4)
    assert ends.count("done") == 1 and held(bag) == {"box 7": 10}
    assert check_ledger().balanced


class Mixing(RuleBasedStateMachine):
    """Three bags and one vendor: mix, receive, tell apart, right and wrong; the ledger keeps its laws."""

    def __init__(self) -> None:
        super().__init__()
        self.example = transaction.atomic()
        self.example.__enter__()

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.example.__exit__(None, None, None)

    @initialize()
    def send(self) -> None:
        self.shop = make_shop()
        self.bags = [make_bag(self.shop, f"L-{n}", self.shop.shelf, 3 + n) for n in range(3)]
        self.shipment = sent(self.shop, *self.bags)
        self.next = 0

    def attempt(self, do: object) -> None:
        acts = Act.objects.count()
        try:
            do()  # type: ignore[operator]
        except Refused:
            assert Act.objects.count() == acts
        else:
            assert Act.objects.count() == acts + 1

    @rule(bags=st.sets(st.integers(0, 2), min_size=1))
    def mix(self, bags: set[int]) -> None:
        chosen = [self.bags[n] for n in sorted(bags)]
        self.attempt(
            lambda: mix_at_vendor(by=self.shop.lead, act_id=uuid.uuid4(), shipment=self.shipment, pieces=chosen)
        )

    @rule(count=st.integers(0, 14), foreign=st.integers(0, 2))
    def receive(self, count: int, foreign: int) -> None:
        self.attempt(lambda: received(self.shop, self.shipment, count, foreign=foreign))

    @rule(counts=st.lists(st.integers(0, 4), min_size=3, max_size=3), foreign=st.integers(0, 2), again=st.booleans())
    def tell(self, counts: list[int], foreign: int, again: bool) -> None:
        each = []
        for bag, n in zip([*self.bags, None], [*counts, foreign], strict=True):
            each += [Told(str(self.next + len(each) + k), bag) for k in range(n)]
        if not again:
            self.next += len(each)
        self.attempt(lambda: told(self.shop, self.shipment, *each))

    @rule(bag=st.integers(0, 2), count=st.integers(0, 5))
    def receive_unmixed(self, bag: int, count: int) -> None:
        self.attempt(
            lambda: custody.receive_back(
                by=self.shop.lead,
                act_id=uuid.uuid4(),
                shipment=self.shipment,
                counts={self.bags[bag].pk: count},
                to=self.shop.shelf,
                back_on=DAY,
            )
        )

    @invariant()
    def nothing_is_lost_and_no_bag_has_more_than_it_gave(self) -> None:
        found = check_ledger()
        assert found.balanced, found.faults
        of = {h.piece_id: 0 for h in Holding.objects.all()}
        for h in Holding.objects.all():
            of[h.piece_id] += h.count
        strangers = sum(n for pk, n in of.items() if Piece.objects.get(pk=pk).tag == "X-S-1")
        assert sum(of.values()) - strangers == 3 + 4 + 5
        for n, bag in enumerate(self.bags):
            assert of.get(bag.pk, 0) <= 3 + n


@pytest.mark.django_db
def test_random_mixing_never_breaks_the_ledger() -> None:
    run_state_machine_as_test(Mixing, settings=settings(max_examples=20, stateful_step_count=20, deadline=None))
