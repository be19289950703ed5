"""What travels: the manifest with pictures, the instruction sheet for a vendor and process, and a stop's sheet."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from witnessmark.calc.sources import source
from witnessmark.papers.instructed import DoneBy, done_by
from witnessmark.papers.labels import mass_words
from witnessmark.papers.pictures import first_pictures
from witnessmark.papers.platers_sheet import warned
from witnessmark.papers.typesetting import Stamp, address_of, code_svg, short_day, stamp_for, typeset
from witnessmark.records.lookups.day import now
from witnessmark.records.lookups.instructions import instructed, made_of, strength_words
from witnessmark.records.lookups.outwork import Out, shipments
from witnessmark.records.lookups.trips import LineSeen, StopSeen, trip_seen
from witnessmark.records.models import Aircraft, Certificate, Packing, Piece, TermTaken, Trip


@dataclass(frozen=True)
class Carried:
    """One piece on a sheet."""

    piece: Piece
    count: int
    mass_g: float | None
    words: str = ""


@dataclass(frozen=True)
class Part:
    """A heading with sentences and pieces under it."""

    head: str
    texts: tuple[str, ...] = ()
    lines: tuple[Carried, ...] = ()
    blank: int = 0
    fills: tuple[str, ...] = ()
    strong: str = ""


@dataclass(frozen=True)
class Sheet:
    """One sheet."""

    title: str
    told: str
    parts: tuple[Part, ...]
    signs: tuple[str, ...]
    cautions: tuple[str, ...] = ()
    code: str = ""
    code_words: str = ""


@dataclass(frozen=True)
class CarriedPaper:
    """One file of sheets, with the pictures of their pieces."""

    stamp: Stamp
    name: str
    sheets: tuple[Sheet, ...]
    empty: str
    pictures: dict[int, bytes] = field(default_factory=dict)


def _of_shipment(aircraft: Aircraft | None, which: str) -> tuple[Stamp, Out | None]:
    stamp = stamp_for(aircraft)
    return stamp, next(iter(shipments(stamp.day, which)), None)


def _terms(out: Out) -> list[str]:
    rows = TermTaken.objects.filter(shipment=out.shipment).select_related("piece", "by").order_by("id")
    return [
        f"{row.piece.key}: {row.term}. {row.by.name} answers for it ({source(row.source).printed()})." for row in rows
    ]


def _papers(out: Out) -> list[str]:
    rows = Certificate.objects.filter(shipment=out.shipment).order_by("id")
    return [f"{row.get_kind_display().capitalize()}: {row.why}." for row in rows]


def _packing(out: Out) -> Packing | None:
    return Packing.objects.filter(shipment=out.shipment).select_related("packed_by").first()


def manifest(aircraft: Aircraft | None, which: str) -> CarriedPaper:
    """What is in a shipment, piece by piece with its picture."""
    stamp, out = _of_shipment(aircraft, which)
    empty = f"There is no shipment {which}."
    if out is None:
        return CarriedPaper(stamp, "Manifest", (), empty)
    shipment, packing = out.shipment, _packing(out)
    left = f"Left on {short_day(shipment.sent_on)}. " if shipment.sent_on else "Has not left yet. "
    packed = f"Packed by {packing.packed_by.name}. " if packing else "Who packed it is not written down. "
    price = f"Price as worked out: {packing.price} {packing.currency}." if packing and packing.price is not None else ""
    lines = tuple(Carried(line.piece, line.count_out, line.mass_out_g, _made_of(line.piece)) for line in out.lines)
    parts = [Part("", lines=lines)]
    if terms := _terms(out):
        parts.append(Part("On these terms", texts=tuple(terms)))
    if papers := _papers(out):
        parts.append(Part("Comes back with it", texts=tuple(papers)))
    sheet = Sheet(
        f"Shipment {shipment.number} to {shipment.vendor.name}: {out.sentence}",
        f"{_capital(shipment.process)}. {left}{packed}{price}",
        tuple(parts),
        ("Packed and counted", f"Counted in, {shipment.vendor.name}", "Counted back"),
        tuple(out.totals.cautions),
        code_svg(address_of(shipment.number, under="outwork")),
        f"The code opens shipment {shipment.number}.",
    )
    return CarriedPaper(stamp, "Manifest", (sheet,), empty, first_pictures([line.piece for line in out.lines]))


def instruction(aircraft: Aircraft | None, which: str) -> CarriedPaper:
    """What the vendor is told to do with a shipment, and what he must send back with it."""
    stamp, out = _of_shipment(aircraft, which)
    empty = f"There is no shipment {which}."
    if out is None:
        return CarriedPaper(stamp, "Instruction", (), empty)
    shipment, packing = out.shipment, _packing(out)
    told = [line for line in (packing.instruction.splitlines() if packing else []) if line.strip()]
    tags = ", ".join(f"{line.piece.key} ({line.count_out})" for line in out.lines)
    parts = [Part("What is to be done", texts=tuple(told) or ("Ask before the work begins: nothing is written here.",))]
    pieces = [line.piece for line in out.lines]
    for each in done_by(pieces, instructed(pieces, shipment.vendor.code, shipment.process)):
        parts.append(Part(each.head, texts=each.lines, strong=each.withheld, fills=_fills(each)))
    if terms := _terms(out):
        parts.append(Part("On these terms", texts=tuple(terms)))
    parts.append(Part("Comes back with it", texts=tuple(_papers(out)) or ("No paper is asked for.",)))
    parts.append(Part("What it is for", texts=(f"Shipment {shipment.number}: {tags}.",)))
    cautions = warned(shipment.process, pieces)
    sheet = Sheet(
        f"{_capital(shipment.process)}, {shipment.vendor.name}.",
        f"For shipment {shipment.number}. Nothing here may be mixed; every tag stays with its piece.",
        tuple(parts),
        ("For the shop", f"Read by, {shipment.vendor.name}", "Day"),
        (
            "No part goes into acid whose strength is not written on the manifest.",
            *(f"{c.text} {f'Hand over to: {c.hand_over}. ' if c.hand_over else ''}{c.source}" for c in cautions),
        ),
        code_svg(address_of(shipment.number, under="outwork")),
        f"The code opens shipment {shipment.number}.",
    )
    return CarriedPaper(stamp, "Instruction", (sheet,), empty)


def _fills(each: DoneBy) -> tuple[str, ...]:
    """The times that are asked, to be written on the sheet itself, for one load each."""
    return tuple(f"{words[:1].upper()}{words[1:]}" for words in each.asked)


def _trip(which: str) -> tuple[Trip | None, str]:
    number, _, code = which.partition(":")
    return Trip.objects.filter(number=number).select_related("driver").first(), code


def stop_sheet(aircraft: Aircraft | None, which: str) -> CarriedPaper:
    """The sheets of a trip (`T-1`), or of one of its stops (`T-1:QB`)."""
    stamp = stamp_for(aircraft)
    trip, code = _trip(which)
    empty = f"There is no trip {which}."
    if trip is None:
        return CarriedPaper(stamp, "Stop sheet", (), empty)
    seen = trip_seen(trip, now(aircraft))
    stops = [stop for stop in seen.stops if not code or stop.stop.vendor.code == code]
    pieces = [line.line.piece for stop in stops for line in stop.lines]
    sheets = tuple(_stop(trip, stop, seen.stops.index(stop) + 1, len(seen.stops)) for stop in stops)
    return CarriedPaper(stamp, "Stop sheet", sheets, empty, first_pictures(pieces))


def _stop(trip: Trip, stop: StopSeen, at: int, of: int) -> Sheet:
    parts = [Part("Leave" if stop.leave else "Nothing to leave", lines=tuple(_carried(line) for line in stop.leave))]
    parts.append(
        Part("Fetch" if stop.fetch else "Nothing to fetch", lines=tuple(_carried(line) for line in stop.fetch))
    )
    if stop.off:
        parts.append(
            Part("Off this sheet", texts=tuple(f"{line.line.piece}: {line.line.off_why}" for line in stop.off))
        )
    parts.append(Part("Came along unasked, or was refused", texts=("Write it here, and photograph it.",), blank=3))
    moved = f" {stop.stop.moved_why}" if stop.stop.moved_why else ""
    return Sheet(
        f"Stop {at} of {of}: {stop.stop.vendor.name}.",
        f"Trip {trip.number}, {trip.day:%A} {short_day(trip.day)}, {trip.driver.name} drives.{moved}",
        tuple(parts),
        ("For the shop", f"For {stop.stop.vendor.name}", "Time"),
        tuple(f"{line.line.piece.key} must not go. {why}" for line in stop.leave for why in line.bars),
    )


def _carried(line: LineSeen) -> Carried:
    said = [line.line.process, line.line.box and f"in {line.line.box}", *(term for _, term, _ in line.terms)]
    return Carried(line.line.piece, line.count or 1, line.line.piece.mass_g, ", ".join(filter(None, said)))


def _made_of(piece: Piece) -> str:
    return f"{made_of(piece) or 'material not written down'}, {strength_words(piece)}"


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def _printed(sheet: Sheet, first: int, pictures: dict[int, bytes]) -> tuple[dict[str, object], list[bytes | None]]:
    shown: list[bytes | None] = []
    parts = []
    for part in sheet.parts:
        lines = []
        for line in part.lines:
            found = pictures.get(line.piece.pk)
            lines.append(
                {
                    "tag": line.piece.tag or "no tag",
                    "name": f"{_capital(line.piece.name)}.",
                    "words": f"{_capital(line.words)}." if line.words else "",
                    "count": f"{line.count:,}",
                    "mass": mass_words(line.mass_g).partition(", ")[0] if line.mass_g else "not weighed",
                    "picture": first + len(shown) if found else None,
                }
            )
            shown.append(found)
        parts.append({"head": part.head, "texts": list(part.texts), "lines": lines, "blank": part.blank,
             "fills": list(part.fills), "strong": part.strong})  # fmt: skip
    printed: dict[str, object] = {
        "title": sheet.title, "told": sheet.told, "parts": parts, "signs": list(sheet.signs),
        "cautions": list(sheet.cautions), "code": sheet.code, "code_words": sheet.code_words,
    }  # fmt: skip
    return printed, shown


def pdf(data: CarriedPaper) -> bytes:
    """Set the sheets, each on a page of its own."""
    sheets: list[dict[str, object]] = []
    pictures: list[bytes | None] = []
    for sheet in data.sheets:
        printed, shown = _printed(sheet, len(pictures), data.pictures)
        sheets.append(printed)
        pictures += shown
    return typeset("carried.typ", {"name": data.name, "sheets": sheets, "empty": data.empty}, data.stamp, pictures)


def all_names(aircraft: Aircraft | None) -> dict[str, Sequence[str]]:
    """What there is to print of each kind: shipments that are out, trips that are not over."""
    out: Iterable[Out] = shipments(stamp_for(aircraft).day)
    numbers = [each.shipment.number for each in out if not each.is_back]
    coming = list(Trip.objects.filter(ended_act=None).values_list("number", flat=True))
    return {"manifest": numbers, "instruction": numbers, "stop-sheet": coming}
