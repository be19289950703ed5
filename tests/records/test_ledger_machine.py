"""A machine that does random acts, right and wrong ones; the ledger keeps its laws all the while."""

import uuid
from datetime import date

import pytest
from django.db import transaction
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from tests.records.shop import make_bag, make_part, make_place, make_shop
from witnessmark.records.actions import custody
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.models import Act, Holding, Shipment

INDEX = st.integers(0, 5)
COUNT = st.integers(-1, 12)


class Ledger(RuleBasedStateMachine):
    """Six pieces, four places, three holders, one vendor."""

    def __init__(self) -> None:
        super().__init__()
        self.example = transaction.atomic()
        self.example.__enter__()  # each example is rolled back, so that all start alike

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.example.__exit__(None, None, None)

    @initialize()
    def open_shop(self) -> None:
        self.shop = make_shop()
        self.places = [make_place(self.shop, f"P{n}", "LRCC"[n], capacity=1 + n) for n in range(4)]
        self.pieces = [make_part(self.shop, f"000{n}", self.places[n].holder, "LRC"[n]) for n in range(3)]
        self.pieces += [make_bag(self.shop, f"L-{n}", self.shop.shelf, 4 + n) for n in range(3)]
        self.holders = [self.shop.shelf, self.shop.box, custody.single("scrap"), custody.single("not_found")]
        self.total = 3 + 4 + 5 + 6

    def attempt(self, action: str, **said: object) -> None:
        acts = Act.objects.count()
        try:
            getattr(custody, action)(by=self.shop.lead, act_id=uuid.uuid4(), **said)
        except Refused:
            assert Act.objects.count() == acts
        else:
            assert Act.objects.count() == acts + 1

    @rule(piece=INDEX, to=st.integers(0, 3), count=st.none() | COUNT)
    def take_off(self, piece: int, to: int, count: int | None) -> None:
        self.attempt("take_off", piece=self.pieces[piece], to=self.holders[to], count=count)

    @rule(piece=INDEX, place=st.integers(0, 3), count=st.none() | COUNT)
    def put_back(self, piece: int, place: int, count: int | None) -> None:
        self.attempt("put_back", piece=self.pieces[piece], place=self.places[place], count=count)

    @rule(piece=INDEX, to=st.integers(0, 3), at=st.none() | st.integers(0, 3), count=st.none() | COUNT)
    def lay_down(self, piece: int, to: int, at: int | None, count: int | None) -> None:
        where = None if at is None else self.holders[at]
        self.attempt("lay_down", piece=self.pieces[piece], to=self.holders[to], at=where, count=count)

    @rule(pieces=st.sets(INDEX, max_size=4))
    def send_out(self, pieces: set[int]) -> None:
        self.attempt(
            "send_out",
            vendor=self.shop.vendor,
            process="plate",
            pieces=[self.pieces[n] for n in sorted(pieces)],
            number=f"S-{Shipment.objects.count()}",
            sent_on=date(2026, 5, 4),
        )

    @rule(counts=st.dictionaries(INDEX, st.integers(-1, 7), max_size=4))
    def receive_back(self, counts: dict[int, int]) -> None:
        shipment = Shipment.objects.order_by("-id").first()
        if shipment is not None:
            self.attempt(
                "receive_back",
                shipment=shipment,
                counts={self.pieces[n].pk: count for n, count in counts.items()},
                to=self.shop.shelf,
                back_on=date(2026, 5, 12),
            )

    @rule()
    def undo(self) -> None:
        act = Act.objects.exclude(verb="load_lists").order_by("-recorded_at").first()
        if act is not None:
            self.attempt("undo", act=act)

    @invariant()
    def laws_hold(self) -> None:
        found = check_ledger()
        assert found.balanced, found.faults
        assert sum(Holding.objects.values_list("count", flat=True)) == self.total


@pytest.mark.django_db
def test_random_acts_never_break_the_ledger() -> None:
    run_state_machine_as_test(Ledger, settings=settings(max_examples=20, stateful_step_count=30, deadline=None))
