"""Old pictures that wait for a word: counted, by month, and the next few that were taken within minutes of each other."""

from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

from django.db.models import Case, Count, Exists, F, OuterRef, Q, QuerySet, Value, When
from django.db.models.functions import TruncMonth

from witnessmark.records.lookups.pieces import by_key
from witnessmark.records.lookups.said_later import place_called
from witnessmark.records.models import Act, Aircraft, Person, PhotoUse, PictureIn, Piece, Place, Twins, Zone

RUN_GAP = timedelta(minutes=5)
AT_MOST, AT_LEAST = 12, 6
RECENT = 5
SORTING = ("give_pictures", "put_off_pictures", "set_pictures_aside")
# A day that nothing tells, or that cannot be true, sorts apart from the others.
DAY_KNOWN = Q(date_doubt="", said_taken_at__isnull=False) | Q(dated_by__in=("phone", "satellites"))


def unsorted_in() -> QuerySet[PictureIn]:
    """Pictures given to nothing, not set aside, and not standing behind a larger one of the same; each picture once."""
    used = PhotoUse.objects.filter(photo=OuterRef("photo"))
    before = PictureIn.objects.filter(photo=OuterRef("photo"), act__lt=OuterRef("act"))
    return PictureIn.objects.filter(~Exists(used), ~Exists(before), aside_act=None, photo__behind=None)


@dataclass(frozen=True)
class Counted:
    """How many came in, and how many of them wait."""

    unsorted: int
    all: int
    put_off: int
    twins: int

    @property
    def sentence(self) -> str:
        """Say it aloud."""
        if not self.all:
            return "No picture came in yet."
        if not self.unsorted:
            return f"All {self.all:,} pictures are sorted." if self.all > 1 else "The one picture is sorted."
        return f"{self.unsorted:,} of {self.all:,} picture{'' if self.all == 1 else 's'} unsorted."


def counted() -> Counted:
    """Count them."""
    waits = unsorted_in().aggregate(n=Count("pk"), off=Count("pk", filter=Q(not_now__gt=0)))
    every = PictureIn.objects.filter(photo__behind=None).values("photo").distinct().count()
    return Counted(waits["n"], every, waits["off"], Twins.objects.filter(same=None).count())


@dataclass(frozen=True)
class Month:
    """A month with unsorted pictures; `first` is None for those whose day is not known."""

    first: date | None
    count: int

    @property
    def key(self) -> str:
        return f"{self.first:%Y-%m}" if self.first else "none"


def months() -> list[Month]:
    """Unsorted pictures by month, oldest first, those of no known day last, in one query."""
    rows = (
        unsorted_in()
        .annotate(month=Case(When(DAY_KNOWN, then=TruncMonth("taken_at")), default=Value(None)))
        .order_by("month")
        .values_list("month")
        .annotate(n=Count("pk"))
    )
    found = [Month(first.date() if first else None, n) for first, n in rows]
    return sorted(found, key=lambda each: (each.first is None, each.first or date.min))


@dataclass(frozen=True)
class Few:
    """The next few pictures; the first `run` of them were taken within minutes of each other."""

    pictures: tuple[PictureIn, ...]
    run: int
    known: bool


def next_few(month: str = "") -> Few:
    """The oldest that were not put off, with what was taken within minutes of it, and some that follow."""
    rows = unsorted_in().annotate(known=Case(When(DAY_KNOWN, then=Value(True)), default=Value(False)))
    if month == "none":
        rows = rows.filter(known=False)
    elif month:
        rows = rows.filter(known=True, taken_at__year=int(month[:4]), taken_at__month=int(month[5:]))
    ahead = list(rows.select_related("photo").order_by("not_now", F("known").desc(), "taken_at", "photo")[:AT_MOST])
    run = 1 if ahead else 0
    for last, each in pairwise(ahead):
        alike = each.not_now == last.not_now and each.known and last.known
        if not alike or each.taken_at - last.taken_at > RUN_GAP:
            break
        run += 1
    return Few(tuple(ahead[: max(run, AT_LEAST)]), run, bool(ahead) and bool(ahead[0].known))


@dataclass(frozen=True)
class Target:
    """What pictures can be given to."""

    key: str
    name: str
    thing: Zone | Place | Piece


def _target(thing: Zone | Place | Piece) -> Target:
    if isinstance(thing, Zone):
        return Target(f"zone:{thing.pk}", thing.name, thing)
    if isinstance(thing, Place):
        called = f"{thing.name}, {thing}" if thing.name else str(thing)
        return Target(f"place:{thing.pk}", called, thing)
    return Target(f"piece:{thing.pk}", str(thing), thing)


def target_of(key: str) -> Target | None:
    """Find what a key such as `zone:3` names."""
    kind, _, number = key.partition(":")
    if not (number.isascii() and number.isdigit() and len(number) < 19):
        return None
    thing: Zone | Place | Piece | None = None
    if kind == "zone":
        thing = Zone.objects.select_related("aircraft").filter(pk=int(number)).first()
    elif kind == "place":
        thing = Place.objects.select_related("aircraft", "zone").filter(pk=int(number)).first()
    elif kind == "piece":
        thing = Piece.objects.select_related("aircraft").filter(pk=int(number)).first()
    return _target(thing) if thing is not None else None


def target_called(words: str, aircraft: Aircraft | None) -> Target | None:
    """Find what somebody calls by a tag, a zone's name or number, or a place's mark with its side."""
    piece = by_key(words)
    if piece is not None:
        return _target(piece)
    zones = Zone.objects.select_related("aircraft").filter(Q(name__iexact=words) | Q(number__iexact=words))
    zone = (zones.filter(aircraft=aircraft) if aircraft else zones).first() or zones.first()
    if zone is not None:
        return _target(zone)
    place = place_called(words, aircraft) or place_called(words, None)
    return _target(place) if place is not None else None


def zones_to_tap(aircraft: Aircraft | None) -> list[Target]:
    """The zones of the aircraft that is worked on."""
    return [_target(zone) for zone in Zone.objects.filter(aircraft=aircraft).order_by("number")[:40]]


def recent_targets(person: Person) -> list[Target]:
    """Where this person's last pictures went, the newest first, each once."""
    keys: list[str] = []
    for said in Act.objects.filter(person=person, verb="give_pictures").order_by("-recorded_at").values_list("said", flat=True)[:40]:  # fmt: skip
        key = next((f"{kind}:{said[kind]}" for kind in ("piece", "place", "zone") if said.get(kind)), "")
        if key and key not in keys:
            keys.append(key)
    found = [target_of(key) for key in keys[:RECENT]]
    return [each for each in found if each is not None]


def last_sorting(person: Person) -> Act | None:
    """The last word of this person on old pictures that was not taken back."""
    return (
        Act.objects.filter(person=person, verb__in=SORTING, undone_by=None)
        .select_related("actresult")
        .order_by("-recorded_at", "-pk")
        .first()
    )
