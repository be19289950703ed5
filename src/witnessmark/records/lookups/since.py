"""What happened to the aircraft since a day, and what it waits for now, in the order a foreman says it."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from urllib.parse import quote

from django.db.models import Q
from django.utils import timezone

from witnessmark.calc.since import TYPED, Line, Part
from witnessmark.calc.surface.finding_kinds import KINDS
from witnessmark.records.lookups.about import small
from witnessmark.records.lookups.day import today
from witnessmark.records.lookups.findings import FindingSeen, finding_zones, findings_of
from witnessmark.records.lookups.leaves import and_list
from witnessmark.records.lookups.network import newest_said
from witnessmark.records.lookups.outwork import Out, shipments
from witnessmark.records.models import (
    Aircraft,
    Decision,
    Finding,
    HolderKind,
    HoleFilled,
    HoleState,
    Job,
    JobSaid,
    Move,
    Order,
    Piece,
    SentCopy,
    Step,
)

FIRST_TIME = timedelta(weeks=4)
# In the order in which it is told, each with the words over it.
SECTIONS = {
    "aircraft": "",
    "back": "What came back",
    "done": "What was done",
    "found": "What was found",
    "decided": "What was decided",
    "waits": "What it waits for now",
    "wanted": "What you are asked to decide",
    "money": "Hours and money",
    "dates": "When",
}
LOADED = "load_lists"  # what stands in a list is dated by its own day, never by the day it was loaded
MOST_FIRST = 12  # of one kind, so many are ticked before anybody looked


class NoSuchDay(ValueError):
    """A day from which nothing can be told; the message says why."""


@dataclass(frozen=True)
class Days:
    """From which day to which, both told of."""

    since: date
    until: date

    @property
    def begins(self) -> datetime:
        return timezone.make_aware(datetime.combine(self.since, time.min))

    @property
    def ends(self) -> datetime:
        return timezone.make_aware(datetime.combine(self.until + timedelta(days=1), time.min))

    def hold(self, day: date | None) -> bool:
        return day is not None and self.since <= day <= self.until

    def say(self, day: date) -> str:
        """A day as it is said: the year where it is another one."""
        return f"{day.day} {day:%B}" + (f" {day.year}" if day.year != self.until.year else "")


def days_since(aircraft: Aircraft, for_whom: str, since: date | None = None) -> Days:
    """The days to tell of: from the one asked for, else from the last copy for these readers, else four weeks.

    Raises NoSuchDay where that day lies ahead.
    """
    now = today(aircraft)
    if since is None:
        last = SentCopy.objects.filter(aircraft=aircraft, for_whom=for_whom).order_by("-until", "-pk").first()
        since = min(last.until, now) if last is not None else now - FIRST_TIME
    if since > now:
        raise NoSuchDay(
            f"{since.day} {since:%B} {since.year} lies ahead: today is {now.day} {now:%B} {now.year}. "
            "Nothing was made. Choose an earlier day."
        )
    return Days(since, now)


def plural(count: int, one: str, many: str = "") -> str:
    """A count with its word."""
    return f"{count:,} {one if count == 1 else many or f'{one}s'}"


def _piece(piece: Piece | None, lead: str) -> tuple[Part, ...]:
    """A piece's name as typed, and its tag."""
    if piece is None:
        return ()
    side = f"{piece.get_side_display()} " if piece.side != "C" and piece.get_side_display() not in piece.name else ""
    name = (Part(f"{lead}{side}{small(piece.name)}", TYPED),) if piece.name else ()
    return (*name, *((Part(f" ({piece.tag})", "serial"),) if piece.tag else ()))


def title(aircraft: Aircraft) -> Line:
    """Which aircraft it is, part by part."""
    built = " ".join(filter(None, (aircraft.maker, aircraft.type)))
    parts = [Part("An aircraft in restoration")]
    parts += [Part(f", {aircraft.name}", "mark")]
    parts += [Part(f", works number {aircraft.works_number}", "serial")] if aircraft.works_number else []
    parts += [Part(f", {built}", TYPED)] if built else []
    parts += [Part(f" of {aircraft.year}")] if aircraft.year else []
    parts += [Part(f", with {aircraft.shop}", "shops")] if aircraft.shop else []
    return Line("aircraft", "aircraft", (*parts, Part(".")))


def came_back(days: Days, sent: Iterable[Out], orders: Iterable[Order]) -> list[Line]:
    """Shipments that came back and orders that came, each with what is missing of it."""
    lines = []
    for each in sorted(sent, key=lambda out: (str(out.shipment.back_on), out.shipment.number)):
        shipment = each.shipment
        if shipment.back_on is None or not days.hold(shipment.back_on):
            continue
        missing = each.short_count + each.short_unknown
        came = (
            f"{each.count_back} of {plural(each.count_out, 'piece')}" if missing else plural(each.count_back, "piece")
        )
        tail = f"; {missing} {'is' if missing == 1 else 'are'} short" if missing else ""
        late = f", {plural(each.late_days, 'day')} later than promised" if each.late_days else ""
        lines.append(
            Line(
                f"shipment:{shipment.pk}",
                "back",
                (
                    Part(f"On {days.say(shipment.back_on)} {came} came back from outside"),
                    Part(f", from {shipment.vendor.name}", "shops"),
                    Part(f": {small(shipment.process)}", TYPED),
                    Part(f" ({shipment.number})", "serial"),
                    Part(f"{late}{tail}."),
                ),
                link=f"/outwork/{shipment.number}/",
            )
        )
    for order in orders:
        if order.came_on is None or not days.hold(order.came_on):
            continue
        lines.append(
            Line(
                f"order:{order.pk}",
                "back",
                (
                    Part(f"On {days.say(order.came_on)} an order came"),
                    Part(
                        f": {order.count:,} of {small(order.what)}" if order.count > 1 else f": {small(order.what)}",
                        TYPED,
                    ),
                    Part(f", from {order.vendor.name}", "shops"),
                    Part(f" ({order.number})", "serial"),
                    Part("."),
                ),
                link="/orders/",
            )
        )
    return lines


def _within(days: Days) -> Q:
    return Q(act__happened_at__gte=days.begins, act__happened_at__lt=days.ends) & ~Q(act__verb=LOADED)


RIVETED = (HoleState.RIVETED, HoleState.OVERSIZE)


def done(aircraft: Aircraft, days: Days) -> list[Line]:
    """Pieces off and back on, holes riveted, steps and jobs finished: what people said, not what lists hold."""
    lines = []
    moved = Move.objects.filter(_within(days), from_piece__aircraft=aircraft)
    off = moved.filter(from_holder__kind=HolderKind.PLACE).exclude(to_holder__kind=HolderKind.PLACE)
    on = moved.filter(to_holder__kind=HolderKind.PLACE).exclude(from_holder__kind=HolderKind.PLACE)
    came_off, went_on = off.values("from_piece").distinct().count(), on.values("to_piece").distinct().count()
    if came_off or went_on:
        said = [
            *([f"{plural(came_off, 'piece')} came off"] if came_off else []),
            *([f"{plural(went_on, 'piece')} went back into place"] if went_on else []),
        ]
        lines.append(Line("moved", "done", (Part(f"{', '.join(said)}."),)))
    filled = HoleFilled.objects.filter(_within(days), hole__place__aircraft=aircraft, state__in=RIVETED)
    holes, rows = filled.values("hole").distinct().count(), filled.values("hole__place").distinct().count()
    if holes:
        lines.append(
            Line(
                "riveted",
                "done",
                (Part(f"{plural(holes, 'hole was', 'holes were')} riveted in {plural(rows, 'row')}."),),
            )
        )
    happened = Q(done_act__happened_at__gte=days.begins, done_act__happened_at__lt=days.ends)
    steps = (
        Step.objects.filter(happened, piece__aircraft=aircraft)
        .exclude(done_act__verb=LOADED)
        .select_related("piece")
        .order_by("piece_id", "number")
    )
    by_piece: dict[int, list[Step]] = {}
    for step in steps:
        by_piece.setdefault(step.piece_id, []).append(step)
    if by_piece:
        count = sum(map(len, by_piece.values()))
        words = f"{plural(count, 'step was', 'steps were')} finished on {plural(len(by_piece), 'piece')}."
        lines.append(Line("steps", "done", (Part(words),)))
    for number, (pk, own) in enumerate(sorted(by_piece.items(), key=lambda row: (-len(row[1]), row[0]))):
        lines.append(
            Line(
                f"piece:{pk}",
                "done",
                (
                    Part("On one piece"),
                    *_piece(own[0].piece, ", the "),
                    Part(f", {plural(len(own), 'step was', 'steps were')} finished"),
                    Part(f": {', '.join(small(step.name) for step in own)}", TYPED),
                    Part("."),
                ),
                link=f"/piece/{own[0].piece.key}/",
                first=number < MOST_FIRST,
                first_public=False,
            )
        )
    return [*lines, *_jobs_done(aircraft, days)]


def _jobs_done(aircraft: Aircraft, days: Days) -> list[Line]:
    """Jobs that stand for no step of a route and that somebody called done."""
    words = {
        key: word
        for key, word in newest_said(aircraft).items()
        if word.status == "done" and not key.startswith("piece:")
    }
    said = JobSaid.objects.filter(_within(days), pk__in=[word.pk for word in words.values()])
    dated = dict(said.order_by("act__happened_at", "pk").values_list("pk", "act__happened_at"))
    what = dict(Job.objects.filter(aircraft=aircraft, key__in=words).values_list("key", "what"))
    by_word = {word.pk: key for key, word in words.items()}
    return [
        Line(
            f"job:{by_word[pk]}",
            "done",
            (
                Part(f"A job was finished on {days.say(timezone.localtime(at).date())}"),
                Part(f": {small(what[by_word[pk]]).rstrip('.')}", TYPED) if by_word[pk] in what else Part(""),
                Part("."),
            ),
            link=f"/job/{quote(by_word[pk])}/" if by_word[pk] in what else "",
            first=number < MOST_FIRST,
            first_public=False,
        )
        for number, (pk, at) in enumerate(dated.items())
    ]


def found(days: Days, findings: Iterable[FindingSeen]) -> list[Line]:
    """What was found in these days, the hidden first: each kind by our own word, the typed words beside it."""
    new = [seen for seen in findings if _seen_in(days, seen.finding)]
    if not new:
        return []
    new.sort(key=lambda seen: (not seen.finding.opened, -seen.lost_share, seen.finding.number))
    hidden = sum(bool(seen.finding.opened) for seen in new)
    first = f"{plural(len(new), 'thing was', 'things were')} found to be wrong"
    if hidden:
        first += (
            f", {hidden} of them hidden until it was opened" if hidden < len(new) else ", hidden until it was opened"
        )
    return [Line("found", "found", (Part(f"{first}."),)), *(_finding(seen) for seen in new)]


def _seen_in(days: Days, finding: Finding) -> bool:
    if finding.seen_on is not None:
        return days.hold(finding.seen_on)
    return finding.act.verb != LOADED and days.begins <= finding.act.happened_at < days.ends


def _finding(seen: FindingSeen) -> Line:
    finding = seen.finding
    kind = KINDS[finding.kind].words if finding.kind in KINDS else ""
    zones = ", ".join(zone.name for zone in finding_zones(finding))
    state = {"open": "It waits for a decision", "decided": "It is decided", "closed": "It is dealt with"}[finding.state]
    return Line(
        f"finding:{finding.pk}",
        "found",
        (
            Part(f"{'Hidden: ' if finding.opened else ''}{kind or 'something wrong'}".capitalize()),
            Part(f", {small(finding.what)}", TYPED),
            *_piece(finding.piece, ", on the "),
            Part(f", {finding.place}", "where") if finding.place else Part(""),
            Part(f", {zones}", "where") if zones else Part(""),
            Part(f" ({finding.number})", "serial"),
            Part(f", seen by {finding.seen_by}", "people") if finding.seen_by else Part(""),
            Part(f". {state}."),
        ),
        link=f"/finding/{finding.number}/",
        first_public=False,
    )


def decided(aircraft: Aircraft, days: Days) -> list[Line]:
    """Decisions that named people made in these days."""
    made = Decision.objects.filter(_within(days), piece__aircraft=aircraft).select_related("piece", "by").order_by("id")
    newest = {decision.piece_id: decision for decision in made}
    return [
        Line(
            f"decision:{decision.pk}",
            "decided",
            (
                Part(f"One piece: {decision.kind}"),
                *_piece(decision.piece, ". It is the "),
                Part(f", because {small(decision.reason).rstrip('.')}", TYPED) if decision.reason else Part(""),
                Part(f", {decision.by.name}", "people"),
                Part("."),
            ),
            link=f"/piece/{decision.piece.key}/",
            first=number < MOST_FIRST,
        )
        for number, decision in enumerate(newest.values())
    ]


def waits(days: Days, sent: Iterable[Out], orders: Iterable[Order], findings: Iterable[FindingSeen]) -> list[Line]:
    """What is out and not back, ordered and not here, asked and not answered; the latest against its promise first."""
    out = [each for each in sent if not each.is_back and each.shipment.sent_on is not None]
    coming = [order for order in orders if order.ordered_on and not order.came_on]
    asked = [seen for seen in findings if seen.with_engineering and seen.finding.state == "open"]
    late = sum(each.late_days > 0 for each in out) + sum(_late(days, order.promised_on) > 0 for order in coming)
    counts = [
        *([f"{plural(len(out), 'shipment')} outside"] if out else []),
        *([f"{plural(len(coming), 'order')} on the way"] if coming else []),
        *([f"{plural(len(asked), 'answer')} of the engineer"] if asked else []),
    ]
    if not counts:
        return []
    tail = f"; {late} {'is' if late == 1 else 'are'} later than promised" if late else ""
    lines = [Line("waits", "waits", (Part(f"It waits for {and_list(counts)}{tail}."),))]
    out.sort(key=lambda each: (-each.late_days, str(each.shipment.sent_on), each.shipment.number))
    for number, each in enumerate(out):
        shipment, there = each.shipment, each.count_out - each.count_back
        lines.append(
            Line(
                f"out:{shipment.pk}",
                "waits",
                (
                    Part(
                        f"{plural(there, 'piece has', 'pieces have')} been outside since {days.say(shipment.sent_on or days.until)}"
                    ),
                    Part(f", at {shipment.vendor.name}", "shops"),
                    Part(f": {small(shipment.process)}", TYPED),
                    Part(f" ({shipment.number})", "serial"),
                    Part(_promised(days, shipment.promised_on)),
                ),
                link=f"/outwork/{shipment.number}/",
                first=number < MOST_FIRST,
                first_public=False,
            )
        )
    coming.sort(key=lambda order: (-_late(days, order.promised_on), str(order.ordered_on), order.pk))
    for number, order in enumerate(coming):
        lines.append(
            Line(
                f"coming:{order.pk}",
                "waits",
                (
                    Part(f"An order of {days.say(order.ordered_on or days.until)} has not come"),
                    Part(
                        f": {order.count:,} of {small(order.what)}" if order.count > 1 else f": {small(order.what)}",
                        TYPED,
                    ),
                    Part(f", from {order.vendor.name}", "shops"),
                    Part(f" ({order.number})", "serial"),
                    Part(_promised(days, order.promised_on)),
                ),
                link="/orders/",
                first=number < MOST_FIRST,
                first_public=False,
            )
        )
    for number, seen in enumerate(asked):
        word = seen.engineering[-1]
        lines.append(
            Line(
                f"asked:{seen.finding.pk}",
                "waits",
                (
                    Part("The engineer has not answered"),
                    Part(f", {word.from_whom}", "people") if word.from_whom else Part(""),
                    Part(f": {word.said.rstrip('.')}", TYPED),
                    Part(f" ({seen.finding.number})", "serial"),
                    Part("."),
                ),
                link=f"/finding/{seen.finding.number}/",
                first=number < MOST_FIRST,
                first_public=False,
            )
        )
    return lines


def _late(days: Days, promised: date | None) -> int:
    return max(0, (days.until - promised).days) if promised else 0


def _promised(days: Days, promised: date | None) -> str:
    if promised is None:
        return ", with no day promised."
    late = _late(days, promised)
    tail = f": {plural(late, 'day')} late" if late else ""
    return f", promised for {days.say(promised)}{tail}."


@dataclass(frozen=True)
class Events:
    """The lines of these days, and by subject of a picture how much happened to it."""

    aircraft: Aircraft
    days: Days
    lines: tuple[Line, ...]
    findings: tuple[FindingSeen, ...]
    sent: tuple[Out, ...]
    happened: Counter[str]


def events(aircraft: Aircraft, days: Days) -> Events:
    """Gather all of it, in a number of queries that does not grow with the rows."""
    findings = findings_of(Finding.objects.filter(aircraft=aircraft).select_related("act"))
    own = set(Piece.objects.filter(aircraft=aircraft).values_list("pk", flat=True))
    sent = [each for each in shipments(days.until) if any(line.piece_id in own for line in each.lines)]
    orders = list(Order.objects.select_related("vendor").order_by("came_on", "number", "id"))
    lines = [
        title(aircraft),
        *came_back(days, sent, orders),
        *done(aircraft, days),
        *found(days, findings),
        *decided(aircraft, days),
        *waits(days, sent, orders, findings),
    ]
    happened: Counter[str] = Counter()
    for each in sent:
        if days.hold(each.shipment.back_on):
            happened.update(f"piece:{line.piece_id}" for line in each.lines)
    steps = Step.objects.filter(piece__aircraft=aircraft, done_act__happened_at__gte=days.begins).exclude(
        done_act__verb=LOADED
    )
    happened.update(f"piece:{pk}" for pk in steps.values_list("piece", flat=True))
    for pk in Decision.objects.filter(_within(days), piece__aircraft=aircraft).values_list("piece", flat=True):
        happened[f"piece:{pk}"] += 1
    for seen in findings:
        if _seen_in(days, seen.finding):
            happened[subject_of(seen.finding)] += 1
    return Events(aircraft, days, tuple(lines), tuple(findings), tuple(sent), happened)


def subject_of(finding: Finding) -> str:
    """What a finding's picture shows for before and after: the piece, where it is on one."""
    return f"piece:{finding.piece_id}" if finding.piece_id else f"finding:{finding.pk}"
