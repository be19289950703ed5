"""The trip: a day's stops, what is left and fetched at each, the van, and the sheet that is signed at the counter."""

import uuid
from collections.abc import Callable
from datetime import time, timedelta

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import URLPattern, path
from django.views.decorators.http import require_http_methods

from witnessmark.calc.units import UnknownSize, parse_mass
from witnessmark.records.actions import counters, trips
from witnessmark.records.actions.custody import holder
from witnessmark.records.actions.saying import NotAllowed, Refused
from witnessmark.records.lookups.aircraft import holder_called, shelves
from witnessmark.records.lookups.day import now as moment
from witnessmark.records.lookups.day import the_aircraft, today
from witnessmark.records.lookups.trips import StopSeen, TripSeen, stop_seen, trip_seen
from witnessmark.records.lookups.trips import trips as all_trips
from witnessmark.records.models import HolderKind, Person, Piece, Role, Shipment, Trip, TripLine, TripStop, Vendor
from witnessmark.records.photo_store import NotAPicture
from witnessmark.web import asked
from witnessmark.web.orders import next_number
from witnessmark.web.pack import packed_of

SLOTS = 5  # stops that can be named when a trip is planned on one form


@login_required
@require_http_methods(["GET", "POST"])
def trips_screen(request: HttpRequest) -> HttpResponse:
    """Show the trips; a post plans one."""
    if request.method == "POST":
        try:
            number = _plan(request)
        except Refused as why:
            return asked.refusal(request, why, request.path)
        return redirect("trip", number=number)
    seen, day = all_trips(), today(the_aircraft())
    coming = [trip for trip in seen if trip.ended_act_id is None]
    return render(
        request,
        "trips.html",
        {
            "coming": coming,
            "over": [trip for trip in seen if trip.ended_act_id is not None],
            "tomorrow": day + timedelta(days=1),
            "vendors": Vendor.objects.all(),
            "people": Person.objects.filter(is_active=True, role__in=(Role.LEAD, Role.MECHANIC, Role.INSPECTOR)),
            "slots": range(1, SLOTS + 1),
            "next_number": next_number("T-", [trip.number for trip in seen]),
            "act_id": uuid.uuid4(),
        },
    )


def _plan(request: HttpRequest) -> str:
    codes = [code for code in request.POST.getlist("stop") if code]
    by_code = {vendor.code: vendor for vendor in Vendor.objects.filter(code__in=codes)}
    if any(code not in by_code for code in codes):
        raise Refused("One of these stops is no vendor of the list. Nothing was planned.")
    driver = Person.objects.filter(name=request.POST.get("driver", "")).first()
    if driver is None:
        raise Refused("Say who drives. Nothing was planned.")
    day = asked.day(request, "day", "The day")
    if day is None:
        raise Refused("Say on which day. Nothing was planned.")
    waits = [code for code in request.POST.getlist("waiting") if code in by_code]
    trips.plan_trip(
        by=asked.me(request),
        act_id=asked.act_id(request),
        number=request.POST.get("number", ""),
        day=day,
        driver=driver,
        vendors=[by_code[code] for code in codes],
        leaves_at=_hour(request),
        while_waiting=[by_code[code] for code in waits],
        note=request.POST.get("note", ""),
    )
    return request.POST.get("number", "").strip()


def _hour(request: HttpRequest) -> time | None:
    text = request.POST.get("leaves_at", "").strip()
    if not text:
        return None
    try:
        return time.fromisoformat(text)
    except ValueError:
        raise Refused(f"'{text[:20]}' is no time of day. Nothing was planned. Write it like 07:30.") from None


def _trip(number: str) -> Trip:
    found = Trip.objects.filter(number=number).select_related("driver").first()
    if found is None:
        raise Http404(f"There is no trip {number}.")
    return found


@login_required
@require_http_methods(["GET", "POST"])
def trip_screen(request: HttpRequest, number: str) -> HttpResponse:
    """Show one day; a post changes its plan."""
    trip = _trip(number)
    if request.method == "POST":
        say = OF_THE_DAY.get(request.POST.get("do", ""))
        try:
            if say is None:
                raise Refused("The form says nothing that can be done. Nothing was changed.")
            say(request, trip)
        except Refused as why:
            return asked.refusal(request, why, request.path)
        return redirect("trip", number=number)
    seen = trip_seen(trip, moment(the_aircraft()))
    return render(
        request,
        "trip.html",
        {
            "seen": seen,
            "trip": trip,
            "stops": [
                (stop, [(line, uuid.uuid4()) for line in stop.lines], uuid.uuid4(), uuid.uuid4()) for stop in seen.stops
            ],
            "to_load": any(line.open for stop in seen.stops for line in stop.leave),
            "all_signed": all(stop.stop.signed_act_id for stop in seen.stops),
            "shelves": shelves(),
            "ids": {form: uuid.uuid4() for form in ("order", "load", "end")},
        },
    )


def _piece(request: HttpRequest) -> Piece:
    tag = request.POST.get("tag", "").strip()
    piece = Piece.objects.filter(tag__iexact=tag).first() if tag else None
    if piece is None:
        raise Refused(f"No piece has the tag '{tag[:40]}'. Nothing was changed.")
    return piece


def _line(request: HttpRequest, trip: Trip) -> TripLine:
    text = request.POST.get("line", "")
    line = (
        TripLine.objects.filter(pk=int(text), stop__trip=trip).select_related("stop__trip").first()
        if text.isascii() and text.isdigit() and len(text) < 19
        else None
    )
    if line is None:
        raise Refused("That line is not on this trip. Nothing was changed. Open the page again.")
    return line


def _order(request: HttpRequest, trip: Trip) -> None:
    trips.set_out_order(by=asked.me(request), act_id=asked.act_id(request), trip=trip)


def _load(request: HttpRequest, trip: Trip) -> None:
    counters.load_van(by=asked.me(request), act_id=asked.act_id(request), trip=trip)


def _stop(request: HttpRequest, trip: Trip) -> TripStop:
    stop = trip.stops.filter(vendor__code=request.POST.get("stop", "")).select_related("trip", "vendor").first()
    if stop is None:
        raise Refused("That is no stop of this trip. Nothing was changed.")
    return stop


def _put(request: HttpRequest, trip: Trip) -> None:
    trips.put_on_sheet(
        by=asked.me(request),
        act_id=asked.act_id(request),
        stop=_stop(request, trip),
        piece=_piece(request),
        process=request.POST.get("process", ""),
        box=request.POST.get("box", ""),
    )


def _fill(request: HttpRequest, trip: Trip) -> None:
    trips.fill_sheet(by=asked.me(request), act_id=asked.act_id(request), stop=_stop(request, trip))


def _off(request: HttpRequest, trip: Trip) -> None:
    trips.take_off_sheet(
        by=asked.me(request),
        act_id=asked.act_id(request),
        line=_line(request, trip),
        why=request.POST.get("why", ""),
    )


def _end(request: HttpRequest, trip: Trip) -> None:
    if not asked.me(request).may_write:
        raise NotAllowed(f"{asked.me(request).name} may read this, not change it. Nothing was changed.")
    name = " ".join(request.POST.get("shelf", "").split())[:200]
    if not name:
        raise Refused("Say where it is unloaded to. Nothing was changed. Write the name of a shelf or a box.")
    counters.end_trip(
        by=asked.me(request),
        act_id=asked.act_id(request),
        trip=trip,
        to=holder_called(name) or holder(HolderKind.SHELF, name),
    )


OF_THE_DAY: dict[str, Callable[[HttpRequest, Trip], None]] = {
    "order": _order,
    "load": _load,
    "put": _put,
    "fill": _fill,
    "off": _off,
    "end": _end,
}


@login_required
@require_http_methods(["GET", "POST"])
def stop_screen(request: HttpRequest, number: str, code: str) -> HttpResponse:
    """Show one stop's sheet on the phone; a post says what happened at the counter."""
    trip = _trip(number)
    found = stop_seen(trip, code, moment(the_aircraft()))
    if found is None:
        raise Http404(f"Trip {number} does not stop at {code}.")
    seen, stop = found
    if request.method == "POST":
        say = AT_THE_COUNTER.get(request.POST.get("do", ""))
        try:
            if say is None:
                raise Refused("The form says nothing that can be done. Nothing was changed.")
            say(request, seen, stop)
        except (NotAPicture, Refused) as why:
            refused = why if isinstance(why, Refused) else Refused(f"{why} Nothing was changed.")
            return asked.refusal(request, refused, request.path)
        return redirect("stop", number=number, code=code)
    processes: dict[str, list[object]] = {}
    for line in stop.leave:
        if line.open:
            processes.setdefault(line.line.process, []).append(line)
    return render(
        request,
        "stop.html",
        {
            "seen": seen,
            "trip": trip,
            "stop": stop,
            "processes": [(process, lines, uuid.uuid4()) for process, lines in processes.items()],
            "to_fetch": stop.counted,
            "buckets": [(shipment, lines, uuid.uuid4()) for shipment, lines in stop.buckets.items()],
            "settled": [line for line in (*stop.leave, *stop.fetch) if not line.open],
            "refusable": [(line, uuid.uuid4()) for line in stop.lines if line.open],
            "next_number": next_number("S-", list(Shipment.objects.values_list("number", flat=True))),
            "people": Person.objects.filter(is_active=True, role__in=(Role.LEAD, Role.MECHANIC, Role.INSPECTOR)),
            "ids": {form: uuid.uuid4() for form in ("fetch", "unasked", "sign")},
        },
    )


def _picture(request: HttpRequest) -> counters.Picture | None:
    picture = request.FILES.get("picture")
    return counters.Picture(picture.read(), picture.name or "counter") if picture is not None else None


def _leave(request: HttpRequest, seen: TripSeen, stop: StopSeen) -> None:
    chosen = set(request.POST.getlist("line"))
    lines = [line.line for line in stop.leave if str(line.line.pk) in chosen]
    if len(lines) != len(chosen):
        raise Refused("One of these is not on this sheet. Nothing was left. Open the page again.")
    counters.leave_at_counter(
        by=asked.me(request),
        act_id=asked.act_id(request),
        stop=stop.stop,
        lines=lines,
        number=request.POST.get("number", ""),
        picture=_picture(request),
        packed=packed_of(request),
        promised_on=asked.day(request, "promised_on", "Promised for"),
    )


def _fetch(request: HttpRequest, seen: TripSeen, stop: StopSeen) -> None:
    counts = {}
    for line in stop.fetch:
        if not line.open:
            continue
        count = asked.whole(request, f"count-{line.line.pk}", str(line.line.piece))
        grams = _grams(request, f"mass-{line.line.pk}")
        if count:
            counts[line.line.pk] = counters.Counted(count, grams, request.POST.get(f"twice-{line.line.pk}") == "yes")
    counters.fetch_at_counter(
        by=asked.me(request),
        act_id=asked.act_id(request),
        stop=stop.stop,
        counts=counts,
        picture=_picture(request),
    )


def _grams(request: HttpRequest, name: str) -> float | None:
    text = request.POST.get(name, "").strip()
    try:
        return parse_mass(text).g if text else None
    except UnknownSize as why:
        raise Refused(f"{why} Nothing was changed.") from None


def _bucket(request: HttpRequest, seen: TripSeen, stop: StopSeen) -> None:
    shipment = next((s for s in stop.buckets if s.number == request.POST.get("shipment")), None)
    if shipment is None:
        raise Refused("No bags of that shipment are to be fetched here. Nothing was changed. Open the page again.")
    counters.fetch_bucket_at_counter(
        by=asked.me(request),
        act_id=asked.act_id(request),
        stop=stop.stop,
        shipment=shipment,
        count=asked.whole(request, "count", "Counted"),
        mass_g=_grams(request, "mass"),
        foreign=asked.whole(request, "foreign", "Not ours"),
        picture=_picture(request),
    )


def _unasked(request: HttpRequest, seen: TripSeen, stop: StopSeen) -> None:
    counters.take_unasked(
        by=asked.me(request),
        act_id=asked.act_id(request),
        stop=stop.stop,
        what=request.POST.get("what", ""),
        picture=_picture(request),
        count=asked.whole(request, "count", "The count") or 1,
        tag=request.POST.get("tag", ""),
    )


def _refuse(request: HttpRequest, seen: TripSeen, stop: StopSeen) -> None:
    counters.refuse_at_counter(
        by=asked.me(request),
        act_id=asked.act_id(request),
        line=_line(request, seen.trip),
        why=request.POST.get("why", ""),
    )


def _sign(request: HttpRequest, seen: TripSeen, stop: StopSeen) -> None:
    counters.sign_stop(
        by=asked.me(request),
        act_id=asked.act_id(request),
        stop=stop.stop,
        signed_by=request.POST.get("signed_by", ""),
    )


AT_THE_COUNTER: dict[str, Callable[[HttpRequest, TripSeen, StopSeen], None]] = {
    "leave": _leave,
    "fetch": _fetch,
    "bucket": _bucket,
    "unasked": _unasked,
    "refuse": _refuse,
    "sign": _sign,
}

urls: list[URLPattern] = [
    path("trip/", trips_screen, name="trips"),
    path("trip/<str:number>/", trip_screen, name="trip"),
    path("trip/<str:number>/<str:code>/", stop_screen, name="stop"),
]
