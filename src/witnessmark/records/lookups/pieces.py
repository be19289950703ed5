"""One piece: where it goes, where it is, where it has been, what is wrong with it, decided and done."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from witnessmark.calc.surface.processes import Caution, cautions_for, still_cautions
from witnessmark.records.lookups.about import in_words, small, swapped_name
from witnessmark.records.lookups.day import today
from witnessmark.records.lookups.pictures import IN_FRONT
from witnessmark.records.lookups.where import Standing, has_been, holder_words, in_bucket, standings
from witnessmark.records.models import (
    Act,
    Belongs,
    Decision,
    Finding,
    Holder,
    HolderKind,
    Move,
    Photo,
    PhotoUse,
    Piece,
    PieceKind,
    Place,
    ShipmentLine,
    Step,
    Vendor,
)

IN_THE_SHOP = (
    HolderKind.SHELF,
    HolderKind.CONTAINER,
    HolderKind.ASSEMBLY,
    HolderKind.PERSON,
    HolderKind.NOT_SAID,
)


@dataclass(frozen=True)
class StepSeen:
    """A step of the route as the strip shows it: done, here, or to come."""

    step: Step
    state: str
    who: str
    who_says: str
    done_by: str
    done_on: date | None
    cautions: tuple[Caution, ...]
    caution: str
    at_vendor: bool

    @property
    def to_do(self) -> str:
        """Say the step as an order."""
        name = f"{self.step.name[0].upper()}{self.step.name[1:]}"
        return f"Send it to {self.who}: {small(name)}." if self.at_vendor else f"{name}."


@dataclass(frozen=True)
class Been:
    """One line of where it has been."""

    day: date
    words: str
    by: str
    act: Act


@dataclass(frozen=True)
class DoNow:
    """The one thing to do with this piece now."""

    say: str
    why: str
    anchor: str


@dataclass(frozen=True)
class PieceSeen:
    """All that the piece's page says."""

    piece: Piece
    photos: tuple[PhotoUse, ...]
    where: tuple[Standing, ...]
    goes: tuple[Belongs, ...]
    been: tuple[Been, ...]
    findings: tuple[Finding, ...]
    decision: Decision | None
    earlier: tuple[Decision, ...]
    steps: tuple[StepSeen, ...]
    shipment: ShipmentLine | None
    late_days: int
    opposite: Piece | None
    set_mates: tuple[Piece, ...]
    last_move: Act | None
    buckets: tuple[tuple[Piece, int, list[Standing]], ...] = ()

    @property
    def name(self) -> str:
        """Name it with its side, as a sentence begins."""
        words = in_words(self.piece).removeprefix("the ")
        return f"{words[0].upper()}{words[1:]}"

    @property
    def off(self) -> bool:
        return bool(self.where) and all(s.holder.kind != HolderKind.PLACE for s in self.where)

    @property
    def here(self) -> bool:
        """Whether it is in the shop and off the aircraft, so that it can be laid down, put back or sent."""
        return sum(s.holder.kind in IN_THE_SHOP for s in self.where) == 1

    @property
    def on(self) -> tuple[Standing, ...]:
        """The places on the aircraft that hold it."""
        return tuple(s for s in self.where if s.holder.kind == HolderKind.PLACE)

    @property
    def home(self) -> tuple[Belongs, ...]:
        """The places it belongs to and is not in."""
        filled = {s.holder.pk for s in self.on}
        return tuple(b for b in self.goes if b.place_id not in filled)

    @property
    def on_aircraft(self) -> bool:
        return len(self.where) == 1 and self.where[0].holder.kind == HolderKind.PLACE

    @property
    def sentence(self) -> str:
        """Say what it is and where it is."""
        if not self.where and self.buckets:
            bucket, count, at = self.buckets[0]
            where = ", ".join(s.words for s in at) or "nowhere in the record"
            return f"{self.name}: {count} lie mixed with others in bucket {bucket.tag}: {where}."
        if not self.where:
            return f"{self.name} is nowhere in the record."
        if len(self.where) > 1:
            parts = " and ".join(f"{s.count} at {s.words}" for s in self.where)
            return f"{self.name}: {parts}."
        first = self.where[0]
        if first.holder.kind == HolderKind.PLACE:
            return f"{self.name} is in its place."
        is_at = " is at" if self.piece.kind == PieceKind.PART else f": {first.count} at"
        if first.holder.kind == HolderKind.VENDOR:
            process = f" for {small(self.shipment.shipment.process)}" if self.shipment else ""
            return f"{self.name}{is_at} {first.holder.name}{process}."
        if first.holder.kind == HolderKind.NOT_FOUND:
            return f"{self.name} cannot be found."
        if first.holder.kind == HolderKind.SCRAP:
            return f"{self.name} is scrap."
        if first.holder.kind == HolderKind.NOT_SAID:
            return f"{self.name} has its tag; nobody has said yet where it lies."
        return f"{self.name}{is_at} {first.words}."

    @property
    def outside(self) -> bool:
        return any(s.holder.kind == HolderKind.VENDOR for s in self.where)

    @property
    def done(self) -> int:
        return sum(step.state == "done" for step in self.steps)

    @property
    def do_now(self) -> DoNow | None:
        """The first thing that holds this piece up."""
        waits = next((f for f in self.findings if f.state == "open"), None)
        if waits is not None:
            why = "Its route goes on when the finding has a decision; other pieces go on meanwhile."
            return DoNow(f"Decide what is done about {waits.number}.", why, f"/decide/{self.piece.key}/")
        if not self.where:
            return None
        if self.where[0].holder.kind == HolderKind.NOT_FOUND:
            return DoNow(
                "Look for it before one is bought.",
                "A part that turns up after the new one came is paid for twice.",
                "#move",
            )
        if self.shipment is not None and self.late_days > 0:
            days = "a day" if self.late_days == 1 else f"{self.late_days} days"
            return DoNow(
                f"Ring {self.shipment.shipment.vendor.name}: it is {days} late.",
                f"Shipment {self.shipment.shipment.number} was promised for {self.shipment.shipment.promised_on:%-d %B}.",
                f"/outwork/{self.shipment.shipment.number}/",
            )
        if not self.photos and self.on_aircraft:
            return DoNow(
                "Photograph it before it moves.",
                "No picture shows how it sits, with its tag and its mates.",
                "#photograph",
            )
        step = next((s for s in self.steps if s.state == "here"), None)
        if step is not None and self.where[0].holder.kind != HolderKind.VENDOR:
            return DoNow(step.to_do, f"It is step {step.step.number} of {len(self.steps)}, for {step.who}.", "#route")
        if step is None and self.here and self.goes and self.steps:
            return DoNow("Put it back.", "Every step of its route is done.", "#move")
        return None


def by_key(key: str) -> Piece | None:
    """Find a piece by its tag, or by id-N where it has none."""
    pieces = Piece.objects.select_related("aircraft", "size")
    key = key.replace("\0", "")
    if key.startswith("id-") and key[3:].isdigit():
        return pieces.filter(pk=int(key[3:])).first()
    return pieces.filter(tag=key).first() or pieces.filter(tag__iexact=key).first()


def of_a_bag(piece: Piece, place: Place) -> tuple[Holder | None, int | None]:
    """Where the rest of a bag lies, and how many of it belong into this place; nothing of that for a part."""
    if piece.kind == PieceKind.PART:
        return None, None
    rest = [at for at in standings([piece])[piece.pk] if at.holder.kind in IN_THE_SHOP]
    belongs = Belongs.objects.filter(piece=piece, place=place).first()
    if len(rest) != 1:
        return None, None
    return rest[0].holder, min(belongs.count, rest[0].count) if belongs else None


def piece_seen(piece: Piece) -> PieceSeen:
    """See one piece, in a number of queries that does not grow with the record."""
    where = tuple(standings([piece])[piece.pk])
    goes = tuple(Belongs.objects.filter(piece=piece).select_related("place__zone", "place__holder"))
    decisions = list(Decision.objects.filter(piece=piece).select_related("by", "act").order_by("-id"))
    moves = list(has_been(piece))
    been = tuple(
        Been(
            m.act.happened_at.date(),
            _moved(m, first=m.pk == moves[0].pk),
            m.act.person.name,
            m.act,
        )
        for m in moves
    )
    at_vendor = any(s.holder.kind == HolderKind.VENDOR for s in where)
    line = (
        ShipmentLine.objects.filter(piece=piece, shipment__back_on=None).select_related("shipment__vendor").first()
        if at_vendor
        else None
    )
    mates = Piece.objects.filter(aircraft=piece.aircraft, matched_set=piece.matched_set).exclude(pk=piece.pk)
    return PieceSeen(
        piece=piece,
        photos=tuple(
            PhotoUse.objects.filter(IN_FRONT, Q(piece=piece) | Q(finding__piece=piece) | Q(place__belongs__piece=piece))
            .select_related("photo", "finding", "act__person")
            .prefetch_related("rings")
            .order_by("photo__taken_at", "id")
            .distinct()[:40]
        ),
        where=where,
        buckets=tuple(in_bucket(piece)),
        goes=goes,
        been=been,
        findings=tuple(Finding.objects.filter(piece=piece).order_by("-seen_on", "number")),
        decision=decisions[0] if decisions else None,
        earlier=tuple(decisions[1:]),
        steps=_steps(piece, where, line),
        shipment=line,
        late_days=_late(line, piece),
        opposite=_opposite(piece, goes),
        set_mates=tuple(mates.order_by("tag")[:12]) if piece.matched_set else (),
        last_move=moves[-1].act if moves and moves[-1].act.verb in ("take_off", "put_back", "lay_down") else None,
    )


def _moved(one: Move, *, first: bool) -> str:
    to, from_kind = holder_words(one.to_holder), one.from_holder.kind
    if one.act.verb == "undo":
        return f"taken back: {to}"
    if from_kind == HolderKind.ORIGIN:
        return f"came into the record: {to}" if first else f"{one.count} more counted: {to}"
    return f"off the aircraft; {to}" if from_kind == HolderKind.PLACE else to


def _late(line: ShipmentLine | None, piece: Piece) -> int:
    promised = line.shipment.promised_on if line else None
    return max(0, (today(piece.aircraft) - promised).days) if promised else 0


def _steps(piece: Piece, where: tuple[Standing, ...], line: ShipmentLine | None) -> tuple[StepSeen, ...]:
    vendors = dict(Vendor.objects.values_list("code", "name"))
    now_at = {s.holder.name for s in where if s.holder.kind == HolderKind.VENDOR}
    seen = []
    here = True
    for step in Step.objects.filter(piece=piece).select_related("done_act__person").order_by("number"):
        done = step.done_act
        state = "done" if done else "here" if here else "to come"
        here = here and done is not None
        who = vendors.get(step.who, step.who)
        since = f" since {line.shipment.sent_on:%-d %B}" if line and line.shipment.sent_on else ""
        said = done if done and done.verb != "load_lists" else None  # the lists do not say who did it, or when
        seen.append(
            StepSeen(
                step=step,
                state=state,
                who=who,
                who_says=f"At {who}{since}." if who in now_at else f"Next, for {who}.",
                done_by=said.person.name if said else "",
                done_on=said.happened_at.date() if said else None,
                cautions=cautions_for(step.name, f"{piece.material} {piece.name}", piece.finish, piece.strength_mpa),
                caution=still_cautions(step.caution, piece.strength_mpa),
                at_vendor=step.who in vendors,
            )
        )
    return tuple(seen)


def opposite_of(piece: Piece) -> Piece | None:
    """The same part of the other side, where the record has one."""
    return _opposite(piece, tuple(Belongs.objects.filter(piece=piece).select_related("place")))


def _opposite(piece: Piece, goes: tuple[Belongs, ...]) -> Piece | None:
    """The same part of the other side: the same mark, or the same name where each side has its own number."""
    other = {"L": "R", "R": "L"}.get(piece.side)
    if other is None:
        return None
    marks = [b.place.mark for b in goes]
    mirrored = Piece.objects.filter(aircraft=piece.aircraft, side=other).exclude(pk=piece.pk)
    same = mirrored.filter(belongs__place__mark__in=marks, belongs__place__side=other).first()
    if same is not None or not piece.name:
        return same
    return mirrored.filter(name=swapped_name(piece)).first()


def place_photos(place: Place) -> list[Photo]:
    """Pictures of a place itself."""
    return list(Photo.objects.filter(uses__place=place).distinct()[:12])
