"""Jobs come out of the record, once; what people said of them outlives a new derivation."""

import uuid
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.records.shop import Shop, make_bag, make_part, make_shop
from tests.support.rows import make_finding, make_hand_job, make_order, make_row, make_size, make_steps, told
from witnessmark.calc.plan.lead_times import Triple
from witnessmark.records.actions.certificates import lift_quarantine
from witnessmark.records.actions.custody import receive_back, send_out
from witnessmark.records.actions.jobs import book_hours, derive_jobs, say_of_job
from witnessmark.records.actions.saying import NotAllowed, Refused, SaidOtherwise
from witnessmark.records.lookups.network import gather, newest_said
from witnessmark.records.lookups.seams import rows_seen
from witnessmark.records.models import Aircraft, Job, JobLink, JobSaid, Piece, Quarantine, Shipment, Step, Zone

pytestmark = pytest.mark.django_db


def with_route(shop: Shop, tag: str = "0007") -> Piece:
    part = make_part(shop, tag, shop.shelf)
    part.zones.add(shop.zone)
    make_steps(part, ("Strip", "sheet metal"), ("Cadmium plate", "PL"), ("Prime", "sheet metal"))
    return part


def links(shop: Shop) -> set[tuple[str, str]]:
    return {(link.before, link.after) for link in gather(shop.aircraft).network.links}


def test_a_route_gives_its_steps_in_order_and_the_close_up_waits_for_them() -> None:
    shop = make_shop()
    part = with_route(shop)
    one, two, three = (f"piece:{part.pk}:{n}" for n in (1, 2, 3))
    assert {(one, two), (two, three), (three, "hand:close-100:do")} <= links(shop)
    jobs = {job.key: job for job in gather(shop.aircraft).network.jobs}
    assert jobs[two].vendor == "Plater"
    assert jobs[two].days == Triple(
        9, 20, 46
    )  # half the chance: 19.5 by the lognormal of 15 and 45; whole days, rounded up
    assert jobs[one].craft == "sheet metal"
    assert gather(shop.aircraft).about[one].lies_at == "C2"


def test_deriving_twice_changes_nothing() -> None:
    shop = make_shop()
    with_route(shop)
    make_row(shop, "C2", make_size(shop))
    derive_jobs(shop.aircraft)
    before = list(Job.objects.values()), list(JobLink.objects.values())
    derive_jobs(shop.aircraft)
    assert (list(Job.objects.values()), list(JobLink.objects.values())) == before
    assert Job.objects.count() == len(gather(shop.aircraft).network.jobs)


def test_a_vanished_job_goes_but_one_with_hours_stays_withdrawn() -> None:
    shop = make_shop()
    one, two = with_route(shop, "0007"), with_route(shop, "0008")
    derive_jobs(shop.aircraft)
    kept, lost = f"piece:{one.pk}:1", f"piece:{two.pk}:1"
    book_hours(
        by=shop.mechanic, act_id=uuid.uuid4(), aircraft=shop.aircraft, key=kept, hours=1.5, day=date(2026, 5, 12)
    )
    Step.objects.all().delete()
    derive_jobs(shop.aircraft)
    assert not Job.objects.filter(key=lost).exists()
    assert Job.objects.get(key=kept).withdrawn
    make_steps(one, ("Strip", "sheet metal"))
    derive_jobs(shop.aircraft)
    assert not Job.objects.get(key=kept).withdrawn


def test_a_finding_without_a_decision_keeps_its_own_piece_from_going_on_and_no_other() -> None:
    shop = make_shop()
    one, two = with_route(shop, "0007"), with_route(shop, "0008")
    make_finding(shop, "F-1", piece=one)
    decide = "finding:F-1:decide"
    assert (decide, f"piece:{one.pk}:1") in links(shop)
    assert (decide, f"piece:{two.pk}:1") not in links(shop)
    with pytest.raises(Refused, match="F-1 on this piece has no decision"):
        say_of_job(
            by=shop.mechanic, act_id=uuid.uuid4(), aircraft=shop.aircraft, key=f"piece:{one.pk}:1", status="done"
        )
    with pytest.raises(Refused, match="Decide it"):
        say_of_job(by=shop.lead, act_id=uuid.uuid4(), aircraft=shop.aircraft, key=decide, status="done")


def test_rivets_wait_for_the_order_and_the_order_for_rows_not_looked_at() -> None:
    shop = make_shop()
    size = make_size(shop)
    make_row(shop, "C2", size)
    look = make_row(shop, "C3", size, looked_at="no")
    buy, look_job, rivet = "order:rivets-PL:arrive", f"seam:{look.place.mark} left:look", "seam:C2 left:fill"
    assert {(look_job, buy), (buy, rivet)} <= links(shop)
    make_order(shop, "O-1", "rivets", size=size, count=500, ordered_on="2026-05-01")
    assert buy not in gather(shop.aircraft).keys
    assert ("order:O-1:arrive", rivet) in links(shop)


def test_rivets_on_the_shelf_need_no_order() -> None:
    shop = make_shop()
    size = make_size(shop)
    make_row(shop, "C2", size)
    bag = make_bag(shop, "R-08", shop.shelf, 100)
    bag.size = size
    bag.save()
    assert gather(shop.aircraft).network.links_in.get("seam:C2 left:fill"), "of unknown length: no claim"
    bag.name = "rivets VN12-3.0 x 8, new"
    bag.save()
    assert not gather(shop.aircraft).network.links_in.get("seam:C2 left:fill")


def test_a_row_waits_for_the_sheets_it_is_made_of() -> None:
    shop = make_shop()
    skin = with_route(shop)
    skin.part_no = "6-11-010"
    skin.save()
    make_row(shop, "C2", make_size(shop), part_no="6-11-010")
    assert (f"piece:{skin.pk}:3", "seam:C2 left:fill") in links(shop)


def test_a_shipment_that_is_out_is_one_job_and_its_pieces_wait_for_it() -> None:
    shop = make_shop()
    part = make_part(shop, "0007", shop.shelf)
    make_steps(part, ("Cadmium plate", "PL"), ("Prime", "sheet metal"))
    send_out(
        by=shop.lead,
        act_id=uuid.uuid4(),
        vendor=shop.vendor,
        process="Cadmium plate",
        pieces=[part],
        number="S-1",
        sent_on=date(2026, 5, 1),
    )
    shipment = Shipment.objects.get()
    assert ("shipment:S-1:back", f"piece:{part.pk}:2") in links(shop)
    assert f"piece:{part.pk}:1" not in {job.key for job in gather(shop.aircraft).network.jobs}
    receive_back(
        by=shop.lead,
        act_id=uuid.uuid4(),
        shipment=shipment,
        counts={part.pk: 1},
        to=shop.shelf,
        back_on=date(2026, 5, 20),
    )
    assert "shipment:S-1:back" not in {job.key for job in gather(shop.aircraft).network.jobs}


def back(shop: Shop, part: Piece, number: str = "S-1", **more: Any) -> uuid.UUID:
    """It goes to the vendor and comes back; give the act of the receipt."""
    act_id = uuid.uuid4()
    for held in Quarantine.objects.filter(lifted_act=None):
        lift_quarantine(by=shop.lead, act_id=uuid.uuid4(), quarantine=held, why="Rung him up")
    send_out(
        by=shop.lead, act_id=uuid.uuid4(), vendor=shop.vendor, process="plate", pieces=[part], number=number,
        sent_on=date(2026, 5, 1),
    )  # fmt: skip
    receive_back(
        by=shop.lead, act_id=act_id, shipment=Shipment.objects.get(number=number), to=shop.shelf,
        back_on=date(2026, 5, 20), **{"counts": {part.pk: 1}, **more},
    )  # fmt: skip
    return act_id


def test_what_came_back_has_the_vendors_steps_behind_it() -> None:
    """His first steps that follow one another are one trip; a later trip to him is still to come."""
    shop = make_shop()
    part = make_part(shop, "0007", shop.shelf)
    make_steps(
        part, ("Strip", "sheet metal"), ("Plate", "PL"), ("Bake", "PL"), ("Prime", "sheet metal"), ("Test", "PL")
    )
    act_id = back(shop, part)
    assert [(s.name, s.done_act_id == act_id) for s in Step.objects.order_by("number")] == [
        ("Strip", False), ("Plate", True), ("Bake", True), ("Prime", False), ("Test", False)
    ]  # fmt: skip
    keys = {job.key for job in gather(shop.aircraft).network.jobs}
    assert f"piece:{part.pk}:2" not in keys and f"piece:{part.pk}:5" in keys
    assert (f"piece:{part.pk}:1", f"piece:{part.pk}:4") in links(shop)
    back(shop, part, "S-2")
    assert Step.objects.get(number=5).done_act_id is not None


def test_a_crack_test_is_done_when_its_result_is_read_and_not_sent_again_meanwhile() -> None:
    shop = make_shop()
    part = make_part(shop, "0007", shop.shelf)
    make_steps(part, ("Penetrant crack test", "PL"), ("Prime", "sheet metal"))
    key = f"piece:{part.pk}:1"
    assert gather(shop.aircraft).network.by_key[key].vendor == "Plater"
    back(shop, part)
    assert not Step.objects.exclude(done_act=None).exists()
    job = gather(shop.aircraft).network.by_key[key]
    assert (job.vendor, job.craft) == ("", "inspection")
    assert job.what == "Read the result of the penetrant crack test: the fitting 0007, tag 0007."
    say_of_job(by=shop.mechanic, act_id=uuid.uuid4(), aircraft=shop.aircraft, key=key, status="done")
    assert Step.objects.get(number=1).done_act is not None


def test_what_came_back_as_it_went_has_its_steps_open() -> None:
    shop = make_shop()
    part = make_part(shop, "0007", shop.shelf)
    make_steps(part, ("Plate", "PL"), ("Prime", "sheet metal"))
    back(shop, part, undone=[part.pk])
    assert not Step.objects.exclude(done_act=None).exists()
    back(shop, part, "S-2", counts={})  # nothing of it is here yet
    assert not Step.objects.exclude(done_act=None).exists()


def test_done_finishes_the_step_in_the_same_act_and_twice_is_once() -> None:
    shop = make_shop()
    part = with_route(shop)
    act_id, key = uuid.uuid4(), f"piece:{part.pk}:1"
    for _ in range(2):
        say_of_job(by=shop.mechanic, act_id=act_id, aircraft=shop.aircraft, key=key, status="done")
    step = Step.objects.get(piece=part, number=1)
    assert step.done_act_id == act_id
    assert JobSaid.objects.count() == 1
    assert Job.objects.get(key=key).withdrawn
    with pytest.raises(SaidOtherwise):
        say_of_job(by=shop.mechanic, act_id=act_id, aircraft=shop.aircraft, key=key, status="started")


def test_a_later_step_is_not_done_before_an_earlier_one() -> None:
    shop = make_shop()
    part = with_route(shop)
    with pytest.raises(Refused, match="comes before"):
        say_of_job(
            by=shop.mechanic, act_id=uuid.uuid4(), aircraft=shop.aircraft, key=f"piece:{part.pk}:3", status="done"
        )
    assert not JobSaid.objects.exists()


def test_done_rivets_the_row_and_leaves_what_is_open() -> None:
    shop = make_shop()
    make_row(shop, "C2", make_size(shop), 10, states={"empty": range(1, 9), "temporary": [9], "open": [10]})
    say_of_job(by=shop.mechanic, act_id=uuid.uuid4(), aircraft=shop.aircraft, key="seam:C2 left:fill", status="done")
    (seen,) = rows_seen(shop.aircraft)
    assert (seen.counts["riveted"], seen.counts["open"], seen.to_fill) == (9, 1, 1)


def test_stuck_needs_a_reason_and_an_owner_may_not_speak() -> None:
    shop = make_shop()
    part = with_route(shop)
    key = f"piece:{part.pk}:1"
    with pytest.raises(Refused, match="because of what"):
        say_of_job(by=shop.mechanic, act_id=uuid.uuid4(), aircraft=shop.aircraft, key=key, status="stuck", note=" ")
    with pytest.raises(NotAllowed):
        say_of_job(by=shop.owner, act_id=uuid.uuid4(), aircraft=shop.aircraft, key=key, status="started")
    with pytest.raises(Refused, match="no longer there"):
        say_of_job(by=shop.mechanic, act_id=uuid.uuid4(), aircraft=shop.aircraft, key="piece:0:1", status="started")


def test_what_people_said_outlives_a_new_derivation() -> None:
    shop = make_shop()
    part = with_route(shop)
    say_of_job(
        by=shop.mechanic,
        act_id=uuid.uuid4(),
        aircraft=shop.aircraft,
        key=f"piece:{part.pk}:1",
        status="stuck",
        note="no stripper",
    )
    derive_jobs(shop.aircraft)
    assert JobSaid.objects.get().note == "no stripper"


def test_a_job_written_by_hand_comes_after_what_it_names_and_an_unknown_name_is_told() -> None:
    shop = make_shop()
    part = with_route(shop)
    make_hand_job(shop, "H-1", "Turn two bushes", "machining", after=["0007"])
    make_hand_job(shop, "H-2", "Fit two bushes", after=["H-1", "H-99"])
    assert {(f"piece:{part.pk}:3", "hand:H-1:do"), ("hand:H-1:do", "hand:H-2:do")} <= links(shop)
    (fault,) = gather(shop.aircraft).faults
    assert "H-99" in fault


def test_a_circle_written_by_hand_is_told_as_a_sentence_and_the_rest_is_planned() -> None:
    shop = make_shop()
    part = with_route(shop)
    make_hand_job(shop, "H-1", "Fit the keel", after=["H-2"])
    make_hand_job(shop, "H-2", "Drill the keel", after=["H-1"])
    gathered = gather(shop.aircraft)
    (fault,) = gathered.faults
    assert "waits for" in fault
    assert {"hand:H-1:do", "hand:H-2:do", f"piece:{part.pk}:1"} <= gathered.keys


def test_the_number_of_queries_does_not_grow() -> None:
    shop = make_shop()
    size = make_size(shop)

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            gather(shop.aircraft)
        return len(seen)

    def more(n: int) -> None:
        part = with_route(shop, f"T{n}")
        make_row(shop, f"C{n}", size, 5, looked_at="yes" if n % 2 else "no")
        make_finding(shop, f"F-{n}", piece=part)
        make_hand_job(shop, f"H-{n}", "Turn bushes", "machining", zone=shop.zone)
        told(shop, lambda act: None)

    more(0)
    more(1)
    few = queries()
    for n in range(2, 9):
        more(n)
    assert queries() == few


def test_two_aircraft_may_call_their_rows_alike() -> None:
    shop = make_shop()
    make_row(shop, "C2", make_size(shop))
    derive_jobs(shop.aircraft)
    other = Aircraft.objects.create(name="Other", arrived_on=shop.aircraft.arrived_on)
    zone = Zone.objects.create(aircraft=other, number="100", name="hull bottom")
    twin = replace(shop, aircraft=other, zone=zone)
    make_row(twin, "C2", None, looked_at="no")
    derive_jobs(other)
    say_of_job(
        by=shop.lead,
        act_id=uuid.uuid4(),
        aircraft=shop.aircraft,
        key="seam:C2 left:fill",
        status="stuck",
        note="no bar",
    )
    assert {job.key for job in Job.objects.filter(aircraft=other)} >= {"seam:C2 left:look"}
    assert newest_said(shop.aircraft).keys() == {"seam:C2 left:fill"}
    assert newest_said(other) == {}
