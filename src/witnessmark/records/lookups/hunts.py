"""What is hunted, what at home could be it, who was asked, when to ask again, and what waits for it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Prefetch, Q

from witnessmark.calc.balance import Balance, Item, arm_of, balance
from witnessmark.calc.hunted import Likeness, Looked, hunted_working, kind_of_name, likeness
from witnessmark.calc.working import Working
from witnessmark.records.lookups.where import Standing, standings
from witnessmark.records.models import (
    Aircraft,
    Belongs,
    HolderKind,
    Holding,
    Hunt,
    HuntAsked,
    HuntWaiting,
    HuntWhy,
    Order,
    PhotoUse,
    Piece,
    Place,
    Row,
)
from witnessmark.records.words import search_words

MOST_CANDIDATES = 12
MOST_LOOKED_AT = 2000


@dataclass(frozen=True)
class Candidate:
    """Something at home that could be it."""

    piece: Piece
    where: tuple[Standing, ...]
    why: str


@dataclass(frozen=True)
class Hunted:
    """One hunt with all that is said of it."""

    hunt: Hunt
    asked: tuple[HuntAsked, ...]
    waiting: tuple[HuntWaiting, ...]
    photos: tuple[PhotoUse, ...]
    today: date

    @property
    def ask_again(self) -> HuntAsked | None:
        """The newest word of somebody whose day to be asked again has come."""
        newest: dict[str, HuntAsked] = {row.whom.casefold(): row for row in self.asked}
        due = [row for row in newest.values() if row.ask_again_on is not None and row.ask_again_on <= self.today]
        return min(due, key=lambda row: (row.ask_again_on or self.today, row.pk), default=None)

    @property
    def days_left(self) -> int | None:
        until = self.hunt.may_wait_until
        return None if until is None else (until - self.today).days

    @property
    def sentence(self) -> str:
        """Say what is to be done for it now, in one sentence."""
        what = self.hunt.what
        if self.hunt.state == "found":
            return f"{what} is found."
        if self.hunt.state == "given up":
            return f"{what} is given up."
        if self.hunt.stores_act_id is None:
            return f"Look for {what} in the stores and the don’t-know tray first."
        if self.hunt.bought is not None:
            return f"{what} is bought from {self.hunt.bought.whom} and has not come."
        if self.ask_again is not None:
            return f"Ask {self.ask_again.whom} again about {what}."
        if not self.asked:
            return f"Nobody has been asked for {what} yet."
        return f"{what}: {len(self.asked)} asked, nothing agreed."


def hunts(aircraft: Aircraft | None, today: date, number: str | None = None) -> list[Hunted]:
    """Every hunt, or the one of this number, in a number of queries that does not grow; the most urgent first.

    What was begun before the record knew an aircraft is among them.
    """
    asked = (
        Hunt.objects.filter(Q(aircraft=aircraft) | Q(aircraft=None))
        .select_related(
            "piece", "place__zone", "finding", "bought", "found_piece", "photo", "act__person", "stores_act__person"
        )
        .prefetch_related(
            Prefetch("asked", HuntAsked.objects.select_related("act__person").order_by("asked_on", "id")),
            Prefetch("waiting", HuntWaiting.objects.select_related("piece", "place").order_by("id")),
        )
    )
    rows = list(asked if number is None else asked.filter(number=number))
    photos = _photos(rows)
    found = [
        Hunted(hunt, tuple(hunt.asked.all()), tuple(hunt.waiting.all()), tuple(photos.get(hunt.pk, ())), today)
        for hunt in rows
    ]
    far = date.max
    return sorted(found, key=lambda h: (h.hunt.state != "open", h.hunt.may_wait_until or far, h.hunt.number))


def asks_due(aircraft: Aircraft, today: date) -> list[HuntAsked]:
    """The newest word of everybody whose day to be asked again has come, for hunts still open; the oldest first."""
    mine = Q(hunt__aircraft=aircraft) | Q(hunt__aircraft=None)
    words = HuntAsked.objects.filter(mine, hunt__state="open", hunt__bought=None)
    newest = {
        (row.hunt_id, row.whom.casefold()): row
        for row in words.select_related("hunt", "act").order_by("asked_on", "id")
    }
    due = [(row.ask_again_on, row.pk, row) for row in newest.values() if row.ask_again_on and row.ask_again_on <= today]
    return [row for *_, row in sorted(due)]


def hunts_of(orders: Iterable[Order]) -> dict[int, Hunt]:
    """The open hunt that each of these orders was agreed for, by the order."""
    orders = list(orders)
    open_ones = Hunt.objects.filter(state="open", bought_act__in={order.act_id for order in orders})
    by_act = {hunt.bought_act_id: hunt for hunt in open_ones}
    return {order.pk: by_act[order.act_id] for order in orders if order.act_id in by_act}


def _photos(rows: Iterable[Hunt]) -> dict[int, list[PhotoUse]]:
    """Pictures of what is hunted itself, of the finding, of the piece and of the place."""
    rows = list(rows)
    uses = (
        PhotoUse.objects.filter(
            Q(finding__in=[h.finding_id for h in rows if h.finding_id])
            | Q(piece__in=[pk for h in rows for pk in (h.piece_id, h.found_piece_id) if pk])
            | Q(place__in=[h.place_id for h in rows if h.place_id])
        )
        .select_related("photo")
        .order_by("id")
    )
    found: dict[int, dict[str, PhotoUse]] = {
        hunt.pk: {hunt.photo.pk: PhotoUse(photo=hunt.photo, what=f"What is hunted: {hunt.what}")}
        for hunt in rows
        if hunt.photo is not None
    }
    for use in uses:
        for hunt in rows:
            mine = (
                (use.finding_id and use.finding_id == hunt.finding_id)
                or (use.piece_id and use.piece_id in (hunt.piece_id, hunt.found_piece_id))
                or (use.place_id and use.place_id == hunt.place_id)
            )
            if mine:
                found.setdefault(hunt.pk, {}).setdefault(use.photo_id, use)
    return {pk: list(each.values()) for pk, each in found.items()}


def in_tray() -> set[int]:
    """Pieces in the don't-know tray: laid there as untagged finds, or on a shelf or in a box that is called so."""
    named = Q(holder__name__icontains="unknown") | Q(holder__name__icontains="know tray")
    lying = Holding.objects.filter(count__gt=0).filter(named | Q(piece__tray_find__isnull=False))
    return set(lying.values_list("piece_id", flat=True))


@dataclass(frozen=True)
class AtHome:
    """What at home could be it, the likeliest first, and how that was judged."""

    could_be: tuple[Candidate, ...]
    working: Working


def at_home(hunt: Hunt) -> AtHome:
    """What lies in the stores or the don't-know tray and could be what is hunted, with the working.

    Kind or size must agree; the tray is always looked through. What was found wrong for that place is not named again.
    """
    finds = in_tray()
    kinds = {kind_of_name(hunt.what), kind_of_name(hunt.also_do)} - {""}
    hunted = _hunted(hunt)
    wanted = Q(pk__in=finds) | Q(words__contains=" mm")
    for kind in kinds:
        wanted |= Q(words__contains=search_words(kind))
    if hunted.size_code:
        wanted |= Q(size__code=hunted.size_code)
    if hunted.part_no:
        wanted |= Q(part_no__iexact=hunted.part_no)
    wrong = {hunt.piece_id or 0}
    if hunt.place_id is not None:
        found_wrong = Hunt.objects.filter(place=hunt.place_id, why=HuntWhy.WRONG, piece__isnull=False)
        wrong |= set(found_wrong.values_list("piece_id", flat=True))
    rows = Piece.objects.filter(wanted).exclude(pk__in=wrong).distinct().select_related("size", "tray_find__size")
    pieces = list(rows.order_by("tag", "pk")[:MOST_LOOKED_AT])
    where = standings(pieces)
    made: list[tuple[float, Candidate, Likeness]] = []
    looked_at = 0
    for piece in pieces:
        at = [s for s in where[piece.pk] if s.holder.kind not in (HolderKind.PLACE, HolderKind.SCRAP)]
        if not at:
            continue
        looked_at += 1
        like = likeness(hunted, _at_home(piece))
        if like.points or piece.pk in finds:
            why = like.why or "it lies in the don’t-know tray"
            made.append((like.points + 0.5 * (piece.pk in finds), Candidate(piece, tuple(at), why), like))
    made.sort(key=lambda each: (-each[0], each[1].piece.tag or "", each[1].piece.pk))
    made = made[:MOST_CANDIDATES]
    named = [(f"{each.piece.key} {each.piece.name}".strip(), like) for _, each, like in made]
    return AtHome(tuple(each for _, each, _ in made), hunted_working(named, looked_at))


def _hunted(hunt: Hunt) -> Looked:
    place = hunt.place
    size = place.wants_size if place is not None else hunt.piece.size if hunt.piece is not None else None
    return Looked(
        hunt.what, hunt.also_do, hunt.measurements, size.code if size else "", place.mark if place is not None else ""
    )


def _at_home(piece: Piece) -> Looked:
    find = getattr(piece, "tray_find", None)
    size = piece.size or (find.size if find is not None else None)
    read = (find.length_mm, find.width_mm, find.thickness_mm, find.diameter_mm) if find is not None else ()
    figures = " ".join([piece.note, piece.as_found, *(f"{mm:g} mm" for mm in read if mm is not None)])
    return Looked(piece.name, "", figures, size.code if size else "", piece.part_no)


def weight_known(aircraft: Aircraft) -> Balance:
    """Mass and moment of what belongs in each place; what is hunted or not weighed keeps its arm, its mass unknown.

    Rivets are left out. A first slice: what is weighed on scales goes before it.
    """
    hunted = {
        h.place_id: h.what for h in Hunt.objects.filter(aircraft=aircraft, place__isnull=False).exclude(state="found")
    }
    rows = set(Row.objects.filter(place__aircraft=aircraft).values_list("place_id", flat=True))
    belongs: dict[int, list[Belongs]] = {}
    for each in Belongs.objects.filter(place__aircraft=aircraft).select_related("piece"):
        belongs.setdefault(each.place_id, []).append(each)
    items = []
    places = Place.objects.filter(aircraft=aircraft).order_by("mark", "side")
    for place in sorted(places, key=lambda p: p.pk not in hunted):
        if place.pk in rows:
            continue
        arm = arm_of(place.station)
        if place.pk in hunted:
            items.append(Item(hunted[place.pk], None, arm))
            continue
        for each in belongs.get(place.pk, ()):
            piece = each.piece
            share = piece.mass_g * each.count / piece.count_off / 1000 if piece.mass_g and piece.count_off else None
            items.append(Item(piece.name, share, arm))
        if place.pk not in belongs and place.wants and place.wants_size_id is None:
            items.append(Item(place.name or place.mark, None, arm))
    return balance(items)
