"""Who has what, since when, promised for when; and whom to ring today, with the reason."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import groupby

from django.db.models import Prefetch
from django.utils import timezone

from witnessmark.calc.plan.working_days import days_after, working_days
from witnessmark.records.lookups.pictures import IN_FRONT
from witnessmark.records.models import PhotoUse, SaidOut, Shipment, ShipmentLine, Vendor, VendorSaid

# When to ring: judgement, common practice, no source. Working days.
ASK_BEFORE = 1  # the working day before what is promised: can it be fetched?
NO_PROMISE = 5  # out a week, and no day was ever said
SILENCE = 20  # nothing heard for four weeks, however far the promise lies


@dataclass(frozen=True)
class Away:
    """One shipment that is out, as it is said: what, with whom, since when, promised for when."""

    shipment: Shipment
    lines: tuple[ShipmentLine, ...]
    today: date
    heard_on: date | None
    heard: VendorSaid | None
    why: str = ""
    urgency: tuple[int, int] = (9, 0)

    @property
    def vendor(self) -> Vendor:
        return self.shipment.vendor

    @property
    def since(self) -> date:
        assert self.shipment.sent_on is not None
        return self.shipment.sent_on

    @property
    def what(self) -> str:
        """The things themselves: one by its name, several by the first two and their number."""
        names = [line.piece.name or line.piece.part_no or str(line.piece) for line in self.there]
        return names[0] if len(names) == 1 else f"{', '.join(names[:2])}{f' and {len(names) - 2} more' if len(names) > 2 else ''}"  # fmt: skip

    @property
    def there(self) -> tuple[ShipmentLine, ...]:
        """What has not come back of it."""
        left = tuple(line for line in self.lines if line.count_out > (line.count_back or 0))
        return left or self.lines

    @property
    def count(self) -> int:
        return sum(line.count_out - (line.count_back or 0) for line in self.lines)

    @property
    def in_part(self) -> bool:
        """Some of it came back."""
        return any(line.count_back for line in self.lines)

    @property
    def tags(self) -> list[str]:
        return [line.piece.tag for line in self.there if line.piece.tag]

    @property
    def typed(self) -> SaidOut | None:
        """The line that made it, where it was typed and not sent."""
        return getattr(self.shipment, "said_out", None)

    @property
    def may_be_bound(self) -> bool:
        """A thing that is words alone: it may be said which piece it is."""
        return self.typed is not None and self.typed.stood_in_id is not None and self.lines[0].count_back is None

    @property
    def late_days(self) -> int:
        """Working days after the day that was promised."""
        promised = self.shipment.promised_on
        return working_days(promised, self.today) if promised and promised < self.today else 0

    @property
    def rung_today(self) -> bool:
        return self.heard_on == self.today

    @property
    def out_for(self) -> str:
        """How long it is out, as it is said."""
        days = (self.today - self.since).days
        if days < 14:
            return "since today" if days == 0 else "a day" if days == 1 else f"{days} days"
        return f"{days // 7} weeks" if days < 365 else f"{days / 365.25:.1f} years".replace(".0 ", " ")


@dataclass(frozen=True)
class Call:
    """One vendor to ring, and all that there is to ask him; the first reason is the one that presses."""

    vendor: Vendor
    about: tuple[Away, ...]

    @property
    def number(self) -> str:
        """The number as a link dials it."""
        return "".join(c for c in self.vendor.phone if c in "+0123456789")

    @property
    def sentence(self) -> str:
        """Say whom to ring about what."""
        first = self.about[0]
        more = len(self.about) - 1
        rest = "" if not more else " And about one more thing." if more == 1 else f" And about {more} more things."
        return f"Ring {self.vendor.name}: {first.what}, {first.why}.{rest}"


@dataclass(frozen=True)
class WhoHasWhat:
    """All that is out, by vendor; whom to ring today; who was rung."""

    away: tuple[Away, ...]
    calls: tuple[Call, ...]
    today: date
    vendors: tuple[Vendor, ...] = field(default=())

    @property
    def by_vendor(self) -> list[tuple[Vendor, list[Away]]]:
        ordered = sorted(self.away, key=lambda each: (each.vendor.name.casefold(), each.vendor.pk, each.since, each.shipment.pk))  # fmt: skip
        return [(each, list(rows)) for each, rows in groupby(ordered, key=lambda each: each.vendor)]

    @property
    def rung(self) -> tuple[Away, ...]:
        return tuple(each for each in self.away if each.rung_today)

    @property
    def sentence(self) -> str:
        """Say how much is out, with how many, and how it stands."""
        if not self.away:
            return "Nothing is out as far as anybody has said."
        things = "One thing is out" if len(self.away) == 1 else f"{len(self.away)} things are out"
        shops = len({each.vendor.pk for each in self.away})
        late = sum(1 for each in self.away if each.late_days)
        open_ended = sum(1 for each in self.away if each.shipment.promised_on is None)
        parts = [f"{things}, with {'one shop' if shops == 1 else f'{shops} shops'}"]
        parts += [f"{'one is' if late == 1 else f'{late} are'} late"] if late else []
        parts += [f"{'one has' if open_ended == 1 else f'{open_ended} have'} no promise"] if open_ended else []
        return f"{'; '.join(parts)}."


def who_has_what(today: date) -> WhoHasWhat:
    """Everything that left and is not back, with its words, in a number of queries that does not grow."""
    said = VendorSaid.objects.filter(act__undone_by=None).select_related("act").order_by("-pk")
    asked = (
        Shipment.objects.filter(back_on=None, sent_on__lte=today)
        .select_related("vendor", "said_out__act")
        .prefetch_related(
            Prefetch("lines", ShipmentLine.objects.select_related("piece").order_by("id")),
            Prefetch("said", said),
        )
        .order_by("sent_on", "number")
    )
    away = tuple(_away(shipment, today) for shipment in asked if shipment.lines.all())
    return WhoHasWhat(away, tuple(_calls(away)), today, tuple(Vendor.objects.order_by("name")))


def _away(shipment: Shipment, today: date) -> Away:
    words = list(shipment.said.all())
    heard = words[0] if words else None
    heard_on = timezone.localtime(heard.act.happened_at).date() if heard else None
    seen = Away(shipment, tuple(shipment.lines.all()), today, heard_on, heard)
    typed_on = timezone.localtime(seen.typed.act.recorded_at).date() if seen.typed else None
    why, urgency = reason(seen.since, shipment.promised_on, heard_on, today, typed_on)
    return Away(shipment, seen.lines, today, heard_on, heard, why, urgency)


def reason(
    since: date, promised: date | None, heard_on: date | None, today: date, typed_on: date | None = None
) -> tuple[str, tuple[int, int]]:
    """Why to ring today, or nothing; and how much it presses: late before due before never promised before silent.

    Whoever typed what he promised spoke of it on that day.
    """
    if heard_on is not None and heard_on >= today:
        return "", (9, 0)
    if promised is not None and promised < today:
        late = working_days(promised, today)
        days = "since then no working day has passed" if not late else "a working day late" if late == 1 else f"{late} working days late"  # fmt: skip
        return f"promised for {_day(promised, today)}, {days}", (0, -late)
    if promised is not None and promised <= days_after(today, ASK_BEFORE):
        when = "today" if promised == today else "tomorrow" if promised == today + timedelta(days=1) else _day(promised, today)  # fmt: skip
        return f"promised for {when}; ask whether it can be fetched", (1, (promised - today).days)
    out = working_days(since, today)
    quiet = working_days(heard_on or since, today)
    if promised is None and quiet >= NO_PROMISE:
        heard = f", last rung on {_day(heard_on, today)}" if heard_on else ""
        return f"out {_weeks((today - since).days)}, no day promised{heard}; ask for one", (2, -out)
    spoken_on = max(day for day in (since, heard_on, typed_on) if day is not None)
    if promised is not None and working_days(spoken_on, today) >= SILENCE:
        return f"last spoken of {_weeks((today - spoken_on).days)} ago; ask whether {_day(promised, today)} stands", (3, -quiet)  # fmt: skip
    return "", (9, 0)


def _calls(away: Iterable[Away]) -> list[Call]:
    """One call a vendor, the most pressing first."""
    about: dict[int, list[Away]] = {}
    for each in away:
        if each.why:
            about.setdefault(each.vendor.pk, []).append(each)
    calls = [Call(rows[0].vendor, tuple(sorted(rows, key=lambda r: (r.urgency, r.since, r.shipment.pk)))) for rows in about.values()]  # fmt: skip
    return sorted(calls, key=lambda call: (call.about[0].urgency, -len(call.about), call.vendor.name))


def pictures_of(away: Iterable[Away]) -> dict[int, str]:
    """The last picture of each thing that is out, by its piece, in one query."""
    pieces = [line.piece_id for each in away for line in each.lines]
    uses = PhotoUse.objects.filter(IN_FRONT, piece_id__in=pieces).order_by("pk").values_list("piece_id", "photo_id")
    return {piece: photo for piece, photo in uses if piece is not None}


def _weeks(days: int) -> str:
    return "today" if not days else "a day" if days == 1 else f"{days} days" if days < 14 else f"{days // 7} weeks"


def _day(day: date, today: date) -> str:
    year = f" {day.year}" if abs((day - today).days) > 300 else ""
    return f"{day:%A} {day.day} {day:%B}{year}"
