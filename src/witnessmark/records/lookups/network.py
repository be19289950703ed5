"""The record of one aircraft gathered as the network of its jobs: the whole set at once, in a fixed number of queries."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from functools import cached_property

from django.db.models import Max

from witnessmark.calc.bags.leaving import is_test
from witnessmark.calc.plan.jobs import Job, Network, without_circles
from witnessmark.calc.plan.lead_times import Triple
from witnessmark.calc.plan.learning import Learned, corrected, corrections, left_over
from witnessmark.calc.plan.network import (
    A_LOOK,
    FindingIn,
    HandJob,
    OrderIn,
    RouteIn,
    SeamIn,
    StepIn,
    derive_network,
)
from witnessmark.calc.surface.processes import still_cautions
from witnessmark.records import models
from witnessmark.records.lookups.about import About, Gathering, in_words, piece_link, small
from witnessmark.records.lookups.day import today
from witnessmark.records.lookups.fixed import tied_links
from witnessmark.records.lookups.learned import (
    booked_hours,
    finished_jobs,
    kind_of_work,
    learned_from,
    step_names,
)
from witnessmark.records.lookups.needs import must_be_there, with_links
from witnessmark.records.lookups.network_faults import (
    hand_faults,
    usual_days,
    vendors_without_a_time,
    where_times_are_written,
)
from witnessmark.records.lookups.orders import OnShelf, RivetOrder, rivet_order
from witnessmark.records.lookups.outside import orders_out, shipments_out
from witnessmark.records.lookups.outwork import HERE
from witnessmark.records.lookups.results import results_to_read
from witnessmark.records.lookups.seams import RowSeen, rows_seen
from witnessmark.records.lookups.vendor_times import VendorTime, vendor_times, wait_of
from witnessmark.records.models import (
    Aircraft,
    Finding,
    HolderKind,
    Holding,
    HoleState,
    Piece,
    Step,
    Vendor,
)

LEAD, INSPECTION = "lead", "inspection"
# Hours that no list gives. Common practice, no source: the shop's own estimate replaces them.
CLOSE_HOURS = Triple(1, 2, 4)
_USUAL = 3
# A step that names what it works on already ("Inspect the frame", "Remove corrosion") is parted from the piece by a colon.
_OBJECT = re.compile(r",| (?:the|a|as|by|from|against|for) | (?:corrosion|sense|track|seal|sealant|stitching|relief)\b")


@dataclass(frozen=True)
class Gathered:
    """The network, what each of its jobs is about, and sentences on what could not be read as a job."""

    network: Network
    about: dict[str, About]
    by_hand: frozenset[tuple[str, str]]
    faults: tuple[str, ...]
    order: RivetOrder
    rows: tuple[RowSeen, ...]
    today: date
    aircraft_id: int
    # Jobs that cannot start because something they need is nowhere, and what was written down as needed.
    booked: Mapping[str, float] = field(default_factory=dict)
    learned: Learned = field(default_factory=lambda: corrections(()))
    kinds: Mapping[str, str] = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)
    times: Mapping[int, VendorTime] = field(default_factory=dict)
    is_now: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    missing: Mapping[str, str] = field(default_factory=dict)
    written_needs: Mapping[str, list[str]] = field(default_factory=dict)

    @cached_property
    def keys(self) -> frozenset[str]:
        return frozenset(self.network.by_key)

    def keys_of(self, name: str) -> tuple[str, ...]:
        """Keys of the jobs that people call so: a hand-made job, a row, a finding, or tag:step."""
        thing, _, step = name.partition(":")
        source = self.names.get(thing, "")
        ends = (step,) if step else ("fill", "look", "decide", "arrive", "back")
        return (*self.is_now.get(name, ()), f"hand:{name}:do", *(f"{source}:{end}" for end in ends if source))

    def about_job(self, key: str) -> About:
        """What the job is about; a job that only the plan knows, such as a cure, is about nothing."""
        return self.about.get(key, About(source="plan"))


def gather(aircraft: Aircraft) -> Gathered:
    """Read the whole record of one aircraft as a network of jobs."""
    now = today(aircraft)
    at = Gathering(
        aircraft, now, {z.pk: z for z in models.Zone.objects.filter(aircraft=aircraft)}, _zones_of_pieces(aircraft)
    )
    faults: list[str] = []
    at.times = vendor_times(now)
    vendors = {one.vendor.code: one.vendor for one in at.times.values()}
    faults += vendors_without_a_time(vendors.values(), usual_days(vendors.values()), where_times_are_written())
    rows = rows_seen(aircraft)
    order = rivet_order(aircraft, rows=rows)
    shipments = shipments_out(at)
    orders, order_of_size = orders_out(at, order)
    routes = _routes(at, vendors, rows)
    seams = _seams(at, rows, orders, order_of_size, order.shelf)
    findings = _findings(at)
    hand = _hand_jobs(at)
    faults += hand_faults(at, hand)
    derived = derive_network(routes, seams, orders, shipments, findings, [*hand, *_close_ups(at)])
    is_now = {job.key: job.stands_for for job in hand if job.stands_for}
    needed = must_be_there(derived, at, is_now)
    ties = tied_links(aircraft, derived.by_key)
    network, circles = without_circles(with_links(derived, [*needed.links, *ties]))
    faults += [
        f"{sentence} That is a circle: the plan leaves one of these waits out until it is mended."
        for sentence in circles
    ]
    for key, after in network.unknown_after:
        faults.append(
            f"{network.by_key[key].what.rstrip('.')}: it is to come after '{after}'. "
            "Nothing still to do is called that, so it does not wait."
        )
    booked = booked_hours(aircraft)
    steps = step_names(aircraft, network.by_key) if booked else {}
    return Gathered(
        network=network,
        booked=booked,
        learned=learned_from(finished_jobs(aircraft, booked)) if booked else corrections(()),
        kinds={job.key: kind_of_work(job.key, job.craft, steps.get(job.key, "")) for job in network.jobs}
        if booked
        else {},
        about=at.about,
        by_hand=frozenset(
            (link.before, link.after) for link in network.links if link.by_hand or link.after.startswith("hand:")
        ),
        faults=tuple(faults),
        order=order,
        rows=tuple(rows),
        today=now,
        aircraft_id=aircraft.pk,
        names=at.names,
        times=at.times,
        is_now=is_now,
        missing=needed.missing,
        written_needs=needed.written,
    )


def _zones_of_pieces(aircraft: Aircraft) -> dict[int, int]:
    through = Piece.zones.through.objects.filter(piece__aircraft=aircraft).order_by("-id")
    return dict(through.values_list("piece_id", "zone_id"))


def _routes(at: Gathering, vendors: dict[str, Vendor], rows: Iterable[RowSeen]) -> list[RouteIn]:
    steps = (
        Step.objects.filter(done_act=None, piece__aircraft=at.aircraft)
        .select_related("piece")
        .order_by("piece_id", "number")
    )
    lies: dict[int, str] = {}
    in_place: set[int] = set()
    for pk, kind, where in Holding.objects.filter(count__gt=0, piece__aircraft=at.aircraft).values_list(
        "piece_id", "holder__kind", "holder__name"
    ):
        if kind in HERE:
            lies[pk] = where
        elif kind == HolderKind.PLACE:
            in_place.add(pk)
    lies = {pk: where for pk, where in lies.items() if pk not in in_place}
    wanted_by: dict[str, list[RowSeen]] = {}
    for row in rows:
        for layer in row.layers:
            if layer.part_no:
                wanted_by.setdefault(layer.part_no, []).append(row)
    by_piece: dict[int, list[Step]] = {}
    for step in steps:
        by_piece.setdefault(step.piece_id, []).append(step)
    made = []
    unread = results_to_read(at.aircraft)
    for pk, group in by_piece.items():
        to_read = {step.pk for step in group[:1] if is_test(step.name) and (pk, step.who) in unread}
        piece, zone_id = group[0].piece, at.zone_of.get(pk)
        name = in_words(piece)
        if piece.tag:
            at.names[piece.tag] = f"piece:{pk}"
        on = pk in in_place
        if on:
            at.tell(
                f"piece:{pk}:off",
                About(
                    source="off",
                    piece_id=pk,
                    zone_id=zone_id,
                    lies_at="its place",
                    tag=piece.tag or "",
                    link=piece_link(piece),
                    waits_as=f"{name} is still in its place and has to come off",
                ),
            )
        for step in group:
            vendor = None if step.pk in to_read else vendors.get(step.who)
            at.tell(
                f"piece:{pk}:{step.number}",
                About(
                    source="vendor step" if vendor else "step",
                    piece_id=pk,
                    zone_id=zone_id,
                    vendor=vendor,
                    process=small(step.name),
                    count=1,
                    lies_at=lies.get(pk, ""),
                    tag=piece.tag or "",
                    link=piece_link(piece),
                    waits_as=(
                        f"{name} has still to come off, go to {vendor.name} and come back"
                        if on
                        else f"{name} has still to go to {vendor.name} and come back"
                    )
                    if vendor
                    else f"{name} waits for: {small(step.name)}",
                    hours_from="vendor's list" if vendor else f"route {step.template}" if step.template else "route",
                ),
            )
        made.append(
            RouteIn(
                piece=str(pk),
                tag=piece.tag or "",
                name=name,
                steps=tuple(
                    _result(step) if step.pk in to_read else _step(at, step, vendors.get(step.who)) for step in group
                ),
                take_off_craft="sheet metal" if on else "",
                zone=at.zone_name(zone_id),
                bays=tuple(
                    _bay(row)
                    for row in wanted_by.get(piece.part_no, ())
                    if piece.part_no and (piece.side == row.place.side or "C" in (piece.side, row.place.side))
                ),
            )
        )
    return made


def _bay(row: RowSeen) -> str:
    return f"row {row.name}"


def _result(step: Step) -> StepIn:
    """The piece is back from its test: what is left of that step is to read the result and to say it."""
    return StepIn(step.number, f"Read the result of the {small(step.name)}:", INSPECTION, A_LOOK)


def _step(at: Gathering, step: Step, vendor: Vendor | None) -> StepIn:
    wait = wait_of(at.times[vendor.pk], None, None, at.now) if vendor else None
    return StepIn(
        step=step.number,
        name=f"{step.name}:" if _OBJECT.search(step.name) and not vendor else step.name,
        who=vendor.name if vendor else step.who.strip().lower(),
        hours=Triple(step.hours_least, step.hours_likely, step.hours_most),
        bench=step.bench,
        cures_hours=step.cures_hours,
        days=wait.days if wait else None,
        wait=wait,
        caution=still_cautions(step.caution, step.piece.strength_mpa),
        next_within_hours=step.next_within_hours,
    )


def _seams(
    at: Gathering, rows: Iterable[RowSeen], orders: Iterable[OrderIn], brings: dict[int, str], shelf: Iterable[OnShelf]
) -> list[SeamIn]:
    stock: dict[tuple[int, float], int] = {}
    for bag in shelf:
        if bag.length_mm is not None:
            stock[bag.size_id, round(bag.length_mm, 2)] = (
                stock.get((bag.size_id, round(bag.length_mm, 2)), 0) + bag.count
            )
    to_buy = tuple(order.key for order in orders if order.key.startswith("rivets-"))
    made = []
    for row in rows:
        holes = row.counts[HoleState.EMPTY] + row.counts[HoleState.TEMPORARY]
        at.names[row.mark] = at.names[row.name] = f"seam:{row.name}"
        if row.looked_at and not holes:
            continue
        link = f"/seam/{row.mark}/{row.place.side}/"
        for what, waits in (
            ("look", f"row {row.name} is not looked at"),
            ("fill", f"row {row.name} has {holes} holes to fill"),
        ):
            if (what == "look" and not row.looked_at) or (what == "fill" and holes):
                at.tell(
                    f"seam:{row.name}:{what}",
                    About(
                        source=what,
                        row_id=row.place.pk,
                        zone_id=row.place.zone_id,
                        link=link,
                        count=holes if what == "fill" else 3,
                        waits_as=waits,
                    ),
                )
        needs: tuple[str, ...] = () if row.looked_at else to_buy
        if row.size is not None and holes:
            bag_of = row.size.pk, round(row.length.stock_mm, 2) if row.length else 0.0
            if stock.get(bag_of, 0) >= holes:
                stock[bag_of] -= holes
            elif row.size.pk in brings:
                needs = tuple({*needs, brings[row.size.pk]})
        made.append(
            SeamIn(
                row=row.name,
                name=small(row.row.seam),
                zone=at.zone_name(row.place.zone_id),
                holes_total=row.holes,
                holes_to_fill=holes,
                looked_at=row.looked_at,
                needs_orders=needs,
                closes=(_bay(row),),
            )
        )
    return made


def _findings(at: Gathering) -> list[FindingIn]:
    found = Finding.objects.filter(aircraft=at.aircraft, state="open").select_related("piece", "place__row", "zone")
    made = []
    for finding in found.order_by("number"):
        row = finding.place is not None and hasattr(finding.place, "row")
        if finding.piece is not None:
            on, words = str(finding.piece_id), in_words(finding.piece)
        elif finding.place is not None:
            place = finding.place
            words = place.mark if place.side == "C" else f"{place.mark} {place.get_side_display()}"
            on, words = words, f"row {words}" if row else words
        else:
            on, words = "", f"the {small(finding.zone.name)}" if finding.zone else "the aircraft"
        zone_id = finding.zone_id or (finding.place.zone_id if finding.place else at.zone_of.get(finding.piece_id or 0))
        what = small(finding.what).strip().rstrip(".")
        at.names[finding.number] = f"finding:{finding.number}"
        at.tell(
            f"finding:{finding.number}:decide",
            About(
                source="finding",
                piece_id=finding.piece_id,
                zone_id=zone_id,
                link=piece_link(finding.piece)
                if finding.piece
                else f"/place/{finding.place_id}/"
                if finding.place_id
                else "",
                tag=(finding.piece.tag or "") if finding.piece else "",
                waits_as=f"finding {finding.number} has no decision: {what}",
            ),
        )
        # A hole that waits for an answer does not keep the other holes of its row from being riveted.
        made.append(FindingIn(finding.number, "" if row else on, f"{words}: {what}", needs_decision=True))
    return made


def _hand_jobs(at: Gathering) -> list[HandJob]:
    made = []
    written = list(models.HandJob.objects.filter(aircraft=at.aircraft).select_related("person").order_by("name"))
    stood_for = {each.partition(":")[0] for job in written for each in job.stands_for}
    for tag, pk in Piece.objects.filter(tag__in=stood_for).values_list("tag", "pk"):
        at.names.setdefault(str(tag), f"piece:{pk}")
    for job in written:
        at.tell(
            f"hand:{job.name}:do",
            About(
                source="hand",
                zone_id=job.zone_id,
                waits_as=f"this is not done: {small(job.what).rstrip('.')}",
                hours_from="written by hand",
            ),
        )
        mark = job.hours_most == 0  # a moment that others wait for: nobody works at it
        made.append(
            HandJob(
                key=job.name,
                what=job.what,
                craft="" if mark else job.craft.strip().lower(),
                hours=Triple(job.hours_least, job.hours_likely, job.hours_most),
                bench=job.bench,
                zone=at.zone_name(job.zone_id),
                after=tuple(at.names.get(name, name) for name in job.after),
                not_before=job.not_before,
                # People write 1 for what goes first; the plan takes the greater figure first, and 0 for what is usual.
                priority=_USUAL - job.priority if job.priority else 0,
                person=job.person.name if job.person and not mark else "",
                due=job.due,
                stands_for=(same := _same_as(at, job.stands_for)),
                # The record knows what it stands for, and nothing of it is left to do.
                done=bool(job.stands_for) and not same and all(_known(at, each) for each in job.stands_for),
            )
        )
    return made


def _same_as(at: Gathering, names: Iterable[str]) -> tuple[str, ...]:
    """Keys of the open jobs that a row, a tag with its step (0231:3) or a finding has of itself."""
    found: list[str] = []
    for name in names:
        thing, _, step = name.partition(":")
        source = at.names.get(thing, "")
        ends = (step,) if step else ("look", "decide", "fill", "arrive", "back")
        found += [next((f"{source}:{end}" for end in ends if f"{source}:{end}" in at.about), "")]
    return tuple(key for key in found if key)


def _known(at: Gathering, name: str) -> bool:
    return name.partition(":")[0] in at.names


def _close_ups(at: Gathering) -> list[HandJob]:
    """A zone with something left to do is inspected and closed when all of that is done."""
    made = []
    for zone_id, keys in sorted(at.for_zone.items()):
        zone = at.zones.get(zone_id)
        if zone is None:
            continue
        # The pieces come by `closes`; what was written by hand in a zone may well come after its closing.
        after = tuple(dict.fromkeys(key for key in keys if not key.startswith(("piece:", "hand:"))))
        name = f"close-{zone.number}"
        at.about[f"hand:{name}:do"] = About(
            source="close",
            zone_id=zone_id,
            link=f"/zone/{zone.number}/",
            waits_as=f"the {small(zone.name)} cannot be closed",
        )
        made.append(
            HandJob(
                key=name,
                what=f"Inspect and close the {small(zone.name)}",
                craft=INSPECTION,
                hours=CLOSE_HOURS,
                zone=zone.name,
                after=after,
                closes=(zone.name,),
            )
        )
    return made


def with_said(gathered: Gathered, said: dict[str, models.JobSaid]) -> Network:
    """The network as people last spoke of it: done is gone, started goes on first, stuck does not start today."""
    # What the record itself counts as done has left the network; only a job written by hand is done because of a word.
    gone = {key for key, word in said.items() if word.status == "done" and key.startswith("hand:")}
    jobs: list[Job] = []
    for job in gathered.network.jobs:
        word = said.get(job.key)
        if job.key in gone:
            continue
        if job.key in gathered.missing:
            job = replace(job, release=max(job.release or gathered.today, gathered.today + timedelta(days=1)))
        if word is not None and word.status == "started":
            his = word.person is not None and word.person.craft.strip().lower() == job.craft
            job = replace(job, started=True, person=job.person or (word.person.name if his and word.person else ""))
        elif word is not None and word.status == "stuck":
            job = replace(job, release=max(job.release or gathered.today, gathered.today + timedelta(days=1)))
        if word is not None and word.estimate_hours is not None and not job.is_outside:
            job = replace(job, hours=Triple(*([word.estimate_hours] * 3)))
        elif gathered.kinds and job.hours.most and not job.is_outside:
            job = replace(job, hours=corrected(job.hours, gathered.learned.of(gathered.kinds.get(job.key, ""))))
        if spent := gathered.booked.get(job.key):
            job = replace(job, hours=left_over(job.hours, spent))
        jobs.append(job)
    links = tuple(x for x in gathered.network.links if x.before not in gone and x.after not in gone)
    return Network(tuple(jobs), links, gathered.network.unknown_after)


def newest_said(aircraft: models.Aircraft) -> dict[str, models.JobSaid]:
    """The newest word on each job."""
    newest = models.JobSaid.objects.filter(act__aircraft=aircraft).values("key").annotate(last=Max("id")).values("last")
    return {word.key: word for word in models.JobSaid.objects.filter(pk__in=newest).select_related("person")}
