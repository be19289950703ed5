"""The trip planned: its stops, its sheets, and the order in which to drive."""

import uuid
from collections.abc import Mapping, Sequence
from datetime import date, time

from witnessmark.records.actions.custody import holder
from witnessmark.records.actions.saying import Refused, Result, say
from witnessmark.records.lookups import trips as seen
from witnessmark.records.lookups.day import the_aircraft, today
from witnessmark.records.models import Act, Holder, HolderKind, Person, Piece, Trip, TripLine, TripStop, Vendor

MOST_STOPS = 8


def drivers_hands(person: Person) -> Holder:
    """The driver as a holder: between two counters what is in the van is with him."""
    found = Holder.objects.filter(person=person).first()
    return found or holder(HolderKind.PERSON, person.name, person)


def running(trip: Trip) -> Trip:
    fresh = Trip.objects.select_for_update().get(pk=trip.pk)
    if fresh.ended_act_id is not None:
        raise Refused(f"Trip {fresh.number} is over. Nothing was changed. Plan another one.")
    return fresh


def plan_trip(
    *,
    by: Person,
    act_id: uuid.UUID,
    number: str,
    day: date,
    driver: Person,
    vendors: Sequence[Vendor],
    leaves_at: time | None = None,
    while_waiting: Sequence[Vendor] = (),
    note: str = "",
) -> Result:
    """Plan a day: its stops in the order they are said; what is ready and what is due goes on the sheets by itself."""
    if not vendors or len(vendors) > MOST_STOPS:
        raise Refused(f"A trip has from 1 to {MOST_STOPS} stops. Nothing was planned.")
    if len({vendor.pk for vendor in vendors}) != len(vendors):
        raise Refused("A stop stands twice on this trip. Nothing was planned. Name each once.")
    if not driver.may_write or not driver.is_active:
        raise Refused(f"{driver.name} does not drive for the shop. Nothing was planned.")
    if not number.strip() or len(number) > 40:
        raise Refused("A trip has a number. Nothing was planned.")
    if day < (now := today(the_aircraft())):
        raise Refused(
            f"{day:%-d %B %Y} has gone by: today is {now:%-d %B %Y}. Nothing was planned. Choose today or a day to come."
        )

    def do(act: Act) -> Result:
        if Trip.objects.filter(number=number.strip()).exists():
            raise Refused(f"Trip {number} is in the record already. Nothing was changed. Take the next number.")
        trip = Trip.objects.create(
            number=number.strip(), day=day, driver=driver, leaves_at=leaves_at, note=note.strip(), act=act
        )
        waits = {vendor.pk for vendor in while_waiting}
        stops = {
            vendor.pk: TripStop.objects.create(
                trip=trip, vendor=vendor, position=n, said_position=n, while_waiting=vendor.pk in waits
            )
            for n, vendor in enumerate(vendors, 1)
        }
        lines = _all_ready(act, stops, day)
        TripLine.objects.bulk_create(lines)
        return {"trip": trip.number, "stops": len(stops), "lines": len(lines)}

    said = {
        "number": number.strip(),
        "day": day,
        "driver": driver.pk,
        "vendors": [vendor.pk for vendor in vendors],
        "leaves_at": leaves_at,
        "while_waiting": sorted(vendor.pk for vendor in while_waiting),
        "note": note.strip(),
    }
    return say("plan_trip", by=by, act_id=act_id, said=said, do=do)


def _all_ready(act: Act, stops: Mapping[int, TripStop], day: date) -> list[TripLine]:
    """What is ready for these stops' vendors and what is due there by that day, if it is on no open sheet yet."""
    left, fetched = seen.still_to_take([stop.vendor for stop in stops.values()], day)
    lines = [
        TripLine(stop=stops[vendor.pk], piece=piece, kind="leave", process=process, act=act)
        for vendor, piece, process in left
    ]
    return lines + [
        TripLine(
            stop=stops[vendor.pk],
            piece=line.piece,
            kind="fetch",
            process=line.shipment.process,
            shipment=line.shipment,
            count=line.count_out - (line.count_back or 0),
            act=act,
        )
        for vendor, line in fetched
    ]


def fill_sheet(*, by: Person, act_id: uuid.UUID, stop: TripStop) -> Result:
    """Put all that is ready for a stop, and all that is due there, on its sheet: as a trip planned on the screen has it."""

    def do(act: Act) -> Result:
        trip = running(stop.trip)
        if TripStop.objects.filter(pk=stop.pk).exclude(signed_act=None).exists():
            raise Refused(f"The sheet of {stop.vendor.name} is signed. Nothing was changed. Plan another trip.")
        lines = _all_ready(act, {stop.vendor_id: stop}, trip.day)
        had = set(TripLine.objects.filter(stop=stop).values_list("piece_id", "kind"))
        new = [line for line in lines if (line.piece_id, line.kind) not in had]
        if not new:
            raise Refused(
                f"Nothing more is ready for {stop.vendor.name}, and nothing is due there. Nothing was changed."
            )
        TripLine.objects.bulk_create(new)
        return {"trip": trip.number, "stop": stop.vendor.code, "lines": len(new)}

    return say("fill_sheet", by=by, act_id=act_id, said={"stop": stop.pk}, do=do)


def put_on_sheet(*, by: Person, act_id: uuid.UUID, stop: TripStop, piece: Piece, process: str, box: str = "") -> Result:
    """Put a piece on a stop's sheet to be left there, or say in which box it travels."""
    if not process.strip():
        raise Refused("Say what he is to do with it. Nothing was changed.")

    def do(act: Act) -> Result:
        running(stop.trip)
        if TripStop.objects.filter(pk=stop.pk).exclude(signed_act=None).exists():
            raise Refused(f"The sheet of {stop.vendor.name} is signed. Nothing was changed. Plan another trip.")
        other = (
            TripLine.objects.filter(
                piece=piece, kind="leave", done_act=None, off_why="", refused_why="", stop__trip__ended_act=None
            )
            .exclude(stop=stop)
            .select_related("stop__trip", "stop__vendor")
            .first()
        )
        if other is not None:
            raise Refused(
                f"{piece} is on the sheet of {other.stop.vendor.name}, trip {other.stop.trip.number}. "
                "Nothing was changed. Take it off there first."
            )
        line, _ = TripLine.objects.get_or_create(stop=stop, piece=piece, kind="leave", defaults={"act": act})
        if line.done_act_id is not None:
            raise Refused(f"{piece} was left there already. Nothing was changed.")
        line.process, line.box, line.off_why, line.refused_why = process.strip()[:120], box.strip()[:60], "", ""
        line.save(update_fields=["process", "box", "off_why", "refused_why"])
        return {"line": line.pk}

    said = {"stop": stop.pk, "piece": piece.pk, "process": process.strip(), "box": box.strip()}
    return say("put_on_sheet", by=by, act_id=act_id, said=said, do=do, aircraft=piece.aircraft)


def open_line(line: TripLine) -> TripLine:
    fresh = TripLine.objects.select_for_update().get(pk=line.pk)
    if fresh.done_act_id is not None or fresh.refused_why or fresh.off_why:
        raise Refused("That line of the sheet is settled already. Nothing was changed. Open the page again.")
    return fresh


def take_off_sheet(*, by: Person, act_id: uuid.UUID, line: TripLine, why: str) -> Result:
    """Take a piece off a stop's sheet, with the reason."""
    if not why.strip():
        raise Refused("Say why it comes off the sheet. Nothing was changed.")

    def do(act: Act) -> Result:
        running(line.stop.trip)
        fresh = open_line(line)
        fresh.off_why = why.strip()[:300]
        fresh.save(update_fields=["off_why"])
        return {"line": fresh.pk}

    return say("take_off_sheet", by=by, act_id=act_id, said={"line": line.pk, "why": why.strip()}, do=do)


def _left_for_test(act: Act, stop: TripStop, line: TripLine) -> None:
    """Put what waits for its test on the tester's sheet instead."""
    step = seen.tester_of([line.piece_id])[line.piece_id]
    TripLine.objects.update_or_create(
        stop=stop,
        piece_id=line.piece_id,
        kind="leave",
        defaults={"process": step.name, "box": line.box, "off_why": ""},
        create_defaults={"process": step.name, "box": line.box, "act": act},
    )


def set_out_order(*, by: Person, act_id: uuid.UUID, trip: Trip) -> Result:
    """Put the stops in the order that open tests ask for; what may not be left comes off and is left at its tester."""

    def do(act: Act) -> Result:
        running(trip)
        stops = seen.stops_of(trip)
        order, not_on_way = seen.order_for(trip, stops)
        by_code = {stop.vendor.code: stop for stop in stops}
        lines = {str(line.pk): line for stop in stops for line in stop.lines.all()}
        for n, code in enumerate(order.order, 1):
            stop = by_code[code]
            stop.position = n
            stop.moved_why = next((why for why in order.moved if why.startswith(stop.vendor.name)), stop.moved_why)[
                :300
            ]
            stop.save(update_fields=["position", "moved_why"])
        off = [(lines[wait.piece], wait.sentence) for wait in order.waits]
        off += [(each.line, each.sentence) for each in not_on_way]
        for line, why in off:
            TripLine.objects.filter(pk=line.pk).update(off_why=why[:300])
        for wait in order.waits:
            _left_for_test(act, by_code[wait.left_at], lines[wait.piece])
        for each in order.conditional:
            _left_for_test(act, by_code[each.tested_at], lines[each.piece])
        return {"trip": trip.number, "order": list(order.order), "off": len(off)}

    return say("set_out_order", by=by, act_id=act_id, said={"trip": trip.pk}, do=do)
