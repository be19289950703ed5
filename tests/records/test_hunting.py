"""The hunt: one picture makes all of it; stores first; what is found arrives untraced; the arm stays with no mass."""

import uuid
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from tests.records.shop import Shop, make_part, make_place, make_shop, take_in
from tests.records.test_photo_store import picture
from witnessmark.records.actions import hunting
from witnessmark.records.actions.buying import order_came
from witnessmark.records.actions.certificates import show_trace
from witnessmark.records.actions.custody import holder, lay_down, put_back
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.bench import bench_today
from witnessmark.records.lookups.hunts import asks_due, at_home, hunts, weight_known
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.lookups.plan import make_plan
from witnessmark.records.lookups.promises import promises
from witnessmark.records.lookups.vendor_times import vendor_times
from witnessmark.records.models import (
    Act,
    Aircraft,
    Finding,
    Holding,
    Hunt,
    HuntAsked,
    Move,
    Order,
    Person,
    PhotoUse,
    Piece,
    PieceKind,
    Place,
    Role,
    TrayFind,
    Untraced,
    Vendor,
)
from witnessmark.records.photo_store import NotAPicture

pytestmark = pytest.mark.django_db
DAY = date(2026, 5, 12)


@pytest.fixture
def shop(settings, tmp_path: Path) -> Shop:  # type: ignore[no-untyped-def]
    settings.DATA = tmp_path
    return make_shop()


def generator_place(shop: Shop) -> Place:
    place = make_place(shop, "6-91-015")
    place.name, place.station, place.wants = "Generator", "2420", "generator, 24 V"
    place.save()
    return place


def cable_place(shop: Shop) -> Place:
    place = make_place(shop, "6-91-004")
    place.name, place.station = "Wiring run, generator", "2400-2700"
    place.save()
    return place


def wrong(shop: Shop, place: Place, **more: object) -> dict[str, object]:
    said = {
        "by": shop.mechanic, "act_id": uuid.uuid4(), "place": place, "wrong": "12 V generator", "wanted": "Generator, 24 V",
        "picture": picture(), "picture_name": "g.jpg", "laid_on": shop.shelf, "seen_on": DAY, "tag": "0400",
    }  # fmt: skip
    return hunting.wrong_for_type(**{**said, **more})  # type: ignore[arg-type]


def hunt(shop: Shop, what: str = "Compass bracket", **more: object) -> Hunt:
    said = {"by": shop.mechanic, "act_id": uuid.uuid4(), "aircraft": shop.aircraft, "what": what, "why": "missing"}
    told = hunting.start_hunt(**{**said, **more})  # type: ignore[arg-type]
    return Hunt.objects.get(number=told["hunt"])


def test_one_picture_makes_finding_hunt_empty_place_and_a_cable_that_waits(shop: Shop) -> None:
    place, cable = generator_place(shop), cable_place(shop)
    told = wrong(shop, place, cut_off=[hunting.CutOff(cable, "its load in A, from the right generator")])
    assert Finding.objects.count() == 2
    assert PhotoUse.objects.count() == 5
    assert len({use.photo_id for use in PhotoUse.objects.all()}) == 1
    assert not Holding.objects.filter(holder=place.holder, count__gt=0).exists()
    piece = Piece.objects.get(tag="0400")
    assert Holding.objects.get(piece=piece, count=1).holder == shop.shelf
    assert Untraced.objects.filter(piece=piece, shown_act=None).exists()
    (seen,) = hunts(shop.aircraft, DAY)
    assert seen.hunt.number == told["hunt"]
    assert seen.waiting[0].place == cable
    assert seen.waiting[0].for_what == "its load in A, from the right generator"
    assert len(seen.photos) == 1
    assert check_ledger().balanced


def test_the_weight_keeps_the_arm_with_the_mass_unknown(shop: Shop) -> None:
    place = generator_place(shop)
    floor = make_place(shop, "6-11-001")
    floor.station = "1000"
    floor.save()
    part = make_part(shop, "0001", floor.holder, belongs=floor)
    Piece.objects.filter(pk=part.pk).update(mass_g=10_000)
    wrong(shop, place)
    known = weight_known(shop.aircraft)
    assert known.known_kg == pytest.approx(10)
    assert known.known_cg_mm == pytest.approx(1000)
    assert [(each.name, each.arm_mm) for each in known.open] == [("Generator, 24 V", 2420.0)]
    assert known.open[0].moves_mm_per_kg == pytest.approx(142.0)
    assert not known.whole


def test_a_wrong_one_that_the_record_knew_is_laid_down_and_not_fitted_again(shop: Shop) -> None:
    place = generator_place(shop)
    piece = make_part(shop, "0333", place.holder, belongs=place)
    wrong(shop, place, tag="")
    assert Holding.objects.get(piece=piece, count=1).holder == shop.shelf
    assert not Untraced.objects.exists()
    with pytest.raises(Refused, match="wrong for the type there: Generator, 24 V is hunted, H-1"):
        put_back(by=shop.mechanic, act_id=uuid.uuid4(), piece=piece, place=place)


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"wrong": " "}, "what is there"),
        ({"picture": b"no picture"}, "picture"),
        ({"tag": "0007"}, "hangs on another piece"),
    ],
)
def test_a_wrong_type_badly_said_leaves_nothing(shop: Shop, more: dict[str, object], why: str) -> None:
    make_part(shop, "0007", shop.shelf)
    moves = Move.objects.count()
    with pytest.raises((Refused, NotAPicture), match=why):
        wrong(shop, generator_place(shop), **more)
    assert not Hunt.objects.exists()
    assert not Finding.objects.exists()
    assert Move.objects.count() == moves


def test_a_place_with_two_pieces_is_cleared_by_hand_first(shop: Shop) -> None:
    place = make_place(shop, "6-91-016", capacity=2)
    make_part(shop, "0001", place.holder)
    make_part(shop, "0002", place.holder)
    with pytest.raises(Refused, match="more than one piece"):
        wrong(shop, place)
    with pytest.raises(Refused, match="laid on a shelf"):
        wrong(shop, generator_place(shop), laid_on=shop.vendor.holder)


def test_a_purchase_waits_for_the_stores(shop: Shop) -> None:
    one = hunt(shop)
    hunting.ask_after(
        by=shop.mechanic, act_id=uuid.uuid4(), hunt=one, whom="Old Dockyard", asked_on=DAY, answer="Has one, worn",
        price=Decimal("180.00"), currency="eur", papers="none", ask_again_on=date(2026, 6, 1),
    )  # fmt: skip
    offer = HuntAsked.objects.get()
    with pytest.raises(Refused, match="have not been searched for Compass bracket"):
        hunting.agree_purchase(by=shop.lead, act_id=uuid.uuid4(), hunt=one, offer=offer, ordered_on=DAY)
    hunting.search_stores(
        by=shop.mechanic, act_id=uuid.uuid4(), hunt=one, answer="Shelves A to F and tray 2: not there"
    )
    with pytest.raises(NotAllowed):
        hunting.agree_purchase(by=shop.mechanic, act_id=uuid.uuid4(), hunt=one, offer=offer, ordered_on=DAY)
    act_id = uuid.uuid4()
    for _ in range(2):
        hunting.agree_purchase(by=shop.lead, act_id=act_id, hunt=one, offer=offer, ordered_on=DAY)
    with pytest.raises(Refused, match="bought already"):
        hunting.agree_purchase(by=shop.lead, act_id=uuid.uuid4(), hunt=one, offer=offer, ordered_on=DAY)
    assert hunts(shop.aircraft, DAY)[0].sentence == "Compass bracket is bought from Old Dockyard and has not come."
    order = Order.objects.get()
    assert (order.number, order.what, order.count, order.ordered_on) == ("H-1", "Compass bracket", 1, DAY)
    assert order.vendor.name == "Old Dockyard"
    assert "180.00 EUR" in order.note


def bought(shop: Shop, whom: str = "Old Dockyard", **more: object) -> tuple[Hunt, Order]:
    one = hunt(shop)
    hunting.ask_after(by=shop.lead, act_id=uuid.uuid4(), hunt=one, whom=whom, asked_on=DAY)
    hunting.search_stores(by=shop.lead, act_id=uuid.uuid4(), hunt=one, answer="not there")
    offer = HuntAsked.objects.get(hunt=one)
    hunting.agree_purchase(by=shop.lead, act_id=uuid.uuid4(), hunt=one, offer=offer, ordered_on=DAY, **more)  # type: ignore[arg-type]
    return one, Order.objects.latest("pk")


def test_what_is_bought_is_an_order_that_plan_and_promises_know(shop: Shop) -> None:
    _, order = bought(shop, promised_on=date(2026, 5, 29))
    assert order.vendor != shop.vendor
    (promise,) = promises(DAY, vendor_times(DAY))
    assert (promise.kind, promise.number, promise.promised_on) == ("order", "H-1", date(2026, 5, 29))
    Aircraft.objects.update(today=DAY)
    shop.aircraft.refresh_from_db()
    assert any(key.startswith("order:H-1") for key in make_plan(shop.aircraft).network.by_key)


def test_a_known_vendor_is_not_made_twice_and_numbers_do_not_collide(shop: Shop) -> None:
    make_order = Order.objects.create(number="H-1", vendor=shop.vendor, what="X", count=1, act=bought(shop)[1].act)
    _, order = bought(shop, whom="plater")
    assert make_order.pk
    assert order.vendor == shop.vendor
    assert order.number == "H-2"
    assert Vendor.objects.count() == 2


def test_the_order_of_a_hunt_comes_in_at_the_hunt_untraced(shop: Shop) -> None:
    one, order = bought(shop)
    with pytest.raises(Refused, match="Take it in at the hunt"):
        order_came(by=shop.lead, act_id=uuid.uuid4(), number="H-1", came_on=DAY)
    later = date(2026, 5, 20)
    told = hunting.found_arrives(
        by=shop.mechanic, act_id=uuid.uuid4(), hunt=one, tag="0402", name="Bracket", to=shop.shelf, came_on=later
    )
    order.refresh_from_db()
    assert order.came_on == later
    assert Untraced.objects.filter(piece_id=told["piece"]).exists()
    assert check_ledger().balanced


def test_an_order_whose_hunt_ended_otherwise_still_comes_in(shop: Shop) -> None:
    one, order = bought(shop)
    hunting.give_up_hunt(by=shop.lead, act_id=uuid.uuid4(), hunt=one, why="Made new")
    order_came(by=shop.lead, act_id=uuid.uuid4(), number="H-1", came_on=DAY)
    order.refresh_from_db()
    assert order.came_on == DAY


@pytest.mark.parametrize(
    ("more", "why"), [({"count": 0}, "starts at 1"), ({"promised_on": date(2026, 5, 1)}, "before")]
)
def test_a_purchase_badly_said_orders_nothing(shop: Shop, more: dict[str, object], why: str) -> None:
    with pytest.raises(Refused, match=why):
        bought(shop, **more)
    assert not Order.objects.exists()


def test_who_is_to_be_asked_again_stands_on_the_bench_of_the_one_who_asked(shop: Shop) -> None:
    Aircraft.objects.update(today=DAY)
    shop.aircraft.refresh_from_db()
    one = hunt(shop)
    ask = {"hunt": one, "asked_on": date(2026, 5, 1), "ask_again_on": date(2026, 5, 10)}
    hunting.ask_after(by=shop.mechanic, act_id=uuid.uuid4(), whom="Old Dockyard", **ask)  # type: ignore[arg-type]
    hunting.ask_after(by=shop.lead, act_id=uuid.uuid4(), whom="Ropewalk", **{**ask, "ask_again_on": date(2026, 6, 1)})  # type: ignore[arg-type]
    bench = bench_today(shop.aircraft)
    assert [row.whom for row in bench.asks_of(shop.mechanic)] == ["Old Dockyard"]
    assert bench.asks_of(shop.lead) == ()
    hunting.give_up_hunt(by=shop.lead, act_id=uuid.uuid4(), hunt=one, why="Made new")
    assert asks_due(shop.aircraft, DAY) == []


def test_an_offer_for_something_else_is_not_bought(shop: Shop) -> None:
    one, other = hunt(shop), hunt(shop, "Tail lamp")
    hunting.ask_after(by=shop.lead, act_id=uuid.uuid4(), hunt=other, whom="X", asked_on=DAY)
    hunting.search_stores(by=shop.lead, act_id=uuid.uuid4(), hunt=one, answer="not there")
    with pytest.raises(Refused, match="something else"):
        hunting.agree_purchase(
            by=shop.lead, act_id=uuid.uuid4(), hunt=one, offer=HuntAsked.objects.get(), ordered_on=DAY
        )


def test_the_stores_show_what_it_could_be(shop: Shop) -> None:
    place = make_place(shop, "6-12-170")
    tray = holder("shelf", "unknown-part tray 2")
    bracket = Piece.objects.create(
        aircraft=shop.aircraft, kind=PieceKind.PART, name="Bracket, compass?", words="bracket, compass?"
    )
    take_in(shop, bracket, shop.shelf)
    strange = Piece.objects.create(aircraft=shop.aircraft, kind=PieceKind.PART, name="Thing", words="thing")
    take_in(shop, strange, tray)
    make_part(shop, "0009", place.holder)
    one = hunt(shop, place=place)
    assert [c.piece for c in at_home(one).could_be] == [bracket, strange]
    assert at_home(one).could_be[1].why == "it lies in the don’t-know tray"
    untagged = Piece.objects.create(aircraft=shop.aircraft, kind=PieceKind.PART, name="Bent clip", words="bent clip")
    take_in(shop, untagged, shop.shelf)
    assert untagged not in [c.piece for c in at_home(one).could_be]
    TrayFind.objects.create(piece=untagged, act=Act.objects.filter(moves__to_piece=untagged).get())
    assert untagged in [c.piece for c in at_home(one).could_be]  # an untagged find is looked at wherever it lies
    hunting.search_stores(by=shop.mechanic, act_id=uuid.uuid4(), hunt=one, answer="", found=bracket)
    one.refresh_from_db()
    assert (one.state, one.found_piece) == ("found", bracket)
    with pytest.raises(Refused, match="is over: found"):
        hunting.ask_after(by=shop.lead, act_id=uuid.uuid4(), hunt=one, whom="X", asked_on=DAY)


def test_what_is_found_arrives_untraced_and_is_fitted_only_when_shown(shop: Shop) -> None:
    place = make_place(shop, "6-12-170")
    one = hunt(shop, place=place)
    told = hunting.found_arrives(
        by=shop.mechanic, act_id=uuid.uuid4(), hunt=one, tag="0401", name="Compass bracket", to=shop.shelf, mass_g=90, came_on=DAY,
        picture=picture(),
    )  # fmt: skip
    piece = Piece.objects.get(pk=told["piece"])
    with pytest.raises(Refused, match="is untraced"):
        put_back(by=shop.mechanic, act_id=uuid.uuid4(), piece=piece, place=place)
    lay_down(by=shop.mechanic, act_id=uuid.uuid4(), piece=piece, to=shop.box)
    with pytest.raises(NotAllowed):
        show_trace(by=shop.mechanic, act_id=uuid.uuid4(), piece=piece, papers="stamp")
    inspector = Person.objects.create(name="Inspector", role=Role.INSPECTOR)
    show_trace(by=inspector, act_id=uuid.uuid4(), piece=piece, papers="Yard's stamp 7 and drawing 6-12-170")
    with pytest.raises(Refused, match="not untraced"):
        show_trace(by=inspector, act_id=uuid.uuid4(), piece=piece, papers="again")
    put_back(by=shop.mechanic, act_id=uuid.uuid4(), piece=piece, place=place)
    assert check_ledger().balanced


def test_ask_again_comes_due_and_the_newest_word_counts(shop: Shop) -> None:
    Aircraft.objects.update(today=DAY)
    shop.aircraft.refresh_from_db()
    one = hunt(shop, may_wait_until=date(2026, 5, 20))
    hunting.search_stores(by=shop.lead, act_id=uuid.uuid4(), hunt=one, answer="not there")
    ask = {"by": shop.lead, "hunt": one, "whom": "Old Dockyard", "asked_on": date(2026, 5, 1)}
    hunting.ask_after(act_id=uuid.uuid4(), ask_again_on=date(2026, 5, 10), **ask)  # type: ignore[arg-type]
    (seen,) = hunts(shop.aircraft, DAY)
    assert seen.sentence == "Ask Old Dockyard again about Compass bracket."
    assert seen.days_left == 8
    hunting.ask_after(act_id=uuid.uuid4(), ask_again_on=date(2026, 6, 1), **{**ask, "asked_on": DAY})  # type: ignore[arg-type]
    assert hunts(shop.aircraft, DAY)[0].ask_again is None


@pytest.mark.parametrize(
    ("more", "why"),
    [({"whom": ""}, "who was asked"), ({"price": Decimal(-1), "currency": "EUR"}, "no price"),
     ({"price": Decimal(1)}, "currency"), ({"ask_again_on": DAY}, "later day")],
)  # fmt: skip
def test_a_word_badly_written_changes_nothing(shop: Shop, more: dict[str, object], why: str) -> None:
    said = {"by": shop.lead, "act_id": uuid.uuid4(), "hunt": hunt(shop), "whom": "X", "asked_on": DAY}
    with pytest.raises(Refused, match=why):
        hunting.ask_after(**{**said, **more})  # type: ignore[arg-type]
    assert not HuntAsked.objects.exists()


def test_a_hunt_has_a_thing_and_a_reason_and_the_lead_gives_it_up(shop: Shop) -> None:
    for more in ({"what": " "}, {"why": "pretty"}):
        with pytest.raises(Refused):
            hunt(shop, **more)
    one = hunt(shop)
    with pytest.raises(NotAllowed):
        hunting.give_up_hunt(by=shop.mechanic, act_id=uuid.uuid4(), hunt=one, why="No use")
    hunting.give_up_hunt(by=shop.lead, act_id=uuid.uuid4(), hunt=one, why="Made new instead")
    assert hunts(shop.aircraft, DAY)[0].sentence == "Compass bracket is given up."
    with pytest.raises(NotAllowed):
        hunt(shop, by=shop.owner)


def test_questions_do_not_grow_with_hunts(shop: Shop, django_assert_max_num_queries) -> None:  # type: ignore[no-untyped-def]
    for n in range(8):
        hunting.ask_after(by=shop.lead, act_id=uuid.uuid4(), hunt=hunt(shop, f"Thing {n}"), whom="X", asked_on=DAY)
    with django_assert_max_num_queries(5):
        assert len(hunts(shop.aircraft, DAY)) == 8
