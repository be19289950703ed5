"""The rivet order: a line a size and length under its vendor, with the rows it is for, its working and what holds it."""

from dataclasses import dataclass
from datetime import date

from witnessmark.calc.sources import source
from witnessmark.calc.working import Working
from witnessmark.papers.typesetting import Stamp, stamp_for, typeset
from witnessmark.records.lookups.day import today
from witnessmark.records.lookups.orders import RivetOrder, ToOrder, VendorOrder, rivet_order
from witnessmark.records.lookups.spares import holidays, leave_by
from witnessmark.records.lookups.vendor_times import vendor_times
from witnessmark.records.models import Aircraft


@dataclass(frozen=True)
class Line:
    """One size in one stock length."""

    code: str
    kind: str
    length: str
    holes: int
    spares: int
    on_order: int
    count: int
    rows: tuple[str, ...]
    working: str


@dataclass(frozen=True)
class VendorLines:
    """What one vendor would make; the name is empty where the catalogue names nobody."""

    vendor: str
    lead_time: str
    lines: tuple[Line, ...]
    leave: str = ""
    notes: tuple[str, ...] = ()

    @property
    def count(self) -> int:
        return sum(line.count for line in self.lines)


@dataclass(frozen=True)
class OrderPaper:
    """The whole order as it is printed."""

    stamp: Stamp
    vendors: tuple[VendorLines, ...]
    held_rows: tuple[str, ...]
    no_length: tuple[tuple[str, str], ...]
    spares_rule: str
    placed: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    accepted: str = ""

    @property
    def count(self) -> int:
        return sum(vendor.count for vendor in self.vendors)


def gather(aircraft: Aircraft | None) -> OrderPaper:
    """Collect the order from the record."""
    stamp = stamp_for(aircraft)
    if aircraft is None:
        return OrderPaper(stamp, (), (), (), "")
    found: RivetOrder = rivet_order(aircraft)
    closed = holidays()
    accepted = f"The fewest with a chance of running short of at most {found.risks.short_percent:g} % a line"
    lines = [each.line for vendor in found.vendors for each in vendor.lines]
    spoilage = next((f" Spoilage: {line.service.learned}." for line in lines if line.service), "")
    return OrderPaper(
        stamp=stamp,
        vendors=tuple(_vendor(vendor, found, today(aircraft), closed) for vendor in found.vendors),
        held_rows=tuple(row.name for row in found.not_looked_at),
        no_length=(
            *((row.name, row.why_no_length) for row in found.no_length),
            *(
                (
                    f"{each.row.name}, hole {each.number}",
                    f"open, next rivet undecided{f': {each.reason}' if each.reason else ''}.",
                )
                for each in found.undecided
            ),
            *((row.name, f"nobody has said what stands in {row.unsaid} of its holes.") for row in found.unsaid),
        ),
        spares_rule=f"{accepted}{f', as {found.risks.by} set it' if found.risks.by else ', the usual figure'}.{spoilage}",
        placed=tuple(
            f"{order.number}: {order.count:,} {order.what}, {order.vendor.name}, ordered {_day(order.ordered_on)}"
            + (f", promised for {_day(order.promised_on)}" if order.promised_on else ", no day promised")
            for order in found.placed
            if order.size_id and order.ordered_on and not order.came_on
        ),
        sources=_sources(found),
        accepted=f"{found.accepted.by}: {found.accepted.reason}" if found.accepted and not found.held else "",
    )


def _day(day: date) -> str:
    """A day with its year: a custom run takes months."""
    return f"{day:%-d %B %Y}"


def _leave(group: VendorOrder, found: RivetOrder, now: date, closed: frozenset[date]) -> str:
    """By when it must leave, at the chance of coming too late that was accepted."""
    risks = found.risks
    learned = vendor_times(now)[group.vendor.pk].time if group.vendor else None
    leave = leave_by(group.vendor, risks.late_at_most, risks.wanted_by, now, closed, learned)
    if leave is None:
        return ""
    late = f"too late with at most {risks.late_percent:g} %"
    if leave.day is None or risks.wanted_by is None:
        return f"Must leave {leave.working_days} working days before it is wanted, {late}. Nobody has said by when it is wanted."
    past = ", which is past" if leave.late_already else ""
    return (
        f"Must leave by {_day(leave.day)}{past}: wanted by {_day(risks.wanted_by)}, {late}, "
        f"{leave.working_days} working days before."
    )


def _vendor(group: VendorOrder, found: RivetOrder, now: date, closed: frozenset[date]) -> VendorLines:
    vendor = group.vendor
    lead = ""
    if vendor is not None:
        lead = f"{vendor.least_days:g} to {vendor.most_days:g} working days, mostly {vendor.likely_days:g}."
        if vendor.min_order:
            lead += f" Least order: {vendor.min_order}."
    notes = [
        f"One run for all {run.family}: {run.together:,} instead of {run.apart:,}, {run.saved:,} fewer. "
        f"{', '.join(run.codes)} want {run.wanted:,} together. {run.cautions[0]}"
        for run in group.combined
    ]
    return VendorLines(
        vendor.name if vendor else "",
        lead,
        tuple(_line(line) for line in group.lines),
        _leave(group, found, now, closed),
        tuple(filter(None, (group.least_mass, *notes))),
    )


def _line(asked: ToOrder) -> Line:
    line, size = asked.line, asked.size
    return Line(
        code=size.code,
        kind=", ".join(filter(None, (size.kind, size.alloy))),
        length=line.stock_label,
        holes=line.holes,
        spares=line.spares,
        on_order=asked.on_order,
        count=line.count,
        rows=tuple(f"{row.name} {row.to_order}" for row in asked.rows),
        working=_working(asked),
    )


def _working(asked: ToOrder) -> str:
    """Write the count out as a mechanic would check it."""
    line = asked.line
    said = f"{line.holes:,} holes + {line.spares:,} spares = {line.wanted:,}"
    if line.service is not None:
        said += f", short with {line.service.short_percent:.1f} %"
    if asked.pounds is not None:
        said += f", {asked.pounds:.2f} lb, {asked.mass_kg:.2f} kg"
    if line.count != line.wanted:
        least = f"least run {line.minimum_run:,}, " if line.minimum_run else ""
        said += f"; {least}packs of {line.pack:,}: {line.count:,}"
    grips = sorted({round(row.grip.grip_mm, 2) for row in asked.rows if row.grip is not None})
    if grips:
        span = f"{grips[0]:g}" if len(grips) == 1 else f"{grips[0]:g} to {grips[-1]:g}"
        said += f". Grip {span} mm"
    said += "."
    workings: list[Working] = [line.working, *(row.length.working for row in asked.rows if row.length is not None)]
    formulas = dict.fromkeys(w.formula for w in workings[1:])
    if formulas:
        said += f" Length: {'; '.join(formulas)}."
    # What is from memory is said once, by the status of its source.
    cautions = dict.fromkeys(c for w in workings for c in w.cautions if not c.startswith("From memory"))
    return " ".join([said, *cautions])


def _sources(found: RivetOrder) -> tuple[str, ...]:
    """Where the lengths and counts come from: the same few for every line, so said once."""
    asked = [each for vendor in found.vendors for each in vendor.lines]
    workings = [w for each in asked for w in (each.line.working, *(r.length.working for r in each.rows if r.length))]
    return tuple(dict.fromkeys(source(key).printed() for w in workings for key in w.sources))


def pdf(data: OrderPaper) -> bytes:
    """Set the order."""
    lines = sum(len(vendor.lines) for vendor in data.vendors)
    what = f"{_n(data.count, 'rivet')} in {_n(lines, 'size and length', 'sizes and lengths')}"
    if data.held_rows and data.accepted:
        title = f"Order {what}." if data.count else "There is no rivet to order."
        lead = (
            f"{_n(len(data.held_rows), 'row is', 'rows are')} not looked at; that was accepted. {data.accepted}".strip()
        )
    elif data.held_rows:
        title = f"Hold the rivet order: {_n(len(data.held_rows), 'row is', 'rows are')} not looked at."
        lead = f"So far it is {what}. A row that was not looked at may want a size that nobody has seen."
    elif data.count:
        title = f"Order {what}."
        lead = "Every row is looked at. Nothing holds this order."
    else:
        title = "There is no rivet to order."
        lead = "No row that was looked at has a hole to fill with a rivet whose length is known."
    said = [{"head": "Spares.", "words": data.spares_rule}] if data.spares_rule else []
    if data.no_length:
        rows = "; ".join(f"{row}: {why}" for row, why in data.no_length)
        said.append({"head": "Not counted, no length claimed.", "words": rows})
    if data.placed:
        said.append({"head": "On order already.", "words": ". ".join(data.placed) + "."})
    if data.sources:
        said.append({"head": "Lengths and counts come from", "words": "; ".join(data.sources) + "."})
    return typeset(
        "rivet_order.typ",
        {
            "title": title,
            "lead": lead,
            "held": list(data.held_rows),
            "held_head": "Accepted:" if data.accepted else "Held:",
            "held_words": "these rows are not looked at and are not counted:",
            "vendors": [
                {
                    "name": vendor.vendor or "No vendor named in the catalogue",
                    "words": f"{vendor.count:,} rivets. {vendor.lead_time}".strip(),
                    "leave": vendor.leave,
                    "notes": list(vendor.notes),
                    "lines": [
                        {
                            "code": line.code,
                            "kind": line.kind,
                            "length": line.length,
                            "holes": f"{line.holes:,}",
                            "spares": f"{line.spares:,}",
                            "on_order": f"{line.on_order:,}",
                            "count": f"{line.count:,}",
                            "rows": list(line.rows),
                            "working": line.working,
                        }
                        for line in vendor.lines
                    ],
                }
                for vendor in data.vendors
            ],
            "said": said,
        },
        data.stamp,
    )


def _n(count: int, one: str, more: str = "") -> str:
    return f"{count} {one}" if count == 1 else f"{count:,} {more or one + 's'}"
