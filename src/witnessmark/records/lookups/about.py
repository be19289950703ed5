"""What a job is about in the record, and what is gathered on the way to the network of jobs."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING

from witnessmark.records.models import Aircraft, Piece, Vendor, Zone

if TYPE_CHECKING:
    from witnessmark.records.lookups.vendor_times import VendorTime


@dataclass(frozen=True)
class About:
    """What a job is about in the record, beside what the plan needs to know of it."""

    source: str
    piece_id: int | None = None
    row_id: int | None = None
    zone_id: int | None = None
    vendor: Vendor | None = None
    lies_at: str = ""
    tag: str = ""
    link: str = ""
    count: int = 0
    waits_as: str = ""
    hours_from: str = "common practice, no source"
    process: str = ""
    held_by: tuple[str, ...] = ()
    since: date | None = None
    promised_on: date | None = None


@dataclass
class Gathering:
    aircraft: Aircraft
    now: date
    zones: dict[int, Zone]
    zone_of: dict[int, int]
    about: dict[str, About] = field(default_factory=dict)
    names: dict[str, str] = field(default_factory=dict)
    for_zone: dict[int, list[str]] = field(default_factory=dict)
    # Shipments that are out, by vendor, day sent and day promised: an order of these very days is for what left there.
    with_shipment: dict[tuple[int, date | None, date | None], str] = field(default_factory=dict)
    # How long each vendor takes.
    times: "Mapping[int, VendorTime]" = field(default_factory=dict)

    def tell(self, key: str, about: About) -> None:
        self.about[key] = about
        if about.zone_id is not None:
            self.for_zone.setdefault(about.zone_id, []).append(key)

    def zone_name(self, zone_id: int | None) -> str:
        return self.zones[zone_id].name if zone_id in self.zones else ""


def in_words(piece: Piece) -> str:
    """Name a piece inside a sentence, its side said first."""
    name = piece.name or piece.part_no or f"piece {piece.tag or piece.pk}"
    if piece.side == "C":
        return f"the {small(name)}"
    side = piece.get_side_display()
    bare = re.sub(rf"(?<=\w),? {piece.side}\b", "", name)  # lists write the side behind the name
    return f"the {small(bare)}" if side in bare.lower() else f"the {side} {small(bare)}"


def small(text: str) -> str:
    """The same words inside a sentence."""
    return text[0].lower() + text[1:] if text[:1].isupper() and not text[:2].isupper() else text


def piece_link(piece: Piece) -> str:
    """Where the piece's own page is."""
    return f"/piece/{piece.tag or f'id-{piece.pk}'}/"


def swapped_name(piece: Piece) -> str:
    """The name that its opposite bears where each side has its own: `Main leg R` of `Main leg L`."""
    return piece.name.replace(" L", " R") if piece.side == "L" else piece.name.replace(" R", " L")
