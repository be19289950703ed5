"""The trip: what can be left and fetched at each stop, what bars it, who could finish something tonight, the van."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time

from django.db.models import Prefetch
from django.utils import timezone

from witnessmark.calc.bags.shipment import hidden_from_scales
from witnessmark.calc.plan.working_days import said_day, working_days
from witnessmark.calc.trip import (
    Barred,
    Conditional,
    DayOrder,
    Nearly,
    Stop,
    Tonight,
    loading_order,
    order_of_day,
    tonight,
)
from witnessmark.records.lookups.leaving import Known, judge
from witnessmark.records.lookups.outwork import ready_to_send
from witnessmark.records.lookups.packing import first_photos, quarantined
from witnessmark.records.lookups.steps import one_step_short
from witnessmark.records.lookups.where import Standing, standings
from witnessmark.records.models import (
    Person,
    PhotoUse,
    Piece,
    PieceKind,
    Role,
    Shipment,
    ShipmentLine,
    Step,
    Trip,
    TripLine,
    TripStop,
    Vendor,
)

EVENING_HOURS = 2.0
LEAVES_AT = time(7)


@dataclass(frozen=True)
class LineSeen:
    """One line of a stop's sheet."""

    line: TripLine
    where: tuple[Standing, ...]
    photo: PhotoUse | None
    count: int
    bars: tuple[str, ...]
    terms: tuple[tuple[str, str, str], ...]

    @property
    def mixed(self) -> bool:
        """True where this bag lies in one basket with others at the vendor's and is fetched with that."""
        return self.line.kind == "fetch" and self.line.piece.kind == PieceKind.BAG and not self.where

    @property
    def hidden_from_scales(self) -> bool:
        """True where a single missing one of so many does not show in the mass."""
        return hidden_from_scales(self.count)

    @property
    def open(self) -> bool:
        """Neither done, nor refused, nor taken off the sheet."""
        return self.line.done_act_id is None and not self.line.refused_why and not self.line.off_why


@dataclass(frozen=True)
class StopSeen:
    """One stop with its two halves: what is left and what is fetched. `could` names what is on no sheet and could be."""

    stop: TripStop
    lines: tuple[LineSeen, ...]
    could: tuple[str, ...] = ()

    def _of(self, kind: str) -> tuple[LineSeen, ...]:
        return tuple(each for each in self.lines if each.line.kind == kind and not each.line.off_why)

    @property
    def leave(self) -> tuple[LineSeen, ...]:
        return self._of("leave")

    @property
    def fetch(self) -> tuple[LineSeen, ...]:
        return self._of("fetch")

    @property
    def counted(self) -> tuple[LineSeen, ...]:
        """What is fetched bag by bag."""
        return tuple(each for each in self.fetch if each.open and not each.mixed)

    @property
    def buckets(self) -> dict[Shipment, tuple[LineSeen, ...]]:
        """Bags of one shipment that could come, or do come, in one bucket."""
        found: dict[Shipment, tuple[LineSeen, ...]] = {}
        for each in self.fetch:
            if each.open and each.line.shipment is not None and each.line.piece.kind == PieceKind.BAG:
                found[each.line.shipment] = (*found.get(each.line.shipment, ()), each)
        return {s: lines for s, lines in found.items() if len(lines) > 1 or any(each.mixed for each in lines)}

    @property
    def off(self) -> tuple[LineSeen, ...]:
        return tuple(each for each in self.lines if each.line.off_why)

    @property
    def open_count(self) -> int:
        return sum(each.open for each in self.lines)

    @property
    def sentence(self) -> str:
        """Say what is done at this stop."""
        leave, fetch = sum(e.open for e in self.leave), sum(e.open for e in self.fetch)
        parts = [f"leave {leave}" if leave else "", f"fetch {fetch}" if fetch else ""]
        said = " and ".join(filter(None, parts))
        if said:
            return f"{said[0].upper()}{said[1:]}."
        return (
            "Signed."
            if self.stop.signed_act_id
            else "Nothing is left to do here."
            if self.lines
            else f"Nothing is on its sheet, and {'one thing' if len(self.could) == 1 else f'{len(self.could)} things'} could be."
            if self.could
            else "Nothing is on its sheet."
        )


@dataclass(frozen=True)
class NotOnWay:
    """A line that waits for a test which no stop of this trip does."""

    line: TripLine
    sentence: str


@dataclass(frozen=True)
class TripSeen:
    """The whole day."""

    trip: Trip
    stops: tuple[StopSeen, ...]
    order: DayOrder
    not_on_way: tuple[NotOnWay, ...]
    tonight: tuple[Tonight, ...]
    loading: tuple[tuple[str, str], ...]
    loading_fault: str
    proposed: bool
    today: date

    @property
    def when(self) -> str:
        """Its day, with the year where that is not this one."""
        return f"{self.trip.day:%A} {said_day(self.trip.day, self.today)}"

    @property
    def can_tonight(self) -> tuple[Tonight, ...]:
        return tuple(each for each in self.tonight if each.can)

    @property
    def not_tonight(self) -> tuple[Tonight, ...]:
        return tuple(each for each in self.tonight if not each.can)

    @property
    def sentence(self) -> str:
        """Say what the day is, or what is wrong with it."""
        trip = self.trip
        if trip.ended_act_id is not None:
            return f"The trip of {self.when} is over."
        if self.proposed and self.order.moved:
            return self.order.moved[0]
        if self.proposed and self.order.waits:
            return self.order.waits[0].sentence
        stops = len(self.stops)
        return f"{trip.driver.name} drives on {self.when}: {stops} {'stop' if stops == 1 else 'stops'}."


def trips() -> list[Trip]:
    """Every trip, the next one first, those that are over last."""
    rows = Trip.objects.select_related("driver").prefetch_related(
        Prefetch("stops", TripStop.objects.select_related("vendor").order_by("position"))
    )
    return sorted(rows, key=lambda trip: (trip.ended_act_id is not None, trip.day, trip.number))


def could_leave(vendors: Sequence[Vendor]) -> list[tuple[Vendor, Piece, str]]:
    """What is ready for these vendors: vendor, piece and process."""
    wanted = {vendor.pk: vendor for vendor in vendors}
    return [
        (wanted[group.vendor.pk], ready.piece, group.process)
        for group in ready_to_send()
        if group.vendor.pk in wanted
        for ready in group.to_send
    ]


def could_fetch(vendors: Sequence[Vendor], day: date) -> list[tuple[Vendor, ShipmentLine]]:
    """What is at these vendors and promised by that day, or past its most likely time."""
    found = []
    for line in (
        ShipmentLine.objects.filter(shipment__vendor__in=list(vendors), shipment__back_on=None)
        .exclude(shipment__sent_on=None)
        .select_related("shipment__vendor", "piece")
        .order_by("shipment__number", "id")
    ):
        shipment = line.shipment
        if line.count_out <= (line.count_back or 0) or shipment.sent_on is None:
            continue
        if shipment.promised_on is not None:
            due = shipment.promised_on <= day
        else:
            due = working_days(shipment.sent_on, day) >= shipment.vendor.likely_days
        if due:
            found.append((shipment.vendor, line))
    return found


def still_to_take(
    vendors: Sequence[Vendor], day: date
) -> tuple[list[tuple[Vendor, Piece, str]], list[tuple[Vendor, ShipmentLine]]]:
    """What could be left and what could be fetched, and is on no open sheet of any trip."""
    open_lines = TripLine.objects.filter(done_act=None, off_why="", refused_why="", stop__trip__ended_act=None)
    taken = set(open_lines.values_list("piece_id", flat=True))
    left = [each for each in could_leave(vendors) if each[1].pk not in taken]
    return left, [each for each in could_fetch(vendors, day) if each[1].piece_id not in taken]


def stops_of(trip: Trip) -> list[TripStop]:
    lines = TripLine.objects.select_related("piece__size", "piece__aircraft", "shipment", "photo", "done_act__person")
    return list(
        TripStop.objects.filter(trip=trip)
        .select_related("vendor__holder", "signed_act")
        .prefetch_related(Prefetch("lines", lines.order_by("id")))
        .order_by("position")
    )


def known_of(stops: Sequence[TripStop]) -> dict[int, Known]:
    """What bars each line that is still to be left, by the line's number."""
    found: dict[int, Known] = {}
    for stop in stops:
        by_process: dict[str, list[TripLine]] = {}
        for line in stop.lines.all():
            if line.kind == "leave" and line.done_act_id is None and not line.refused_why and not line.off_why:
                by_process.setdefault(line.process, []).append(line)
        for process, lines in by_process.items():
            judged = judge([line.piece for line in lines], stop.vendor, process)
            found.update({line.pk: known for line, known in zip(lines, judged.known, strict=True)})
    return found


def tester_of(pieces: Iterable[int]) -> dict[int, Step]:
    """The first open step of each piece: where a test waits, who does it."""
    found: dict[int, Step] = {}
    for step in Step.objects.filter(piece_id__in=list(pieces), done_act=None).order_by("piece_id", "number"):
        found.setdefault(step.piece_id, step)
    return found


def words_of(piece: Piece, count: int) -> str:
    """A piece inside a sentence: `2 wheel bolts (L-063)`, `the bow cap (0001)`."""
    name = piece.name[:1].lower() + piece.name[1:] if not piece.name[:2].isupper() else piece.name
    tag = f" ({piece.tag})" if piece.tag else ""
    return f"{count} {name}{tag}" if count > 1 else f"the {name}{tag}"


def order_for(trip: Trip, stops: Sequence[TripStop]) -> tuple[DayOrder, tuple[NotOnWay, ...]]:
    """The order of the stops that the open tests ask for, and what waits for a test that is not on the way."""
    return _order_for(trip, stops, known_of(stops))


def _order_for(trip: Trip, stops: Sequence[TripStop], known: dict[int, Known]) -> tuple[DayOrder, tuple[NotOnWay, ...]]:
    said = sorted(stops, key=lambda stop: stop.position)
    by_code = {stop.vendor.code: stop for stop in stops}
    barred, not_on_way = [], []
    waiting = {
        line.pk: (stop, line)
        for stop in stops
        for line in stop.lines.all()
        if line.pk in known and known[line.pk].leaving.waits_for_test and known[line.pk].must_not
    }
    testers = tester_of(line.piece_id for _, line in waiting.values())
    counts = standings([line.piece for _, line in waiting.values()])
    for stop, line in waiting.values():
        step = testers.get(line.piece_id)
        count = sum(s.count for s in counts[line.piece_id]) or 1
        what = words_of(line.piece, count)
        if step is not None and step.who in by_code and step.who != stop.vendor.code:
            barred.append(Barred(str(line.pk), what, stop.vendor.code, step.who))
        else:
            who = f" at {step.who}" if step is not None else ""
            sentence = f"{what} waits for its test{who}, which is not on this trip: it comes off the sheet."
            not_on_way.append(NotOnWay(line, f"{sentence[:1].upper()}{sentence[1:]}"))
    later = TripStop.objects.filter(
        trip__day__gt=trip.day, trip__ended_act=None, vendor__in=[s.vendor_id for s in stops]
    )
    next_trips: dict[str, list[int]] = {}
    for other in later.select_related("trip", "vendor"):
        next_trips.setdefault(other.vendor.code, []).append(working_days(trip.day, other.trip.day))
    day_order = order_of_day(
        [Stop(stop.vendor.code, stop.vendor.name, stop.while_waiting) for stop in said],
        barred,
        {stop.vendor.code: stop.vendor.likely_days for stop in stops},
        next_trips,
    )
    return day_order, tuple(not_on_way)


def _tonight(trip: Trip, stops: Sequence[TripStop], now: datetime, evening_hours: float) -> tuple[Tonight, ...]:
    names = {stop.vendor.code: stop.vendor.name for stop in stops}
    near = [
        Nearly(
            each.piece.key,
            each.piece.name,
            names[each.vendor_code],
            each.step.name,
            each.step.who,
            each.step.hours_likely,
            each.step.cures_hours,
        )
        for each in one_step_short(list(names))
    ]
    people: dict[str, list[tuple[str, float]]] = {}
    crew = Person.objects.filter(is_active=True, role__in=(Role.MECHANIC, Role.INSPECTOR, Role.LEAD)).exclude(craft="")
    for person in crew.order_by("id"):
        people.setdefault(person.craft, []).append((person.name, evening_hours))
    leaves = timezone.make_aware(datetime.combine(trip.day, trip.leaves_at or LEAVES_AT))
    hours = max(0.0, (leaves - now).total_seconds() / 3600)
    return tonight(near, people, hours)


def trip_seen(trip: Trip, now: datetime, evening_hours: float = EVENING_HOURS) -> TripSeen:
    """Answer for a trip's page, in a number of queries that grows with its stops alone."""
    stops = stops_of(trip)
    known = known_of(stops)
    pieces = [line.piece for stop in stops for line in stop.lines.all()]
    where, photos, held = standings(pieces), first_photos(pieces), quarantined([p.pk for p in pieces])
    seen = tuple(
        StopSeen(stop, tuple(_line(line, known.get(line.pk), where, photos, held) for line in stop.lines.all()))
        for stop in stops
    )
    day_order, not_on_way = _order_for(trip, stops, known)
    if trip.ended_act_id is None:
        seen = _with_more(seen, trip.day)
    boxes = {
        each.stop.vendor.name: list(
            dict.fromkeys(
                f"{line.line.box}" if line.line.box else line.line.piece.key for line in each.leave if line.open
            )
        )
        for each in seen
    }
    try:
        loading, fault = loading_order([each.stop.vendor.name for each in seen], boxes), ""
    except ValueError as why:
        loading, fault = (), f"{str(why)[:1].upper()}{str(why)[1:].rstrip('.')}."
    proposed = bool(
        not_on_way
        or day_order.waits
        or any(_not_yet_at_tester(each, stops) for each in day_order.conditional)
        or list(day_order.order) != [stop.vendor.code for stop in stops]
    )
    return TripSeen(
        trip=trip,
        stops=seen,
        order=day_order,
        not_on_way=not_on_way,
        tonight=_tonight(trip, stops, now, evening_hours) if trip.ended_act_id is None else (),
        loading=loading,
        loading_fault=fault,
        proposed=proposed and trip.ended_act_id is None,
        today=now.date(),
    )


def _with_more(stops: Sequence[StopSeen], day: date) -> tuple[StopSeen, ...]:
    """The stops, each with what is ready for it or due there and on no sheet."""
    left, fetched = still_to_take([each.stop.vendor for each in stops if each.stop.signed_act_id is None], day)
    could: dict[int, list[str]] = {}
    had = {(each.stop.vendor_id, line.line.piece_id, line.line.kind) for each in stops for line in each.lines}
    for vendor, piece, process in left:
        if (vendor.pk, piece.pk, "leave") not in had:
            could.setdefault(vendor.pk, []).append(f"leave {piece.key} {piece.name}: {process}")
    for vendor, line in fetched:
        if (vendor.pk, line.piece_id, "fetch") not in had:
            could.setdefault(vendor.pk, []).append(f"fetch {line.piece.key} {line.piece.name}, {line.shipment.number}")
    return tuple(replace(each, could=tuple(could.get(each.stop.vendor_id, ()))) for each in stops)


def _not_yet_at_tester(each: Conditional, stops: Sequence[TripStop]) -> bool:
    """Whether what is tested on the way is not on its tester's sheet so far."""
    lines = {str(line.pk): line.piece_id for stop in stops for line in stop.lines.all()}
    return not any(
        line.piece_id == lines[each.piece] and line.kind == "leave" and not line.off_why
        for stop in stops
        if stop.vendor.code == each.tested_at
        for line in stop.lines.all()
    )


def _line(
    line: TripLine,
    known: Known | None,
    where: dict[int, list[Standing]],
    photos: dict[int, PhotoUse],
    held: dict[int, str],
) -> LineSeen:
    bars = [bar.why for bar in known.must_not] if known else []
    if known is not None and line.piece_id in held:
        bars.append(f"In quarantine: {held[line.piece_id]}.")
    at = tuple(where[line.piece_id])
    return LineSeen(
        line=line,
        where=at,
        photo=photos.get(line.piece_id),
        count=line.count or sum(s.count for s in at),
        bars=tuple(bars),
        terms=tuple((bar.rule, bar.term, bar.why) for bar in known.terms) if known else (),
    )


def stop_seen(trip: Trip, code: str, now: datetime) -> tuple[TripSeen, StopSeen] | None:
    """One stop of a trip by its vendor's code."""
    seen = trip_seen(trip, now)
    one = next((each for each in seen.stops if each.stop.vendor.code == code), None)
    return (seen, one) if one is not None else None
