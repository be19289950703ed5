"""Certificates that shipments must bring back, hunts, and planned trips."""

from datetime import time

from witnessmark.exchange import cells
from witnessmark.exchange.cells import Wrong
from witnessmark.exchange.listfile import Kept, ListFile, Writer
from witnessmark.exchange.lists.known import Known, subject
from witnessmark.records.models import (
    Act,
    Certificate,
    CertificateKind,
    Hunt,
    HuntAsked,
    HuntWaiting,
    HuntWhy,
    Piece,
    Place,
    Quarantine,
    Shipment,
    ShipmentLine,
    Trip,
    TripLine,
    TripStop,
)

_WHY = {word: word for word in HuntWhy.values}


def certificates(f: ListFile) -> Writer:
    """Papers by shipment and kind. One that has not come keeps what is back in quarantine."""
    have = {(one.shipment.number, one.kind): one for one in Certificate.objects.select_related("shipment")}
    shipments = {one.number: one for one in Shipment.objects.all()}
    kept = Kept()
    for row in f.rows:
        with f.row(row) as c:
            kind = cells.word(c["kind"], "kind", tuple(CertificateKind.values))
            f.once(c["shipment"], kind, what=f"The {kind} of shipment {c['shipment']}")
            shipment = shipments.get(c["shipment"])
            if shipment is None:
                raise Wrong(f"There is no shipment {c['shipment']}. Write it into shipments.csv first")
            came = f.day("came_on")
            one = have.get((c["shipment"], kind))
            if one is None:
                made = f.new(Certificate, shipment=shipment, kind=kind, why=c["why"], number=c["number"], came_on=came)
                kept.new.append(made)
                continue
            if one.came_on != came:
                f.differs(
                    f"The {kind} of {c['shipment']}", came or "not here", one.came_on or "not here",
                    "File it on the certificates page.",
                )  # fmt: skip
            if f.update(one, why=c["why"], number=c["number"]):
                kept.changed[one.pk] = one

    def write(act: Act) -> None:
        for one in kept.new:
            one.act = act
            one.came_act = act if one.came_on else None
        kept.write(Certificate, ("why", "number"))
        _hold(act, [one for one in kept.new if one.came_on is None])

    return write


def _hold(act: Act, missing: list[Certificate]) -> None:
    """What came back without its paper waits in quarantine, once for each shipment."""
    names: dict[int, list[str]] = {}
    for paper in missing:
        names.setdefault(paper.shipment_id, []).append(paper.get_kind_display())
    numbers = {one.pk: one.number for one in Shipment.objects.filter(pk__in=list(names))}
    held = set(Quarantine.objects.filter(lifted_act=None).values_list("piece_id", "shipment_id"))
    back = ShipmentLine.objects.filter(shipment__in=list(names), count_back__gt=0).order_by("id")
    Quarantine.objects.bulk_create(
        [
            Quarantine(
                piece_id=line.piece_id,
                shipment_id=line.shipment_id,
                why=f"shipment {numbers[line.shipment_id]} has not brought its {' and its '.join(names[line.shipment_id])}",
                act=act,
            )
            for line in back
            if (line.piece_id, line.shipment_id) not in held
        ]
    )


def hunts(f: ListFile) -> Writer:
    """Hunts by number, each with at most one who was asked; further ones are written down on its page."""
    known = Known(f.machine)
    have = {one.number: one for one in Hunt.objects.filter(aircraft=f.machine)}
    before = dict(Hunt.objects.filter(aircraft=None).values_list("number", "what"))
    made: list[tuple[Hunt, Place | None, str, HuntAsked | None, bool]] = []
    kept = Kept()
    for row in f.rows:
        with f.row(row) as c:
            f.once(c["hunt"], what=f"Hunt {c['hunt']}")
            if c["hunt"] in before:
                raise Wrong(
                    f"{c['hunt']} is the number of a hunt that was begun before the lists: {before[c['hunt']]}. "
                    "Give this one the next number"
                )
            on = subject(known, c["on"]) if c["on"] else {}
            if not set(on) <= {"piece", "place"}:
                raise Wrong(f"on is '{c['on']}'. A hunt is for a tag or for a place: mark and side")
            asked_on, again = f.day("asked_on"), f.day("again")
            if bool(c["asked"]) != bool(asked_on):
                raise Wrong("asked and asked_on belong together. Write both or none")
            if again and asked_on and again <= asked_on:
                raise Wrong(f"again {again} is not after asked_on {asked_on}. Correct the days")
            waits = known.mark_and_side(c["waits"]) if c["waits"] else None
            if bool(waits) != bool(c["waits_for"]):
                raise Wrong("waits and waits_for belong together. Write both or none")
            values = {
                "what": c["what"],
                "why": cells.word(c["why"], "why", tuple(_WHY)),
                "measurements": c["measurements"],
                "also_do": c["also_do"],
                "may_wait_until": f.day("until"),
                "stores_said": c["stores"],
            }
            one = have.get(c["hunt"])
            if one is not None:
                if f.update(one, **values):
                    kept.changed[one.pk] = one
                continue
            hunt = f.new(Hunt, aircraft=f.machine, number=c["hunt"], **on, **values)
            asked = (
                f.new(HuntAsked, whom=c["asked"], asked_on=asked_on, said=c["said"], ask_again_on=again)
                if c["asked"]
                else None
            )
            made.append((hunt, waits, c["waits_for"], asked, bool(c["stores"])))

    def write(act: Act) -> None:
        for hunt, waits, what, asked, searched in made:
            hunt.act, hunt.stores_act = act, act if searched else None
            hunt.save()
            if waits is not None:
                HuntWaiting.objects.create(hunt=hunt, place=waits, for_what=what[:200], act=act)
            if asked is not None:
                asked.hunt, asked.act = hunt, act
                asked.save()
        kept.write(Hunt, ("what", "why", "measurements", "also_do", "may_wait_until", "stores_said"))

    return write


def trips(f: ListFile) -> Writer:
    """Trips, a stop a row in the order in which they are driven. A trip that is in the record stays as people left it."""
    known = Known(f.machine)
    have = {one.number: one for one in Trip.objects.prefetch_related("stops__vendor")}
    out = {
        (line.shipment.vendor_id, line.piece_id): line.shipment
        for line in ShipmentLine.objects.filter(shipment__back_on=None).select_related("shipment").order_by("id")
    }
    made: dict[str, Trip] = {}
    stops: list[tuple[Trip, TripStop, list[TripLine]]] = []
    for row in f.rows:
        with f.row(row) as c:
            f.once(c["trip"], c["stop"], what=f"Stop {c['stop']} of trip {c['trip']}")
            vendor, driver, day = known.vendor(c["stop"]), known.person(c["driver"]), f.day("day")
            there = have.get(c["trip"])
            if there is not None:
                if vendor.pk not in {stop.vendor_id for stop in there.stops.all()}:
                    f.differs(f"Trip {c['trip']}", f"stops at {vendor.code}", "does not", "Plan it on the trip page.")
                continue
            if c["leave"] and not c["process"]:
                raise Wrong("leave names tags and process is empty. Write what is to be done with them")
            leave = [known.piece(tag) for tag in cells.listed(c["leave"])]
            fetch = [known.piece(tag) for tag in cells.listed(c["fetch"])]
            strangers = [piece.key for piece in fetch if (vendor.pk, piece.pk) not in out]
            if strangers:
                raise Wrong(
                    f"fetch names {', '.join(strangers)}, not at {vendor.code}. Correct fetch, or shipments.csv"
                )
            trip = made.get(c["trip"])
            if trip is None:
                trip = f.new(Trip, number=c["trip"], day=day, driver=driver, leaves_at=_hour(c["leaves_at"]))
                made[c["trip"]] = trip
            elif trip.day != day or trip.driver_id != driver.pk:
                raise Wrong(f"Trip {c['trip']} has another day or driver in an earlier row. Write them alike")
            at = 1 + sum(one is trip for one, _, _ in stops)
            waiting = (
                cells.word(c["while_waiting"], "while_waiting", ("yes", "no")) == "yes" if c["while_waiting"] else False
            )
            stop = f.new(TripStop, vendor=vendor, position=at, said_position=at, while_waiting=waiting)
            stops.append(
                (trip, stop, [*_leave(leave, c), *(_fetch(piece, out[vendor.pk, piece.pk]) for piece in fetch)])
            )

    def write(act: Act) -> None:
        for trip in made.values():
            trip.act = act
            trip.save()
        for trip, stop, lines in stops:
            stop.trip = trip
            stop.save()
            for line in lines:
                line.stop, line.act = stop, act
            TripLine.objects.bulk_create(lines)

    return write


def _leave(pieces: list[Piece], c: dict[str, str]) -> list[TripLine]:
    return [TripLine(piece=piece, kind="leave", process=c["process"][:120], box=c["box"][:60]) for piece in pieces]


def _fetch(piece: Piece, shipment: Shipment) -> TripLine:
    return TripLine(piece=piece, kind="fetch", process=shipment.process, shipment=shipment, count=piece.count_off)


def _hour(text: str) -> time | None:
    if not text:
        return None
    try:
        return time.fromisoformat(text.zfill(5))
    except ValueError:
        raise Wrong(f"leaves_at is '{text}', no time of day. Write it like 07:30") from None
