"""A copy as it would read, what in its typed words is withheld, the copies given, and the one a link opens."""

import hashlib
from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from django.utils import timezone

from witnessmark.calc.leaks import Known, Leak, Watch, leaks, watch
from witnessmark.calc.since import ONE_OF, TYPED, WITHHELD, Line, Part, said
from witnessmark.records.bare_pictures import bare_copy
from witnessmark.records.lookups.since import SECTIONS, Days, days_since, events, plural
from witnessmark.records.lookups.since_came import came_in
from witnessmark.records.lookups.since_owner import owners_lines
from witnessmark.records.lookups.since_pictures import Pictures, PictureSeen, pictures
from witnessmark.records.models import (
    Aircraft,
    EngineeringWord,
    Finding,
    Holder,
    HolderKind,
    HuntAsked,
    Order,
    Person,
    Photo,
    Piece,
    SentCopy,
    Shipment,
    Vendor,
)
from witnessmark.records.photo_store import grey_of

Content = dict[str, Any]


@dataclass(frozen=True)
class Ticks:
    """What somebody ticked: lines and pictures that go in, whose typed words go along, and what else may be shown."""

    lines: frozenset[str] = frozenset()
    words: frozenset[str] = frozenset()
    pictures: frozenset[str] = frozenset()
    captions: frozenset[str] = frozenset()
    shown: frozenset[str] = frozenset()

    def said(self) -> dict[str, list[str]]:
        """As an act keeps them."""
        return {name: sorted(getattr(self, name)) for name in ("lines", "words", "pictures", "captions", "shown")}


@dataclass(frozen=True)
class Report:
    """All that could be told to these readers."""

    aircraft: Aircraft
    days: Days
    for_whom: str
    lines: tuple[Line, ...]
    pictures: Pictures

    @property
    def public(self) -> bool:
        return self.for_whom == "public"

    @property
    def sentence(self) -> str:
        """Say in one sentence what happened; counts alone."""
        count = Counter(line.section for line in self.lines)
        told = [
            (count["back"], "thing came back", "things came back"),
            (max(0, count["found"] - 1), "thing was found to be wrong", "things were found to be wrong"),
            (count["decided"], "part was decided on", "parts were decided on"),
            (self.pictures.whole, "thing can be seen before and after", "things can be seen before and after"),
        ]
        parts = [plural(n, one, many) for n, one, many in told if n]
        put_in = [said(line.parts, ()).rstrip(".") for line in self.lines if line.key == "came-in"]
        if count["done"] > len(put_in) and not parts:
            parts = ["work was done"]
        parts = parts or put_in
        day = self.days.say(self.days.since)
        return f"Since {day}: {', '.join(parts)}." if parts else f"Nothing is on record since {day}."

    def caption(self, one: PictureSeen, ticks: Ticks) -> tuple[Part, ...]:
        """The words under a picture: for the public what the part is in words of ours, till its own words are ticked."""
        return one.caption if not self.public or one.photo in ticks.captions else (one.plain, *one.caption[1:])

    @property
    def nothing(self) -> bool:
        """True where nothing happened in these days, whatever is awaited."""
        happened = ("back", "done", "found", "decided")
        return not self.pictures.pairs and not any(line.section in happened for line in self.lines)

    def first_ticks(self) -> Ticks:
        """What is ticked before anybody looked. For the public no picture is, and no word that somebody typed."""
        if self.public:
            return Ticks(lines=frozenset(line.key for line in self.lines if line.first and line.first_public))
        return Ticks(
            lines=frozenset(line.key for line in self.lines if line.first),
            pictures=frozenset(p.photo for pair in self.pictures.pairs if pair.first for p in pair.pictures),
        )


def report(aircraft: Aircraft, for_whom: str, since: date | None = None) -> Report:
    """Gather what could be told. Raises NoSuchDay where the day lies ahead."""
    days = days_since(aircraft, for_whom, since)
    happened = events(aircraft, days)
    lines = (*happened.lines, *came_in(aircraft, days))
    if for_whom == "owner":
        lines = (*lines, *owners_lines(happened))
        return Report(aircraft, days, for_whom, lines, pictures(aircraft, days, happened.happened))
    names = watch_of(aircraft)
    shown = pictures(aircraft, days, happened.happened, lambda words: bool(leaks(words, names, ())))
    return Report(aircraft, days, for_whom, lines, shown)


def _shown(of: Report, ticks: Ticks, *, typed: bool) -> Collection[str]:
    if not of.public:
        return {TYPED, *WITHHELD}
    return ticks.shown | ({TYPED} if typed else set())


def content(of: Report, ticks: Ticks) -> Content:
    """The copy as plain values: only what is ticked, each sentence without the parts that are withheld."""
    lines = [line for line in of.lines if line.key in ticks.lines and not (of.public and line.owner_only)]

    def sentence(line: Line) -> dict[str, str]:
        words = said(line.parts, _shown(of, ticks, typed=line.key in ticks.words))
        return {"says": words} if of.public else {"says": words, "link": line.link}

    sections: list[dict[str, Any]] = [
        {"name": name, "head": head, "lines": [sentence(line) for line in lines if line.section == name]}
        for name, head in SECTIONS.items()
        if name != "aircraft"
    ]
    left = sum(line.key.startswith(("wanted:", "offer:")) and line.key not in ticks.lines for line in of.lines)
    for section in sections:
        if left and section["name"] == "wanted" and section["lines"]:
            more = f"{plural(left, 'more waits', 'more wait')} for a decision and {'is' if left == 1 else 'are'} not written out here."
            section["lines"].append({"says": more, "link": "/findings/"})
    head = [sentence(line)["says"] for line in lines if line.section == "aircraft"]
    shown = []
    for number, pair in enumerate(of.pictures.pairs):
        for one in pair.pictures:
            if one.photo in ticks.pictures:
                caption = said(of.caption(one, ticks), _shown(of, ticks, typed=one.photo in ticks.captions))
                shown.append(
                    {
                        "photo": one.photo,
                        "pair": number,
                        "which": one.which,
                        "width": one.width,
                        "height": one.height,
                        "caption": caption,
                        "ring": one.ring,
                    }
                )
    return {
        "for": of.for_whom,
        "aircraft": head[0] if head else "",
        "since": of.days.since.isoformat(),
        "until": of.days.until.isoformat(),
        "sentence": of.sentence,
        "sections": [section for section in sections if section["lines"]],
        "pictures": shown,
    }


@dataclass(frozen=True)
class Warned:
    """A sentence that would go to the public with something withheld in its typed words."""

    says: str
    leaks: tuple[Leak, ...]

    @property
    def words(self) -> str:
        return ", ".join(f"“{leak.text}” ({ONE_OF[leak.kind]})" for leak in self.leaks)


def warnings(of: Report, ticks: Ticks) -> list[Warned]:
    """What in the public copy's typed words the record knows as a name, price, mark, number or place that is not ticked."""
    if not of.public:
        return []
    names = watch_of(of.aircraft)
    sentences: list[tuple[tuple[Part, ...], bool]] = [
        (line.parts, line.key in ticks.words) for line in of.lines if line.key in ticks.lines and not line.owner_only
    ]
    sentences += [
        (of.caption(one, ticks), one.photo in ticks.captions)
        for pair in of.pictures.pairs
        for one in pair.pictures
        if one.photo in ticks.pictures
    ]
    found = []
    for parts, typed in sentences:
        shown = _shown(of, ticks, typed=typed)
        own = [leak for part in parts if part.kind and part.kind in shown for leak in leaks(part.text, names, shown)]
        if own:
            found.append(Warned(said(parts, shown), tuple(dict.fromkeys(own))))
    return [*found, *_codes(of, ticks)]


def _codes(of: Report, ticks: Ticks) -> list[Warned]:
    """Codes that anybody's phone can read out of a picture: a tag's number, and the address that opens it."""
    if {"serial", "where"} <= ticks.shown:
        return []
    found = []
    for one in (one for pair in of.pictures.pairs for one in pair.pictures if one.photo in ticks.pictures):
        try:
            codes = [Leak(code, "where" if "://" in code else "serial") for code in _codes_in(one.photo)]
        except OSError:
            continue  # a picture whose file is gone is shown to nobody
        own = tuple(leak for leak in codes if leak.kind not in ticks.shown)
        if own:
            says = said(of.caption(one, ticks), _shown(of, ticks, typed=one.photo in ticks.captions))
            found.append(Warned(f"{says} A code in the picture can be read.", own))
    return found


@lru_cache(maxsize=256)
def _codes_in(sha256: str) -> tuple[str, ...]:
    """The codes in a picture as it would go out; a picture never changes, and it is looked at twice before it goes."""
    from witnessmark.calc.tags.reading import read_tags

    bare = bare_copy(Photo(sha256=sha256))
    return tuple(code.tag for code in read_tags(grey_of(bare), lambda text: text))


def watch_of(aircraft: Aircraft) -> Watch:
    """Every name, mark, number and place that the record knows, ready to be looked for."""

    def each(kind: str, names: Iterable[str | None]) -> list[Known]:
        return [Known(name, kind) for name in names if name and name.strip()]

    return watch(
        [
            *each("people", Person.objects.values_list("name", flat=True)),
            *each("people", Finding.objects.exclude(seen_by="").values_list("seen_by", flat=True).distinct()),
            *each("people", HuntAsked.objects.values_list("whom", flat=True).distinct()),
            *each("people", EngineeringWord.objects.values_list("from_whom", flat=True).distinct()),
            *each("shops", [*Vendor.objects.values_list("name", flat=True), aircraft.shop]),
            *each("mark", Aircraft.objects.values_list("name", flat=True)),
            *each("serial", Aircraft.objects.values_list("works_number", flat=True)),
            *each("serial", Piece.objects.exclude(part_no="").values_list("part_no", flat=True).distinct()),
            *each("serial", Piece.objects.filter(tag__isnull=False).values_list("tag", flat=True)),
            *each("serial", Shipment.objects.values_list("number", flat=True)),
            *each("serial", Order.objects.values_list("number", flat=True).distinct()),
            *each("serial", Finding.objects.values_list("number", flat=True)),
            # Zones and places by name are words of every bench (tail, wing root): they would cry wolf at each sentence.
            *each("where", Holder.objects.filter(kind__in=LIES_AT).values_list("name", flat=True)),
        ]
    )


LIES_AT = (HolderKind.SHELF, HolderKind.CONTAINER, HolderKind.PLACE)


@dataclass(frozen=True)
class Given:
    """A copy with how its link stands."""

    copy: SentCopy
    state: str  # open, ended, run out
    count: int
    counts: dict[str, int] = field(default_factory=dict)

    @property
    def is_open(self) -> bool:
        return self.state == "open"


def given(aircraft: Aircraft, most: int = 50) -> list[Given]:
    """The copies that were made, the newest first."""
    now = timezone.now()
    rows = SentCopy.objects.filter(aircraft=aircraft).select_related("act__person", "opened", "ended__act__person")
    return [
        Given(
            copy,
            "ended" if hasattr(copy, "ended") else "open" if copy.expires_at > now else "run out",
            copy.opened.count if hasattr(copy, "opened") else 0,
            {
                "lines": sum(len(section["lines"]) for section in copy.content["sections"]),
                "pictures": len(copy.content["pictures"]),
            },
        )
        for copy in rows[:most]
    ]


def token_hash(token: str) -> str:
    """What is kept of a link."""
    return hashlib.sha256(token.encode(errors="surrogatepass")).hexdigest()


def copy_behind(token: str, at: datetime | None = None) -> SentCopy | None:
    """Give the copy that this link opens now; None for one that was never made, is ended or has run out, told by nothing."""
    return SentCopy.objects.filter(
        token_sha256=token_hash(token), expires_at__gt=at or timezone.now(), ended__isnull=True
    ).first()
