"""Hang tags: one a tagged part, with its side, where it goes, a picture and a code that opens it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Prefetch, Q

from witnessmark.papers.pictures import first_pictures
from witnessmark.papers.typesetting import Stamp, address_of, code_svg, stamp_for, typeset
from witnessmark.records.lookups.where import with_belongs
from witnessmark.records.models import Aircraft, Piece, PieceKind, Step

MOST_MEDIA = 4  # more do not fit beside the code; the piece's page has them all


def comes_off(medium: str) -> bool:
    """Tell whether this step is done without the tag."""
    return medium.lower().startswith(("no ", "none")) or "off" in medium.lower().replace(",", " ").split()


@dataclass(frozen=True)
class Tag:
    """What one hang tag says. `medium` pairs the kind of tag with the steps that it goes through."""

    tag: str
    side: str
    name: str
    goes: str
    part_no: str
    aircraft: str
    medium: tuple[tuple[str, str], ...]
    address: str
    picture: bytes | None = None


@dataclass(frozen=True)
class Tags:
    """The tags of one print, and how many parts have no tag to print."""

    stamp: Stamp
    tags: tuple[Tag, ...]
    untagged: int = 0

    @property
    def note(self) -> str:
        if not self.untagged:
            return ""
        parts = "1 part has" if self.untagged == 1 else f"{self.untagged} parts have"
        return f"{parts} no tag yet and no tag here: give a tag first."


def gather(aircraft: Aircraft | None, zone: str = "", tags: Sequence[str] = (), base: str | None = None) -> Tags:
    """Collect the tags of the parts of this aircraft, or of one zone (number or name), or of these tags alone."""
    asked = Piece.objects.filter(aircraft=aircraft, kind=PieceKind.PART)
    if zone:
        asked = asked.filter(Q(zones__number=zone) | Q(zones__name__iexact=zone)).distinct()
    if tags:
        asked = asked.filter(tag__in=tags)
    with_steps = with_belongs(asked.exclude(tag=None)).prefetch_related(
        "zones", Prefetch("steps", Step.objects.filter(done_act=None))
    )
    pieces = list(with_steps.order_by("tag"))
    pictures = first_pictures(pieces)
    name = aircraft.name if aircraft else ""
    number = f" {aircraft.works_number}" if aircraft and aircraft.works_number else ""
    if name.endswith(number):
        number = ""
    return Tags(
        stamp_for(aircraft),
        tuple(_tag(piece, name + number, pictures.get(piece.pk), base) for piece in pieces),
        0 if tags else asked.filter(tag=None).count(),
    )


def _tag(piece: Piece, aircraft: str, picture: bytes | None, base: str | None) -> Tag:
    assert piece.tag is not None
    return Tag(
        tag=piece.tag,
        side=piece.get_side_display().upper(),
        name=piece.name,
        goes=_goes(piece),
        part_no=piece.part_no,
        aircraft=aircraft,
        medium=_medium(piece.steps.all()),
        address=address_of(piece.tag, base),
        picture=picture,
    )


def _goes(piece: Piece) -> str:
    """Say where it goes, and what was seen on it."""
    to = []
    for belongs in piece.belongs.all():
        place = belongs.place
        where = f"{place.zone.name}, {place.mark}" + ("" if place.side == "C" else f" {place.get_side_display()}")
        to.append(where + (f", {place.station}" if place.station else ""))
    zones = " and ".join(zone.name for zone in piece.zones.all())
    said = (
        f"Goes to {'; '.join(to)}."
        if to
        else f"From {zones}. Its place is not known."
        if zones
        else "Its place is not known."
    )
    return f"{said} {piece.note}".strip()


def _medium(steps: Iterable[Step]) -> tuple[tuple[str, str], ...]:
    """Name the tag that goes through each step still to come; neighbours with the same tag are said together."""
    said: list[tuple[str, list[str]]] = []
    for step in steps:
        medium = step.tag_medium.strip()
        if not medium:
            continue
        word = f"{medium[0].upper()}{medium[1:]}:"
        if not said or said[-1][0] != word:
            said.append((word, []))
        said[-1][1].append(step.name[0].lower() + step.name[1:] if step.name else "")
    return tuple((word, ", ".join(names) + ".") for word, names in said[:MOST_MEDIA])


def pdf(data: Tags) -> bytes:
    """Lay the tags three across and two down, with marks to cut along."""
    printed = [
        {
            "tag": tag.tag,
            "side": tag.side,
            "name": tag.name,
            "goes": tag.goes,
            "part_no": tag.part_no,
            "aircraft": tag.aircraft,
            "medium": [{"medium": word, "steps": steps} for word, steps in tag.medium],
            "code": code_svg(tag.address),
            "picture": number if tag.picture else None,
        }
        for number, tag in enumerate(data.tags)
    ]
    empty = "No tag is asked for. No part in this choice has one."
    return typeset(
        "tag.typ", {"tags": printed, "note": data.note, "empty": empty}, data.stamp, [tag.picture for tag in data.tags]
    )
