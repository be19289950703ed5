"""Decorative chrome as a route of its own, from the proposal to the shipment.

The ranges of nickel and chrome are classes of ASTM B456 (read, quoted); polishing, plugs, pairs and trial fits are common
practice, from memory.
"""

import uuid

import pytest
from django.utils import timezone

from tests.records.shop import Shop, make_part, make_place, make_shop
from witnessmark.calc.surface.decorative import CHROME_UM, NICKEL_UM, decorative_chrome
from witnessmark.records.actions.custody import send_out
from witnessmark.records.actions.leaving import Packed
from witnessmark.records.actions.route_written import say_route_facts, write_route
from witnessmark.records.actions.saying import Refused
from witnessmark.records.lookups.leaving import judge
from witnessmark.records.lookups.route_facts import facts_of, proposed_for
from witnessmark.records.models import Piece, Step, TermTaken

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def handle(shop: Shop, tag: str, side: str = "C", mpa: float | None = 600.0, name: str = "Door handle") -> Piece:
    place = make_place(shop, "6-20-01" if name == "Door handle" and side != "C" else f"6-20-{tag}", side)
    part = make_part(shop, tag, shop.shelf, side, place)
    Piece.objects.filter(pk=part.pk).update(material="steel", strength_mpa=mpa, name=name)
    return Piece.objects.get(pk=part.pk)


def say(shop: Shop, piece: Piece, **facts: bool) -> None:
    asked = {"closed tube": False, "spring": False, "case-hardened": False, "carries a load": False, "slots": False}
    given = asked | {name.replace("_", " "): holds for name, holds in facts.items()}
    say_route_facts(by=shop.mechanic, act_id=uuid.uuid4(), piece=piece, facts=given)


def write(shop: Shop, piece: Piece) -> list[Step]:
    steps = [step.name for step in proposed_for(piece, "decorative chrome", ()).new]
    write_route(
        by=shop.mechanic, act_id=uuid.uuid4(), piece=piece, finish="decorative chrome", work=(), steps=steps
    )  # fmt: skip
    return list(Step.objects.filter(piece=piece).order_by("number"))


def ship(shop: Shop, *pieces: Piece, number: str = "S-1", terms: tuple[tuple[int, str, object], ...] = ()) -> None:
    send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="Decorative chrome", pieces=list(pieces),
        number=number, sent_on=timezone.localdate(), packed=Packed(shop.lead, terms=terms),
    )  # fmt: skip


def test_it_is_written_to_a_piece_with_its_trial_fits_plugs_and_ranges(shop: Shop) -> None:
    piece = handle(shop, "H1")
    say(shop, piece, slots=True)
    steps = write(shop, piece)
    names = [step.name for step in steps]
    fits = [n for n, name in enumerate(names) if name.startswith("trial fit")]
    plug, polish, chrome = (
        next(n for n, name in enumerate(names) if name.startswith(word)) for word in ("plug", "polish", "decorative")
    )
    unplug = names.index("unplug slots and holes, chase what filled")
    assert fits[0] < plug < polish < chrome < unplug < fits[1]
    assert "measure" in names[fits[0] : plug] and "measure" in names[chrome:]
    assert "10 to 50 µm" in steps[chrome].caution and "bake" not in names


def test_the_size_after_it_lies_between_the_ends_of_both_ranges() -> None:
    answer = decorative_chrome(False, False, False)
    assert answer.gained_most_um == pytest.approx(NICKEL_UM[1] + CHROME_UM[1])
    assert f"{answer.lost_most_um - answer.gained_least_um:.0f} µm a side smaller" in answer.sentence
    assert f"{answer.gained_most_um - answer.lost_least_um:.0f} µm larger" in answer.sentence


def test_hard_steel_is_baked_after_it_and_unknown_steel_gets_none(shop: Shop) -> None:
    """Decorative chrome counts as plating: MIL-STD-1501F 5.2.6 (read) bakes hard steel after chrome."""
    hard = handle(shop, "H1", mpa=1400)
    say(shop, hard)
    names = [step.name for step in write(shop, hard)]
    assert names.index("bake") == names.index("decorative chrome") + 1 or "tag on" in names
    assert names.index("bake") > names.index("decorative chrome")
    with pytest.raises(Refused, match="strength is not recorded"):
        write(shop, handle(shop, "H2", mpa=None))


def test_nobody_said_whether_it_carries_a_load_so_no_chrome_is_released(shop: Shop) -> None:
    piece = handle(shop, "H1")
    facts = dict.fromkeys(("closed tube", "spring", "case-hardened"), False)
    say_route_facts(by=shop.mechanic, act_id=uuid.uuid4(), piece=piece, facts=facts)
    assert "carries a load" in proposed_for(piece, "decorative chrome", ()).withheld
    assert not proposed_for(piece, "hard chrome", ()).withheld


def test_a_part_that_carries_a_load_asks_the_engineer_before_it_goes(shop: Shop) -> None:
    anchor = handle(shop, "H1", name="Belt anchor")
    assert (
        next(fact for fact in facts_of(anchor) if fact.name == "carries a load").come_from
        == "the record says 'belt anchor'"
    )
    say(shop, anchor, carries_a_load=True)
    names = [step.name for step in write(shop, anchor)]
    assert names.index("ask the engineer: it carries a load") < names.index("polish and measure")
    hook = handle(shop, "H2", name="Curtain hook")
    say(shop, hook, carries_a_load=True)  # no word of it says so: a person did
    with pytest.raises(Refused, match="design engineer was asked before it goes"):
        ship(shop, hook)
    ship(shop, hook, terms=((hook.pk, "decorative chrome: carries a load", shop.lead),))
    assert TermTaken.objects.get().rule == "decorative chrome: carries a load"


def test_a_pair_goes_in_one_shipment(shop: Shop, django_assert_max_num_queries) -> None:  # type: ignore[no-untyped-def]
    left, right = handle(shop, "H1", "L"), handle(shop, "H2", "R")
    say(shop, left)
    proposed = [step.name for step in proposed_for(left, "decorative chrome", ()).new]
    assert "decorative chrome, both of the pair in one shipment" in proposed
    with pytest.raises(Refused, match="opposite one is not in this shipment"):
        ship(shop, left)
    own = [handle(shop, f"N{side}", side, name=f"Cowl clip {side}") for side in "LR"]
    with django_assert_max_num_queries(11):
        assert not judge([left, right, *own], shop.vendor, "Decorative chrome").terms
    assert [bar.tag for bar in judge([own[0]], shop.vendor, "Decorative chrome").terms] == ["NL"]
    assert not judge([left], shop.vendor, "hard chrome").terms
    ship(shop, left, right)
