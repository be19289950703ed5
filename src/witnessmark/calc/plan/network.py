"""The jobs of a restoration, derived from routes, rows, orders, shipments, findings and what people wrote down."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from witnessmark.calc.plan.jobs import Job, Link, Network
from witnessmark.calc.plan.lead_times import NOTHING, Triple, Wait

# Common practice, no source: a pair of riveters with everything laid out. The shop's own estimate replaces it.
HOLES_AN_HOUR = Triple(8, 12, 20)
# Common practice, no source: three heads of a row, or one finding talked over.
A_LOOK = Triple(0.25, 0.5, 1.0)
# Common practice, no source: a part is freed, tagged and laid on its shelf.
TAKE_OFF = Triple(0.5, 1, 3)


@dataclass(frozen=True)
class StepIn:
    """One step of a piece's route. With a vendor's `days`, `who` is his code; else `who` is a craft."""

    step: int
    name: str
    who: str
    hours: Triple = NOTHING
    bench: str = ""
    cures_hours: float = 0.0
    done: bool = False
    days: Triple | None = None
    caution: str = ""
    person: str = ""
    started: bool = False
    # Hours that the cure of a done step has still to run.
    cure_left_hours: float = 0.0
    # The next step begins at most so long after this one ended: primer within so many hours of etching.
    next_within_hours: float | None = None
    wait: Wait | None = None


@dataclass(frozen=True)
class RouteIn:
    """A piece and the road it takes back to its place. `bays`: what may not be closed before it is back."""

    piece: str
    tag: str
    name: str
    steps: tuple[StepIn, ...]
    zone: str = ""
    place: str = ""
    bays: tuple[str, ...] = ()
    priority: int = 0
    # Craft that takes it off where it is still in its place and has to go away; "" where it is off already.
    take_off_craft: str = ""


@dataclass(frozen=True)
class SeamIn:
    """A row of holes. `closes`: zones or bays that can be reached no more once it is filled."""

    row: str
    name: str
    zone: str
    holes_total: int
    holes_to_fill: int
    looked_at: bool
    needs_orders: tuple[str, ...] = ()
    closes: tuple[str, ...] = ()
    craft: str = "sheet metal"
    bench: str = ""
    look_hours: Triple = A_LOOK
    fill_hours: Triple | None = None
    priority: int = 0


@dataclass(frozen=True)
class OrderIn:
    """An order line that has not arrived. `promised_days`: working days from today."""

    key: str
    vendor: str
    what: str
    days: Triple
    ordered: bool = False
    promised_days: int | None = None
    wait: Wait | None = None


@dataclass(frozen=True)
class ShipmentIn:
    """Pieces at a vendor, or packed for him. `promised_days`: working days from today."""

    key: str
    vendor: str
    process: str
    days: Triple
    sent: bool
    pieces: tuple[str, ...]
    promised_days: int | None = None
    wait: Wait | None = None


@dataclass(frozen=True)
class FindingIn:
    """Something wrong. `on`: a piece's key or a row."""

    key: str
    on: str
    what: str
    needs_decision: bool
    hours: Triple = A_LOOK


@dataclass(frozen=True)
class HandJob:
    """A job somebody wrote down. `after`: keys of jobs, of hand jobs, or `source:id` for its last job.

    `stands_for`: keys of derived jobs that this is; where one is open, its words, person, bench and hours are laid
    over it, and no second job is made.
    """

    key: str
    what: str
    craft: str
    hours: Triple
    bench: str = ""
    zone: str = ""
    after: tuple[str, ...] = ()
    not_before: date | None = None
    priority: int = 0
    person: str = ""
    closes: tuple[str, ...] = ()
    done: bool = False
    due: date | None = None
    stands_for: tuple[str, ...] = ()


def _sentence(text: str) -> str:
    text = text.strip().rstrip(".")
    return text[:1].upper() + text[1:] + "."


def _named(route: RouteIn) -> str:
    name = route.name if route.name[:2].isupper() else route.name[:1].lower() + route.name[1:]
    return f"{name}, tag {route.tag}" if route.tag else name


def _promised(days: Triple, promised_days: int | None, wait: Wait | None) -> Triple:
    """What is still to wait: the promise, never less than a day; as wide above and below as the vendor is."""
    if promised_days is None or wait is not None:  # what was learned knows of the promise already
        return days
    likely = max(1, promised_days)
    return Triple(max(1, likely - (days.likely - days.least)), likely, likely + days.most - days.likely)


class _Derivation:
    """Jobs and links as they are found, source by source."""

    def __init__(self) -> None:
        self.jobs: dict[str, Job] = {}
        self.links: dict[tuple[str, str], float] = {}
        self.within: dict[tuple[str, str], float] = {}
        self.is_now: dict[str, tuple[str, ...]] = {}
        self.first_of_piece: dict[str, str] = {}
        self.last_in_bay: dict[str, list[str]] = defaultdict(list)
        self.unknown: list[tuple[str, str]] = []

    def add(self, job: Job) -> None:
        if job.key in self.jobs:
            raise ValueError(f"two jobs have the key {job.key}")
        self.jobs[job.key] = job

    def link(self, before: str, after: str, lag_hours: float = 0.0, within_hours: float | None = None) -> None:
        pair = (before, after)
        self.links[pair] = max(lag_hours, self.links.get(pair, 0.0))
        if within_hours is not None:
            self.within[pair] = min(within_hours, self.within.get(pair, within_hours))

    def orders(self, orders: Iterable[OrderIn]) -> None:
        for order in orders:
            what = (
                f"Wait for {order.what} from {order.vendor}"
                if order.ordered
                else f"Order {order.what} from {order.vendor}"
            )
            days = _promised(order.days, order.promised_days, order.wait) if order.ordered else order.days
            key = f"order:{order.key}:arrive"
            self.add(Job(key, _sentence(what), vendor=order.vendor, days=days, away=order.ordered, wait=order.wait))

    def shipments(self, shipments: Iterable[ShipmentIn]) -> dict[tuple[str, str], str]:
        """Return the shipment's job by piece and vendor."""
        serves: dict[tuple[str, str], str] = {}
        for shipment in shipments:
            key = f"shipment:{shipment.key}:back"
            said = f"shipment {shipment.key}"
            what = f"Wait for {said} from {shipment.vendor}" if shipment.sent else f"Send {said} to {shipment.vendor}"
            days = _promised(shipment.days, shipment.promised_days, shipment.wait) if shipment.sent else shipment.days
            what = f"{what}: {shipment.process}" if shipment.process else what
            self.add(
                Job(key, _sentence(what), vendor=shipment.vendor, days=days, away=shipment.sent, wait=shipment.wait)
            )
            serves.update({(piece, shipment.vendor): key for piece in shipment.pieces})
        return serves

    def routes(self, routes: Iterable[RouteIn], serves: dict[tuple[str, str], str]) -> None:
        for route in routes:
            before, lag_hours, served = "", 0.0, False
            within: float | None = None
            steps = sorted((step for step in route.steps if not step.done), key=lambda s: s.step)
            done = [step for step in route.steps if step.done]
            if done:
                lag_hours = max(done, key=lambda s: s.step).cure_left_hours
            for trip in _trips(steps):
                step = trip[0]
                shipment = "" if served or step.days is None else serves.get((route.piece, step.who), "")
                if shipment:
                    served = True
                    key = shipment
                    # What is away already waits for no step before it.
                    start_after = "" if self.jobs[shipment].away else before
                else:
                    if route.take_off_craft and step.days is not None and not before:
                        before = self._take_off(route)
                    key, start_after = f"piece:{route.piece}:{step.step}", before
                    self.add(_step_job(key, route, trip))
                if start_after:
                    self.link(start_after, key, lag_hours, within)
                elif lag_hours and not shipment:
                    cure = f"cure:{route.piece}:{step.step}"
                    self.add(Job(cure, _sentence(f"Let {_named(route)} cure"), piece=route.piece, zone=route.zone))
                    self.link(cure, key, lag_hours)
                self.first_of_piece.setdefault(route.piece, key)
                before, lag_hours, within = key, trip[-1].cures_hours, trip[-1].next_within_hours
            if before:
                for bay in {*route.bays, *([route.zone] if route.zone else [])}:
                    self.last_in_bay[bay].append(before)

    def _take_off(self, route: RouteIn) -> str:
        """What is still in its place comes off before it goes anywhere."""
        key = f"piece:{route.piece}:off"
        what = _sentence(f"Take off {_named(route)}: it has to go away")
        self.add(
            Job(
                key, what, route.take_off_craft, TAKE_OFF, zone=route.zone, place=route.place, piece=route.piece,
                priority=route.priority,
            )
        )  # fmt: skip
        self.first_of_piece.setdefault(route.piece, key)
        return key

    def seams(self, seams: Iterable[SeamIn]) -> None:
        for seam in seams:
            look, fill = f"seam:{seam.row}:look", f"seam:{seam.row}:fill"
            if not seam.looked_at:
                what = _sentence(f"Look at row {seam.row}, {seam.name}: measure three heads")
                self.add(
                    Job(look, what, seam.craft, seam.look_hours, zone=seam.zone, place=seam.row, priority=seam.priority)
                )
            if seam.holes_to_fill > 0:
                n = seam.holes_to_fill
                pace = HOLES_AN_HOUR
                hours = seam.fill_hours or Triple(n / pace.most, n / pace.likely, n / pace.least)
                what = _sentence(f"Rivet row {seam.row}, {seam.name}: {n} of {seam.holes_total} holes")
                self.add(
                    Job(
                        fill,
                        what,
                        seam.craft,
                        hours,
                        bench=seam.bench,
                        zone=seam.zone,
                        place=seam.row,
                        priority=seam.priority,
                    )
                )
                if not seam.looked_at:
                    self.link(look, fill)
            for order in seam.needs_orders:
                arrive = f"order:{order}:arrive"
                job = self.jobs.get(arrive)
                if job is None:
                    continue
                if fill in self.jobs:
                    self.link(arrive, fill)
                if look in self.jobs and not job.away:
                    self.link(look, arrive)
            self.closing(fill, seam.closes)

    def closing(self, key: str, closes: tuple[str, ...]) -> None:
        if key in self.jobs:
            for bay in closes:
                for before in self.last_in_bay.get(bay, ()):
                    if before != key:
                        self.link(before, key)

    def findings(self, findings: Iterable[FindingIn]) -> None:
        for finding in findings:
            if not finding.needs_decision:
                continue
            key = f"finding:{finding.key}:decide"
            self.add(
                Job(
                    key,
                    _sentence(f"Decide finding {finding.key}, {finding.what}"),
                    "lead",
                    finding.hours,
                    place=finding.on,
                )
            )
            held = self.first_of_piece.get(finding.on) or f"seam:{finding.on}:fill"
            if held in self.jobs and not self.jobs[held].away:
                self.link(key, held)
            elif held in self.jobs:
                for before, after in list(self.links):
                    if before == held and self.jobs[after].piece == finding.on:
                        self.link(key, after)

    def hand_jobs(self, hand_jobs: Iterable[HandJob]) -> None:
        kept = [job for job in hand_jobs if not job.done]
        for hand in kept:
            same = tuple(key for key in hand.stands_for if key in self.jobs)
            self.is_now[hand.key] = same or (f"hand:{hand.key}:do",)
            if same:
                self._lay_over(hand, same)
                continue
            self.add(
                Job(
                    f"hand:{hand.key}:do", _sentence(hand.what), hand.craft, hand.hours, bench=hand.bench, zone=hand.zone,
                    priority=hand.priority, person=hand.person, release=hand.not_before, due=hand.due,
                )
            )  # fmt: skip
        last_of = {key.rsplit(":", 1)[0]: key for key in self.jobs}
        for hand in kept:
            keys = self.is_now[hand.key]
            for after in hand.after:
                found = (after,) if after in self.jobs else self.is_now.get(after, ())
                befores = found or ((last_of[after],) if after in last_of else ())
                for before in befores:
                    for key in keys:
                        if before != key:
                            self.link(before, key)
                if not befores:
                    self.unknown.append((keys[0], after))
            for key in keys:
                self.closing(key, hand.closes)

    def _lay_over(self, hand: HandJob, keys: tuple[str, ...]) -> None:
        """What somebody wrote of jobs that the record gives by itself; the hours are those of all of them together."""
        n = len(keys)
        for key in keys:
            job = self.jobs[key]
            self.jobs[key] = replace(
                job,
                what=_sentence(hand.what) if n == 1 else job.what,
                craft=job.craft if job.is_outside else hand.craft or job.craft,
                hours=job.hours
                if job.is_outside or not hand.hours.most
                else Triple(hand.hours.least / n, hand.hours.likely / n, hand.hours.most / n),
                bench=hand.bench or job.bench,
                priority=hand.priority or job.priority,
                person="" if job.is_outside else hand.person or job.person,
                release=hand.not_before or job.release,
                due=hand.due or job.due,
            )


def _trips(steps: list[StepIn]) -> list[list[StepIn]]:
    """Steps one by one, but those that follow one another at one vendor together: they are one trip."""
    trips: list[list[StepIn]] = []
    for step in steps:
        last = trips[-1][-1] if trips else None
        if last is not None and last.days is not None and step.days is not None and last.who == step.who:
            trips[-1].append(step)
        else:
            trips.append([step])
    return trips


def _step_job(key: str, route: RouteIn, trip: list[StepIn]) -> Job:
    step = trip[0]
    outside = step.days is not None
    work = ", ".join([step.name, *(each.name[:1].lower() + each.name[1:] for each in trip[1:])])
    what = f"Send {_named(route)}, to {step.who}: {work}" if outside else f"{step.name} {_named(route)}"
    return Job(
        key,
        _sentence(what),
        craft="" if outside else step.who,
        hours=step.hours,
        vendor=step.who if outside else "",
        days=step.days or NOTHING,
        bench="" if outside else step.bench,
        zone=route.zone,
        place=route.place,
        piece=route.piece,
        priority=route.priority,
        person="" if outside else step.person,
        started=step.started,
        caution=" ".join(dict.fromkeys(each.caution for each in trip if each.caution)),
        wait=step.wait if outside else None,
    )


def derive_network(
    routes: Iterable[RouteIn] = (),
    seams: Iterable[SeamIn] = (),
    orders: Iterable[OrderIn] = (),
    shipments: Iterable[ShipmentIn] = (),
    findings: Iterable[FindingIn] = (),
    hand_jobs: Iterable[HandJob] = (),
) -> Network:
    """Return every job that is not done, and what it waits for.

    Parameters
    ----------
    routes : iterable of RouteIn
        Pieces with the steps of their routes. [-]
    seams : iterable of SeamIn
        Rows to look at or to fill. [-]
    orders : iterable of OrderIn
        Order lines that have not arrived. [-]
    shipments : iterable of ShipmentIn
        Shipments that are not back. [-]
    findings : iterable of FindingIn
        Findings; one that needs a decision holds the next step of its piece, or its row. [-]
    hand_jobs : iterable of HandJob
        What people wrote down. [-]

    Returns
    -------
    Network
        Jobs sorted by key, links sorted by their two keys.

    Raises
    ------
    ValueError
        Two jobs have the same key.

    Notes
    -----
    An `after` that no job has counts as done and is listed in `unknown_after`. Rings are left as they are:
    `without_circles` opens them and says which they were. Steps that follow one another at one vendor are one trip.

    Examples
    --------
    >>> step = StepIn(1, "Strip", "fitting", Triple(1, 2, 3))
    >>> derive_network([RouteIn("7", "0118", "Wing root fitting, left", (step,))]).jobs[0].what
    'Strip wing root fitting, left, tag 0118.'

    References
    ----------
    none: the shop's own record.
    """
    made = _Derivation()
    made.orders(orders)
    made.routes(routes, made.shipments(shipments))
    made.seams(seams)
    made.findings(findings)
    made.hand_jobs(hand_jobs)
    return Network(
        tuple(made.jobs[key] for key in sorted(made.jobs)),
        tuple(
            Link(before, after, lag, made.within.get((before, after)))
            for (before, after), lag in sorted(made.links.items())
        ),
        tuple(made.unknown),
    )
