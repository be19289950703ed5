"""Jobs left open: how many there are, and for one of them all that the next mechanic has to know, on one page."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils import timezone

from witnessmark.records.lookups.day import now, today
from witnessmark.records.lookups.seams import HoleSeen, SeamDrawn, seam_drawn
from witnessmark.records.models import (
    Aircraft,
    Holding,
    HoleState,
    JobLeft,
    JobSaid,
    LeftAfter,
    LeftThing,
    Person,
)


@dataclass(frozen=True)
class Bag:
    """A loose bag of the job, and where it lies now."""

    thing: LeftThing
    lies_at: str
    count: int


@dataclass(frozen=True)
class OpenJob:
    """One job left open and not taken up again."""

    left: JobLeft
    primed_at: datetime | None
    primed_by: Person | None
    bags: tuple[Bag, ...]
    borrowed: tuple[str, ...]
    today: date
    moment: datetime
    status: str = "open"

    @property
    def days(self) -> int:
        return (self.today - timezone.localtime(self.left.left_at).date()).days

    @property
    def since_words(self) -> str:
        """How long ago it was left, in days or weeks."""
        if self.days <= 0:
            return "today"
        if self.days == 1:
            return "yesterday"
        if self.days < 12:
            return f"{self.days} days ago"
        weeks = round(self.days / 7)
        return f"{weeks} weeks ago"

    @property
    def prime_by(self) -> datetime | None:
        """When the bare metal has to be primed, as long as it is not."""
        left = self.left
        if not left.bare_where or self.primed_at is not None or left.bare_since is None:
            return None
        return left.bare_since + timedelta(hours=left.prime_within_hours or 0)

    @property
    def overdue(self) -> bool:
        return self.prime_by is not None and self.prime_by < self.moment

    @property
    def prime_now(self) -> str:
        """What comes before all else where the clock of bare metal has less than a day to run; else nothing."""
        by = self.prime_by
        if by is None or by - self.moment >= timedelta(days=1):
            return ""
        span = f"{_hours(self.moment - by)} too late already" if self.overdue else f"{_hours(by - self.moment)} left"
        return f"Prime the bare metal at {self.left.bare_where}: {span}."

    @property
    def bare_sentence(self) -> str:
        """What is to be said of bare metal: primed when, or bare since when and until when."""
        left = self.left
        if not left.bare_where:
            return ""
        if self.primed_at is not None:
            who = f" by {self.primed_by.name}" if self.primed_by else ""
            return f"The bare metal at {left.bare_where} was primed on {_day(self.primed_at)}{who}."
        assert self.prime_by is not None and left.bare_since is not None
        over = _hours(self.moment - self.prime_by)
        clock = (
            f"It should have been primed by {_moment(self.prime_by)}: {over} ago."
            if self.overdue
            else f"Prime it by {_moment(self.prime_by)}: {_hours(self.prime_by - self.moment)} from now."
        )
        why = f" It stayed bare because: {left.bare_because.rstrip('.')}." if left.bare_because else ""
        return f"Metal is bare at {left.bare_where} since {_moment(left.bare_since)}. {clock}{why}"


@dataclass(frozen=True)
class LeftPage:
    """The page a job opens on for whoever comes back to it."""

    job: OpenJob
    drawn: SeamDrawn | None
    oversize: tuple[HoleSeen, ...]
    waits: tuple[HoleSeen, ...]
    next_hole: int | None
    taken_up: LeftAfter | None
    earlier: tuple[JobLeft, ...]

    @property
    def sentence(self) -> str:
        left = self.job.left
        where = f", at hole {left.next_hole}" if left.next_hole is not None else ""
        of = f" of {self.drawn.seen.holes}" if self.drawn and left.next_hole is not None else ""
        return f"{left.by.name} left this on {_day(left.left_at)}, {self.job.since_words}{where}{of}."


def _day(moment: datetime) -> str:
    moment = timezone.localtime(moment)
    return f"{moment:%A} {moment.day} {moment:%B}"


def _moment(moment: datetime) -> str:
    return f"{_day(moment)} at {timezone.localtime(moment):%H:%M}"


def _hours(span: timedelta) -> str:
    minutes = int(span.total_seconds() // 60)
    if minutes < 120:
        return f"{minutes} minutes"
    return f"{minutes // 60} hours" if minutes < 48 * 60 else f"{minutes // 1440} days"


def open_jobs(aircraft: Aircraft) -> list[OpenJob]:
    """Every job left open and not taken up or done, the longest left first."""
    lefts = JobLeft.objects.filter(act__aircraft=aircraft).select_related("by", "row", "photo", "act").order_by("id")
    newest = {left.key: left for left in lefts}
    done = _status(aircraft, newest)
    up = set(LeftAfter.objects.filter(left__in=newest.values(), what="taken_up").values_list("left_id", flat=True))
    kept = [left for left in newest.values() if left.pk not in up and done.get(left.key) != "done"]
    return sorted(_seen(aircraft, kept, done), key=lambda job: job.left.left_at)


def _status(aircraft: Aircraft, lefts: dict[str, JobLeft]) -> dict[str, str]:
    """The newest word on each; what was said of a job before it was left does not close it."""
    words = JobSaid.objects.filter(act__aircraft=aircraft, key__in=lefts).order_by("id")
    return {word.key: word.status for word in words}


def _seen(aircraft: Aircraft, lefts: list[JobLeft], status: dict[str, str]) -> list[OpenJob]:
    after: dict[int, LeftAfter] = {
        each.left_id: each
        for each in LeftAfter.objects.filter(left__in=lefts, what="primed").select_related("act__person")
    }
    things: dict[int, list[LeftThing]] = {}
    for thing in LeftThing.objects.filter(left__in=lefts).select_related("piece"):
        things.setdefault(thing.left_id, []).append(thing)
    pieces = [thing.piece_id for group in things.values() for thing in group if thing.piece_id]
    lies: dict[int, tuple[str, int]] = {}
    for pk, name, count in Holding.objects.filter(piece__in=pieces, count__gt=0).values_list(
        "piece_id", "holder__name", "count"
    ):
        before = lies.get(pk)
        lies[pk] = (f"{before[0]} and {name}", before[1] + count) if before else (name, count)
    day, moment = today(aircraft), now(aircraft)
    made = []
    for left in lefts:
        primed = after.get(left.pk)
        group = things.get(left.pk, [])
        made.append(
            OpenJob(
                left=left,
                primed_at=primed.at if primed else None,
                primed_by=primed.act.person
                if primed and primed.act.verb != "load_lists"
                else left.by
                if primed
                else None,
                bags=tuple(
                    Bag(t, *lies.get(t.piece_id or 0, ("nowhere in the record", 0))) for t in group if t.kind == "bag"
                ),
                borrowed=tuple(t.words for t in group if t.kind == "borrowed"),
                today=day,
                moment=moment,
                status=status.get(left.key, "open"),
            )
        )
    return made


def left_page(aircraft: Aircraft, key: str) -> LeftPage | None:
    """What the next mechanic has to know, or None where the job was never left."""
    lefts = list(
        JobLeft.objects.filter(act__aircraft=aircraft, key=key)
        .select_related("by", "row", "photo", "act__person")
        .order_by("-id")
    )
    if not lefts:
        return None
    left = lefts[0]
    (job,) = _seen(aircraft, [left], {})
    drawn = seam_drawn(aircraft, left.row.mark, left.row.side) if left.row else None
    holes = drawn.holes if drawn else ()
    return LeftPage(
        job=job,
        drawn=drawn,
        oversize=tuple(hole for hole in holes if _is_oversize(hole)),
        waits=tuple(hole for hole in holes if hole.state == HoleState.OPEN),
        next_hole=(drawn.next_hole if drawn and drawn.seen.looked_at else None),
        taken_up=LeftAfter.objects.filter(left=left, what="taken_up").select_related("act__person").first(),
        earlier=tuple(lefts[1:]),
    )


def _is_oversize(hole: HoleSeen) -> bool:
    """Filled with an oversize rivet, or measured larger and waiting for one."""
    measured = any(reading.what != "edge" for reading in hole.readings)
    return hole.state == HoleState.OVERSIZE or (hole.state == HoleState.OPEN and measured)


def last_word(aircraft: Aircraft, person: Person) -> JobSaid | None:
    """What somebody said last of a job by tap, today, if nobody spoke of that job since."""
    word = (
        JobSaid.objects.filter(act__aircraft=aircraft, act__person=person)
        .select_related("act__actresult")
        .order_by("-id")
        .first()
    )
    if (
        word is None
        or word.act.verb != "say_of_job"
        or timezone.localtime(word.act.happened_at).date() != today(aircraft)
    ):
        return None
    newer = JobSaid.objects.filter(act__aircraft=aircraft, key=word.key, pk__gt=word.pk).exists()
    return None if newer else word
