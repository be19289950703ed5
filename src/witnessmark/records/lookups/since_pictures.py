"""Pictures of these days beside the earliest of the same thing, and the words under each, part by part."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Q
from django.utils import timezone

from witnessmark.calc.part_words import part_words
from witnessmark.calc.since import TYPED, Pair, Part, Shot, before_and_after
from witnessmark.records.lookups.about import small
from witnessmark.records.lookups.since import LOADED, Days
from witnessmark.records.models import Aircraft, PhotoUse, Piece

MOST_PAIRS = 16
FIRST_PAIRS = 6  # so many are ticked for the owner before anybody looked


@dataclass(frozen=True)
class PictureSeen:
    """One picture with the words under it, part by part."""

    photo: str
    which: str  # before, after, or now where there is no earlier one
    width: int
    height: int
    caption: tuple[Part, ...]
    plain: Part  # what begins the caption where nothing goes along that somebody typed
    typed: str
    ring: dict[str, float] | None


@dataclass(frozen=True)
class PairSeen:
    """One thing before and after, or as it is now."""

    pictures: tuple[PictureSeen, ...]
    days: int
    happened: int
    first: bool


@dataclass(frozen=True)
class Pictures:
    """The most telling, and how many more there are."""

    pairs: tuple[PairSeen, ...]
    left_out: int
    whole: int


def pictures(
    aircraft: Aircraft, days: Days, happened: Mapping[str, int], hides: Callable[[str], bool] = bool
) -> Pictures:
    """Find pairs of pictures, in three queries however many there are; of a name that `hides` something nothing is said."""
    on = Q(piece__aircraft=aircraft) | Q(place__aircraft=aircraft) | Q(finding__aircraft=aircraft)
    # Of twins the larger one stands for both.
    uses = PhotoUse.objects.filter(on | Q(zone__aircraft=aircraft), photo__behind=None)
    shots: list[Shot] = []
    use_of: dict[tuple[str, str], int] = {}
    columns = ("pk", "photo_id", "piece_id", "place_id", "finding_id", "finding__piece_id", "zone_id")
    more = ("photo__taken_at", "photo__width", "photo__height", "photo__orientation", "act__happened_at", "act__verb")
    for row in uses.order_by("pk").values(*columns, *more):
        taken = row["photo__taken_at"] or (row["act__happened_at"] if row["act__verb"] != LOADED else None)
        if taken is None:
            continue  # nobody knows when it was taken: neither before nor after
        subject = _subject(row)
        size = (row["photo__width"], row["photo__height"])
        wide, high = size if row["photo__orientation"] < 5 else size[::-1]
        shots.append(Shot(row["photo_id"], subject, timezone.localtime(taken), wide, high))
        use_of.setdefault((row["photo_id"], subject), row["pk"])
    every = before_and_after(shots, days.since, days.until, happened)
    best = every[:MOST_PAIRS]
    wanted = [use_of[shot.photo, pair.subject] for pair in best for shot in (pair.before, pair.after) if shot]
    whole = {
        use.pk: use
        for use in PhotoUse.objects.filter(pk__in=wanted)
        .select_related("piece", "place__zone", "finding__piece", "zone")
        .prefetch_related("rings")
    }
    return Pictures(
        tuple(
            PairSeen(
                tuple(
                    _picture(shot, which, whole[use_of[shot.photo, pair.subject]], hides)
                    for shot, which in _shots(pair)
                ),
                pair.days,
                pair.happened,
                number < FIRST_PAIRS,
            )
            for number, pair in enumerate(best)
        ),
        max(0, len(every) - len(best)),
        sum(pair.before is not None for pair in best),
    )


def _subject(row: dict[str, Any]) -> str:
    piece = row["piece_id"] or row["finding__piece_id"]
    if piece:
        return f"piece:{piece}"
    kind = next(kind for kind in ("finding", "place", "zone") if row[f"{kind}_id"])
    return f"{kind}:{row[f'{kind}_id']}"


def _shots(pair: Pair) -> list[tuple[Shot, str]]:
    return [(pair.before, "before"), (pair.after, "after")] if pair.before else [(pair.after, "now")]


def _plainly(piece: Piece | None, hides: Callable[[str], bool]) -> str:
    """What a picture shows, in words of ours: what the part is, where its name hides nothing."""
    if piece is None:
        return "A stretch of the aircraft"
    what = "" if hides(piece.name) else part_words(piece.name)
    return what[:1].upper() + what[1:] if what else "A part"


def _picture(shot: Shot, which: str, use: PhotoUse, hides: Callable[[str], bool]) -> PictureSeen:
    taken = f"{shot.taken.day} {shot.taken:%B} {shot.taken.year}"
    piece = use.piece or (use.finding.piece if use.finding else None)
    parts = [Part(f"{which.capitalize()}, {taken}")]
    named = piece.name if piece is not None and piece.name else ""
    if named:
        parts.append(Part(f": {small(named)}", TYPED))
    if piece is not None and piece.tag:
        parts.append(Part(f" ({piece.tag})", "serial"))
    if use.finding is not None:
        parts.append(Part(f", finding {use.finding.number}", "serial"))
    where = use.place.name or str(use.place) if use.place else use.zone.name if use.zone else ""
    if where:
        parts.append(Part(f", {where}", "where"))
    what = use.what.strip().rstrip(".")
    if what:
        parts.append(Part(f". {what}", TYPED))
    ring = use.ring
    drawn = None
    if ring is not None and ring.across is not None:
        drawn = {
            "cx": 100 * (ring.across or 0),
            "cy": 100 * (ring.down or 0),
            "rx": 100 * (ring.half_wide or 0),
            "ry": 100 * (ring.half_high or 0),
        }
    return PictureSeen(
        shot.photo,
        which,
        shot.width,
        shot.height,
        (*parts, Part(".")),
        Part(f"{_plainly(piece, hides)}, {which}, {taken}"),
        " ".join(filter(None, (named, what))),
        drawn,
    )
