"""The trip: the tester first or the bolts off the sheet; each leg moves custody once, with a picture; the ledger balances."""

import uuid
from datetime import date, timedelta
from pathlib import Path

import pytest
from django.utils import timezone

from tests.records.shop import Shop, make_bag, make_part, make_shop
from tests.records.test_photo_store import picture as a_picture
from tests.support.rows import make_steps
from witnessmark.records.actions import counters, trips
from witnessmark.records.actions.certificates import certificate_came
from witnessmark.records.actions.condition import finish_step
from witnessmark.records.actions.counters import Counted, Picture
from witnessmark.records.actions.custody import send_out
from witnessmark.records.actions.route_reasons import sign_reason
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.ledger import check_ledger
from witnessmark.records.lookups.trips import trip_seen
from witnessmark.records.models import (
    Holder,
    Holding,
    Piece,
    Shipment,
    Step,
    Trip,
    TripLine,
    TripStop,
    Untraced,
    Vendor,
)

pytestmark = pytest.mark.django_db
DAY = date(2026, 5, 13)


@pytest.fixture
def shop(settings, tmp_path: Path) -> Shop:  # type: ignore[no-untyped-def]
    settings.DATA = tmp_path
    made = make_shop()
    made.aircraft.today = DAY
    made.aircraft.save()
    return made


def vendor(code: str, name: str, likely: float = 8) -> Vendor:
    at = Holder.objects.create(kind="vendor", name=name)
    return Vendor.objects.create(
        code=code, name=name, least_days=likely, likely_days=likely, most_days=likely, holder=at
    )


def photo() -> Picture:
    return Picture(a_picture(), "counter.jpg")


def bolts(shop: Shop) -> Piece:
    bag = make_bag(shop, "L-063", shop.shelf, 2)
    Piece.objects.filter(pk=bag.pk).update(name="wheel bolts", material="steel", strength_mpa=900, mass_g=62)
    make_steps(bag, ("Crack test", "ON"), ("Plate", "PL"))
    bag.refresh_from_db()
    return bag


def day(shop: Shop, *vendors: Vendor, number: str = "T-1", on: date = DAY, **more: object) -> Trip:
    trips.plan_trip(
        by=shop.lead, act_id=uuid.uuid4(), number=number, day=on, driver=shop.mechanic, vendors=vendors, **more,  # type: ignore[arg-type]
    )  # fmt: skip
    return Trip.objects.get(number=number)


def plater_first(shop: Shop, **more: object) -> tuple[Trip, Piece]:
    """Plater, test house, trimmer as said; the bolts are on the plater's sheet."""
    piece = bolts(shop)
    trip = day(shop, shop.vendor, vendor("ON", "Test house"), vendor("TR", "Trimmer", 5), **more)
    trips.take_off_sheet(
        by=shop.lead, act_id=uuid.uuid4(), line=TripLine.objects.get(stop__vendor__code="ON"), why="said otherwise"
    )
    stop = TripStop.objects.get(vendor=shop.vendor)
    trips.put_on_sheet(by=shop.lead, act_id=uuid.uuid4(), stop=stop, piece=piece, process="Plate", box="box 1")
    return trip, piece


def see(trip: Trip):  # type: ignore[no-untyped-def]
    return trip_seen(Trip.objects.select_related("driver").get(pk=trip.pk), timezone.now())


def line_of(trip: Trip, code: str, kind: str = "leave") -> TripLine:
    return TripLine.objects.get(stop__trip=trip, stop__vendor__code=code, kind=kind)


def test_the_test_house_moves_first_and_the_bolts_go_off_the_platers_sheet(shop: Shop) -> None:
    trip, piece = plater_first(shop)
    day(shop, shop.vendor, number="T-2", on=DAY + timedelta(days=14))
    before = see(trip)
    assert before.sentence == "Test house comes before Plater: 2 wheel bolts (L-063) must be tested first."
    assert before.order.waits[0].costs_days == 10
    trips.set_out_order(by=shop.lead, act_id=uuid.uuid4(), trip=trip)
    after = see(trip)
    assert [each.stop.vendor.code for each in after.stops] == ["ON", "PL", "TR"]
    assert "10 working days later" in line_of(trip, "PL").off_why
    assert line_of(trip, "ON").process == "Crack test"
    assert after.loading == (("box 1", "Test house"),)
    assert not after.proposed
    with pytest.raises(Refused, match="settled already"):
        leave(shop, trip, "PL", "S-1")
    leave(shop, trip, "ON", "S-1")
    assert Holding.objects.get(piece=piece, count=2).holder.name == "Test house"


def test_without_a_later_trip_the_page_says_what_the_wait_costs(shop: Shop) -> None:
    trip, _ = plater_first(shop)
    (wait,) = see(trip).order.waits
    assert wait.till is None
    assert wait.costs_days == 8
    assert "no later trip to Plater is planned, so that costs 8 days and a drive of its own" in wait.sentence


def test_tested_while_one_waits_the_bolts_go_on_the_same_day(shop: Shop) -> None:
    trip, piece = plater_first(shop)
    TripStop.objects.filter(trip=trip, vendor__code="ON").update(while_waiting=True)
    trips.set_out_order(by=shop.lead, act_id=uuid.uuid4(), trip=trip)
    assert line_of(trip, "PL").off_why == ""
    assert see(trip).order.conditional[0].goes_to == "PL"
    leave(shop, trip, "ON", "S-1")
    with pytest.raises(Refused):  # they are at the test house still
        leave(shop, trip, "PL", "S-2")
    fetch(shop, trip, "ON", 2)
    with pytest.raises(Refused, match="in quarantine and cannot be sent on"):
        leave(shop, trip, "PL", "S-2")
    report = Shipment.objects.get(number="S-1").certificates.get()
    certificate_came(by=shop.mechanic, act_id=uuid.uuid4(), certificate=report, came_on=DAY, number="R 77")
    with pytest.raises(Refused, match="crack test first"):
        leave(shop, trip, "PL", "S-2")
    said = "the report says demagnetised"
    sign_reason(by=shop.mechanic, act_id=uuid.uuid4(), piece=piece, rule="R14", step_number=1, reason=said)
    finish_step(by=shop.mechanic, act_id=uuid.uuid4(), step=Step.objects.get(piece=piece, number=1))
    leave(shop, trip, "PL", "S-2")
    assert Holding.objects.get(piece=piece, count=2).holder == shop.vendor.holder
    assert check_ledger().balanced


def test_a_test_that_is_not_on_the_way_takes_the_bolts_off(shop: Shop) -> None:
    piece = bolts(shop)
    vendor("ON", "Test house")
    trip = day(shop, shop.vendor)
    trips.put_on_sheet(by=shop.lead, act_id=uuid.uuid4(), stop=TripStop.objects.get(), piece=piece, process="Plate")
    assert "not on this trip" in see(trip).not_on_way[0].sentence
    trips.set_out_order(by=shop.lead, act_id=uuid.uuid4(), trip=trip)
    assert "not on this trip" in line_of(trip, "PL").off_why


def leave(shop: Shop, trip: Trip, code: str, number: str, **more: object) -> dict[str, object]:
    stop = TripStop.objects.get(trip=trip, vendor__code=code)
    said = {"by": shop.mechanic, "act_id": uuid.uuid4(), "stop": stop, "lines": [line_of(trip, code)], "number": number,
            "picture": photo()}  # fmt: skip
    return counters.leave_at_counter(**{**said, **more})  # type: ignore[arg-type]


def fetch(shop: Shop, trip: Trip, code: str, count: int, **more: object) -> dict[str, object]:
    stop = TripStop.objects.get(trip=trip, vendor__code=code)
    counts = {line_of(trip, code, "fetch").pk: Counted(count, **more)}  # type: ignore[arg-type]
    return counters.fetch_at_counter(by=shop.mechanic, act_id=uuid.uuid4(), stop=stop, counts=counts, picture=photo())


def away(shop: Shop, tag: str = "L-016", count: int = 20, grams: float = 400.0) -> Piece:
    bag = make_bag(shop, tag, shop.shelf, count)
    Piece.objects.filter(pk=bag.pk).update(mass_g=grams)
    bag.refresh_from_db()
    send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="Count", pieces=[bag], number=f"S-{tag}",
        sent_on=date(2026, 5, 1), promised_on=date(2026, 5, 12),
    )  # fmt: skip
    return bag


def test_what_is_ready_and_what_is_due_goes_on_the_sheets_by_itself(shop: Shop) -> None:
    ready = make_part(shop, "0118", shop.shelf)
    make_steps(ready, ("Look", "PL"))
    bag = away(shop)
    trip = day(shop, shop.vendor)
    assert line_of(trip, "PL").piece == ready
    assert line_of(trip, "PL", "fetch").piece == bag
    day(shop, shop.vendor, number="T-2")
    assert TripLine.objects.filter(stop__trip__number="T-2").count() == 0


def test_every_leg_moves_custody_and_the_day_ends_on_a_shelf(shop: Shop) -> None:
    ready, bag = make_part(shop, "0118", shop.shelf), away(shop)
    make_steps(ready, ("Look", "PL"))
    trip = day(shop, shop.vendor)
    counters.load_van(by=shop.mechanic, act_id=uuid.uuid4(), trip=trip)
    assert Holding.objects.get(piece=ready, count=1).holder.person == shop.mechanic
    with pytest.raises(Refused, match="Nothing is left to load"):
        counters.load_van(by=shop.mechanic, act_id=uuid.uuid4(), trip=trip)
    leave(shop, trip, "PL", "S-9")
    fetch(shop, trip, "PL", 20, mass_g=401.0)
    stop = TripStop.objects.get()
    with pytest.raises(Refused, match="not signed"):
        counters.end_trip(by=shop.mechanic, act_id=uuid.uuid4(), trip=trip, to=shop.box)
    counters.sign_stop(by=shop.mechanic, act_id=uuid.uuid4(), stop=stop, signed_by="Foreman Plater")
    counters.end_trip(by=shop.mechanic, act_id=uuid.uuid4(), trip=trip, to=shop.box)
    assert Holding.objects.get(piece=bag, count=20).holder == shop.box
    with pytest.raises(Refused, match="is over"):
        counters.load_van(by=shop.mechanic, act_id=uuid.uuid4(), trip=trip)
    assert check_ledger().balanced


def test_a_count_that_disagrees_with_the_scales_is_counted_again(shop: Shop) -> None:
    bag = away(shop)
    trip = day(shop, shop.vendor)
    with pytest.raises(Refused, match=r"20 counted, and the mass speaks of 19\.0: count and weigh once more"):
        fetch(shop, trip, "PL", 20, mass_g=380.0)
    assert Holding.objects.get(piece=bag, count__gt=0).holder == shop.vendor.holder
    told = fetch(shop, trip, "PL", 19, mass_g=381.0)
    assert told["short"] == [{"tag": "L-016", "missing": 1}]
    assert Holding.objects.get(piece=bag, holder=shop.vendor.holder).count == 1
    assert check_ledger().balanced


def test_counted_twice_stands_against_the_scales(shop: Shop) -> None:
    away(shop)
    trip = day(shop, shop.vendor)
    fetch(shop, trip, "PL", 20, mass_g=380.0, twice=True)
    with pytest.raises(Refused, match="settled already"):
        fetch(shop, trip, "PL", 20)


def test_a_leg_without_its_picture_does_not_happen(shop: Shop) -> None:
    ready = make_part(shop, "0118", shop.shelf)
    make_steps(ready, ("Look", "PL"))
    trip = day(shop, shop.vendor)
    with pytest.raises(Refused, match="A leg has its picture"):
        leave(shop, trip, "PL", "S-9", picture=None)
    with pytest.raises(NotAllowed):
        leave(shop, trip, "PL", "S-9", by=shop.owner)
    assert not Shipment.objects.exists()


def test_what_came_unasked_is_ours_by_its_tag_or_untraced(shop: Shop) -> None:
    day(shop, shop.vendor)
    bag = away(shop)
    stop = TripStop.objects.get()
    said = {"by": shop.mechanic, "stop": stop, "picture": photo()}
    counters.take_unasked(act_id=uuid.uuid4(), what="", tag="L-016", count=20, **said)  # type: ignore[arg-type]
    told = counters.take_unasked(act_id=uuid.uuid4(), what="A bracket, not ours", **said)  # type: ignore[arg-type]
    stranger = Piece.objects.get(pk=told["piece"])
    assert stranger.aircraft is None
    assert Untraced.objects.filter(piece=stranger).exists()
    assert Shipment.objects.get().back_on == DAY
    assert TripLine.objects.filter(unasked=True).count() == 2
    with pytest.raises(Refused, match="not at Plater"):
        counters.take_unasked(act_id=uuid.uuid4(), what="", tag="L-016", **said)  # type: ignore[arg-type]
    assert Holding.objects.get(piece=bag, count__gt=0).holder.person == shop.mechanic
    assert check_ledger().balanced


def test_what_was_refused_stays_in_the_van_and_the_sheet_says_why(shop: Shop) -> None:
    ready = make_part(shop, "0118", shop.shelf)
    make_steps(ready, ("Look", "PL"))
    trip = day(shop, shop.vendor)
    counters.load_van(by=shop.mechanic, act_id=uuid.uuid4(), trip=trip)
    stop, line = TripStop.objects.get(), line_of(trip, "PL")
    with pytest.raises(Refused, match="Not settled yet"):
        counters.sign_stop(by=shop.mechanic, act_id=uuid.uuid4(), stop=stop, signed_by="X")
    counters.refuse_at_counter(by=shop.mechanic, act_id=uuid.uuid4(), line=line, why="Bath is down")
    counters.sign_stop(by=shop.mechanic, act_id=uuid.uuid4(), stop=stop, signed_by="X")
    with pytest.raises(Refused, match="The sheet of Plater is signed"):
        trips.put_on_sheet(by=shop.lead, act_id=uuid.uuid4(), stop=stop, piece=ready, process="Look")
    counters.end_trip(by=shop.mechanic, act_id=uuid.uuid4(), trip=trip, to=shop.box)
    assert Holding.objects.get(piece=ready, count=1).holder == shop.box
    with pytest.raises(Refused, match="is over"):
        counters.sign_stop(by=shop.mechanic, act_id=uuid.uuid4(), stop=stop, signed_by="Y")


def test_one_piece_is_on_one_sheet(shop: Shop) -> None:
    trip, piece = plater_first(shop)
    stop = TripStop.objects.get(trip=trip, vendor__code="TR")
    with pytest.raises(Refused, match="on the sheet of Plater"):
        trips.put_on_sheet(by=shop.lead, act_id=uuid.uuid4(), stop=stop, piece=piece, process="Trim")


@pytest.mark.parametrize("wrong", ["none", "twice", "owner", "number", "nine"])
def test_a_trip_badly_planned_is_refused(shop: Shop, wrong: str) -> None:
    said: dict[str, object] = {
        "by": shop.lead, "act_id": uuid.uuid4(), "number": "T-1", "day": DAY, "driver": shop.mechanic, "vendors": [shop.vendor],
    }  # fmt: skip
    nine = [vendor(f"V{n}", f"Vendor {n}") for n in range(9)] if wrong == "nine" else []
    change = {"none": {"vendors": []}, "twice": {"vendors": [shop.vendor] * 2}, "owner": {"driver": shop.owner},
              "number": {"number": " "}, "nine": {"vendors": nine}}  # fmt: skip
    with pytest.raises(Refused):
        trips.plan_trip(**{**said, **change[wrong]})  # type: ignore[arg-type]
    assert not Trip.objects.exists()


def test_who_could_finish_it_tonight(shop: Shop) -> None:
    part = make_part(shop, "0118", shop.shelf)
    make_steps(part, ("Clean", "sheet metal"), ("Look", "PL"), hours=1.5)
    trip = day(shop, shop.vendor, on=timezone.localdate() + timedelta(days=2))
    (near,) = see(trip).tonight
    assert near.sentence == "0118 is one step short: clean. Mechanic could do it tonight, about 1.5 hours."


def test_questions_do_not_grow_with_lines(shop: Shop, django_assert_max_num_queries) -> None:  # type: ignore[no-untyped-def]
    for n in range(15):
        make_steps(make_part(shop, f"{n:04}", shop.shelf), ("Look", "PL"))
    trip = day(shop, shop.vendor)
    with django_assert_max_num_queries(26):
        assert len(see(trip).stops[0].leave) == 15
