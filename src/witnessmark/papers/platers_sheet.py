"""The plater's sheet: what leaves together for one vendor, pictured, counted and weighed, with what to do and to fear.

The same sheet goes with any outside process; it is named after the plater, who mixes bags most.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from witnessmark.calc.bags.shipment import ShipmentTotals, shipment_totals
from witnessmark.calc.sources import source
from witnessmark.calc.surface.processes import cautions_for, still_cautions
from witnessmark.papers.instructed import DoneBy, done_by
from witnessmark.papers.labels import mass_words
from witnessmark.papers.pictures import first_pictures
from witnessmark.papers.tags import comes_off
from witnessmark.papers.typesetting import Stamp, address_of, code_svg, short_day, stamp_for, typeset
from witnessmark.records.lookups.instructions import instructed, made_of
from witnessmark.records.lookups.leaving import judge
from witnessmark.records.lookups.mixing import Known, apart, known_of
from witnessmark.records.lookups.outwork import Out, ReadyGroup, least_g, outwork, shipments, weighed
from witnessmark.records.models import Aircraft, CertificateKind, Piece, Step, Vendor


@dataclass(frozen=True)
class Line:
    """One bag or part; `mass_g` is the whole line as weighed, `strength_mpa` None where nobody knows it."""

    tag: str
    name: str
    words: str
    count: int
    mass_g: float | None
    strength_mpa: float | None
    caution: str = ""
    picture: bytes | None = None


@dataclass(frozen=True)
class Warned:
    """A caution with whom to hand over to and where it is from."""

    text: str
    hand_over: str
    source: str


@dataclass(frozen=True)
class Sheet:
    """What leaves together: `number` is the shipment's, empty while nothing has left.

    `stays` says what must not go, which is on no line; `only_so` what goes on a term; `comes_back` which papers are wanted.
    """

    number: str
    vendor: str
    vendor_code: str
    process: str
    lines: tuple[Line, ...]
    sentence: str
    before: str
    cautions: tuple[Warned, ...]
    mixed: str = ""
    done_by: tuple[DoneBy, ...] = ()
    stays: tuple[str, ...] = ()
    only_so: tuple[str, ...] = ()
    comes_back: tuple[str, ...] = ()

    @property
    def count(self) -> int:
        return sum(line.count for line in self.lines)

    @property
    def mass_g(self) -> float | None:
        """The weighed lines' mass; None where none was weighed."""
        weighed = [line.mass_g for line in self.lines if line.mass_g is not None]
        return sum(weighed) if weighed else None

    @property
    def not_weighed(self) -> int:
        return sum(line.mass_g is None for line in self.lines)


@dataclass(frozen=True)
class PlatersPaper:
    """One file: the sheet of a shipment, or the sheets of all that is ready for one vendor."""

    stamp: Stamp
    name: str
    sheets: tuple[Sheet, ...]


def gather_all(aircraft: Aircraft | None) -> list[PlatersPaper]:
    """One paper a shipment that is not back, and one a vendor for what is ready to leave."""
    stamp = stamp_for(aircraft)
    seen = outwork(stamp.day)
    going = [group for group in seen.ready if group.to_send]
    pieces = [line.piece for out in seen.out for line in out.lines] + [r.piece for g in going for r in g.to_send]
    pictures, known = first_pictures(pieces), known_of(piece.pk for piece in pieces)
    steps = _steps_at(out for out in seen.out)
    papers = [
        PlatersPaper(stamp, out.shipment.number, (_of_shipment(out, pictures, steps, known),)) for out in seen.out
    ]
    by_vendor: dict[str, list[Sheet]] = {}
    for group in going:
        by_vendor.setdefault(group.vendor.code, []).append(_of_ready(group, pictures, known))
    return papers + [PlatersPaper(stamp, code, tuple(sheets)) for code, sheets in sorted(by_vendor.items())]


def gather(aircraft: Aircraft | None, name: str) -> PlatersPaper:
    """The sheet of this shipment, back or not, or of what is ready for the vendor of this code; no sheet if none."""
    stamp = stamp_for(aircraft)
    for out in shipments(stamp.day, name):
        steps = _steps_at([out])
        pictures = first_pictures([line.piece for line in out.lines])
        known = known_of(line.piece_id for line in out.lines)
        return PlatersPaper(stamp, name, (_of_shipment(out, pictures, steps, known),))
    return next((paper for paper in gather_all(aircraft) if paper.name == name), PlatersPaper(stamp, name, ()))


def names(aircraft: Aircraft | None) -> list[tuple[str, str]]:
    """What sheets there are to print: the name to ask for, and a sentence about each."""
    seen = outwork(stamp_for(aircraft).day)
    said = [
        (out.shipment.number, f"Shipment {out.shipment.number} to {out.shipment.vendor.name}: {out.shipment.process}.")
        for out in seen.out
    ]
    ready: dict[str, str] = {}
    for group in seen.ready:
        if group.to_send:
            judged = judge([each.piece for each in group.to_send], group.vendor, group.process)
            staying = {each.piece.pk for each in judged.known if each.must_not}
            count = sum(each.standing.count for each in group.to_send if each.piece.pk not in staying)
            words = f"{group.process}, {count} {'piece' if count == 1 else 'pieces'}"
            before = ready.get(group.vendor.code, f"Ready for {group.vendor.name}")
            ready[group.vendor.code] = f"{before}{'; ' if group.vendor.code in ready else ': '}{words}"
    return said + [(code, f"{words}.") for code, words in sorted(ready.items())]


def _steps_at(outs: Iterable[Out]) -> dict[int, Step]:
    """The step each piece that is out is at: the first of its route that is not done and is that vendor's."""
    who = {line.piece_id: out.shipment.vendor.code for out in outs for line in out.lines}
    found: dict[int, Step] = {}
    for step in Step.objects.filter(piece_id__in=list(who), done_act=None).order_by("piece_id", "number"):
        if step.who == who[step.piece_id]:
            found.setdefault(step.piece_id, step)
    return found


def _line(piece: Piece, count: int, mass_g: float | None, step: Step | None, picture: bytes | None) -> Line:
    said = [piece.material, f"set {piece.matched_set}, stays together" if piece.matched_set else ""]
    name = piece.name if piece.side == "C" else f"{piece.get_side_display()}: {piece.name}"
    medium = f"{step.tag_medium} stays on" if step and step.tag_medium and not comes_off(step.tag_medium) else ""
    words = ", ".join(filter(None, [*said, medium]))
    return Line(
        tag=piece.tag or f"no tag ({piece.part_no or piece.pk})",
        name=f"{name[:1].upper()}{name[1:]}.",
        words=f"{words[:1].upper()}{words[1:]}." if words else "",
        count=count,
        mass_g=mass_g if mass_g and mass_g > 0 else None,
        strength_mpa=piece.strength_mpa,
        caution=still_cautions(step.caution, piece.strength_mpa) if step else "",
        picture=picture,
    )


def warned(process: str, pieces: Iterable[Piece]) -> tuple[Warned, ...]:
    """The cautions of this process on these pieces, each once."""
    found: dict[str, Warned] = {}
    for piece in pieces:
        strength = piece.strength_mpa if piece.strength_mpa and piece.strength_mpa > 0 else None
        for caution in cautions_for(process, f"{made_of(piece)} {piece.name}", piece.finish, strength):
            found.setdefault(caution.text, Warned(caution.text, caution.hand_over, source(caution.source).printed()))
    return tuple(found.values())


def _against_least(totals: ShipmentTotals | None) -> str:
    """Say how the mass stands to the vendor's least order, where there is one."""
    if totals is None or totals.minimum_mass_g is None or totals.under_minimum is False:
        return ""
    least = f"the least order of {totals.minimum_mass_g / 1000:g} kg"
    if totals.under_minimum is None:
        return f"Weigh the rest to compare with {least}."
    return f"This is {(totals.minimum_mass_g - totals.mass_g) / 1000:.3g} kg under {least}."


def _before(totals: ShipmentTotals | None, sent_on: date | None, promised_on: date | None) -> str:
    said = [f"Left on {short_day(sent_on)}." if sent_on else "Has not left yet."]
    if promised_on:
        said.append(f"Promised for {short_day(promised_on)}.")
    return " ".join([*said, *(totals.working.cautions if totals else ())])


def _mixed(pieces: list[tuple[Piece, int]], vendor: Vendor, process: str, known: Known) -> str:
    """Which bags could not be told apart if they came back mixed, and what keeps them apart."""
    seen = apart(pieces, vendor, process, known)
    return f"{seen.seen.sentence} {seen.remedy.sentence}" if seen is not None and seen.alike else ""


def _of_shipment(out: Out, pictures: dict[int, bytes], steps: dict[int, Step], known: Known) -> Sheet:
    shipment, pieces = out.shipment, [line.piece for line in out.lines]
    return Sheet(
        number=shipment.number,
        vendor=shipment.vendor.name,
        vendor_code=shipment.vendor.code,
        process=shipment.process,
        lines=tuple(
            _line(line.piece, line.count_out, line.mass_out_g, steps.get(line.piece_id), pictures.get(line.piece_id))
            for line in out.lines
        ),
        sentence=" ".join(filter(None, (_against_least(out.totals), shipment.note))),
        before=_before(out.totals if out.lines else None, shipment.sent_on, shipment.promised_on),
        cautions=warned(shipment.process, pieces),
        mixed=_mixed([(line.piece, line.count_out) for line in out.lines], shipment.vendor, shipment.process, known),
        done_by=done_by(pieces, instructed(pieces, shipment.vendor.code, shipment.process)),
        comes_back=tuple(
            f"{paper.get_kind_display()}: {paper.why}" if paper.why else paper.get_kind_display()
            for paper in sorted(shipment.certificates.all(), key=lambda paper: paper.pk)
        ),
    )


def _of_ready(group: ReadyGroup, pictures: dict[int, bytes], known: Known) -> Sheet:
    """What is ready, judged as the packing page judges it: what must not go is on no line and in no sum."""
    judged = judge([ready.piece for ready in group.to_send], group.vendor, group.process)
    staying = {each.piece.pk for each in judged.known if each.must_not}
    going = [ready for ready in group.to_send if ready.piece.pk not in staying]
    lines = tuple(
        _line(ready.piece, ready.standing.count, ready.piece.mass_g, ready.step, pictures.get(ready.piece.pk))
        for ready in going
    )
    pieces = [ready.piece for ready in going]
    weights = weighed((ready.piece, ready.standing.count, ready.piece.mass_g) for ready in going)
    totals = shipment_totals(weights, least_g(group.vendor)) if going else None
    return Sheet(
        number="",
        vendor=group.vendor.name,
        vendor_code=group.vendor.code,
        process=group.process,
        lines=lines,
        sentence=_against_least(totals),
        before=_before(totals, None, None),
        cautions=warned(group.process, [ready.piece for ready in group.to_send]),
        mixed=_mixed([(r.piece, r.standing.count) for r in going], group.vendor, group.process, known),
        done_by=done_by(pieces, instructed(pieces, group.vendor.code, group.process)),
        stays=tuple(f"{bar.tag}: {bar.why}" for bar in judged.must_not),
        only_so=tuple(
            f"{bar.tag}: {bar.term}. {bar.why}" for bar in judged.terms if bar.tag in {p.key for p in pieces}
        ),
        comes_back=tuple(f"{CertificateKind(paper.kind).label}: {paper.why}" for paper in judged.papers),
    )


def _mass(mass_g: float | None) -> tuple[str, str]:
    first, _, second = mass_words(mass_g).partition(", ")
    return ("not weighed", "") if mass_g is None else (first, second)


def _printed(sheet: Sheet, first: int, shop: str) -> dict[str, object]:
    mass, pounds = _mass(sheet.mass_g)
    pieces = "1 piece" if sheet.count == 1 else f"{sheet.count:,} pieces"
    if sheet.not_weighed and sheet.mass_g is not None:
        pounds += f", {sheet.not_weighed} not weighed"
    weight = f"{mass}{', part not weighed' if sheet.not_weighed else ''}" if sheet.mass_g else "mass not weighed"
    return {
        "title": f"To {sheet.vendor}: {pieces}, {weight}.",
        "instruction": f"{sheet.process[:1].upper()}{sheet.process[1:]}. Nothing here may be mixed. {sheet.sentence}".strip(),
        "empty": "There is no piece on this sheet.",
        "lines": [
            {
                "tag": line.tag,
                "name": line.name,
                "words": line.words,
                "caution": line.caution,
                "count": f"{line.count:,}",
                "mass": _mass(line.mass_g)[0],
                "pounds": _mass(line.mass_g)[1],
                "strength": f"{line.strength_mpa:,.0f} MPa" if line.strength_mpa else "not known",
                "picture": first + number if line.picture else None,
            }
            for number, line in enumerate(sheet.lines)
        ],
        "count": f"{sheet.count:,}",
        "mass": mass,
        "pounds": pounds,
        "said": [
            {"head": "Before it leaves.", "words": sheet.before},
            *([{"head": "Must not go.", "words": " ".join(sheet.stays)}] if sheet.stays else []),
            *([{"head": "Goes only so.", "words": " ".join(sheet.only_so)}] if sheet.only_so else []),
            *([{"head": "Keep apart.", "words": sheet.mixed}] if sheet.mixed else []),
            {
                "head": "A specification",
                "words": "called out beside this goes first. Where none is written, ask before the bath.",
            },
        ],
        "done_by": [
            {"head": each.head, "lines": list(each.lines), "asked": list(each.asked), "withheld": each.withheld}
            for each in sheet.done_by
        ],
        "called_out": bool(sheet.done_by) and all(not each.withheld for each in sheet.done_by),
        "cautions": [
            {"text": "No part goes into acid whose strength is not written above.", "hand_over": "", "source": ""},
            *({"text": c.text, "hand_over": c.hand_over, "source": c.source} for c in sheet.cautions),
        ],
        "comes_back": "; ".join(
            ["the pieces by kind, each bag by its own tag and count", *(sheet.comes_back or ["no paper is asked for"])]
        )
        + ". Until a paper that is wanted is there, it stays in quarantine.",
        "signs": [f"Counted out, {shop}", f"Counted in, {sheet.vendor}", f"Counted back, {shop}"],
        "code": code_svg(address_of(sheet.number, under="outwork")) if sheet.number else "",
        "code_words": f"The code opens shipment {sheet.number}.",
    }


def pdf(data: PlatersPaper) -> bytes:
    """Set the sheets of one paper, each on a page of its own."""
    pictures = [line.picture for sheet in data.sheets for line in sheet.lines]
    printed, first = [], 0
    for sheet in data.sheets:
        printed.append(_printed(sheet, first, data.stamp.shop or "the shop"))
        first += len(sheet.lines)
    shipment = data.sheets[0].number if data.sheets else ""
    of = f", shipment {shipment}" if shipment else f", {data.name}" if data.sheets else ""
    empty = f"Nothing is ready to leave for {data.name}, and no shipment is called that."
    return typeset("platers_sheet.typ", {"sheets": printed, "of": of, "empty": empty}, data.stamp, pictures)
